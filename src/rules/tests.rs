//! The shipped class loads, and the library finds the right version.

use super::*;
use crate::diagnostic::narrate;
use crate::quantity::DateSpan;

fn day(text: &str) -> crate::quantity::Date {
    DateSpan::parse(text).unwrap().as_day().unwrap()
}

#[test]
fn every_embedded_version_loads() {
    let library = Library::embedded().unwrap_or_else(|found| panic!("{}", narrate(&found)));
    let all = library
        .all()
        .unwrap_or_else(|found| panic!("{}", narrate(&found)));
    assert_eq!(all.len(), super::library::EMBEDDED.len());
    assert_eq!(library.classes(), ["ghyll-2", "tarn-8"]);
    for rules in &all {
        assert!(
            rules.rules.len() >= 30,
            "{} has {} rules",
            rules.version,
            rules.rules.len()
        );
    }
}

#[test]
fn a_class_alone_is_the_version_in_force_on_the_day() {
    let library = Library::embedded().unwrap();
    let resolved = library.resolve("tarn-8", day("2026-10-31")).unwrap();
    assert_eq!(resolved.rules.version.to_string(), "3.0.0");
    assert_eq!(
        resolved
            .later
            .as_ref()
            .map(|(version, _)| version.to_string()),
        Some("3.1.0".to_owned())
    );
    let resolved = library.resolve("tarn-8", day("2026-11-01")).unwrap();
    assert_eq!(resolved.rules.version.to_string(), "3.1.0");
    let later = resolved.later.map(|(version, _)| version.to_string());
    assert_eq!(later, Some("4.0.0".to_owned()));
    let resolved = library.resolve("tarn-8", day("2027-09-01")).unwrap();
    assert!(resolved.later.is_none());
    let resolved = library.resolve("tarn-8@^2", day("2026-11-01")).unwrap();
    assert_eq!(resolved.rules.version.to_string(), "2.4.0");
}

#[test]
fn an_unknown_class_and_a_version_that_is_not_there_are_named() {
    let library = Library::embedded().unwrap();
    let on = day("2026-11-01");
    let message = |reference: &str| narrate(&library.resolve(reference, on).unwrap_err());
    assert!(
        message("tarn8").contains("did you mean `tarn-8`?"),
        "{}",
        message("tarn8")
    );
    assert!(message("tarn-8@3.2.0").contains("there are: 2.4.0, 3.0.0, 3.1.0"));
    assert!(message("tarn-8@three").contains("neither a version nor a requirement"));
    let early = narrate(&library.resolve("tarn-8@^3", day("2020-01-01")).unwrap_err());
    assert!(
        early.contains("3.0.0 is in force from 2025-11-01"),
        "{early}"
    );
}
