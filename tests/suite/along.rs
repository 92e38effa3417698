//! Zones along the edge: from the heel, over the contact with the ice, to where the edge has risen.

use rimegauge::check::{Finding, Outcome, Reason, Settle};
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const EQUIPMENT: &str = "
  boat: { parts: { runners: { many: runner } } }
  runner:
    measures:
      heel_at: position
      depth: { kind: length, placed: yes }
      edge_profile: { kind: profile, methods: { leaves: { expanded_uncertainty: 0.1 mm }, unnamed: { expanded_uncertainty: 0.3 mm } } }
    zones:
      contact_edge: { along: edge_profile, from: heel_at, to_height: 22 mm }
";

const RULES: &str = "rules:
  - { id: inside, clause: A.1, title: t, text: t, applies_to: runner, value: depth, judged: worst_place, zone: contact_edge, places: { at_least: 1 }, at_least: 70 mm }
  - { id: outside, clause: A.2, title: t, text: t, applies_to: runner, value: depth, judged: worst_place, outside: [contact_edge], at_least: 40 mm }
  - { id: mean, clause: A.3, title: t, text: t, applies_to: runner, value: depth, judged: mean, zone: contact_edge, at_least: 70 mm }
  - id: rows
    clause: A.4
    title: t
    text: t
    applies_to: runner
    value: depth
    judged: worst_place
    by: zone
    limits: { contact_edge: { at_least: 70 mm }, elsewhere: { at_least: 40 mm } }
";

/// Rises from 2 mm at 300 mm to 42 mm at 500 mm: 22 mm at 400 mm.
const STATIONS: &str = "stations: -300 0 300 500 mm, gaps: 2.0 0.0 2.0 42.0 mm";

