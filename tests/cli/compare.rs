//! `compare`: which two versions can be compared, and what is said of the others.

use std::fmt::Write;
use std::path::Path;

use super::{Ran, command, folder, ran, root, run, text};

fn shipped(name: &str) -> String {
    std::fs::read_to_string(root().join("rules").join(name)).unwrap()
}

/// A run in a folder, so that paths are told as they were written.
fn run_in(folder: &Path, arguments: &[&str]) -> Ran {
    ran(command(arguments).current_dir(folder).output().unwrap())
}

/// Holds a text to a file; `RIMEGAUGE_REWRITE=1` writes it as it is now, to be read before it is kept.
fn as_kept(name: &str, text: &str) {
    let path = root().join("tests/data").join(name);
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    assert_eq!(std::fs::read_to_string(&path).unwrap_or_default(), text);
}

/// Two files that can't be compared, with what is said of them.
#[test]
fn what_cannot_be_compared_is_refused_in_clear_words() {
    let dir = folder();
    let put = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
    let newest = shipped("tarn-8/3.1.0.yaml");
    put("3.1.0.yaml", &newest);
    put(
        "changed.yaml",
        &newest.replace("at_least: 4.70 mm", "at_least: 4.80 mm"),
    );
    put(
        "faulty.yaml",
        &newest.replace("at_least: 78.0 kg", "at_least: 78.0 mm"),
    );
    put("empty.yaml", "");
    std::fs::create_dir(dir.path().join("proposals")).unwrap();
    put("record.yaml", "format: rimegauge-record/1\nclass: tarn-8\n");
    put("other.yaml", OTHER);
    let mut told = String::new();
    for (old, new) in [
        ("tarn-8@4.0.0", "ghyll-2@2.0.0"),
        ("tarn-8@4.0.0", "tarn-8@3.1.0"),
        ("tarn-8@3.1.0", "3.1.0.yaml"),
        ("tarn-8@3.1.0", "changed.yaml"),
        ("faulty.yaml", "empty.yaml"),
        ("tarn-8@3.1.0", "faulty.yaml"),
        ("tarn-9@1.0.0", "nowhere.yaml"),
        ("tarn-8@3.1.0", "other.yaml"),
        ("3.1.0.yaml", "3.1.0.yaml"),
        ("tarn-8@3.1.0", "tarn-8@3.1.0"),
        ("tarn-8@3.1.0", "empty.yaml"),
        ("empty.yaml", "empty.yaml"),
        ("tarn-8@3.1.0", "proposals"),
        ("tarn-8@3.1.0", "./proposals"),
        ("tarn-8@3.1.0", "record.yaml"),
        ("tarn-8@3.1.0", "nowhere.yaml"),
        ("tarn-8@3.1.0", "tarn-8@3.2.0"),
        ("tarn-8@3.1.0", "tarn-8@newest"),
    ] {
        let ran = run_in(dir.path(), &["compare", old, new]);
        ran.exits(2);
        assert_eq!(ran.out, "");
        for line in ran.err.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        let _ = writeln!(told, "$ rimegauge compare {old} {new}\n{}", ran.err);
        // For programs the same stands on standard output alone.
        let json = run_in(dir.path(), &["compare", old, new, "--format", "json"]);
        json.exits(2);
        assert_eq!(json.err, "");
        assert_eq!(json.json()["format"], "rimegauge-diagnostics/1");
    }
    as_kept("compare-refused.txt", &told);
}

/// Rules of the class that speak of nothing that the shipped ones speak of.
const OTHER: &str = "\
format: rimegauge-rules/1
class: tarn-8
title: Tarn 8 Class Rules
version: 9.0.0
status: draft
in_force_from: 2030-11-01
authority: Tarn 8 Class Association, Technical Committee
silence: forbids
decision:
  coverage_probability: 95 %
  self_check: guarded_acceptance
  certification: guarded_acceptance
  event_inspection: guarded_rejection
equipment:
  boat:
    measures: { beam: length }
rules:
  - id: beam
    clause: B.1
    title: Beam
    text: The beam shall not exceed 3 m.
    applies_to: boat
    value: beam
    at_most: 3 m
";

