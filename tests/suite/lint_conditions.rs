//! What lint says of conditions against every record there is, of a small class.

use proptest::prelude::*;
use rimegauge::check::{Outcome, Reason};
use rimegauge::diagnostic::narrate;
use rimegauge::rules::{self, Stage};

use super::workbench::{Bench, SHIPPED, cases, rules_text};

const EQUIPMENT: &str = r#"
  boat: { parts: { bars: { many: bar } } }
  bar:
    traits:
      material: [wood, steel, glass]
      built: { date: proven }
      marked: { flag: intended }
    measures:
      length: length"#;

fn file(when: &str) -> String {
    let rules = format!(
        "rules:\n  - {{ id: long, clause: A.1, title: T, text: T, applies_to: bar, when: \"{when}\", value: length, at_least: 1 mm }}"
    );
    rules_text(SHIPPED, EQUIPMENT.trim_matches('\n'), &rules)
}

/// One bar of each kind: all choices, days and lengths on both sides of what conditions name, marked and not.
fn every_bar() -> Vec<String> {
    let mut all = Vec::new();
    for material in ["wood", "steel", "glass", "other"] {
        for built in ["2011-12-31", "2012-01-01", "2012-06-01", "2013-01-01"] {
            for length in ["9 mm", "10 mm", "15 mm", "20 mm", "21 mm"] {
                for marked in ["yes", "no"] {
                    all.push(format!(
                        "{{ measured: {{ day: 2026-11-21, by: AB }}, bar: {{ material: {material}, built: {{ date: {built}, proof: invoice, seen_by: AB }}, marked: {marked}, length: {{ with: exact, readings: {length} }} }} }}"
                    ));
                }
            }
        }
    }
    all
}

fn claim() -> impl Strategy<Value = String> {
    let one = prop::sample::select(vec!["wood", "steel", "glass"]);
    let two = prop::sample::select(vec!["wood, steel", "glass, wood", "steel, glass"]);
    prop_oneof![
        one.clone().prop_map(|one| format!("material is {one}")),
        one.prop_map(|one| format!("material is not {one}")),
        two.prop_map(|two| format!("material is one of ({two})")),
        prop::sample::select(vec![
            "built < 2012-01-01",
            "built <= 2012",
            "built > 2012",
            "built >= 2012-01-01",
            "2012-01-01 > built",
            "length < 10 mm",
            "length <= 10 mm",
            "length > 20 mm",
            "20 mm <= length",
            "length + 0 mm >= 0 mm",
            "marked",
        ])
        .prop_map(str::to_owned),
    ]
}

fn condition() -> impl Strategy<Value = String> {
    claim().prop_recursive(3, 8, 3, |inner| {
        prop_oneof![
            inner.clone().prop_map(|one| format!("not ({one})")),
            prop::collection::vec(inner.clone(), 2..4)
                .prop_map(|list| format!("({})", list.join(" and "))),
            prop::collection::vec(inner, 2..4).prop_map(|list| format!("({})", list.join(" or "))),
        ]
    })
}

proptest! {
    #![proptest_config(cases(24))]

    #[test]
    fn never_and_always_are_told_where_no_record_is_otherwise(when in condition()) {
        let text = file(&when);
        let loaded = rules::load("rules.yaml", text.as_bytes()).expect("loads");
        let told = narrate(&rules::lint(&loaded));
        let bench = Bench::new(&text);
        let (mut yes, mut no, mut unknown) = (0, 0, 0);
        for bar in every_bar() {
            match bench.ask(&bar, Stage::Certification, "long") {
                (Outcome::NotApplicable, Some(Reason::Condition)) => no += 1,
                // A day inside of a year that a condition names: neither side of it is known.
                (Outcome::NotDecided, Some(Reason::ConditionUnknown)) => unknown += 1,
                _ => yes += 1,
            }
        }
        let never = told.contains("never applies");
        let always = told.contains("always holds");
        let what = format!("{when}: {yes} yes, {no} no, {unknown} unknown; {told}");
        prop_assert!(!never || yes == 0, "never, {}", what);
        prop_assert!(never || yes + unknown > 0, "not never, {}", what);
        prop_assert!(!always || no == 0, "always, {}", what);
        prop_assert!(always || no + unknown > 0, "not always, {}", what);
    }
}
