use super::{folder, root, run, text};

#[test]
fn versions_are_listed_with_their_days() {
    let ran = run(&["rules", "list", "--on", "2026-10-31"]);
    assert_eq!(
        ran.exits(0).out,
        "\
tarn-8  Tarn 8 Class Rules
  2.4.0  adopted   in force 2023-11-01 to 2025-10-31
  3.0.0  adopted   in force 2025-11-01 to 2026-10-31 · counts on 2026-10-31
  3.1.0  adopted   in force from 2026-11-01
"
    );
    let json = run(&["rules", "list", "--on", "2026-10-31", "--format", "json"]).json();
    assert_eq!(json["versions"][1]["in_force_on_day"], true);
    run(&["rules", "list", "tarn-9"])
        .exits(2)
        .tells("did you mean `tarn-8`?");
}

#[test]
fn a_version_is_shown_in_the_order_of_its_clauses() {
    let ran = run(&["rules", "show", "tarn-8@3.1.0"]);
    ran.exits(0)
        .says("Steel can't be added; use another runner.")
        .says("insert: at least 4.70 mm")
        .says("Interpretation i_2026_1");
    let at = |clause: &str| {
        ran.out
            .find(&format!("\n{clause}"))
            .unwrap_or_else(|| panic!("{clause}"))
    };
    assert!(
        at("C.4.1 ") < at("D.2.1 ") && at("E.2.1 ") < at("E.3.1 ") && at("F.3.1 ") < at("G.2.1 ")
    );
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let one = run(&[
        "rules",
        "show",
        "tarn-8@3.1.0",
        "--rule",
        "steel_thickness",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(one["rules"].as_array().unwrap().len(), 1);
    assert_eq!(one["rules"][0]["limits"][0], "plate: at least 6.00 mm");
    run(&["rules", "show", "tarn-8@3.1.0", "--rule", "steel_thicknes"])
        .exits(2)
        .tells("did you mean `steel_thickness`?");
    run(&["rules", "show", "rules/tarn-8/2.4.0.yaml"])
        .exits(0)
        .says("tarn-8@2.4.0");
}

#[test]
fn lint_counts_faults_and_exits_with_one() {
    run(&["rules", "lint", "rules/tarn-8/3.1.0.yaml"])
        .exits(0)
        .says("no faults");
    let dir = folder();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let path = dir.path().join("3.2.0.yaml");
    std::fs::write(&path, rules.replace("clause: C.4.2", "clause: C.4.1")).unwrap();
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("C.4.1")
        .says("1 fault");
    std::fs::write(
        &path,
        rules.replace("at_least: 78.0 kg", "at_least: 78.0 mm"),
    )
    .unwrap();
    run(&["rules", "lint", text(&path)]).exits(1);
    std::fs::write(&path, "format: [").unwrap();
    run(&["rules", "lint", text(&path)]).exits(2);
    run(&["rules", "lint", "nope.yaml"]).exits(2);
    let json = run(&["rules", "lint", "rules/tarn-8", "--format", "json"]).json();
    assert_eq!(json["format"], "rimegauge-diagnostics/1");
}

#[test]
fn lint_tells_rules_that_no_case_tries() {
    let dir = folder();
    let path = dir.path().join("3.1.0.yaml");
    std::fs::copy(root().join("rules/tarn-8/3.1.0.yaml"), &path).unwrap();
    std::fs::create_dir(dir.path().join("cases")).unwrap();
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("no case touches the rule `steel_thickness`")
        .says("no case touches the rule `marked_runners`");
}

#[test]
fn cases_are_run_and_counted() {
    run(&["rules", "cases", "rules/tarn-8/3.1.0.yaml"])
        .exits(0)
        .says("all as expected")
        .says("(100 %)");
    run(&[
        "rules",
        "cases",
        "tarn-8@3.1.0",
        "--cases",
        "rules/tarn-8/cases",
    ])
    .exits(0)
    .says("all as expected");
    run(&["rules", "cases", "tarn-8@3.1.0"])
        .exits(2)
        .tells("--cases");
    let dir = folder();
    let case = "format: rimegauge-cases/1\nclass: tarn-8\ncases:\n  - title: a wrong one\n    given: { boat: { all_up_mass: { with: exact, readings: 70 kg } } }\n    expect: { all_up_mass: conforms }\n";
    std::fs::write(dir.path().join("wrong.yaml"), case).unwrap();
    let folder = text(dir.path());
    let ran = run(&["rules", "cases", "tarn-8@3.1.0", "--cases", folder]);
    ran.exits(1)
        .says("a wrong one")
        .says("1 otherwise than expected")
        .says("not touched: steel_thickness");
    let json = run(&[
        "rules",
        "cases",
        "tarn-8@3.1.0",
        "--cases",
        folder,
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["versions"][0]["wrong"], 1);
}

#[test]
fn a_folder_adds_versions_to_the_library() {
    let dir = folder();
    std::fs::create_dir(dir.path().join("tarn-8")).unwrap();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let next = rules
        .replace("version: 3.1.0", "version: 3.2.0")
        .replace("in_force_from: 2026-11-01", "in_force_from: 2027-11-01");
    std::fs::write(dir.path().join("tarn-8/3.2.0.yaml"), next).unwrap();
    let arguments = ["--rules-dir", text(dir.path())];
    run(&[&["rules", "list"][..], &arguments[..]].concat())
        .exits(0)
        .says("3.2.0");
    run(&[
        &["check", "forms/filled/conforming.yaml"][..],
        &arguments[..],
    ]
    .concat())
    .says("checked under 3.1.0; 3.2.0 is in force from 2027-11-01: --on 2027-11-01");
    std::fs::write(
        dir.path().join("tarn-8/3.1.0.yaml"),
        rules.replace("78.0 kg", "79.0 kg"),
    )
    .unwrap();
    run(&[&["rules", "list"][..], &arguments[..]].concat())
        .exits(2)
        .tells("both are tarn-8@3.1.0, and differ");
    run(&["rules", "list", "--rules-dir", "nope"])
        .exits(2)
        .tells("nope does not exist");
}

#[test]
fn schemas_are_printed() {
    for of in ["record", "rules", "form", "case"] {
        let json = run(&["rules", "schema", "tarn-8@3.1.0", "--of", of]);
        assert_eq!(
            json.exits(0).json()["$schema"],
            "https://json-schema.org/draft/2020-12/schema",
            "{of}"
        );
    }
}
