//! The cases of the demo class, so that an installed program can try its rules in an empty folder.

use super::model::RulesFile;

/// Name and text of every file in `rules/tarn-8/cases`, in the order of their names.
pub const EMBEDDED_CASES: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/cases.rs"));

/// The embedded cases of a version, if it is an embedded one itself, byte for byte.
pub fn cases_of(rules: &RulesFile) -> Option<&'static [(&'static str, &'static str)]> {
    let embedded = super::library::EMBEDDED
        .iter()
        .any(|(_, text)| *text == rules.source.text());
    embedded.then_some(EMBEDDED_CASES)
}
