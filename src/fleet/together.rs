//! A boat as it is known from several records: put together into one.
//!
//! What counts is the latest measurement of each measure of an item, whole and with its own day, measurer and instrument:
//! readings of two records are never mixed. A record that names an item, or leaves a measure out, takes nothing away. What
//! is declared counts as last declared, and a group of parts as last put together; work and parts that the rules do not
//! list add up. The boat is judged on one day, and how old each reading is goes by the day on which it was taken.
//!
//! The air of the session is known where all sessions that count agree; elsewhere what needs it is open.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

use super::impact::BoatAt;
use super::reader::ReadBoat;
use crate::quantity::{Date, DateTime, Exact, Unit};
use crate::record::{
    FieldCheck, Found, Instrument, Item, Measured, Member, Record, Session, TraitClaim, Unlisted,
    With, Work,
};
use crate::text::{Source, Span};
use crate::vocabulary::Vocabulary;

/// A record of a boat that has several, read from a text that it shares with the others or that is as long as all before.
#[derive(Debug)]
pub struct Part {
    /// What was read.
    pub boat: ReadBoat,
    /// Which bytes are its own: no other record of the boat has them.
    pub range: Range<usize>,
    /// Where it stands in the files.
    pub at: BoatAt,
}

/// Where a part of a boat comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// Bytes of the text.
    pub range: Range<usize>,
    /// Where the record stands.
    pub at: BoatAt,
    /// The day of measuring.
    pub measured: Date,
}

/// A boat put together.
#[derive(Debug)]
pub struct Together {
    /// The boat.
    pub boat: ReadBoat,
    /// Items as a record measured them of which nothing counts any more: all of it was measured again later.
    pub superseded: u64,
    /// Items of which two records measure the same on one day: the later in the files counts.
    pub same_day: u64,
}

/// Puts the records of a boat together; nothing where there is none. `older` is the vocabulary of the older version, where
/// records are read for it apart.
pub fn together(
    mut parts: Vec<Part>,
    newer: &Vocabulary,
    older: Option<&Vocabulary>,
) -> Option<Together> {
    parts.sort_by_key(|part| (part.boat.measured, part.at));
    let last = parts.last()?;
    let day = last.boat.day;
    let measured = last.boat.measured;
    let origins: Vec<Origin> = parts.iter().map(Origin::of).collect();
    let apart = older.zip(
        parts
            .iter_mut()
            .map(|part| part.boat.older.take())
            .collect::<Option<Vec<Record>>>(),
    );
    let days: Vec<Date> = origins.iter().map(|origin| origin.measured).collect();
    let newer = Putting::of(newer).all(parts.into_iter().map(|part| part.boat.newer), &days)?;
    let older = match apart {
        None => None,
        Some((older, records)) => Some(Putting::of(older).all(records.into_iter(), &days)?.record),
    };
    Some(Together {
        superseded: newer.superseded,
        same_day: newer.same_day,
        boat: ReadBoat {
            newer: newer.record,
            older,
            day,
            measured,
            origins,
        },
    })
}

impl Origin {
    fn of(part: &Part) -> Origin {
        Origin {
            range: part.range.clone(),
            at: part.at,
            measured: part.boat.measured,
        }
    }
}

/// A record while it is put together.
struct Putting<'v> {
    vocabulary: &'v Vocabulary,
    /// The boat, then parts, by path: their place in the list.
    places: BTreeMap<String, usize>,
    items: Vec<Known>,
    /// Groups stand behind all parts.
    group_places: BTreeMap<String, usize>,
    groups: Vec<Known>,
    sessions: Vec<Session>,
    /// Parts by their place, with the number of a record that measured anything of them.
    measured: BTreeSet<(usize, usize)>,
}

/// An item with the record that each of its measures comes from.
struct Known {
    item: Item,
    /// By slot: the record, and the day.
    from: Vec<Option<(usize, Date)>>,
    same_day: bool,
}

/// A record put together, and what was left out.
struct Made {
    record: Record,
    superseded: u64,
    same_day: u64,
}

