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
    items: usize,
    failing_items: usize,
    measures: usize,
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
        found.items += record.items.len();
        found.measures += text.matches("\"readings\"").count();
        let findings = plan.check(&record, &context).findings;
        let failing = |item: usize| {
            findings.iter().any(|finding| {
                finding.item == crate::check::ItemRef::Item(item)
                    && finding.outcome == Outcome::DoesNotConform
            })
        };
        found.failing_items += (0..record.items.len())
            .filter(|item| failing(*item))
            .count();
        for finding in findings {
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

/// Every shipped version of both classes.
const VERSIONS: [&str; 6] = [
    "tarn-8@2.4.0",
    "tarn-8@3.0.0",
    "tarn-8@3.1.0",
    "tarn-8@4.0.0",
    "ghyll-2@1.0.0",
    "ghyll-2@2.0.0",
];

fn without_doubt(seed: u64) -> Settings {
    Settings {
        seed,
        close: Share::NONE,
        ..Settings::default()
    }
}

#[test]
fn boats_without_faults_conform_whatever_the_version() {
    for reference in VERSIONS {
        let rules = rules(reference);
        for stage in [Stage::SelfCheck, Stage::Certification] {
            let found = check(&rules, without_doubt(3), 5, stage);
            assert_eq!(found.conform, found.all, "{reference}: {found:#?}");
        }
    }
}

#[test]
fn faults_and_gaps_come_at_the_rate_that_is_asked_for() {
    let rules = rules("ghyll-2@1.0.0");
    let faulty = Settings {
        faults: Share::read("10 %").unwrap(),
        ..without_doubt(5)
    };
    let found = check(&rules, faulty, 60, Stage::Certification);
    let share = found.failing_items * 100 / found.items;
    assert!(
        (6..=14).contains(&share),
        "{share} % of {} items",
        found.items
    );
    assert_eq!(found.missing, 0);
    let whole = check(&rules, without_doubt(5), 60, Stage::Certification);
    assert_eq!(whole.failing_items, 0);
    let gappy = Settings {
        missing: Share::read("10 %").unwrap(),
        ..without_doubt(5)
    };
    let found = check(&rules, gappy, 60, Stage::Certification);
    assert!(found.missing > 0 && found.failing_items == 0, "{found:#?}");
    let left = found.measures * 100 / whole.measures;
    assert!(
        (85..=95).contains(&left),
        "{left} % of the readings are left"
    );
}

/// The bytes of a fleet are the same on every machine: no digit of them comes of floating point that is rounded otherwise
/// elsewhere.
#[test]
fn the_same_seed_gives_the_same_bytes() {
    for (reference, digest) in [
        (
            "tarn-8@3.1.0",
            "sha256:67d3d39e29ebb0bd5fb7c63e7bb0e4ada7020d34c91be56c634e44e690820b8d",
        ),
        (
            "ghyll-2@2.0.0",
            "sha256:44947a02183bed8e3c3f90ab8eeb5a5c1cf4de3c19acba993836ee95d5e62759",
        ),
    ] {
        let rules = rules(reference);
        let settings = Settings {
            seed: 8,
            missing: Share::read("5 %").unwrap(),
            faults: Share::read("5 %").unwrap(),
            ..Settings::default()
        };
        let maker = Maker::new(&rules, settings).unwrap();
        let mut text = String::new();
        for number in 0..4 {
            maker.boat(number, &mut text);
        }
        assert_eq!(crate::rules::digest(text.as_bytes()), digest, "{reference}");
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
