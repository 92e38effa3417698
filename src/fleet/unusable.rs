//! Records of a fleet that can't be used: how many, why, and where the first of them are.

use std::collections::BTreeMap;

use crate::diagnostic::Diagnostic;

/// Records of which the place is kept.
const PLACES: usize = 1000;

/// Why a record can't be used, told apart as whoever mends it needs it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unusable {
    /// The file could not be read.
    NotRead,
    /// What is written is no record: broken text, another format.
    NoRecord,
    /// A record of another class.
    OtherClass,
    /// No day of measuring, and no day was asked for.
    NoDay,
    /// Something in it that the rules ask for can't be read.
    Faulty,
}

impl Unusable {
    /// All of them.
    pub const ALL: [Unusable; 5] = [
        Unusable::NotRead,
        Unusable::NoRecord,
        Unusable::OtherClass,
        Unusable::NoDay,
        Unusable::Faulty,
    ];

    /// Why, by the code of the first thing that is wrong.
    fn of(code: &str) -> Unusable {
        match code {
            "record.other_class" => Unusable::OtherClass,
            "record.no_day" => Unusable::NoDay,
            _ if code.starts_with("path.") => Unusable::NotRead,
            _ if code.starts_with("text.") || code.starts_with("file.") => Unusable::NoRecord,
            _ => Unusable::Faulty,
        }
    }

    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Unusable::NotRead => "not_read",
            Unusable::NoRecord => "no_record",
            Unusable::OtherClass => "other_class",
            Unusable::NoDay => "no_day",
            Unusable::Faulty => "faulty",
        }
    }
}

/// A record that can't be used, by the first thing that is wrong with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnusableRecord {
    /// The file.
    pub file: String,
    /// The line in it; 0 where the file as a whole could not be read.
    pub line: u32,
    /// The column, counted in characters from 1, where one is known.
    pub column: Option<u32>,
    /// Why.
    pub why: Unusable,
    /// The code of the first message.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What would be accepted.
    pub help: Option<String>,
    /// How many things are wrong with it.
    pub faults: u64,
}

/// Records that can't be used.
#[derive(Clone, Debug, Default)]
pub struct UnusableRecords {
    /// How many, by why.
    pub by: BTreeMap<Unusable, u64>,
    /// The first of them, in the order of the files.
    pub first: Vec<UnusableRecord>,
}

impl UnusableRecords {
    /// One more, at a file and line, with all that is wrong.
    pub fn add(&mut self, file: &str, line: u32, found: &[Diagnostic]) {
        let Some(first) = found.first() else {
            return;
        };
        let why = Unusable::of(first.code);
        *self.by.entry(why).or_default() += 1;
        if self.first.len() >= PLACES {
            return;
        }
        let place = first.labels.first().map(|label| label.place());
        // A record in a file of its own begins at line 1, and what is wrong stands somewhere in it.
        let place =
            place.filter(|place| place.file == file && (line <= 1 || place.start.line == line));
        let start = place.map(|place| place.start).filter(|_| line > 0);
        self.first.push(UnusableRecord {
            file: file.to_owned(),
            line: start.map_or(line, |start| start.line),
            column: start.map(|start| start.column),
            why,
            code: first.code,
            message: first.message.clone(),
            help: first.help.clone(),
            faults: u64::try_from(found.len()).unwrap_or(u64::MAX),
        });
    }

    /// How many.
    pub fn count(&self) -> u64 {
        self.by.values().sum()
    }
}
