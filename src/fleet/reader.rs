//! Records of a fleet, read for one version of the rules or two.
//!
//! A record is read once for both where they speak of the same things, and where the newer one knows all that the older one
//! asks for. Else it is read for each, and what only the other version knows is passed over; a name of the other version is
//! read as what it is here.

use std::ops::Range;
use std::sync::Arc;

use super::together::Origin;
use super::under::{Passed, under};
use super::words::{tree_of, unused};
use crate::diagnostic::Diagnostic;
use crate::prove::{Common, CommonKind, Side};
use crate::quantity::Date;
use crate::record::{Beside, Loader, PlainLoader, Record, Slot, Under, day_of_check};
use crate::rules::RulesFile;
use crate::text::{Entry, Node, Source, Value, parse_json_line, parse_yaml};
use crate::vocabulary::{MeasureId, PartId};

/// What a record is read for.
pub struct Reader<'r> {
    class: &'r str,
    /// The version by which records are read that are good under both.
    pub(super) newer: Loader<'r>,
    /// The other version, where it speaks of other things.
    pub(super) older: Option<Loader<'r>>,
    /// How the other version sees what was read for the newer one, where that tells all of it.
    pub(super) seen: Option<Under<'r>>,
    on: Option<Date>,
    not_before: Option<Date>,
}

/// A record as it was read.
#[derive(Debug)]
pub struct ReadBoat {
    /// For the newer version, or for both.
    pub newer: Record,
    /// For the older version, where it had to be read apart.
    pub older: Option<Record>,
    /// The day of the check.
    pub day: Date,
    /// The day of measuring; that of the check where none is said. Of several records the last.
    pub measured: Date,
    /// Of a boat that was put together from several records: what comes from where.
    pub origins: Vec<Origin>,
}

impl ReadBoat {
    /// The record for the older version.
    pub fn older(&self) -> &Record {
        self.older.as_ref().unwrap_or(&self.newer)
    }
}

/// Where the text of a record stands.
#[derive(Clone, Debug)]
pub enum Piece {
    /// A line of JSON.
    Line(Range<usize>),
    /// A whole document in YAML.
    Document,
}

/// On which days records are checked.
#[derive(Clone, Copy, Debug, Default)]
pub struct Days {
    /// The same day for all.
    pub on: Option<Date>,
    /// Else the day of measuring, and not before this one.
    pub not_before: Option<Date>,
}

