//! The plain sentences of every shipped version, as they stood when they were last read by a person:
//! `tests/data/sentences-<class>-<version>.txt`. `RIMEGAUGE_REWRITE=1` writes them anew.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rimegauge::report::{Wording, clause_order, sentence_numbers, sentence_text};
use rimegauge::rules::{self, RulesFile};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The rules files that are shipped, each with its path.
pub(crate) fn shipped() -> Vec<(PathBuf, Arc<RulesFile>)> {
    let mut found = Vec::new();
    let mut classes: Vec<PathBuf> = fs::read_dir(root().join("rules"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    classes.sort();
    for class in classes.iter().filter(|path| path.is_dir()) {
        let mut files: Vec<PathBuf> = fs::read_dir(class)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
            .collect();
        files.sort();
        for path in files {
            let bytes = fs::read(&path).unwrap();
            let name = path.strip_prefix(root()).unwrap().display().to_string();
            let rules =
                rules::load(&name, &bytes).unwrap_or_else(|faults| panic!("{name}: {faults:?}"));
            found.push((path, Arc::new(rules)));
        }
    }
    assert!(found.len() >= 3, "the shipped versions were not found");
    found
}

fn said(rules: &RulesFile) -> String {
    let wording = Wording::of(rules);
    let mut all: Vec<(&str, &str, String)> = rules
        .rules
        .iter()
        .map(|rule| (&rule.clause, &rule.id, wording.rule(rule)))
        .chain(
            rules
                .marks
                .iter()
                .map(|mark| (&mark.clause, &mark.id, wording.marks(mark))),
        )
        .map(|(clause, id, said)| (clause.text.as_str(), id.text.as_str(), sentence_text(&said)))
        .collect();
    all.sort_by_cached_key(|(clause, _, _)| clause_order(clause));
    all.iter()
        .map(|(clause, id, text)| format!("{clause} {id}\n{text}\n\n"))
        .collect()
}

/// Turns of phrase that the shipped classes don't use.
fn language() -> Arc<RulesFile> {
    let bytes = fs::read(root().join("tests/data/sentences-language.yaml")).unwrap();
    let rules = rules::load("sentences-language.yaml", &bytes);
    Arc::new(rules.unwrap_or_else(|faults| panic!("{faults:?}")))
}

#[test]
fn every_shipped_rule_reads_as_it_was_last_read() {
    let rewrite = std::env::var_os("RIMEGAUGE_REWRITE").is_some();
    let mut wrong = Vec::new();
    let shipped = shipped().into_iter().map(|(_, rules)| {
        let name = format!("sentences-{}-{}.txt", rules.class.text, rules.version);
        (name, rules)
    });
    let language = ("sentences-language.txt".to_owned(), language());
    for (name, rules) in shipped.chain([language]) {
        let path = root().join("tests/data").join(&name);
        let now = said(&rules);
        if rewrite {
            fs::write(&path, &now).unwrap();
            continue;
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        let mut kept_lines = kept.lines();
        wrong.extend(
            now.lines()
                .filter(|line| kept_lines.next() != Some(line))
                .map(|line| format!("{name}: now {line}"))
                .next(),
        );
        if kept.lines().count() != now.lines().count() {
            wrong.push(format!("{name}: other sentences are there"));
        }
    }
    assert!(
        wrong.is_empty(),
        "read them, then RIMEGAUGE_REWRITE=1:\n{}",
        wrong.join("\n")
    );
}

#[test]
fn sentences_are_well_formed() {
    let shipped = shipped().into_iter().map(|(_, rules)| rules);
    for rules in shipped.chain([language()]) {
        for line in said(&rules).lines().filter(|line| line.contains(' ')) {
            let what = format!("{} {}: {line}", rules.class.text, rules.version);
            for wrong in ["  ", " ,", " .", "..", "( ", ",,", "_", "the the ", " of ."] {
                assert!(
                    !line.contains(wrong) || line.split(' ').count() == 2,
                    "{wrong:?} in {what}"
                );
            }
        }
    }
}

/// Every bound that stands in a rule stands in its sentence, digit by digit.
#[test]
fn sentences_name_every_limit_as_written() {
    let mut counted = 0;
    for (_, rules) in shipped() {
        let wording = Wording::of(&rules);
        for rule in &rules.rules {
            let numbers = sentence_numbers(&wording.rule(rule));
            for limit in limits_of(&rules, &rule.id.text) {
                counted += 1;
                assert!(
                    numbers.contains(&limit),
                    "{} {}: the sentence of {} leaves {limit} out: {numbers:?}",
                    rules.class.text,
                    rules.version,
                    rule.id.text
                );
            }
        }
    }
    assert!(counted > 150, "only {counted} limits were found");
}

/// The plain numbers under `at_least` and its kin in the text of a rule.
pub(crate) fn limits_of(rules: &RulesFile, id: &str) -> Vec<String> {
    let text = rules.source.text();
    let begin = text.find(&format!("\n  - id: {id}\n")).unwrap() + 3;
    let end = text[begin..]
        .find("\n  - id: ")
        .map_or(text.len(), |at| begin + at);
    let mut found = Vec::new();
    for line in text[begin..end]
        .lines()
        .filter(|line| !line.trim_start().starts_with('#'))
    {
        for word in ["at_least: ", "at_most: ", "more_than: ", "less_than: "] {
            for (at, _) in line.match_indices(word) {
                let rest = &line[at + word.len()..];
                let limit = rest.split([',', '}']).next().unwrap().trim();
                if limit.starts_with(|sign: char| sign.is_ascii_digit() || sign == '-')
                    && !limit.contains(" * ")
                {
                    found.push(limit.to_owned());
                }
            }
        }
    }
    found
}
