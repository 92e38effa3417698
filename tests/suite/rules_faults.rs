//! What is said of rules files with a fault: a folder for each under `tests/rules-faults/`, with the file and the
//! narrated messages of the loader, or where it loads, of the lint. Adding a folder adds a case.
//!
//! `RIMEGAUGE_REWRITE=1` writes the messages as they are now; read them before they are committed.

use std::fs;
use std::path::{Path, PathBuf};

use rimegauge::diagnostic::{Severity, narrate};
use rimegauge::rules;

fn cases() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/rules-faults");
    let entries = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path());
    let mut found: Vec<PathBuf> = entries.filter(|path| path.is_dir()).collect();
    found.sort();
    found
}

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
    let rewrite = std::env::var_os("RIMEGAUGE_REWRITE").is_some();
    let mut wrong = Vec::new();
    let all = cases();
    for case in &all {
        let name = case.file_name().unwrap().to_string_lossy().into_owned();
        let bytes = fs::read(case.join("rules.yaml")).unwrap();
        let (text, good) = said(&bytes);
        // One file is as it should be, so that a fault of all of them would be seen.
        if good != (name == "none") {
            wrong.push(format!("{name} can be used: {good}\n{text}"));
        }
        let expected = case.join("expected.txt");
        if rewrite {
            fs::write(&expected, &text).unwrap();
        } else if fs::read_to_string(&expected).unwrap_or_default() != text {
            wrong.push(format!("{name}\n{text}"));
        }
    }
    assert!(wrong.is_empty(), "not as expected:\n{}", wrong.join("\n"));
    assert!(all.len() >= 140, "only {} cases", all.len());
}

/// A message names the place, and says what is accepted or what to do.
#[test]
fn every_message_has_a_place() {
    for case in cases() {
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
