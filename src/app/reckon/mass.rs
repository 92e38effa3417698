//! A mass from a load cell that was adjusted elsewhere.

use super::given::{Reader, ReckonRequest, Taker, refused, source, wrong};
use crate::app::Trouble;
use crate::geometry::{GRAVITY_DOUBT, gravity_at, local_mass};
use crate::quantity::{Dimension, Exact, show};
use crate::report::{Amount, Reckoned, ReckonedOutcome};

/// Where a scale was adjusted, where it is used, and what it shows.
#[derive(Clone, Debug)]
pub struct MassRequest {
    /// What it shows.
    pub reading: String,
    /// The latitude where it is used.
    pub latitude: String,
    /// The latitude where it was adjusted.
    pub adjusted_at: String,
    /// The height where it is used.
    pub height: Option<String>,
    /// The height where it was adjusted.
    pub adjusted_height: Option<String>,
}

/// The mass.
///
/// # Errors
/// A reading below zero, a latitude beyond the poles, a height where nobody weighs.
pub fn mass(request: &ReckonRequest, given: &MassRequest) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    let reading = reader.quantity("--reading", &given.reading, Some(Dimension::MASS));
    let mut gravity = |place: (&str, &str), height: (&str, &Option<String>)| {
        let latitude = reader.quantity(place.0, place.1, Some(Dimension::ANGLE));
        let metres = match height.1 {
            None => Some(0.0),
            Some(text) => reader
                .quantity(height.0, text, Some(Dimension::LENGTH))
                .map(|one| one.value.to_f64() / 1000.0),
        };
        let (latitude, metres) = latitude.zip(metres)?;
        let degrees = latitude.value.to_f64();
        match gravity_at(degrees, metres) {
            Ok(found) => Some((degrees, found)),
            Err(problem) => {
                let of = match problem.code {
                    "height_out_of_range" => (height.0, height.1.as_deref().unwrap_or("")),
                    _ => place,
                };
                reader.push(wrong(
                    "reckon.gravity",
                    of.0,
                    of.1,
                    problem.message,
                    &problem.help,
                ));
                None
            }
        }
    };
    let here = gravity(("--latitude", &given.latitude), ("--height", &given.height));
    let there = gravity(
        ("--adjusted-at", &given.adjusted_at),
        ("--adjusted-height", &given.adjusted_height),
    );
    let Some(((reading, here), there)) = reading.zip(here).zip(there) else {
        return reader.end(None);
    };
    let instrument = reader.instrument(&request.instrument, Dimension::MASS, &reading.resolution);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, reading.unit);
    let shown = taker.reading(&reading.value);
    let adjusted = taker.source();
    // Where it was adjusted is where it is used: whatever gravity is there, it is the same.
    let local = if here == there {
        adjusted
    } else {
        taker.source()
    };
    let found = match local_mass(&shown, there.1, here.1, (GRAVITY_DOUBT, [adjusted, local])) {
        Ok(found) => found,
        Err(problem) => {
            let trouble = refused(problem, &source("--reading", &given.reading));
            let _: Option<()> = reader.take(Err(trouble));
            return reader.end(None);
        }
    };
    let unit = reading.unit;
    let number = show::number(&reading.value, unit, reading.decimals).0;
    let value = Exact::from_f64_shortest(found.value.to_f64()).unwrap_or(Exact::ZERO);
    let value = show::with_unit(&unit.difference_from_base(&value).to_decimal(9).0, unit);
    let percent = (here.1 / there.1 - 1.0) * 100.0;
    reader.end(Some(Reckoned {
        what: "Mass by a load cell that was adjusted elsewhere".to_owned(),
        result: ReckonedOutcome::Amount(Amount::new(found, unit)),
        coverage,
        formula: vec![
            "m = reading·g(adjusted)/g(here)".to_owned(),
            format!("= {number}·{:.8}/{:.8}", there.1, here.1),
            format!("= {value}"),
        ],
        source: "Normal gravity by the closed formula of WGS 84; free-air gradient from memory".to_owned(),
        steps: vec![
            format!("Here, at {} deg: g = {:.8} m/s2", here.0, here.1),
            format!("Adjusted, at {} deg: g = {:.8} m/s2", there.0, there.1),
            format!("Uncorrected it shows {percent:+.6} % of the mass"),
            format!(
                "Gravity differs from normal gravity by up to {GRAVITY_DOUBT} m/s2, rectangular, at each place (from memory)"
            ),
        ],
        beside: Vec::new(),
        notices: vec![
            "A scale that was adjusted with a mass where it stands needs none of this".to_owned(),
        ],
        register: taker.register(),
        picture: None,
    }))
}
