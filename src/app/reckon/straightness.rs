//! Straightness from gaps at stations: minimum zone, with least squares and end points beside it.

use std::path::Path;

use serde_json::json;

use super::given::{Reader, ReckonRequest, Taker, refused, told};
use super::table::Readings;
use super::trial::{self, Errors};
use crate::app::{Host, Trouble};
use crate::geometry::{self, Straightness};
use crate::quantity::{Dimension, Exact, Number, Unit, show};
use crate::report::{
    Amount, Beside, Mark, Picture, PictureRule, Reckoned, ReckonedOutcome, capital, value_json,
};
use crate::uncertainty::{Coverage, InstrumentError, MonteCarlo, Uncertain};

/// The straightness of the readings in a table: columns `x` and `y`, or `x`, `port` and `starboard`.
///
/// # Errors
/// A table, or errors of the instrument, that can't be read; stations that make no line.
pub fn straightness(
    host: &dyn Host,
    request: &ReckonRequest,
    stations: &Path,
) -> Result<Reckoned, Trouble> {
    const LENGTH: Option<Dimension> = Some(Dimension::LENGTH);
    let table = Readings::open(host, stations)?;
    let (mut reader, coverage) = Reader::begin(request);
    let both = table.has("port") || table.has("starboard");
    let known: &[&str] = if both {
        &["x", "port", "starboard"]
    } else {
        &["x", "y"]
    };
    reader.extend(table.unknown(known));
    let x = reader.take(table.column("x", LENGTH));
    if let Some(x) = &x {
        reader.extend(table.repeated("x", x));
    }
    let mut flank = |name: &str| {
        table
            .has(name)
            .then(|| reader.take(table.column(name, LENGTH)))
    };
    let flanks = if both {
        vec![flank("port"), flank("starboard")]
    } else {
        vec![Some(reader.take(table.column("y", LENGTH)))]
    };
    let flanks: Vec<_> = flanks.into_iter().map(Option::flatten).collect();
    let steps = flanks.iter().flatten().map(super::table::Column::step);
    let step = steps.min().unwrap_or(Exact::ZERO);
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    let unit = flanks.iter().flatten().map(|column| column.unit).next();
    let (Some(x), Some(unit), false) = (x, unit, reader.is_faulty()) else {
        return reader.end(None);
    };
    let mut taker = Taker::new(instrument.clone(), unit);
    let at: Vec<Exact> = x.values().cloned().collect();
    let names: &[&str] = if both {
        &["port reading", "starboard reading"]
    } else {
        &["reading"]
    };
    let read: Vec<Option<Vec<Uncertain>>> = flanks
        .iter()
        .zip(names)
        .map(|(column, name)| {
            let column = column.as_ref()?;
            taker.counting(name, column.unit);
            Some(column.values().map(|value| taker.reading(value)).collect())
        })
        .collect();
    let port = read.first().and_then(Option::as_deref);
    let starboard = read.get(1).and_then(Option::as_deref);
    let found = geometry::straightness(&at, port, starboard)
        .map_err(|found| refused(found, &table.source))?;

    let bend: Vec<Exact> = (0..at.len())
        .map(|place| {
            let value = |flank: Option<&[Uncertain]>| {
                let number = flank
                    .and_then(|flank| flank.get(place))
                    .map(|one| &one.value);
                number.and_then(Number::as_exact).cloned()
            };
            match (value(port), value(starboard)) {
                (Some(port), Some(starboard)) => {
                    let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
                    starboard.sub(&port).mul(&half)
                }
                (Some(one), None) | (None, Some(one)) => one,
                (None, None) => Exact::ZERO,
            }
        })
        .collect();
    let length = |exact: &Exact, unit: Unit| told(&Number::Exact(exact.clone()), unit);
    let contact_places: Vec<String> = found
        .contacts
        .iter()
        .map(|one| length(&one.at, x.unit))
        .collect();
    let [left, middle, right] = &contact_places[..] else {
        return reader.end(None);
    };
    let upper = found.contacts.first().is_some_and(|one| one.upper);
    let (edge, other) = if upper {
        ("upper", "lower")
    } else {
        ("lower", "upper")
    };
    let y_of = |at: usize| bend.get(at).map_or(Exact::ZERO, Clone::clone);
    let formula = vec![
        "w = ±(y₂ − y₁ − (y₃ − y₁)·(x₂ − x₁)/(x₃ − x₁)), least over all slopes".to_owned(),
        {
            let [a, b, c] = &found.contacts;
            format!(
                "= {}({} − {} − ({} − {})·({} − {})/({} − {})) {}",
                if upper { "−" } else { "" },
                bare(&y_of(b.station), unit),
                signed(&y_of(a.station), unit),
                bare(&y_of(c.station), unit),
                signed(&y_of(a.station), unit),
                bare(&b.at, x.unit),
                signed(&a.at, x.unit),
                bare(&c.at, x.unit),
                signed(&a.at, x.unit),
                unit.symbol()
            )
        },
        format!("= {}", told(&found.width.value, unit)),
    ];
    let steps = vec![
        format!(
            "The {edge} line touches at {left} and {right}, the {other} line between them at {middle}: no \
             narrower pair of lines holds all readings"
        ),
        format!(
            "Slope of the zone: {} mm on 1 m",
            found.slope.mul(&Exact::from_integer(1000)).to_decimal(6).0
        ),
    ];
    let mut notices = vec![format!(
        "At {} places; the blade can be less straight between them",
        found.stations
    )];
    if found.one_flank {
        notices.push(
            "One flank alone does not tell the bar, a change of thickness and the bend apart; read both flanks \
             against one bar: columns port and starboard"
                .to_owned(),
        );
    }
    notices.extend(found.notices.iter().map(|note| capital(note)));
    let exact_amount = |exact: &Exact| Amount::new(Uncertain::exact(exact.clone()), unit);
    let beside = vec![
        Beside::new(
            "minimum_zone",
            "",
            value_json(&found.width.value, unit, None),
        ),
        Beside::new(
            "least_squares",
            format!(
                "About the least-squares line: {}",
                exact_amount(&found.least_squares).text(&coverage)
            ),
            value_json(&Number::Exact(found.least_squares.clone()), unit, None),
        ),
        Beside::new(
            "end_points",
            format!(
                "About the line through the ends: {}",
                exact_amount(&found.end_points).text(&coverage)
            ),
            value_json(&Number::Exact(found.end_points.clone()), unit, None),
        ),
        Beside::new(
            "contacts",
            "",
            json!(
                found
                    .contacts
                    .iter()
                    .map(|one| json!({
                        "station": one.station + 1,
                        "at": length(&one.at, x.unit),
                        "line": if one.upper { "upper" } else { "lower" },
                    }))
                    .collect::<Vec<_>>()
            ),
        ),
        Beside::new("slope", "", json!(found.slope.to_decimal(15).0)),
        Beside::new("stations", "", json!(found.stations)),
        Beside::new("flanks", "", json!(if found.one_flank { 1 } else { 2 })),
    ];
    let trials = trials(&instrument, &coverage, (&at, &bend), found.one_flank);
    let picture = picture(&found, &at, &bend, (x.unit, unit));
    let amount = Amount::new(found.width, unit);
    let mut beside = beside;
    if let Some(trials) = trials.filter(|_| amount.value.bound.is_none() && !amount.value.unknown) {
        let (mut told, doubt) = trial::beside(&trials, &amount, &coverage);
        let w = amount.value.value.to_f64();
        let bias = trials.mean - w;
        if bias > trials.u / 2.0 {
            // Readings that scatter have widened the zone already, and the trials widen it once more: their
            // interval is turned about the value (basic bootstrap interval).
            let low = (2.0 * w - trials.symmetric.high).max(0.0);
            let high = (2.0 * w - trials.symmetric.low).max(0.0);
            let text = |number: f64| trial::digits(number, trials.u, unit);
            notices.push(if high <= 0.0 {
                format!(
                    "Drawn anew within their errors the readings widen the zone by {} {} on average, more than it \
                     measures: scatter and bend are not told apart, and the blade may be straight",
                    text(bias),
                    unit.symbol()
                )
            } else {
                format!(
                "Drawn anew within their errors the readings widen the zone by {} {symbol} on average, as their \
                 scatter has widened it before: the bend probably lies between {} and {} {symbol} (the interval of \
                 the trials, turned about the value)",
                text(bias),
                text(low),
                text(high),
                symbol = unit.symbol()
            )
            });
            if let Some(map) = told.json.as_object_mut() {
                let over = |number: f64| number / unit.factor().to_f64();
                map.insert("bias".to_owned(), json!(over(bias)));
                map.insert("turned_interval".to_owned(), json!([over(low), over(high)]));
            }
        } else {
            notices.extend(doubt);
        }
        beside.push(told);
    }
    let what = format!("Straightness, minimum zone of {} stations", found.stations);
    reader.end(Some(Reckoned {
        what,
        result: ReckonedOutcome::Amount(amount),
        coverage,
        formula,
        source: "ISO 12780-1 (minimum zone, in the direction of the readings); found by convex hull, exact \
                 in rational numbers"
            .to_owned(),
        steps,
        beside,
        notices,
        register: taker.register(),
        picture: Some(picture),
    }))
}

