//! Boats that a change is made on beside the legal one: with something nominated, or with a failure.

use super::super::common::{CommonKind, MeasureIx, PartIx, Side, TraitIx};
use super::construct::{Change, tried};
use super::difference::Difference;
use super::edit::Pair;
use super::needs::Need;
use super::search::Search;
use super::trial::When;
use crate::check::Outcome;
use crate::quantity::Exact;

/// A boat with what was done to it, in words.
pub type Base = (Option<String>, Pair);

impl Search<'_, '_> {
    /// Boats on which something is nominated, for rules on marks and for those that look at parts of another kind.
    pub(super) fn nominated(&self, difference: &Difference, gold: &Pair, when: &When) -> Vec<Base> {
        let demand = self
            .demand(Side::New, difference)
            .or(self.demand(Side::Old, difference));
        let Some(demand) = demand else {
            return Vec::new();
        };
        let mut on: Vec<PartIx> = Vec::new();
        if demand.term.is_some() {
            on.push(demand.on);
        }
        for need in self.needs_of(difference, |one| one.needs.iter().copied().collect()) {
            if let Need::Measure(part, _) | Need::Declared(part, _) = need
                && part != demand.on
                && !on.contains(&part)
            {
                on.push(part);
            }
        }
        let each = on.into_iter();
        each.flat_map(|part| self.nominated_of(part, gold, when))
            .collect()
    }

    fn nominated_of(&self, on: PartIx, gold: &Pair, when: &When) -> Vec<Base> {
        let common = self.bench.common;
        let Some(part) = common.part(on) else {
            return Vec::new();
        };
        let flags = (0..).map(TraitIx).zip(&part.traits);
        let flags: Vec<_> = flags
            .filter(|(_, one)| matches!(one.kind, CommonKind::Flag))
            .map(|(slot, _)| slot)
            .collect();
        let mut found = Vec::new();
        for slot in flags {
            let places = tried(gold, common, on);
            let mark =
                |base: &Pair, place| Change::Mark((on, slot), place).made(base, common, when.day);
            for (at, place) in places.iter().enumerate() {
                let Some(one) = mark(gold, *place) else {
                    continue;
                };
                // What comes in pairs is nominated by two.
                let next = places.get(at + 1).and_then(|next| mark(&one, *next));
                for made in next.into_iter().chain([one]) {
                    if self.bench.alike(&made, when).is_some() {
                        let told = Change::Mark((on, slot), *place).told(common);
                        found.push((Some(told), made));
                    }
                }
            }
        }
        found
    }

    /// Boats that fail under both versions by what was measured.
    pub(super) fn spoilt(
        &self,
        (part, measure): (PartIx, MeasureIx),
        (gold, when): (&Pair, &When),
    ) -> Vec<Base> {
        let common = self.bench.common;
        let mut found = Vec::new();
        for place in tried(gold, common, part).into_iter().take(2) {
            for direction in [1, -1] {
                let change = Change::Spoil((part, measure), place, direction);
                found.extend(self.failed(&change, (gold, when)));
            }
        }
        found
    }

    pub(super) fn failed(&self, change: &Change, (gold, when): (&Pair, &When)) -> Option<Base> {
        let common = self.bench.common;
        let made = change.made(gold, common, when.day)?;
        let fails = self.bench.alike(&made, when) == Some(Outcome::DoesNotConform);
        fails.then(|| (Some(change.told(common)), made))
    }

    /// Boats that fail by a rule under both versions.
    pub(super) fn failing(&self, difference: &Difference, gold: &Pair, when: &When) -> Vec<Base> {
        let common = self.bench.common;
        let needs = self.needs_of(difference, |one| one.needs.iter().copied().collect());
        let mut found = Vec::new();
        // Where other things are measured than before, all of them show the failure.
        for direction in [1, -1] {
            let mut all = gold.clone();
            let mut told = None;
            for need in &needs {
                let Need::Measure(part, measure) = need else {
                    continue;
                };
                for place in tried(gold, common, *part).into_iter().take(1) {
                    let change = Change::Spoil((*part, *measure), place, direction);
                    if let Some(made) = change.made(&all, common, when.day) {
                        all = made;
                        told = Some(change.told(common));
                    }
                }
            }
            if told.is_some() && self.bench.alike(&all, when) == Some(Outcome::DoesNotConform) {
                found.push((told, all));
            }
        }
        for need in needs {
            let Need::Measure(part, measure) = need else {
                continue;
            };
            // What an exemption would allow, and the main limit does not.
            for value in self.exempted(difference) {
                for place in tried(gold, common, part).into_iter().take(2) {
                    let change = Change::Set((part, measure), place, value.clone());
                    found.extend(self.failed(&change, (gold, when)));
                }
            }
            found.extend(self.spoilt((part, measure), (gold, when)));
        }
        found
    }

    /// Boats with a value that an exemption of a rule would allow, and far beyond any limit where one takes it away.
    /// Whether they are legal rests on whether they are exempted.
    pub(super) fn beyond_main(
        &self,
        difference: &Difference,
        gold: &Pair,
        when: &When,
    ) -> Vec<Base> {
        let common = self.bench.common;
        let rules = Side::BOTH.map(|side| self.demand(side, difference).and_then(|one| one.rule));
        let mut rows = rules.into_iter().flatten().flat_map(|rule| &rule.instead);
        let takes_away = rows.any(|row| matches!(row.row.demand, crate::rules::Demand::None));
        let values = self.exempted(difference);
        let mut found = Vec::new();
        for need in self.needs_of(difference, |one| one.needs.iter().copied().collect()) {
            let Need::Measure(part, measure) = need else {
                continue;
            };
            for place in tried(gold, common, part).into_iter().take(2) {
                let set = values.iter().cloned();
                let set = set.map(|value| Change::Set((part, measure), place, value));
                let far = [1, -1].map(|direction| Change::Spoil((part, measure), place, direction));
                let far = far.into_iter().filter(|_| takes_away);
                for change in set.chain(far) {
                    let made = change.made(gold, common, when.day);
                    found.extend(made.map(|made| (Some(change.told(common)), made)));
                }
            }
        }
        found
    }

    /// The limits of the exemptions of a rule.
    pub(super) fn exempted(&self, difference: &Difference) -> Vec<Exact> {
        let rules = Side::BOTH.map(|side| self.demand(side, difference).and_then(|one| one.rule));
        let rows = rules.into_iter().flatten().flat_map(|rule| &rule.instead);
        let bounds = rows.flat_map(|row| row.row.demand.bounds());
        let mut found: Vec<Exact> = bounds.filter_map(|bound| bound.exact_limit()).collect();
        found.sort();
        found.dedup();
        found
    }
}
