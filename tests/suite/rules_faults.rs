//! What is said of rules files with a fault: a folder for each under `tests/rules-faults/`, with the file and the
//! narrated messages of the loader, or where it loads, of the lint. Adding a folder adds a case.
//!
//! `RIMEGAUGE_REWRITE=1` writes the messages as they are now; read them before they are committed.

use std::fs;

use rimegauge::diagnostic::{Severity, narrate};
use rimegauge::rules;

use super::fault_folders::{folders, told_as_expected};

/// What is said of a file, and whether it can be used.
fn said(bytes: &[u8]) -> (String, bool) {
    match rules::load("rules.yaml", bytes) {
        Ok(rules) => {
            let found = rules::lint(&rules);
            let good = found.iter().all(|one| one.severity == Severity::Notice);
            (narrate(&found), good)
        }
        Err(found) => {
            assert!(!found.is_empty(), "refused without a word");
            (narrate(&found), false)
        }
    }
}

#[test]
fn every_faulty_rules_file_is_told_what_is_wrong_with_it() {
    told_as_expected("rules-faults", "rules.yaml", 145, said);
}

/// A message names the place, and says what is accepted or what to do.
#[test]
fn every_message_has_a_place() {
    for case in folders("rules-faults") {
        let bytes = fs::read(case.join("rules.yaml")).unwrap();
        let found = match rules::load("rules.yaml", &bytes) {
            Ok(rules) => rules::lint(&rules),
            Err(found) => found,
        };
        for diagnostic in found {
            let name = case.display();
            let label = diagnostic
                .labels
                .first()
                .unwrap_or_else(|| panic!("{name}: no place: {diagnostic:?}"));
            let length = label.source.text().len();
            assert!(label.span.end as usize <= length, "{name}");
            assert!(!diagnostic.message.trim().is_empty(), "{name}");
            assert!(
                !diagnostic.message.ends_with('.'),
                "{name}: {}",
                diagnostic.message
            );
            assert!(
                diagnostic
                    .help
                    .as_ref()
                    .is_some_and(|help| !help.trim().is_empty()),
                "{name}: no help: {}",
                diagnostic.message
            );
        }
    }
}
