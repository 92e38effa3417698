//! The angle of an edge: from two bevels, a sine bar, pins, rollers, widths, or points across it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::json;

use super::given::{Reader, ReckonRequest, Taker, refused, source, wrong};
use super::table::Readings;
use crate::app::{Host, Trouble};
use crate::diagnostic::Diagnostic;
use crate::geometry::{
    EdgePoint, EdgeSection, GaugedAngle, GeometryProblem, SizeReading, angle_from_pins,
    angle_from_rollers, angle_from_sine, angle_from_widths, bevel_difference, edge_from_points,
    included_angle,
};
use crate::quantity::{Dimension, Exact, Number, Quantity, Unit, show};
use crate::report::{Amount, Beside, Mark, Picture, Reckoned, ReckonedOutcome, capital};
use crate::text::{Source, quoted};
use crate::uncertainty::{Coverage, Register, Uncertain};

/// What the angle is told from.
#[derive(Clone, Debug)]
pub enum AngleReadings {
    /// Both bevels, `40 deg, 41 deg`: port and starboard, each against the middle plane.
    Bevels(String),
    /// A sine bar, `100 mm, 64.28 mm`: its length between the rollers, and how much higher one of them lies.
    Sine(String),
    /// Pins between a plate and both faces, each `3 mm: 12.10 mm`: diameter, and the measure over both pins.
    Pins(Vec<String>),
    /// Rollers in a vee, each `6 mm: 7.24 mm`: diameter, and the height over the roller.
    Rollers(Vec<String>),
    /// Widths across the edge, each `2 mm: 3.36 mm`: depth from the edge, and width there.
    Widths(Vec<String>),
    /// A table with the columns `face` (port or starboard), `x` and `y`.
    Section(PathBuf),
}

/// The angle of an edge; `edge_radius` is the rounding of its apex, for points across it.
///
/// # Errors
/// Arguments or a table that can't be read; readings that make no angle.
pub fn angle(
    host: &dyn Host,
    request: &ReckonRequest,
    readings: &AngleReadings,
    edge_radius: Option<&str>,
) -> Result<Reckoned, Trouble> {
    match readings {
        AngleReadings::Section(path) => by_points(host, request, path, edge_radius),
        AngleReadings::Bevels(text) => by_bevels(request, text),
        AngleReadings::Sine(text) => by_sine(request, text),
        AngleReadings::Pins(texts) => by_sizes(request, texts, &PINS),
        AngleReadings::Rollers(texts) => by_sizes(request, texts, &ROLLERS),
        AngleReadings::Widths(texts) => by_sizes(request, texts, &WIDTHS),
    }
}

/// Two quantities with something between them.
fn pair(
    reader: &mut Reader,
    (name, text): (&str, &str),
    between: char,
    dimension: Dimension,
    form: &str,
) -> Option<(Quantity, Quantity)> {
    let source = source(name, text);
    let Some(at) = text.find(between) else {
        let message = format!("{} is one reading; two are asked", quoted(text));
        reader.push(wrong("reckon.angle", name, text, message, form));
        return None;
    };
    let first = reader.quantity_in(&source, 0..at, Some(dimension));
    let second = reader.quantity_in(&source, at + 1..text.len(), Some(dimension));
    first.zip(second)
}

