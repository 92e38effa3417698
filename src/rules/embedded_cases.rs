//! The cases of the classes that the program brings along, so that it can try their rules in an empty folder.

use super::model::RulesFile;

/// Name and text of every file in a folder of cases, in the order of their names.
type Cases = &'static [(&'static str, &'static str)];

/// The cases of each class, in the order of the classes' names.
pub const EMBEDDED_CASES: &[(&str, Cases)] = include!(concat!(env!("OUT_DIR"), "/cases.rs"));

/// The embedded cases of a version, if it is an embedded one itself, byte for byte.
pub fn cases_of(rules: &RulesFile) -> Option<Cases> {
    super::library::EMBEDDED
        .iter()
        .find(|(_, text)| *text == rules.source.text())?;
    EMBEDDED_CASES
        .iter()
        .find(|(class, _)| *class == rules.class.text)
        .map(|(_, cases)| *cases)
}
