//! Functions that look something up in a published table, in rules over records.

use rimegauge::check::{Finding, FoundValue, Outcome, Reason, Settle};
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const BAR: &str = r#"
  boat: { parts: { bars: { many: bar } } }
  bar:
    measures:
      hardness: hardness_hrc
      length: length
      width: { kind: length, placed: yes }
      cold: temperature
    derived: { hard: "converted_hardness(hardness, hv)" }"#;

const RULES: &str = "
rules:
  - { id: hv, clause: A.1, title: T, text: T, applies_to: bar, value: hard, at_least: 600 HV }
  - { id: hbw, clause: A.2, title: T, text: T, applies_to: bar, value: 'converted_hardness(hardness, hbw)', at_most: 700 HBW }
  - { id: tape, clause: A.3, title: T, text: T, applies_to: bar, value: 'at_20_degrees(length, steel, spruce)', at_least: 3657 mm }
  - { id: same, clause: A.4, title: T, text: T, applies_to: bar, value: 'at_20_degrees(length, steel, steel)', at_least: 3658 mm }
  - { id: own, clause: A.5, title: T, text: T, applies_to: bar, value: 'at_20_degrees(length, steel, spruce, cold)', at_least: 3657 mm }
  - { id: places, clause: A.6, title: T, text: T, applies_to: bar, value: 'at_20_degrees(width, steel, aluminium)', judged: worst_place, at_least: 4 mm }";

fn bench() -> Bench {
    let text = rules_text(SHIPPED, BAR.trim_matches('\n'), RULES.trim_matches('\n'));
    Bench::new(&text)
}

fn bar(session: &str, measures: &str) -> String {
    format!("{{ measured: {{ day: 2026-11-21, by: AB{session} }}, bar: {{ {measures} }} }}")
}

fn home(text: &str, rule: &str) -> (Outcome, Option<Reason>) {
    bench().ask(text, Stage::SelfCheck, rule)
}

fn finding(text: &str, rule: &str) -> Finding {
    let bench = bench();
    let record = bench.record(text);
    let verdict = bench.check(&record, Stage::SelfCheck);
    let found = bench.of_rule(&verdict, rule);
    (*found.first().unwrap()).clone()
}

fn number(finding: &Finding) -> f64 {
    match &finding.value {
        Some(FoundValue::Number { value, .. }) => value.to_f64(),
        other => panic!("{other:?}"),
    }
}

/// ASTM E140: 58 HRC is 653 HV and 615 HBW; 55 HRC is 595 HV.
#[test]
fn a_hardness_is_decided_on_another_scale_and_says_so() {
    let read = |hrc: &str| {
        bar(
            "",
            &format!("hardness: {{ with: exact, readings: {hrc} HRC }}"),
        )
    };
    assert_eq!(home(&read("58"), "hv"), (Conforms, None));
    assert_eq!(home(&read("54"), "hv"), (DoesNotConform, None));
    // 595 HV, and the table is good to 2 HV or so.
    assert_eq!(
        home(&read("55.3"), "hv"),
        (NotDecided, Some(Reason::NearLimit))
    );
    let found = finding(&read("58"), "hv");
    assert_eq!(number(&found), 653.0);
    let notes = found.notes.join("; ");
    assert!(
        notes.contains("converted from HRC by ASTM E140: an indication"),
        "{notes}"
    );
    let found = finding(&read("61"), "hbw");
    assert_eq!(number(&found), 670.0);
    assert!(found.notes.join("; ").contains("in brackets"));
}

#[test]
fn a_hardness_outside_the_table_is_not_converted() {
    for (hrc, rule) in [("19", "hv"), ("68.5", "hv"), ("66", "hbw")] {
        let text = bar(
            "",
            &format!("hardness: {{ with: exact, readings: {hrc} HRC }}"),
        );
        assert_eq!(
            home(&text, rule),
            (NotDecided, Some(Reason::NotMeasured)),
            "{hrc}"
        );
        let notes = finding(&text, rule).notes.join("; ");
        assert!(
            notes.contains(&format!("{hrc} HRC is outside the table")),
            "{notes}"
        );
    }
}

/// Spruce read with a steel tape at -20 degC: 1.156 mm off 3658 mm to first order.
#[test]
fn a_length_read_in_the_cold() {
    let length = "length: { with: exact, readings: 3658 mm }";
    let cold = bar(", temperature: -20 degC", length);
    let found = finding(&cold, "tape");
    assert!(
        (number(&found) - 3656.844).abs() < 1e-3,
        "{}",
        number(&found)
    );
    let notes = found.notes.join("; ");
    assert!(notes.contains("carbon steel"), "{notes}");
    assert!(notes.contains("-20 degC"), "{notes}");
    // 0.156 mm below the limit, within what coefficients and air leave open.
    assert_eq!(home(&cold, "tape"), (NotDecided, Some(Reason::NearLimit)));
    let warm = bar(", temperature: 20 degC", length);
    assert_eq!(home(&warm, "tape"), (Conforms, None));
    // Of one material nothing is left to correct, whatever the temperature: exact, and on the limit.
    assert_eq!(home(&cold, "same"), (Conforms, None));
}

#[test]
fn without_a_temperature_nothing_is_corrected() {
    let length = "length: { with: exact, readings: 3658 mm }";
    let text = bar("", length);
    assert_eq!(home(&text, "tape"), (NotDecided, Some(Reason::NotMeasured)));
    let found = finding(&text, "tape");
    let asked = found.settled_by.clone();
    assert!(
        matches!(&asked, Some(Settle::Declare(what)) if what.contains("measured.temperature")),
        "{asked:?}"
    );
    assert_eq!(home(&text, "own"), (NotDecided, Some(Reason::NotMeasured)));
    let own = format!("{length}, cold: {{ with: exact, readings: -20 degC }}");
    assert!((number(&finding(&bar("", &own), "own")) - 3656.844).abs() < 1e-3);
    let hot = format!("{length}, cold: {{ with: exact, readings: 300 degC }}");
    assert_eq!(
        home(&bar("", &hot), "own"),
        (NotDecided, Some(Reason::NotMeasured))
    );
    let notes = finding(&bar("", &hot), "own").notes.join("; ");
    assert!(notes.contains("300 degC"), "{notes}");
}

#[test]
fn every_place_is_corrected_by_itself() {
    let text = bar(
        ", temperature: -20 degC",
        "width: { with: exact, places: [ { at: 0 mm, readings: 4.1 mm }, { at: 9 mm, readings: 4.0 mm } ] }",
    );
    // Aluminium shrinks more than the steel of the tape: at 20 degC it is wider than was read.
    assert_eq!(home(&text, "places"), (Conforms, None));
    assert!((number(&finding(&text, "places")) - 4.001_9).abs() < 1e-4);
}
