//! How the records of a fleet are read: what refuses one, what is left out, which of several counts.

use super::{command, folder, ran, root};

const RULES: &str = "tests/data/proposal/adopted.yaml";

/// What the rule does not ask for gets no record refused, as in a comparison; what the rules do not know is told.
#[test]
fn records_are_refused_for_what_the_rule_asks_for_alone() {
    let dir = folder();
    let record = |more: &str| {
        format!(
            "{{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{{\"sail_number\":\"T8 4101\"}},\"measured\":{{\"day\":\"2026-11-21\",\"by\":\"AB\"}},\"runners\":[{{\"id\":\"A\",\"construction\":\"insert\",{more},\"steel_thickness\":\"4.90 mm\"}}]}}\n"
        )
    };
    let (rules, proposed) = (
        root().join(RULES),
        root().join("tests/data/proposal/proposed.yaml"),
    );
    let (rules, proposed) = (rules.to_str().unwrap(), proposed.to_str().unwrap());
    let by_length = [
        "vary", rules, "E.3.1", "--limit", "at_most", "--from", "700 mm",
    ];
    let by_length = [&by_length[..], &["--to", "800 mm"]].concat();
    let told = |arguments: &[&str], more: &str| {
        std::fs::write(dir.path().join("fleet.jsonl"), record(more)).unwrap();
        let arguments = [arguments, &["--format", "json", "--fleet", "fleet.jsonl"]].concat();
        ran(command(&arguments)
            .current_dir(dir.path())
            .output()
            .unwrap())
    };
    let compared = ["compare", rules, proposed];
    let both = [by_length.as_slice(), &compared];
    // A name of another version; one that is nearly a known one, beside that one.
    for more in ["\"bolt_spacing\":\"80 mm\"", "\"stem_thickness\":\"80 mm\""] {
        for asked in both {
            let found = told(asked, more).json();
            let sample = match asked[0] {
                "vary" => &found["sample"],
                _ => &found["fleet"]["sample"],
            };
            let key = more.split('"').nth(1).unwrap();
            assert_eq!(sample["broken"], 0, "{found:#}");
            assert_eq!(sample["left_out"]["records"], 1, "{found:#}");
            assert_eq!(sample["left_out"]["keys"][key], 1, "{found:#}");
        }
    }
    // What the rule on lengths does not ask for may be as wrong as it likes.
    for more in ["\"hardness\":\"hard\"", "\"construction_of\":[1]"] {
        let found = told(&by_length, more).json();
        assert_eq!(found["sample"]["broken"], 0, "{found:#}");
    }
    let length = "\"toe_at\":\"360 mm\",\"heel_at\":\"-300 mm\"";
    let wrong = record(length)
        .replace("4.90 mm", "thick")
        .replace("insert", "steel");
    std::fs::write(dir.path().join("wrong.jsonl"), wrong).unwrap();
    let asked = [
        by_length.as_slice(),
        &["--format", "json", "--fleet", "wrong.jsonl"],
    ]
    .concat();
    let found = ran(command(&asked).current_dir(dir.path()).output().unwrap());
    found.exits(0);
    assert_eq!(found.json()["items"], 1);
    // What it asks for, and what is nearly that, refuses a record.
    for more in ["\"toe_at\":\"far\"", "\"toe_a\":\"360 mm\""] {
        told(&by_length, more).exits(2);
    }
    let said = [by_length.as_slice(), &["--fleet", "fleet.jsonl"]].concat();
    std::fs::write(
        dir.path().join("fleet.jsonl"),
        record("\"bolt_spacing\":\"80 mm\""),
    )
    .unwrap();
    ran(command(&said).current_dir(dir.path()).output().unwrap())
        .exits(0)
        .says("1 record says what these rules do not know, and that is left out:")
        .says("`bolt_spacing`.");
}

