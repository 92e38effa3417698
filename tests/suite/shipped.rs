//! The shipped classes and their filled forms, for laws that are tried on them.

use std::fs;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use rimegauge::check::Plan;
use rimegauge::diagnostic::narrate;
use rimegauge::rules;

use super::workbench::Bench;

/// Name and text of every filled form of the first class for its version before the newest, by name.
pub fn forms() -> Vec<(String, String)> {
    let mut forms = forms_of("tarn-8");
    forms.retain(|(_, text)| measured_on(text) < NEWEST_FROM);
    assert!(forms.len() >= 7);
    forms
}

/// The same for its newest version.
pub fn newest_forms() -> Vec<(String, String)> {
    let mut forms = forms_of("tarn-8");
    forms.retain(|(_, text)| measured_on(text) >= NEWEST_FROM);
    assert!(forms.len() >= 2);
    forms
}

/// The first day of the newest version of the first class.
const NEWEST_FROM: &str = "2027-09-01";

/// The day on which a filled form was measured; days sort as texts.
fn measured_on(text: &str) -> &str {
    let (_, day) = text.split_once("\nmeasured: { day: ").unwrap();
    &day[..10]
}

/// Name and text of every filled form of a class, by name.
fn forms_of(class: &str) -> Vec<(String, String)> {
    let line = format!("\nclass: {class}\n");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("forms/filled");
    let files = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path());
    let mut forms: Vec<(String, String)> = files
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(path).unwrap())
        })
        .filter(|(_, text)| text.contains(&line))
        .collect();
    forms.sort();
    assert!(!forms.is_empty(), "no form of {class}");
    forms
}

/// Names and texts of filled forms.
type Forms = Vec<(String, String)>;

/// Both classes, each with one of its event levels and its filled forms; the first one in two versions.
pub fn classes() -> [(Bench, &'static str, Forms); 3] {
    [
        (tarn_8(), "regional", forms()),
        (newest_tarn_8(), "continental", newest_forms()),
        (ghyll_2(), "championship", forms_of("ghyll-2")),
    ]
}

/// The newest version of the first class.
pub fn newest_tarn_8() -> Bench {
    static PLAN: OnceLock<Bench> = OnceLock::new();
    PLAN.get_or_init(|| bench("tarn-8/4.0.0.yaml")).clone()
}

/// The version of the first class before the newest.
pub fn tarn_8() -> Bench {
    static PLAN: OnceLock<Bench> = OnceLock::new();
    PLAN.get_or_init(|| bench("tarn-8/3.1.0.yaml")).clone()
}

/// The latest version of the second class.
pub fn ghyll_2() -> Bench {
    static PLAN: OnceLock<Bench> = OnceLock::new();
    PLAN.get_or_init(|| bench("ghyll-2/2.0.0.yaml")).clone()
}

fn bench(name: &str) -> Bench {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("rules")
        .join(name);
    let rules = rules::load(name, &fs::read(path).unwrap());
    let rules = rules.unwrap_or_else(|found| panic!("{}", narrate(&found)));
    Bench::of(Plan::compile(Arc::new(rules)))
}
