//! A version among the others of its class.

use crate::diagnostic::Diagnostic;
use crate::rules::{InterpretationStatus, RulesFile, Status};
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
        return found;
    };
    for dropped in before
        .interpretations
        .iter()
        .filter(|one| one.status == InterpretationStatus::InForce)
        .filter(|one| !rules.interpretations.iter().any(|new| new.id == one.id))
    {
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
    found
}
