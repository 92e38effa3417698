//! Rules that others imply: what they alone show of a record that lacks what the others need.

use std::collections::BTreeSet;

use super::super::common::{CommonKind, MeasureIx, Side, TraitIx};
use super::super::formula::Formula;
use super::super::term::{Terms, What};
use super::construct::{Change, left_out, tried};
use super::difference::{Difference, Kind, Matched};
use super::edit::Pair;
use super::follows::follows;
use super::gold::{Gold, GoldBoat, LegalUnder, Wish};
use super::needs::{Demand, Need};
use super::search::{Found, Search};
use super::trial::{Toward, When};
use crate::check::Outcome;
use crate::expression::{Node, Op};
use crate::rules::{Demand as Row, Judged, Limits, Rule};

/// Whether a rule fails on no record on which none of some others fails, as far as their shape tells.
///
/// A rule fails only where all that it judges is known. So does another one that needs no more, has no exemptions and
/// judges places in the same manner; and it fails where what the rule asks follows from what it asks.
pub fn fails_with_others(
    terms: &Terms,
    demand: &Demand<'_>,
    (side, matched): (Side, &Matched<'_>),
) -> bool {
    let Some(rule) = demand.rule else {
        return false;
    };
    // An exemption has a failure of its own.
    let (Some(failures), true) = (failures(terms, demand), demand.exempting.is_empty()) else {
        return false;
    };
    let asked = demand.asked();
    let others = matched.at(side).iter();
    let others = others.filter(|other| other.on == demand.on && other.exempting.is_empty());
    failures.iter().all(|(says, needs)| {
        let mut given = vec![asked.clone()];
        // What is declared and not listed fails as it is declared.
        let unsaid = matched.unsaid(side, demand.on);
        given.extend(unsaid.map(|one| one.holds.clone()));
        for other in others.clone() {
            let Some(other_rule) = other.rule.filter(|other| judged_alike(rule, other)) else {
                continue;
            };
            for (says, other_needs) in self::failures(terms, other).unwrap_or_default() {
                if !known_with((demand, rule, needs), (other, other_rule, &other_needs)) {
                    continue;
                }
                let other_asked = other.asked();
                given.push(if other_asked == asked {
                    says
                } else {
                    Formula::any([other_asked.negated(terms), says])
                });
            }
        }
        follows(&Formula::all(given), says)
    })
}

/// What a rule can fail by, each with what has to be known for it: its limits, and of one listed row each column.
fn failures(terms: &Terms, demand: &Demand<'_>) -> Option<Vec<(Formula, BTreeSet<Need>)>> {
    let (rule, clause) = (demand.rule?, demand.clause?);
    let mut options = crate::rules::rows(&rule.limits, &[]).filter_map(|row| match &row.demand {
        Row::Options(options) => Some(options.rows.len()),
        Row::Bounds(_) | Row::Equals(..) | Row::Only(..) | Row::Without(..) | Row::None => None,
    });
    let Some(listed) = options.next() else {
        return Some(vec![(clause.main.clone(), demand.judging.clone())]);
    };
    let (1, Limits::Direct(_), Formula::All(columns)) = (listed, &rule.limits, &clause.main) else {
        // Of several rows it is the nearest by all that is known.
        return None;
    };
    let part = demand.on;
    let each = columns.iter().map(|column| {
        let needs = demand.judging.iter().copied().filter(|need| match need {
            Need::Measure(of, slot) => *of == part && speaks_of(terms, column, *slot),
            Need::Declared(..)
            | Need::Proof(..)
            | Need::Part(_)
            | Need::Role(..)
            | Need::PlaceAt(_)
            | Need::FromEdge(_)
            | Need::Temperature => true,
        });
        (column.clone(), needs.collect())
    });
    Some(each.collect())
}

/// Whether a statement speaks of a measure of the item itself, or of what is made of measures.
fn speaks_of(terms: &Terms, formula: &Formula, slot: MeasureIx) -> bool {
    let mut speaks = false;
    formula.each_var(&mut |var| {
        speaks |= match terms.get(var.term).map(|term| &term.what) {
            Some(What::Measure(of)) => *of == slot,
            _ => true,
        };
    });
    speaks
}

/// What is known where a rule fails, as far as it is looked at: the rule, and what is judged.
type Failing<'f, 'r> = (&'f Demand<'r>, &'f Rule, &'f BTreeSet<Need>);

/// Whether all that another failure needs is known with one.
fn known_with(
    (demand, rule, needs): Failing<'_, '_>,
    (other, other_rule, other_needs): Failing<'_, '_>,
) -> bool {
    let text = |rule: &Rule| rule.when.as_ref().map(|when| when.text.clone());
    if text(rule) == text(other_rule) {
        return other_needs.is_subset(needs);
    }
    let asks = |demand: &Demand<'_>| -> BTreeSet<Need> {
        demand.needs.difference(&demand.judging).copied().collect()
    };
    let mut known = needs.clone();
    let condition = rule.when.as_ref();
    if condition.is_none_or(|when| all_known(&when.root)) {
        known.extend(asks(demand));
    }
    other_needs.is_subset(&known) && asks(other).is_subset(&known)
}

