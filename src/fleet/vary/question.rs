//! A limit that moves, asked of every boat of a fleet.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::column::{Base, Column, Columns};
use super::limit::MovedLimit;
use crate::check::{Concern, Context, Outcome, Plan, Reason};
use crate::diagnostic::Diagnostic;
use crate::fleet::impact::Sample;
use crate::fleet::reader::{Days, Piece, ReadBoat, Reader};
use crate::fleet::together::{Part, Together, together};
use crate::quantity::Exact;
use crate::rules::{RulesFile, Stage};
use crate::text::Source;
use crate::vocabulary::ChoiceId;

/// For what boats are checked.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The purpose.
    pub purpose: Stage,
    /// On which days.
    pub days: Days,
    /// The level of the event.
    pub level: Option<ChoiceId>,
}

/// A limit of a rules file, ready to be moved under the boats of a fleet.
pub struct Question<'r> {
    /// The limit.
    pub limit: MovedLimit,
    /// The limits that are asked for, the mildest first.
    pub limits: Vec<Exact>,
    /// For what boats are checked.
    pub asked: Asked,
    plan: Plan,
    reader: Reader<'r>,
    rules: &'r RulesFile,
}

/// What boats and items come to.
#[derive(Debug, Default)]
pub struct VaryTally {
    /// Items that meet the limit, or of which it can't be said.
    pub items: Columns,
    /// Boats with such an item, by the first of them to turn.
    pub boats: Columns,
    /// Items that are open whatever the limit, by why; what was never measured is not among them.
    pub open: BTreeMap<Reason, u64>,
    /// Items of the part that meet another row of the rule.
    pub other_row: u64,
    /// Items of the part to which the rule does not apply.
    pub not_applicable: u64,
    /// What was looked at.
    pub sample: Sample,
}

impl VaryTally {
    /// Sums without columns.
    pub fn of(sample: Sample, other_row: u64, not_applicable: u64) -> VaryTally {
        VaryTally {
            sample,
            other_row,
            not_applicable,
            ..VaryTally::default()
        }
    }
}

impl<'r> Question<'r> {
    /// Makes a limit ready.
    pub fn new(
        rules: &'r Arc<RulesFile>,
        limit: MovedLimit,
        limits: Vec<Exact>,
        asked: Asked,
    ) -> Question<'r> {
        Question {
            limits: ordered(limits, limit.kind.is_lower()),
            asked,
            plan: Plan::compile(Arc::clone(rules)),
            reader: Reader::of_one(rules, &limit.rule, asked.days),
            limit,
            rules,
        }
    }

    fn lower(&self) -> bool {
        self.limit.kind.is_lower()
    }

    /// Reads a record.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>> {
        self.reader.read(source, piece)
    }

    /// A boat put together from its records.
    pub fn together(&self, parts: Vec<Part>) -> Option<Together> {
        together(parts, &self.rules.vocabulary, None)
    }

    /// Asks a boat.
    pub fn look(&self, boat: &ReadBoat, tally: &mut VaryTally) {
        let context = Context {
            purpose: self.asked.purpose,
            day: boat.day,
            level: self.asked.level,
        };
        let mut of_boat: Option<Column> = None;
        if let Some(mut moving) = self.plan.moving(&boat.newer, &context, &self.limit.at) {
            for item in moving.items() {
                let column = match moving.concern(item) {
                    Concern::Met => moving.turns(item).filter(|turns| {
                        turns.mildest.0 != Outcome::NotApplicable
                            || turns.sternest != Outcome::NotApplicable
                    }),
                    Concern::Unsure(reason) => {
                        *tally.open.entry(reason).or_default() += 1;
                        of_boat = self.one(Column::open(), of_boat, tally);
                        continue;
                    }
                    Concern::OtherRow => {
                        tally.other_row += 1;
                        continue;
                    }
                    Concern::NotApplicable => None,
                };
                match column {
                    Some(turns) => {
                        let column = Column::of(&turns);
                        if let (Base::Open, Some(reason)) = (column.base, turns.mildest.1) {
                            *tally.open.entry(reason).or_default() += 1;
                        }
                        of_boat = self.one(column, of_boat, tally);
                    }
                    None => tally.not_applicable += 1,
                }
            }
        }
        self.boat(of_boat, tally);
    }

    /// One item more.
    fn one(&self, column: Column, boat: Option<Column>, tally: &mut VaryTally) -> Option<Column> {
        tally.items.add(&column, 1, &self.limits, self.lower());
        Some(match boat {
            Some(boat) => boat.and(&column, self.lower()),
            None => column,
        })
    }

    /// One boat more.
    fn boat(&self, column: Option<Column>, tally: &mut VaryTally) {
        tally.sample.boats += 1;
        if let Some(column) = column {
            tally.boats.add(&column, 1, &self.limits, self.lower());
        }
    }

    /// All of another tally as well.
    pub fn merge(&self, own: &mut VaryTally, other: VaryTally) {
        own.items.merge(other.items, &self.limits, self.lower());
        own.boats.merge(other.boats, &self.limits, self.lower());
        for (reason, count) in other.open {
            *own.open.entry(reason).or_default() += count;
        }
        own.other_row += other.other_row;
        own.not_applicable += other.not_applicable;
        own.sample.merge(other.sample);
    }
}

/// Limits in the order in which they get sterner, each once.
fn ordered(mut limits: Vec<Exact>, lower: bool) -> Vec<Exact> {
    limits.sort();
    limits.dedup();
    if !lower {
        limits.reverse();
    }
    limits
}
