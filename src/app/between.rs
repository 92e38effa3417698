//! What lint says of rules that meet other rules.

use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Severity};
use crate::prove::{Between, between};
use crate::rules::RulesFile;
use crate::text::{Span, quoted};

/// What is between the rules of a version, with the places of all of them. What lint of single rules has `found` is not
/// said again.
pub(super) fn lint_between(rules: &Arc<RulesFile>, found: &[Diagnostic]) -> Vec<Diagnostic> {
    let each = between(rules).into_iter();
    each.filter_map(|one| said(rules, one, found)).collect()
}

fn said(rules: &RulesFile, one: Between, known: &[Diagnostic]) -> Option<Diagnostic> {
    let label = |mut diagnostic: Diagnostic, list: &[(String, Span)], words: &str| {
        for (_, span) in list {
            diagnostic = diagnostic.label(&rules.source, *span, words);
        }
        diagnostic
    };
    match one {
        Between::NoLegalBoat { rules: by } => {
            // A rule that contradicts itself is told where it stands.
            if let [(id, _)] = by.as_slice()
                && known
                    .iter()
                    .any(|one| one.severity == Severity::Fault && is_about(rules, one, id))
            {
                return None;
            }
            let message = format!("no boat is legal: {} can't all be met", names(&by));
            let diagnostic = Diagnostic::fault("lint.no_legal_boat", message);
            Some(
                label(diagnostic, &by, "can't be met with the others")
                    .help("loosen one of them, or say with `when` whom each is for"),
            )
        }
        Between::NoneOfAKind {
            part,
            of,
            choice,
            span,
            rules: by,
        } => {
            let message = format!(
                "no legal boat has a {part} with {of} {choice}: {} leave none",
                names(&by)
            );
            let diagnostic = Diagnostic::fault("lint.none_of_a_kind", message).label(
                &rules.source,
                span,
                "declared here",
            );
            Some(
                label(diagnostic, &by, "leaves none with the others").help(format!(
                    "take {} out of the choices, or give it limits that can be met",
                    quoted(&choice)
                )),
            )
        }
        Between::Implied {
            rule: (id, span),
            by,
        } => {
            let message = if by.is_empty() {
                format!(
                    "{} asks nothing: what it asks is so of every boat",
                    quoted(&id)
                )
            } else {
                format!(
                    "{} asks nothing that {} ask not already",
                    quoted(&id),
                    names(&by)
                )
            };
            let message = if by.len() == 1 {
                message.replace(" ask not already", " does not ask already")
            } else {
                message.replace(" ask not already", " do not ask already")
            };
            let diagnostic = Diagnostic::notice("lint.implied", message).label(
                &rules.source,
                span,
                "asks nothing more",
            );
            Some(
                label(diagnostic, &by, "asks it already")
                    .help("take it out, or make it tighter than the others"),
            )
        }
        Between::ExemptsNobody {
            rule: (id, span),
            exemption,
            by,
        } => {
            let message = if by.is_empty() {
                format!(
                    "an exemption of {} exempts nobody: it is no looser than the limit itself for those it names",
                    quoted(&id)
                )
            } else {
                format!(
                    "an exemption of {} exempts nobody: {} leave none whom it could",
                    quoted(&id),
                    names(&by)
                )
            };
            let diagnostic = Diagnostic::notice("lint.exempts_nobody", message)
                .label(&rules.source, exemption, "this exemption")
                .label(&rules.source, span, "of this rule");
            Some(label(diagnostic, &by, "leaves none").help("take it out, or say whom it is for"))
        }
        Between::Unknown { what, why } => {
            let message = format!("it is not known {what}: {why}");
            Some(Diagnostic::notice("lint.undecided", message).label(
                &rules.source,
                rules.class.span,
                "these rules",
            ))
        }
    }
}

fn is_about(rules: &RulesFile, diagnostic: &Diagnostic, id: &str) -> bool {
    let rule = rules.rules.iter().find(|rule| rule.id.text == id);
    rule.is_some_and(|rule| {
        diagnostic.clause.as_deref() == Some(rule.clause.text.as_str())
            || diagnostic.message.contains(id)
    })
}

fn names(list: &[(String, Span)]) -> String {
    let quoted: Vec<String> = list.iter().map(|(id, _)| quoted(id)).collect();
    match quoted.as_slice() {
        [] => "the laws of measures".to_owned(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}
