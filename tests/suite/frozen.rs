//! Old files load for ever: `tests/frozen/` keeps files of each major version of a format as they were written,
//! by format and major (`rules-1`, `record-1`, `cases-1`, `form-1`, `overlay-1`, `map-1`). None of them may be changed
//! or taken away: `digests.txt` names each with its digest. New ones may be added, with
//! `RIMEGAUGE_REWRITE=1`, which never touches a line that is there.
//!
//! Records lie beside the outcomes that they had when they were frozen, one line for each rule and item.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rimegauge::check::cases::{self, id_of};
use rimegauge::check::{Context, ItemRef, Plan};
use rimegauge::diagnostic::narrate;
use rimegauge::quantity::Date;
use rimegauge::record::{self, Record};
use rimegauge::rules::{self, RulesFile, Stage};
use rimegauge::text::{decode, parse_yaml};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/frozen")
}

fn rewrites() -> bool {
    std::env::var_os("RIMEGAUGE_REWRITE").is_some()
}

/// The files of a folder and below, by their path from `tests/frozen`, sorted.
fn files(folder: &str) -> Vec<(String, Vec<u8>)> {
    fn below(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                below(&path, found);
            } else {
                found.push(path);
            }
        }
    }
    let mut paths = Vec::new();
    below(&root().join(folder), &mut paths);
    paths.sort();
    assert!(!paths.is_empty(), "nothing is frozen in {folder}");
    let named = |path: PathBuf| {
        let name = path.strip_prefix(root()).unwrap().to_str().unwrap();
        (name.to_owned(), fs::read(&path).unwrap())
    };
    paths.into_iter().map(named).collect()
}

/// The frozen rules by class and version.
fn versions() -> Vec<Arc<RulesFile>> {
    let load = |(name, bytes): (String, Vec<u8>)| {
        let loaded = rules::load_by_schema(&name, &bytes);
        Arc::new(loaded.unwrap_or_else(|found| panic!("{}", narrate(&found))))
    };
    files("rules-1").into_iter().map(load).collect()
}

fn version<'v>(all: &'v [Arc<RulesFile>], name: &str) -> &'v Arc<RulesFile> {
    let (class, version) = name.split_once('@').unwrap();
    let named =
        |one: &&Arc<RulesFile>| one.class.text == class && one.version.to_string() == version;
    all.iter()
        .find(named)
        .unwrap_or_else(|| panic!("{name} is not frozen"))
}

#[test]
fn frozen_files_are_as_they_were() {
    let path = root().join("digests.txt");
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let kept: BTreeMap<String, String> = kept
        .lines()
        .filter_map(|line| line.split_once("  "))
        .map(|(digest, name)| (name.to_owned(), digest.to_owned()))
        .collect();
    let mut now = BTreeMap::new();
    for folder in [
        "rules-1",
        "record-1",
        "cases-1",
        "form-1",
        "overlay-1",
        "map-1",
    ] {
        for (name, bytes) in files(folder) {
            now.insert(name, rules::digest(&bytes));
        }
    }
    for (name, digest) in &kept {
        assert_eq!(
            now.get(name),
            Some(digest),
            "{name} was frozen; it may not change"
        );
    }
    if rewrites() {
        let lines: Vec<String> = now
            .iter()
            .map(|(name, digest)| format!("{digest}  {name}\n"))
            .collect();
        fs::write(path, lines.concat()).unwrap();
    } else {
        assert_eq!(kept, now, "a new frozen file needs its digest");
    }
}

#[test]
fn frozen_rules_load() {
    let all = versions();
    let classes: Vec<&str> = all.iter().map(|one| one.class.text.as_str()).collect();
    assert!(
        classes.contains(&"tarn-8") && classes.contains(&"ghyll-2"),
        "{classes:?}"
    );
}

