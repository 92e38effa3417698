//! What cases came to: counts, and what no case touches.

use std::fmt::Write;

use serde_json::{Value, json};

use crate::check::cases::{CaseResult, Covered};
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
    let missing = covered.missing.iter().filter(|_| faults.is_empty());
    lines.extend(missing.flat_map(|one| wrap(&format!("not touched: {one}"), width)));
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
        "coverage": { "touched": covered.touched, "all": covered.all, "share": share(covered), "missing": covered.missing },
        "results": all,
        "faults": diagnostics(faults),
    })
}

/// `99.7 %`, rounded down, so that 100 % is said only where it is exact.
fn share(covered: &Covered) -> String {
    if covered.all == 0 {
        return "nothing to touch".to_owned();
    }
    let tenths = covered.touched * 1000 / covered.all;
    match tenths % 10 {
        0 => format!("{} %", tenths / 10),
        tenth => format!("{}.{tenth} %", tenths / 10),
    }
}
