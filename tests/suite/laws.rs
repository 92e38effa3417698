//! Laws of the check that hold whatever a record says: stages, order, units, stability.

use std::collections::BTreeMap;
use std::sync::Arc;

use proptest::prelude::*;
use rimegauge::check::{ItemRef, Outcome, Plan, Reason, RuleRef};
use rimegauge::record::Record;
use rimegauge::rules::{RulesFile, Stage};
use rimegauge::text;

use super::shipped;
use super::small::{records, small};
use super::tree::{Dice, Tree};
use super::workbench::{Bench, EACH, Policy, SHIPPED, cases, key_of, told, worst_by_item};

/// Lists of a record whose order says nothing.
const LISTS: [&str; 5] = ["runners", "sails", "places", "checks", "shims"];

fn policies() -> impl Strategy<Value = Policy> {
    let guarded = Policy {
        silence: "permits",
        ..EACH
    };
    prop::sample::select(vec![SHIPPED, EACH, guarded])
}

fn levels() -> impl Strategy<Value = Option<&'static str>> {
    prop::sample::select(vec![None, Some("club"), Some("regional")])
}

/// What a check says, by name: outcome and reason at each purpose.
type Said = BTreeMap<super::workbench::Key, (Outcome, Option<Reason>)>;

fn said(bench: &Bench, record: &Record, purpose: Stage) -> Said {
    let verdict = bench.check(record, purpose);
    let told = told(bench, record, &verdict).into_iter();
    let told = told.map(|(key, finding)| {
        // Where several items leave a rule of the whole boat open, the first of them gives the reason.
        let reason = finding.reason.filter(|_| key.1 != "boat");
        (key, (finding.outcome, reason))
    });
    told.collect()
}

/// Two checks say the same; what they do not is told.
fn same(a: &Said, b: &Said) -> Result<(), TestCaseError> {
    let apart = |x: &Said, y: &Said| -> Vec<_> {
        let only = x.iter().filter(|(key, one)| y.get(*key) != Some(*one));
        only.map(|(key, one)| (key.clone(), *one)).collect()
    };
    let (left, right) = (apart(a, b), apart(b, a));
    prop_assert!(
        left.is_empty() && right.is_empty(),
        "{:?}\n{:?}",
        left,
        right
    );
    Ok(())
}

