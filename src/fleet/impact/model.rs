//! What a change of rules does to a fleet, as numbers; words are made by the printers.

use std::collections::BTreeMap;

use crate::check::{Finding, Outcome, Reason, RowRef};
use crate::fleet::UnusableRecords;
use crate::quantity::{Date, Exact, Number, Unit};
use crate::rules::BoundKind;

/// Where a boat, an item or a rule stands under one version, worst first. What does not apply, and what nothing was asked
/// of, counts as conforming, as in `Out` of the comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stand {
    /// Something is not met.
    DoesNotConform,
    /// Nothing is known to be broken, and something is open.
    NotDecided,
    /// All that is asked is met.
    Conforms,
}

impl Stand {
    /// All of them, worst first.
    pub const ALL: [Stand; 3] = [Stand::DoesNotConform, Stand::NotDecided, Stand::Conforms];

    /// Where an outcome stands.
    pub fn of(outcome: Outcome) -> Stand {
        match outcome {
            Outcome::DoesNotConform => Stand::DoesNotConform,
            Outcome::NotDecided => Stand::NotDecided,
            Outcome::Conforms | Outcome::NotApplicable => Stand::Conforms,
        }
    }

    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Stand::DoesNotConform => "does_not_conform",
            Stand::NotDecided => "not_decided",
            Stand::Conforms => "conforms",
        }
    }

    /// The words for people.
    pub fn words(self) -> &'static str {
        match self {
            Stand::DoesNotConform => "does not conform",
            Stand::NotDecided => "not decided",
            Stand::Conforms => "conforms",
        }
    }

    pub(super) fn index(self) -> usize {
        match self {
            Stand::DoesNotConform => 0,
            Stand::NotDecided => 1,
            Stand::Conforms => 2,
        }
    }
}

/// How many stand where under the old version and where under the new one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moves([[u64; 3]; 3]);

impl Moves {
    /// One more.
    pub fn add(&mut self, old: Stand, new: Stand) {
        if let Some(count) = self
            .0
            .get_mut(old.index())
            .and_then(|row| row.get_mut(new.index()))
        {
            *count += 1;
        }
    }

    /// All of another one as well.
    pub fn merge(&mut self, other: &Moves) {
        for (own, more) in self.0.iter_mut().flatten().zip(other.0.iter().flatten()) {
            *own += more;
        }
    }

    /// How many went from one to another.
    pub fn count(&self, old: Stand, new: Stand) -> u64 {
        self.0
            .get(old.index())
            .and_then(|row| row.get(new.index()))
            .copied()
            .unwrap_or(0)
    }

    /// How many conformed and do not any more.
    pub fn newly_illegal(&self) -> u64 {
        self.count(Stand::Conforms, Stand::DoesNotConform)
    }

    /// How many did not conform and do now.
    pub fn newly_legal(&self) -> u64 {
        self.count(Stand::DoesNotConform, Stand::Conforms)
    }

    /// All.
    pub fn total(&self) -> u64 {
        self.0.iter().flatten().sum()
    }

    /// How many stand elsewhere than before.
    pub fn moved(&self) -> u64 {
        let same = Stand::ALL.into_iter().map(|stand| self.count(stand, stand));
        self.total() - same.sum::<u64>()
    }
}

/// What a change does to a fleet.
#[derive(Clone, Debug, Default)]
pub struct Impact {
    /// What was looked at.
    pub sample: Sample,
    /// Boats by their worst item.
    pub boats: Moves,
    /// Items, the boat itself among them.
    pub items: Moves,
    /// Items by kind of part, in the order of the new vocabulary, then what only the old one has.
    pub parts: Vec<(String, Moves)>,
    /// Rules that differ or by which anything moved, in the order of the new file, then what only the old one has.
    pub rules: Vec<RuleImpact>,
    /// Items with a value within its expanded uncertainty of a limit that is new, inside or outside.
    pub within_uncertainty: u64,
    /// Items of which something that a changed rule asks for was never measured: never taken for complying.
    pub never_measured: u64,
    /// Items by year of build; nothing for those of no known year. Empty where no part has a date.
    pub years: Vec<(Option<i16>, Moves)>,
}

