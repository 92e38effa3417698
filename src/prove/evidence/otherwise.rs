//! Rules that are written otherwise and, in a direction, show nothing of it whatever a record lacks.

use super::super::common::{Common, Side};
use super::difference::Matched;
use super::needs::Demand;
use crate::expression::Op;
use crate::rules::{Demand as Row, Judged, Limits, MarkLimits, MarkRule, Rule, Stage, rows};
use crate::uncertainty::DecisionRule;

/// Why a mean never comes out worse than its worst place, where no doubt counts: it lies beyond a limit only where some
/// place does, and as many places are asked for.
pub fn mean_of_good(
    common: &Common<'_>,
    from: &Demand<'_>,
    to: &Demand<'_>,
) -> Option<&'static str> {
    let (worst, mean) = (from.rule?, to.rule?);
    let doubt = Side::BOTH.into_iter().any(|side| {
        let rules = &common.rules(side).decision.rules;
        Stage::ALL.into_iter().any(|stage| {
            let asked = *worst.checked_at.at(stage) || *mean.checked_at.at(stage);
            asked && *rules.at(stage) != DecisionRule::SimpleAcceptance
        })
    });
    let asks = |rule: &Rule| {
        let places = rule.places.as_ref();
        places.map_or((1, 1, false), |one| {
            (one.at_least, one.repeats.max(1), one.spacing.is_some())
        })
    };
    let (places, repeats, spaced) = asks(worst);
    let (mean_places, mean_repeats, mean_spaced) = asks(mean);
    let as_many = places >= mean_places && repeats >= mean_repeats && (spaced || !mean_spaced);
    let bounds_alone = [worst, mean].into_iter().all(|rule| {
        let bounds = |row: &Row| matches!(row, Row::Bounds(_));
        rule.instead.is_empty()
            && !matches!(rule.limits, Limits::ByZone { .. })
            && rows(&rule.limits, &[]).all(|row| bounds(&row.demand))
    });
    let zones = from.clause.map(|one| &one.zones) == to.clause.map(|one| &one.zones);
    let judged = (worst.judged, mean.judged) == (Judged::WorstPlace, Judged::Mean);
    let same = worst.value.text == mean.value.text;
    (judged && same && zones && as_many && bounds_alone && !doubt)
        .then_some("a mean lies beyond a limit only where a place does")
}

/// Why a count of all is never better off than a count of some: where it is known that all of them are few enough, so
/// are those of a kind, however little is said of it.
pub fn counts_all(from: &Demand<'_>, to: &Demand<'_>) -> Option<&'static str> {
    let (all, some) = (from.rule?, to.rule?);
    let (
        Op::Count {
            over,
            condition: None,
        },
        Op::Count {
            over: other,
            condition: Some(_),
        },
    ) = (&all.value.root.op, &some.value.root.op)
    else {
        return None;
    };
    let text = |rule: &Rule| rule.when.as_ref().map(|when| when.text.clone());
    let plain = [all, some].into_iter().all(|rule| rule.instead.is_empty());
    let most = |rule: &Rule| match &rule.limits {
        Limits::Direct(row) => match row.demand.bounds() {
            [one] if one.kind == crate::rules::BoundKind::AtMost => one.exact_limit(),
            _ => None,
        },
        Limits::ByTrait { .. }
        | Limits::ByTraits { .. }
        | Limits::ByZone { .. }
        | Limits::ByLevel { .. } => None,
    };
    let stages = Stage::ALL.into_iter();
    let asked = stages.filter(|stage| *some.checked_at.at(*stage));
    let asked = asked.into_iter().all(|stage| *all.checked_at.at(stage));
    (over == other && plain && asked && text(all) == text(some) && most(all)? <= most(some)?)
        .then_some("where all of them are few enough, so are some")
}

/// Whether a term of marks caps some of those that are marked at no fewer than may be marked at all, under the version
/// that lacks it: how many are marked is known of every record, and where it fails by them it fails anyway.
pub fn caps_nothing(
    common: &Common<'_>,
    matched: &Matched<'_>,
    old: Option<&Demand<'_>>,
    new: Option<&Demand<'_>>,
) -> bool {
    let (own, demand, other) = match (old, new) {
        (None, Some(one)) => (Side::New, one, Side::Old),
        (Some(one), None) => (Side::Old, one, Side::New),
        _ => return false,
    };
    let term = demand
        .term
        .as_deref()
        .and_then(|term| term.strip_prefix("of_which "));
    let Some(number) = term.and_then(|number| number.parse::<usize>().ok()) else {
        return false;
    };
    let mark = |side: Side, demand: &Demand<'_>| -> Option<&MarkRule> {
        let marks = common.rules(side).marks.iter();
        let mut marks = marks.filter(|one| one.id.text == demand.id);
        marks.next()
    };
    let Some(rule) = mark(own, demand) else {
        return false;
    };
    let Some(cap) = number.checked_sub(1).and_then(|at| rule.of_which.get(at)) else {
        return false;
    };
    let same = |demand: &Demand<'_>| {
        let marks = mark(other, demand)?;
        let holding = common.holding_of(other, marks.item)? == common.holding_of(own, rule.item)?;
        let part = common.part_of(own, common.rules(own).vocabulary.holding(rule.item)?.part)?;
        let other_part = common.rules(other).vocabulary.holding(marks.item)?.part;
        let other_part = common.part_of(other, other_part)?;
        let flags = common.trait_of(own, part, rule.nominated_by)
            == common.trait_of(other, other_part, marks.nominated_by);
        (holding && flags).then_some(marks)
    };
    let others = matched.at(other).iter().filter(|one| one.on == demand.on);
    let mut limits = others
        .filter(|one| one.term.as_deref() == Some("number of marks"))
        .filter_map(same)
        .map(|marks| &marks.limits);
    limits.any(|limits| match (limits, &rule.limits) {
        (MarkLimits::Direct(most), _) => most.at_most <= cap.limit.at_most,
        // By level, both are asked at events alone, of every level.
        (MarkLimits::ByLevel { rows, .. }, MarkLimits::ByLevel { .. }) => {
            let known = common.levels.iter().filter_map(|one| one.at.at(other));
            rows.iter()
                .all(|(_, most)| most.at_most <= cap.limit.at_most)
                && common.levels.iter().all(|one| one.at.at(other).is_some())
                && known
                    .into_iter()
                    .all(|level| rows.iter().any(|(row, _)| *row == level))
        }
        (MarkLimits::ByLevel { .. }, MarkLimits::Direct(_)) => false,
    })
}
