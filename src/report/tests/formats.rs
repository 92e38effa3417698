//! Every format of a report, with the exact text.

use super::sample::{checked, finding, missing, near, thin};
use crate::check::{Finding, Outcome};
use crate::report::{Format, Options, Printer};
use crate::rules::Stage;

fn options(format: Format, width: usize) -> Options {
    Options {
        format,
        width,
        colour: false,
        all: false,
        details: false,
        many: false,
    }
}

fn printed(options: Options, findings: Vec<Finding>) -> String {
    let mut printer = Printer::new(options, Stage::SelfCheck);
    let record = printer.record(options.piece(&checked(findings)));
    format!("{record}{}", printer.finish())
}

fn sample() -> Vec<Finding> {
    vec![
        near(),
        thin(),
        finding(1, 2, Outcome::Conforms),
        finding(1, 2, Outcome::NotApplicable),
    ]
}

#[test]
fn a_person_reads_the_worst_first_with_points_aligned() {
    assert_eq!(
        printed(options(Format::Human, 80), sample()),
        "\
T8 41  Nightjar · does not conform
forms/nightjar.yaml · Tarn 8 Class Rules 3.1.0, in force from 2026-11-01
self-check on 2026-11-21

does not conform  S3  D.3.2  Steel thickness
                   4.620 ± 0.020 mm   at least  4.70 mm   short by 0.08 mm
                  k = 2.0 · at -300 mm, port face · nightjar.yaml:8:22
                  rule 3.1.0.yaml:4:15
                  Steel can't be added; use another runner.

not decided       S1  D.4.1  Included edge angle
                  75.4 ± 1.2 deg      at least 75 deg     0.4 deg inside
                  within its uncertainty of the limit; U of 0.4 deg or less
                  would decide · at event inspection: conforms
                  k = 2.0 · nightjar.yaml:6:5 · rule 3.1.0.yaml:6:15

1 conforms · 1 does not · 1 open · 1 doesn't apply
This says nothing about safety. Edges are sharp: guards on.
"
    );
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for width in 60..160 {
        let mut findings = sample();
        findings.extend([missing(1), missing(2)]);
        for details in [false, true] {
            let options = Options {
                details,
                all: true,
                ..options(Format::Human, width)
            };
            let text = printed(options, findings.clone());
            for line in text.lines() {
                assert!(
                    super::super::layout::width_of(line) <= width,
                    "{width}: {line}"
                );
            }
        }
    }
}

#[test]
fn a_wide_terminal_has_head_and_numbers_on_one_line() {
    let text = printed(options(Format::Human, 130), sample());
    let wanted = "does not conform  S3  D.3.2  Steel thickness        4.620 ± 0.020 mm   at least  4.70 mm   short by 0.08 mm";
    assert!(text.lines().any(|line| line == wanted), "{text}");
}

#[test]
fn findings_that_say_the_same_of_several_items_are_one_entry() {
    assert_eq!(
        printed(options(Format::Human, 80), vec![missing(1), missing(2)]),
        "\
T8 41  Nightjar · not decided
forms/nightjar.yaml · Tarn 8 Class Rules 3.1.0, in force from 2026-11-01
self-check on 2026-11-21

not decided       S1, S3  D.3.2  Steel thickness   at least 4.70 mm
                  not measured: measure steel thickness
                  nightjar.yaml:5:9 and 1 more · rule 3.1.0.yaml:4:15

0 conform · 2 open
This says nothing about safety. Edges are sharp: guards on.
"
    );
}

#[test]
fn a_log_gets_a_sentence_for_each_finding() {
    assert_eq!(
        printed(options(Format::Plain, 80), sample()),
        "\
T8 41 Nightjar: does not conform. Tarn 8 Class Rules 3.1.0, in force from 2026-11-01, self-check on 2026-11-21. \
Record forms/nightjar.yaml, line 1.
S3 does not conform to D.3.2 Steel thickness: 4.620 ± 0.020 mm at -300 mm, port face, at least 4.70 mm asked; k = 2.0; \
short by 0.08 mm; record forms/nightjar.yaml:8:22; rule tarn-8/3.1.0.yaml:4:15. \
Steel can't be added; use another runner.
S1 is not decided under D.4.1 Included edge angle: 75.4 ± 1.2 deg, at least 75 deg asked; k = 2.0; 0.4 deg inside; \
within its uncertainty of the limit; U of 0.4 deg or less would decide; at event inspection: conforms; \
record forms/nightjar.yaml:6:5; rule tarn-8/3.1.0.yaml:6:15.
T8 41 Nightjar: 1 conforms, 1 does not, 1 open, 1 doesn't apply.
This says nothing about safety. Edges are sharp: guards on.
"
    );
}