/// What was looked at.
#[derive(Clone, Debug, Default)]
pub struct Sample {
    /// Records that were used.
    pub records: u64,
    /// Boats: records of one sail number are one boat.
    pub boats: u64,
    /// Items by kind of part, the boat itself first.
    pub items: Vec<(String, u64)>,
    /// Boats that were put together from several records.
    pub put_together: u64,
    /// Items as a record measured them, all of whose measures a later record of the boat measured again: left out.
    pub superseded: u64,
    /// Records that are the same as another one of their boat: they count once.
    pub copies: u64,
    /// Boats with several records.
    pub several: Vec<Several>,
    /// Records that can't be used.
    pub broken: u64,
    /// Why they can't, and where they are.
    pub unusable: UnusableRecords,
    /// Records that use names of an older version.
    pub old_names: u64,
    /// What records say that the rules do not know.
    pub left_out: LeftOut,
    /// First and last day on which anything was measured.
    pub measured: Option<(Date, Date)>,
    /// Records that were measured after the day of the check.
    pub measured_later: u64,
    /// The day of the check where it is the same for all; else each boat's day of measuring, and not before the later
    /// version is in force.
    pub on: Option<Date>,
    /// The earliest day of a check.
    pub not_before: Option<Date>,
}

impl Sample {
    /// All of another one as well.
    pub fn merge(&mut self, other: Sample) {
        self.records += other.records;
        self.boats += other.boats;
        self.put_together += other.put_together;
        self.superseded += other.superseded;
        self.copies += other.copies;
        self.broken += other.broken;
        self.old_names += other.old_names;
        self.measured_later += other.measured_later;
        self.left_out.merge(other.left_out);
        self.several.extend(other.several);
        self.measured = match (self.measured, other.measured) {
            (Some((first, last)), Some((from, to))) => Some((first.min(from), last.max(to))),
            (own, None) => own,
            (None, theirs) => theirs,
        };
    }

    /// One more record, by the days of measuring and of the check, and whether it uses names of an older version.
    pub fn record(&mut self, (day, checked): (Date, Date), old_names: bool) {
        self.records += 1;
        self.measured_later += u64::from(day > checked);
        self.old_names += u64::from(old_names);
        self.measured = Some(match self.measured {
            None => (day, day),
            Some((first, last)) => (first.min(day), last.max(day)),
        });
    }
}

/// Keys of records that the rules do not know: names of another version, perhaps. They are left out, and counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// Records with such a key.
    pub records: u64,
    /// Records by key: of many keys the first in the order of the alphabet.
    pub keys: BTreeMap<String, u64>,
}

impl LeftOut {
    /// Keys that are kept.
    pub const MOST: usize = 50;

    /// One more record that says this.
    pub fn add(&mut self, keys: &[String]) {
        if keys.is_empty() {
            return;
        }
        self.records += 1;
        for key in keys {
            *self.keys.entry(key.clone()).or_default() += 1;
        }
        self.cut();
    }

    fn merge(&mut self, other: LeftOut) {
        self.records += other.records;
        for (key, count) in other.keys {
            *self.keys.entry(key).or_default() += count;
        }
        self.cut();
    }

    /// What is among the first of all is among the first of any share of them, so that no order of adding shows.
    fn cut(&mut self) {
        while self.keys.len() > LeftOut::MOST {
            self.keys.pop_last();
        }
    }
}

/// A boat with several records.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Several {
    /// The sail number as first written.
    pub sail_number: String,
    /// Its records in the order of the files: file, line, day.
    pub records: Vec<(String, u32, Date)>,
    /// Items of which two records measure the same on one day: the later in the files counts.
    pub same_day: u64,
    /// Records that are the same as another one of these.
    pub copies: u64,
}

