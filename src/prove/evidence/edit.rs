//! Records as documents, changed in one thing: a reading left out or moved, a place fewer, another instrument.

use super::super::common::{Common, HoldingIx, MeasureIx, PartIx, Side, TraitIx};
use super::super::witness::Document;
use crate::quantity::{Date, Exact, Quantity, Unit, add_days};

/// One boat as a record under the names of either version.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The record of the old version.
    pub old: Document,
    /// The record of the new version.
    pub new: Document,
}

impl Pair {
    /// The record of a version.
    pub fn at(&self, side: Side) -> &Document {
        match side {
            Side::Old => &self.old,
            Side::New => &self.new,
        }
    }

    /// The same, to be changed.
    pub fn at_mut(&mut self, side: Side) -> &mut Document {
        match side {
            Side::Old => &mut self.old,
            Side::New => &mut self.new,
        }
    }
}

/// An item of a boat: which holding it fills, and its place among those that do; the boat itself fills none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The holding.
    pub holding: Option<HoldingIx>,
    /// Its place in the list.
    pub nth: usize,
}

/// The items of a kind of part that a boat has in either record.
pub fn items(pair: &Pair, common: &Common<'_>, part: PartIx) -> Vec<Place> {
    if part == PartIx(0) {
        let boat = Place {
            holding: None,
            nth: 0,
        };
        return vec![boat];
    }
    let mut found = Vec::new();
    for (at, holding) in common.holdings.iter().enumerate() {
        let Ok(ix) = u16::try_from(at).map(HoldingIx) else {
            continue;
        };
        if holding.part != part {
            continue;
        }
        let counts = Side::BOTH.map(|side| {
            let said = key_of(common, side, ix).and_then(|key| pair.at(side).get(&key));
            match said {
                None => 0,
                Some(said) if holding.many => said.items().len(),
                Some(_) => 1,
            }
        });
        let most = counts.into_iter().max().unwrap_or(0);
        found.extend((0..most).map(|nth| Place {
            holding: Some(ix),
            nth,
        }));
    }
    found
}

/// The key of a holding in records of a version.
pub fn key_of(common: &Common<'_>, side: Side, ix: HoldingIx) -> Option<String> {
    let id = common.holding(ix)?.at.at(side)?;
    let holding = common.rules(side).vocabulary.holding(id)?;
    Some(holding.key.text.clone())
}

/// The key of a measure in records of a version.
pub fn measure_key(
    common: &Common<'_>,
    side: Side,
    part: PartIx,
    measure: MeasureIx,
) -> Option<String> {
    let part = common.part(part)?;
    let id = part.measures.get(measure.index())?.at.at(side)?;
    let own = common.rules(side).vocabulary.part(part.at.at(side)?)?;
    Some(own.measures.get(id.index())?.name.text.clone())
}

/// The key of a trait in records of a version.
pub fn trait_key(common: &Common<'_>, side: Side, part: PartIx, one: TraitIx) -> Option<String> {
    let part = common.part(part)?;
    let id = part.traits.get(one.index())?.at.at(side)?;
    let own = common.rules(side).vocabulary.part(part.at.at(side)?)?;
    Some(own.traits.get(id.index())?.name.text.clone())
}

/// What a record says of an item.
pub fn item<'d>(
    document: &'d mut Document,
    common: &Common<'_>,
    side: Side,
    place: Place,
) -> Option<&'d mut Document> {
    let Some(ix) = place.holding else {
        return entry(document, "boat");
    };
    let many = common.holding(ix)?.many;
    let said = entry(document, &key_of(common, side, ix)?)?;
    if many {
        list(said)?.get_mut(place.nth)
    } else {
        Some(said)
    }
}

/// What stands under a key.
pub fn entry<'d>(document: &'d mut Document, key: &str) -> Option<&'d mut Document> {
    let Document::Map(entries) = document else {
        return None;
    };
    let found = entries.iter_mut().find(|(known, _)| known == key);
    found.map(|(_, one)| one)
}

/// The entries of a list.
pub fn list(document: &mut Document) -> Option<&mut Vec<Document>> {
    match document {
        Document::List(list) => Some(list),
        Document::Text(_) | Document::Map(_) => None,
    }
}

/// Takes a key out; tells whether it was there.
pub fn take(document: &mut Document, key: &str) -> bool {
    let Document::Map(entries) = document else {
        return false;
    };
    let before = entries.len();
    entries.retain(|(known, _)| known != key);
    entries.len() < before
}

