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
        for rule in &impact.rules {
            for case in rule.limits.iter().flat_map(|limit| &limit.worst) {
                names.add_item(&case.sail_number, &case.item);
            }
            for case in rule.others.iter().chain(&rule.opened) {
                names.add_item(&case.sail_number, &case.item);
            }
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

    fn add_item(&mut self, sail_number: &str, item: &str) {
        let boat = self.add(sail_number);
        let count = self.counts.entry(boat).or_default();
        let number = self.items.entry((boat, item.to_owned()));
        number.or_insert_with(|| {
            *count += 1;
            *count
        });
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
        self.item_of((&case.sail_number, &case.item), part)
    }

    /// The same of an item by its boat and path.
    pub(super) fn item_of(&self, (sail_number, item): (&str, &str), part: &str) -> Option<String> {
        if item == "boat" {
            return None;
        }
        if self.shown {
            return Some(item.to_owned());
        }
        let key = (self.number(sail_number), item.to_owned());
        let number = self.items.get(&key).copied().unwrap_or(0);
        Some(format!("{} {number}", plain_name(part)))
    }

    /// An item with its boat: `boat 1, runner 2`.
    pub(super) fn case(&self, case: &Case, part: &str) -> String {
        self.both((&case.sail_number, &case.item), part)
    }

    /// The same by boat and path.
    pub(super) fn both(&self, (sail_number, item): (&str, &str), part: &str) -> String {
        let boat = self.boat(sail_number);
        match self.item_of((sail_number, item), part) {
            Some(item) => format!("{boat}, {item}"),
            None => boat,
        }
    }
}

/// A sail number whatever its blanks.
fn bare(sail_number: &str) -> String {
    sail_number.split_whitespace().collect::<Vec<_>>().join(" ")
}