#[test]
fn frozen_cases_load() {
    for (name, bytes) in files("cases-1") {
        let source = decode(&name, &bytes).unwrap();
        let node = parse_yaml(&source).unwrap();
        let typed = cases::load(&source, &node);
        let file = rules::schema_of_cases()
            .unwrap()
            .beside(&source, &node, typed);
        let file = file.unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
        assert!(!file.cases.is_empty(), "{name}");
    }
}

#[test]
fn frozen_forms_load() {
    let all = versions();
    for (name, bytes) in files("form-1") {
        // `form-1/tarn-8@4.0.0.yaml`
        let of = name.trim_start_matches("form-1/").trim_end_matches(".yaml");
        let rules = version(&all, of);
        let form = record::read_form(
            &name,
            &bytes,
            &rules.vocabulary,
            &rules.class.text,
            &rules.version,
        );
        form.unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
    }
}

#[test]
fn frozen_maps_load() {
    let all = versions();
    for (name, bytes) in files("map-1") {
        let of = name.trim_start_matches("map-1/").trim_end_matches(".yaml");
        let rules = version(&all, of);
        let map = record::table::read_map(&name, &bytes, &rules.vocabulary, &rules.class.text);
        map.unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
    }
}

/// A record of a version, with the day and purpose of its check: `record-1/tarn-8@3.1.0/conforming.yaml`.
#[test]
fn frozen_records_come_to_the_same_outcomes() {
    let all = versions();
    let mut tried = 0;
    for (name, bytes) in files("record-1") {
        let Some(of) = name.strip_suffix(".yaml") else {
            continue;
        };
        let (of, _) = of.trim_start_matches("record-1/").split_once('/').unwrap();
        let rules = version(&all, of);
        let source = decode(&name, &bytes).unwrap();
        let node = parse_yaml(&source).unwrap();
        let loaded = record::load(&source, &node, &rules.vocabulary);
        let record = loaded.unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
        let path = root().join(name.replace(".yaml", ".outcomes.txt"));
        let told = outcomes(rules, &record);
        if !path.exists() && rewrites() {
            fs::write(&path, &told).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert_eq!(told, kept, "{name}");
        tried += 1;
    }
    assert!(tried >= 6, "{tried} records");
}

fn outcomes(rules: &Arc<RulesFile>, record: &Record) -> String {
    let plan = Plan::compile(Arc::clone(rules));
    let day: Date = record.measured.day.unwrap();
    let mut told = String::new();
    for purpose in Stage::ALL {
        let context = Context {
            purpose,
            day,
            level: None,
        };
        let verdict = plan.check(record, &context);
        told += &format!("{}: {}\n", purpose.word(), verdict.outcome.word());
        for finding in &verdict.findings {
            let item = match finding.item {
                ItemRef::Item(at) => {
                    let item = &record.items[at];
                    let holding = item.holding.and_then(|id| rules.vocabulary.holding(id));
                    let key = holding.map_or("boat", |holding| &holding.key.text);
                    format!(
                        "{key}{}",
                        item.id
                            .as_ref()
                            .map_or(String::new(), |id| format!("/{id}"))
                    )
                }
                ItemRef::Holding(id) => rules.vocabulary.holding(id).unwrap().key.text.clone(),
            };
            let side = finding.side.map_or("", |side| side.word());
            let reason = finding.reason.map_or("", |reason| reason.word());
            let line = format!(
                "  {} {item} {side} {} {reason}",
                id_of(rules, finding.rule),
                finding.outcome.word()
            );
            told += &line.split_whitespace().collect::<Vec<_>>().join(" ");
            told.push('\n');
        }
    }
    told
}

#[test]
fn frozen_overlays_are_laid_over_their_version() {
    let all = versions();
    for (name, bytes) in files("overlay-1") {
        let asked = rules::overlay_for(&name, &bytes)
            .unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
        let rules = version(&all, &format!("{}@{}", asked.class, asked.version));
        rules::lay_over(rules, &name, &bytes)
            .unwrap_or_else(|found| panic!("{name}: {}", narrate(&found)));
    }
}
