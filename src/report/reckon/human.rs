//! A reckoning for a person at a terminal: the result first, then what led to it.

use super::super::budget::budget_table;
use super::super::layout::wrap;
use super::{Outcome, Reckoned};

/// The text at so many columns, with the budget of U where it is asked for.
pub fn reckoned_text(reckoned: &Reckoned, width: usize, budget: bool) -> String {
    let coverage = &reckoned.coverage;
    let mut lines = Vec::new();
    match &reckoned.result {
        Outcome::Text(text) => lines.extend(wrap(&format!("{}: {text}", reckoned.what), width)),
        Outcome::Amount(amount) => {
            let head = format!("{}: {}", reckoned.what, amount.text(coverage));
            lines.extend(wrap(&head, width));
            if let Some(text) = amount.coverage_text(coverage) {
                lines.extend(wrap(&text, width));
            }
        }
    }
    let beside = reckoned.beside.iter().filter(|one| !one.words.is_empty());
    for one in beside {
        lines.extend(one.words.lines().flat_map(|line| wrap(line, width)));
    }
    if let Some(picture) = &reckoned.picture {
        lines.push(String::new());
        lines.extend(picture.drawn(width));
    }
    if !reckoned.formula.is_empty() {
        lines.push(String::new());
        let indented = |line: &String| -> Vec<String> {
            let room = width.saturating_sub(4);
            let lines = wrap(line, room).into_iter().enumerate();
            lines
                .map(|(at, line)| format!("{}{line}", if at == 0 { "  " } else { "    " }))
                .collect()
        };
        lines.extend(reckoned.formula.iter().flat_map(indented));
    }
    if !reckoned.steps.is_empty() {
        lines.push(String::new());
        lines.extend(reckoned.steps.iter().flat_map(|step| wrap(step, width)));
    }
    if let Some(budget) = reckoned.budget().filter(|_| budget) {
        lines.push(String::new());
        lines.extend(budget_table(&budget, width, false));
    }
    if !reckoned.notices.is_empty() {
        lines.push(String::new());
        lines.extend(reckoned.notices.iter().flat_map(|one| wrap(one, width)));
    }
    lines.push(String::new());
    lines.extend(wrap(&format!("Source: {}", reckoned.source), width));
    let mut text = String::new();
    for line in lines {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
