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

/// Reasons that nothing shipped leads to yet. One that something leads to may not stand here.
const UNREACHED: &[&str] = &["uncertainty_unknown", "nothing_checked", "left_out"];

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
    // No case says what comes of a whole record: one of which nothing is asked.
    let missing: Vec<&str> = Reason::ALL
        .iter()
        .map(|reason| reason.word())
        .filter(|word| !reached.contains(word))
        .collect();
    assert_eq!(missing, Vec::<&str>::new());
}
