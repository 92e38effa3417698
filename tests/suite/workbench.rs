//! A small class, records of it, and what a check says of them, for the tests of the check.
//!
//! Rules are the text of a rules file, and records are text too: every test goes the whole way through the
//! loaders. The class, its limits and its readings are invented.

use std::collections::BTreeMap;
use std::sync::Arc;

use proptest::prelude::ProptestConfig;
use rimegauge::check::cases::id_of;
use rimegauge::check::{Context, Finding, ItemRef, Outcome, Plan, Reason, RuleRef, Verdict};
use rimegauge::diagnostic::{Diagnostic, narrate};
use rimegauge::quantity::{Date, DateSpan};
use rimegauge::record::{self, Record};
use rimegauge::rules::{self, BoundKind, Stage};
use rimegauge::text;

/// The decision rule of each stage, the guard factor and what silence means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Policy {
    pub decisions: [&'static str; 3],
    pub guard_factor: &'static str,
    pub silence: &'static str,
}

/// As the shipped class decides: home and the measurer ask for proof, the inspector has to prove.
pub const SHIPPED: Policy = Policy {
    decisions: [
        "guarded_acceptance",
        "guarded_acceptance",
        "guarded_rejection",
    ],
    guard_factor: "1",
    silence: "forbids",
};

/// Each decision rule at one stage.
pub const EACH: Policy = Policy {
    decisions: [
        "simple_acceptance",
        "guarded_acceptance",
        "guarded_rejection",
    ],
    guard_factor: "1",
    silence: "forbids",
};

/// One decision rule at every stage.
pub fn always(decision: &'static str) -> Policy {
    Policy {
        decisions: [decision; 3],
        ..SHIPPED
    }
}

/// A rules file of a policy with its equipment and rules, both indented as they stand in a file.
pub fn rules_text(policy: Policy, equipment: &str, rules: &str) -> String {
    let [home, desk, event] = policy.decisions;
    format!(
        "format: rimegauge-rules/1
class: tarn-8
title: Tarn 8, small rules
version: 1.0.0
status: adopted
in_force_from: 2026-11-01
authority: Tarn 8 Class Association, Technical Committee
silence: {}
decision:
  coverage_probability: 95 %
  guard_factor: {}
  self_check: {home}
  certification: {desk}
  event_inspection: {event}
event: {{ levels: [club, regional] }}
equipment:
{equipment}
{rules}
",
        policy.silence, policy.guard_factor,
    )
}

/// How many cases a law is tried on, unless `PROPTEST_CASES` says another number.
pub fn cases(number: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok();
    ProptestConfig {
        cases: asked.and_then(|text| text.parse().ok()).unwrap_or(number),
        // A counterexample is printed whole; it becomes a test by name, not a file of numbers.
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// A day in the text form.
pub fn day(text: &str) -> Date {
    DateSpan::parse(text).unwrap().as_day().unwrap()
}

/// Rules ready to be asked.
#[derive(Clone)]
pub struct Bench {
    pub plan: Arc<Plan>,
    /// The day of the check.
    pub on: Date,
    /// The event's level, by its word.
    pub level: Option<&'static str>,
}

impl Bench {
    /// Of the text of a rules file.
    pub fn new(text: &str) -> Bench {
        let rules = rules::load("small.yaml", text.as_bytes());
        let rules = rules.unwrap_or_else(|found| panic!("{}", narrate(&found)));
        Bench::of(Plan::compile(Arc::new(rules)))
    }

    /// Of a plan.
    pub fn of(plan: Plan) -> Bench {
        Bench {
            plan: Arc::new(plan),
            on: day("2026-11-21"),
            level: None,
        }
    }

    /// The same at an event of a level.
    pub fn at_level(mut self, level: &'static str) -> Bench {
        self.level = Some(level);
        self
    }

    /// A record from its text: a whole one where it begins with `format`, else a part of one.
    pub fn try_record(&self, text: &str) -> Result<Record, Vec<Diagnostic>> {
        let source = text::decode("record.yaml", text.as_bytes()).unwrap();
        let node = text::parse_yaml(&source).unwrap_or_else(|found| panic!("{found:?}\n{text}"));
        let vocabulary = &self.plan.rules().vocabulary;
        if node.get("format").is_some() {
            record::load(&source, &node, vocabulary)
        } else {
            record::load_fragment(&source, &node, vocabulary)
        }
    }

    /// A record from its text.
    pub fn record(&self, text: &str) -> Record {
        self.try_record(text)
            .unwrap_or_else(|found| panic!("{}\n{text}", narrate(&found)))
    }

    fn context(&self, purpose: Stage) -> Context {
        let levels = &self.plan.rules().vocabulary;
        Context {
            purpose,
            day: self.on,
            level: self
                .level
                .map(|word| levels.event_level_named(word).unwrap()),
        }
    }

    /// The verdict on a record.
    pub fn check(&self, record: &Record, purpose: Stage) -> Verdict {
        self.plan.check(record, &self.context(purpose))
    }

    /// The verdict as a fleet is told it: outcomes alone.
    pub fn brief(&self, record: &Record, purpose: Stage) -> Verdict {
        self.plan.check_briefly(record, &self.context(purpose))
    }

    /// The worst outcome of a rule over a record given as text, with the reason of the first finding of it.
    pub fn ask(&self, text: &str, purpose: Stage, rule: &str) -> (Outcome, Option<Reason>) {
        let record = self.record(text);
        let verdict = self.check(&record, purpose);
        let found = self.of_rule(&verdict, rule);
        let worst = found.iter().map(|one| one.outcome).min();
        let worst = worst.unwrap_or_else(|| panic!("no finding of {rule}"));
        let first = found.iter().find(|one| one.outcome == worst).unwrap();
        (worst, first.reason)
    }

    /// The findings of a rule.
    pub fn of_rule<'v>(&self, verdict: &'v Verdict, rule: &str) -> Vec<&'v Finding> {
        let rules = self.plan.rules();
        verdict
            .findings
            .iter()
            .filter(|one| id_of(rules, one.rule) == rule)
            .collect()
    }
}

