//! The narrated report: sentences without drawing, for screen readers and logs.

use std::fmt::Write;

use crate::diagnostic::safe_line;
use crate::rules::Caution;

use super::budget::{budget_sentences, budgets};
use super::checked::{Checked, Counts};
use super::human::{self, boat, caution_line, occasion, rules_line};
use super::message::Message;
use super::printer::Options;

/// A record: who and under what, then a sentence for each finding, then the counts.
pub(super) fn record(checked: &Checked, options: &Options) -> String {
    let mut messages = Message::some(checked, options.all);
    messages.sort_by(human::order);
    let mut text = String::new();
    let boat = boat(checked).replace("  ", " ");
    let outcome = checked.verdict.outcome.words();
    let line = checked
        .record
        .source
        .line_column(checked.record.span.start)
        .line;
    // Writing to a string does not fail.
    let _ = writeln!(
        text,
        "{boat}: {outcome}. {}, {}. Record {}, line {line}.",
        rules_line(checked),
        occasion(checked),
        safe_line(checked.record.source.name())
    );
    for note in checked.notes() {
        let _ = writeln!(text, "Note: {note}.");
    }
    for message in &messages {
        let _ = write!(text, "{}", message.sentence());
        if let Some(remedy) = &message.remedy {
            let _ = write!(text, " {remedy}");
        }
        text.push('\n');
    }
    for budget in budgets(messages.iter()) {
        for sentence in budget_sentences(budget) {
            let _ = writeln!(text, "{sentence}");
        }
    }
    let _ = writeln!(text, "{boat}: {}.", checked.counts().pieces().join(", "));
    text
}

/// Totals of many records, and the cautions.
pub(super) fn end(
    options: &Options,
    records: Counts,
    not_read: usize,
    cautions: &[Caution],
) -> String {
    let mut text = String::new();
    if options.many {
        let _ = write!(
            text,
            "Records: {}; {}",
            records.total(),
            records.pieces().join(", ")
        );
        if not_read > 0 {
            let _ = write!(text, ", {not_read} not read");
        }
        text.push_str(".\n");
    }
    let _ = writeln!(text, "{}", caution_line(cautions));
    text
}
