//! Rows that a table by several traits lacks.

use super::super::model::*;
use super::conditions;
use crate::diagnostic::{Diagnostic, Severity};
use crate::text::quoted;
use crate::vocabulary::{ChoiceId, Name};

/// Pairs of choices that a table by several traits has no row for.
pub(super) fn several(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    /// So many rows that are missing are named, of so many that are looked for.
    const NAMED: usize = 6;
    const LOOKED_AT: usize = 10_000;
    let (Limits::ByTraits { by, span, rows }, Some(part)) =
        (&rule.limits, rules.vocabulary.part(rule.applies_to))
    else {
        return;
    };
    let axes: Vec<&[Name]> = by
        .iter()
        .filter_map(|id| part.traits.get(id.index()))
        .map(|one| one.kind.names())
        .collect();
    let lengths = axes.iter().map(|names| names.len());
    let count = lengths.fold(1, usize::saturating_mul).min(LOOKED_AT);
    let mut lacking: Vec<String> = Vec::new();
    let mut more = 0_usize;
    for number in 0..count {
        let mut rest = number;
        // The last trait changes fastest, as in the file.
        let mut places: Vec<usize> = axes
            .iter()
            .rev()
            .map(|names| {
                let at = rest % names.len().max(1);
                rest /= names.len().max(1);
                at
            })
            .collect();
        places.reverse();
        let ids: Vec<ChoiceId> = places
            .iter()
            .filter_map(|at| u16::try_from(*at).ok().map(ChoiceId))
            .collect();
        let taken_out = !conditions::can_be(rules, rule, by, &ids);
        if taken_out || rows.iter().any(|(choices, _)| *choices == ids) {
            continue;
        }
        if lacking.len() == NAMED {
            more += 1;
            continue;
        }
        let words = axes.iter().zip(&places);
        let words = words.filter_map(|(names, at)| names.get(*at).map(|name| name.text.as_str()));
        lacking.push(quoted(&words.collect::<Vec<_>>().join(" and ")));
    }
    if lacking.is_empty() {
        return;
    }
    if more > 0 {
        lacking.push(format!("{more} more"));
    }
    let (severity, meaning) = match rules.silence {
        Silence::Forbids => (Severity::Fault, "under closed rules it does not conform"),
        Silence::Permits => (Severity::Notice, "under open rules nothing is asked of it"),
    };
    let mut diagnostic = Diagnostic::fault(
        "lint.no_row",
        format!(
            "{} has no row of limits for {}; {meaning}",
            quoted(&rule.id.text),
            lacking.join(", ")
        ),
    )
    .label(&rules.source, *span, "the table by these")
    .help("add the row, or say with `when` that the rule is not about it")
    .clause(rule.clause.text.clone());
    diagnostic.severity = severity;
    found.push(diagnostic);
}
