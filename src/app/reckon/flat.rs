//! The flat of an edge, from shims or from gaps at stations.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::json;

use super::flat_picture::picture;
use super::given::{Reader, ReckonRequest, Taker, refused, source, wrong};
use super::table::Readings;
use super::trial::{self, Errors};
use crate::app::{Host, Trouble};
use crate::diagnostic::Diagnostic;
use crate::geometry::{
    Crown, EdgeProfile, EdgeStation, Flat, GeometryProblem, Hollow, Shim, crown_radius_from_shims,
    flat_from_shims,
};
use crate::quantity::{Dimension, Exact, Quantity, Unit, show};
use crate::report::{Amount, Beside, Picture, Reckoned, ReckonedOutcome, capital};
use crate::text::{Source, Span, quoted};
use crate::uncertainty::{
    Bound, Coverage, Distribution, InstrumentError, Law, MonteCarlo, PartKind, Register,
    Source as BudgetSource, Stated, Uncertain,
};

const LENGTH: Option<Dimension> = Some(Dimension::LENGTH);

/// What the flat is told from.
#[derive(Clone, Debug)]
pub enum FlatReadings {
    /// Leaves, each `0.008 in: 9 in, 8 in`: thickness, where it binds forward, and aft.
    Shims(Vec<String>),
    /// A table with the columns `x` and `y`: places from the pivot, and gaps.
    Stations(PathBuf),
}

/// One argument with a leaf.
struct Leaf {
    gap: Quantity,
    forward: (Quantity, Option<Bound>),
    aft: (Quantity, Option<Bound>),
}

/// The flat at `gap`, with `contact` where the straight edge touches, if it does not touch under the pivot.
///
/// # Errors
/// Arguments or a table that can't be read; readings that make no flat.
pub fn flat(
    host: &dyn Host,
    request: &ReckonRequest,
    readings: &FlatReadings,
    gap: Option<&str>,
    contact: Option<&str>,
) -> Result<Reckoned, Trouble> {
    match readings {
        FlatReadings::Shims(texts) => by_shims(request, texts, gap, contact),
        FlatReadings::Stations(path) => {
            if let Some(text) = contact {
                let message =
                    "stations tell by themselves where the straight edge touches".to_owned();
                let fault = wrong(
                    "reckon.contact",
                    "--contact",
                    text,
                    message,
                    "leave --contact out",
                );
                return Err(Trouble::one(fault));
            }
            by_stations(host, request, path, gap)
        }
    }
}

/// A distance, perhaps `more than 310 mm`.
fn distance(
    reader: &mut Reader,
    source: &Arc<Source>,
    range: std::ops::Range<usize>,
) -> Option<(Quantity, Option<Bound>)> {
    let text = source.text().get(range.clone()).unwrap_or("");
    let start = range.start + text.len() - text.trim_start().len();
    let text = text.trim();
    let open = [
        ("more than ", Bound::AtLeast),
        ("less than ", Bound::AtMost),
    ];
    let found = open
        .into_iter()
        .find_map(|(words, bound)| text.strip_prefix(words).map(|rest| (rest, bound)));
    let (from, bound) = match found {
        Some((rest, bound)) => (start + text.len() - rest.len(), Some(bound)),
        None => (start, None),
    };
    let quantity = reader.quantity_in(source, from..range.end, LENGTH)?;
    if quantity.value.signum() < 0 {
        let message = format!(
            "{} lies below zero; a leaf binds at a distance from the pivot",
            quoted(text)
        );
        let span = Span::new(start, start + text.len());
        let fault = Diagnostic::fault("reckon.shims", message).label(source, span, "below zero");
        reader.push(fault.help("forward and aft are both written above zero"));
        return None;
    }
    Some((quantity, bound))
}

fn leaf(reader: &mut Reader, text: &str) -> Option<Leaf> {
    const NAME: &str = "--shims";
    const HELP: &str = "gap: forward, aft, for example --shims \"0.008 in: 9 in, 8 in\"";
    let source = source(NAME, text);
    let colon = text.find(':');
    let comma = colon.and_then(|colon| Some(colon + 1 + text.get(colon + 1..)?.find(',')?));
    let Some((colon, comma)) = colon.zip(comma) else {
        let message = format!("{} does not say where a leaf binds", quoted(text));
        reader.push(wrong("reckon.shims", NAME, text, message, HELP));
        return None;
    };
    let gap = reader.quantity_in(&source, 0..colon, LENGTH);
    let forward = distance(reader, &source, colon + 1..comma);
    let aft = distance(reader, &source, comma + 1..text.len());
    Some(Leaf {
        gap: gap?,
        forward: forward?,
        aft: aft?,
    })
}

