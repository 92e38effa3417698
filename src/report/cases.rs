//! What cases came to: counts, and what no case touches.

use std::fmt::Write;

use serde_json::{Value, json};

use crate::check::cases::{CaseResult, Covered, Piece};
use crate::diagnostic::{Diagnostic, safe_line, to_json};
use crate::rules::RulesFile;

use super::layout::{flow, wrap};

/// The counts of one version for people.
pub fn cases_text(
    rules: &RulesFile,
    results: &[CaseResult],
    covered: &Covered,
    faults: &[Diagnostic],
    width: usize,
) -> String {
    let wrong = results
        .iter()
        .filter(|result| !result.wrong.is_empty())
        .count();
    let count = |count: usize, one: &str| {
        if count == 1 {
            format!("1 {one}")
        } else {
            format!("{count} {one}s")
        }
    };
    let mut pieces = vec![count(results.len(), "case")];
    pieces.push(match wrong {
        0 if results.is_empty() => String::new(),
        0 => "all as expected".to_owned(),
        wrong => format!("{wrong} otherwise than expected"),
    });
    if !faults.is_empty() {
        pieces.push(count(faults.len(), "fault"));
    }
    pieces.push(format!(
        "{} of {} touched ({})",
        covered.touched,
        covered.all,
        share(covered)
    ));
    let mut text = String::new();
    let mut lines = wrap(
        &format!("{} {}", safe_line(&rules.title), rules.version),
        width,
    );
    lines.extend(flow(&pieces, " · ", width));
    // Where cases could not be read, it is not known what they would touch.
    let readable = faults.is_empty();
    let kinds: Vec<String> = covered
        .by_kind
        .iter()
        .filter(|_| readable)
        .map(|(kind, touched, all)| format!("{} {touched} of {all}", kind.words()))
        .collect();
    lines.extend(flow(&kinds, " · ", width));
    let missing = covered.missing.iter().filter(|_| readable);
    lines.extend(missing.flat_map(|one| {
        let told = format!("not touched: {one} ({})", place(rules, one));
        wrap(&safe_line(&told), width)
    }));
    for line in lines {
        // Writing to a string does not fail.
        let _ = writeln!(text, "{line}");
    }
    text
}

/// The counts of one version for programs.
pub fn cases_json(
    rules: &RulesFile,
    results: &[CaseResult],
    covered: &Covered,
    faults: &[Diagnostic],
) -> Value {
    let diagnostics = |list: &[Diagnostic]| {
        to_json(list)
            .get("diagnostics")
            .cloned()
            .unwrap_or(Value::Null)
    };
    let all: Vec<Value> = results
        .iter()
        .map(|result| {
            json!({
                "title": result.title,
                "file": result.file,
                "as_expected": result.wrong.is_empty(),
                "wrong": diagnostics(&result.wrong),
            })
        })
        .collect();
    json!({
        "class": rules.class.text,
        "version": rules.version.to_string(),
        "cases": results.len(),
        "wrong": results.iter().filter(|result| !result.wrong.is_empty()).count(),
        "coverage": coverage_json(rules, covered),
        "results": all,
        "faults": diagnostics(faults),
    })
}

/// Where in the rules something stands: `rules/tarn-8/3.1.0.yaml:709:7`.
fn place(rules: &RulesFile, piece: &Piece) -> String {
    let at = rules.source.line_column(piece.span.start);
    format!("{}:{at}", rules.source.name())
}

/// What cases touch, for programs.
pub(super) fn coverage_json(rules: &RulesFile, covered: &Covered) -> Value {
    let by_kind: serde_json::Map<String, Value> = covered
        .by_kind
        .iter()
        .map(|(kind, touched, all)| {
            let count = json!({ "touched": touched, "all": all });
            (kind.word().to_owned(), count)
        })
        .collect();
    let missing_at: Vec<Value> = covered
        .missing
        .iter()
        .map(|piece| {
            let at = rules.source.line_column(piece.span.start);
            json!({
                "kind": piece.kind.word(),
                "rule": piece.rule,
                "what": piece.words,
                "at": { "file": rules.source.name(), "line": at.line, "column": at.column },
            })
        })
        .collect();
    let missing: Vec<String> = covered.missing.iter().map(Piece::to_string).collect();
    json!({
        "touched": covered.touched,
        "all": covered.all,
        "share": share(covered),
        "by_kind": by_kind,
        "missing": missing,
        "missing_at": missing_at,
    })
}

/// `99.7 %`, rounded down, so that 100 % is said only where it is exact.
pub(super) fn share(covered: &Covered) -> String {
    if covered.all == 0 {
        return "nothing to touch".to_owned();
    }
    let tenths = covered.touched * 1000 / covered.all;
    match tenths % 10 {
        0 => format!("{} %", tenths / 10),
        tenth => format!("{}.{tenth} %", tenths / 10),
    }
}