fn by_bevels(request: &ReckonRequest, text: &str) -> Result<Reckoned, Trouble> {
    const NAME: &str = "--bevels";
    let (mut reader, coverage) = Reader::begin(request);
    let form = "port, starboard: --bevels \"40 deg, 41 deg\"";
    let both = pair(&mut reader, (NAME, text), ',', Dimension::ANGLE, form);
    let Some((port, starboard)) = both else {
        return reader.end(None);
    };
    let step = port.resolution.clone().min(starboard.resolution.clone());
    let instrument = reader.instrument(&request.instrument, Dimension::ANGLE, &step);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, Unit::DEG);
    taker.naming("port bevel", port.unit);
    let of_port = taker.reading(&port.value);
    taker.naming("starboard bevel", starboard.unit);
    let of_starboard = taker.reading(&starboard.value);
    let named = source(NAME, text);
    let problem = |found: GeometryProblem| refused(found, &named);
    let whole = included_angle(&of_port, &of_starboard).map_err(problem)?;
    let apart = bevel_difference(&of_port, &of_starboard).map_err(problem)?;
    let decimals = port.decimals.max(starboard.decimals);
    let degrees = |value: &Uncertain| {
        value.value.as_exact().map_or_else(String::new, |exact| {
            show::number(exact, Unit::DEG, decimals).0
        })
    };
    let formula = vec![
        "A = α_port + α_starboard".to_owned(),
        format!(
            "= {} + {} = {} deg",
            degrees(&of_port),
            degrees(&of_starboard),
            degrees(&whole)
        ),
    ];
    let beside = vec![Beside::amount(
        "bevel_difference",
        "The bevels differ by",
        &Amount::new(apart, Unit::DEG).written(decimals),
        &coverage,
    )];
    Ok(Told {
        what: "Included angle by two bevels",
        value: whole,
        decimals,
        formula,
        source: "definition; JCGM 100:2008, 5.1.2 and 5.2 for U (both bevels by one protractor)",
        steps: Vec::new(),
        beside,
        notices: Vec::new(),
        picture: None,
    }
    .reckoned(coverage, taker.register()))
}

fn by_sine(request: &ReckonRequest, text: &str) -> Result<Reckoned, Trouble> {
    const NAME: &str = "--sine";
    let (mut reader, coverage) = Reader::begin(request);
    let form = "length of the bar, height: --sine \"100 mm, 64.28 mm\"";
    let both = pair(&mut reader, (NAME, text), ',', Dimension::LENGTH, form);
    let Some((length, height)) = both else {
        return reader.end(None);
    };
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &height.resolution);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, height.unit);
    taker.naming("height", height.unit);
    let of_height = taker.reading(&height.value);
    // The distance of the rollers is what the bar is made to; nothing is known of it but by statement.
    let of_length = Uncertain::exact(length.value.clone());
    let found = angle_from_sine(&of_height, &of_length)
        .map_err(|found| refused(found, &source(NAME, text)))?;
    let formula = vec![
        "A = arcsin(h/L)".to_owned(),
        format!(
            "= arcsin({}/{}) = {} deg",
            number(&height, height.unit),
            number(&length, height.unit),
            shown(&found.angle)
        ),
        "u(A) = u(h)/(L·cos A), growing without limit toward 90 deg".to_owned(),
    ];
    Ok(Told {
        what: "Angle by sine bar",
        value: found.angle,
        decimals: None,
        formula,
        source: "definition of the sine; shop practice of the sine bar",
        steps: vec![
            "One bevel: the face against the plane the bar stands on. Two of them make an included angle".to_owned(),
            "The length of the bar counts as exact".to_owned(),
        ],
        beside: Vec::new(),
        notices: found.notices.iter().map(|note| capital(note)).collect(),
        picture: None,
    }
    .reckoned(coverage, taker.register()))
}

/// A way of reading an angle off two sizes or more.
struct BySizes {
    name: &'static str,
    what: &'static str,
    size: &'static str,
    reading: &'static str,
    form: &'static str,
    formula: &'static str,
    angle: fn(&[SizeReading], Option<u32>) -> Result<GaugedAngle, GeometryProblem>,
    source: &'static str,
    /// Whether sizes are gauges, known as they are stated.
    gauges: bool,
}

