//! Which measures a rule looks at, through derived values and zones.

use crate::expression::{Expression, Node, Op};
use crate::rules::{Rule, RulesFile, rows};
use crate::vocabulary::{HoldingId, MeasureId, PartId, ZoneKind};

/// Visits a node and everything below it.
pub(super) fn each<'n>(node: &'n Node, visit: &mut dyn FnMut(&'n Node)) {
    visit(node);
    for child in node.children() {
        each(child, visit);
    }
}

/// The roots of all expressions, each with the part that is its own.
pub(super) fn roots(rules: &RulesFile) -> Vec<(PartId, &Node)> {
    let mut found = Vec::new();
    for rule in &rules.rules {
        found.extend(of_rule(rule).into_iter().map(|one| (one.own, &one.root)));
    }
    for derived in rules.derived.iter().flatten() {
        found.push((derived.own, &derived.root));
    }
    found
}

/// The expressions of a rule that is asked: value, limits, the ends of its places. The condition is none of them.
fn of_rule(rule: &Rule) -> Vec<&Expression> {
    let mut found = vec![&rule.value];
    for row in rows(&rule.limits, &rule.instead) {
        found.extend(row.demand.expressions());
    }
    if let Some(spacing) = rule.places.as_ref().and_then(|one| one.spacing.as_ref()) {
        found.extend([&spacing.from, &spacing.to]);
    }
    found
}

/// A measure of a part, and whether the part under judgement is the one that has it.
pub(super) type Used = (PartId, MeasureId);

/// Every measure that a node looks at.
pub(super) fn measures(rules: &RulesFile, own: PartId, node: &Node, found: &mut Vec<Used>) {
    let vocabulary = &rules.vocabulary;
    match &node.op {
        Op::Measure(scope, measure) => {
            if let Some(part) = scope.part(own, vocabulary)
                && !found.contains(&(part, *measure))
            {
                found.push((part, *measure));
            }
        }
        Op::Derived(scope, slot) => {
            if let Some(part) = scope.part(own, vocabulary)
                && let Some(derived) = rules.derived_value(part, *slot)
            {
                measures(rules, part, &derived.root, found);
            }
        }
        Op::Count { over, .. } | Op::Sum { over, .. } => {
            let own = part_of(rules, *over).unwrap_or(own);
            for child in node.children() {
                measures(rules, own, child, found);
            }
        }
        _ => {
            for child in node.children() {
                measures(rules, own, child, found);
            }
        }
    }
}

fn part_of(rules: &RulesFile, holding: HoldingId) -> Option<PartId> {
    rules.vocabulary.holding(holding).map(|one| one.part)
}

/// Every measure that a rule looks at once it applies, with those that its zones rest on.
pub(super) fn by_rule(rules: &RulesFile, rule: &Rule) -> Vec<Used> {
    let mut found = Vec::new();
    for one in of_rule(rule) {
        measures(rules, one.own, &one.root, &mut found);
    }
    if let Some(when) = &rule.when {
        measures(rules, when.own, &when.root, &mut found);
    }
    let Some(part) = rules.vocabulary.part(rule.applies_to) else {
        return found;
    };
    for zone in super::places::zones(rule) {
        let names = match part.zones.get(zone.index()).map(|one| &one.kind) {
            Some(ZoneKind::WithinOf { of, .. }) => vec![of],
            Some(ZoneKind::Along { profile, from, .. }) => vec![profile, from],
            Some(ZoneKind::WithinOfEdge(_) | ZoneKind::Between(..)) | None => Vec::new(),
        };
        for name in names {
            if let Some(slot) = part.measure_named(&name.text) {
                found.push((rule.applies_to, slot));
            } else if let Some(slot) = part.derived_named(&name.text)
                && let Some(derived) = rules.derived_value(rule.applies_to, slot)
            {
                measures(rules, rule.applies_to, &derived.root, &mut found);
            }
        }
    }
    found
}
