//! The places behind `lowest` and `highest`: one value is made of them, and they have to be enough all the same.

use std::rc::Rc;

use super::draft::Draft;
use super::eval::Evaluator;
use super::finding::{Outcome, Reason, Settle};
use super::judge::Judge;
use super::places::Counting;
use super::value::{PlaceNum, Val};
use crate::expression::{Function, Node, Op};
use crate::rules::{Judged, Rule};

/// Whether a rule asks for places of a value that is made of the extremes of places.
pub(super) fn asked(rule: &Rule) -> bool {
    rule.places.is_some() && rule.judged == Judged::Unplaced
}

impl<'r> Judge<'r> {
    /// Leaves open what conforms by too few places: another place could be lower, or higher.
    pub(super) fn enough_for_extremes(&mut self, rule: &'r Rule, at: usize, drafts: &mut [Draft]) {
        let mut all = Vec::new();
        self.eval.extremes(&rule.value.root, at, &mut all);
        let mut lack: Option<(Reason, Option<Settle>)> = None;
        let mut fewest = u32::MAX;
        for places in &all {
            let counting: Vec<Counting<'_>> = places
                .iter()
                .map(|one| Counting {
                    place: one.place,
                    readings: one.num.readings,
                })
                .collect();
            fewest = fewest.min(u32::try_from(counting.len()).unwrap_or(u32::MAX));
            if lack.is_none() {
                lack = self.lacking(rule, at, &counting);
            }
        }
        let required = rule.places.as_ref().map_or(1, |places| places.at_least);
        let reason = lack.as_ref().map(|(reason, _)| *reason);
        for draft in drafts {
            draft.rulings = self.by_stage(|stage| match (*draft.rulings.at(stage), reason) {
                ((Outcome::Conforms, _), Some(reason)) => (Outcome::NotDecided, Some(reason)),
                (ruling, _) => ruling,
            });
            let settle = match (&lack, draft.rulings.at(self.context.purpose).1) {
                (Some((reason, settle)), Some(told)) if *reason == told => settle.clone(),
                _ => None,
            };
            draft.tell(|told| {
                told.places = (!all.is_empty()).then_some((fewest, required));
                if settle.is_some() {
                    told.settled_by = settle;
                }
            });
        }
    }
}

impl<'r> Evaluator<'r> {
    /// The places of every `lowest` and `highest` in an expression, derived values written out.
    fn extremes(&mut self, node: &'r Node, own: usize, found: &mut Vec<Rc<Vec<PlaceNum<'r>>>>) {
        match &node.op {
            Op::Call(Function::Lowest | Function::Highest, list) => {
                for inner in list {
                    if let Val::Places(places) = self.value(inner, own) {
                        found.push(places);
                    }
                }
            }
            Op::Derived(scope, slot) => {
                let rules = self.rules;
                if let Ok((at, item)) = self.item(*scope, own)
                    && let Some(derived) = rules.derived_value(item.part, *slot)
                {
                    self.extremes(&derived.root, at, found);
                }
            }
            // Inside, bare names are those of other items.
            Op::Count { .. } | Op::Sum { .. } => {}
            _ => {
                for child in node.children() {
                    self.extremes(child, own, found);
                }
            }
        }
    }
}
