//! A finding as a diagnostic: one report that points at the value in the record and at the limit in the
//! rules.

use crate::check::Outcome;
use crate::diagnostic::{Diagnostic, Label};

use super::message::{At, Message};
use super::parts::Figure;

/// A finding as a diagnostic. It is a notice: equipment that does not conform is not bad input.
pub fn diagnostic(message: &Message) -> Diagnostic {
    let code = match message.outcome {
        Outcome::DoesNotConform => "check.does_not_conform",
        Outcome::NotDecided => "check.not_decided",
        Outcome::Conforms => "check.conforms",
        Outcome::NotApplicable => "check.not_applicable",
    };
    let outcome = message.outcome.words();
    let place = message
        .place
        .as_ref()
        .map_or(String::new(), |place| format!(" {place}"));
    let margin = message.figures.margin.as_ref().map(Figure::text);
    let said = [margin, message.why.clone(), message.places.clone()];
    let said: Vec<String> = said.into_iter().flatten().collect();
    let why = if said.is_empty() {
        String::new()
    } else {
        format!(", {}", said.join(", "))
    };
    let mut diagnostic = Diagnostic::notice(
        code,
        format!(
            "{}: {} {outcome}{place}{why}",
            message.item,
            message.heading()
        ),
    );
    // Short, since it stands beside the line of the record.
    let found = match &message.figures.value {
        Some(value) => value.text(),
        None => message.why.clone().unwrap_or_default(),
    };
    diagnostic.labels.push(label(&message.record_at, found));
    diagnostic.labels.extend(
        message
            .also_at
            .iter()
            .map(|at| label(at, "also from here".to_owned())),
    );
    let asked = message
        .figures
        .limit
        .as_ref()
        .map_or(String::new(), Figure::text);
    diagnostic.labels.push(label(&message.rules_at, asked));
    let mut help = Vec::new();
    if !message.text.is_empty() {
        help.push(message.text.clone());
    }
    help.extend(
        message
            .exemption
            .as_ref()
            .map(|because| format!("Other limit: {because}.")),
    );
    help.extend(message.settle.as_ref().map(|settle| sentence(settle)));
    help.extend(message.elsewhere.iter().map(|said| sentence(said)));
    help.extend(message.remarks.iter().map(|said| sentence(said)));
    help.extend(message.notes.iter().map(|said| sentence(said)));
    help.extend(message.said.iter().map(|said| sentence(&said.words())));
    help.extend(message.remedy.clone());
    if !help.is_empty() {
        diagnostic.help = Some(help.join("\n"));
    }
    diagnostic.clause.clone_from(&message.clause);
    diagnostic
}

fn label(at: &At, words: String) -> Label {
    Label {
        source: std::sync::Arc::clone(&at.source),
        span: at.span,
        words,
    }
}

/// A remark with a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .map(|letter| letter.to_uppercase().collect())
        .unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}
