//! Invented boats held to the rules that they were made of.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Maker, Settings, Share};
use crate::check::{Context, Outcome, Plan};
use crate::record::Loader;
use crate::rules::{Library, RulesFile, Stage};
use crate::text::{Source, parse_json_line};

fn rules(reference: &str) -> Arc<RulesFile> {
    let library = Library::embedded().unwrap();
    let day = crate::quantity::Date::constant(2100, 1, 1);
    library.resolve(reference, day).unwrap().rules
}

/// What a check says of some boats: outcomes by rule, item and reason.
#[derive(Default, Debug)]
struct Found {
    all: usize,
    conform: usize,
    fail: usize,
    missing: usize,
    worst: BTreeMap<String, usize>,
}

fn check(rules: &Arc<RulesFile>, settings: Settings, boats: u64, stage: Stage) -> Found {
    let maker = Maker::new(rules, settings).unwrap();
    let plan = Plan::compile(Arc::clone(rules));
    let loader = Loader::new(&rules.vocabulary);
    let mut found = Found::default();
    for number in 0..boats {
        let mut text = String::new();
        maker.boat(number, &mut text);
        let source = Arc::new(Source::new("boat.jsonl", text.clone()));
        let line = parse_json_line(&source, 0..text.len() - 1)
            .unwrap_or_else(|faults| panic!("{text}\n{faults:#?}"));
        let record = loader
            .load(&source, &line)
            .unwrap_or_else(|faults| panic!("{text}\n{faults:#?}"));
        let day = record.measured.day.unwrap();
        let context = Context {
            purpose: stage,
            day,
            level: None,
        };
        for finding in plan.check(&record, &context).findings {
            if finding.outcome == Outcome::NotApplicable {
                continue;
            }
            found.all += 1;
            if finding.outcome == Outcome::Conforms {
                found.conform += 1;
                continue;
            }
            if finding.outcome == Outcome::DoesNotConform {
                found.fail += 1;
            }
            if finding.reason == Some(crate::check::Reason::NotMeasured) {
                found.missing += 1;
            }
            let id = match finding.rule {
                crate::check::RuleRef::Rule(at) => rules.rules[at].id.text.clone(),
                ref other => format!("{other:?}"),
            };
            let words = format!("{id} {:?} {:?}", finding.outcome, finding.reason);
            *found.worst.entry(words).or_default() += 1;
        }
    }
    found
}

/// Versions of both classes.
const VERSIONS: [&str; 2] = ["tarn-8@3.1.0", "ghyll-2@1.0.0"];

#[test]
fn most_findings_conform_and_every_record_loads() {
    for reference in VERSIONS {
        let rules = rules(reference);
        let settings = Settings {
            close: Share::NONE,
            ..Settings::default()
        };
        let found = check(&rules, settings, 6, Stage::Certification);
        assert!(
            found.conform * 100 >= found.all * 95,
            "{reference}: {found:#?}"
        );
    }
}

#[test]
fn a_boat_is_the_same_whatever_was_made_before() {
    let rules = rules("tarn-8@3.1.0");
    let one = Maker::new(&rules, Settings::default()).unwrap();
    let mut many = String::new();
    for number in 0..3 {
        one.boat(number, &mut many);
    }
    let mut alone = String::new();
    one.boat(2, &mut alone);
    assert!(many.ends_with(&alone));
}

#[test]
fn odd_shares_are_refused() {
    for text in ["101 %", "-1 %", "5 mm", "", "many"] {
        assert!(Share::read(text).is_err(), "{text}");
    }
    assert_eq!(Share::read("5%").unwrap().parts(), 50_000);
    assert_eq!(Share::read("0.5 %").unwrap().parts(), 5_000);
}
