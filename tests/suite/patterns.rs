//! The forty patterns of rules: each has a case that conforms, one that does not and one that stays open, or belongs to
//! the ledger of the event. The page that says so is made from the cases and kept true.

use std::collections::BTreeMap;
use std::fs;

use rimegauge::check::Outcome;
use rimegauge::check::cases::{self, PATTERNS};
use rimegauge::diagnostic::narrate;
use rimegauge::rules::RulesFile;
use rimegauge::text::{self, Node};

use super::cases::{classes, files, name_of, plans_of, root};

/// Patterns of which a case is still missing. One that has all its cases may not stand here.
const PENDING: &[u8] = &[];

/// The outcomes that a pattern is shown with.
const SHOWN: [(Outcome, &str); 3] = [
    (Outcome::Conforms, "conforms"),
    (Outcome::DoesNotConform, "does not conform"),
    (Outcome::NotDecided, "stays open"),
];

struct Pattern {
    number: u8,
    title: String,
    words: String,
    ledger: Option<String>,
}

/// A case that shows a pattern.
struct Shown {
    class: String,
    version: String,
    rule: String,
    clause: String,
    title: String,
    outcome: Outcome,
    reason: Option<String>,
}

fn patterns() -> Vec<Pattern> {
    let bytes = fs::read(root().join("tests/data/patterns.yaml")).unwrap();
    let source = text::decode("tests/data/patterns.yaml", &bytes).unwrap();
    let node = text::parse_yaml(&source).unwrap();
    let value = |node: &Node<'_>, key: &str| {
        let entries = node.as_mapping().unwrap();
        let found = entries.iter().find(|entry| entry.key == key);
        found.map(|entry| entry.node.as_text().unwrap().to_owned())
    };
    assert_eq!(
        value(&node, "format").as_deref(),
        Some("rimegauge-patterns/1")
    );
    let entries = node.as_mapping().unwrap();
    let list = entries
        .iter()
        .find(|entry| entry.key == "patterns")
        .unwrap();
    let read = |node: &Node<'_>| Pattern {
        number: value(node, "number").unwrap().parse().unwrap(),
        title: value(node, "title").unwrap(),
        words: value(node, "words").unwrap(),
        ledger: value(node, "ledger"),
    };
    list.node.as_sequence().unwrap().iter().map(read).collect()
}

fn clause(rules: &RulesFile, id: &str) -> Option<String> {
    let own = rules.rules.iter().map(|rule| (&rule.id, &rule.clause));
    let marks = rules.marks.iter().map(|mark| (&mark.id, &mark.clause));
    let found = own.chain(marks).find(|(known, _)| known.text == id);
    found.map(|(_, clause)| clause.text.clone())
}

/// The cases of all classes by pattern, under the newest version that each is about.
fn shown() -> BTreeMap<u8, Vec<Shown>> {
    let mut found: BTreeMap<u8, Vec<Shown>> = BTreeMap::new();
    for class in classes() {
        let plans = plans_of(&class);
        for path in files(&format!("rules/{class}/cases"), "yaml") {
            let source = text::decode(&name_of(&path), &fs::read(&path).unwrap()).unwrap();
            let node = text::parse_yaml(&source).unwrap();
            let file =
                cases::load(&source, &node).unwrap_or_else(|found| panic!("{}", narrate(&found)));
            for case in &file.cases {
                let about = plans.iter().map(|plan| plan.rules());
                let about = about.filter(|rules| case.versions.matches(&rules.version));
                let newest = about.max_by(|a, b| a.version.cmp(&b.version));
                let (Some(rules), Some(expected)) = (newest, case.expect.first()) else {
                    continue;
                };
                for pattern in &case.patterns {
                    let clause = clause(rules, &expected.rule);
                    let entry = Shown {
                        class: class.clone(),
                        version: rules.version.to_string(),
                        rule: expected.rule.clone(),
                        clause: clause
                            .unwrap_or_else(|| panic!("{}: {}", case.title, expected.rule)),
                        title: case.title.clone(),
                        outcome: expected
                            .outcome
                            .unwrap_or_else(|| panic!("{}: not asked", case.title)),
                        reason: expected.reason.map(|reason| reason.words().to_owned()),
                    };
                    found.entry(*pattern).or_default().push(entry);
                }
            }
        }
    }
    found
}

