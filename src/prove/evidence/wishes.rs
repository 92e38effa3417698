//! What boats are wished for, so that a difference can show on them.

use super::super::common::{PartIx, Side};
use super::super::formula::Formula;
use super::dates::undated;
use super::difference::{Difference, Kind};
use super::gold::{GoldBoat, LegalUnder, Wish};
use super::matters::asked_by_others;
use super::needs::{Demand, Need};
use super::search::Search;
use crate::rules::Stage;

impl Search<'_, '_> {
    /// What a boat has to be like: the rule is asked of it, or it is exempted; it has what is measured.
    pub(super) fn wishes(&self, difference: &Difference) -> Vec<Wish> {
        let mut found = Vec::new();
        if let Kind::Doubt(stage) = &difference.kind {
            found.push(Wish {
                on: PartIx(0),
                holds: Formula::True,
                not: Vec::new(),
                stage: Some(*stage),
                legal: LegalUnder::Both,
            });
        }
        found.extend(self.uncovered(difference));
        found.extend(self.exempted_but_for_days(difference));
        let mut add = |on: PartIx, holds: Formula| {
            if holds != Formula::False {
                found.push(Wish {
                    on,
                    holds,
                    not: Vec::new(),
                    stage: None,
                    legal: LegalUnder::Both,
                });
            }
        };
        let of_demand = |demand: &Demand<'_>, add: &mut dyn FnMut(PartIx, Formula)| {
            add(demand.on, demand.asked());
        };
        match &difference.kind {
            Kind::Exemptions => {
                for side in Side::BOTH {
                    let Some(demand) = self.demand(side, difference) else {
                        continue;
                    };
                    let clause = demand.clause;
                    for one in clause.iter().flat_map(|clause| &clause.exemptions) {
                        add(demand.on, one.applies.clone());
                    }
                    of_demand(demand, &mut add);
                }
            }
            Kind::Doubt(_)
            | Kind::Places
            | Kind::Repeats
            | Kind::Spacing
            | Kind::Judged
            | Kind::Zones
            | Kind::Needs(_)
            | Kind::Rule => {
                for side in [Side::New, Side::Old] {
                    if let Some(demand) = self.demand(side, difference) {
                        of_demand(demand, &mut add);
                    }
                }
            }
            Kind::Work(part, _, measures) => {
                let each = self.matched.new.iter();
                let one = |need: &Need| matches!(need, Need::Measure(of, slot) if of == part && measures.contains(slot));
                for demand in each.filter(|demand| demand.needs.iter().any(one)).take(3) {
                    of_demand(demand, &mut add);
                }
            }
            Kind::Floor(part, measure, _)
            | Kind::Freshness(part, measure)
            | Kind::FirstValue(part, measure)
            | Kind::SetUp(part, measure) => {
                let need = Need::Measure(*part, *measure);
                let each = self.matched.new.iter();
                for demand in each.filter(|one| one.needs.contains(&need)).take(3) {
                    of_demand(demand, &mut add);
                }
            }
        }
        found
    }

    /// Boats that no day exempts, and that everything else would.
    fn exempted_but_for_days(&self, difference: &Difference) -> Vec<Wish> {
        if difference.kind != Kind::Exemptions {
            return Vec::new();
        }
        let demands = Side::BOTH.map(|side| self.demand(side, difference));
        let mut found = Vec::new();
        for demand in demands.into_iter().flatten() {
            for one in demand.clause.iter().flat_map(|one| &one.exemptions) {
                let but_for = undated(&one.applies, self.bench.terms);
                if but_for == one.applies {
                    continue;
                }
                found.push(Wish {
                    on: demand.on,
                    holds: Formula::all([demand.asked(), but_for]),
                    not: vec![one.applies.clone()],
                    stage: None,
                    legal: LegalUnder::Both,
                });
            }
        }
        found
    }

    /// Boats of which a rule asks something that no other rule asks of them, and no exemption takes away.
    pub(super) fn uncovered(&self, difference: &Difference) -> Vec<Wish> {
        let old = self.demand(Side::Old, difference);
        let new = self.demand(Side::New, difference);
        let one_side = match (&difference.kind, old, new) {
            (Kind::Rule, None, Some(one)) => Some((one, Side::Old, one.all_needs())),
            (Kind::Rule, Some(one), None) => Some((one, Side::New, one.all_needs())),
            (Kind::Needs(need), Some(old), Some(new)) => {
                let gained = new.needs.contains(need);
                let one = if gained { new } else { old };
                let side = if gained { Side::Old } else { Side::New };
                Some((one, side, std::iter::once(*need).collect()))
            }
            _ => None,
        };
        let Some((demand, side, needs)) = one_side else {
            return Vec::new();
        };
        let except = match side {
            Side::Old => difference.old,
            Side::New => difference.new,
        };
        let exempted: Vec<Formula> = demand
            .clause
            .iter()
            .flat_map(|one| one.exemptions.iter().map(|one| one.applies.clone()))
            .collect();
        let mut found: Vec<Wish> = Vec::new();
        for need in needs {
            let others = self.matched.at(side);
            let mut not = asked_by_others(self.bench.common, (demand, need), others, except);
            not.extend(exempted.iter().cloned());
            let wish = Wish {
                on: demand.on,
                holds: demand.asked(),
                not,
                stage: None,
                legal: LegalUnder::Both,
            };
            if !found.contains(&wish) && !wish.not.contains(&Formula::True) {
                found.push(wish);
            }
        }
        found
    }

    /// Levels at which a boat is checked: its own, and where it has none, at an inspection and for rules on events, the
    /// first that both versions know.
    pub(super) fn levels(
        &self,
        difference: &Difference,
        stage: Stage,
        boat: &GoldBoat,
    ) -> Vec<Option<String>> {
        let mut found = vec![boat.level.clone()];
        let names_event = Side::BOTH.iter().any(|side| {
            let demand = self.demand(*side, difference);
            demand
                .and_then(|one| one.rule)
                .is_some_and(|rule| rule.names_event)
        });
        if (stage == Stage::EventInspection || names_event) && boat.level.is_none() {
            let levels = self.bench.common.levels.iter();
            let mut both = levels.filter(|one| one.at.old.is_some() && one.at.new.is_some());
            found.extend(both.next().map(|one| Some(one.name.clone())));
        }
        found
    }
}
