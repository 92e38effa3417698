//! What cases made from the rules came to: counts, and what no case could be made of.

use serde_json::{Value, json};

use crate::boundary::OfRule;
use crate::check::cases::{CaseResult, Covered};
use crate::diagnostic::{Diagnostic, safe_line, to_json};
use crate::rules::RulesFile;

use super::cases::{coverage_json, share};
use super::layout::{flow, wrap};

/// The counts of one version for people.
pub fn generated_text(
    rules: &RulesFile,
    of_rules: &[OfRule],
    results: &[CaseResult],
    covered: &Covered,
    out: &str,
    width: usize,
) -> String {
    let wrong = results
        .iter()
        .filter(|result| !result.wrong.is_empty())
        .count();
    let cases: usize = of_rules.iter().map(|rule| rule.cases).sum();
    let with = of_rules.iter().filter(|rule| rule.cases > 0).count();
    let pieces = [
        format!("{cases} cases written to {}", safe_line(out)),
        match wrong {
            0 => "all as expected".to_owned(),
            wrong => format!("{wrong} otherwise than the rules say"),
        },
        format!("{with} of {} rules tried", of_rules.len()),
        format!(
            "{} of {} touched ({})",
            covered.touched,
            covered.all,
            share(covered)
        ),
    ];
    let mut lines = wrap(
        &format!("{} {}", safe_line(&rules.title), rules.version),
        width,
    );
    lines.extend(flow(&pieces, " · ", width));
    for rule in of_rules {
        for left_out in &rule.left_out {
            lines.extend(wrap(
                &safe_line(&format!("not tried: {}: {left_out}", rule.id)),
                width,
            ));
        }
    }
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// The counts of one version for programs.
pub fn generated_json(
    rules: &RulesFile,
    of_rules: &[OfRule],
    results: &[CaseResult],
    covered: &Covered,
    faults: &[Diagnostic],
    out: &str,
) -> Value {
    let wrong: Vec<Diagnostic> = results
        .iter()
        .flat_map(|result| result.wrong.iter().cloned())
        .collect();
    let told = |list: &[Diagnostic]| {
        to_json(list)
            .get("diagnostics")
            .cloned()
            .unwrap_or(Value::Null)
    };
    let each = of_rules
        .iter()
        .map(|rule| json!({ "rule": rule.id, "cases": rule.cases, "left_out": rule.left_out }));
    json!({
        "format": "rimegauge-generated/1",
        "class": rules.class.text,
        "version": rules.version.to_string(),
        "file": out,
        "cases": of_rules.iter().map(|rule| rule.cases).sum::<usize>(),
        "rules_tried": of_rules.iter().filter(|rule| rule.cases > 0).count(),
        "rules": each.collect::<Vec<_>>(),
        "coverage": coverage_json(rules, covered),
        "wrong": told(&wrong),
        "faults": told(faults),
    })
}