/// Whether all that a condition speaks of is known where it is known to hold.
fn all_known(node: &Node) -> bool {
    match &node.op {
        Op::And(list) => list.iter().all(all_known),
        Op::Or(_) | Op::Count { .. } | Op::Sum { .. } | Op::Derived(..) => false,
        // The opposite of several may hold by one of them.
        Op::Not(inner) => !matches!(inner.op, Op::And(_) | Op::Or(_)) && all_known(inner),
        Op::Arithmetic(_, left, right) | Op::Compare(_, left, right) => {
            all_known(left) && all_known(right)
        }
        Op::IsSame { left, right, .. } => all_known(left) && all_known(right),
        Op::Negate(inner) | Op::Truth(inner) => all_known(inner),
        Op::IsChoice { subject, .. } => all_known(subject),
        Op::Call(_, list) => list.iter().all(all_known),
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day
        | Op::IsLevel { .. }
        | Op::Measure(..)
        | Op::Trait(..) => true,
    }
}

/// Whether fewer places leave one rule open only where they do the other.
fn judged_alike(rule: &Rule, other: &Rule) -> bool {
    let asks = |rule: &Rule| {
        let places = rule.places.as_ref();
        places.map_or((1, 1), |one| (one.at_least, one.repeats.max(1)))
    };
    let spaced = |rule: &Rule| {
        rule.places
            .as_ref()
            .is_some_and(|one| one.spacing.is_some())
    };
    match (rule.judged, other.judged) {
        // A place proven bad fails however few there are.
        (Judged::WorstPlace, Judged::WorstPlace) => asks(other).1 <= asks(rule).1,
        (Judged::Unplaced, Judged::Unplaced) | (Judged::Mean, Judged::Mean) => {
            asks(other).0 <= asks(rule).0 && asks(other).1 <= asks(rule).1 && !spaced(other)
        }
        _ => false,
    }
}

/// Failures elsewhere that are tried.
const ELSEWHERE: usize = 12;

impl Search<'_, '_> {
    /// What a rule that one version has alone fails, where the other version is left open: on boats that are legal
    /// under neither, without what shows it under the other version.
    pub(super) fn look_for_failures(
        &self,
        difference: &Difference,
        can: &[Toward],
        gold: &mut dyn Gold,
        found: &mut Found,
    ) {
        let (demand, other) = match (
            &difference.kind,
            self.demand(Side::Old, difference),
            self.demand(Side::New, difference),
        ) {
            (Kind::Rule, None, Some(one)) => (one, Side::Old),
            (Kind::Rule, Some(one), None) => (one, Side::New),
            (Kind::Needs(need), Some(was), Some(is)) => {
                self.failing_by_both(difference, *need, (was, is), can, gold, found);
                return;
            }
            _ => return,
        };
        let terms = self.bench.terms;
        let done = |found: &mut Found| can.iter().all(|toward| found.at(*toward).is_some());
        let others = self.matched.at(other);
        let (Some(clause), false) = (demand.clause, done(found)) else {
            return;
        };
        if fails_with_others(terms, demand, (other, self.matched)) {
            return;
        }
        let any: Vec<GoldBoat> = gold.boats(None).unwrap_or_default();
        for legal in [LegalUnder::One(other), LegalUnder::Neither] {
            let wish = Wish {
                on: demand.on,
                holds: Formula::all([demand.asked(), clause.main.negated(terms)]),
                not: Vec::new(),
                stage: None,
                legal,
            };
            if wish.holds == Formula::False {
                return;
            }
            match gold.boats(Some(&wish)) {
                Ok(boats) => {
                    self.on_failing((difference, demand, others), can, (&any, &boats), found);
                    if done(found) {
                        return;
                    }
                }
                Err(problem) => found.problems.push(problem),
            }
        }
        // Where none can be had, legal ones with a value far beyond any limit, or with other marks.
        let failing: Vec<GoldBoat> = any.first().map_or(Vec::new(), |boat| {
            let changes = self.spoiling(demand, &boat.pair).into_iter();
            let made =
                changes.filter_map(|change| change.made(&boat.pair, self.bench.common, boat.day));
            made.map(|pair| GoldBoat {
                pair,
                ..boat.clone()
            })
            .collect()
        });
        self.on_failing((difference, demand, others), can, (&any, &failing), found);
    }