/// Readings drawn anew within their errors, and the zones they make.
fn trials(
    instrument: &InstrumentError,
    coverage: &Coverage,
    (at, bend): (&[Exact], &[Exact]),
    one_flank: bool,
) -> Option<MonteCarlo> {
    let mut points: Vec<(f64, f64)> = at
        .iter()
        .map(Exact::to_f64)
        .zip(bend.iter().map(Exact::to_f64))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
    let flanks = if one_flank { 1 } else { 2 };
    let readings = x.len() * flanks;
    let errors = Errors::new(instrument, readings);
    errors.run(readings, coverage, |drawn| {
        let trial: Vec<f64> = y
            .iter()
            .enumerate()
            .map(|(place, y)| {
                if one_flank {
                    y + errors.of(drawn, place)
                } else {
                    let [port, starboard] =
                        [2 * place, 2 * place + 1].map(|at| errors.of(drawn, at));
                    y + (starboard - port) / 2.0
                }
            })
            .collect();
        Some(geometry::zone_width(&x, &trial))
    })
}

fn bare(exact: &Exact, unit: Unit) -> String {
    show::number(exact, unit, None).0
}

/// A number behind a minus sign.
fn signed(exact: &Exact, unit: Unit) -> String {
    let text = bare(exact, unit);
    if text.starts_with('-') {
        format!("({text})")
    } else {
        text
    }
}