impl<'v> Putting<'v> {
    fn of(vocabulary: &'v Vocabulary) -> Putting<'v> {
        Putting {
            vocabulary,
            places: BTreeMap::new(),
            items: Vec::new(),
            group_places: BTreeMap::new(),
            groups: Vec::new(),
            sessions: Vec::new(),
            measured: BTreeSet::new(),
        }
    }

    /// All of them, the earliest first.
    fn all(mut self, records: impl Iterator<Item = Record>, days: &[Date]) -> Option<Made> {
        let mut whole: Option<Record> = None;
        for ((number, record), day) in records.enumerate().zip(days) {
            whole = Some(self.add(whole, record, (number, *day)));
        }
        let mut record = whole?;
        record.measured.day = None;
        record.measured.by = None;
        record.measured.temperature = self.air();
        let counts = |at: usize, number: usize| {
            let known = self.items.get(at).into_iter().flat_map(|known| &known.from);
            known.flatten().any(|(from, _)| *from == number)
        };
        let left_out = self.measured.iter();
        let left_out = left_out.filter(|(at, number)| !counts(*at, *number));
        let superseded = u64::try_from(left_out.count()).unwrap_or(u64::MAX);
        let same_day = self.items.iter().filter(|known| known.same_day).count();
        let items = self.items.into_iter().chain(self.groups);
        record.items = items.map(|known| known.item).collect();
        Some(Made {
            record,
            superseded,
            same_day: u64::try_from(same_day).unwrap_or(u64::MAX),
        })
    }

    /// One record more: gives it as the head of all so far.
    fn add(
        &mut self,
        before: Option<Record>,
        mut record: Record,
        (number, day): (usize, Date),
    ) -> Record {
        let session = std::mem::take(&mut record.measured);
        let mut instruments: Vec<Instrument> = Vec::new();
        let (mut unlisted, mut notes) = Default::default();
        if let Some(before) = before {
            instruments = Arc::unwrap_or_clone(before.instruments);
            (unlisted, notes) = (before.unlisted, before.notes);
            record.boat_name = record.boat_name.or(before.boat_name);
            record.owner = record.owner.or(before.owner);
        }
        let own = Arc::unwrap_or_clone(std::mem::take(&mut record.instruments)).into_iter();
        let slots: Vec<usize> = own.map(|one| slot_of(&mut instruments, one)).collect();
        record.instruments = Arc::new(instruments);
        let adding = Adding {
            session: &session,
            slots,
            number,
            day,
        };
        let mut places: Vec<usize> = Vec::new();
        for item in std::mem::take(&mut record.items) {
            let place = self.item(item, &places, &adding);
            places.push(place);
        }
        for mut one in std::mem::take(&mut record.unlisted) {
            one.item = places.get(one.item).copied().unwrap_or(0);
            let same = |other: &Unlisted| other.item == one.item && other.what == one.what;
            if !unlisted.iter().any(same) {
                unlisted.push(one);
            }
        }
        record.unlisted = unlisted;
        notes.append(&mut record.notes);
        record.notes = notes;
        self.sessions.push(session);
        record
    }

    /// One item more: gives its place in its list. `places` tells where the parts of its record stand.
    fn item(&mut self, mut item: Item, places: &[usize], adding: &Adding<'_>) -> usize {
        let path = item.path(self.vocabulary);
        if let Some(members) = &mut item.members {
            for member in members.roles.iter_mut().flatten() {
                *member = Member {
                    item: places.get(member.item).copied().unwrap_or(0),
                    span: member.span,
                };
            }
        }
        let group = item.members.is_some();
        let (list, known) = match group {
            true => (&mut self.groups, &mut self.group_places),
            false => (&mut self.items, &mut self.places),
        };
        let place = *known.entry(path).or_insert(list.len());
        if list.len() == place {
            list.push(Known::empty(&item));
        }
        if let Some(known) = list.get_mut(place) {
            let measured = known.add(item, adding);
            if measured && !group {
                self.measured.insert((place, adding.number));
            }
        }
        place
    }

    /// The air, where all sessions agree of which something counts.
    fn air(&self) -> Option<Air> {
        let from = self.items.iter().flat_map(|known| &known.from);
        let counting: BTreeSet<usize> = from.flatten().map(|(number, _)| *number).collect();
        let mut airs = counting.into_iter().map(|number| {
            let session = self.sessions.get(number);
            session.and_then(|session| session.temperature.clone())
        });
        let first = airs.next()??;
        let same = |air: Option<Air>| air.is_some_and(|air| air.0 == first.0);
        airs.all(same).then_some(first)
    }
}

/// A temperature with the unit that it is told in.
type Air = (Exact, Unit);

/// What is added, and when.
struct Adding<'s> {
    session: &'s Session,
    /// Where its instruments stand among all.
    slots: Vec<usize>,
    number: usize,
    day: Date,
}

impl Known {
    /// The same item without anything that is said of it.
    fn empty(item: &Item) -> Known {
        let empty = Item {
            holding: item.holding,
            part: item.part,
            id: item.id.clone(),
            span: item.span,
            traits: vec![None; item.traits.len()],
            measures: vec![None; item.measures.len()],
            work: Vec::new(),
            notes: Vec::new(),
            members: item.members.clone(),
        };
        Known {
            from: vec![None; item.measures.len()],
            item: empty,
            same_day: false,
        }
    }