#[test]
fn both_files_are_told_what_is_wrong_with_them() {
    let dir = folder();
    let newest = shipped("tarn-8/3.1.0.yaml");
    for (name, was, is) in [
        ("one.yaml", "at_least: 78.0 kg", "at_least: 78.0 mm"),
        ("two.yaml", "silence: forbids", "silence: allows"),
    ] {
        std::fs::write(dir.path().join(name), newest.replace(was, is)).unwrap();
    }
    run_in(dir.path(), &["compare", "one.yaml", "two.yaml"])
        .exits(2)
        .tells("one.yaml:")
        .tells("two.yaml:");
}

/// Two versions of a small class: a limit that moves, a text with other words, and what is declared of it.
const SMALL: &str = "\
format: rimegauge-rules/1
class: tarn-8
title: Tarn 8 Class Rules
version: 3.1.0
status: adopted
replaces: 3.0.0
in_force_from: 2026-11-01
authority: Tarn 8 Class Association, Technical Committee
silence: forbids
decision:
  coverage_probability: 95 %
  self_check: guarded_acceptance
  certification: guarded_acceptance
  event_inspection: guarded_rejection
equipment:
  boat:
    parts: { hull: { one: hull } }
  hull:
    measures:
      mass: mass
      number_cut: { kind: yes_no, ask: \"Is the number cut?\" }
rules:
  - id: hull_mass
    clause: D.1
    title: Mass of the hull
    text: The hull shall not be lighter than the limit.
    applies_to: hull
    value: mass
    at_least: 22.0 kg
  - id: number_cut
    clause: D.2
    title: Number
    text: The number shall be cut.
    applies_to: hull
    value: number_cut
    equals: yes
";

/// The two versions in a folder; the newer one is `version`, with these words for those of the older one.
fn small(version: &str, changes: &[(&str, &str)]) -> tempfile::TempDir {
    let dir = folder();
    std::fs::write(dir.path().join("old.yaml"), SMALL).unwrap();
    let mut newer = SMALL
        .replace("version: 3.1.0", &format!("version: {version}"))
        .replace("replaces: 3.0.0", "replaces: 3.1.0");
    for (was, is) in changes {
        assert!(newer.contains(was), "{was}");
        newer = newer.replace(was, is);
    }
    std::fs::write(dir.path().join("new.yaml"), newer).unwrap();
    dir
}

const TIGHTER: (&str, &str) = ("at_least: 22.0 kg", "at_least: 23.0 kg");
const OTHER_WORDS: (&str, &str) = ("The number shall be cut.", "The number shall be carved.");

#[test]
fn an_answer_has_its_shape_in_every_format() {
    let compare = |dir: &tempfile::TempDir, more: &[&str]| {
        run_in(
            dir.path(),
            &[&["compare", "old.yaml", "new.yaml"], more].concat(),
        )
    };
    // The newer version, what changes in it, the exit code, and what is needed.
    type Changed<'t> = (&'t str, &'t [(&'t str, &'t str)], i32, &'t str);
    let cases: [Changed<'_>; 6] = [
        ("3.1.1", &[], 0, "patch"),
        ("3.2.0", &[], 0, "patch"),
        ("3.2.0", &[TIGHTER], 1, "major"),
        ("4.0.0", &[TIGHTER], 0, "major"),
        ("3.1.1", &[OTHER_WORDS], 3, "patch"),
        (
            "3.2.0",
            &[("at_least: 22.0 kg", "at_least: 21.0 kg")],
            0,
            "minor",
        ),
    ];
    for (version, changes, code, needed) in cases {
        let dir = small(version, changes);
        let human = compare(&dir, &[]);
        human.exits(code);
        human.says("Tarn 8 Class Rules: from 3.1.0 (adopted, in force from 2026-11-01) to");
        for line in human.out.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        assert!(!human.out.contains('\u{1b}'));
        assert_eq!(human.err, "");
        assert_eq!(human.out.contains("No change:"), changes.is_empty());
        assert_eq!(compare(&dir, &[]).out, human.out);
        compare(&dir, &["--format", "plain"]).exits(code);
        let ran = compare(&dir, &["--format", "json"]);
        ran.exits(code);
        let json = ran.json();
        assert_eq!(json["format"], "rimegauge-comparison/1");
        assert_eq!(json["old"]["version"], "3.1.0");
        assert_eq!(json["new"]["version"], version);
        assert_eq!(json["required_bump"], needed, "{version} {changes:?}");
        assert_eq!(json["accepted"], code == 0);
        for direction in ["becomes_illegal", "becomes_legal"] {
            let whole = json[direction]["answer"].as_str().unwrap();
            let parts = ["requirement", "evidence"]
                .map(|part| json[direction][part]["answer"].as_str().unwrap().to_owned());
            let strongest = ["witness", "undecided", "proved_none"]
                .into_iter()
                .find(|word| parts.iter().any(|part| part == word));
            assert_eq!(Some(whole), strongest);
        }
    }
}

