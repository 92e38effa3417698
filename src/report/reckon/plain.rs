//! A reckoning in sentences, for screen readers and logs.

use super::super::budget::budget_sentences;
use super::{Outcome, Reckoned};

/// The sentences, one a line, with the budget of U where it is asked for.
pub fn reckoned_plain(reckoned: &Reckoned, budget: bool) -> String {
    let coverage = &reckoned.coverage;
    let mut lines = Vec::new();
    match &reckoned.result {
        Outcome::Text(text) => lines.push(format!("{}: {text}.", reckoned.what)),
        Outcome::Amount(amount) => {
            lines.push(format!("{}: {}.", reckoned.what, amount.text(coverage)));
            lines.extend(
                amount
                    .coverage_text(coverage)
                    .map(|text| format!("{text}.")),
            );
        }
    }
    for beside in reckoned.beside.iter().filter(|one| !one.words.is_empty()) {
        lines.extend(beside.words.lines().map(|line| format!("{line}.")));
    }
    for line in &reckoned.formula {
        lines.push(format!("Formula: {line}."));
    }
    for step in &reckoned.steps {
        lines.push(format!("Step: {step}."));
    }
    if let Some(budget) = reckoned.budget().filter(|_| budget) {
        lines.extend(budget_sentences(&budget));
    }
    for notice in &reckoned.notices {
        lines.push(format!("Note: {notice}."));
    }
    lines.push(format!("Source: {}.", reckoned.source));
    lines.iter().map(|line| format!("{line}\n")).collect()
}
