//! Every reason of the closed list is what a shipped case expects, or what comes of a shipped record.

use std::collections::BTreeSet;
use std::fs;

use rimegauge::check::cases;
use rimegauge::check::{Context, Reason};
use rimegauge::diagnostic::narrate;
use rimegauge::record;
use rimegauge::rules::Stage;
use rimegauge::text;

use super::cases::{classes, files, name_of, plans_of};
use super::workbench::{Bench, SHIPPED, rules_text};

#[test]
fn every_reason_is_reached() {
    let mut reached: BTreeSet<&str> = BTreeSet::new();
    for class in classes() {
        let plans = plans_of(&class);
        for path in files(&format!("rules/{class}/cases"), "yaml") {
            let source = text::decode(&name_of(&path), &fs::read(&path).unwrap()).unwrap();
            let node = text::parse_yaml(&source).unwrap();
            let file =
                cases::load(&source, &node).unwrap_or_else(|found| panic!("{}", narrate(&found)));
            let expected = file.cases.iter().flat_map(|case| &case.expect);
            reached.extend(expected.filter_map(|one| one.reason).map(Reason::word));
        }
        for path in files("forms/filled", "yaml") {
            let source = text::decode(&name_of(&path), &fs::read(&path).unwrap()).unwrap();
            let node = text::parse_yaml(&source).unwrap();
            for plan in &plans {
                let Ok(record) = record::load(&source, &node, &plan.rules().vocabulary) else {
                    continue;
                };
                for purpose in Stage::ALL {
                    let day = record.measured.day.unwrap_or(plan.rules().in_force_from);
                    let verdict = plan.check(
                        &record,
                        &Context {
                            purpose,
                            day,
                            level: None,
                        },
                    );
                    reached.extend(verdict.reason.map(Reason::word));
                    reached.extend(
                        verdict
                            .findings
                            .iter()
                            .filter_map(|one| one.reason)
                            .map(Reason::word),
                    );
                }
            }
        }
    }
    // A case expects what comes of a rule, and no rule says that nothing was checked. The shipped classes ask for a
    // part or two of every boat; a class that asks for none has such a record.
    let equipment =
        "  boat: { parts: { poles: { many: pole } } }\n  pole: { measures: { length: length } }";
    let rules = "rules:\n  - { id: long, clause: A.1, title: T, text: T, applies_to: pole, value: length, at_most: 2 m }";
    let bench = Bench::new(&rules_text(SHIPPED, equipment, rules));
    let verdict = bench.check(&bench.record("{ notes: no pole }"), Stage::SelfCheck);
    reached.extend(verdict.reason.map(Reason::word));
    let missing: Vec<&str> = Reason::ALL
        .iter()
        .map(|reason| reason.word())
        .filter(|word| !reached.contains(word))
        .collect();
    assert_eq!(missing, Vec::<&str>::new());
}
