//! Placed values of one item meet where they are read at the same position and face; a single value meets every
//! place.

use rimegauge::check::{Outcome, Reason};
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, rules_text};

use Outcome::{Conforms, DoesNotConform, NotApplicable, NotDecided};

const EQUIPMENT: &str = "
  boat: { parts: { runners: { many: runner } } }
  runner:
    measures:
      depth: { kind: length, placed: yes }
      thickness: { kind: length, placed: yes }
      width: length
    zones:
      middle: { between: -60 mm to 60 mm }
      relief: { within: 6 mm, of: edge }
";

const RULES: &str = "rules:
  - { id: both, clause: A.1, title: t, text: t, applies_to: runner, value: depth - thickness, judged: worst_place, at_least: 10 mm }
  - { id: each, clause: A.2, title: t, text: t, applies_to: runner, value: depth - width, judged: worst_place, places: { at_least: 2 }, at_least: 10 mm }
  - { id: share, clause: A.3, title: t, text: t, applies_to: runner, value: (depth + thickness) / depth, judged: worst_place, at_most: 2 }
  - { id: relieved, clause: A.4, title: t, text: t, applies_to: runner, value: depth - thickness, judged: worst_place, outside: [relief], at_least: 10 mm }
  - id: zoned
    clause: A.5
    title: t
    text: t
    applies_to: runner
    value: depth - thickness
    judged: worst_place
    by: zone
    limits: { middle: { at_least: 20 mm }, elsewhere: { at_least: 10 mm } }
";

fn told(depth: &str, thickness: &str, rule: &str) -> (Outcome, Option<Reason>) {
    let bench = Bench::new(&rules_text(SHIPPED, EQUIPMENT.trim_matches('\n'), RULES));
    let record = bench.record(&format!(
        "runners: [ {{ id: S1, width: {{ with: exact, readings: 20 mm }}, \
         depth: {{ with: exact, places: [ {depth} ] }}, thickness: {{ with: exact, places: [ {thickness} ] }} }} ]"
    ));
    let stage = Stage::Certification;
    let (full, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
    for (full, brief) in full.findings.iter().zip(&brief.findings) {
        assert_eq!((full.outcome, full.reason), (brief.outcome, brief.reason));
    }
    let found = bench.of_rule(&full, rule);
    let one = found.first().expect("a finding");
    (one.outcome, one.reason)
}

#[test]
fn positions_have_to_be_exactly_equal() {
    let depth = "{ at: 0 mm, readings: 30 mm }, { at: 100 mm, readings: 30 mm }";
    assert_eq!(
        told(depth, "{ at: 0.0 cm, readings: 20 mm }", "both"),
        (Conforms, None)
    );
    assert_eq!(
        told(depth, "{ at: 100 mm, readings: 21 mm }", "both").0,
        DoesNotConform
    );
    assert_eq!(
        told(depth, "{ at: 0.01 mm, readings: 25 mm }", "both"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
    // A place that is nowhere said to be meets none.
    assert_eq!(
        told("{ readings: 30 mm }", "{ readings: 25 mm }", "both"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
}

#[test]
fn faces_have_to_be_the_same() {
    let depth = "{ at: 0 mm, face: port, readings: 30 mm }";
    let thin = |face: &str| format!("{{ at: 0 mm, {face} readings: 25 mm }}");
    assert_eq!(told(depth, &thin("face: port,"), "both").0, DoesNotConform);
    assert_eq!(
        told(depth, &thin("face: starboard,"), "both"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
    assert_eq!(
        told(depth, &thin(""), "both"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
}

/// How far from the edge each was read does not part them, and where only one says it, it is that of both.
#[test]
fn the_distance_from_the_edge_does_not_part_them() {
    let depth = "{ at: 0 mm, readings: 30 mm }";
    let thick = "{ at: 0 mm, from_edge: 5 mm, readings: 25 mm }, { at: 0 mm, from_edge: 12 mm, readings: 20 mm }";
    assert_eq!(told(depth, thick, "both").0, DoesNotConform);
    assert_eq!(told(depth, thick, "relieved"), (Conforms, None));
    let near = "{ at: 0 mm, from_edge: 5 mm, readings: 25 mm }";
    assert_eq!(
        told(depth, near, "relieved"),
        (NotApplicable, Some(Reason::LeftOut))
    );
    // A value meets itself where it is: 30 and 10 are never mixed, in (30 + 20)/30 and (10 + 10)/10.
    let depths = "{ at: 0 mm, from_edge: 5 mm, readings: 30 mm }, { at: 0 mm, from_edge: 12 mm, readings: 10 mm }";
    let thicks = "{ at: 0 mm, from_edge: 5 mm, readings: 20 mm }, { at: 0 mm, from_edge: 12 mm, readings: 10 mm }";
    assert_eq!(told(depths, thicks, "share"), (Conforms, None));
}

#[test]
fn a_single_value_meets_every_place() {
    let depth = "{ at: 0 mm, readings: 30 mm }, { readings: 31 mm }";
    assert_eq!(
        told(depth, "{ at: 0 mm, readings: 1 mm }", "each"),
        (Conforms, None)
    );
    let low = "{ at: 0 mm, readings: 30 mm }, { readings: 29 mm }";
    assert_eq!(
        told(low, "{ at: 0 mm, readings: 1 mm }", "each").0,
        DoesNotConform
    );
}

#[test]
fn pairs_go_by_zone_as_places_do() {
    let depth = "{ at: 0 mm, readings: 40 mm }, { at: 100 mm, readings: 30 mm }";
    let thick = |middle: &str| {
        format!("{{ at: 0 mm, readings: {middle} mm }}, {{ at: 100 mm, readings: 20 mm }}")
    };
    assert_eq!(told(depth, &thick("20"), "zoned"), (Conforms, None));
    assert_eq!(told(depth, &thick("21"), "zoned").0, DoesNotConform);
    // A place that only one was read at is none of the pair: the middle is then not read.
    assert_eq!(
        told(depth, "{ at: 100 mm, readings: 20 mm }", "zoned"),
        (NotDecided, Some(Reason::TooFewPlaces))
    );
}