    /// Boats that fail by both statements of a rule, without what one of them needs.
    fn failing_by_both(
        &self,
        difference: &Difference,
        need: Need,
        (was, is): (&Demand<'_>, &Demand<'_>),
        can: &[Toward],
        gold: &mut dyn Gold,
        found: &mut Found,
    ) {
        let done = |found: &mut Found| can.iter().all(|toward| found.at(*toward).is_some());
        let (Some(old), Some(new), false) = (was.clause, is.clause, done(found)) else {
            return;
        };
        let terms = self.bench.terms;
        let fails = [old, new].map(|clause| clause.main.negated(terms));
        let asked = [was.asked(), is.asked()];
        let any: Vec<GoldBoat> = gold.boats(None).unwrap_or_default();
        for legal in [LegalUnder::But(old.of, new.of), LegalUnder::Neither] {
            let wish = Wish {
                on: is.on,
                holds: Formula::all(asked.iter().chain(&fails).cloned()),
                not: Vec::new(),
                stage: None,
                legal,
            };
            if wish.holds == Formula::False {
                return;
            }
            let boats = match gold.boats(Some(&wish)) {
                Ok(boats) => boats,
                Err(problem) => {
                    found.problems.push(problem);
                    continue;
                }
            };
            self.lacking(difference, need, can, (&any, &boats), found);
            if done(found) {
                return;
            }
        }
    }

    /// Boats that fail under both versions, without something.
    fn lacking(
        &self,
        difference: &Difference,
        need: Need,
        can: &[Toward],
        (any, boats): (&[GoldBoat], &[GoldBoat]),
        found: &mut Found,
    ) {
        let told = format!("{} fails", difference.about.replace('_', " "));
        for boat in boats {
            let sound = any.first().map_or(&boat.pair, |one| &one.pair);
            for stage in Self::stages(difference) {
                for level in self.levels(difference, stage, boat) {
                    let when = When {
                        stage,
                        level,
                        day: boat.day,
                    };
                    if self.bench.alike(&boat.pair, &when) == Some(Outcome::DoesNotConform) {
                        let failing = (sound, (told.as_str(), &boat.pair), &when);
                        self.without_others(&[need], can, failing, found);
                    }
                    if can.iter().all(|toward| found.at(*toward).is_some()) {
                        return;
                    }
                }
            }
        }
    }

    /// What may make a legal boat fail by a rule.
    fn spoiling(&self, demand: &Demand<'_>, pair: &Pair) -> Vec<Change> {
        let common = self.bench.common;
        let mut found = Vec::new();
        for need in &demand.judging {
            let Need::Measure(part, measure) = *need else {
                continue;
            };
            for place in tried(pair, common, part).into_iter().take(1) {
                found.extend([1, -1].map(|way| Change::Spoil((part, measure), place, way)));
            }
        }
        let part = common.part(demand.on).filter(|_| demand.term.is_some());
        for (slot, one) in part
            .into_iter()
            .flat_map(|part| (0..).map(TraitIx).zip(&part.traits))
        {
            if !matches!(one.kind, CommonKind::Flag) {
                continue;
            }
            for place in tried(pair, common, demand.on).into_iter().take(2) {
                let unmarked = Need::Declared(demand.on, slot);
                found.push(Change::Mark((demand.on, slot), place));
                found.push(Change::LeaveOut(unmarked, place));
            }
        }
        found
    }

