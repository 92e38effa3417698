//! Laws of the check that hold whatever a record says: stages, order, units, stability.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rimegauge::check::{Outcome, Reason};
use rimegauge::record::Record;
use rimegauge::rules::Stage;

use super::small::{records, small};
use super::tree::Dice;
use super::workbench::{Bench, EACH, Policy, SHIPPED, cases, told, worst_by_item};

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
    #![proptest_config(cases(150))]

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
    fn a_fleet_is_told_the_same_outcomes(tree in records(), policy in policies(), level in levels()) {
        let bench = Bench { level, ..small(policy) };
        let record = bench.record(&tree.to_file());
        for stage in Stage::ALL {
            let (full, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
            prop_assert_eq!((full.outcome, full.reason), (brief.outcome, brief.reason));
            prop_assert_eq!(full.findings.len(), brief.findings.len());
            for (a, b) in full.findings.iter().zip(&brief.findings) {
                prop_assert_eq!((a.rule, a.item, a.side), (b.rule, b.item, b.side));
                prop_assert_eq!((a.outcome, a.reason, a.by_purpose), (b.outcome, b.reason, b.by_purpose));
                prop_assert_eq!(a.benefit_of_doubt, b.benefit_of_doubt);
                prop_assert_eq!(a.second_measurer, b.second_measurer);
            }
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
