use rimegauge::diagnostic::{Schema, merge, narrate};
use rimegauge::text::{decode, parse_yaml};

use super::{folder, root, run, text};

#[test]
fn versions_are_listed_with_their_days() {
    let ran = run(&["rules", "list", "--on", "2026-10-31"]);
    assert_eq!(
        ran.exits(0).out,
        "\
ghyll-2  Ghyll 2 Class Rules
  1.0.0  adopted   in force 2025-10-01 to 2026-10-14
  2.0.0  adopted   in force from 2026-10-15 · counts on 2026-10-31

tarn-8  Tarn 8 Class Rules
  2.4.0  adopted   in force 2023-11-01 to 2025-10-31
  3.0.0  adopted   in force 2025-11-01 to 2026-10-31 · counts on 2026-10-31
  3.1.0  adopted   in force 2026-11-01 to 2027-08-31
  4.0.0  adopted   in force from 2027-09-01
"
    );
    let json = run(&["rules", "list", "--on", "2026-10-31", "--format", "json"]).json();
    assert_eq!(json["versions"][3]["in_force_on_day"], true);
    run(&["rules", "list", "tarn-9"])
        .exits(2)
        .tells("did you mean `tarn-8`?");
}

#[test]
fn a_version_is_shown_in_the_order_of_its_clauses() {
    let ran = run(&["rules", "show", "tarn-8@3.1.0"]);
    ran.exits(0)
        .says("Steel can't be added; use another runner.")
        .says("In data: The mass of the hull shall be at least the limit for its")
        .says("By construction:")
        .says("insert  at least 4.70 mm")
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
    let sentence = one["rules"][0]["sentence"].as_str().unwrap();
    assert!(sentence.starts_with("Outside the parts within 6 mm of the edge and within 12 mm of the toe, the steel thickness of a runner shall at no place be less than"), "{sentence}");
    let numbers = one["rules"][0]["sentence_numbers"].as_array().unwrap();
    assert!(numbers.contains(&"4.70 mm".into()) && numbers.contains(&"2030-10-31".into()));
    run(&["rules", "show", "tarn-8@3.1.0", "--rule", "steel_thicknes"])
        .exits(2)
        .tells("did you mean `steel_thickness`?");
    run(&["rules", "show", "rules/tarn-8/2.4.0.yaml"])
        .exits(0)
        .says("tarn-8@2.4.0");
}