/// A fault in a boat is told with value, limit and margin, and with what the other version says of it.
#[test]
fn why_a_boat_comes_out_otherwise_is_told_by_value_and_limit() {
    let told = |version: &str, changes: &[(&str, &str)], code: i32, says: &str| {
        let dir = small(version, changes);
        let compare = |format: &str| {
            let arguments = ["compare", "old.yaml", "new.yaml", "--format", format];
            run_in(dir.path(), &arguments)
        };
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        for format in ["human", "plain"] {
            let ran = compare(format);
            ran.exits(code);
            assert!(words(&ran.out).contains(says), "{says}\n{}", ran.out);
        }
        let json = compare("json").exits(code).json();
        assert!(json["because"].as_str().unwrap().contains(says), "{json:#}");
        json
    };
    let json = told(
        "3.2.0",
        &[TIGHTER],
        1,
        "legal under 3.1.0; under 3.2.0 it is not: hull_mass D.1: 22.0 kg on hull falls short of at least 23.0 kg by \
         1.0 kg (under 3.1.0: at least 22.0 kg, conforms)",
    );
    // The boat is written with the digits of the limit.
    let boat = &json["becomes_illegal"]["requirement"];
    let yaml = boat["yaml"].as_str().unwrap();
    assert!(yaml.contains("readings: 22.0 kg"), "{yaml}");
    let flip = &boat["flips"][0];
    assert_eq!(flip["rule"], "hull_mass");
    let side = |side: &str, outcome: &str, limit: &str| {
        let side = &flip[side];
        assert_eq!(side["clause"], "D.1");
        assert_eq!(side["item"], "hull");
        assert_eq!(side["outcome"], outcome);
        assert_eq!(side["value"]["number"], "22.0");
        assert_eq!(side["limit"]["kind"], "at_least");
        assert_eq!(side["limit"]["number"], limit);
    };
    side("old", "conforms", "22.0");
    side("new", "does_not_conform", "23.0");
    assert_eq!(flip["new"]["margin"]["number"], "-1");
    // What was a fault and is none any more.
    told(
        "3.2.0",
        &[("at_least: 22.0 kg", "more_than: 21.5 kg")],
        0,
        "legal under 3.2.0; under 3.1.0 it is not: hull_mass D.1: 21.9 kg on hull falls short of at least 22.0 kg by \
         0.1 kg (under 3.2.0: more than 21.5 kg, conforms)",
    );
    // On a limit that does not belong to what is allowed.
    told(
        "4.0.0",
        &[("at_least: 22.0 kg", "more_than: 22.0 kg")],
        0,
        "hull_mass D.1: 22.0 kg on hull is not more than 22.0 kg (under 3.1.0: at least 22.0 kg, conforms)",
    );
    // An answer.
    told(
        "4.0.0",
        &[("equals: yes", "equals: no")],
        0,
        "number_cut D.2: yes on hull, no asked, does not conform (under 3.1.0: yes asked, conforms)",
    );
}

#[test]
fn a_draft_beside_an_adopted_version_is_told() {
    let words = "words:\n  - { about: [number_cut], effect: tightened, by: Technical Committee, because: Painted numbers are out. }\nequipment:";
    let changes = [
        OTHER_WORDS,
        ("status: adopted", "status: draft"),
        ("equipment:", words),
    ];
    let compare = |dir: &tempfile::TempDir| {
        let arguments = ["compare", "old.yaml", "new.yaml", "--format", "json"];
        run_in(dir.path(), &arguments)
    };
    let ran = compare(&small("3.1.1", &changes));
    // What is claimed asks for a higher version, and is never called proved.
    let json = ran.exits(1).json();
    assert_eq!(json["required_bump"], "major");
    assert_eq!(
        json["notes"][0],
        "3.1.1 is a draft: it can still change, and nothing is in force by it."
    );
    assert_eq!(json["words"][0]["claim"]["by"], "Technical Committee");
    assert_eq!(json["words"][0]["claim"]["proved"], false);
    // Against another version than the one it replaces nothing that it declares counts.
    let other = [&changes[..], &[("replaces: 3.1.0", "replaces: 3.0.0")]].concat();
    let json = compare(&small("3.1.1", &other)).exits(3).json();
    assert!(json["words"][0]["claim"].is_null());
    assert!(
        json["notes"][1]
            .as_str()
            .unwrap()
            .contains("replaces 3.0.0")
    );
    assert!(
        json["not_known"][0]
            .as_str()
            .unwrap()
            .contains("against 3.0.0")
    );
}

