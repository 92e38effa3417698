//! Constructions: what is done to a record of a legal boat so that a difference shows, by the kind of difference.
//!
//! | difference | done to the record |
//! |---|---|
//! | decision, method, judged | a value moved inside the doubt, above the limit and below it, read with an invented instrument |
//! | fresh_for | a reading that is older than one version allows |
//! | measure_again | work a day after the reading |
//! | fixed_at | the paper of the value left out |
//! | set_up | a load test set up as one version asks |
//! | places, spaced_at_most | places left out one by one |
//! | repeats | readings left out |
//! | zones | a place beside a border that moved, and others left out; a failure there, and none known elsewhere |
//! | needs, rule | a measure, a choice, a proof, a part, where a place lies, the temperature left out |
//! | instead | proofs left out, what the exemption rests on, and days known to the month or the year alone; on a boat that needs it too |
//!
//! Where what is left out or too old hides a failure, the same is done to a boat with a value far beyond its limit.

use super::super::common::{Common, MeasureIx, PartIx, Side, TraitIx};
use super::super::witness::Document;
use super::dates::written;
use super::edit::{
    Pair, Place, earlier, entry, item, items, key_of, list, measure_key, move_readings, put,
    quantities, readings, same_readings, series, take, trait_key,
};
use super::needs::Need;
use crate::quantity::{Date, DatePrecision, DateSpan, Exact};
use crate::vocabulary::{MeasureKind, Supports};

/// A change of a record, made under the names of both versions.
#[derive(Clone, Debug)]
pub enum Change {
    /// Something that a rule needs is left out.
    LeaveOut(Need, Place),
    /// What was read is so many days older.
    Older((PartIx, MeasureIx), Place, i64),
    /// Work that asks for a measure again a day after it was read.
    WorkAfter((PartIx, MeasureIx), Place, String),
    /// The paper of a first value is left out.
    NoPaper((PartIx, MeasureIx), Place),
    /// A load test is set up as a version asks.
    SetUpAs((PartIx, MeasureIx), Place, Side),
    /// So many readings are left at each place.
    FewerReadings((PartIx, MeasureIx), Place, usize),
    /// A value lies far beyond any limit, or an answer is the other one.
    Spoil((PartIx, MeasureIx), Place, i32),
    /// A value is moved.
    Set((PartIx, MeasureIx), Place, Exact),
    /// A day is known as this alone.
    Known((PartIx, TraitIx), Place, DateSpan),
    /// A flag is set.
    Mark((PartIx, TraitIx), Place),
}

/// Items of a kind that are tried.
const ITEMS: usize = 4;

/// The items of a kind on which a change is tried.
pub fn tried(pair: &Pair, common: &Common<'_>, part: PartIx) -> Vec<Place> {
    let mut found = items(pair, common, part);
    found.truncate(ITEMS);
    found
}

/// Ways to leave out what a rule needs.
pub fn left_out(pair: &Pair, common: &Common<'_>, need: Need) -> Vec<Change> {
    let whole = Place {
        holding: None,
        nth: 0,
    };
    let each = |part: PartIx| {
        let places = tried(pair, common, part).into_iter();
        places.map(|place| Change::LeaveOut(need, place)).collect()
    };
    match need {
        Need::Measure(part, _)
        | Need::Declared(part, _)
        | Need::Proof(part, _)
        | Need::Role(part, _)
        | Need::PlaceAt(part)
        | Need::FromEdge(part) => each(part),
        Need::Part(_) | Need::Temperature => vec![Change::LeaveOut(need, whole)],
    }
}

