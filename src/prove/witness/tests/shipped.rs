//! Filled forms of the shipped classes, read as boats, written again and checked.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use super::boats::boat_of;
use crate::check::Plan;
use crate::diagnostic::narrate;
use crate::prove::witness::{complete, replay};
use crate::prove::{Common, Side, Terms};
use crate::record;
use crate::rules::{self, RulesFile, Stage};
use crate::text::{decode, parse_yaml};

pub fn rules_of(path: &str) -> Arc<RulesFile> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    let bytes = fs::read(&path).unwrap();
    let found = rules::load(&path.to_string_lossy(), &bytes);
    Arc::new(found.unwrap_or_else(|found| panic!("{}", narrate(&found))))
}

/// Forms that conform, each with the version that it is filled for and others that it is sound under too.
const FORMS: [(&str, &str, &[&str]); 3] = [
    (
        "conforming",
        "rules/tarn-8/3.1.0.yaml",
        &["rules/tarn-8/3.0.0.yaml"],
    ),
    (
        "tarn-4-conforming",
        "rules/tarn-8/4.0.0.yaml",
        &["rules/tarn-8/3.1.0.yaml"],
    ),
    (
        "ghyll-conforming",
        "rules/ghyll-2/2.0.0.yaml",
        &["rules/ghyll-2/1.0.0.yaml"],
    ),
];

#[test]
fn a_boat_that_conforms_conforms_when_it_is_written_again() {
    for (form, new, others) in FORMS {
        for old in std::iter::once(&new).chain(others) {
            let (old, new) = (rules_of(old), rules_of(new));
            let path = format!("{}/forms/filled/{form}.yaml", env!("CARGO_MANIFEST_DIR"));
            let source = decode(form, &fs::read(path).unwrap()).unwrap();
            let node = parse_yaml(&source).unwrap();
            let record = record::load(&source, &node, &new.vocabulary);
            let record = record.unwrap_or_else(|found| panic!("{}", narrate(&found)));
            let day = record.measured.day.unwrap();
            let common = Common::of(&old, &new);
            for stage in Stage::ALL {
                let mut terms = Terms::default();
                let boat = boat_of(&record, &common, &mut terms, stage, day);
                let whole = complete(&boat, &common, &terms, &|_, _| true).unwrap();
                let text = whole.record(Side::New).unwrap();
                let plan = Plan::compile(Arc::clone(&new));
                let level = boat
                    .level
                    .and_then(|at| common.levels[usize::from(at)].at.at(Side::New));
                let found = replay(&text, &plan, (stage, level, day));
                let found = found.unwrap_or_else(|found| panic!("{text}\n{}", narrate(&found)));
                let said: Vec<_> = found
                    .findings
                    .iter()
                    .filter(|one| one.outcome < crate::check::Outcome::Conforms)
                    .collect();
                assert!(found.is_legal(), "{form} {stage:?}\n{text}\n{said:#?}");
            }
        }
    }
}