#[test]
fn witnesses_are_written_whole_and_over_nothing() {
    let dir = small("3.2.0", &[TIGHTER]);
    let arguments = ["compare", "old.yaml", "new.yaml", "--witness"];
    let out = dir.path().join("out");
    let to = |name: &str| run_in(dir.path(), &[&arguments[..], &[name]].concat());
    to("out")
        .exits(1)
        .says("Written: out/illegal-requirement-1.3.1.0.yaml");
    // Each record comes out as was said, checked by anybody.
    let checked = |version: &str, rules: &str| {
        let record = format!("out/illegal-requirement-1.{version}.yaml");
        let ran = run_in(dir.path(), &["check", &record, "--rules", rules]);
        ran.code
    };
    assert_eq!(checked("3.1.0", "old.yaml"), 0);
    assert_eq!(checked("3.2.0", "new.yaml"), 1);
    // What is there already stays, and nothing is written beside it.
    let count = || std::fs::read_dir(&out).unwrap().count();
    let before = count();
    to("out")
        .exits(2)
        .tells("is there already; nothing was written");
    assert_eq!(count(), before);
    to("old.yaml")
        .exits(2)
        .tells("witnesses are written into a folder");
    // One folder is made, not those above it.
    for inside in ["nowhere/deeper", "old.yaml/deeper"] {
        to(inside)
            .exits(2)
            .tells("can't be made: there is none to make it in");
    }
    assert!(!dir.path().join("nowhere").exists());
    std::fs::create_dir(dir.path().join("empty")).unwrap();
    to("empty/").exits(1).says("Written: empty/illegal");
    // Where there is nothing to write no folder is made.
    let dir = small("3.1.1", &[]);
    run_in(dir.path(), &[&arguments[..], &["out"]].concat())
        .exits(0)
        .says("No witness was found, and no file was written.");
    assert!(!dir.path().join("out").exists());
}

#[test]
fn usage_is_told() {
    run(&["compare", "--help"])
        .exits(0)
        .says("rimegauge compare tarn-8@3.0.0 tarn-8@3.1.0")
        .says("--witness <DIR>");
    run(&["compare", "tarn-8@3.0.0"]).exits(2).tells("<NEW>");
    run(&[
        "compare",
        "tarn-8@3.0.0",
        "tarn-8@3.1.0",
        "--format",
        "junit",
    ])
    .exits(2)
    .tells("only check prints JUnit");
    run(&["man", "compare"]).exits(0).says("compare");
}

/// What lint says of declared words beside the version that is replaced.
#[test]
fn lint_holds_declared_words_to_the_version_before() {
    let dir = folder();
    let put = |name: &str, text: &str| {
        let path = dir.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    };
    put("3.0.0.yaml", &shipped("tarn-8/3.0.0.yaml"));
    let newer = shipped("tarn-8/3.1.0.yaml");
    let declared = |about: &str| {
        let was = "about: [hull_width, plank_crown, steel_thickness, edge_angle, cloth]";
        assert!(newer.contains(was));
        put(
            "3.1.0.yaml",
            &newer.replace(was, &format!("about: [{about}]")),
        )
    };
    let all = "hull_width, plank_crown, steel_thickness, edge_angle, cloth";
    let path = declared(all);
    let ran = run(&["rules", "lint", text(&path)]);
    ran.exits(0);
    assert!(!ran.out.contains("lint.words"), "{}", ran.out);
    declared(&format!("{all}, flat"));
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("lint.words_unchanged");
    declared(&format!("{all}, flatt"));
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("lint.words_unknown")
        .says("did you mean `flat`?");
    declared("hull_width, plank_crown, steel_thickness, edge_angle");
    run(&["rules", "lint", text(&path)])
        .exits(0)
        .says("lint.words_undeclared")
        .says("cloth");
    // Without the version before, a name can't be looked up that this version does not have.
    std::fs::remove_file(dir.path().join("3.0.0.yaml")).unwrap();
    declared(&format!("{all}, rail"));
    run(&["rules", "lint", text(&path)])
        .exits(0)
        .says("lint.words_unknown");
}
