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

#[test]
fn an_answer_has_its_shape_in_every_format() {
    let arguments = ["compare", "tarn-8@3.0.0", "tarn-8@3.1.0"];
    let human = run(&arguments);
    human.says("Tarn 8 Class Rules: from 3.0.0 (adopted, in force from 2025-11-01) to 3.1.0");
    for line in human.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(!human.out.contains('\u{1b}'));
    assert_eq!(human.err, "");
    let again = run(&arguments);
    assert_eq!(again.out, human.out);
    let plain = run(&[&arguments[..], &["--format", "plain"]].concat());
    assert_eq!(plain.code, human.code);
    let ran = run(&[&arguments[..], &["--format", "json"]].concat());
    assert_eq!(ran.code, human.code);
    let json = ran.json();
    assert_eq!(json["format"], "rimegauge-comparison/1");
    assert_eq!(json["old"]["version"], "3.0.0");
    assert_eq!(json["new"]["version"], "3.1.0");
    assert_eq!(json["declared_bump"], "minor");
    for direction in ["becomes_illegal", "becomes_legal"] {
        let whole = json[direction]["answer"].as_str().unwrap();
        let parts = ["requirement", "evidence"]
            .map(|part| json[direction][part]["answer"].as_str().unwrap().to_owned());
        let strongest = ["witness", "undecided", "proved_none"]
            .into_iter()
            .find(|word| parts.iter().any(|part| part == word));
        assert_eq!(Some(whole), strongest);
    }
    let accepted = json["accepted"].as_bool().unwrap();
    let standing = json["standing"].as_str().unwrap();
    let code = match standing {
        "accepted" | "more_than_needed" => 0,
        "refused" => 1,
        "not_confirmed" => 3,
        other => panic!("{other}"),
    };
    assert_eq!((ran.code, accepted), (code, code == 0));
    // Every word that changed in the shipped versions is claimed by a name.
    let words = json["words"].as_array().unwrap();
    assert!(!words.is_empty());
    for one in words {
        assert!(one["claim"]["by"].is_string(), "{one}");
        assert_eq!(one["claim"]["proved"], false);
    }
}

#[test]
fn a_draft_beside_an_adopted_version_is_told() {
    let dir = folder();
    let draft = shipped("tarn-8/3.1.0.yaml")
        .replace("version: 3.1.0", "version: 3.1.1")
        .replace("status: adopted", "status: draft")
        .replace("replaces: 3.0.0", "replaces: 3.1.0");
    let draft = draft[..draft.find("\nwords:").unwrap_or(draft.len())].to_owned() + "\n";
    std::fs::write(dir.path().join("3.1.1.yaml"), &draft).unwrap();
    let ran = run_in(dir.path(), &["compare", "tarn-8@3.1.0", "3.1.1.yaml"]);
    ran.says("3.1.1 is a draft");
    // Against another version than the one it replaces nothing that it declares counts.
    let ran = run_in(
        dir.path(),
        &["compare", "tarn-8@3.0.0", "3.1.1.yaml", "--format", "json"],
    );
    let json = ran.json();
    let notes = json["notes"].as_array().unwrap();
    assert!(
        notes
            .iter()
            .any(|one| one.as_str().unwrap().contains("replaces 3.1.0"))
    );
    let words = json["words"].as_array().unwrap();
    let text = words.iter().find(|one| one["of"] == "plank_crown").unwrap();
    assert!(text["claim"].is_null());
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
    let dir = folder();
    let file = dir.path().join("file");
    std::fs::write(&file, "").unwrap();
    for (to, said) in [
        (text(&file), "witnesses are written into a folder"),
        ("nowhere/at/all", "does not exist"),
    ] {
        let arguments = ["compare", "tarn-8@3.0.0", "tarn-8@3.1.0", "--witness", to];
        run(&arguments).exits(2).tells(said);
    }
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
