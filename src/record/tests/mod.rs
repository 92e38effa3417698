//! Tests of the record room, by the vocabulary of the demo class.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod filled;
mod groups;
mod line_tree;
mod quick;

use std::sync::{Arc, OnceLock};

use crate::diagnostic::Faults;
use crate::text::{self, Source};
use crate::vocabulary::{self, Vocabulary};

/// The vocabulary of a rules text.
fn vocabulary_of(name: &str, rules: &str) -> Vocabulary {
    let source = Source::new(name, rules);
    let tree = text::parse_yaml(&source).unwrap();
    let mut faults = Faults::new(&source);
    let vocabulary = vocabulary::load(
        tree.entry("equipment").unwrap(),
        tree.entry("event"),
        &mut faults,
    );
    let found = faults.into_found();
    assert!(found.is_empty(), "{}", crate::diagnostic::narrate(&found));
    vocabulary
}

/// The vocabulary of the demo class.
fn tarn_8() -> &'static Vocabulary {
    static VOCABULARY: OnceLock<Vocabulary> = OnceLock::new();
    VOCABULARY.get_or_init(|| {
        vocabulary_of(
            "3.1.0.yaml",
            include_str!("../../../rules/tarn-8/3.1.0.yaml"),
        )
    })
}

/// Every filled form of the demo class that this version knows: name and text.
fn filled_forms() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/forms/filled");
    let mut forms: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "yaml")
        })
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read_to_string(&path).unwrap())
        })
        .filter(|(_, form)| form.contains("\nclass: tarn-8\n"))
        // Those of the newest version name what this one lacks.
        .filter(|(name, _)| !name.starts_with("tarn-4-"))
        .collect();
    forms.sort();
    forms
}

fn source_of(name: &str, text: &str) -> Arc<Source> {
    Source::new(name, text)
}
