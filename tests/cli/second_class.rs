//! A class that has nothing in common with the first one: other parts, other units, other people who carry the
//! doubt. What the program does for it, it does by the rules file alone.

use super::{folder, run, text};

/// The outcome of each filled form by purpose, as its head tells.
#[test]
fn filled_forms_come_out_as_their_heads_tell() {
    for (form, level, codes) in [
        ("ghyll-conforming", "championship", [0, 0, 0]),
        ("ghyll-many-faults", "championship", [1, 1, 1]),
        ("ghyll-borderline", "open", [3, 1, 3]),
        ("ghyll-home-sieve", "open", [1, 3, 3]),
    ] {
        let path = format!("forms/filled/{form}.yaml");
        let purposes = ["self_check", "certification", "event_inspection"];
        for (purpose, code) in purposes.into_iter().zip(codes) {
            let arguments = ["check", &path, "--purpose", purpose, "--level", level];
            run(&arguments).exits(code);
        }
    }
}

/// Where the reading decides, what lies a hair inside conforms and what lies a hair outside does not.
#[test]
fn nobody_carries_the_doubt_at_certification() {
    let json = run(&[
        "check",
        "forms/filled/ghyll-borderline.yaml",
        "--purpose",
        "certification",
        "--format",
        "json",
    ])
    .json();
    let record = &json["records"][0];
    assert_eq!(record["decision_rule"], "simple_acceptance");
    let findings = record["findings"].as_array().unwrap();
    assert!(findings.iter().all(|one| one["outcome"] != "not_decided"));
    let of = |item: &str| {
        let mut mine = findings
            .iter()
            .filter(|one| one["rule"] == "blade_thickness" && one["item"] == item);
        mine.next().unwrap()["outcome"].clone()
    };
    assert_eq!(of("blades/A"), "conforms");
    assert_eq!(of("blades/B"), "does_not_conform");
}

/// The limit is three quarters of another length: both are shown as lengths.
#[test]
fn a_computed_limit_is_shown_in_its_own_dimension() {
    run(&["check", "forms/filled/ghyll-many-faults.yaml"])
        .exits(1)
        .says("5.1225 ± 0.0038 m   at most 4.913625 m");
}

#[test]
fn open_rules_ask_nothing_of_what_they_do_not_name() {
    run(&["check", "forms/filled/ghyll-many-faults.yaml", "--all"])
        .says("does not apply")
        .exits(1);
    let json = run(&[
        "check",
        "forms/filled/ghyll-many-faults.yaml",
        "--format",
        "json",
    ])
    .json();
    let findings = json["records"][0]["findings"].as_array().unwrap();
    let of_other = findings
        .iter()
        .find(|one| one["rule"] == "blade_thickness" && one["item"] == "blades/C")
        .unwrap();
    assert_eq!(of_other["outcome"], "not_applicable");
    assert_eq!(of_other["reason"], "no_row");
}

#[test]
fn it_is_certified_like_any_other() {
    let dir = folder();
    let out = dir.path().join("paper.pdf");
    run(&[
        "certify",
        "forms/filled/ghyll-conforming.yaml",
        "--out",
        text(&out),
        "--issued",
        "2026-11-22",
    ])
    .exits(0)
    .says("G2 14: certificate C-");
    assert!(std::fs::read(&out).unwrap().starts_with(b"%PDF-"));
}

/// The program brings its rules, cases and schemas along.
#[test]
fn it_is_there_in_an_empty_folder() {
    run(&["rules", "cases", "ghyll-2@1.0.0"])
        .exits(0)
        .says("all as expected")
        .says("(100 %)");
    run(&["rules", "show", "ghyll-2@1.0.0", "--rule", "lock_angle"])
        .exits(0)
        .says("tiller 40 deg, wheel 30 deg");
    run(&["rules", "show", "ghyll-3"])
        .exits(2)
        .tells("did you mean `ghyll-2`?");
}

/// A record with the names of 1.0.0 is read under 2.0.0, and told so.
#[test]
fn names_of_an_older_version_are_read() {
    let dir = folder();
    let form = std::fs::read_to_string(super::root().join("forms/filled/ghyll-conforming.yaml"));
    let form = form.unwrap().replace("coaming_height:", "rail_height:");
    let form = form.replace("size: gale", "size: storm");
    let record = dir.path().join("old.yaml");
    std::fs::write(&record, form).unwrap();
    run(&["check", text(&record), "--level", "championship"])
        .exits(0)
        .says("coaming_height")
        .says("rail_height");
}