impl Change {
    /// What is done, in words.
    pub fn told(&self, common: &Common<'_>) -> String {
        let of = |(part, measure): (PartIx, MeasureIx)| {
            super::needs::told(Need::Measure(part, measure), common)
        };
        match self {
            Change::LeaveOut(need, _) => match need {
                Need::PlaceAt(_) | Need::FromEdge(_) => {
                    format!("it is not said {}", super::needs::told(*need, common))
                }
                Need::Measure(..)
                | Need::Declared(..)
                | Need::Proof(..)
                | Need::Part(_)
                | Need::Role(..)
                | Need::Temperature => {
                    format!("{} is left out", super::needs::told(*need, common))
                }
            },
            Change::Older(measure, _, days) => {
                format!("{} was read {days} days before", of(*measure))
            }
            Change::WorkAfter(measure, _, work) => {
                format!(
                    "{} was read the day before the work {}",
                    of(*measure),
                    work.replace('_', " ")
                )
            }
            Change::NoPaper(measure, _) => format!("no paper says {}", of(*measure)),
            Change::SetUpAs(measure, _, side) => {
                let version = &common.rules(*side).version;
                format!("{} was set up as {version} asks", of(*measure))
            }
            Change::FewerReadings(measure, _, count) => {
                let times = if *count == 1 {
                    "once".to_owned()
                } else {
                    format!("{count} times")
                };
                format!("{} was read {times} at each place", of(*measure))
            }
            Change::Spoil(measure, _, _) => format!("{} is far beyond its limit", of(*measure)),
            Change::Set(measure, _, _) => {
                format!("{} is what an exemption would allow", of(*measure))
            }
            Change::Known((part, slot), _, span) => {
                let day = super::needs::told(Need::Declared(*part, *slot), common);
                let known = match span.precision {
                    DatePrecision::Year => "to the year ",
                    DatePrecision::Month => "to the month ",
                    DatePrecision::Day => "as ",
                };
                format!("{day} is known {known}{} alone", written(span))
            }
            Change::Mark((part, _), _) => {
                let name = common.part(*part).map_or("", |part| part.name.as_str());
                format!("the {} is nominated", name.replace('_', " "))
            }
        }
    }

    /// The record with it; nothing where there is nothing to change.
    pub fn made(&self, pair: &Pair, common: &Common<'_>, day: Date) -> Option<Pair> {
        let mut changed = pair.clone();
        let mut any = false;
        for side in Side::BOTH {
            let document = changed.at_mut(side);
            any |= self.on(document, common, side, day).unwrap_or(false);
        }
        any.then_some(changed)
    }

    fn on(
        &self,
        document: &mut Document,
        common: &Common<'_>,
        side: Side,
        day: Date,
    ) -> Option<bool> {
        match self {
            Change::LeaveOut(need, place) => leave_out(document, common, side, (*need, *place)),
            Change::Older(measure, place, days) => {
                let day = Document::text(earlier(day, *days)?);
                let measured = measured(document, common, side, (*measure, *place))?;
                let answer = measured.get("answer").is_some();
                let one = if answer { measured } else { series(measured)? };
                put(one, if answer { "day" } else { "taken" }, day);
                Some(true)
            }
            Change::WorkAfter(measure, place, work) => {
                let before = Document::text(earlier(day, 1)?);
                let said = measured(document, common, side, (*measure, *place))?;
                if said.get("answer").is_some() || said.get("paper").is_some() {
                    put(said, "day", before);
                } else {
                    put(series(said)?, "taken", before);
                }
                let own = item(document, common, side, *place)?;
                let done = Document::map([
                    ("day", Document::text(day.to_string())),
                    ("did", Document::text(work.clone())),
                ]);
                // Other work would ask for other things again.
                put(own, "work", Document::List(vec![done]));
                Some(true)
            }
            Change::NoPaper(measure, place) => {
                let said = measured(document, common, side, (*measure, *place))?;
                Some(take(said, "paper"))
            }
            Change::SetUpAs(measure, place, as_of) => {
                let (part, slot) = *measure;
                let own = common.part(part)?;
                let id = own.measures.get(slot.index())?.at.at(*as_of)?;
                let vocabulary = &common.rules(*as_of).vocabulary;
                let asked = vocabulary.part(own.at.at(*as_of)?)?;
                let setup = asked.measures.get(id.index())?.setup.as_ref()?;
                let one = series(measured(document, common, side, (*measure, *place))?)?;
                put(one, "span", same_readings(&setup.span, setup.unit, 1));
                let mut words = Supports::WORDS.iter();
                let (word, _) = words.find(|(_, one)| *one == setup.supports)?;
                put(one, "supports", Document::text(*word));
                Some(true)
            }
            Change::FewerReadings(measure, place, count) => {
                let one = series(measured(document, common, side, (*measure, *place))?)?;
                let mut any = false;
                for readings in readings(one) {
                    let known = quantities(readings);
                    if let (true, Some(first)) = (known.len() > *count, known.first()) {
                        *readings = same_readings(&first.value, first.unit, *count);
                        any = true;
                    }
                }
                Some(any)
            }
            Change::Spoil(measure, place, direction) => {
                let (part, slot) = *measure;
                let kind = common.part(part)?.measures.get(slot.index())?.kind;
                let said = measured(document, common, side, (*measure, *place))?;
                spoil(said, kind, *direction)
            }
            Change::Set(measure, place, value) => {
                let said = measured(document, common, side, (*measure, *place))?;
                let mut any = false;
                for readings in readings(series(said)?) {
                    any |= move_readings(readings, value);
                }
                Some(any)
            }
            Change::Known((part, slot), place, span) => {
                let key = trait_key(common, side, *part, *slot)?;
                let said = entry(item(document, common, side, *place)?, &key)?;
                let known = Document::text(written(span));
                match entry(said, "date") {
                    Some(date) => *date = known,
                    None => *said = known,
                }
                Some(true)
            }
            Change::Mark((part, slot), place) => {
                let key = trait_key(common, side, *part, *slot)?;
                let own = item(document, common, side, *place)?;
                put(own, &key, Document::yes_no(true));
                Some(true)
            }
        }
    }
}

