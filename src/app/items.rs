//! Which items of a record are meant.

use std::collections::BTreeSet;

use crate::diagnostic::{Diagnostic, near_misses};
use crate::report::Labels;
use crate::text::quoted;

use super::exit::Trouble;

/// The items that are named: by id (`S1`), by key (`hull`), by both (`runners/S1`), or all of a key
/// (`runners`). Without names, all.
///
/// # Errors
/// Every name that no item has, or that several have.
pub(super) fn chosen(labels: &Labels, names: &[String]) -> Result<BTreeSet<usize>, Trouble> {
    let all: Vec<(&str, &str)> = labels.iter().collect();
    if names.is_empty() {
        return Ok((0..all.len()).collect());
    }
    let mut found = BTreeSet::new();
    let mut wrong = Vec::new();
    for name in names.iter().map(|name| name.trim()) {
        let of_key = |whole: &str| whole.split_once('/').is_some_and(|(key, _)| key == name);
        let of_id = |whole: &str| whole.split_once('/').is_some_and(|(_, id)| id == name);
        let matching = |test: &dyn Fn(&str) -> bool| -> Vec<usize> {
            all.iter()
                .enumerate()
                .filter(|(_, (_, whole))| test(whole))
                .map(|(at, _)| at)
                .collect()
        };
        let whole = matching(&|whole| whole == name);
        let group = matching(&of_key);
        let ids = matching(&of_id);
        match (whole.is_empty(), group.is_empty(), ids.as_slice()) {
            (false, _, _) => found.extend(whole),
            (true, false, _) => found.extend(group),
            (true, true, [one]) => {
                found.insert(*one);
            }
            (true, true, []) => wrong.push(unknown(name, &all)),
            (true, true, several) => wrong.push(twice(name, several, &all)),
        }
    }
    if wrong.is_empty() {
        Ok(found)
    } else {
        Err(Trouble::input(wrong))
    }
}

fn unknown(name: &str, all: &[(&str, &str)]) -> Diagnostic {
    let known = all.iter().flat_map(|(short, whole)| [*short, *whole]);
    let help = match near_misses(name, known) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None => {
            let names: Vec<&str> = all.iter().map(|(short, _)| *short).collect();
            format!("the record has: {}", names.join(", "))
        }
    };
    Diagnostic::fault(
        "usage.item",
        format!("the record has no item {}", quoted(name)),
    )
    .help(help)
}

fn twice(name: &str, several: &[usize], all: &[(&str, &str)]) -> Diagnostic {
    let names: Vec<&str> = several
        .iter()
        .filter_map(|at| all.get(*at))
        .map(|(_, whole)| *whole)
        .collect();
    Diagnostic::fault(
        "usage.item",
        format!("{} items have the id {}", names.len(), quoted(name)),
    )
    .help(format!("name one of them: {}", names.join(", ")))
}
