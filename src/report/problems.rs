//! Messages about bad input, in the format that was asked for.

use crate::diagnostic::{Diagnostic, DrawOptions, Severity, draw, narrate};

use super::printer::Format;

/// Messages as text, and whether it belongs on standard output: JSON and JUnit do, alone; what people read
/// goes beside the report.
pub fn problems(
    diagnostics: &[Diagnostic],
    format: Format,
    width: usize,
    colour: bool,
) -> (String, bool) {
    match format {
        Format::Human => {
            let options = DrawOptions {
                width,
                colour,
                ..DrawOptions::default()
            };
            let mut text = draw(diagnostics, options);
            if !text.ends_with('\n') {
                text.push('\n');
            }
            (text, false)
        }
        Format::Plain => (narrate(diagnostics), false),
        Format::Json => (
            super::json::end(false, &super::json::problems(diagnostics)),
            true,
        ),
        Format::Junit => {
            let cases: Vec<String> = diagnostics.iter().map(super::junit::problem).collect();
            (
                format!("{}{}", super::junit::BEGIN, super::junit::end(&cases)),
                true,
            )
        }
    }
}

/// `2 faults, 1 notice`; `no faults` when there is nothing to count.
pub fn problem_counts(diagnostics: &[Diagnostic]) -> String {
    let count = |severity| {
        diagnostics
            .iter()
            .filter(|one| one.severity == severity)
            .count()
    };
    let piece = |count: usize, one: &str| match count {
        0 => format!("no {one}s"),
        1 => format!("1 {one}"),
        many => format!("{many} {one}s"),
    };
    let (faults, notices) = (count(Severity::Fault), count(Severity::Notice));
    match notices {
        0 => piece(faults, "fault"),
        _ => format!("{}, {}", piece(faults, "fault"), piece(notices, "notice")),
    }
}