/// What a record says of a measure of an item.
pub(super) fn measured<'d>(
    document: &'d mut Document,
    common: &Common<'_>,
    side: Side,
    ((part, measure), place): ((PartIx, MeasureIx), Place),
) -> Option<&'d mut Document> {
    let key = measure_key(common, side, part, measure)?;
    entry(item(document, common, side, place)?, &key)
}

/// The placed measures of a kind of part in a version, by their keys.
fn placed_keys(common: &Common<'_>, side: Side, part: PartIx) -> Vec<String> {
    let Some(own) = common.part(part) else {
        return Vec::new();
    };
    let slots = (0..).map(MeasureIx).zip(&own.measures);
    let placed = slots.filter(|(_, one)| one.placed);
    placed
        .filter_map(|(slot, _)| measure_key(common, side, part, slot))
        .collect()
}

fn leave_out(
    document: &mut Document,
    common: &Common<'_>,
    side: Side,
    (need, place): (Need, Place),
) -> Option<bool> {
    match need {
        Need::Measure(part, measure) => {
            let key = measure_key(common, side, part, measure)?;
            Some(take(item(document, common, side, place)?, &key))
        }
        Need::Declared(part, slot) => {
            let key = trait_key(common, side, part, slot)?;
            Some(take(item(document, common, side, place)?, &key))
        }
        Need::Proof(part, slot) => {
            let key = trait_key(common, side, part, slot)?;
            let said = entry(item(document, common, side, place)?, &key)?;
            let date = said.get("date")?.clone();
            *said = date;
            Some(true)
        }
        Need::Part(holding) => Some(take(document, &key_of(common, side, holding)?)),
        Need::Role(part, role) => {
            let own = common.part(part)?;
            let id = own.roles.get(role.index())?.at.at(side)?;
            let group = common.rules(side).vocabulary.part(own.at.at(side)?)?;
            let key = &group.role(id)?.name.text;
            Some(take(item(document, common, side, place)?, key))
        }
        Need::PlaceAt(part) | Need::FromEdge(part) => {
            let word = if matches!(need, Need::PlaceAt(_)) {
                "at"
            } else {
                "from_edge"
            };
            let keys = placed_keys(common, side, part);
            let own = item(document, common, side, place)?;
            let mut any = false;
            for key in keys {
                let Some(one) = entry(own, &key).and_then(series) else {
                    continue;
                };
                let places = entry(one, "places").and_then(list);
                for place in places.into_iter().flatten() {
                    any |= take(place, word);
                }
            }
            Some(any)
        }
        Need::Temperature => Some(take(entry(document, "measured")?, "temperature")),
    }
}

/// Takes the place at a distance from the pivot out of some measures of an item.
pub fn without_place(
    pair: &Pair,
    common: &Common<'_>,
    (part, measures): (PartIx, &[MeasureIx]),
    place: Place,
    at: &str,
) -> Pair {
    let mut changed = pair.clone();
    for side in Side::BOTH {
        for measure in measures {
            let document = changed.at_mut(side);
            let said = measured(document, common, side, ((part, *measure), place));
            let places = said.and_then(series).and_then(|one| entry(one, "places"));
            if let Some(places) = places.and_then(list) {
                // A list of places is never empty.
                if places.len() > 1 {
                    places.retain(|one| told_at(one) != Some(at));
                }
            }
        }
    }
    changed
}

pub(super) fn told_at(place: &Document) -> Option<&str> {
    place.get("at").and_then(Document::as_text)
}

