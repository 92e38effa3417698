//! A relief zone at the edge that is smaller than the bevel: every runner at the least legal angle fails.
//!
//! A blade of thickness t, sharpened to an included angle θ, is full thickness only (t/2)/tan(θ/2) above the
//! edge. Source: plane trigonometry of an isosceles edge; that such contradictions occur in rules is common
//! practice, no source.

use super::conditions::{are_choices, can_hold};
use crate::diagnostic::Diagnostic;
use crate::expression::{Function, Node, Op, Scope};
use crate::quantity::{Dimension, Exact, Unit};
use crate::rules::{Bound, BoundKind, LimitRow, Limits, Rule, RulesFile, rows};
use crate::text::{Span, quoted};
use crate::vocabulary::{PartId, ZoneKind};

pub(super) fn relief(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let placed_length = matches!(rule.value.root.op, Op::Measure(Scope::Own, _))
        && rule.value.yields.placed
        && rule.value.yields.kind.dimension() == Some(Dimension::LENGTH);
    let zone = rule.outside.iter().find_map(|(zone, span)| {
        let part = rules.vocabulary.part(rule.applies_to)?;
        match &part.zones.get(zone.index())?.kind {
            ZoneKind::WithinOfEdge(distance) => Some((distance.clone(), *span)),
            _ => None,
        }
    });
    let (true, Some((zone, zone_span))) = (placed_length, zone) else {
        return;
    };
    for (choice, row) in rows_by_choice(rule) {
        let thickness = lower(row).and_then(|bound| Some((bound, bound.limit.root.constant()?)));
        let Some((bound, thickness)) = thickness else {
            continue;
        };
        let Some((angle_bound, angle)) = least_angle(rules, rule, choice.as_ref()) else {
            continue;
        };
        let half = Unit::DEG.from_base(&angle).to_f64().to_radians() / 2.0;
        let bevel = thickness.to_f64() / 2.0 / half.tan();
        // A zone of just this height is told apart by nobody; the sign of the rest is beyond doubt.
        if !half.is_normal() || bevel <= zone.to_f64() * (1.0 + 1e-9) {
            continue;
        }
        found.push(diagnostic(
            rules,
            rule,
            (bound, angle_bound, zone_span),
            (bevel, &zone),
        ));
    }
}

fn diagnostic(
    rules: &RulesFile,
    rule: &Rule,
    (thickness, angle, zone_span): (&Bound, &Bound, Span),
    (bevel, zone): (f64, &Exact),
) -> Diagnostic {
    let zone = Unit::MM.from_base(zone).to_f64();
    let message = format!(
        "{}: steel of {} at an included angle of {} is bevelled for {bevel:.1} mm above the edge, and the rule looks from {zone:.1} mm on: every such edge fails",
        quoted(&rule.id.text),
        thickness.limit.text,
        angle.limit.text,
    );
    Diagnostic::fault("lint.relief_too_small", message)
        .label(&rules.source, zone_span, "smaller than the bevel")
        .label(&rules.source, thickness.span, "this thickness")
        .label(&rules.source, angle.span, "at the least legal angle")
        .help(format!(
            "make the zone at least {:.1} mm, or raise the least angle",
            (bevel * 10.0).ceil() / 10.0
        ))
        .clause(rule.clause.text.clone())
}

fn lower(row: &LimitRow) -> Option<&Bound> {
    let mut bounds = row.demand.bounds().iter();
    bounds.find(|bound| matches!(bound.kind, BoundKind::AtLeast | BoundKind::MoreThan))
}

/// The main rows of a rule, each with the condition that makes it count.
fn rows_by_choice(rule: &Rule) -> Vec<(Option<Node>, &LimitRow)> {
    match &rule.limits {
        Limits::Direct(row) => vec![(None, row)],
        Limits::ByTrait { by, rows, .. } => rows
            .iter()
            .map(|(choice, row)| (Some(are_choices(&[*by], &[*choice])), row))
            .collect(),
        Limits::ByTraits { by, rows, .. } => rows
            .iter()
            .map(|(choices, row)| (Some(are_choices(by, choices)), row))
            .collect(),
        Limits::ByZone { rows, .. } => rows.iter().map(|(_, row)| (None, row)).collect(),
        Limits::ByLevel { rows, .. } => rows.iter().map(|(_, row)| (None, row)).collect(),
    }
}

/// The least included angle that some rule allows on such an item, with its bound.
fn least_angle<'r>(
    rules: &'r RulesFile,
    rule: &Rule,
    choice: Option<&Node>,
) -> Option<(&'r Bound, Exact)> {
    let own = rule.applies_to;
    let of_angle = rules.rules.iter().filter(|other| {
        other.applies_to == own && is_included_angle(&other.value.root, own, rules)
    });
    let applying = of_angle.filter(|other| {
        let conditions: Vec<&Node> = [choice, other.when.as_ref().map(|when| &when.root)]
            .into_iter()
            .chain([rule.when.as_ref().map(|when| &when.root)])
            .flatten()
            .collect();
        can_hold(rules, own, &conditions)
    });
    // What every such edge has to meet counts in any case, and the greatest of it; of what only some have to
    // meet, the least.
    let (mut sure, mut possible): (Vec<_>, Vec<_>) = (Vec::new(), Vec::new());
    for other in applying {
        let direct = matches!(other.limits, Limits::Direct(_));
        let bounds = rows(&other.limits, &[]).filter_map(lower);
        let known = bounds.filter_map(|bound| Some((bound, bound.limit.root.constant()?)));
        if direct && other.when.is_none() && other.instead.is_empty() {
            sure.extend(known);
        } else {
            possible.extend(known);
        }
    }
    let greatest = sure.into_iter().max_by(|(_, a), (_, b)| a.cmp(b));
    greatest.or_else(|| possible.into_iter().min_by(|(_, a), (_, b)| a.cmp(b)))
}

fn is_included_angle(node: &Node, own: PartId, rules: &RulesFile) -> bool {
    match &node.op {
        Op::Call(Function::IncludedAngle, _) => true,
        Op::Call(Function::Lowest, list) => list
            .first()
            .is_some_and(|one| is_included_angle(one, own, rules)),
        Op::Derived(Scope::Own, slot) => rules
            .derived_value(own, *slot)
            .is_some_and(|one| is_included_angle(&one.root, own, rules)),
        _ => false,
    }
}