/// A finding tells under every purpose what a check for that purpose tells.
fn stages_agree(bench: &Bench, record: &Record) -> Result<(), TestCaseError> {
    let verdicts = Stage::ALL.map(|stage| bench.check(record, stage));
    for (own, stage) in verdicts.iter().zip(Stage::ALL) {
        let findings = told(bench, record, own);
        for (other, asked) in verdicts.iter().zip(Stage::ALL) {
            let others = told(bench, record, other);
            let worst = worst_by_item(bench, record, other);
            let mut claimed: BTreeMap<(String, String), Outcome> = BTreeMap::new();
            for (key, finding) in &findings {
                let Some(outcome) = *finding.by_purpose.at(asked) else {
                    let name = (key.0.clone(), key.1.clone());
                    prop_assert!(!worst.contains_key(&name), "{key:?} is asked at {asked:?}");
                    continue;
                };
                if asked == stage {
                    prop_assert_eq!(outcome, finding.outcome);
                }
                if let Some(there) = others.get(key) {
                    prop_assert_eq!(
                        outcome,
                        there.outcome,
                        "{:?}: {:?} says of {:?}",
                        key,
                        stage,
                        asked
                    );
                }
                let name = (key.0.clone(), key.1.clone());
                let place = claimed.entry(name).or_insert(outcome);
                *place = (*place).min(outcome);
            }
            for (name, outcome) in claimed {
                prop_assert_eq!(
                    Some(&outcome),
                    worst.get(&name),
                    "{:?}: {:?} says of {:?}",
                    name,
                    stage,
                    asked
                );
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(100))]

    #[test]
    fn the_stages_of_a_finding_are_what_three_checks_say(
        tree in records(), policy in policies(), level in levels(),
    ) {
        let bench = Bench { level, ..small(policy) };
        let record = bench.record(&tree.to_file());
        stages_agree(&bench, &record)?;
    }

    #[test]
    fn the_order_of_keys_and_items_changes_no_outcome(
        tree in records(), policy in policies(), level in levels(), first in any::<u64>(),
    ) {
        let bench = Bench { level, ..small(policy) };
        let shuffled = tree.shuffled(&LISTS, &mut Dice::new(first));
        let (a, b) = (bench.record(&tree.to_file()), bench.record(&shuffled.to_file()));
        for stage in Stage::ALL {
            same(&said(&bench, &a, stage), &said(&bench, &b, stage))?;
        }
    }

    #[test]
    fn the_units_of_values_change_no_outcome(
        tree in records(), policy in policies(), level in levels(), first in any::<u64>(),
    ) {
        let bench = Bench { level, ..small(policy) };
        // Distances along a scale are as good as their last digit, so their unit is part of what they say.
        let kept = ["forward", "aft", "contact", "bevels", "gap"];
        let other = tree.in_other_units(&kept, &mut Dice::new(first));
        let (a, b) = (bench.record(&tree.to_file()), bench.record(&other.to_file()));
        for stage in Stage::ALL {
            same(&said(&bench, &a, stage), &said(&bench, &b, stage))?;
        }
    }

    #[test]
    fn the_same_input_gives_the_same_output(tree in records(), level in levels()) {
        let bench = Bench { level, ..small(SHIPPED) };
        let file = tree.to_file();
        let (a, b) = (bench.record(&file), bench.record(&file));
        for stage in Stage::ALL {
            let (a, b) = (bench.check(&a, stage), bench.check(&b, stage));
            prop_assert_eq!(format!("{a:?}"), format!("{b:?}"));
        }
    }
}

// ---- the same laws on the shipped class

fn form_tree(form: &str) -> Tree {
    let source = text::decode("form.yaml", form.as_bytes()).unwrap();
    Tree::of(&text::parse_yaml(&source).unwrap())
}

#[test]
fn the_stages_of_the_filled_forms_are_what_three_checks_say() {
    for (bench, level, forms) in shipped::classes() {
        for (name, form) in forms {
            let record = bench.record(&form);
            for bench in [bench.clone(), bench.clone().at_level(level)] {
                stages_agree(&bench, &record).unwrap_or_else(|found| panic!("{name}: {found}"));
            }
        }
    }
}

#[test]
fn order_and_units_change_no_outcome_of_the_filled_forms() {
    // Of what is read off a scale, and of gaps and bevels, the last digit is part of what is said.
    let kept = [
        "forward",
        "aft",
        "contact",
        "bevels",
        "gap",
        "stations",
        "port",
        "starboard",
    ];
    for (bench, level, forms) in shipped::classes() {
        let bench = bench.at_level(level);
        for (name, form) in forms {
            let tree = form_tree(&form);
            let whole = bench.record(&form);
            let before = Stage::ALL.map(|stage| said(&bench, &whole, stage));
            for first in 1..3 {
                let mut dice = Dice::new(first);
                let other = tree.shuffled(&LISTS, &mut dice);
                let other = other.in_other_units(&kept, &mut dice);
                assert_ne!(other, tree);
                let other = bench.record(&other.to_file());
                for (before, stage) in before.iter().zip(Stage::ALL) {
                    same(before, &said(&bench, &other, stage))
                        .unwrap_or_else(|found| panic!("{name}, {first}: {found}"));
                }
            }
        }
    }
}

/// What is said of a part does not hang on the rules of the others, nor on their place in the file.
#[test]
fn the_rules_of_another_part_change_nothing() {
    let bench = shipped::tarn_8().at_level("club");
    let rules = bench.plan.rules();
    let runner = rules.vocabulary.part_named("runner").unwrap();
    let of_runners = |bench: &Bench, form: &str, stage: Stage| -> Vec<String> {
        let record = bench.record(form);
        let verdict = bench.check(&record, stage);
        let of_runner = verdict.findings.iter().filter(|one| match one.item {
            ItemRef::Item(at) => record.items[at].part == runner,
            ItemRef::Holding(_) => false,
        });
        of_runner
            .map(|one| {
                let key = key_of(bench, &record, one);
                // The position of the rule in the file may change; everything else stays.
                let mut rest = one.clone();
                rest.rule = RuleRef::Rule(0);
                format!("{key:?} {rest:?}")
            })
            .collect()
    };
    let mut changed = RulesFile::clone(rules);
    let (mut others, own): (Vec<_>, Vec<_>) = changed
        .rules
        .drain(..)
        .partition(|rule| rule.applies_to != runner);
    Dice::new(5).shuffle(&mut others);
    // Every second one is gone, and the rest stand on both sides of the runners'.
    let others: Vec<_> = others.into_iter().step_by(2).collect();
    let half = others.len() / 2;
    changed.rules = others[half..]
        .iter()
        .chain(&own)
        .chain(&others[..half])
        .cloned()
        .collect();
    let changed = Bench {
        plan: Arc::new(Plan::compile(Arc::new(changed))),
        ..bench.clone()
    };
    for (name, form) in shipped::forms() {
        for stage in Stage::ALL {
            let before = of_runners(&bench, &form, stage);
            assert!(!before.is_empty());
            assert_eq!(before, of_runners(&changed, &form, stage), "{name}");
        }
    }
}