/// The gap that was asked, or that of the only leaf.
fn asked(reader: &mut Reader, gap: Option<&str>, only: Option<&Quantity>) -> Option<Quantity> {
    const NAME: &str = "--gap";
    let Some(text) = gap else {
        if only.is_none() {
            let message = "a flat is told at a gap, and none was given";
            let fault = Diagnostic::fault("reckon.gap", message);
            reader.push(fault.help("--gap \"0.20 mm\""));
        }
        return only.cloned();
    };
    let asked = reader.quantity(NAME, text, LENGTH)?;
    if asked.value.signum() > 0 {
        return Some(asked);
    }
    let message = format!("{NAME} is {}, and has to be above zero", quoted(text));
    let help = "how far the edge stands off at the ends of the flat: --gap \"0.20 mm\"";
    reader.push(wrong("reckon.gap", NAME, text, message, help));
    None
}

/// Leaves that are this many times thicker or thinner than the asked gap tell nothing of it.
const FARTHEST: i64 = 10;

/// Whether some leaf is near enough to the gap for an arc to lead from it.
fn in_reach(leaves: &[Leaf], gap: &Exact) -> bool {
    let times = Exact::from_integer(FARTHEST);
    leaves
        .iter()
        .map(|leaf| &leaf.gap.value)
        .any(|leaf| *gap <= leaf.mul(&times) && *leaf <= gap.mul(&times))
}

fn by_shims(
    request: &ReckonRequest,
    texts: &[String],
    gap: Option<&str>,
    contact: Option<&str>,
) -> Result<Reckoned, Trouble> {
    let (mut reader, coverage) = Reader::begin(request);
    let leaves: Vec<Option<Leaf>> = texts.iter().map(|text| leaf(&mut reader, text)).collect();
    let leaves: Option<Vec<Leaf>> = leaves.into_iter().collect();
    let contact = contact.map(|text| reader.quantity("--contact", text, LENGTH));
    let Some(leaves) = leaves else {
        return reader.end(None);
    };
    let only = match leaves.as_slice() {
        [only] => Some(&only.gap),
        _ => None,
    };
    let gap = asked(&mut reader, gap, only);
    let thickest = leaves
        .iter()
        .map(|leaf| &leaf.gap.resolution)
        .max()
        .cloned();
    let step = thickest.unwrap_or(Exact::ZERO);
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    let Some((gap, false)) = gap.map(|gap| (gap, reader.is_faulty())) else {
        return reader.end(None);
    };
    for leaf in &leaves {
        let ends = [&leaf.forward.0, &leaf.aft.0];
        if ends
            .iter()
            .any(|end| end.value.signum() > 0 && leaf.gap.value >= end.value)
        {
            let gap = leaf.gap.as_written();
            let message = format!("a leaf of {gap} is thicker than the way it goes in");
            let help = "gap: forward, aft, in this order: --shims \"0.008 in: 9 in, 8 in\"";
            reader.push(Diagnostic::fault("reckon.shims", message).help(help));
        }
    }
    if reader.is_faulty() {
        return reader.end(None);
    }
    let thin = leaves.iter().all(|leaf| leaf.gap.value.signum() > 0);
    if thin && !in_reach(&leaves, &gap.value) {
        let message = format!(
            "no leaf is near a gap of {}: an edge is round over its flat at most",
            gap.as_written()
        );
        let fault = Diagnostic::fault("reckon.gap", message);
        let help = format!("a leaf of a tenth to {FARTHEST} times the gap");
        reader.push(fault.help(help));
        return reader.end(None);
    }
    let mut taker = Taker::new(instrument.clone(), gap.unit);
    let scale = |taker: &mut Taker, (quantity, bound): &(Quantity, Option<Bound>), end: &str| {
        taker.naming(end, quantity.unit);
        taker
            .scale(&quantity.value, &quantity.resolution)
            .with_bound(*bound)
    };
    let shims: Vec<Shim> = leaves
        .iter()
        .map(|leaf| Shim {
            gap: {
                taker.naming(&format!("leaf of {}", leaf.gap.as_written()), leaf.gap.unit);
                taker.reading(&leaf.gap.value)
            },
            forward: scale(&mut taker, &leaf.forward, "where it binds forward"),
            aft: scale(&mut taker, &leaf.aft, "where it binds aft"),
        })
        .collect();
    let contact = contact.flatten();
    let trials = trials(
        &instrument,
        &coverage,
        &leaves,
        contact.as_ref(),
        &gap.value,
    );
    let contact = contact.map(|one| taker.scale(&one.value, &one.resolution));
    let text = texts.join("; ");
    let named = source("--shims", &text);
    let found = flat_from_shims(&shims, contact.as_ref(), &gap.value)
        .map_err(|found| refused(found, &named))?;
    let unit = leaves.first().map_or(Unit::MM, |leaf| leaf.forward.0.unit);
    let decimals = leaves
        .iter()
        .filter_map(|leaf| leaf.forward.0.decimals)
        .max();
    let near: Vec<String> = leaves
        .iter()
        .map(|leaf| {
            format!(
                "Leaf of {}: binds {} forward and {} aft",
                leaf.gap.as_written(),
                said(&leaf.forward),
                said(&leaf.aft)
            )
        })
        .collect();
    let mut notices = vec![format!(
        "Distances count to their last digit as written, here {}, and leaves to theirs: write a digit more where the \
         scale shows it; --resolution and --max-error state how well a leaf is known. What the bar and the feel of \
         binding add is not in U",
        step_text(&leaves)
    )];
    notices.extend(found.note.iter().map(|note| capital(note)));
    let told = Told {
        gap,
        unit,
        decimals,
        coverage,
    };
    let crown = crown_radius_from_shims(&shims);
    let mut reckoned = told.reckoned((&found, &crown, None), near, notices, None);
    reckoned.register = taker.register();
    if let (Some(trials), ReckonedOutcome::Amount(amount)) = (trials, &reckoned.result) {
        let (beside, doubt) = trial::beside(&trials, amount, &reckoned.coverage);
        reckoned.beside.push(beside);
        reckoned.notices.extend(doubt);
    }
    Ok(reckoned)
}