/// A finding by what stays the same when a record is rearranged: rule, item by its name, side. Of a limit on
/// marks the number of the cap is part of the rule.
pub type Key = (String, String, &'static str);

/// What a verdict says, by name.
pub fn told(bench: &Bench, record: &Record, verdict: &Verdict) -> BTreeMap<Key, Finding> {
    let all = verdict.findings.iter().map(|finding| {
        let key = key_of(bench, record, finding);
        (key, finding.clone())
    });
    let count = verdict.findings.len();
    let told: BTreeMap<Key, Finding> = all.collect();
    assert_eq!(told.len(), count, "two findings with one name");
    told
}

/// The name of a finding.
pub fn key_of(bench: &Bench, record: &Record, finding: &Finding) -> Key {
    let rules = bench.plan.rules();
    let rule = match finding.rule {
        RuleRef::Marks(_, Some(cap)) => format!("{}/{cap}", id_of(rules, finding.rule)),
        RuleRef::Pairs(_) => format!("{}/pairs", id_of(rules, finding.rule)),
        RuleRef::Bring(_, entry) => format!("{}/bring/{entry}", id_of(rules, finding.rule)),
        RuleRef::Role(_, role) => format!("equipment/{}", role.0),
        RuleRef::Silence(id) => format!("silence/{}", id.0),
        RuleRef::Unlisted(number) => format!("unlisted/{number}"),
        _ => id_of(rules, finding.rule).to_owned(),
    };
    let item = match finding.item {
        ItemRef::Item(at) => item_name(bench, record, at),
        ItemRef::Holding(id) => rules.vocabulary.holding(id).unwrap().key.text.clone(),
    };
    (rule, item, finding.side.map_or("", BoundKind::word))
}

/// An item by its name.
pub fn item_name(bench: &Bench, record: &Record, at: usize) -> String {
    let item = &record.items[at];
    match item.holding {
        None => "boat".to_owned(),
        Some(id) => {
            let holding = bench.plan.rules().vocabulary.holding(id).unwrap();
            match &item.id {
                None => holding.key.text.clone(),
                Some(id) => format!("{}/{id}", holding.key.text),
            }
        }
    }
}

/// The worst outcome by rule and item.
pub fn worst_by_item(
    bench: &Bench,
    record: &Record,
    verdict: &Verdict,
) -> BTreeMap<(String, String), Outcome> {
    let mut worst: BTreeMap<(String, String), Outcome> = BTreeMap::new();
    for finding in &verdict.findings {
        let (rule, item, _) = key_of(bench, record, finding);
        let place = worst.entry((rule, item)).or_insert(finding.outcome);
        *place = (*place).min(finding.outcome);
    }
    worst
}
