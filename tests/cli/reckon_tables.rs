//! Reckonings by published tables, and studies of a way of measuring.

use serde_json::Value;

use super::{folder, run};

fn number(value: &Value) -> f64 {
    value["number"].as_str().unwrap().parse().unwrap()
}

fn study(text: &str, more: &[&str]) -> super::Ran {
    let folder = folder();
    let path = folder.path().join("study.csv");
    std::fs::write(&path, text).unwrap();
    let path = path.display().to_string();
    let mut arguments = vec!["reckon", "repeatability", "--readings", path.as_str()];
    arguments.extend(more);
    run(&arguments)
}

/// ASTM E140, Table 1.
#[test]
fn a_hardness_on_another_scale() {
    run(&["reckon", "hardness", "--value", "58.5 HRC", "--to", "HV"])
        .exits(0)
        .says("663.5 ± 3.0 HV")
        .says("653 + (674 − 653)·(58.5 − 58)/(59 − 58)")
        .says("Converted: an indication, not a measurement on this scale")
        .says("ASTM E140, Table 1");
    let json = run(&[
        "reckon", "hardness", "--value", "653 HV", "--to", "hrc", "--format", "json",
    ])
    .json();
    assert_eq!(json["result"]["number"], "58");
    assert_eq!(json["converted"], true);
    assert_eq!(number(&json["minimum_thickness"]), 0.76);
    for (value, to, words) in [
        ("70 HRC", "HV", "70 HRC is outside the table"),
        ("19.9 HRC", "HBW", "19.9 HRC is outside the table"),
        ("58 HRC", "HRA", "is no hardness scale that is known here"),
        ("58 HRC", "HRC", "is on that scale already"),
        ("7 mm", "HV", "is a length; a hardness is converted"),
    ] {
        run(&["reckon", "hardness", "--value", value, "--to", to])
            .exits(2)
            .tells(words);
    }
}

/// Recomputed: 3658 mm of spruce read with a steel tape, both at -20 °C, are 1.156 mm shorter at 20 °C.
#[test]
fn a_length_at_twenty_degrees() {
    let given = |tape: &str, item: &str, temperature: &str| {
        run(&[
            "reckon",
            "expansion",
            "--reading",
            "3658 mm",
            "--tape",
            tape,
            "--item",
            item,
            "--temperature",
            temperature,
            "--format",
            "json",
        ])
    };
    let json = given("steel", "spruce", "-20 degC").json();
    assert!((number(&json["result"]) - 3_656.843_9).abs() < 1e-3);
    assert!((number(&json["correction"]) + 1.156_1).abs() < 1e-3);
    let same = given("steel", "steel", "-20 degC").json();
    assert_eq!(same["result"]["number"], "3658");
    given("steal", "oak", "-20 degC")
        .exits(2)
        .says("did you mean steel?")
        .says("`oak` is no material");
    given("steel", "spruce", "-300 degC")
        .exits(2)
        .says("-300 degC is below absolute zero");
    given("steel", "spruce", "250 degC")
        .exits(2)
        .says("the temperature is 250 degC");
}

/// Recomputed with WGS 84: from 43 to 60 degrees a load cell shows 15.083 g more of 10 kg.
#[test]
fn a_mass_where_gravity_differs() {
    let json = run(&[
        "reckon",
        "mass",
        "--reading",
        "10.015083 kg",
        "--latitude",
        "60 deg",
        "--adjusted-at",
        "43 deg",
        "--format",
        "json",
    ])
    .json();
    assert!((number(&json["result"]) - 10.0).abs() < 1e-6);
    run(&[
        "reckon",
        "mass",
        "--reading",
        "10 kg",
        "--latitude",
        "91 deg",
        "--adjusted-at",
        "43 deg",
    ])
    .exits(2)
    .tells("the latitude is 91 deg");
}

/// Worked by hand: cells 9 11, 19 21, 13 15, 23 25.
const BY_HAND: &str = "person,item,reading [mm]\nAB,S1,9\nAB,S1,11\nAB,S2,19\nAB,S2,21\nCD,S1,13\nCD,S1,15\nCD,S2,23\nCD,S2,25\n";

#[test]
fn a_study_of_a_method() {
    let json = study(BY_HAND, &["--mean-of", "2", "--format", "json"]).json();
    let table = json["analysis_of_variance"].as_array().unwrap();
    let sums: Vec<f64> = table
        .iter()
        .map(|row| row["sum_of_squares"].as_f64().unwrap())
        .collect();
    assert_eq!(sums, [200.0, 32.0, 0.0, 8.0]);
    assert!((number(&json["method_standard_uncertainty"]) - 8.4_f64.sqrt()).abs() < 1e-3);
    assert!((number(&json["repeatability"]) - 1.6_f64.sqrt()).abs() < 1e-3);
    assert!((number(&json["reproducibility"]) - 9.2_f64.sqrt()).abs() < 1e-3);
    study(BY_HAND, &[])
        .exits(0)
        .says("Study of 2 people, 2 items, 2 readings each")
        .says("is above 0.25, so it is pooled with")
        .says("methods: { KIND: { expanded_uncertainty:");
}

#[test]
fn a_study_that_tells_less_or_nothing() {
    let head = "person,item,reading [mm]\n";
    let only = |keep: &str| {
        let rows = BY_HAND.lines().skip(1).filter(|row| row.contains(keep));
        format!("{head}{}\n", rows.collect::<Vec<_>>().join("\n"))
    };
    study(&only("AB"), &[])
        .exits(0)
        .says("One person: how people differ is not in this U");
    study(&only("S1"), &[])
        .exits(0)
        .says("One item: whether people differ from item to item");
    let uneven = BY_HAND.replace("CD,S2,25\n", "");
    study(&uneven, &[])
        .exits(2)
        .tells("readings of item `S2` by person `CD`: 1; of others by others: 2");
    let once = format!("{head}AB,S1,9\nAB,S2,19\nCD,S1,13\nCD,S2,23\n");
    study(&once, &[])
        .exits(2)
        .tells("each person read each item once");
    study(&format!("{head}AB,S1,9\n"), &[])
        .exits(2)
        .tells("nothing tells scatter from difference");
    study("person,item,reading\nAB,S1,9\n", &[])
        .exits(2)
        .tells("has no unit");
    study("item,reading [mm]\nS1,9\n", &[])
        .exits(2)
        .tells("no column `person`");
}
