//! Boats met in one run, so that two with one sail number are told.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, DefaultHasher, Hash, Hasher};

use jiff::civil::Date;

use crate::record::Record;

/// Where a boat was met. Small on purpose: a fleet has hundreds of thousands.
#[derive(Clone, Copy, Debug)]
struct Met {
    /// More of the hash of the sail number, so that two numbers are never taken for one (96 bits in all).
    check: u32,
    /// A hash of the boat's name; 0 for none.
    name: u32,
    /// The file, by its place in the list.
    file: u32,
    line: u32,
    column: u32,
    day: Option<Date>,
}

/// The boats met so far: about 60 bytes for each.
#[derive(Debug, Default)]
pub(super) struct Boats {
    met: HashMap<u64, Met, BuildHasherDefault<DefaultHasher>>,
    files: Vec<String>,
}

/// A boat as it is met.
#[derive(Clone, Debug)]
pub(super) struct Sighting {
    key: u64,
    check: u32,
    name: u32,
    day: Option<Date>,
    line: u32,
    column: u32,
}

impl Sighting {
    /// The boat of a record.
    pub(super) fn of(record: &Record, class: &str) -> Sighting {
        let number: Vec<&str> = record.sail_number.split_whitespace().collect();
        let number = number.join(" ");
        let at = record.source.line_column(record.sail_number_span.start);
        Sighting {
            key: hash(&[class, &number]),
            check: low(hash(&["check", class, &number])),
            name: record
                .boat_name
                .as_deref()
                .map_or(0, |name| low(hash(&[name])).max(1)),
            day: record.measured.day,
            line: at.line,
            column: at.column,
        }
    }
}

impl Boats {
    /// Meets a boat; gives the place of another one with its sail number. The same boat, known by its name,
    /// measured on another day is no other one.
    pub(super) fn meet(&mut self, boat: &Sighting, file: &str) -> Option<String> {
        if self.files.last().map(String::as_str) != Some(file) {
            self.files.push(file.to_owned());
        }
        let file = u32::try_from(self.files.len() - 1).unwrap_or(u32::MAX);
        let met = Met {
            check: boat.check,
            name: boat.name,
            file,
            line: boat.line,
            column: boat.column,
            day: boat.day,
        };
        let first = self
            .met
            .insert(boat.key, met)
            .filter(|first| first.check == boat.check)?;
        // The first place is kept, so that every further boat is told against the same one.
        self.met.insert(boat.key, first);
        let again = first.name != 0 && first.name == boat.name && first.day != boat.day;
        if again {
            return None;
        }
        let name = usize::try_from(first.file)
            .ok()
            .and_then(|at| self.files.get(at));
        Some(format!(
            "{}:{}:{}",
            name.map_or("", String::as_str),
            first.line,
            first.column
        ))
    }
}

fn hash(texts: &[&str]) -> u64 {
    let mut hasher = DefaultHasher::new();
    texts.hash(&mut hasher);
    hasher.finish()
}

fn low(hash: u64) -> u32 {
    u32::try_from(hash & u64::from(u32::MAX)).unwrap_or(u32::MAX)
}
