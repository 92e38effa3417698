//! Tests of the room.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod decoding;
mod hostile;
mod lines;
mod ordinary;
mod places;
mod traps;
mod tree;

use super::{Source, TextProblem};

/// A problem as a test states it: code and message, then each label as `line:column [underlined]
/// words`, then the help.
fn told(source: &Source, problem: &TextProblem) -> String {
    let mut lines = vec![format!("{}: {}", problem.code, problem.message)];
    for (span, words) in &problem.labels {
        let at = source.line_column(span.start);
        lines.push(format!("  {at} [{}] {words}", source.slice(*span)));
    }
    lines.extend(problem.help.iter().map(|help| format!("  help: {help}")));
    lines.join("\n")
}

fn told_all(source: &Source, problems: &[TextProblem]) -> String {
    let all: Vec<String> = problems
        .iter()
        .map(|problem| told(source, problem))
        .collect();
    all.join("\n")
}

fn codes(problems: &[TextProblem]) -> Vec<&'static str> {
    problems.iter().map(|problem| problem.code).collect()
}