impl<'r> Reader<'r> {
    /// Reads for one rule of one version.
    pub fn of_one(rules: &'r RulesFile, rule: &str, days: Days) -> Reader<'r> {
        // A record is refused for what the rule asks for, and for nothing else.
        let unused = unused(rules, |id| id == rule, false);
        let beside = Beside {
            unused: unused.measures,
            unused_traits: unused.traits,
            unknown: true,
            ..Beside::default()
        };
        Reader {
            class: &rules.class.text,
            newer: Loader::with(&rules.vocabulary, beside),
            older: None,
            seen: None,
            on: days.on,
            not_before: days.not_before,
        }
    }

    /// Reads for two versions of one class, of which the older one is asked for these of its rules, for its marks and for
    /// what is asked beside; the newer one for everything.
    pub fn of_two(common: &Common<'r>, days: Days, of_old: &[&str]) -> Reader<'r> {
        let same = same_vocabulary(common.old, common.new);
        // A record is refused for what the rules ask for, and for nothing else.
        let by_old = unused(common.old, |id| of_old.contains(&id), true).measures;
        let mut by_new = unused(common.new, |_| true, true).measures;
        // What the older one looks at is read for both.
        for part in &common.parts {
            for one in &part.measures {
                let place = |side: Side| Some((part.at.at(side)?, one.at.at(side)?));
                if let (Some(old), Some(new)) = (place(Side::Old), place(Side::New))
                    && !by_old.contains(&old)
                {
                    by_new.retain(|passed| *passed != new);
                }
            }
        }
        let seen = (!same).then(|| {
            let passed = Passed {
                old: &by_old,
                new: &by_new,
            };
            under(common, &passed)
        });
        let loader = |side: Side, unused: Vec<(PartId, MeasureId)>| {
            let own = match side {
                Side::Old => common.old,
                Side::New => common.new,
            };
            let beside = if same {
                Beside::default()
            } else {
                beside(common, side)
            };
            Loader::with(
                &own.vocabulary,
                Beside {
                    unused,
                    unknown: true,
                    ..beside
                },
            )
        };
        Reader {
            class: &common.new.class.text,
            newer: loader(Side::New, by_new),
            older: (!same).then(|| loader(Side::Old, by_old)),
            seen: seen.flatten(),
            on: days.on,
            not_before: days.not_before,
        }
    }

    /// What reads lines of plain values for both versions at once, where anything does.
    pub fn plain(&self) -> Option<PlainLoader<'r>> {
        PlainLoader::of(self.class, &self.newer, self.older.as_ref())
    }

    /// The record at a place, or what is wrong with it.
    ///
    /// # Errors
    /// What is wrong with it: its form, its class, no day, something that neither version knows.
    pub fn read(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>> {
        if let Piece::Line(range) = piece
            && let Some(read) = self.quickly(source, range)
        {
            return Ok(read);
        }
        self.slowly(source, piece)
    }

    fn quickly(&self, source: &Arc<Source>, range: &Range<usize>) -> Option<ReadBoat> {
        let read = self.newer.quick(source, range.clone())?;
        if read.class != self.class {
            return None;
        }
        let newer = read.record;
        let older = match (&self.seen, &self.older) {
            (Some(seen), _) => Some(seen.see(&newer)),
            (None, None) => None,
            (None, Some(loader)) => Some(loader.quick(source, range.clone())?.record),
        };
        let day = self.day(newer.measured.day)?;
        let measured = newer.measured.day.unwrap_or(day);
        Some(ReadBoat {
            newer,
            older,
            day,
            measured,
            origins: Vec::new(),
        })
    }

    fn day(&self, measured: Option<Date>) -> Option<Date> {
        self.on
            .or_else(|| Some(measured?.max(self.not_before.unwrap_or(measured?))))
    }

    #[cold]
    fn slowly(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>> {
        let parsed = match piece {
            Piece::Line(range) => parse_json_line(source, range.clone()),
            Piece::Document => parse_yaml(source),
        };
        let node = parsed.map_err(|problems| Diagnostic::from_problems(problems, source))?;
        let day = day_of_check(source, &node, self.class, |measured| self.day(measured))?;
        let newer = self.newer.load(source, &node)?;
        let older = match (&self.seen, &self.older) {
            (Some(seen), _) => Some(seen.see(&newer)),
            (None, None) => None,
            (None, Some(loader)) => Some(loader.load(source, &node)?),
        };
        let measured = newer.measured.day.unwrap_or(day);
        Ok(ReadBoat {
            newer,
            older,
            day,
            measured,
            origins: Vec::new(),
        })
    }
}

/// What a version may meet in records that were written for the other one.
fn beside<'r>(common: &Common<'r>, side: Side) -> Beside<'r> {
    let vocabulary = |of: Side| match of {
        Side::Old => &common.old.vocabulary,
        Side::New => &common.new.vocabulary,
    };
    let other = side.other();
    let theirs = vocabulary(other);
    let mut found = Beside::default();
    for holding in &common.holdings {
        if let Some(name) = holding.at.at(other).and_then(|id| theirs.holding(id)) {
            found.top.push((&name.key.text, holding.at.at(side)));
        }
    }
    for part in &common.parts {
        let (Some(here), Some(there)) = (part.at.at(side), part.at.at(other)) else {
            continue;
        };
        let Some(their_part) = theirs.part(there) else {
            continue;
        };
        for one in &part.traits {
            let Some(their_trait) = one
                .at
                .at(other)
                .and_then(|id| their_part.traits.get(id.index()))
            else {
                continue;
            };
            let slot = one.at.at(side);
            found
                .items
                .push((here, &their_trait.name.text, slot.map(Slot::Trait)));
            let (Some(slot), CommonKind::Choice(choices) | CommonKind::AnyOf(choices)) =
                (slot, &one.kind)
            else {
                continue;
            };
            for choice in choices {
                let word = choice
                    .at
                    .at(other)
                    .and_then(|id| their_trait.kind.names().get(id.index()));
                if let Some(word) = word {
                    found
                        .choices
                        .push((here, slot, &word.text, choice.at.at(side)));
                }
            }
        }
        for one in &part.measures {
            if let Some(measure) = one
                .at
                .at(other)
                .and_then(|id| their_part.measures.get(id.index()))
            {
                found
                    .items
                    .push((here, &measure.name.text, one.at.at(side).map(Slot::Measure)));
            }
        }
    }
    found
}

/// Whether two versions speak of the same things under the same names, by what is written.
pub fn same_vocabulary(old: &RulesFile, new: &RulesFile) -> bool {
    let (was, is) = (tree_of(old), tree_of(new));
    same_sections(was.as_ref(), is.as_ref(), tells_vocabulary)
}

/// Whether a section of a rules file tells what a record can say.
pub fn tells_vocabulary(key: &str) -> bool {
    matches!(key, "equipment" | "event" | "renamed")
}

/// Whether two versions have the same in the sections that are asked for, whatever their layout. Those without a tree have
/// nothing in common.
pub fn same_sections(
    was: Option<&Node<'_>>,
    is: Option<&Node<'_>>,
    asked: impl Fn(&str) -> bool,
) -> bool {
    let both = was
        .and_then(Node::as_mapping)
        .zip(is.and_then(Node::as_mapping));
    both.is_some_and(|(was, is)| same_entries(was, is, |entry| asked(&entry.key)))
}

/// Whether two mappings have the same in the entries that count.
pub fn same_entries(
    was: &[Entry<'_>],
    is: &[Entry<'_>],
    counts: impl Fn(&Entry<'_>) -> bool,
) -> bool {
    let covered = |one: &[Entry<'_>], other: &[Entry<'_>]| {
        one.iter().filter(|entry| counts(entry)).all(|entry| {
            let same = other.iter().find(|other| other.key == entry.key);
            same.is_some_and(|same| same_tree(&entry.node, &same.node))
        })
    };
    covered(was, is) && covered(is, was)
}

/// Whether two trees say the same, wherever they stand and however they are laid out.
pub fn same_tree(one: &Node<'_>, other: &Node<'_>) -> bool {
    match (&one.value, &other.value) {
        (Value::Null, Value::Null) => true,
        (Value::Scalar(one), Value::Scalar(other)) => one == other,
        (Value::Sequence(one), Value::Sequence(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .zip(other)
                    .all(|(one, other)| same_tree(one, other))
        }
        (Value::Mapping(one), Value::Mapping(other)) => {
            let pairs = one.iter().zip(other);
            one.len() == other.len()
                && pairs
                    .into_iter()
                    .all(|(one, other)| one.key == other.key && same_tree(&one.node, &other.node))
        }
        (Value::Null | Value::Scalar(_) | Value::Sequence(_) | Value::Mapping(_), _) => false,
    }
}