#[test]
fn a_version_is_written_as_a_page() {
    let dir = folder();
    let page = dir.path().join("tarn-8.html");
    run(&["rules", "show", "tarn-8@3.1.0", "--out", text(&page)])
        .exits(0)
        .says("compared with 3.0.0");
    let first = std::fs::read_to_string(&page).unwrap();
    assert!(first.starts_with("<!DOCTYPE html>"));
    // By its path it is compared with the version beside it, else with that of the library.
    let json = run(&[
        "rules",
        "show",
        "rules/tarn-8/3.0.0.yaml",
        "--out",
        text(&page),
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["format"], "rimegauge-rules-page/1");
    assert_eq!(json["compared_with"], "2.4.0");
    let alone = dir.path().join("9.0.0.yaml");
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let rules = rules.replace("version: 3.1.0", "version: 9.0.0");
    std::fs::write(&alone, rules.replace("replaces: 3.0.0", "replaces: 8.0.0")).unwrap();
    run(&["rules", "show", text(&alone), "--out", text(&page)])
        .exits(0)
        .says("8.0.0, which it replaces, was not found");
    std::fs::write(dir.path().join("8.0.0.yaml"), "format: [").unwrap();
    run(&["rules", "show", text(&alone), "--out", text(&page)])
        .exits(0)
        .says("8.0.0, which it replaces, has faults");
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
    std::fs::write(&path, "").unwrap();
    run(&["rules", "lint", text(&path)]).exits(2);
    run(&["rules", "lint", "nope.yaml"]).exits(2);
    let json = run(&["rules", "lint", "rules/tarn-8", "--format", "json"]).json();
    assert_eq!(json["format"], "rimegauge-diagnostics/1");
}

#[test]
fn lint_looks_at_the_versions_beside_a_file() {
    let dir = folder();
    let shipped = |version: &str| {
        let name = format!("rules/tarn-8/{version}.yaml");
        std::fs::read_to_string(root().join(name)).unwrap()
    };
    let put = |version: &str, rules: &str| {
        let path = dir.path().join(format!("{version}.yaml"));
        std::fs::write(&path, rules).unwrap();
        path
    };
    put("3.0.0", &shipped("3.0.0"));
    let newer = shipped("3.1.0");
    let path = put("3.1.0", &newer);
    run(&["rules", "lint", text(&path)]).exits(0);
    // A higher version may begin on the day of the lower one, and not before it.
    let same_day = "in_force_from: 2025-11-01";
    put(
        "3.1.0",
        &newer.replace("in_force_from: 2026-11-01", same_day),
    );
    run(&["rules", "lint", text(&path)]).exits(0);
    let earlier = "in_force_from: 2025-10-31";
    put(
        "3.1.0",
        &newer.replace("in_force_from: 2026-11-01", earlier),
    );
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("lint.earlier_day");
    put("3.1.0", &newer.replace("id: i_2023_2", "id: i_2026_9"));
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("lint.interpretation_dropped");
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
    let faulty = "format: rimegauge-cases/1\nclass: tarn-8\ncases: none\n";
    std::fs::write(dir.path().join("cases/faulty.yaml"), faulty).unwrap();
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("cases is a list");
    std::fs::remove_file(dir.path().join("cases/faulty.yaml")).unwrap();
    let from = root().join("rules/tarn-8/cases/steel_thickness.yaml");
    let cases = std::fs::read_to_string(from).unwrap();
    let kept = dir.path().join("cases/steel_thickness.yaml");
    std::fs::write(
        &kept,
        cases.replace("construction: tee", "construction: plate"),
    )
    .unwrap();
    run(&["rules", "lint", text(&path)])
        .exits(1)
        .says("`steel_thickness`: no case touches: row tee");
    std::fs::remove_file(kept).unwrap();
    std::fs::write(dir.path().join("cases/faulty.yaml"), faulty).unwrap();
    // Once, however many versions share the cases.
    let from = root().join("rules/tarn-8/3.0.0.yaml");
    std::fs::copy(from, dir.path().join("3.0.0.yaml")).unwrap();
    let ran = run(&["rules", "lint", text(dir.path())]);
    assert_eq!(ran.exits(1).out.matches("cases is a list").count(), 1);
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
    // The demo class brings its cases along.
    run(&["rules", "cases", "tarn-8@2.4.0"])
        .exits(0)
        .says("all as expected")
        .says("(100 %)");
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
    let coverage = &json["versions"][0]["coverage"];
    assert_eq!(coverage["by_kind"]["row"]["touched"], 0);
    let missing = coverage["missing_at"].as_array().unwrap();
    let row = missing
        .iter()
        .find(|one| one["what"] == "row insert")
        .unwrap();
    assert_eq!(row["rule"], "steel_thickness");
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let line = usize::try_from(row["at"]["line"].as_u64().unwrap()).unwrap();
    assert!(
        rules
            .lines()
            .nth(line - 1)
            .unwrap()
            .contains("insert: { at_least: 4.70 mm }")
    );
}

#[test]
fn boundary_cases_are_made_written_and_run() {
    let dir = folder();
    let path = dir.path().join("boundary.yaml");
    let ran = run(&["rules", "cases", "tarn-8@3.1.0", "--generate", text(&path)]);
    ran.exits(0)
        .says("all as expected")
        .says("58 of 58 rules tried");
    // What was written is a file of cases like any other.
    run(&["rules", "cases", "tarn-8@3.1.0", "--cases", text(&path)])
        .exits(0)
        .says("all as expected")
        .says("(100 %)");
    let first = std::fs::read(&path).unwrap();
    run(&["rules", "cases", "tarn-8@3.1.0", "--generate", text(&path)])
        .exits(2)
        .tells("is there already");
    let again = dir.path().join("again.yaml");
    let arguments = ["--generate", text(&again), "--format", "json"];
    let json = run(&[
        &["rules", "cases", "rules/tarn-8/3.1.0.yaml"][..],
        &arguments[..],
    ]
    .concat());
    let json = json.exits(0).json();
    assert_eq!(json["format"], "rimegauge-generated/1");
    assert_eq!(json["rules_tried"], 58);
    assert_eq!(json["coverage"]["missing_at"], serde_json::json!([]));
    assert_eq!(std::fs::read(&again).unwrap(), first);
}

#[test]
fn cases_stand_beside_the_rules_that_a_folder_adds() {
    let dir = folder();
    std::fs::create_dir(dir.path().join("tarn-8")).unwrap();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let next = rules.replace("version: 3.1.0", "version: 3.2.0");
    std::fs::write(dir.path().join("tarn-8/3.2.0.yaml"), next).unwrap();
    let arguments = ["--rules-dir", text(dir.path()), "rules", "cases"];
    let ran = |reference| run(&[&arguments[..], &[reference]].concat());
    // Cases of the demo class are about the versions that it has.
    ran("tarn-8@3.2.0")
        .exits(2)
        .tells("no cases are there for tarn-8@3.2.0")
        .tells("--cases PATH");
    let cases = dir.path().join("tarn-8/cases");
    std::fs::create_dir(&cases).unwrap();
    let from = root().join("rules/tarn-8/cases/edge_angle.yaml");
    std::fs::copy(from, cases.join("edge_angle.yaml")).unwrap();
    ran("tarn-8@3.2.0")
        .exits(0)
        .says("all as expected")
        .says("not touched: steel_thickness");
    ran("tarn-8@3.1.0").exits(0).says("(100 %)");
}

/// The schema finds what the typed loader passes by, and one fault is told once.
#[test]
fn files_are_read_by_their_schemas() {
    let dir = folder();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let path = dir.path().join("3.2.0.yaml");
    let wrong = rules.replacen("    clause: ", "    claus: ", 1);
    std::fs::write(&path, wrong.replacen("boat:", "Boat:", 1)).unwrap();
    let ran = run(&["rules", "show", text(&path), "--format", "json"]);
    let found = ran.exits(2).json();
    let codes: Vec<&str> = found["diagnostics"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["code"].as_str().unwrap())
        .collect();
    assert_eq!(
        codes,
        [
            "vocabulary.no_boat",
            "name.form",
            "file.missing_key",
            "file.unknown_key"
        ]
    );
    for arguments in [
        &["rules", "lint"][..],
        &["check", "forms/filled/conforming.yaml", "--rules"][..],
        &["rules", "cases"][..],
    ] {
        let ran = run(&[arguments, &[text(&path)]].concat());
        assert!(
            ran.err.contains("claus") || ran.out.contains("claus"),
            "{arguments:?}"
        );
    }
}

#[test]
fn a_folder_adds_versions_to_the_library() {
    let dir = folder();
    std::fs::create_dir(dir.path().join("tarn-8")).unwrap();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let next = rules
        .replace("version: 3.1.0", "version: 3.2.0")
        .replace("in_force_from: 2026-11-01", "in_force_from: 2027-03-01");
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
    .says("checked under 3.1.0; 3.2.0 is in force from 2027-03-01: --on 2027-03-01");
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

/// Every file that is shipped is accepted by the schema that an editor is given for it.
#[test]
fn schemas_are_printed() {
    for class in ["tarn-8@4.0.0", "ghyll-2@2.0.0"] {
        accepted_by_schemas_of(class);
    }
}

fn accepted_by_schemas_of(reference: &str) {
    let (class, _) = reference.split_once('@').unwrap();
    for (of, folder) in [
        ("record", "forms/filled".to_owned()),
        ("rules", format!("rules/{class}")),
        ("form", "forms".to_owned()),
        ("case", format!("rules/{class}/cases")),
    ] {
        let json = run(&["rules", "schema", reference, "--of", of]);
        let schema = json.exits(0).json();
        assert_eq!(
            schema["$schema"], "https://json-schema.org/draft/2020-12/schema",
            "{of}"
        );
        let schema = Schema::new(schema).unwrap_or_else(|fault| panic!("{of}: {fault:?}"));
        let mut accepted = 0;
        for entry in std::fs::read_dir(root().join(&folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|ending| ending != "yaml") {
                continue;
            }
            let bytes = std::fs::read(&path).unwrap();
            let source = decode(text(&path), &bytes).unwrap();
            let of_class = source.text().contains(&format!("\nclass: {class}\n"));
            // A form of older versions is not for the newest one.
            let older = source.text().contains("\nversions: \"<");
            if !of_class || older {
                continue;
            }
            let node = parse_yaml(&source).unwrap();
            let found = merge(schema.validate(&source, &node), Vec::new());
            assert!(found.is_empty(), "{of}: {}", narrate(&found));
            accepted += 1;
        }
        assert!(accepted > 0, "{folder}");
    }
}

/// An editor completes what the class can say, also in what a case is given and asked.
#[test]
fn schemas_know_the_class() {
    let has = |of: &str, pointer: &str| {
        let json = run(&["rules", "schema", "tarn-8@3.1.0", "--of", of]).json();
        assert!(json.pointer(pointer).is_some(), "{of}: {pointer}");
    };
    has("record", "/$defs/part_runner/properties/steel_thickness");
    has("form", "/properties/sections/items/properties/steps");
    let case = "/properties/cases/items/properties";
    has("case", &format!("{case}/expect/properties/steel_thickness"));
    has("case", &format!("{case}/expect/properties/marked_runners"));
    has("case", &format!("{case}/given/properties/runner"));
    has("case", "/$defs/part_runner/properties/steel_thickness");
}

#[test]
fn changes_that_no_case_notices_are_told() {
    let rules = "tests/data/mutants/rules.yaml";
    let weak = ["--cases", "tests/data/mutants/cases.yaml"];
    let base = ["rules", "cases", rules, weak[0], weak[1], "--mutants"];
    let ran = run(&base);
    let listed = std::fs::read_to_string(root().join("tests/data/mutants/expected.txt")).unwrap();
    // A boat shows the change, so that a case is missing.
    ran.exits(1)
        .says("this case would tell them apart")
        .says("blade_thickness: no case notices this change: 5/16 in becomes 9/32 in")
        .says(&format!("{} mutants", listed.lines().count()))
        .says("6 refused when they load");
    assert!(
        !ran.out.contains('\u{1b}'),
        "colour or a line wiped out in a pipe"
    );
    assert_eq!(ran.err, "");
    let json = run(&[base.as_slice(), &["--format", "json"]].concat()).json();
    assert_eq!(json["format"], "rimegauge-mutants/1");
    let version = &json["versions"][0];
    assert_eq!(version["made"], version["counts"]["mutants"]);
    assert_eq!(version["sampled_with_seed"], serde_json::Value::Null);
    let survivors = version["survivors"].as_array().unwrap();
    let found = survivors
        .iter()
        .find(|one| one["was"] == "5/16 in" && one["is"] == "9/32 in");
    let found = found.expect("the limit of a plate is not on the list");
    assert_eq!(found["answer"], "witness");
    assert_eq!(found["at"]["line"], 49);
    // A case that comes out otherwise already is told first, and tells nothing of mutants.
    let other = [
        "--cases",
        "rules/ghyll-2/cases/sail_number.yaml",
        "--mutants",
    ];
    run(&[&["rules", "cases", rules], other.as_slice()].concat()).exits(2);
    run(&[
        "rules",
        "cases",
        rules,
        "--generate",
        "new.yaml",
        "--mutants",
    ])
    .exits(2);
}
