//! Which direction a difference can matter in, with the reason where it can't.

use super::super::common::{Common, MeasureIx, PartIx, Side};
use super::super::formula::{Formula, every};
use super::super::legal::Exemption;
use super::super::term::{Sort, Terms};
use super::difference::{Difference, Kind, Matched, floor_of};
use super::doubt::{Policy, directions};
use super::follows::follows;
use super::implied::fails_with_others;
use super::needs::{Demand, Need};
use super::otherwise::{caps_nothing, counts_all, mean_of_good};
use super::trial::Toward;
use crate::quantity::Exact;
use crate::rules::{Demand as Row, RulesFile, Stage};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::Measure;

/// Why a difference can't matter in a direction; nothing where it can, as far as is known.
pub fn no_reason_to(
    difference: &Difference,
    toward: Toward,
    common: &Common<'_>,
    matched: &Matched<'_>,
) -> Option<&'static str> {
    let old = difference.old.and_then(|at| matched.old.get(at));
    let new = difference.new.and_then(|at| matched.new.get(at));
    match &difference.kind {
        Kind::Doubt(stage) => {
            let policies = stage_policies(common, *stage);
            let any = policies
                .iter()
                .any(|(was, is)| matters(directions(was, is), toward));
            if !any {
                return Some("whatever the value, its outcome is the same or moves the other way");
            }
            let numbers = |demand: &Demand<'_>| demand.rule.is_some_and(judges_numbers);
            (!matched.old.iter().any(numbers) || !matched.new.iter().any(numbers))
                .then_some("one of the versions judges no numbers")
        }
        Kind::Floor(part, measure, method) => {
            if let Some(reason) = looks_at(matched, Need::Measure(*part, *measure)) {
                return Some(reason);
            }
            let own = |side: Side| own_measure(common, side, *part, *measure);
            let (Some(old), Some(new)) = (own(Side::Old), own(Side::New)) else {
                return Some("one of the versions does not have the measure");
            };
            let any = Stage::ALL.into_iter().any(|stage| {
                Side::BOTH.into_iter().any(|side| {
                    let rule = *common.rules(side).decision.rules.at(stage);
                    let factor = &common.rules(side).decision.guard_factor;
                    floor_matters(
                        rule,
                        factor,
                        (floor_of(old, method), floor_of(new, method)),
                        toward,
                    )
                })
            });
            (!any).then_some("at no stage does an outcome rest on it in this direction")
        }
        Kind::Work(part, _, measures) => {
            let each = measures.iter();
            let reasons: Option<Vec<&'static str>> = each
                .map(|measure| looks_at(matched, Need::Measure(*part, *measure)))
                .collect();
            reasons.and_then(|reasons| reasons.first().copied())
        }
        Kind::Freshness(part, measure)
        | Kind::FirstValue(part, measure)
        | Kind::SetUp(part, measure) => looks_at(matched, Need::Measure(*part, *measure)),
        Kind::Places | Kind::Repeats => {
            let number = |demand: Option<&Demand<'_>>| {
                let places = demand.and_then(|one| one.rule?.places.as_ref());
                match difference.kind {
                    Kind::Repeats => places.map_or(1, |one| one.repeats.max(1)),
                    _ => places.map_or(1, |one| one.at_least),
                }
            };
            one_way(number(new).cmp(&number(old)), toward)
        }
        Kind::Spacing => {
            let spacing = |demand: Option<&Demand<'_>>| {
                let places = demand.and_then(|one| one.rule?.places.clone());
                places.and_then(|one| one.spacing)
            };
            match (spacing(old), spacing(new)) {
                (None, Some(_)) => one_way(std::cmp::Ordering::Greater, toward),
                (Some(_), None) => one_way(std::cmp::Ordering::Less, toward),
                (Some(was), Some(is))
                    if was.from.text == is.from.text && was.to.text == is.to.text =>
                {
                    one_way(was.at_most.value.cmp(&is.at_most.value), toward)
                }
                _ => None,
            }
        }
        Kind::Zones => looks_at_more(old?, new?, toward),
        Kind::Judged => {
            let (from, to) = match toward {
                Toward::Worse => (old?, new?),
                Toward::Better => (new?, old?),
            };
            mean_of_good(common, from, to)
        }
        Kind::Needs(_) => {
            let (from, to) = match toward {
                Toward::Worse => (old?, new?),
                Toward::Better => (new?, old?),
            };
            counts_all(from, to)
        }
        Kind::Exemptions => {
            let (from, to) = match toward {
                Toward::Worse => (old?, new?),
                Toward::Better => (new?, old?),
            };
            if needed_anyway(from) && needed_anyway(to) {
                return Some(
                    "the rule itself needs what its exemptions rest on, so that leaving it out shows nothing",
                );
            }
            never_worse(from, to).then_some(
                "where a proof is missing the main limit counts, and no exemption asks for more than it",
            )
        }
        Kind::Rule if caps_nothing(common, matched, old, new) => {
            Some("no more of them can be marked than may be, and how many are is known")
        }
        Kind::Rule => match (toward, new.is_some()) {
            (Toward::Better, true) => Some("one rule more makes no outcome better"),
            (Toward::Worse, false) => Some("one rule less makes no outcome worse"),
            (Toward::Worse, true) | (Toward::Better, false) => None,
        },
    }
}