    /// Boats of which the rule fails, beside legal ones.
    fn on_failing(
        &self,
        (difference, demand, others): (&Difference, &Demand<'_>, &[Demand<'_>]),
        can: &[Toward],
        (any, boats): (&[GoldBoat], &[GoldBoat]),
        found: &mut Found,
    ) {
        let needs = others_need(demand, others);
        let told = format!("{} fails", demand.told().replace('_', " "));
        for boat in boats {
            let sound = any.first().map_or(&boat.pair, |one| &one.pair);
            for stage in Self::stages(difference) {
                for level in self.levels(difference, stage, boat) {
                    let when = When {
                        stage,
                        level,
                        day: boat.day,
                    };
                    let failing = (sound, (told.as_str(), &boat.pair), &when);
                    match self.bench.outcomes(&boat.pair, &when) {
                        Some((Outcome::DoesNotConform, Outcome::DoesNotConform)) => {
                            self.without_others(&needs, can, failing, found);
                        }
                        Some((Outcome::DoesNotConform, _) | (_, Outcome::DoesNotConform)) => {
                            self.failing_elsewhere((demand, others), can, failing, found);
                        }
                        Some(_) | None => {}
                    }
                    if can.iter().all(|toward| found.at(*toward).is_some()) {
                        return;
                    }
                }
            }
        }
    }

    /// A boat that fails by the rule and by others, without what the others need.
    fn without_others(
        &self,
        needs: &[Need],
        can: &[Toward],
        (sound, (told, base), when): (&Pair, (&str, &Pair), &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        // What shows by something left out shows by all of it left out.
        let mut without = base.clone();
        let mut changes: Vec<Change> = Vec::new();
        for change in needs.iter().flat_map(|need| left_out(base, common, *need)) {
            if let Some(shown) = change.made(&without, common, when.day) {
                without = shown;
                changes.push(change);
            }
        }
        let outcomes = self.bench.outcomes(&without, when);
        if outcomes.is_none_or(|(was, is)| was == is) {
            return;
        }
        for change in &changes {
            let words = format!("{told}; {}", change.told(common));
            if let Some(shown) = change.made(base, common, when.day)
                && self.try_one((sound, &shown), when, (&words, can), found)
            {
                return;
            }
        }
        let mut words = vec![told.to_owned()];
        words.extend(changes.iter().map(|one| one.told(common)));
        words.dedup();
        self.try_one((sound, &without), when, (&words.join("; "), can), found);
    }

    /// A boat that fails by the rule alone, made to fail by something else too, and that is left out.
    fn failing_elsewhere(
        &self,
        (demand, others): (&Demand<'_>, &[Demand<'_>]),
        can: &[Toward],
        (sound, (fails, boat), when): (&Pair, (&str, &Pair), &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let own = demand.all_needs();
        let mut tries = 0;
        let mut seen: BTreeSet<Need> = BTreeSet::new();
        for need in others.iter().flat_map(|one| &one.needs) {
            let Need::Measure(part, measure) = *need else {
                continue;
            };
            if own.contains(need) || !seen.insert(*need) {
                continue;
            }
            for place in tried(boat, common, part).into_iter().take(1) {
                tries += 1;
                if tries > ELSEWHERE {
                    return;
                }
                for direction in [1, -1] {
                    let spoil = Change::Spoil((part, measure), place, direction);
                    let Some((Some(told), base)) = self.failed(&spoil, (boat, when)) else {
                        continue;
                    };
                    let without = Change::LeaveOut(*need, place);
                    let Some(shown) = without.made(&base, common, when.day) else {
                        continue;
                    };
                    let words = format!("{fails}; {told}, and {}", without.told(common));
                    if self.try_one((sound, &shown), when, (&words, can), found) {
                        return;
                    }
                }
            }
        }
    }
}

/// What has to be measured and declared for rules that have something in common with a rule, beside what it needs itself.
fn others_need(demand: &Demand<'_>, others: &[Demand<'_>]) -> Vec<Need> {
    let own: BTreeSet<Need> = demand.all_needs();
    let near = others.iter().filter(|one| !one.needs.is_disjoint(&own));
    let said = |need: &&Need| match need {
        Need::Measure(..) | Need::Declared(..) | Need::Proof(..) => true,
        Need::Part(_)
        | Need::Role(..)
        | Need::PlaceAt(_)
        | Need::FromEdge(_)
        | Need::Temperature => false,
    };
    let all: BTreeSet<Need> = near
        .flat_map(|one| one.needs.iter().filter(said).copied())
        .collect();
    all.difference(&own).copied().collect()
}