const PINS: BySizes = BySizes {
    name: "--pins",
    what: "Included angle over pins",
    size: "pin",
    reading: "measure over pins",
    form: "diameter: measure over both pins, twice at least: --pins \"3 mm: 12.10 mm\" --pins \"6 mm: 24.20 mm\"",
    formula: "(M₂ − M₁)/(D₂ − D₁) = 1 + cot(φ/2); A = 180 deg − 2φ, φ between plate and face",
    angle: angle_from_pins,
    source: "plane geometry: a pin of diameter D between a plate and a face at φ has its centre D/2·cot(φ/2) from \
             where they meet; the difference of two sizes takes the apex out",
    gauges: true,
};

const ROLLERS: BySizes = BySizes {
    name: "--rollers",
    what: "Angle of a vee by rollers",
    size: "roller",
    reading: "height over roller",
    form: "diameter: height over the roller, twice at least: --rollers \"6 mm: 7.24 mm\" --rollers \"12 mm: 14.49 mm\"",
    formula: "sin(A/2) = (r₂ − r₁)/((h₂ − r₂) − (h₁ − r₁))",
    angle: angle_from_rollers,
    source: "plane geometry of a circle between two lines; a cast of the edge is such a vee",
    gauges: true,
};

const WIDTHS: BySizes = BySizes {
    name: "--widths",
    what: "Included angle by widths",
    size: "depth",
    reading: "width",
    form: "depth from the edge: width there, twice at least: --widths \"1 mm: 1.68 mm\" --widths \"2 mm: 3.36 mm\"",
    formula: "A = 2·arctan((w₂ − w₁)/(2·(d₂ − d₁)))",
    angle: angle_from_widths,
    source: "plane geometry of two lines",
    gauges: false,
};

fn by_sizes(request: &ReckonRequest, texts: &[String], way: &BySizes) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    let pairs: Vec<Option<(Quantity, Quantity)>> = texts
        .iter()
        .map(|text| {
            pair(
                &mut reader,
                (way.name, text),
                ':',
                Dimension::LENGTH,
                way.form,
            )
        })
        .collect();
    let pairs: Option<Vec<(Quantity, Quantity)>> = pairs.into_iter().collect();
    let Some(pairs) = pairs else {
        return reader.end(None);
    };
    let steps = pairs.iter().map(|(_, reading)| &reading.resolution);
    let step = steps.min().cloned().unwrap_or(Exact::ZERO);
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, Unit::MM);
    let sizes: Vec<SizeReading> = pairs
        .iter()
        .map(|(size, reading)| {
            taker.naming(
                &format!("{} of {}", way.reading, size.as_written()),
                reading.unit,
            );
            let read = taker.reading(&reading.value);
            let size = if way.gauges {
                Uncertain::exact(size.value.clone())
            } else {
                taker.naming(&format!("{} of {}", way.size, size.as_written()), size.unit);
                taker.reading(&size.value)
            };
            SizeReading {
                size,
                reading: read,
            }
        })
        .collect();
    let scatter = taker.source();
    let text = texts.join("; ");
    let named = source(way.name, &text);
    let found = (way.angle)(&sizes, Some(scatter)).map_err(|found| refused(found, &named))?;
    let numbers: Vec<String> = pairs
        .iter()
        .map(|(size, reading)| format!("{}: {}", size.as_written(), reading.as_written()))
        .collect();
    let formula = vec![
        way.formula.to_owned(),
        format!("with {} {}", way.size, numbers.join(", ")),
        format!("= {} deg", shown(&found.angle)),
    ];
    let mut steps = Vec::new();
    if way.gauges {
        steps.push("Diameters count as exact".to_owned());
    }
    if pairs.len() > 2 {
        steps.push("A line of least squares through all sizes".to_owned());
    }
    Ok(Told {
        what: way.what,
        value: found.angle,
        decimals: None,
        formula,
        source: way.source,
        steps,
        beside: Vec::new(),
        notices: found.notices.iter().map(|note| capital(note)).collect(),
        picture: None,
    }
    .reckoned(coverage, taker.register()))
}