/// The readings with the slope of the zone taken out, between the two lines of the zone.
fn picture(
    found: &Straightness,
    at: &[Exact],
    bend: &[Exact],
    (along, up): (Unit, Unit),
) -> Picture {
    let over = |exact: &Exact, unit: Unit| unit.from_base(exact).to_f64();
    let level = |place: usize| {
        let y = bend.get(place).map_or(Exact::ZERO, Clone::clone);
        let x = at.get(place).map_or(Exact::ZERO, Clone::clone);
        y.sub(&found.slope.mul(&x))
    };
    let lower = found
        .contacts
        .iter()
        .filter(|one| !one.upper)
        .map(|one| level(one.station))
        .next();
    let lower = lower.unwrap_or(Exact::ZERO);
    let height = |place: usize| over(&level(place).sub(&lower), up);
    let mut points: Vec<[f64; 2]> = (0..at.len())
        .map(|place| [at.get(place).map_or(0.0, |x| over(x, along)), height(place)])
        .collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let (from, to) = (
        points.first().map_or(0.0, |one| one[0]),
        points.last().map_or(0.0, |one| one[0]),
    );
    let width = up.from_base(&found.width.value.as_exact().cloned().unwrap_or_else(|| {
        Exact::from_f64_shortest(found.width.value.to_f64()).unwrap_or(Exact::ZERO)
    }));
    let line = |y: f64, words: String| PictureRule {
        from: [from, y],
        to: [to, y],
        words,
    };
    let number = width.to_f64();
    let marks = found
        .contacts
        .iter()
        .map(|one| Mark {
            at: [over(&one.at, along), height(one.station)],
            words: format!(
                "touches at {}",
                show::with_unit(&bare(&one.at, along), along)
            ),
        })
        .collect();
    Picture {
        title: "Readings in their minimum zone".to_owned(),
        along: format!("position along, {}", along.symbol()),
        up: format!("off the lower line, {}", up.symbol()),
        points,
        joined: true,
        rules: vec![
            line(
                number,
                format!(
                    "minimum zone {}",
                    show::with_unit(&width.to_decimal(4).0, up)
                ),
            ),
            line(0.0, String::new()),
        ],
        marks,
        unit_ratio: along.factor().to_f64() / up.factor().to_f64(),
        true_shape: false,
    }
}