/// What a change does by one rule.
#[derive(Clone, Debug)]
pub struct RuleImpact {
    /// Its id; `equipment` and `silence` for what no rule says.
    pub rule: String,
    /// Clause number in the newer file that has it.
    pub clause: String,
    /// Its title there.
    pub title: String,
    /// The kind of part it is about.
    pub part: String,
    /// Whether the old version has it, and whether the new one does.
    pub in_versions: (bool, bool),
    /// Items by what this rule says of them.
    pub moves: Moves,
    /// Items left open by it under the new version, by reason, the most frequent first; without those that are open within
    /// their uncertainty of a limit that is not new to them.
    pub open: Vec<(Reason, u64)>,
    /// Those: no change of this rule brought them near.
    pub open_as_before: u64,
    /// Items of which it asks something that was never measured.
    pub never_measured: u64,
    /// Items within their expanded uncertainty of a limit of it that they did not meet before: it is new, it moved, or its
    /// row or its condition reaches them only now.
    pub within_uncertainty: u64,
    /// Items that conformed or were open and do not conform now, with no distance to a limit that is told below: the first in
    /// the order of the files.
    pub others: Vec<OtherCase>,
    /// Items that conformed and are open now, for another reason than that they lie near a limit or were never measured: the
    /// first in the order of the files.
    pub opened: Vec<OtherCase>,
    /// Its limits on numbers under the new version, one for each row and bound that any item met.
    pub limits: Vec<LimitImpact>,
}

/// How values lie to one limit of the new version.
#[derive(Clone, Debug)]
pub struct LimitImpact {
    /// Which row.
    pub row: RowRef,
    /// Its name: `insert`; nothing where there is a single row.
    pub row_name: Option<String>,
    /// Which bound.
    pub kind: BoundKind,
    /// The unit to show numbers in.
    pub unit: Unit,
    /// Decimals to show a limit with.
    pub decimals: Option<u8>,
    /// The limit of the old version for the same row, base units; nothing where it had none or computes it.
    pub old: Option<Exact>,
    /// The unit and the decimals that the old limit is written with.
    pub old_written: Option<(Unit, Option<u8>)>,
    /// The old limit and the new one as the files have them.
    pub texts: (Option<LimitText>, Option<LimitText>),
    /// The limit of the new version, base units; nothing where it is computed.
    pub new: Option<Exact>,
    /// Items by their signed distance inside the new limit.
    pub margins: Histogram,
    /// The mean expanded uncertainty of the values near the limit, base units; nothing where none is near.
    pub typical_u: Option<f64>,
    /// The worst that conformed before, or were open, and do not conform now; the worst first.
    pub worst: Vec<Case>,
}

/// A limit as its file has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LimitText {
    /// The limit: `3/8 in`.
    pub text: String,
    /// The step that values are rounded to before they are compared: `1/64 in`.
    pub rounded_to: Option<String>,
}

/// Counts in bins of one width.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histogram {
    /// The width of a bin, base units; 0 where there are no bins.
    pub width: f64,
    /// The number of the first bin: it begins at `first * width`, so that 0, the limit, is always a border.
    pub first: i64,
    /// How many are in each bin.
    pub counts: Vec<u64>,
    /// How many lie below the first bin, and how many beyond the last one.
    pub beyond: (u64, u64),
}

impl Histogram {
    /// How many there are.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum::<u64>() + self.beyond.0 + self.beyond.1
    }
}

/// One item with what the new version finds of it.
#[derive(Clone, Debug)]
pub struct OtherCase {
    /// The boat. Printers hide it unless asked.
    pub sail_number: String,
    /// File and line of the record. Printers hide them unless asked.
    pub at: (String, u32),
    /// The item as a path: `runners/S1`. Printers hide it unless asked.
    pub item: String,
    /// The day on which it was measured.
    pub day: Date,
    /// Where it stood under the old version.
    pub before: Stand,
    /// What the new version finds: what was read, what it accepts, and why.
    pub finding: Box<Finding>,
}

/// One item at a limit.
#[derive(Clone, Debug)]
pub struct Case {
    /// The boat. Printers hide it unless asked.
    pub sail_number: String,
    /// File and line of the record. Printers hide them unless asked.
    pub at: (String, u32),
    /// The item as a path: `runners/S1`. Printers hide it unless asked.
    pub item: String,
    /// The day on which it was measured.
    pub day: Date,
    /// Where it stood under the old version.
    pub before: Stand,
    /// The value, base units.
    pub value: Number,
    /// Decimals to show it with when exact.
    pub decimals: Option<u8>,
    /// Its expanded uncertainty, base units.
    pub u: Option<f64>,
    /// Signed distance inside the new limit, base units.
    pub margin: Number,
}