/// The leaf nearest to the asked gap with its thickness and both distances drawn anew within their errors: the
/// flat at the gap on a circular arc through the contact, R = (a² + g²)/(2g), a' = √(2·R·g' − g'²).
fn trials(
    instrument: &InstrumentError,
    coverage: &Coverage,
    leaves: &[Leaf],
    contact: Option<&Quantity>,
    gap: &Exact,
) -> Option<MonteCarlo> {
    let asked = gap.to_f64();
    let off = |leaf: &Leaf| (leaf.gap.value.to_f64() / asked).ln().abs();
    let leaf = leaves.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    if leaf.forward.1.is_some() || leaf.aft.1.is_some() {
        return None;
    }
    let mut errors = Errors::new(instrument, 1);
    let mut scale = |quantity: &Quantity| {
        let (value, half) = (quantity.value.to_f64(), quantity.resolution.to_f64() / 2.0);
        errors.add(Law::Rectangular {
            low: value - half,
            high: value + half,
        })
    };
    let (forward, aft) = (scale(&leaf.forward.0), scale(&leaf.aft.0));
    let contact = contact.map(&mut scale);
    let g = leaf.gap.value.to_f64();
    errors.run(1, coverage, |drawn| {
        let at = |place: usize| drawn.get(place).copied();
        let contact = contact.map_or(Some(0.0), at)?;
        let thickness = g + errors.of(drawn, 0);
        let reach = |a: f64| {
            let radius = (a * a + thickness * thickness) / (2.0 * thickness);
            (2.0 * radius * asked - asked * asked).sqrt()
        };
        let flat = reach(at(forward)? - contact) + reach(at(aft)? + contact);
        (thickness > 0.0).then_some(flat)
    })
}

/// The coarsest step in which a distance was written.
fn step_text(leaves: &[Leaf]) -> String {
    let distances = leaves
        .iter()
        .flat_map(|leaf| [&leaf.forward.0, &leaf.aft.0]);
    let coarsest = distances.max_by(|a, b| a.resolution.cmp(&b.resolution));
    coarsest.map_or_else(String::new, |one| {
        let (text, _) = show::difference(&one.resolution, one.unit, None);
        show::with_unit(&text, one.unit)
    })
}

