//! A length at 20 °C, from a reading in the cold.

use super::given::{Reader, ReckonRequest, Taker, wrong};
use crate::app::Trouble;
use crate::diagnostic::near_misses;
use crate::geometry::{Expansion, at_20_degrees, linear_correction, reference_temperature};
use crate::quantity::{Dimension, Exact, Material, Number, Unit, show};
use crate::report::{Amount, Beside, Reckoned, ReckonedOutcome};
use crate::text::quoted;
use crate::uncertainty::{Distribution, Part, PartKind, Source as BudgetSource, Stated, Uncertain};

/// What a reading at a temperature is taken with.
#[derive(Clone, Debug)]
pub struct ExpansionRequest {
    /// The length as read.
    pub reading: String,
    /// What the scale is made of; `none` for one that is true at any temperature.
    pub tape: String,
    /// What the item is made of.
    pub item: String,
    /// The temperature of both.
    pub temperature: String,
    /// To within how many kelvin it is known, half width.
    pub within: Option<String>,
}

/// The length at 20 °C.
///
/// # Errors
/// A reading, a material or a temperature that can't be read or used.
pub fn expansion(request: &ReckonRequest, given: &ExpansionRequest) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    let length = reader.quantity("--reading", &given.reading, Some(Dimension::LENGTH));
    let temperature = reader.quantity(
        "--temperature",
        &given.temperature,
        Some(Dimension::TEMPERATURE),
    );
    let tape = match given.tape.trim() {
        "none" => Some(None),
        _ => material(&mut reader, "--tape", &given.tape).map(Some),
    };
    let item = material(&mut reader, "--item", &given.item);
    let within = match &given.within {
        Some(text) => reader.size("--within", Some(text), Dimension::TEMPERATURE, false),
        None => Some(Exact::ZERO),
    };
    let all = length.zip(temperature).zip(tape.zip(item)).zip(within);
    let Some((((length, temperature), (tape, item)), within)) = all else {
        return reader.end(None);
    };
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &length.resolution);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, length.unit);
    let reading = taker.reading(&length.value);
    let half = match &given.within {
        Some(_) => within.to_f64(),
        None => temperature.resolution.to_f64(),
    };
    let part = Part::new(
        PartKind::Condition,
        0,
        0,
        half / 3.0_f64.sqrt(),
        f64::INFINITY,
    );
    let doubt = (half > 0.0).then_some(part);
    let at = Uncertain::new(Number::Exact(temperature.value.clone()), doubt);
    let found = match at_20_degrees(&reading, tape, item, &at) {
        Ok(found) => found,
        Err(problem) => {
            reader.push(wrong(
                "reckon.temperature",
                "--temperature",
                &given.temperature,
                problem.message,
                &problem.help,
            ));
            return reader.end(None);
        }
    };
    let unit = length.unit;
    let micro = |material: Material| {
        Expansion::of(material).map_or(Exact::ZERO, |one| {
            one.alpha().mul(&Exact::from_integer(1_000_000))
        })
    };
    let per = |material: Material| format!("{}e-6", micro(material).to_decimal(6).0);
    let by = temperature
        .value
        .sub(&reference_temperature())
        .to_decimal(6)
        .0;
    let number = show::number(&length.value, unit, length.decimals).0;
    let expands = |material: Option<Material>| match material {
        Some(material) => format!("(1 + {}·({by}))", per(material)),
        None => "1".to_owned(),
    };
    let value = found.value.to_f64();
    let shown = |value: f64| {
        let exact = Exact::from_f64_shortest(value).unwrap_or(Exact::ZERO);
        show::with_unit(&unit.difference_from_base(&exact).to_decimal(9).0, unit)
    };
    let mut named: Vec<Material> = tape.into_iter().chain([item]).collect();
    named.dedup();
    let named: Vec<&Expansion> = named.into_iter().filter_map(Expansion::of).collect();
    for one in &named {
        let source = BudgetSource::new(
            format!("expansion of {}, coefficient", one.title),
            Unit::PLAIN,
            Stated::InResult,
            Distribution::Rectangular,
        );
        taker.keep(PartKind::Table, one.identity(), source);
    }
    let source = BudgetSource::new(
        "temperature",
        temperature.unit,
        Stated::HalfWidth(half),
        Distribution::Rectangular,
    );
    taker.keep(PartKind::Condition, 0, source);
    let linear = linear_correction(&reading.value, tape, item, &at.value).to_f64();
    let correction = found.sub(&reading);
    let mut steps: Vec<String> = Vec::new();
    for one in &named {
        let half = one
            .half_width()
            .mul(&Exact::from_integer(1_000_000))
            .to_decimal(6)
            .0;
        steps.push(format!(
            "{}: α = ({} ± {half})e-6 per K, rectangular; {}; half width: {}",
            one.title,
            micro(one.material).to_decimal(6).0,
            one.source,
            one.doubt
        ));
    }
    steps.push(format!(
        "Correction {}; to first order L·(α_t − α_i)·Δt = {}",
        shown(correction.value.to_f64()),
        shown(linear)
    ));
    let mut notices = Vec::new();
    if tape == Some(item) {
        notices.push(
            "Tape and item are of one material: both shrink alike, and nothing is corrected"
                .to_owned(),
        );
    }
    if given.within.is_none() {
        notices.push(
            "The temperature counts as known to a step of its last digit; --within \"2 K\" states how well tape \
             and item are known to have it"
                .to_owned(),
        );
    }
    let beside = vec![Beside::amount(
        "correction",
        "Correction",
        &Amount::new(correction, unit),
        &coverage,
    )];
    reader.end(Some(Reckoned {
        what: "Length at 20 °C".to_owned(),
        result: ReckonedOutcome::Amount(Amount::new(found, unit)),
        coverage,
        formula: vec![
            "L₂₀ = L·(1 + α_t·Δt)/(1 + α_i·Δt), Δt = t − 20 °C".to_owned(),
            format!("= {number}·{}/{}", expands(tape), expands(Some(item))),
            format!("= {}", shown(value)),
        ],
        source: "Definition of the expansion coefficient; reference temperature of ISO 1; coefficients as stated"
            .to_owned(),
        steps,
        beside,
        notices,
        register: taker.register(),
        picture: None,
    }))
}

fn material(reader: &mut Reader, name: &str, text: &str) -> Option<Material> {
    let found = Material::named(text.trim());
    if found.is_none() {
        let known: Vec<&str> = Material::WORDS.iter().map(|(word, _)| *word).collect();
        let listed = format!("materials known here: {}", known.join(", "));
        let near = near_misses(text.trim(), known.iter().copied());
        let help = match near {
            Some(near) => format!("did you mean {near}? {listed}"),
            None => listed,
        };
        let message = format!("{} is no material that is known here", quoted(text));
        reader.push(wrong("reckon.material", name, text, message, &help));
    }
    found
}
