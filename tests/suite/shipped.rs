//! The shipped class and its filled forms, for laws that are tried on them.

use std::fs;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use rimegauge::check::Plan;
use rimegauge::diagnostic::narrate;
use rimegauge::rules;

use super::workbench::Bench;

/// Name and text of every filled form, by name.
pub fn forms() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("forms/filled");
    let files = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path());
    let mut forms: Vec<(String, String)> = files
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(path).unwrap())
        })
        .collect();
    forms.sort();
    assert!(forms.len() >= 7);
    forms
}

/// The latest version of the class.
pub fn tarn_8() -> Bench {
    static PLAN: OnceLock<Bench> = OnceLock::new();
    let bench = PLAN.get_or_init(|| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/tarn-8/3.1.0.yaml");
        let rules = rules::load("tarn-8/3.1.0.yaml", &fs::read(path).unwrap());
        let rules = rules.unwrap_or_else(|found| panic!("{}", narrate(&found)));
        Bench::of(Plan::compile(Arc::new(rules)))
    });
    bench.clone()
}
