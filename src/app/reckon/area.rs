//! The area of an outline: by corners, or by widths at equal distances.

use std::path::Path;

use serde_json::json;

use super::given::{Reader, ReckonRequest, Taker, refused, told, wrong};
use super::table::Readings;
use crate::app::{Host, Trouble};
use crate::diagnostic::Diagnostic;
use crate::geometry::{MOST_CORNERS, OutlineFault, area_of_corners, area_of_widths, outline_fault};
use crate::quantity::{Dimension, Exact, Unit, show};
use crate::report::{Amount, Beside, Picture, Reckoned, ReckonedOutcome};
use crate::text::quoted;
use crate::uncertainty::Uncertain;

const LENGTH: Option<Dimension> = Some(Dimension::LENGTH);

/// The unit of area that belongs to a unit of length.
fn square(unit: Unit) -> Unit {
    let symbol = match unit.symbol() {
        "in" => "in2",
        "ft" => "ft2",
        "cm" => "cm2",
        "m" => "m2",
        _ => "mm2",
    };
    Unit::from_symbol(symbol).unwrap_or(Unit::PLAIN)
}

/// The area in a table: columns `x` and `y` hold corners in order round the outline; a column `width`, with the
/// distance of its rows in `spacing`, holds widths from one end to the other.
///
/// # Errors
/// A table or arguments that can't be read; corners that are no outline.
pub fn area(
    host: &dyn Host,
    request: &ReckonRequest,
    outline: &Path,
    spacing: Option<&str>,
) -> Result<Reckoned, Trouble> {
    let table = Readings::open(host, outline)?;
    if table.has("width") {
        by_widths(request, &table, spacing)
    } else if let Some(text) = spacing {
        let message = "the spacing of widths was given, and the table holds corners".to_owned();
        let help = "leave --spacing out, or name the column of widths: `width [mm]`";
        Err(Trouble::one(wrong(
            "reckon.spacing",
            "--spacing",
            text,
            message,
            help,
        )))
    } else {
        by_corners(request, &table)
    }
}

fn by_corners(request: &ReckonRequest, table: &Readings) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    reader.extend(table.unknown(&["x", "y"]));
    let x = reader.take(table.column("x", LENGTH));
    let y = reader.take(table.column("y", LENGTH));
    let Some((x, y)) = x.zip(y) else {
        return reader.end(None);
    };
    if table.rows() > MOST_CORNERS {
        let message = format!(
            "the outline has {} corners; up to {MOST_CORNERS} are read",
            table.rows()
        );
        reader
            .push(Diagnostic::fault("reckon.outline", message).help("keep the corners that count"));
        return reader.end(None);
    }
    let step = x.step().min(y.step());
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let pairs: Vec<[&Exact; 2]> = x.values().zip(y.values()).map(|(x, y)| [x, y]).collect();
    if pairs.len() >= 3
        && let Some(fault) = outline_fault(&pairs)
    {
        let row = |at: usize| format!("row {}", at + 1);
        let message = match fault {
            OutlineFault::Repeated { corner, first } => {
                format!("{} is the corner of {} again", row(corner), row(first))
            }
            OutlineFault::Crossing { side, other } => {
                format!(
                    "the side from {} crosses the side from {}",
                    row(side),
                    row(other)
                )
            }
            OutlineFault::Flat => "all corners lie on one line".to_owned(),
        };
        let label = crate::text::Span::new(0, 0);
        let found = Diagnostic::fault("reckon.outline", message)
            .label(&table.source, label, "")
            .help("name the corners in order, once round, the first one once");
        reader.push(found);
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, x.unit);
    taker.counting("coordinate", x.unit);
    let corners: Vec<[Uncertain; 2]> = pairs
        .iter()
        .map(|[x, y]| [taker.reading(x), taker.reading(y)])
        .collect();
    let value = area_of_corners(&corners).map_err(|found| refused(found, &table.source))?;
    let unit = square(x.unit);
    let shown: Vec<[f64; 2]> = pairs
        .iter()
        .chain(pairs.first())
        .map(|[a, b]| [x.unit.from_base(a).to_f64(), x.unit.from_base(b).to_f64()])
        .collect();
    let formula = vec![
        "A = ½·|Σ (xᵢ·yᵢ₊₁ − xᵢ₊₁·yᵢ)|, once round".to_owned(),
        format!("= {}", told(&value.value, unit)),
    ];
    reader.end(Some(Reckoned {
        what: format!("Area inside {} corners", corners.len()),
        result: ReckonedOutcome::Amount(Amount::new(value, unit)),
        coverage,
        formula,
        source: "plane geometry (shoelace formula); JCGM 100:2008, 5.1.2 for U".to_owned(),
        steps: Vec::new(),
        beside: vec![Beside::new("corners", "", json!(corners.len()))],
        notices: vec![
            "The sides are taken straight from corner to corner; a curved side needs more corners, or widths".to_owned(),
        ],
        register: taker.register(),
        picture: Some(Picture {
            title: "Outline".to_owned(),
            along: format!("x, {}", x.unit.symbol()),
            up: format!("y, {}", x.unit.symbol()),
            points: shown,
            joined: true,
            rules: Vec::new(),
            marks: Vec::new(),
            unit_ratio: 1.0,
            true_shape: true,
        }),
    }))
}