fn by_points(
    host: &dyn Host,
    request: &ReckonRequest,
    path: &Path,
    edge_radius: Option<&str>,
) -> Result<Reckoned, Trouble> {
    const LENGTH: Option<Dimension> = Some(Dimension::LENGTH);
    let table = Readings::open(host, path)?;
    let (mut reader, coverage) = Reader::begin(request);
    let known = ["face", "x", "y"];
    reader.extend(table.unknown(&known));
    let words = reader.take(table.words("face"));
    let x = reader.take(table.column("x", LENGTH));
    let y = reader.take(table.column("y", LENGTH));
    let radius = reader.size("--edge-radius", edge_radius, Dimension::LENGTH, false);
    let faces = words.map(|cells| faces(&mut reader, &table.source, &cells));
    let (Some(faces), Some(x), Some(y), false) = (faces, x, y, reader.is_faulty()) else {
        return reader.end(None);
    };
    let step = x.step().min(y.step());
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    if reader.is_faulty() {
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument, x.unit);
    let mut points: [Vec<EdgePoint>; 2] = [Vec::new(), Vec::new()];
    let mut drawn = Vec::new();
    for (at, (port, (across, up))) in faces
        .iter()
        .zip(x.quantities.iter().zip(&y.quantities))
        .enumerate()
    {
        let word = if *port { "port" } else { "starboard" };
        taker.naming(&format!("point {} ({word}) across", at + 1), x.unit);
        let of_x = taker.reading(&across.value);
        taker.naming(&format!("point {} ({word}) height", at + 1), y.unit);
        let of_y = taker.reading(&up.value);
        drawn.push((*port, [across.value.to_f64(), up.value.to_f64()]));
        let [on_port, on_starboard] = &mut points;
        let face = if *port { on_port } else { on_starboard };
        face.push(EdgePoint { x: of_x, y: of_y });
    }
    let scatter = [taker.source(), taker.source()];
    let [port, starboard] = &points;
    let radius = Number::Exact(radius.unwrap_or(Exact::ZERO));
    let found = edge_from_points(port, starboard, &radius, Some(scatter))
        .map_err(|found| refused(found, &table.source))?;
    Ok(section(found, coverage, taker, x.unit, &drawn))
}

/// Which rows are of the port face.
fn faces(reader: &mut Reader, source: &Arc<Source>, cells: &[&crate::text::Cell]) -> Vec<bool> {
    cells
        .iter()
        .map(|cell| match cell.text.as_str() {
            "port" => true,
            "starboard" => false,
            other => {
                let message = format!("{} is no face of the edge", quoted(other));
                let fault = Diagnostic::fault("reckon.face", message);
                reader.push(fault.label(source, cell.span, "").help("port or starboard"));
                true
            }
        })
        .collect()
}