/// A small class: what a boat must have, what goes stale, what wears.
fn small(version: &str, thin: &str) -> String {
    format!(
        "format: rimegauge-rules/1
class: tarn-8
title: Tarn 8, small rules
version: {version}
status: adopted
in_force_from: 2026-11-01
authority: Tarn 8 Class Association, Technical Committee
silence: permits
decision: {{ coverage_probability: 95 %, guard_factor: 1, self_check: simple_acceptance, certification: simple_acceptance, event_inspection: simple_acceptance }}
equipment:
  boat:
    parts: {{ runners: {{ many: runner, at_least: 3 }} }}
  runner:
    measures:
      thick: {{ kind: length, methods: {{ unnamed: {{ expanded_uncertainty: 0.02 mm }} }} }}
      nose: {{ kind: yes_no, ask: \"Is the nose rounded?\", fresh_for: 30 days }}
rules:
  - {{ id: thin, clause: A.1, title: Thin, text: T, applies_to: runner, value: thick, at_least: {thin} }}
  - {{ id: nose, clause: A.2, title: Nose, text: T, applies_to: runner, value: nose, equals: yes }}
  - {{ id: few, clause: A.3, title: Few, text: T, applies_to: boat, value: count(runners where thick > 1 mm), at_least: 3 }}
marks: []
"
    )
}

fn record(day: &str, runners: &[&str]) -> String {
    let runners: Vec<String> = runners.iter().map(|one| format!("{{ {one} }}")).collect();
    format!(
        "format: rimegauge-record/1\nclass: tarn-8\nboat: {{ sail_number: T8 41 }}\nmeasured: {{ day: {day}, by: AB }}\nrunners: [ {} ]\n",
        runners.join(", ")
    )
}

/// What a change of a limit does to a boat by these records, and how one limit moves under it.
fn told(records: &[&str], arguments: &[&str]) -> (serde_json::Value, serde_json::Value) {
    let dir = folder();
    std::fs::write(dir.path().join("old.yaml"), small("1.0.0", "4.70 mm")).unwrap();
    std::fs::write(dir.path().join("new.yaml"), small("2.0.0", "4.80 mm")).unwrap();
    std::fs::create_dir(dir.path().join("fleet")).unwrap();
    for (number, record) in records.iter().enumerate() {
        let name = format!("fleet/{number}.yaml");
        std::fs::write(dir.path().join(name), record).unwrap();
    }
    let more = [&["--fleet", "fleet", "--format", "json"], arguments].concat();
    let asked = |first: &[&str]| {
        let arguments = [first, &more].concat();
        let found = command(&arguments)
            .current_dir(dir.path())
            .output()
            .unwrap();
        ran(found).json()
    };
    let compared = asked(&["compare", "old.yaml", "new.yaml", "--purpose", "self_check"]);
    let varied = asked(&[
        "vary",
        "new.yaml",
        "thin",
        "--from",
        "4.70 mm",
        "--to",
        "4.80 mm",
        "--purpose",
        "self_check",
    ]);
    (compared["fleet"].clone(), varied)
}

const THREE: [&str; 3] = [
    "id: A, thick: 4.75 mm, nose: yes",
    "id: B, thick: 4.90 mm, nose: yes",
    "id: C, thick: 4.90 mm, nose: yes",
];

#[test]
fn a_boat_is_judged_by_all_its_records_together() {
    let whole = record("2026-11-02", &THREE);
    let (alone, varied_alone) = told(&[&whole], &[]);
    assert_eq!(alone["boat_moves"]["newly_illegal"], 1, "{alone:#}");
    // A later record that names one runner of three, or that measures nothing of it, takes nothing away.
    for later in [
        record("2026-11-09", &["id: A, nose: yes"]),
        record("2026-11-09", &["id: A", "id: B"]),
    ] {
        let (found, varied) = told(&[&whole, &later], &[]);
        for key in [
            "boat_moves",
            "item_moves",
            "by_rule",
            "within_uncertainty",
            "never_measured",
        ] {
            assert_eq!(found[key], alone[key], "{key}\n{later}");
        }
        assert_eq!(found["sample"]["put_together"], 1);
        for key in ["items", "boats", "limits", "turns"] {
            assert_eq!(varied[key], varied_alone[key], "{key}\n{later}");
        }
    }
}

#[test]
fn each_measure_counts_as_last_measured_whatever_the_order_of_the_records() {
    let whole = record("2026-11-02", &THREE);
    let thicker = record("2026-11-09", &["id: A, thick: 4.85 mm"]);
    for records in [[&whole, &thicker], [&thicker, &whole]] {
        let (found, varied) = told(&[records[0], records[1]], &[]);
        assert_eq!(found["item_moves"]["newly_illegal"], 0, "{found:#}");
        // Nothing of the first record is left out: the nose of A was looked at then alone.
        assert_eq!(found["sample"]["superseded"], 0);
        assert_eq!(
            varied["limits"].as_array().unwrap().last().unwrap()["items"]["conforms"],
            3
        );
    }
    // A later record that tells an older reading does not go before it.
    let copied = record(
        "2026-11-20",
        &["id: A, thick: { taken: 2026-11-01, readings: 4.75 mm }"],
    );
    let (found, _) = told(&[&whole, &thicker, &copied], &[]);
    assert_eq!(found["item_moves"]["newly_illegal"], 0, "{found:#}");
}

#[test]
fn how_old_a_reading_is_goes_by_the_day_on_which_it_was_taken() {
    let whole = record("2026-11-02", &THREE);
    let later = |day: &str| record(day, &["id: A, thick: 4.85 mm"]);
    let open = |day: &str| {
        let (found, _) = told(&[&whole, &later(day)], &[]);
        found["item_moves"]["from_to"]["not_decided"]["not_decided"].clone()
    };
    assert_eq!(open("2026-12-02"), 0);
    // Three noses were looked at more than thirty days before.
    assert_eq!(open("2026-12-03"), 3);
}

#[test]
fn the_day_of_a_case_is_that_of_its_reading() {
    let whole = record("2026-11-02", &THREE);
    let later = record("2026-11-09", &["id: A, nose: yes"]);
    let (found, _) = told(&[&whole, &later], &["--names"][..0]);
    let case = &found["by_rule"][0]["limits"][0]["worst"][0];
    assert_eq!(case["day"], "2026-11-02", "{found:#}");
}

#[test]
fn a_record_that_comes_twice_counts_once_and_is_told_as_a_copy() {
    let whole = record("2026-11-02", &THREE);
    let (alone, varied_alone) = told(&[&whole], &[]);
    let (found, varied) = told(&[&whole, &whole.replace('\n', "\r\n")], &[]);
    assert_eq!(found["item_moves"], alone["item_moves"]);
    assert_eq!(varied["limits"], varied_alone["limits"]);
    for sample in [&found["sample"], &varied["sample"]] {
        assert_eq!(sample["copies"], 1, "{sample:#}");
        assert_eq!(sample["superseded"], 0);
        assert_eq!(sample["put_together"], 0);
        assert_eq!(sample["records"], 2);
        assert_eq!(sample["boats"], 1);
        assert_eq!(sample["several"][0]["copies"], 1, "{sample:#}");
        assert_eq!(sample["several"][0]["same_day"], 0);
    }
    // Two records of one day that differ are no copies.
    let other = whole.replace("4.75", "4.90");
    let (found, _) = told(&[&whole, &other], &[]);
    assert_eq!(found["sample"]["copies"], 0);
    assert_eq!(found["sample"]["several"][0]["same_day"], 3);
    assert_eq!(found["item_moves"]["newly_illegal"], 0);
}

/// What has no distance to one limit is told with what was read and what is accepted; nobody is named.
#[test]
fn whom_listed_options_hit_is_told() {
    let dir = folder();
    let options = "  - { id: listed, clause: A.4, title: Listed, text: T, applies_to: runner, options: { within: 10 %, of: [thick], rows: { four: [4 mm], six: [6 mm] } } }\nmarks: []";
    let new = small("2.0.0", "4.70 mm").replace("marks: []", options);
    std::fs::write(dir.path().join("old.yaml"), small("1.0.0", "4.70 mm")).unwrap();
    std::fs::write(dir.path().join("new.yaml"), new).unwrap();
    std::fs::write(dir.path().join("boat.yaml"), record("2026-11-02", &THREE)).unwrap();
    let compare = |format: &str| {
        let arguments = [
            "compare",
            "old.yaml",
            "new.yaml",
            "--purpose",
            "self_check",
            "--fleet",
            "boat.yaml",
            "--format",
            format,
        ];
        ran(command(&arguments)
            .current_dir(dir.path())
            .output()
            .unwrap())
    };
    let json = compare("json").json();
    let rule = &json["fleet"]["by_rule"][0];
    assert_eq!(rule["moves"]["newly_illegal"], 3, "{rule:#}");
    let case = &rule["others"][0];
    assert_eq!(case["boat"], "boat 1");
    assert_eq!(case["item"], "runner 1");
    assert_eq!(case["day"], "2026-11-02");
    assert_eq!(case["before"], "conforms");
    assert_eq!(case["read"], "4.750 ± 0.020 mm");
    assert_eq!(
        case["accepted"],
        "the nearest that is listed is four with thick 4 mm within 10 %"
    );
    compare("plain").says("boat 1, runner 1: 4.750 ± 0.020 mm, the nearest that is listed is four with thick 4 mm within 10 %");
}

/// What no changed rule asks for is not missing for one: the parts that a boat must have are asked for as before.
#[test]
fn parts_that_are_asked_for_as_before_are_not_missing_for_a_changed_rule() {
    let dir = folder();
    let two = "{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{\"sail_number\":\"T8 4101\"},\"measured\":{\"day\":\"2026-11-21\",\"by\":\"AB\"},\"runners\":[{\"id\":\"A\",\"construction\":\"insert\",\"steel_thickness\":\"4.90 mm\"},{\"id\":\"B\",\"construction\":\"insert\",\"steel_thickness\":\"4.90 mm\"}]}\n";
    std::fs::write(dir.path().join("fleet.jsonl"), two).unwrap();
    let at = |name: &str| root().join("tests/data/proposal").join(name);
    let (adopted, proposed) = (at("adopted.yaml"), at("proposed.yaml"));
    let (adopted, proposed) = (adopted.to_str().unwrap(), proposed.to_str().unwrap());
    let arguments = [
        "compare",
        adopted,
        proposed,
        "--fleet",
        "fleet.jsonl",
        "--format",
        "json",
    ];
    let found = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap())
    .json();
    let fleet = &found["fleet"];
    let of_rules = fleet["by_rule"].as_array().unwrap().iter();
    let never: u64 = of_rules
        .filter_map(|rule| rule["never_measured"].as_u64())
        .sum();
    assert_eq!(
        (fleet["never_measured"].as_u64(), never),
        (Some(0), 0),
        "{fleet:#}"
    );
}
