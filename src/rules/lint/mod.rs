//! Lint of single rules: what loads and still is not what a class can have meant.

mod conditions;
mod declared;
mod life;
mod limits;
mod missing_rows;
mod numbers;
mod range;
mod relief;
mod words;

use std::collections::BTreeMap;

pub use life::lint_beside;

use super::load_rule::rows;
use super::model::*;
use crate::diagnostic::{Diagnostic, Severity};
use crate::expression::{Function, Op};
use crate::quantity::Exact;
use crate::text::{Span, quoted};
use crate::vocabulary::{ChoiceId, Name, ZoneId};

/// What is wrong or doubtful in a rules file that loads, in the order of the file.
pub fn lint(rules: &RulesFile) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    clauses(rules, &mut found);
    for rule in &rules.rules {
        words(rules, &rule.id, &rule.title, &rule.text, &mut found);
        for row in rows(&rule.limits, &rule.instead) {
            contradiction(rules, rule, row, &mut found);
        }
        choices(rules, rule, &mut found);
        conditions::conditions(rules, rule, &mut found);
        limits::limits(rules, rule, &mut found);
        relief::relief(rules, rule, &mut found);
        numbers::numbers(rules, rule, &mut found);
        one_place_is_enough(rules, rule, &mut found);
    }
    for mark in &rules.marks {
        words(rules, &mark.id, &mark.title, "-", &mut found);
        levels(rules, mark, &mut found);
        let own = rules.vocabulary.holding(mark.item).map(|one| one.part);
        let caps = mark.of_which.iter().map(|cap| &cap.condition);
        let pairs = mark.pairs.iter().map(|pairs| &pairs.condition);
        for condition in caps.chain(pairs) {
            if let Some(own) = own {
                conditions::mark_condition(rules, own, &mark.clause, condition, &mut found);
            }
        }
        numbers::mark_numbers(rules, mark, &mut found);
    }
    life::without_a_rule(rules, &mut found);
    unused(rules, &mut found);
    found
}

/// The least and the greatest value of a rule that a record can come to at all, base units; nothing where there is no end.
pub fn ends_of_values(rules: &RulesFile, rule: &Rule) -> (Option<Exact>, Option<Exact>) {
    let range = range::range_of(&rule.value.root, rule.applies_to, rules);
    (range.low, range.high)
}

/// The fault of a rule, or of a limit on marks, that no case touches.
pub fn without_a_case(rules: &RulesFile, id: &Name, clause: &Name) -> Diagnostic {
    Diagnostic::fault("lint.no_case", format!("no case touches the rule {}", quoted(&id.text)))
        .label(&rules.source, id.span, "never tried")
        .help("add a file under cases/ with an item that conforms, one that does not and one that stays open")
        .clause(clause.text.clone())
}

/// The notice of a row, a condition, an exemption or a cap of a rule that no case touches.
pub fn part_without_a_case(rules: &RulesFile, id: &str, what: &str, at: Span) -> Diagnostic {
    let message = format!("{}: no case touches: {what}", quoted(id));
    Diagnostic::notice("lint.no_case", message)
        .label(&rules.source, at, "never tried")
        .help("add a case for it under cases/")
}

fn clauses(rules: &RulesFile, found: &mut Vec<Diagnostic>) {
    let mut seen: BTreeMap<&str, &Name> = BTreeMap::new();
    let all = rules
        .rules
        .iter()
        .map(|rule| &rule.clause)
        .chain(rules.marks.iter().map(|mark| &mark.clause));
    for clause in all {
        match seen.get(clause.text.as_str()) {
            Some(first) => found.push(
                Diagnostic::fault(
                    "lint.clause_twice",
                    format!("two rules have the clause number {}", clause.text),
                )
                .label(&rules.source, clause.span, "again here")
                .label(&rules.source, first.span, "first here")
                .help("each clause is printed once; give one of them its own number"),
            ),
            None => {
                seen.insert(&clause.text, clause);
            }
        }
    }
}

fn words(rules: &RulesFile, id: &Name, title: &str, text: &str, found: &mut Vec<Diagnostic>) {
    for (what, words) in [("title", title), ("text", text)] {
        if words.trim().is_empty() {
            found.push(
                Diagnostic::fault(
                    "lint.no_words",
                    format!("the rule {} has no {what}", quoted(&id.text)),
                )
                .label(&rules.source, id.span, format!("no `{what}` in this rule"))
                .help("a sailor reads the words beside the numbers"),
            );
        }
    }
}

/// A lower limit above an upper one: nothing can meet both.
fn contradiction(rules: &RulesFile, rule: &Rule, row: &LimitRow, found: &mut Vec<Diagnostic>) {
    let Demand::Bounds(bounds) = &row.demand else {
        return;
    };
    let lower = bounds.iter().find(|bound| bound.kind.is_lower());
    let upper = bounds.iter().find(|bound| !bound.kind.is_lower());
    let (Some(lower), Some(upper)) = (lower, upper) else {
        return;
    };
    let (Some(low), Some(high)) = (lower.exact_limit(), upper.exact_limit()) else {
        return;
    };
    let strict = lower.exact_kind().is_strict() || upper.exact_kind().is_strict();
    if low < high || (low == high && !strict) {
        return;
    }
    found.push(
        Diagnostic::fault(
            "lint.contradiction",
            format!(
                "{}: {} {} and {} {} contradict each other; nothing can meet both",
                quoted(&rule.id.text),
                lower.kind.words(),
                lower.limit.text,
                upper.kind.words(),
                upper.limit.text
            ),
        )
        .label(&rules.source, lower.span, "from here up")
        .label(&rules.source, upper.span, "from here down")
        .help("mend the one that is wrong")
        .clause(rule.clause.text.clone()),
    );
}