fn said((quantity, bound): &(Quantity, Option<Bound>)) -> String {
    let before = match bound {
        None => "",
        Some(Bound::AtLeast) => "more than ",
        Some(Bound::AtMost | Bound::Neither) => "less than ",
    };
    format!("{before}{}", quantity.as_written())
}

fn by_stations(
    host: &dyn Host,
    request: &ReckonRequest,
    path: &Path,
    gap: Option<&str>,
) -> Result<Reckoned, Trouble> {
    let table = Readings::open(host, path)?;
    let (mut reader, coverage) = Reader::begin(request);
    reader.extend(table.unknown(&["x", "y"]));
    let x = reader.take(table.column("x", LENGTH));
    let y = reader.take(table.column("y", LENGTH));
    if let Some(x) = &x {
        reader.extend(table.repeated("x", x));
    }
    let gap = asked(&mut reader, gap, None);
    let step = y.as_ref().map_or(Exact::ZERO, super::table::Column::step);
    let instrument = reader.instrument(&request.instrument, Dimension::LENGTH, &step);
    let (Some(x), Some(y), Some(gap), false) = (x, y, gap, reader.is_faulty()) else {
        return reader.end(None);
    };
    let mut taker = Taker::new(instrument, y.unit);
    let step_along = x.step();
    let stations: Vec<EdgeStation> = x
        .quantities
        .iter()
        .zip(&y.quantities)
        .map(|(x, y)| {
            taker.naming(&format!("place of {}", x.as_written()), x.unit);
            let at = taker.scale(&x.value, &step_along);
            taker.naming(&format!("gap at {}", x.as_written()), y.unit);
            let gap = taker.reading(&y.value);
            EdgeStation { at, gap }
        })
        .collect();
    let sources = [taker.source(), taker.source()];
    let turn = BudgetSource::new(
        "contact of the straight edge, between the stations beside the pivot",
        Unit::PLAIN,
        Stated::InResult,
        Distribution::Rectangular,
    );
    for id in sources {
        taker.keep(PartKind::Condition, id, turn.clone());
    }
    for (id, end) in sources.into_iter().zip(["forward", "aft"]) {
        let name = format!("curve between stations, {end}");
        let source = BudgetSource::new(
            name,
            Unit::PLAIN,
            Stated::InResult,
            Distribution::Rectangular,
        );
        taker.keep(PartKind::Resolution, id, source);
    }
    let problem = |found: GeometryProblem| refused(found, &table.source);
    let edge = EdgeProfile::new(&stations).map_err(problem)?;
    let found = edge.flat(&gap.value, Some(sources)).map_err(problem)?;
    let picture = picture(&edge, (x.unit, y.unit), &gap, &found);
    let steps = vec![format!(
        "{} stations; the straight edge is the supporting line of the readings under the pivot, and each end is \
         where the edge first stands {} off it",
        stations.len(),
        gap.as_written()
    )];
    let mut notices: Vec<String> = Vec::new();
    if y.values().any(|gap| gap.signum() < 0) {
        notices.push(
            "Some gaps lie below zero: only the shape of the readings counts, against the straight edge that touches \
             under the pivot"
                .to_owned(),
        );
    }
    notices.extend(found.note.iter().map(|note| capital(note)));
    let told = Told {
        gap,
        unit: x.unit,
        decimals: None,
        coverage,
    };
    let crown = edge.crown_radius(Some(taker.source()));
    let hollow = edge.hollow();
    let mut reckoned = told.reckoned(
        (&found, &crown, Some(&hollow)),
        steps,
        notices,
        Some(picture),
    );
    reckoned.register = taker.register();
    Ok(reckoned)
}

/// How a flat is told.
struct Told {
    gap: Quantity,
    unit: Unit,
    decimals: Option<u8>,
    coverage: Coverage,
}

impl Told {
    fn amount(&self, value: &Uncertain) -> Amount {
        Amount::new(value.clone(), self.unit).written(self.decimals)
    }