fn finding(runner: &str, rule: &str) -> Finding {
    let bench = Bench::new(&rules_text(SHIPPED, EQUIPMENT.trim_matches('\n'), RULES));
    let record = bench.record(&format!(
        "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ bar: {{ kind: leaves, resolution: 0.1 mm }} }}, \
         runners: [ {{ id: S1, {runner} }} ] }}"
    ));
    let stage = Stage::Certification;
    let (full, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
    assert_eq!(full.findings.len(), brief.findings.len());
    for (full, brief) in full.findings.iter().zip(&brief.findings) {
        assert_eq!(
            (full.outcome, full.reason),
            (brief.outcome, brief.reason),
            "{runner}"
        );
    }
    (*bench.of_rule(&full, rule).first().expect("a finding")).clone()
}

fn told(runner: &str, rule: &str) -> (Outcome, Option<Reason>) {
    let found = finding(runner, rule);
    (found.outcome, found.reason)
}

/// A runner with its heel at −350 mm and one place.
fn at(place: i64, depth: &str, with: &str, profile: &str) -> String {
    format!(
        "heel_at: {{ with: exact, readings: -350 mm }}, edge_profile: {{ with: {with}, {profile} }}, \
         depth: {{ with: exact, places: [ {{ at: {place} mm, readings: {depth} mm }} ] }}"
    )
}

const UNSTATED: (Outcome, Option<Reason>) = (NotDecided, Some(Reason::PlaceNotStated));

#[test]
fn the_border_lies_where_the_edge_has_risen() {
    let exact = |place: i64, depth: &str| at(place, depth, "exact", STATIONS);
    // The line lies level, so 22 mm are reached at 400 mm exactly; borders are closed.
    assert_eq!(told(&exact(400, "60"), "inside").0, DoesNotConform);
    assert_eq!(told(&exact(400, "70"), "inside"), (Conforms, None));
    assert_eq!(told(&exact(399, "60"), "inside").0, DoesNotConform);
    assert_eq!(
        told(&exact(401, "60"), "inside"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
    // Aft of the heel is outside.
    assert_eq!(
        told(&exact(-351, "60"), "inside"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
    assert_eq!(told(&exact(-350, "60"), "inside").0, DoesNotConform);
    assert_eq!(told(&exact(401, "30"), "outside").0, DoesNotConform);
    assert_eq!(
        told(&exact(400, "30"), "outside"),
        (Outcome::NotApplicable, Some(Reason::LeftOut))
    );
    let note = finding(&exact(0, "75"), "inside").notes.join("; ");
    assert!(
        note.contains("zone contact edge: ends at 400.0 mm"),
        "{note}"
    );
}

#[test]
fn rows_by_zone_go_by_the_border() {
    let both = |near: &str, far: &str| {
        format!(
            "heel_at: {{ with: exact, readings: -350 mm }}, edge_profile: {{ with: exact, {STATIONS} }}, \
             depth: {{ with: exact, places: [ {{ at: 399 mm, readings: {near} mm }}, {{ at: 401 mm, readings: {far} mm }} ] }}"
        )
    };
    assert_eq!(told(&both("70", "40"), "rows"), (Conforms, None));
    assert_eq!(told(&both("69", "40"), "rows").0, DoesNotConform);
    assert_eq!(told(&both("70", "39"), "rows").0, DoesNotConform);
}

/// A place that is nearer to the border than the border is certain may lie on either side.
#[test]
fn near_the_border_a_place_is_not_stated() {
    let bar = |place: i64, depth: &str| at(place, depth, "bar", STATIONS);
    let found = finding(&bar(0, "75"), "inside");
    let note = found.notes.join("; ");
    assert!(note.contains("ends at 400.0 mm, U "), "{note}");
    assert_eq!(told(&bar(400, "60"), "inside"), UNSTATED);
    assert_eq!(told(&bar(400, "75"), "inside"), UNSTATED);
    assert_eq!(told(&bar(200, "60"), "inside").0, DoesNotConform);
    assert_eq!(told(&bar(500, "30"), "outside").0, DoesNotConform);
    // Not even a place that would fail on either side: which row it meets is what a finding says.
    assert_eq!(told(&bar(400, "30"), "rows"), UNSTATED);
    assert_eq!(told(&bar(400, "60"), "rows"), UNSTATED);
}

#[test]
fn readings_that_end_before_the_border_leave_it_open() {
    let short = "stations: -300 0 300 mm, gaps: 2.0 0.0 2.0 mm";
    let exact = |place: i64, depth: &str| at(place, depth, "exact", short);
    assert_eq!(told(&exact(300, "70"), "inside"), (Conforms, None));
    assert_eq!(told(&exact(299, "60"), "inside").0, DoesNotConform);
    assert_eq!(told(&exact(301, "60"), "inside"), UNSTATED);
    let note = finding(&exact(0, "75"), "inside").notes.join("; ");
    assert!(note.contains("reaches at least to 300.0 mm"), "{note}");
    // Leaves reach as far as they bind.
    let leaves = "shims: [ { gap: 0.20 mm, forward: 228 mm, aft: 219 mm } ]";
    assert_eq!(
        told(&at(228, "70", "exact", leaves), "inside"),
        (Conforms, None)
    );
    assert_eq!(told(&at(229, "70", "exact", leaves), "inside"), UNSTATED);
}

#[test]
fn without_a_profile_it_says_what_to_measure() {
    let depth = "depth: { with: exact, places: [ { at: 0 mm, readings: 60 mm }, { at: 420 mm, readings: 80 mm } ] }";
    let heel = format!("heel_at: {{ with: exact, readings: -350 mm }}, {depth}");
    for rule in ["inside", "mean", "rows", "outside"] {
        let found = finding(&heel, rule);
        assert_eq!(
            (found.outcome, found.reason),
            (NotDecided, Some(Reason::NotMeasured)),
            "{rule}"
        );
        assert!(
            matches!(&found.settled_by, Some(Settle::Measure(what)) if what == "edge_profile"),
            "{rule}"
        );
    }
    let no_heel = format!("edge_profile: {{ with: exact, {STATIONS} }}, {depth}");
    let found = finding(&no_heel, "inside");
    assert_eq!(
        (found.outcome, found.reason),
        (NotDecided, Some(Reason::NotMeasured))
    );
    assert!(matches!(&found.settled_by, Some(Settle::Measure(what)) if what == "heel_at"));
    // A place that lies outside of it anyway needs no profile.
    let aft = "heel_at: { with: exact, readings: -350 mm }, depth: { with: exact, places: [ { at: -400 mm, readings: 60 mm } ] }";
    assert_eq!(told(aft, "outside"), (Conforms, None));
}

/// A second measurer's places go by the same rows; where the two come to different outcomes nothing is decided.
#[test]
fn a_second_measurer_is_compared_by_zone() {
    let second = |theirs: &str| {
        format!(
            "heel_at: {{ with: exact, readings: -350 mm }}, edge_profile: {{ with: exact, {STATIONS} }}, \
             depth: {{ series: [ {{ with: bar, places: [ {{ at: 0 mm, readings: 75.0 mm }}, {{ at: 450 mm, readings: 50.0 mm }} ] }}, \
             {{ with: bar, second: yes, by: CD, places: [ {theirs} ] }} ] }}"
        )
    };
    let agreed = second("{ at: 0 mm, readings: 75.1 mm }");
    assert_eq!(told(&agreed, "rows"), (Conforms, None));
    let apart = second("{ at: 0 mm, readings: 60.0 mm }");
    assert_eq!(
        told(&apart, "rows"),
        (NotDecided, Some(Reason::MeasurersDisagree))
    );
    // 60 mm are enough elsewhere.
    let elsewhere = second("{ at: 450 mm, readings: 60.0 mm }");
    assert_eq!(told(&elsewhere, "rows"), (Conforms, None));
    // A place that only the second has is added.
    let added = second("{ at: 100 mm, readings: 60.0 mm }");
    assert_eq!(told(&added, "rows").0, DoesNotConform);
}