fn by_widths(
    request: &ReckonRequest,
    table: &Readings,
    spacing: Option<&str>,
) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    reader.extend(table.unknown(&["width"]));
    let widths = reader.take(table.column("width", LENGTH));
    let apart = match spacing {
        Some(text) => reader.quantity("--spacing", text, LENGTH),
        None => {
            let fault = Diagnostic::fault(
                "reckon.spacing",
                "widths were given, and not how far apart they are",
            );
            reader.push(fault.help("--spacing \"600 mm\""));
            None
        }
    };
    if let (Some(apart), Some(text)) = (&apart, spacing)
        && apart.value.signum() <= 0
    {
        let message = format!("the widths stand {} apart", quoted(text));
        reader.push(wrong(
            "reckon.spacing",
            "--spacing",
            text,
            message,
            "a length above zero",
        ));
    }
    let Some((widths, apart)) = widths.zip(apart) else {
        return reader.end(None);
    };
    let step = widths.step();
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, widths.unit);
    taker.counting("width", widths.unit);
    let read: Vec<Uncertain> = widths.values().map(|one| taker.reading(one)).collect();
    taker.naming("spacing", apart.unit);
    let distance = taker.scale(&apart.value, &apart.resolution);
    let value = area_of_widths(&distance, &read).map_err(|found| refused(found, &table.source))?;
    let unit = square(widths.unit);
    let numbers: Vec<String> = widths
        .quantities
        .iter()
        .enumerate()
        .map(|(at, one)| {
            let number = one.number().to_decimal(15).0;
            match at {
                0 => number,
                at if at + 1 == widths.quantities.len() => number,
                at if at % 2 == 1 => format!("4·{number}"),
                _ => format!("2·{number}"),
            }
        })
        .collect();
    let formula = vec![
        "A = h/3·(w₀ + 4·w₁ + 2·w₂ + … + 4·wₙ₋₁ + wₙ)".to_owned(),
        format!(
            "= {}/3·({}) {}",
            show::number(&apart.value, widths.unit, None).0,
            numbers.join(" + "),
            unit.symbol()
        ),
        format!("= {}", told(&value.value, unit)),
    ];
    reader.end(Some(Reckoned {
        what: format!("Area over {} widths", read.len()),
        result: ReckonedOutcome::Amount(Amount::new(value, unit)),
        coverage,
        formula,
        source: "Simpson's first rule, exact for parabolas between the widths; JCGM 100:2008, 5.1.2 for U".to_owned(),
        steps: Vec::new(),
        beside: vec![Beside::new("strips", "", json!(read.len() - 1))],
        notices: vec![
            "U is that of the readings; how far the edge is no parabola between the widths is not in it".to_owned(),
        ],
        register: taker.register(),
        picture: None,
    }))
}