/// What an added or dropped rule needs is needed by others as well, of the version that lacks it and wherever it is
/// asked, and where it fails others fail, whatever else a record lacks. So leaving anything out shows nothing.
pub fn covered(
    (common, terms): (&Common<'_>, &Terms),
    difference: &Difference,
    matched: &Matched<'_>,
) -> bool {
    let old = difference.old.and_then(|at| matched.old.get(at));
    let new = difference.new.and_then(|at| matched.new.get(at));
    let needs = |demand: &Demand<'_>| demand.all_needs();
    match (&difference.kind, old, new) {
        (Kind::Rule, None, Some(one)) => {
            fails_with_others(terms, one, (Side::Old, matched))
                && needs(one)
                    .into_iter()
                    .all(|need| by_others((common, terms), (one, need), &matched.old, None))
        }
        (Kind::Rule, Some(one), None) => {
            fails_with_others(terms, one, (Side::New, matched))
                && needs(one)
                    .into_iter()
                    .all(|need| by_others((common, terms), (one, need), &matched.new, None))
        }
        _ => false,
    }
}

/// Whether a rule that changed fails and is left open only where something of the other version does, itself as it was
/// among it: then nothing gets worse by it, whatever a record lacks.
pub fn kept_by_others(
    (common, terms): (&Common<'_>, &Terms),
    difference: &Difference,
    matched: &Matched<'_>,
    toward: Toward,
) -> bool {
    let old = difference.old.and_then(|at| matched.old.get(at));
    let new = difference.new.and_then(|at| matched.new.get(at));
    let (Kind::Needs(_), Some(old), Some(new)) = (&difference.kind, old, new) else {
        return false;
    };
    let (side, is) = match toward {
        Toward::Worse => (Side::Old, new),
        Toward::Better => (Side::New, old),
    };
    fails_with_others(terms, is, (side, matched))
        && is
            .all_needs()
            .into_iter()
            .all(|need| by_others((common, terms), (is, need), matched.at(side), None))
}

/// The same of a need that a rule gained or dropped.
pub fn need_covered(
    (common, terms): (&Common<'_>, &Terms),
    difference: &Difference,
    matched: &Matched<'_>,
) -> bool {
    let old = difference.old.and_then(|at| matched.old.get(at));
    let new = difference.new.and_then(|at| matched.new.get(at));
    let (Kind::Needs(need), Some(old_one), Some(new_one)) = (&difference.kind, old, new) else {
        return false;
    };
    if new_one.needs.contains(need) {
        by_others(
            (common, terms),
            (new_one, *need),
            &matched.old,
            difference.old,
        )
    } else {
        by_others(
            (common, terms),
            (old_one, *need),
            &matched.new,
            difference.new,
        )
    }
}

fn by_others(
    (common, terms): (&Common<'_>, &Terms),
    (demand, need): (&Demand<'_>, Need),
    others: &[Demand<'_>],
    except: Option<usize>,
) -> bool {
    let asked = asked_by_others(common, (demand, need), others, except);
    if follows(&demand.asked(), &whole(Formula::any(asked), terms)) {
        return true;
    }
    // What every part of a kind has to say leaves the boat open whichever of them does not say it.
    let own = match need {
        Need::Measure(part, _) | Need::Declared(part, _) | Need::Proof(part, _) => part,
        Need::Part(_)
        | Need::Role(..)
        | Need::PlaceAt(_)
        | Need::FromEdge(_)
        | Need::Temperature => {
            return false;
        }
    };
    let of_part = Demand {
        on: own,
        ..demand.clone()
    };
    let asked = asked_by_others(common, (&of_part, need), others, except);
    whole(Formula::any(asked), terms) == Formula::True
}

/// A choice among all that there are holds always.
fn whole(formula: Formula, terms: &Terms) -> Formula {
    match &formula {
        Formula::Any(list)
            if list
                .iter()
                .any(|one| whole(one.clone(), terms) == Formula::True) =>
        {
            Formula::True
        }
        Formula::Among(var, values) => {
            let all = match terms.get(var.term).map(|term| &term.sort) {
                Some(Sort::Choice(all)) => every(*all),
                _ => return formula,
            };
            if values & all == all {
                Formula::True
            } else {
                formula
            }
        }
        _ => formula,
    }
}

/// When other demands ask for as much of something.
pub(super) fn asked_by_others(
    common: &Common<'_>,
    (demand, need): (&Demand<'_>, Need),
    others: &[Demand<'_>],
    except: Option<usize>,
) -> Vec<Formula> {
    let places = |one: &Demand<'_>| {
        let places = one.rule.and_then(|rule| rule.places.as_ref());
        places.map_or((1, 1), |one| (one.at_least, one.repeats.max(1)))
    };
    let spaced = |one: &Demand<'_>| {
        let places = one.rule.and_then(|rule| rule.places.as_ref());
        places.is_some_and(|one| one.spacing.is_some())
    };
    // Where a zone is left out and no number of places asked for, no place at all is enough.
    let placed = match need {
        Need::Measure(part, measure) => common
            .part(part)
            .and_then(|one| one.measures.get(measure.index()))
            .is_some_and(|one| one.placed),
        _ => false,
    };
    let zoned = |one: &Demand<'_>| {
        one.rule.is_some_and(|rule| {
            rule.zone.is_some() || (!rule.outside.is_empty() && rule.places.is_some())
        })
    };
    let mut asked = Vec::new();
    for (at, other) in others.iter().enumerate() {
        let asks = other.needs.contains(&need) && other.on == demand.on;
        let (count, repeats) = places(demand);
        let (other_count, other_repeats) = places(other);
        let enough = match need {
            Need::Measure(..) if placed => {
                other_count >= count
                    && other_repeats >= repeats
                    && !spaced(demand)
                    && !zoned(demand)
            }
            Need::Measure(..)
            | Need::Declared(..)
            | Need::Proof(..)
            | Need::Part(_)
            | Need::Role(..)
            | Need::PlaceAt(_)
            | Need::FromEdge(_)
            | Need::Temperature => true,
        };
        if Some(at) != except && asks && enough {
            asked.push(other.asked());
        }
    }
    asked
}

fn matters((worse, better): (bool, bool), toward: Toward) -> bool {
    match toward {
        Toward::Worse => worse,
        Toward::Better => better,
    }
}

/// More is asked (greater): nothing gets better by it, since what is proven bad fails however little is there.
fn one_way(asked: std::cmp::Ordering, toward: Toward) -> Option<&'static str> {
    match (asked, toward) {
        (std::cmp::Ordering::Greater, Toward::Better) => {
            Some("more is asked, and a place proven bad fails however few there are")
        }
        (std::cmp::Ordering::Less, Toward::Worse) => {
            Some("less is asked, and that makes no outcome worse")
        }
        (std::cmp::Ordering::Greater, Toward::Worse)
        | (std::cmp::Ordering::Less, Toward::Better)
        | (std::cmp::Ordering::Equal, _) => None,
    }
}

/// Where places need not lie anywhere, a rule that looks at more of them makes no outcome better: each of those places
/// is judged as any other is.
fn looks_at_more(old: &Demand<'_>, new: &Demand<'_>, toward: Toward) -> Option<&'static str> {
    let (more, less) = match toward {
        Toward::Better => (new, old),
        Toward::Worse => (old, new),
    };
    let each = |one: &Demand<'_>| {
        let rule = one.rule?;
        let plain = rule.places.is_none()
            && rule.zone.is_none()
            && rule.judged == crate::rules::Judged::WorstPlace;
        match one.clause?.zones.as_slice() {
            [] if plain => Some(Formula::True),
            [looked] if plain => Some(looked.clone()),
            _ => None,
        }
    };
    let (more, less) = (each(more)?, each(less)?);
    follows(&less, &more)
        .then_some("more places are looked at, wherever they lie, and that makes no outcome better")
}

/// The policies of a stage in both versions, with U of one reading; for a higher coverage probability U is larger
/// whatever the degrees of freedom, so that its order alone matters, and two sizes of it stand for all where a guard
/// factor moves against it.
fn stage_policies(common: &Common<'_>, stage: Stage) -> Vec<(Policy, Policy)> {
    let decision = |side: Side| &common.rules(side).decision;
    let policy = |side: Side, expanded: f64| Policy {
        rule: *decision(side).rules.at(stage),
        guard_factor: decision(side).guard_factor.clone(),
        expanded,
    };
    let old = &decision(Side::Old).coverage_probability;
    let sizes: &[f64] = match decision(Side::New).coverage_probability.cmp(old) {
        std::cmp::Ordering::Equal => &[1.0],
        std::cmp::Ordering::Greater => &[1.01, 1.3, 100.0],
        std::cmp::Ordering::Less => &[0.99, 0.75, 0.01],
    };
    let each = sizes.iter();
    each.map(|size| (policy(Side::Old, 1.0), policy(Side::New, *size)))
        .collect()
}

/// Whether an outcome rests on the floor of a method; without any U is unknown, where nothing is known of the
/// instrument.
fn floor_matters(
    rule: DecisionRule,
    factor: &Exact,
    (old, new): (Option<&Exact>, Option<&Exact>),
    toward: Toward,
) -> bool {
    match (old, new) {
        (Some(old), Some(new)) => {
            let policy = |floor: &Exact| Policy {
                rule,
                guard_factor: factor.clone(),
                expanded: floor.to_f64(),
            };
            matters(directions(&policy(old), &policy(new)), toward)
        }
        // Without U a guarded decision is open, for good values and for bad ones.
        _ => rule != DecisionRule::SimpleAcceptance,
    }
}

/// A reason where no rule of both versions looks at something.
fn looks_at(matched: &Matched<'_>, need: Need) -> Option<&'static str> {
    let looks = |list: &[Demand<'_>]| {
        list.iter().any(|one| {
            one.needs.contains(&need) || one.exempting.iter().any(|all| all.contains(&need))
        })
    };
    if !looks(&matched.old) || !looks(&matched.new) {
        return Some("no rule of one of the versions looks at it");
    }
    None
}

fn own_measure<'r>(
    common: &Common<'r>,
    side: Side,
    part: PartIx,
    measure: MeasureIx,
) -> Option<&'r Measure> {
    let rules: &'r RulesFile = common.rules(side);
    let own = common.part(part)?;
    let id = own.measures.get(measure.index())?.at.at(side)?;
    rules
        .vocabulary
        .part(own.at.at(side)?)?
        .measures
        .get(id.index())
}

/// Whether a rule judges numbers against limits.
pub(super) fn judges_numbers(rule: &crate::rules::Rule) -> bool {
    crate::rules::rows(&rule.limits, &rule.instead).any(|row| match &row.demand {
        Row::Bounds(_) | Row::Options(_) => true,
        Row::Equals(..) | Row::Only(..) | Row::Without(..) | Row::None => false,
    })
}

/// Whether all that exemptions rest on is needed by the rule in any case, and none of them takes the limit away: a record
/// that lacks any of it is open with them as without them.
fn needed_anyway(demand: &Demand<'_>) -> bool {
    let rows = demand.rule.map_or(&[][..], |rule| &rule.instead);
    let takes_away = rows.iter().any(|row| matches!(row.row.demand, Row::None));
    // A day can be known to the month, and a measure to its doubt: only what is declared is there or is not.
    let declared = |need: &Need| matches!(need, Need::Declared(..));
    let mut rest = demand.exempting.iter().flatten();
    !takes_away && rest.all(|need| declared(need) && demand.needs.contains(need))
}

/// Whether no record fares worse under other exemptions of the same limits.
///
/// Each exemption asks for no more than the main limit. While it is not known whether it applies, either the main limit
/// counts, or both are looked at, and where they differ nothing is decided: no worse than the main limit, under which
/// the boat stands without the exemption. With one on each side, what the old one exempts the new one exempts too, by
/// no stricter limit and by no other proof.
fn never_worse(from: &Demand<'_>, to: &Demand<'_>) -> bool {
    let (Some(was), Some(is)) = (from.clause, to.clause) else {
        return false;
    };
    let (Some(was_rule), Some(is_rule)) = (from.rule, to.rule) else {
        return false;
    };
    let milder = |main: &Formula, one: &Exemption| {
        follows(
            &Formula::all([main.clone(), one.applies.clone()]),
            &one.instead,
        )
    };
    let all_milder = is.exemptions.iter().all(|one| milder(&is.main, one));
    // What is taken away does not apply, and that is not the same as to conform while it is in doubt.
    let none_in_doubt = is_rule
        .instead
        .iter()
        .all(|row| row.unproven_takes_main || !matches!(row.row.demand, Row::None));
    if !all_milder || !none_in_doubt {
        return false;
    }
    match (was.exemptions.as_slice(), is.exemptions.as_slice()) {
        ([], _) => true,
        // While it is not known whether they apply, the main limit counted.
        (_, []) => was_rule.instead.iter().all(|row| row.unproven_takes_main),
        ([one], [other]) => {
            let flags = (was_rule.instead.first(), is_rule.instead.first());
            let kept = match flags {
                (Some(was), Some(is)) => was.unproven_takes_main || !is.unproven_takes_main,
                _ => false,
            };
            let proofs = (from.exempting.first(), to.exempting.first());
            let no_other_proof = match proofs {
                (Some(was), Some(is)) => is.is_subset(was),
                _ => false,
            };
            kept && no_other_proof
                && milder(&was.main, one)
                && follows(&one.applies, &other.applies)
                && follows(&one.instead, &other.instead)
        }
        _ => false,
    }
}