    /// What a later record says of it; tells whether anything was measured.
    fn add(&mut self, later: Item, adding: &Adding<'_>) -> bool {
        self.item.span = later.span;
        for (own, claim) in self.item.traits.iter_mut().zip(later.traits) {
            let claim: Option<TraitClaim> = claim;
            *own = claim.or_else(|| own.take());
        }
        for work in later.work {
            let same = |other: &Work| other.day == work.day && other.did == work.did;
            if !self.item.work.iter().any(same) {
                self.item.work.push(work);
            }
        }
        self.item.notes.extend(later.notes);
        // A group counts as last put together, whole: a part fills one role of it at a time.
        if let Some(members) = later.members
            && members.roles.iter().any(Option::is_some)
        {
            self.item.members = Some(members);
        }
        let mut any = false;
        let slots = self.item.measures.iter_mut().zip(&mut self.from);
        for ((own, from), measured) in slots.zip(later.measures) {
            let Some(measured) = measured else {
                continue;
            };
            any = true;
            let day = day_of(&measured, adding.session).unwrap_or(adding.day);
            match from {
                Some((_, known)) if *known > day => continue,
                Some((_, known)) => self.same_day |= *known == day,
                None => {}
            }
            *from = Some((adding.number, day));
            *own = Some(settled(measured, adding));
        }
        any
    }
}

/// The place of an instrument among those of all records. One that is declared alike is the same one: what it shows wrong
/// is the same in all that was read with it.
fn slot_of(all: &mut Vec<Instrument>, one: Instrument) -> usize {
    let same = |other: &Instrument| {
        let calibration = |of: &Instrument| {
            let of = of.calibration.as_ref()?;
            let u = of.expanded_uncertainty.clone();
            Some((of.day, of.due, of.correction.clone(), u, of.k.clone()))
        };
        let check = |of: &FieldCheck| {
            let numbers = [&of.reference, &of.reading, &of.accept_within].map(Clone::clone);
            (of.taken, numbers)
        };
        let checks = |of: &Instrument| of.checks.iter().map(check).collect::<Vec<_>>();
        let figures = |of: &Instrument| {
            [&of.resolution, &of.max_permissible_error, &of.repeatability].map(Clone::clone)
        };
        let words = |of: &Instrument| {
            (
                of.key.clone(),
                of.kind.clone(),
                of.serial.clone(),
                of.study.clone(),
            )
        };
        words(other) == words(&one)
            && figures(other) == figures(&one)
            && calibration(other) == calibration(&one)
            && checks(other) == checks(&one)
    };
    match all.iter().position(same) {
        Some(known) => known,
        None => {
            all.push(one);
            all.len() - 1
        }
    }
}

/// The last day on which anything of it was read. A first value is as old as the record that tells it.
fn day_of(measured: &Measured, session: &Session) -> Option<Date> {
    match &measured.found {
        Found::Answer(answer) => answer.day.or(session.day),
        Found::First(_) => session.day,
        Found::Series(series) => {
            let days = series.iter();
            let days = days.filter_map(|one| one.taken.map(|time| time.date).or(session.day));
            days.max()
        }
    }
}

/// The same with all that its session says of it, so that it can stand beside those of other sessions.
fn settled(mut measured: Measured, adding: &Adding<'_>) -> Measured {
    let session = adding.session;
    match &mut measured.found {
        Found::First(_) => {}
        Found::Answer(answer) => {
            answer.day = answer.day.or(session.day);
            answer.by = answer.by.take().or_else(|| session.by.clone());
        }
        Found::Series(series) => {
            for one in series {
                one.taken = one.taken.or(session.day.map(DateTime::day));
                one.by = one.by.take().or_else(|| session.by.clone());
                if let With::Instrument(slot) = &mut one.with {
                    *slot = adding.slots.get(*slot).copied().unwrap_or(usize::MAX);
                }
            }
        }
    }
    measured
}

impl ReadBoat {
    /// Which record something comes from, by where it stands in the text; nothing where the boat has one record.
    pub fn origin(&self, span: Span) -> Option<&Origin> {
        let start = span.range().start;
        let mut origins = self.origins.iter();
        origins
            .find(|origin| origin.range.contains(&start))
            .or_else(|| self.origins.last())
    }
}

/// A document behind so many bytes of others: no two records of a boat have a byte in common.
pub fn behind(name: &str, text: &str, before: usize) -> Arc<Source> {
    Source::new(name, format!("{}{text}", "\n".repeat(before)))
}