#[test]
fn json_has_the_fields_of_the_contract_in_their_order() {
    let text = printed(options(Format::Json, 80), vec![thin()]);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["format"], "rimegauge-report/1");
    let finding = &value["records"][0]["findings"][0];
    assert_eq!(
        finding["value"],
        serde_json::json!({ "number": "4.62", "unit": "mm", "exact": true, "bound": null })
    );
    assert_eq!(
        finding["margin"],
        serde_json::json!({ "number": "-0.08", "unit": "mm" })
    );
    assert_eq!(
        finding["expanded_uncertainty"],
        serde_json::json!({ "number": "0.020", "unit": "mm" })
    );
    assert_eq!(finding["effective_degrees_of_freedom"], 58.1);
    assert_eq!(
        finding["source_at"]["pointer"],
        "/runners/1/steel_thickness"
    );
    let order = [
        "\"format\"",
        "\"purpose\"",
        "\"records\"",
        "\"source\"",
        "\"digest\"",
        "\"sail_number\"",
        "\"outcome\"",
        "\"rules\"",
        "\"class\"",
        "\"version\"",
        "\"overlay\"",
        "\"day\"",
        "\"level\"",
        "\"decision_rule\"",
        "\"notes\"",
        "\"findings\"",
        "\"rule\":",
        "\"clause\"",
        "\"item\"",
        "\"side\"",
        "\"outcome\"",
        "\"reason\"",
        "\"outcome_by_purpose\"",
        "\"value\"",
        "\"expanded_uncertainty\"",
        "\"coverage_factor\"",
        "\"effective_degrees_of_freedom\"",
        "\"limit\":",
        "\"margin\"",
        "\"probability_of_conformity\"",
        "\"place\":",
        "\"places\"",
        "\"settled_by\"",
        "\"benefit_of_doubt\"",
        "\"second_measurer\"",
        "\"notes\"",
        "\"source_at\"",
        "\"limit_at\"",
        "\"message\"",
        "\"remedy\"",
    ];
    let mut rest = text.as_str();
    for field in order {
        let at = rest
            .find(field)
            .unwrap_or_else(|| panic!("{field} is missing or out of order"));
        rest = &rest[at + field.len()..];
    }
}

#[test]
fn a_build_server_sees_what_is_open_as_an_error() {
    let text = printed(options(Format::Junit, 80), sample());
    assert!(
        text.contains("tests=\"3\" failures=\"1\" errors=\"1\" skipped=\"0\""),
        "{text}"
    );
    assert!(
        text.contains("<error type=\"near_limit\" message=\"not decided: 75.4 ± 1.2 deg, "),
        "{text}"
    );
    assert!(
        text.contains(
            "<failure type=\"does_not_conform\" message=\"does not conform: 4.620 ± 0.020 mm, "
        ),
        "{text}"
    );
    assert!(text.ends_with("</testsuites>\n"));
}

#[test]
fn details_point_at_record_and_rules() {
    let options = Options {
        details: true,
        ..options(Format::Human, 80)
    };
    let text = printed(options, vec![thin()]);
    assert!(text.contains("[forms/nightjar.yaml:8:22]"), "{text}");
    assert!(text.contains("[tarn-8/3.1.0.yaml:4:15]"), "{text}");
    assert!(text.contains("── 4.620 ± 0.020 mm"), "{text}");
    assert!(text.contains("── at least 4.70 mm"), "{text}");
}

#[test]
fn input_that_can_not_be_used_stands_alone_or_at_the_end() {
    let wrong = [crate::diagnostic::Diagnostic::fault("text.tab", "a tab")];
    let options = options(Format::Json, 80);
    let mut alone = Printer::new(options, Stage::SelfCheck);
    alone.refused(&wrong, true);
    let value: serde_json::Value = serde_json::from_str(&alone.finish()).unwrap();
    assert_eq!(value["format"], "rimegauge-diagnostics/1");
    let mut printer = Printer::new(options, Stage::SelfCheck);
    printer.refused(&wrong, true);
    let record = printer.record(options.piece(&checked(vec![thin()])));
    let value: serde_json::Value = serde_json::from_str(&(record + &printer.finish())).unwrap();
    assert_eq!(value["format"], "rimegauge-report/1");
    assert_eq!(value["diagnostics"][0]["code"], "text.tab");
    assert_eq!(value["records"].as_array().unwrap().len(), 1);
}

#[test]
fn what_acts_on_a_terminal_is_shown_by_its_number() {
    let mut checked = checked(vec![thin()]);
    checked.record.boat_name = Some("Night\u{1b}[31mjar".to_owned());
    for format in [Format::Human, Format::Plain, Format::Junit] {
        let text = options(format, 80).piece(&checked);
        assert!(!format!("{text:?}").contains("\\u{1b}[31m\\"), "{text:?}");
        let mut printer = Printer::new(options(format, 80), Stage::SelfCheck);
        assert!(!printer.record(text).contains('\u{1b}'));
    }
}
