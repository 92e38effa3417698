//! The mean of repeats with its uncertainty.

use crate::quantity::{Exact, show};
use crate::report::{Amount, Reckoned, ReckonedOutcome};
use crate::uncertainty::{PartKind, Sample};

use super::given::{Reader, ReckonRequest, Taker, told};
use crate::app::Trouble;

/// The mean of readings as they are written, `4.76 4.77 4.75 mm`.
///
/// # Errors
/// Readings or errors of the instrument that can't be read.
pub fn mean(request: &ReckonRequest, readings: &str) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    let list = reader.list("--readings", readings, None);
    let first = list.as_ref().and_then(|list| list.first());
    let Some((list, first)) = list.as_ref().zip(first) else {
        return reader.end(None);
    };
    let (unit, dimension) = (first.unit, first.dimension());
    let written = list.iter().map(|one| &one.resolution).max();
    let written = written.cloned().unwrap_or(Exact::ZERO);
    let instrument = reader.instrument(&request.instrument, dimension, &written);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let values: Vec<Exact> = list.iter().map(|one| one.value.clone()).collect();
    let mut taker = Taker::new(instrument.clone(), unit);
    let value = taker.mean(&values);
    let decimals = list.iter().filter_map(|one| one.decimals).max();

    let spread = |u: f64| {
        let exact = Exact::from_f64_shortest(u).unwrap_or(Exact::ZERO);
        show::with_unit(&unit.difference_from_base(&exact).to_decimal(3).0, unit)
    };
    let mut steps = Vec::new();
    let sample = Sample::of(&values);
    match sample.as_ref().and_then(Sample::standard_deviation) {
        Some(s) => steps.push(format!(
            "Scatter of one reading: s = {}, {} degree{} of freedom; of the mean: s/√n = {}",
            spread(s),
            values.len() - 1,
            if values.len() == 2 { "" } else { "s" },
            spread(s / root(values.len()))
        )),
        None => {
            if let Some(s) = instrument.repeatability {
                steps.push(format!(
                    "Scatter of one reading, as stated: s = {}",
                    spread(s)
                ));
            }
        }
    }
    for part in value.parts.to_vec() {
        let u = spread(part.u.abs());
        steps.extend(match part.kind {
            PartKind::Resolution => {
                let step = spread(instrument.resolution);
                Some(if values.len() > 1 {
                    format!("Resolution {step}: u = {u} beyond what the scatter shows of it (rectangular, r/√12)")
                } else {
                    format!("Resolution {step}: u = r/√12 = {u}")
                })
            }
            PartKind::MaximumPermissibleError => Some(format!(
                "Maximum permissible error {}: u = a/√3 = {u}",
                spread(instrument.max_permissible_error)
            )),
            PartKind::Calibration => Some(format!("Calibration: u = U/k = {u}")),
            PartKind::Repeatability
            | PartKind::Table
            | PartKind::Condition
            | PartKind::MethodFloor => None,
        });
    }
    let mut notices = Vec::new();
    if values.len() == 1 && instrument.repeatability.is_none() {
        notices.push(
            "One reading shows no scatter: read again, or state that of the instrument with --repeatability"
                .to_owned(),
        );
    }
    if request.instrument.resolution.is_none() {
        notices.push(format!(
            "Resolution {} taken from the digits as written; --resolution states another",
            spread(written.to_f64())
        ));
    }
    let numbers: Vec<String> = list
        .iter()
        .map(|one| one.number().to_decimal(15).0)
        .collect();
    let formula = vec![
        "x̄ = (x₁ + … + xₙ)/n".to_owned(),
        format!(
            "= ({})/{} {}",
            numbers.join(" + "),
            values.len(),
            unit.symbol()
        ),
        format!("= {}", told(&value.value, unit)),
    ];
    let count = values.len();
    let what = if count == 1 {
        "One reading".to_owned()
    } else {
        format!("Mean of {count} readings")
    };
    reader.end(Some(Reckoned {
        what,
        result: ReckonedOutcome::Amount(Amount::new(value, unit).written(decimals)),
        coverage,
        formula,
        source: "JCGM 100:2008 (GUM), 4.2 (scatter), 4.3.7 and F.2.2.1 (resolution), G.4 (degrees of freedom)"
            .to_owned(),
        steps,
        beside: Vec::new(),
        notices,
        register: taker.register(),
        picture: None,
    }))
}

fn root(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::NAN, f64::from).sqrt()
}
