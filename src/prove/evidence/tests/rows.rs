//! Rows of `tests/data/evidence-rows.yaml`, forward and backward.

use super::*;
use crate::check::{Outcome, cases};
use crate::quantity::Date;
use crate::text::{Source, parse_yaml};

#[derive(serde::Deserialize)]
struct File {
    rules: String,
    record: String,
    rows: Vec<Row>,
}

#[derive(serde::Deserialize)]
struct Row {
    name: String,
    #[serde(default)]
    both: Vec<(String, String)>,
    #[serde(default)]
    rules: Vec<(String, String)>,
    #[serde(default)]
    records: Vec<(String, String)>,
    #[serde(default)]
    record: Vec<(String, String)>,
    illegal: String,
    legal: String,
}

fn edited(row: &str, text: &str, edits: &[(String, String)]) -> String {
    let mut text = text.to_owned();
    for (from, to) in edits {
        assert!(text.contains(from), "{row}: {from:?} is not there");
        text = text.replace(from, to);
    }
    text
}

const DAY: Date = jiff::civil::date(2026, 11, 21);

#[test]
fn each_row_and_each_row_backwards() {
    let file: File = serde_yaml::from_str(&data("tests/data/evidence-rows.yaml")).unwrap();
    let only = std::env::var("RIMEGAUGE_ROW").ok();
    let mut wrong = Vec::new();
    for row in &file.rows {
        if only
            .as_ref()
            .is_some_and(|only| !row.name.contains(only.as_str()))
        {
            continue;
        }
        let old_text = edited(&row.name, &file.rules, &row.both);
        let new_text = edited(&row.name, &old_text, &row.rules);
        let new_text = new_text.replace("version: 1.0.0", "version: 2.0.0");
        let old_record = edited(&row.name, &file.record, &row.records);
        let new_record = edited(&row.name, &old_record, &row.record);
        let (old, new) = (rules(&row.name, &old_text), rules(&row.name, &new_text));
        let boat = |old: &str, new: &str| GoldBoat::read((old, new), None, DAY).unwrap();
        let found = compared(&old, &new, vec![boat(&old_record, &new_record)]);
        let got = (word(&found.becomes_illegal), word(&found.becomes_legal));
        if only.is_some() {
            println!("{}", shown(&found));
        }
        if got != (row.illegal.as_str(), row.legal.as_str()) {
            wrong.push(format!("{}: {}", row.name, shown(&found)));
        }
        for one in &found.differences {
            sound(&row.name, &one.becomes_illegal, (&old, &new), false);
            sound(&row.name, &one.becomes_legal, (&old, &new), true);
        }
        let back = compared(&new, &old, vec![boat(&new_record, &old_record)]);
        let got = (word(&back.becomes_illegal), word(&back.becomes_legal));
        if got != (row.legal.as_str(), row.illegal.as_str()) {
            wrong.push(format!("{}, backwards: {}", row.name, shown(&back)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// A witness is a file of cases that come out as it says, and its outcomes go the way that it is a witness of.
fn sound(row: &str, answer: &Answer, (old, new): (&Arc<RulesFile>, &Arc<RulesFile>), better: bool) {
    let Answer::Witness(list) = answer else {
        return;
    };
    for witness in list {
        let order = witness.new_outcome > witness.old_outcome;
        assert_eq!(order, better, "{row}: {}", witness.why);
        assert_ne!(witness.old_outcome, Outcome::NotApplicable, "{row}");
        assert!(!witness.rules.is_empty(), "{row}: {}", witness.why);
        assert!(!witness.fragment.is_empty(), "{row}");
        let source = Source::new("cases.yaml", witness.cases.as_str());
        let node = parse_yaml(&source).unwrap();
        let file = cases::load(&source, &node)
            .unwrap_or_else(|found| panic!("{row}: {found:?}\n{}", witness.cases));
        for version in [old, new] {
            let plan = Plan::compile(Arc::clone(version));
            let mut coverage = cases::Coverage::default();
            let results = cases::run(&source, &file, &plan, &mut coverage)
                .unwrap_or_else(|found| panic!("{row}: {found:?}\n{}", witness.cases));
            for one in results {
                assert!(
                    one.wrong.is_empty(),
                    "{row}: {:?}\n{}",
                    one.wrong,
                    witness.cases
                );
            }
        }
    }
}