fn page(patterns: &[Pattern], shown: &BTreeMap<u8, Vec<Shown>>) -> String {
    let mut page = String::from(
        "# Patterns of rules\n\nForty patterns that class rules of ice yachts are made of, each with a rule that follows it and cases that try it.\nThe classes, their numbers and their clauses are invented.\n\nThis page is made from `tests/data/patterns.yaml` and the cases of the classes; `RIMEGAUGE_REWRITE=1 cargo test --test main patterns`\nwrites it anew.\n",
    );
    for pattern in patterns {
        page.push_str(&format!(
            "\n## {} {}\n\n{}\n",
            pattern.number, pattern.title, pattern.words
        ));
        let examples = shown.get(&pattern.number).map(Vec::as_slice).unwrap_or(&[]);
        if !examples.is_empty() {
            page.push_str("\n| rule | case | |\n|---|---|---|\n");
        }
        // One rule tells all three where one has them.
        let same = |a: &Shown, b: &Shown| (&a.class, &a.rule) == (&b.class, &b.rule);
        let has = |of: &Shown, outcome: Outcome| {
            let mut cases = examples.iter().filter(|one| same(one, of));
            cases.any(|one| one.outcome == outcome)
        };
        let whole = |of: &&Shown| SHOWN.iter().all(|(outcome, _)| has(of, *outcome));
        let rule = examples.iter().find(whole);
        for (outcome, words) in SHOWN {
            let fitting = examples.iter().filter(|one| one.outcome == outcome);
            let mut fitting = fitting.filter(|one| rule.is_none_or(|rule| same(one, rule)));
            if let Some(one) = fitting.next() {
                let why = one
                    .reason
                    .as_ref()
                    .map_or(String::new(), |reason| format!(": {reason}"));
                page.push_str(&format!(
                    "| {} {}, {} `{}` | {} | {words}{why} |\n",
                    one.class,
                    one.version,
                    one.clause,
                    one.rule,
                    one.title.replace('|', "\\|")
                ));
            }
        }
        if let Some(ledger) = &pattern.ledger {
            page.push_str(&format!("\nAt an event: {ledger}\n"));
        }
        if examples.is_empty() && pattern.ledger.is_none() {
            page.push_str("\nNo case yet.\n");
        }
    }
    page
}

#[test]
fn every_pattern_is_there_once_with_words() {
    let numbers: Vec<u8> = patterns().iter().map(|pattern| pattern.number).collect();
    assert_eq!(numbers, (1..=PATTERNS).collect::<Vec<u8>>());
    for pattern in patterns() {
        assert!(
            !pattern.title.is_empty() && pattern.words.ends_with('.'),
            "{}",
            pattern.number
        );
        assert!(
            pattern.ledger.is_none_or(|words| words.ends_with('.')),
            "{}",
            pattern.number
        );
    }
}

#[test]
fn every_pattern_has_its_cases_or_belongs_to_the_ledger() {
    let shown = shown();
    for pattern in patterns() {
        let examples = shown.get(&pattern.number).map(Vec::as_slice).unwrap_or(&[]);
        let missing: Vec<&str> = SHOWN
            .iter()
            .filter(|(outcome, _)| !examples.iter().any(|one| one.outcome == *outcome))
            .map(|(_, words)| *words)
            .collect();
        let pending = PENDING.contains(&pattern.number);
        let settled = missing.is_empty() || (pattern.ledger.is_some() && examples.is_empty());
        assert_ne!(
            settled,
            pending,
            "pattern {}: no case that {}; pending: {pending}",
            pattern.number,
            missing.join(", none that ")
        );
    }
}

#[test]
fn the_page_of_patterns_says_what_the_cases_say() {
    let path = root().join("rules/PATTERNS.md");
    let page = page(&patterns(), &shown());
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        fs::write(&path, page).unwrap();
        return;
    }
    assert_eq!(fs::read_to_string(&path).unwrap(), page);
}
