//! A version among the others of its class.

use super::declared;
use crate::diagnostic::Diagnostic;
use crate::rules::{Demand, Effect, Interpretation, Rule, RulesFile, Status, dropped_out, rows};
use crate::text::quoted;

/// What is wrong with a version beside the other versions of its class.
pub fn lint_beside(rules: &RulesFile, others: &[&RulesFile]) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    let of_class = others
        .iter()
        .filter(|other| other.class.text == rules.class.text && other.version != rules.version);
    for other in of_class.clone() {
        let adopted = rules.status == Status::Adopted && other.status == Status::Adopted;
        if adopted && rules.version > other.version && rules.in_force_from < other.in_force_from {
            let message = format!(
                "{} is in force from {}, before the lower version {} ({}): from that day on it counts no longer",
                rules.version, rules.in_force_from, other.version, other.in_force_from
            );
            let diagnostic = Diagnostic::fault("lint.earlier_day", message)
                .label(&rules.source, rules.version_span, "the higher version")
                .label(
                    &other.source,
                    other.version_span,
                    "the lower version, with a later day",
                )
                .help("a higher version begins on the same day or later; mend one of the days");
            found.push(diagnostic);
        }
    }
    let Some(replaced) = &rules.replaces else {
        return found;
    };
    let Some(before) = of_class.clone().find(|other| other.version == *replaced) else {
        declared::not_looked_up(rules, replaced, &mut found);
        return found;
    };
    for dropped in dropped_out(before, rules) {
        let message = format!(
            "the interpretation {} of {} is not in {} any more, and nothing says why",
            quoted(&dropped.id.text),
            before.version,
            rules.version
        );
        let diagnostic = Diagnostic::fault("lint.interpretation_dropped", message)
            .label(&before.source, dropped.id.span, "in force here")
            .label(&rules.source, rules.version_span, "not in this version")
            .help("keep it with its status: `absorbed`, `withdrawn` or `expired`");
        found.push(diagnostic);
    }
    effects(rules, before, &mut found);
    declared::declared(rules, before, &mut found);
    found
}

/// An interpretation that says of itself that something becomes legal or illegal, in a file without a rule that
/// was changed for it: the rules are checked as they stood.
pub(super) fn without_a_rule(rules: &RulesFile, found: &mut Vec<Diagnostic>) {
    for one in &rules.interpretations {
        if one.effect == Effect::None || !one.changed.is_empty() {
            continue;
        }
        let message = format!(
            "the interpretation {} has an effect, and names no rule that was changed for it",
            quoted(&one.id.text)
        );
        found.push(effect(rules, one, message));
    }
}

/// The same beside the version that is replaced: rules that are named and stand as they stood.
fn effects(rules: &RulesFile, before: &RulesFile, found: &mut Vec<Diagnostic>) {
    let known = |one: &Interpretation| {
        let mut old = before.interpretations.iter();
        old.any(|old| old.id == one.id && old.effect != Effect::None)
    };
    for one in &rules.interpretations {
        if one.effect == Effect::None || one.changed.is_empty() || known(one) {
            continue;
        }
        let changed = |name: &crate::vocabulary::Name| {
            let rule = |rules: &RulesFile| {
                let mut all = rules.rules.iter();
                let rule = all.find(|rule| rule.id == *name)?;
                Some(data_of(rules, rule))
            };
            rule(rules) != rule(before)
        };
        if one.changed.iter().any(changed) {
            continue;
        }
        let message = format!(
            "the interpretation {} has an effect, and no rule that it names differs from {}",
            quoted(&one.id.text),
            before.version
        );
        let mut diagnostic = effect(rules, one, message);
        for name in &one.changed {
            diagnostic = diagnostic.label(&rules.source, name.span, "as it was");
        }
        found.push(diagnostic);
    }
}

fn effect(rules: &RulesFile, one: &Interpretation, message: String) -> Diagnostic {
    Diagnostic::fault("lint.effect_without_rule", message)
        .label(&rules.source, one.id.span, "has an effect")
        .help(
            "change the rule that it is about and name it under `changed`, or write `effect: none`",
        )
}

/// What a rule asks, as text: values, conditions, limits, places and zones, without the words for people.
fn data_of(rules: &RulesFile, rule: &Rule) -> Vec<String> {
    let zone_names = rule.outside.iter().chain(&rule.zone).map(|(zone, _)| {
        let part = rules.vocabulary.part(rule.applies_to);
        let zone = part.and_then(|part| part.zones.get(zone.index()));
        zone.map_or(String::new(), |zone| zone.name.text.clone())
    });
    let conditions = rule
        .when
        .iter()
        .chain(rule.instead.iter().map(|row| &row.condition));
    let mut said: Vec<String> = std::iter::once(&rule.value)
        .chain(conditions)
        .map(|one| one.text.clone())
        .chain(zone_names)
        .collect();
    for row in rows(&rule.limits, &rule.instead) {
        match &row.demand {
            Demand::Bounds(bounds) => {
                let told = |bound: &crate::rules::Bound| {
                    format!(
                        "{} {} {:?}",
                        bound.kind.word(),
                        bound.limit.text,
                        bound.rounded.as_ref().map(|one| one.to.clone())
                    )
                };
                said.extend(bounds.iter().map(told));
            }
            Demand::Equals(equals, _) => said.push(format!("{equals:?}")),
            Demand::Only(list, _) => said.push(format!("only {list:?}")),
            Demand::Without(list, _) => said.push(format!("without {list:?}")),
            Demand::Options(options) => {
                said.extend(
                    options
                        .columns
                        .iter()
                        .map(|column| column.value.text.clone()),
                );
                let cells = options.rows.iter().flat_map(|row| &row.values);
                said.extend(cells.map(|cell| format!("{:?}", cell.0.value)));
            }
            Demand::None => said.push("none".to_owned()),
        }
    }
    said.push(format!("{:?}", rule.checked_at));
    if let Some(places) = &rule.places {
        let spacing = places.spacing.as_ref().map(|one| &one.at_most.value);
        said.push(format!(
            "{} {} {spacing:?}",
            places.at_least, places.repeats
        ));
    }
    said.extend(
        rule.instead
            .iter()
            .map(|row| format!("{} {:?}", row.unproven_takes_main, row.until)),
    );
    said
}
