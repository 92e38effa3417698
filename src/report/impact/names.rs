//! Who is named, and how: as they are, or by numbers in the order in which they are told.

use std::collections::BTreeMap;

use crate::fleet::impact::{Case, Impact, Sample};

use super::super::words::plain_name;

/// What boats and items are called in one report.
pub(in crate::report) struct Names {
    shown: bool,
    boats: BTreeMap<String, usize>,
    /// By boat and path.
    items: BTreeMap<(usize, String), usize>,
    /// How many items of a boat have a number.
    counts: BTreeMap<usize, usize>,
}

impl Names {
    /// Names of all that a report tells of, in its order: cases rule by rule, then boats with several records.
    pub(super) fn of(impact: &Impact, shown: bool) -> Names {
        let mut names = Names {
            shown,
            boats: BTreeMap::new(),
            items: BTreeMap::new(),
            counts: BTreeMap::new(),
        };
        let limits = impact.rules.iter().flat_map(|rule| &rule.limits);
        for case in limits.flat_map(|limit| &limit.worst) {
            let boat = names.add(&case.sail_number);
            let count = names.counts.entry(boat).or_default();
            names
                .items
                .entry((boat, case.item.clone()))
                .or_insert_with(|| {
                    *count += 1;
                    *count
                });
        }
        names.add_several(&impact.sample);
        names
    }

    /// Names of the boats that have several records.
    pub(in crate::report) fn of_sample(sample: &Sample, shown: bool) -> Names {
        let mut names = Names {
            shown,
            boats: BTreeMap::new(),
            items: BTreeMap::new(),
            counts: BTreeMap::new(),
        };
        names.add_several(sample);
        names
    }

    fn add_several(&mut self, sample: &Sample) {
        for several in &sample.several {
            self.add(&several.sail_number);
        }
    }

    fn add(&mut self, sail_number: &str) -> usize {
        let next = self.boats.len() + 1;
        *self.boats.entry(bare(sail_number)).or_insert(next)
    }

    /// Whether names are shown as they are.
    pub(super) fn shown(&self) -> bool {
        self.shown
    }

    /// A boat: `boat 1`, or its sail number.
    pub(super) fn boat(&self, sail_number: &str) -> String {
        if self.shown {
            return sail_number.to_owned();
        }
        format!("boat {}", self.number(sail_number))
    }

    fn number(&self, sail_number: &str) -> usize {
        self.boats.get(&bare(sail_number)).copied().unwrap_or(0)
    }

    /// An item without its boat: `runner 2`, or its path; nothing for the boat itself, which has no other name. `part` is
    /// the kind of part.
    pub(super) fn item(&self, case: &Case, part: &str) -> Option<String> {
        if case.item == "boat" {
            return None;
        }
        if self.shown {
            return Some(case.item.clone());
        }
        let key = (self.number(&case.sail_number), case.item.clone());
        let number = self.items.get(&key).copied().unwrap_or(0);
        Some(format!("{} {number}", plain_name(part)))
    }

    /// An item with its boat: `boat 1, runner 2`.
    pub(super) fn case(&self, case: &Case, part: &str) -> String {
        let boat = self.boat(&case.sail_number);
        match self.item(case, part) {
            Some(item) => format!("{boat}, {item}"),
            None => boat,
        }
    }
}

/// A sail number whatever its blanks.
fn bare(sail_number: &str) -> String {
    sail_number.split_whitespace().collect::<Vec<_>>().join(" ")
}
