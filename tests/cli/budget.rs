//! `check --budget`: how the uncertainty of a value comes about, on the terminal, in sentences and for programs.

use serde_json::Value;

use super::{Ran, run};

fn text(ran: &Ran) -> String {
    ran.out.clone()
}

const FORM: &str = "forms/filled/many-faults.yaml";

#[test]
fn a_budget_stands_below_the_findings_that_are_shown() {
    let plain = text(run(&["check", FORM]).exits(1));
    assert!(!plain.contains("Budget"));
    let with = text(run(&["check", FORM, "--budget"]).exits(1));
    for told in [
        "Budget of boat, C.4.1 Mass of the boat: 75.81 ± 0.13 kg",
        "c·u [kg]",
        "all up mass of boat, scatter of 2 readings: 75.81 kg, s 0.0141 kg of one, n 2",
        "platform scale scale_1, calibration: U 0.02 kg with k 2",
        "the scatter alone: k(95 %, 1) × u = 12.71 × 0.01 kg = 0.127 kg",
        "Budget of S1, E.3.2 Steel thickness, at 180 mm, 12 mm from the edge",
    ] {
        assert!(with.contains(told), "{told}\n{with}");
    }
    let widest = with.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(80), "{widest:?}");
}

/// A rule that conforms is shown for its budget where it is named, and others have none then.
#[test]
fn a_rule_is_asked_for_by_id_or_clause() {
    for name in ["--budget=all_up_mass,mast_mass", "--budget=C.4.1,F.3.2"] {
        let with = text(run(&["check", "forms/filled/conforming.yaml", name]).exits(0));
        assert_eq!(with.matches("Budget of").count(), 2, "{with}");
        assert!(with.contains("Budget of mast, F.3.2"), "{with}");
    }
    run(&["check", FORM, "--budget=steel_thicknes"])
        .exits(2)
        .tells("tarn-8 3.1.0 has no rule `steel_thicknes`")
        .tells("did you mean `steel_thickness`?");
}

#[test]
fn in_sentences_nothing_is_drawn() {
    let told = text(run(&["check", FORM, "--budget", "--format", "plain"]).exits(1));
    let line = "platform scale scale_1, calibration: U 0.02 kg with k 2; normal, divided by 2: \
                standard uncertainty 0.01 kg, sensitivity 1, contributes 0.0100 kg";
    assert!(told.contains(line), "{told}");
    assert!(!told.contains('∞'));
}

/// Every source behind every value of every filled form has a name; the lines add up to u_c, and U is that of
/// the finding.
#[test]
fn for_programs_every_line_is_named_and_adds_up() {
    for form in [
        "forms/filled/conforming.yaml",
        "forms/filled/tarn-4-conforming.yaml",
        FORM,
    ] {
        let found = text(&run(&["check", form, "--budget", "--format", "json"]));
        let report: Value = serde_json::from_str(&found).unwrap();
        let findings = report["records"][0]["findings"].as_array().unwrap();
        let mut budgets = 0;
        for finding in findings {
            let Some(lines) = finding.get("budget") else {
                continue;
            };
            let sum = &finding["budget_sum"];
            let number =
                |value: &Value| -> f64 { value["number"].as_str().unwrap().parse().unwrap() };
            let lines = lines.as_array().unwrap();
            let shares: f64 = lines
                .iter()
                .map(|line| line["share"].as_f64().unwrap())
                .sum();
            let beyond = number(&sum["combined_standard_uncertainty"]);
            if beyond > 0.0 {
                // Floors under errors that cancel add what no line has.
                assert!(shares > 0.3 && shares < 1.0 + 1e-9, "{shares}: {finding}");
            }
            for line in lines {
                let source = line["source"].as_str().unwrap();
                assert!(source.len() > 12 && !source.contains("exact"), "{source}");
                let computed = source.contains("leaves open")
                    || source.contains("about the line")
                    || source.contains("table");
                assert_eq!(line["stated"].is_null(), computed, "{line}");
            }
            let (u, k) = (
                number(&sum["expanded_uncertainty"]),
                finding["coverage_factor"].as_f64().unwrap(),
            );
            assert!((sum["coverage_factor"].as_f64().unwrap() - k).abs() <= 5e-4);
            let told = number(&finding["expanded_uncertainty"]);
            assert!((u - told).abs() <= 0.05 * told + 1e-12, "{u} {told}");
            budgets += 1;
        }
        assert!(budgets > 20, "{form}: {budgets}");
        // Without being asked for there is none.
        let without = text(&run(&["check", form, "--format", "json"]));
        assert!(!without.contains("\"budget\""));
    }
}

/// A budget changes no outcome and no figure.
#[test]
fn the_rest_of_the_report_stays_as_it_is() {
    let with = text(&run(&["check", FORM, "--budget", "--format", "json"]));
    let without = text(&run(&["check", FORM, "--format", "json"]));
    let mut with: Value = serde_json::from_str(&with).unwrap();
    let without: Value = serde_json::from_str(&without).unwrap();
    for finding in with["records"][0]["findings"].as_array_mut().unwrap() {
        let finding = finding.as_object_mut().unwrap();
        finding.remove("budget");
        finding.remove("budget_sum");
    }
    assert_eq!(with, without);
}