/// Where on an item some measures were taken, in the order of the record.
pub fn places_of(
    pair: &Pair,
    common: &Common<'_>,
    (part, measures): (PartIx, &[MeasureIx]),
    place: Place,
) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut copy = pair.clone();
    for side in Side::BOTH {
        for measure in measures {
            let document = copy.at_mut(side);
            let said = measured(document, common, side, ((part, *measure), place));
            let places = said.and_then(series).and_then(|one| entry(one, "places"));
            for place in places.and_then(list).into_iter().flatten() {
                let at = told_at(place).map(str::to_owned);
                found.extend(at.filter(|at| !found.contains(at)));
            }
        }
    }
    found
}

/// Makes what was measured bad beyond doubt: numbers far too small (below 0) or far too great, the other answer.
pub(super) fn spoil(said: &mut Document, kind: MeasureKind, direction: i32) -> Option<bool> {
    let by = |value: &Exact| {
        if direction < 0 {
            value
                .checked_div(&Exact::from_integer(100))
                .unwrap_or(Exact::ZERO)
        } else {
            value.mul(&Exact::from_integer(100))
        }
    };
    let scale = |text: &mut Document| {
        let known = quantities(text);
        let Some(first) = known.first() else {
            return;
        };
        let numbers = known.iter().map(|one| {
            let number = by(&one.number());
            number.to_decimal(12).0
        });
        let mut words: Vec<String> = numbers.collect();
        words.push(first.unit.symbol().to_owned());
        *text = Document::text(words.join(" ").trim_end());
    };
    if let Some(answer) = entry(said, "answer") {
        let other = answer.as_text() != Some("yes");
        *answer = Document::yes_no(other);
        return Some(true);
    }
    if let Some(value) = entry(said, "value") {
        scale(value);
        return Some(true);
    }
    let one = series(said)?;
    match kind {
        MeasureKind::Quantity(_) | MeasureKind::YesNo => {
            let mut any = false;
            for one in readings(one) {
                scale(one);
                any = true;
            }
            // Far out is far from what is plausible, too.
            if let Some(places) = entry(one, "places").and_then(list) {
                for place in places {
                    put(place, "confirmed_by", Document::text("AB"));
                }
            } else {
                put(one, "confirmed_by", Document::text("AB"));
            }
            Some(any)
        }
        MeasureKind::Profile => {
            let shims = entry(one, "shims").and_then(list)?;
            for shim in shims.iter_mut() {
                for key in ["forward", "aft"] {
                    if let Some(reading) = entry(shim, key) {
                        let known = quantities(reading);
                        let first = known.first()?;
                        let part = if direction < 0 {
                            first.value.checked_div(&Exact::from_integer(8))?
                        } else {
                            first.value.mul(&Exact::from_integer(8))
                        };
                        *reading = same_readings(&part, first.unit, 1);
                    }
                }
            }
            Some(true)
        }
        MeasureKind::Section => {
            let angle = if direction < 0 { "5 deg" } else { "85 deg" };
            let places = entry(one, "places").and_then(list)?;
            for place in places.iter_mut() {
                let bevels = Document::map([
                    ("port", Document::text(angle)),
                    ("starboard", Document::text(angle)),
                ]);
                put(place, "bevels", bevels);
            }
            Some(true)
        }
        MeasureKind::LoadTest => {
            let steps = entry(one, "steps").and_then(list)?;
            for step in steps.iter_mut() {
                if let Some(sinks) = entry(step, "sinks") {
                    scale(sinks);
                }
            }
            Some(true)
        }
        MeasureKind::Line => {
            for key in ["port", "starboard"] {
                if let Some(offsets) = entry(one, key) {
                    scale(offsets);
                }
            }
            Some(true)
        }
        MeasureKind::Outline => {
            let mut any = false;
            for key in ["points", "spacing", "widths"] {
                if let Some(lengths) = entry(one, key) {
                    each_text(lengths, &scale);
                    any = true;
                }
            }
            Some(any)
        }
    }
}

/// Calls with every text below.
fn each_text(document: &mut Document, each: &dyn Fn(&mut Document)) {
    match document {
        Document::Text(_) => each(document),
        Document::List(list) => list.iter_mut().for_each(|one| each_text(one, each)),
        Document::Map(entries) => {
            entries.iter_mut().for_each(|(_, one)| each_text(one, each));
        }
    }
}