/// Choices that a table has no row for, where the rule's condition does not take them out.
fn choices(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let (names, rows, span, what): (&[Name], _, _, _) = match &rule.limits {
        Limits::Direct(_) => return,
        // Zones without a row are no gap: there nothing is asked.
        Limits::ByZone { .. } => return,
        Limits::ByTraits { .. } => return missing_rows::several(rules, rule, found),
        Limits::ByTrait { by, span, rows } => {
            let part = rules.vocabulary.part(rule.applies_to);
            match part.and_then(|part| part.traits.get(by.index())) {
                Some(one) => (one.kind.names(), rows, *span, Some(*by)),
                None => return,
            }
        }
        Limits::ByLevel { span, rows } => {
            (rules.vocabulary.event_levels.as_slice(), rows, *span, None)
        }
    };
    let lacking: Vec<&Name> = names
        .iter()
        .enumerate()
        .filter(|(at, _)| !rows.iter().any(|(choice, _)| choice.index() == *at))
        .filter(|(at, _)| {
            let choice = u16::try_from(*at).map(ChoiceId);
            match (what, choice) {
                (Some(by), Ok(choice)) => conditions::can_be(rules, rule, &[by], &[choice]),
                _ => true,
            }
        })
        .map(|(_, name)| name)
        .collect();
    if lacking.is_empty() {
        return;
    }
    let list: Vec<String> = lacking.iter().map(|name| quoted(&name.text)).collect();
    let (severity, meaning) = match (rules.silence, what) {
        (Silence::Forbids, Some(_)) => (Severity::Fault, "under closed rules it does not conform"),
        (Silence::Permits, Some(_)) => {
            (Severity::Notice, "under open rules nothing is asked of it")
        }
        (_, None) => (Severity::Fault, "nothing is asked at such an event"),
    };
    let mut diagnostic = Diagnostic::fault(
        "lint.no_row",
        format!(
            "{} has no row of limits for {}; {meaning}",
            quoted(&rule.id.text),
            list.join(", ")
        ),
    )
    .label(&rules.source, span, "the table by this")
    .help("add the row, or say with `when` that the rule is not about it")
    .clause(rule.clause.text.clone());
    for name in lacking {
        diagnostic = diagnostic.label(&rules.source, name.span, "has no row");
    }
    diagnostic.severity = severity;
    found.push(diagnostic);
}

fn levels(rules: &RulesFile, mark: &MarkRule, found: &mut Vec<Diagnostic>) {
    let MarkLimits::ByLevel { span, rows } = &mark.limits else {
        return;
    };
    let lacking: Vec<String> = rules
        .vocabulary
        .event_levels
        .iter()
        .enumerate()
        .filter(|(at, _)| !rows.iter().any(|(level, _)| level.index() == *at))
        .map(|(_, name)| quoted(&name.text))
        .collect();
    if !lacking.is_empty() {
        found.push(
            Diagnostic::fault(
                "lint.no_row",
                format!(
                    "{} has no row for the level {}; marks are not limited there",
                    quoted(&mark.id.text),
                    lacking.join(", ")
                ),
            )
            .label(&rules.source, *span, "the table by this")
            .help(format!("add a row for {}", lacking.join(", ")))
            .clause(mark.clause.text.clone()),
        );
    }
}

/// The zones that a table has rows for.
fn in_table(limits: &Limits) -> impl Iterator<Item = ZoneId> {
    let rows = match limits {
        Limits::ByZone { rows, .. } => rows.as_slice(),
        Limits::Direct(_)
        | Limits::ByTrait { .. }
        | Limits::ByTraits { .. }
        | Limits::ByLevel { .. } => &[],
    };
    rows.iter().filter_map(|(id, _)| *id)
}

/// An extreme of places without a number of places: a single one would do.
fn one_place_is_enough(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let mut extreme = None;
    let own = rule.applies_to;
    range::written_out(rules, &rule.value.root, own, &mut |node| {
        if let Op::Call(Function::Lowest | Function::Highest, _) = &node.op {
            extreme = Some(node.span);
        }
    });
    if extreme.is_none() || rule.places.is_some() {
        return;
    }
    let message = format!(
        "{} is judged by the extreme of places, and does not say how many it needs: one would be enough",
        quoted(&rule.id.text)
    );
    let diagnostic = Diagnostic::notice("lint.one_place", message)
        .label(&rules.source, rule.value.span, "of any number of places")
        .help("add `places: { at_least: 3 }`")
        .clause(rule.clause.text.clone());
    found.push(diagnostic);
}

/// Zones and choices that no rule speaks of are told as notices.
fn unused(rules: &RulesFile, found: &mut Vec<Diagnostic>) {
    for (at, part) in rules.vocabulary.parts.iter().enumerate() {
        let own = || {
            rules
                .rules
                .iter()
                .filter(move |rule| rule.applies_to.index() == at)
        };
        for (zone_at, zone) in part.zones.iter().enumerate() {
            let used = own().any(|rule| {
                rule.outside.iter().any(|(id, _)| id.index() == zone_at)
                    || rule.zone.is_some_and(|(id, _)| id.index() == zone_at)
                    || in_table(&rule.limits).any(|id| id.index() == zone_at)
            });
            if !used {
                found.push(
                    Diagnostic::notice(
                        "lint.unused_zone",
                        format!("no rule looks at the zone {}", quoted(&zone.name.text)),
                    )
                    .label(&rules.source, zone.name.span, "described and never used")
                    .help("name it under `outside` or `zone` of a rule, or take it out"),
                );
            }
        }
    }
}
