//! Load tests, outlines, first values, what work does to readings, and the choice between two measurers.

use rimegauge::check::{FoundValue, Outcome, Reason};
use rimegauge::geometry::{area_of_corners, area_of_widths, line_fit};
use rimegauge::quantity::Exact;
use rimegauge::rules::Stage;
use rimegauge::uncertainty::{Part, PartKind, Uncertain};

use super::workbench::{Bench, SHIPPED, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const BOAT: &str = r#"
  boat: { parts: { plank: { one: plank }, bars: { many: bar }, correctors: { many: corrector } } }
  corrector: { measures: { mass: mass } }
  plank:
    measures:
      bend_test: { kind: load_test, span: 2400 mm, supports: rollers, methods: { rule: { expanded_uncertainty: 1 mm }, unnamed: { expanded_uncertainty: 1 mm } } }
      sail: { kind: outline, methods: { unnamed: { expanded_uncertainty: 2 mm } } }
  bar:
    measures:
      height: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.1 mm } } }
      height_new: { kind: length, fixed_at: first_certification }
      width: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.1 mm } } }
    derived: { left: height / height_new }
    alterations:
      sharpened: { measure_again: [height] }
      rebuilt: { new_item: yes, ends_certificate: yes }"#;

const RULES: &str = "
rules:
  - { id: sinks, clause: A.1, title: T, text: T, applies_to: plank, value: 'deflection_at(bend_test, 60 kg)', at_least: 25 mm }
  - { id: heavy, clause: A.2, title: T, text: T, applies_to: plank, value: 'deflection_at(bend_test, 100 kg)', at_least: 20 mm }
  - { id: stiff, clause: A.3, title: T, text: T, applies_to: plank, value: stiffness(bend_test), at_least: 10 N/mm }
  - { id: sail, clause: A.4, title: T, text: T, applies_to: plank, value: area(sail), at_most: 6.40 m2 }
  - { id: left, clause: A.5, title: T, text: T, applies_to: bar, value: left, at_least: 70 % }
  - { id: wide, clause: A.6, title: T, text: T, applies_to: bar, value: width, at_least: 5 mm }
  - { id: correctors, clause: A.7, title: T, text: T, applies_to: boat, value: sum(mass over correctors), at_most: 4.0 kg }";

fn bench() -> Bench {
    let (boat, rules) = (BOAT.trim_matches('\n'), RULES.trim_matches('\n'));
    Bench::new(&rules_text(SHIPPED, boat, rules))
}

fn open(reason: Reason) -> (Outcome, Option<Reason>) {
    (NotDecided, Some(reason))
}

/// A part of a record with an instrument, in a session of a day.
fn session(parts: &str) -> String {
    format!(
        "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ rule: {{ kind: rule, resolution: 0.1 mm }} }}, {parts} }}"
    )
}

fn plank(test: &str) -> String {
    session(&format!(
        "plank: {{ bend_test: {{ with: rule, {test}, steps: [ {{ load: 0 kg, sinks: 0.0 mm }}, {{ load: 20.0 kg, sinks: 8.4 mm }}, {{ load: 80.0 kg, sinks: 34.4 mm }}, {{ load: 0 kg, sinks: 0.3 mm }} ] }} }}"
    ))
}

const AS_ASKED: &str = "span: 2400 mm, supports: rollers";

