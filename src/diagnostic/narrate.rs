//! The narrated printer: sentences without drawing, for screen readers and logs.

use std::fmt::Write;

use super::model::{Diagnostic, Label, Severity};
use super::order::arrange;
use super::safe::{safe_line, safe_text};

/// All messages in sentences, one paragraph each, parted by an empty line. No colour, no drawing;
/// every place is named with file, line and column, and what stands there is quoted.
pub fn narrate(diagnostics: &[Diagnostic]) -> String {
    let mut text = String::new();
    for (index, diagnostic) in arrange(diagnostics).into_iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        // Writing to a string does not fail.
        let _ = paragraph(&mut text, diagnostic);
    }
    text
}

fn paragraph(text: &mut String, diagnostic: &Diagnostic) -> std::fmt::Result {
    let severity = match diagnostic.severity {
        Severity::Fault => "Fault",
        Severity::Notice => "Notice",
    };
    let message = safe_line(&diagnostic.message);
    writeln!(
        text,
        "{severity} {}: {}",
        diagnostic.code,
        sentence(&message)
    )?;
    for (index, label) in diagnostic.labels.iter().enumerate() {
        writeln!(text, "{}", place(label, index == 0))?;
    }
    if let Some(help) = &diagnostic.help {
        // No full stop: help may end with something to copy.
        writeln!(text, "Help: {}", safe_text(help))?;
    }
    if let Some(clause) = &diagnostic.clause {
        writeln!(text, "Clause {}", sentence(&safe_line(clause)))?;
    }
    Ok(())
}

fn place(label: &Label, first: bool) -> String {
    let name = safe_line(label.source.name());
    let lead = if first { "" } else { "See also " };
    if label.source.text().is_empty() {
        // A file that could not be read as text, or an empty one: there is no line to name.
        return format!("{}{name}.", if first { "In " } else { lead });
    }
    let at = label.source.line_column(label.span.start);
    let mut text = format!(
        "{}{name}, line {}, column {}",
        if first { "At " } else { lead },
        at.line,
        at.column
    );
    let written = label.source.slice(label.span);
    if !written.trim().is_empty() {
        text.push_str(", ");
        text.push_str(&safe_line(&crate::text::quoted(written)));
    }
    if label.words.is_empty() {
        text.push('.');
    } else {
        text.push_str(": ");
        text.push_str(&sentence(&safe_line(&label.words)));
    }
    text
}

/// A text with a full stop, unless it ends with a mark of its own.
fn sentence(text: &str) -> String {
    let text = text.trim_end();
    if text.ends_with(['.', '?', '!', ':']) {
        text.to_string()
    } else {
        format!("{text}.")
    }
}

/// How many messages there are: `2 faults, 1 notice`; nothing for none.
pub fn summary(diagnostics: &[Diagnostic]) -> String {
    let all = arrange(diagnostics);
    let count = |severity, one: &str| {
        let count = all
            .iter()
            .filter(|found| found.severity == severity)
            .count();
        match count {
            0 => None,
            1 => Some(format!("1 {one}")),
            many => Some(format!("{many} {one}s")),
        }
    };
    [
        count(Severity::Fault, "fault"),
        count(Severity::Notice, "notice"),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(", ")
}