/// Puts something under a key, behind the others where it is new.
pub fn put(document: &mut Document, key: &str, one: Document) {
    if let Some(known) = entry(document, key) {
        *known = one;
    } else if let Document::Map(entries) = document {
        entries.push((key.to_owned(), one));
    }
}

/// The one series that counts of what was measured: in short form it is written as a series first, and what others
/// read is taken out.
pub fn series(measured: &mut Document) -> Option<&mut Document> {
    if let Document::Text(text) = measured {
        *measured = Document::map([("readings", Document::text(text.clone()))]);
    }
    if let Some(all) = entry(measured, "series") {
        let first = list(all)?.first()?.clone();
        *measured = first;
    }
    match measured {
        Document::Map(_) => Some(measured),
        Document::Text(_) | Document::List(_) => None,
    }
}

/// The lists of readings in a series: of each place, or the only one.
pub fn readings(series: &mut Document) -> Vec<&mut Document> {
    let Document::Map(entries) = series else {
        return Vec::new();
    };
    for (key, one) in entries {
        match (key.as_str(), one) {
            ("readings", one) => return vec![one],
            ("places", Document::List(places)) => {
                let each = places.iter_mut();
                return each.filter_map(|place| entry(place, "readings")).collect();
            }
            _ => {}
        }
    }
    Vec::new()
}

/// The quantities of a list of readings.
pub fn quantities(readings: &Document) -> Vec<Quantity> {
    match readings {
        Document::Text(text) => {
            let list = Quantity::parse_list(text).unwrap_or_default();
            list.into_iter().map(|(quantity, _)| quantity).collect()
        }
        Document::List(list) => list.iter().flat_map(quantities).collect(),
        Document::Map(_) => Vec::new(),
    }
}

/// So many readings of one value.
pub fn same_readings(value: &Exact, unit: Unit, count: usize) -> Document {
    let (number, _) = unit.from_base(value).to_decimal(DIGITS);
    if unit.symbol().is_empty() {
        let all = vec![Document::text(number); count];
        return match all.as_slice() {
            [one] => one.clone(),
            _ => Document::List(all),
        };
    }
    let mut words = vec![number; count];
    words.push(unit.symbol().to_owned());
    Document::text(words.join(" "))
}

/// Digits of a reading that is moved.
const DIGITS: usize = 12;

/// Moves every reading of a list to a value, as many as there are; tells whether there were any.
pub fn move_readings(readings: &mut Document, value: &Exact) -> bool {
    let known = quantities(readings);
    let Some(first) = known.first() else {
        return false;
    };
    *readings = same_readings(value, first.unit, known.len());
    true
}

/// A day some days before another one, as it is written.
pub fn earlier(day: Date, days: i64) -> Option<String> {
    add_days(day, -days).map(|day| day.to_string())
}

/// What an invented instrument is like, beside its kind.
#[derive(Clone, Debug)]
pub struct Errors {
    /// Expanded uncertainty of its calibration, k = 2.
    pub calibration: Exact,
    /// Standard deviation of single readings; nothing where none is stated.
    pub repeatability: Option<Exact>,
}

/// The key of the invented instrument.
pub const PROBE: &str = "probe_1";

/// Puts the invented instrument into a record, calibrated, and checked before and after the readings of a day.
pub fn add_probe(document: &mut Document, kind: &str, errors: &Errors, unit: Unit, day: Date) {
    let size = |value: &Exact| same_readings_of_difference(value, unit);
    let zero = size(&Exact::ZERO);
    let mut probe = vec![("kind".to_owned(), Document::text(kind))];
    if let Some(repeatability) = &errors.repeatability {
        probe.push(("repeatability".to_owned(), size(repeatability)));
    }
    let calibration = Document::map([
        ("day", Document::text(day.to_string())),
        ("correction", zero),
        ("expanded_uncertainty", size(&errors.calibration)),
        ("k", Document::text("2")),
    ]);
    probe.push(("calibration".to_owned(), calibration));
    let probe = Document::Map(probe);
    match entry(document, "instruments") {
        Some(all) => put(all, PROBE, probe),
        None => put(
            document,
            "instruments",
            Document::Map(vec![(PROBE.to_owned(), probe)]),
        ),
    }
}

/// A difference in a unit, as it is written.
fn same_readings_of_difference(value: &Exact, unit: Unit) -> Document {
    let (number, _) = unit.difference_from_base(value).to_decimal(DIGITS);
    if unit.symbol().is_empty() {
        Document::text(number)
    } else {
        Document::text(format!("{number} {}", unit.symbol()))
    }
}
