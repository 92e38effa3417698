//! A hardness on another scale, by the published table.

use serde_json::json;

use super::given::{Reader, ReckonRequest, Taker, wrong};
use crate::app::Trouble;
use crate::geometry::{converted_hardness, minimum_thickness};
use crate::quantity::{Exact, HardnessScale, Number, Unit, show};
use crate::report::{Amount, Beside, Reckoned, ReckonedOutcome};
use crate::text::quoted;

/// A hardness such as `58 HRC` on the scale `to`.
///
/// # Errors
/// A value that is no hardness, a scale that is none, a hardness outside the table.
pub fn hardness(request: &ReckonRequest, value: &str, to: &str) -> Result<Reckoned, Trouble> {
    const NAME: &str = "--value";
    let (mut reader, coverage) = Reader::begin(request);
    let quantity = reader.quantity(NAME, value, None);
    let scale = HardnessScale::named(&to.trim().to_lowercase());
    if scale.is_none() {
        reader.push(wrong(
            "reckon.scale",
            "--to",
            to,
            format!("{} is no hardness scale that is known here", quoted(to)),
            "HRC, HV or HBW",
        ));
    }
    let Some(quantity) = quantity else {
        return reader.end(None);
    };
    let from = HardnessScale::of(quantity.dimension());
    if from.is_none() {
        let words = quantity.dimension().in_words();
        reader.push(wrong(
            "reckon.hardness",
            NAME,
            value,
            format!("{} is {words}; a hardness is converted", quoted(value)),
            "with its scale as the unit: \"58 HRC\", \"653 HV\", \"615 HBW\"",
        ));
    }
    let Some((from, to_scale)) = from.zip(scale) else {
        return reader.end(None);
    };
    if from == to_scale {
        let message = format!("{} is on that scale already", quoted(value));
        let help = "another scale: HRC, HV or HBW";
        reader.push(wrong("reckon.scale", "--to", to, message, help));
        return reader.end(None);
    }
    let dimension = quantity.dimension();
    let instrument = reader.instrument(&request.instrument, dimension, &quantity.resolution);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, quantity.unit);
    let reading = taker.reading(&quantity.value);
    let source = taker.source();
    let found = match converted_hardness(&reading, from, to_scale, source) {
        Ok(found) => found,
        Err(problem) => {
            let (message, help) = (problem.message, problem.help);
            reader.push(wrong("reckon.hardness", NAME, value, message, &help));
            return reader.end(None);
        }
    };
    let (here, there) = (from.unit(), to_scale.unit());
    let [low, high] = found.rows;
    let of = |value: i64, unit: Unit| format!("{value} {}", unit.symbol());
    let number = show::number(&quantity.value, here, quantity.decimals).0;
    let result = match found.value.value.as_exact() {
        Some(exact) => show::with_unit(&exact.to_decimal(6).0, there),
        None => show::with_unit(&found.value.value.to_f64().to_string(), there),
    };
    let on_row = [low, high]
        .iter()
        .any(|(from, _)| quantity.value == Exact::from_integer(*from));
    let formula = if on_row {
        vec![format!(
            "{number} {} = {result}, a row of the table",
            here.symbol()
        )]
    } else {
        vec![
            "y = y₀ + (y₁ − y₀)·(x − x₀)/(x₁ − x₀)".to_owned(),
            format!(
                "= {} + ({} − {})·({number} − {})/({} − {})",
                low.1, high.1, low.1, low.0, high.0, low.0
            ),
            format!("= {result}"),
        ]
    };
    let mut steps = vec![format!(
        "Rows: {} = {}, {} = {}",
        of(low.0, here),
        of(low.1, there),
        of(high.0, here),
        of(high.1, there)
    )];
    steps.push(format!(
        "The table's own doubt, half width: {} {} (editions, rounding, and another standard beside it)",
        (found.doubt * 100.0).round() / 100.0,
        there.symbol()
    ));
    let mut notices = vec![
        "Converted: an indication, not a measurement on this scale; alloys and heat treatment differ".to_owned(),
    ];
    if found.bracketed {
        notices.push(
            "The table has this Brinell value in brackets, beyond the normal range of the test"
                .to_owned(),
        );
    }
    let mut beside = vec![Beside::new("converted", "", json!(true))];
    let hrc = match (from, to_scale) {
        (HardnessScale::Hrc, _) => Some(Number::Exact(quantity.value.clone())),
        (_, HardnessScale::Hrc) => Some(found.value.value.clone()),
        (HardnessScale::Hv | HardnessScale::Hbw, HardnessScale::Hv | HardnessScale::Hbw) => None,
    };
    if let Some(least) = hrc.as_ref().and_then(minimum_thickness) {
        let text = least.to_fixed(2);
        beside.push(Beside::new(
            "minimum_thickness",
            format!("Least thickness for a Rockwell C test at this hardness: {text} mm (ASTM E18)"),
            json!({ "number": text, "unit": "mm" }),
        ));
    }
    reader.end(Some(Reckoned {
        what: format!("{number} {} on the {} scale", here.symbol(), there.symbol()),
        result: ReckonedOutcome::Amount(Amount::new(found.value, there)),
        coverage,
        formula,
        source: "ASTM E140, Table 1 (non-austenitic steels, Rockwell C range)".to_owned(),
        steps,
        beside,
        notices,
        register: taker.register(),
        picture: None,
    }))
}