    fn reckoned(
        self,
        (flat, crown, hollow): (&Flat, &Result<Crown, GeometryProblem>, Option<&Hollow>),
        mut steps: Vec<String>,
        notices: Vec<String>,
        picture: Option<Picture>,
    ) -> Reckoned {
        let coverage = &self.coverage;
        let mut beside = vec![
            Beside::amount(
                "forward",
                "Forward of the pivot:",
                &self.amount(&flat.forward),
                coverage,
            ),
            Beside::amount(
                "aft",
                "Aft of the pivot:",
                &self.amount(&flat.aft),
                coverage,
            ),
        ];
        beside.extend(Told::correlation(flat));
        match crown {
            Ok(crown) => {
                let large = match self.unit.symbol() {
                    "in" | "ft" => "ft",
                    _ => "m",
                };
                let unit = Unit::from_symbol(large).unwrap_or(self.unit);
                let amount = Amount::new(crown.radius.clone(), unit);
                beside.push(Beside::amount("radius", "Crown radius:", &amount, coverage));
                beside.push(Beside::new("condition_number", "", json!(crown.kappa)));
                steps.extend(
                    crown
                        .note
                        .iter()
                        .map(|note| format!("Crown radius: {note}")),
                );
            }
            Err(problem) => {
                let words = format!("Crown radius: not told; {}", problem.message);
                beside.push(Beside::new("radius", words, json!(null)));
            }
        }
        beside.push(self.hollow(hollow));
        let number = |value: &Uncertain| match value.value.as_exact() {
            Some(exact) if self.decimals.is_some() => {
                show::number(exact, self.unit, self.decimals).0
            }
            Some(exact) => {
                let (text, ends) = self.unit.from_base(exact).to_decimal(7);
                if ends { text } else { format!("{text}…") }
            }
            None => value.value.to_f64().to_string(),
        };
        let open = flat.total.bound == Some(Bound::AtLeast);
        let formula = vec![
            "flat = forward + aft".to_owned(),
            format!(
                "{} {} + {} = {}",
                if open { "≥" } else { "=" },
                number(&flat.forward),
                number(&flat.aft),
                show::with_unit(&number(&flat.total), self.unit)
            ),
            "U(a) = U(g)/|slope of the edge where it stands g off|".to_owned(),
        ];
        let what = format!("Flat at {}", self.gap.as_written());
        let result = ReckonedOutcome::Amount(self.amount(&flat.total));
        Reckoned {
            what,
            result,
            coverage: self.coverage,
            formula,
            source: "common practice, no source (shims and straight edge); plane geometry; JCGM 100:2008, 5.1.2 for U"
                .to_owned(),
            steps,
            beside,
            notices,
            register: Register::new(),
            picture,
        }
    }

    /// How far forward and aft go together.
    fn correlation(flat: &Flat) -> Option<Beside> {
        let r = flat.correlation().filter(|_| flat.total.bound.is_none())?;
        let words = if r < -0.05 {
            format!("Correlation of forward and aft: {r:.2}; what one end loses the other gains")
        } else if r > 0.05 {
            format!("Correlation of forward and aft: {r:.2}; both ends move together")
        } else {
            format!("Correlation of forward and aft: {r:.2}")
        };
        Some(Beside::new(
            "correlation",
            words,
            json!((r * 1e6).round() / 1e6),
        ))
    }

    /// The deepest hollow, from stations.
    fn hollow(&self, hollow: Option<&Hollow>) -> Beside {
        let Some(hollow) = hollow else {
            return Beside::new("hollow", "", json!(null));
        };
        let amount = Amount::new(hollow.depth.clone(), self.gap.unit);
        let clear = hollow.places.first().filter(|place| place.is_clear());
        let mut found = Beside::amount("hollow", "Hollow:", &amount, &self.coverage);
        if let Some(map) = found.json.as_object_mut() {
            map.insert("clear".to_owned(), json!(clear.is_some()));
        }
        match clear {
            Some(place) => {
                let at = |exact: &Exact| show::number(exact, self.unit, None).0;
                let [heel, toe] = &place.contacts;
                found.words = format!(
                    "Hollow: {} at {}; the edge rocks on {} and {} {}",
                    amount.text(&self.coverage),
                    show::with_unit(&at(&place.at), self.unit),
                    at(heel),
                    at(toe),
                    self.unit.symbol()
                );
                if let Some(map) = found.json.as_object_mut() {
                    map.insert(
                        "at".to_owned(),
                        json!(show::with_unit(&at(&place.at), self.unit)),
                    );
                    let contacts = [at(heel), at(toe)].map(|one| show::with_unit(&one, self.unit));
                    map.insert("rocks_on".to_owned(), json!(contacts));
                }
            }
            None => {
                found.words = "Hollow: none that is clear of the readings' uncertainty".to_owned()
            }
        }
        found
    }
}