fn section(
    found: EdgeSection,
    coverage: Coverage,
    taker: Taker,
    unit: Unit,
    drawn: &[(bool, [f64; 2])],
) -> Reckoned {
    let face = |name: &str, face: &crate::geometry::FaceLine| {
        let kept = face.residuals.len();
        let out = match face.left_out.len() {
            0 => String::new(),
            out => format!(", {out} left out at the rounding of the edge"),
        };
        let scatter = face.scatter.map_or_else(String::new, |s| {
            let s = s / unit.factor().to_f64();
            format!(
                "; they scatter about their line by {s:.2e} {}",
                unit.symbol()
            )
        });
        format!("{name} face: {kept} points{out}{scatter}")
    };
    let steps = vec![
        face("Port", &found.port),
        face("Starboard", &found.starboard),
    ];
    let degrees = |value: &Uncertain| Amount::new(value.clone(), Unit::DEG);
    let beside = vec![
        Beside::amount(
            "port",
            "Port bevel",
            &degrees(&found.port.half_angle),
            &coverage,
        ),
        Beside::amount(
            "starboard",
            "Starboard bevel",
            &degrees(&found.starboard.half_angle),
            &coverage,
        ),
        Beside::amount(
            "bevel_difference",
            "The bevels differ by",
            &degrees(&found.difference),
            &coverage,
        ),
        Beside::amount(
            "apex_offset",
            "The edge lies off the middle plane by",
            &Amount::new(found.apex_offset.clone(), unit),
            &coverage,
        ),
        Beside::new(
            "left_out",
            "",
            json!({ "port": found.port.left_out, "starboard": found.starboard.left_out }),
        ),
    ];
    let factor = unit.factor().to_f64();
    let apex = [
        found.apex_offset.value.to_f64() / factor,
        found.apex_height / factor,
    ];
    let mut port: Vec<[f64; 2]> = Vec::new();
    let mut starboard: Vec<[f64; 2]> = Vec::new();
    for (is_port, [x, y]) in drawn {
        let list = if *is_port { &mut port } else { &mut starboard };
        list.push([x / factor, y / factor]);
    }
    let away = |a: &[f64; 2], b: &[f64; 2]| {
        let off = |point: &[f64; 2]| (point[1] - apex[1]).abs();
        off(b).total_cmp(&off(a))
    };
    port.sort_by(away);
    starboard.sort_by(|a, b| away(b, a));
    let points = port.into_iter().chain([apex]).chain(starboard).collect();
    let picture = Picture {
        title: "Section across the edge".to_owned(),
        along: format!(
            "from the middle plane, starboard to the right, {}",
            unit.symbol()
        ),
        up: format!("height, {}", unit.symbol()),
        points,
        joined: true,
        rules: Vec::new(),
        marks: vec![Mark {
            at: apex,
            words: format!("where the faces meet: {} deg", shown(&found.included)),
        }],
        unit_ratio: 1.0,
        true_shape: true,
    };
    let formula = vec![
        "A = α_port + α_starboard; tan 2α = 2·Σx′y′/Σ(y′² − x′²) for each face, x′ and y′ from the mean of its points"
            .to_owned(),
        format!(
            "= {} + {} = {} deg",
            shown(&found.port.half_angle),
            shown(&found.starboard.half_angle),
            shown(&found.included)
        ),
    ];
    Told {
        what: "Included angle by points across the edge",
        value: found.included,
        decimals: None,
        formula,
        source: "two lines by least squares of the distances from them (total least squares)",
        steps,
        beside,
        notices: found.notices.iter().map(|note| capital(note)).collect(),
        picture: Some(picture),
    }
    .reckoned(coverage, taker.register())
}

/// What an angle is told with.
struct Told {
    what: &'static str,
    value: Uncertain,
    decimals: Option<u8>,
    formula: Vec<String>,
    source: &'static str,
    steps: Vec<String>,
    beside: Vec<Beside>,
    notices: Vec<String>,
    picture: Option<Picture>,
}

impl Told {
    fn reckoned(self, coverage: Coverage, register: Register) -> Reckoned {
        Reckoned {
            what: self.what.to_owned(),
            result: ReckonedOutcome::Amount(
                Amount::new(self.value, Unit::DEG).written(self.decimals),
            ),
            coverage,
            formula: self.formula,
            source: self.source.to_owned(),
            steps: self.steps,
            beside: self.beside,
            notices: self.notices,
            register,
            picture: self.picture,
        }
    }
}

/// Degrees, to seven digits.
fn shown(value: &Uncertain) -> String {
    let exact = match &value.value {
        Number::Exact(exact) => Some(exact.clone()),
        Number::Real { value, .. } => Exact::from_f64_shortest(*value),
    };
    exact.map_or_else(String::new, |exact| {
        let (text, ends) = exact.to_decimal(7);
        if ends { text } else { format!("{text}…") }
    })
}

/// A quantity's number in a unit.
fn number(quantity: &Quantity, unit: Unit) -> String {
    show::number(&quantity.value, unit, None).0
}
