//! What is said of overlays with a fault: a folder for each under `tests/overlay-faults/`, with the overlay and the
//! narrated messages. They are for the rules that stand beside the folders. Adding a folder adds a case.
//!
//! `RIMEGAUGE_REWRITE=1` writes the messages as they are now; read them before they are committed.

use std::fs;
use std::path::Path;

use rimegauge::diagnostic::narrate;
use rimegauge::rules::{self, RulesFile};

use super::fault_folders::{folders, told_as_expected};

fn small_rules() -> RulesFile {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/overlay-faults/rules.yaml");
    rules::load("rules.yaml", &fs::read(path).unwrap()).unwrap()
}

#[test]
fn every_faulty_overlay_is_told_what_is_wrong_with_it() {
    let rules = small_rules();
    told_as_expected(
        "overlay-faults",
        "overlay.yaml",
        43,
        |bytes| match rules::lay_over(&rules, "overlay.yaml", bytes) {
            Ok(laid) => (narrate(&laid.notices), true),
            Err(found) => (narrate(&found), false),
        },
    );
}

/// What the schema refuses the loader refuses, and the version can be read of whatever can be laid.
#[test]
fn the_schema_says_no_more_than_the_loader() {
    let rules = small_rules();
    for case in folders("overlay-faults") {
        let bytes = fs::read(case.join("overlay.yaml")).unwrap();
        let Ok(laid) = rules::lay_over(&rules, "overlay.yaml", &bytes) else {
            continue;
        };
        let source = rimegauge::text::decode("overlay.yaml", &bytes).unwrap();
        let node = rimegauge::text::parse_yaml(&source).unwrap();
        for schema in [None, Some(&rules)] {
            let schema = rimegauge::diagnostic::Schema::new(rules::overlay_schema(schema)).unwrap();
            let found = schema.beside(&source, &node, Ok(()));
            assert!(found.is_ok(), "{}: {found:?}", case.display());
        }
        let asked = rules::overlay_for("overlay.yaml", &bytes).unwrap();
        assert_eq!(asked.version, laid.rules.version);
    }
}