/// Outcome, reason, value and notes of a rule, in full and as a fleet is told it.
fn found(text: &str, stage: Stage, rule: &str) -> (Outcome, Option<Reason>, String, Vec<String>) {
    let bench = bench();
    let record = bench.record(text);
    let (verdict, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
    assert_eq!(verdict.findings.len(), brief.findings.len());
    for (full, short) in verdict.findings.iter().zip(&brief.findings) {
        assert_eq!((full.outcome, full.reason), (short.outcome, short.reason));
    }
    let all = bench.of_rule(&verdict, rule);
    let one = all
        .first()
        .unwrap_or_else(|| panic!("no finding of {rule}"));
    let value = match &one.value {
        Some(FoundValue::Number { value, .. }) => value
            .as_exact()
            .map_or_else(|| format!("{:.9}", value.to_f64()), ToString::to_string),
        _ => String::new(),
    };
    (one.outcome, one.reason, value, one.notes.clone())
}

fn outcome(text: &str, stage: Stage, rule: &str) -> (Outcome, Option<Reason>) {
    let (outcome, reason, _, _) = found(text, stage, rule);
    (outcome, reason)
}

#[test]
fn a_deflection_lies_between_two_steps_in_proportion() {
    let text = plank(AS_ASKED);
    let (outcome, _, value, notes) = found(&text, Stage::Certification, "sinks");
    // 8.4 + (34.4 - 8.4) * 40 / 60
    assert_eq!(
        (outcome, value.as_str()),
        (NotDecided, "386/15"),
        "{notes:?}"
    );
    let notes = notes.join("; ");
    assert!(notes.contains("in proportion"), "{notes}");
    assert!(notes.contains("0.3 mm (hysteresis)"), "{notes}");
    // Beyond the heaviest step it sinks at least as far as there.
    let (outcome, _, value, _) = found(&text, Stage::Certification, "heavy");
    assert_eq!((outcome, value.as_str()), (Conforms, "34.4"));
}

#[test]
fn a_test_that_is_set_up_otherwise_decides_at_home_alone() {
    for test in [
        "span: 2300 mm, supports: rollers",
        "span: 2400 mm, supports: blocks",
        "supports: rollers",
        "span: 2400 mm",
    ] {
        let text = plank(test);
        assert_eq!(
            outcome(&text, Stage::SelfCheck, "heavy"),
            (Conforms, None),
            "{test}"
        );
        for stage in [Stage::Certification, Stage::EventInspection] {
            let (outcome, reason, _, notes) = found(&text, stage, "heavy");
            assert_eq!((outcome, reason), open(Reason::MethodDiffers), "{test}");
            assert!(
                notes.iter().any(|one| one.starts_with("bend test: ")),
                "{notes:?}"
            );
        }
    }
    // 2.4 m is the same span.
    let text = plank("span: 2.4 m, supports: rollers");
    assert_eq!(
        outcome(&text, Stage::Certification, "heavy"),
        (Conforms, None)
    );
}

#[test]
fn a_stiffness_is_the_slope_by_least_squares() {
    let steps = "steps: [ { load: 0 N, sinks: 0 mm }, { load: 200 N, sinks: 10 mm }, { load: 400 N, sinks: 20 mm } ]";
    let text = format!("{{ plank: {{ bend_test: {{ with: exact, {steps} }} }} }}");
    let (outcome, _, value, _) = found(&text, Stage::Certification, "stiff");
    // 20 N/mm is 20,000 kg/s2, exactly.
    assert_eq!((outcome, value.as_str()), (Conforms, "20000"));
    // A mass of 200 kg rests with 1961.33 N at standard gravity.
    let text = text.replace(" N,", " kg,");
    let (_, _, value, notes) = found(&text, Stage::Certification, "stiff");
    assert_eq!(value, "196133", "{notes:?}");
    assert!(notes.join(" ").contains("9.80665"), "{notes:?}");
}

/// JCGM 100:2008, H.3: the calibration line of a thermometer.
#[test]
fn the_line_of_h_3() {
    let t = "21.521 22.012 22.512 23.003 23.507 23.999 24.513 25.002 25.503 26.010 26.511";
    let b = "-171 -169 -166 -159 -164 -165 -156 -157 -159 -161 -160";
    let exact = |text: &str, over: i64| -> Vec<Uncertain> {
        let whole = text
            .split(' ')
            .map(|one| one.replace('.', "").parse::<i64>().unwrap());
        let each = whole.map(|one| Exact::from_fraction(one, over).unwrap());
        each.map(Uncertain::exact).collect()
    };
    let fit = line_fit(&exact(t, 1000), &exact(b, 1000), &Exact::from_integer(20)).unwrap();
    let near = |found: f64, published: f64| {
        assert!((found - published).abs() < 1e-9, "{found} {published}");
    };
    near(fit.y_1.value.to_f64(), -0.171_203_790);
    near(fit.u_1, 0.002_877_598);
    near(fit.y_2.value.to_f64(), 0.002_182_698);
    near(fit.u_2, 0.000_667_939);
    near(fit.s.unwrap(), 0.003_497_564);
    assert!((fit.r + 0.930_430).abs() < 1e-6, "{}", fit.r);
    assert_eq!(fit.nu, 9.0);
}

fn lengths(values: &[i64]) -> Vec<Uncertain> {
    values
        .iter()
        .map(|one| Uncertain::exact(Exact::from_integer(*one)))
        .collect()
}

/// A sail with an edge of 4.8 m, a foot of 2.4 m and a parabolic round of 0.18 m: 6.336 m2 exactly.
#[test]
fn areas_are_exact_for_parabolas_and_for_corners() {
    let widths = lengths(&[2400, 1935, 1380, 735, 0]);
    let spacing = Uncertain::exact(Exact::from_integer(1200));
    let area = area_of_widths(&spacing, &widths).unwrap();
    assert_eq!(area.value.as_exact(), Some(&Exact::from_integer(6_336_000)));
    assert!(area_of_widths(&spacing, &widths[1..]).is_err());
    // Either way round, with the uncertainty of one coordinate by its derivative.
    let u = Part::new(PartKind::Calibration, 1, 1, 0.5, f64::INFINITY);
    let mut corners: Vec<[Uncertain; 2]> = [[0, 0], [1200, 0], [1200, 800], [0, 800]]
        .iter()
        .map(|one| <[Uncertain; 2]>::try_from(lengths(one)).unwrap())
        .collect();
    corners[1][0] = Uncertain::new(corners[1][0].value.clone(), [u]);
    for _ in 0..2 {
        let area = area_of_corners(&corners).unwrap();
        assert_eq!(area.value.as_exact(), Some(&Exact::from_integer(960_000)));
        assert!((area.combined().u - 0.5 * 400.0).abs() < 1e-9);
        corners.reverse();
    }
}

#[test]
fn an_outline_is_judged_by_its_area() {
    let sail = |outline: &str| format!("{{ plank: {{ sail: {{ with: exact, {outline} }} }} }}");
    let text = sail("spacing: 1.2 m, widths: 2400 1935 1380 735 0 mm");
    assert_eq!(
        outcome(&text, Stage::Certification, "sail"),
        (Conforms, None)
    );
    let text = sail("points: [ 0 0 m, 4.0 0 m, 4.0 1.7 m, 0 1.7 m ]");
    assert_eq!(
        outcome(&text, Stage::Certification, "sail"),
        (DoesNotConform, None)
    );
}

fn bar(height: &str, new: &str, work: &str) -> String {
    session(&format!(
        "bar: {{ height: {{ with: rule, {height} }}, height_new: {new}, work: [ {work} ], width: {{ with: rule, readings: 9.0 mm }} }}"
    ))
}

const NEW: &str = "{ value: 25.0 mm, day: 2019-11-20, paper: C-0117 }";

#[test]
fn a_first_value_asks_for_its_paper() {
    let read = "readings: 20.0 mm";
    let text = bar(read, NEW, "");
    let (outcome_, reason, value, notes) = found(&text, Stage::Certification, "left");
    assert_eq!((outcome_, reason, value.as_str()), (Conforms, None, "0.8"));
    assert!(notes.join(" ").contains("C-0117"), "{notes:?}");
    for new in ["25.0 mm", "{ value: 25.0 mm, day: 2019-11-20 }"] {
        let text = bar(read, new, "");
        assert_eq!(outcome(&text, Stage::SelfCheck, "left"), (Conforms, None));
        for stage in [Stage::Certification, Stage::EventInspection] {
            assert_eq!(outcome(&text, stage, "left"), open(Reason::ProofMissing));
        }
    }
}

#[test]
fn work_makes_earlier_readings_stale() {
    let sharpened = "{ day: 2026-10-03, did: sharpened }";
    let before = bar("taken: 2026-10-02, readings: 20.0 mm", NEW, sharpened);
    let (outcome_, reason, _, notes) = found(&before, Stage::SelfCheck, "left");
    assert_eq!((outcome_, reason), open(Reason::Stale));
    let notes = notes.join(" ");
    assert!(
        notes.contains("read on 2026-10-02; sharpened on 2026-10-03"),
        "{notes}"
    );
    // What the work does not ask for again stands, and so does what was read on its day.
    assert_eq!(outcome(&before, Stage::SelfCheck, "wide"), (Conforms, None));
    let same_day = bar("taken: 2026-10-03, readings: 20.0 mm", NEW, sharpened);
    assert_eq!(
        outcome(&same_day, Stage::SelfCheck, "left"),
        (Conforms, None)
    );
}

#[test]
fn a_new_item_has_no_first_value_and_no_reading_from_before() {
    let rebuilt = "{ day: 2026-10-03, did: rebuilt }";
    let text = bar("readings: 20.0 mm", NEW, rebuilt);
    assert_eq!(
        outcome(&text, Stage::SelfCheck, "left"),
        open(Reason::Stale)
    );
    assert_eq!(outcome(&text, Stage::SelfCheck, "wide"), (Conforms, None));
    let since = bar(
        "readings: 20.0 mm",
        "{ value: 25.0 mm, day: 2026-10-04, paper: C-2 }",
        rebuilt,
    );
    assert_eq!(
        outcome(&since, Stage::Certification, "left"),
        (Conforms, None)
    );
    let late = bar(
        "readings: 20.0 mm",
        NEW,
        "{ day: 2026-11-22, did: rebuilt }",
    );
    assert_eq!(
        outcome(&late, Stage::SelfCheck, "wide"),
        open(Reason::Stale)
    );
}

#[test]
fn a_named_person_chooses_between_two_measurers() {
    let two = |chosen: &str| {
        session(&format!(
            "bar: {{ width: {{ series: [ {{ with: rule, readings: 4.0 mm }}, {{ by: CD, with: rule, second: yes, readings: 6.0 mm }} ]{chosen} }} }}"
        ))
    };
    let stage = Stage::Certification;
    assert_eq!(
        outcome(&two(""), stage, "wide"),
        open(Reason::MeasurersDisagree)
    );
    let first = two(", chosen: { series: 1, by: EF, because: the second slipped }");
    assert_eq!(outcome(&first, stage, "wide"), (DoesNotConform, None));
    let second = two(", chosen: { series: 2, by: EF, because: the first slipped }");
    let (outcome_, _, value, notes) = found(&second, stage, "wide");
    assert_eq!((outcome_, value.as_str()), (Conforms, "6"));
    let said = "width: EF chose series 2 of 2, by CD: the first slipped";
    assert!(notes.iter().any(|one| one == said), "{notes:?}");
}

#[test]
fn the_masses_of_correctors_add_up() {
    let with = |masses: &str| format!("{{ correctors: [ {masses} ] }}");
    let one =
        |id: &str, mass: &str| format!("{{ id: {id}, mass: {{ with: exact, readings: {mass} }} }}");
    let stage = Stage::Certification;
    assert_eq!(outcome(&with(""), stage, "correctors"), (Conforms, None));
    let good = with(&[one("K1", "1.5 kg"), one("K2", "2500 g")].join(", "));
    assert_eq!(outcome(&good, stage, "correctors"), (Conforms, None));
    let heavy = good.replace("2500 g", "2501 g");
    assert_eq!(outcome(&heavy, stage, "correctors"), (DoesNotConform, None));
}
