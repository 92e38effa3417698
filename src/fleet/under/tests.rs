//! A record as the older version sees it is what that version would have read.

use std::sync::Arc;

use crate::fleet::make::{Maker, Settings};
use crate::fleet::reader::{Days, Reader};
use crate::prove::Common;
use crate::record::Record;
use crate::rules::{Library, RulesFile};
use crate::text::{Source, parse_json_line, parse_yaml};

fn rules(reference: &str) -> Arc<RulesFile> {
    let library = Library::embedded().unwrap();
    let day = crate::quantity::Date::constant(2100, 1, 1);
    library.resolve(reference, day).unwrap().rules
}

/// Neighbours in time, either way: whether the second one tells all that the first one asks for.
const PAIRS: &[(&str, &str, bool)] = &[
    ("tarn-8@=2.4.0", "tarn-8@=3.0.0", true),
    ("tarn-8@=3.0.0", "tarn-8@=2.4.0", true),
    ("tarn-8@=3.0.0", "tarn-8@=3.1.0", true),
    // A kind of plank is gone.
    ("tarn-8@=3.1.0", "tarn-8@=3.0.0", false),
    ("tarn-8@=3.1.0", "tarn-8@=4.0.0", true),
    ("tarn-8@=4.0.0", "tarn-8@=3.1.0", false),
    // Sails are measured otherwise.
    ("ghyll-2@=1.0.0", "ghyll-2@=2.0.0", false),
];

/// Texts of records: filled forms, and boats made of either version.
fn records(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Vec<(String, Arc<Source>, bool)> {
    let mut found = Vec::new();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/forms/filled");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    for path in paths {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        if text.contains(&format!("\nclass: {}\n", old.class.text)) {
            let name = path.display().to_string();
            found.push((name, Source::new("form.yaml", text), false));
        }
    }
    for rules in [old, new] {
        let settings = Settings {
            seed: 5,
            ..Settings::default()
        };
        let maker = Maker::new(rules, settings).unwrap();
        for number in 0..12 {
            let mut text = String::new();
            maker.boat(number, &mut text);
            let name = format!("boat {number} of {}", rules.version);
            found.push((name, Source::new("boat.jsonl", text), true));
        }
    }
    found
}

/// All of a record but what is told of names that are not its version's own.
fn told(record: Record) -> String {
    let own = Record {
        old_names: Vec::new(),
        left_out: Vec::new(),
        ..record
    };
    format!("{own:?}")
}

#[test]
fn a_record_is_seen_as_the_older_version_reads_it() {
    for (was, is, tells_all) in PAIRS {
        let (old, new) = (rules(was), rules(is));
        let common = Common::of(&old, &new);
        let asked: Vec<&str> = old.rules.iter().map(|rule| rule.id.text.as_str()).collect();
        let reader = Reader::of_two(&common, Days::default(), &asked);
        assert_eq!(reader.seen.is_some(), *tells_all, "{was} {is}");
        let Some(seen) = &reader.seen else { continue };
        let older = reader.older.as_ref().unwrap();
        let mut compared = 0;
        for (name, source, line) in records(&old, &new) {
            let node = if line {
                parse_json_line(&source, 0..source.text().trim_end().len()).unwrap()
            } else {
                parse_yaml(&source).unwrap()
            };
            let read = reader.newer.load(&source, &node);
            let apart = older.load(&source, &node);
            let (Ok(read), Ok(apart)) = (read, apart) else {
                continue;
            };
            assert_eq!(told(seen.see(&read)), told(apart), "{was} {is} {name}");
            compared += 1;
        }
        assert!(compared > 24, "{was} {is}: {compared}");
    }
}
