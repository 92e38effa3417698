//! Limits on rounded values, lists of choices, listed options, tables by several traits and by zone.

use rimegauge::check::{Outcome, Reason};
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, rules_text};

const EQUIPMENT: &str = "
  boat: { parts: { runners: { many: runner } } }
  runner:
    traits:
      construction: [plate, tee]
      position: [steering, side]
      body: { any_of: [wood, glass, aramid] }
    measures:
      width: length
      height: length
      depth: { kind: length, placed: yes }
    zones:
      middle: { between: -60 mm to 60 mm }
";

const RULES: &str = "rules:
  - { id: rounded, clause: A.1, title: t, text: t, applies_to: runner, value: width, at_least: 4.7 mm, rounded_to: 0.1 mm }
  - { id: only, clause: A.2, title: t, text: t, applies_to: runner, value: body, only: [wood, glass] }
  - { id: without, clause: A.3, title: t, text: t, applies_to: runner, value: body, without: [aramid] }
  - id: both
    clause: A.4
    title: t
    text: t
    applies_to: runner
    value: width
    by: [construction, position]
    limits: { plate: { steering: { at_least: 3 mm }, side: { at_least: 5 mm } }, tee: { steering: { at_least: 2 mm }, side: { at_least: 2 mm } } }
  - id: listed
    clause: A.5
    title: t
    text: t
    applies_to: runner
    options: { within: 10 %, of: [width, height], rows: { small: [5 mm, 20 mm], large: [6 mm, 30 mm] } }
  - id: zoned
    clause: A.6
    title: t
    text: t
    applies_to: runner
    value: depth
    judged: worst_place
    by: zone
    limits: { middle: { at_least: 70 mm }, elsewhere: { at_least: 40 mm } }
";

fn asked(runner: &str, rule: &str) -> (Outcome, Option<Reason>) {
    let bench = Bench::new(&rules_text(SHIPPED, EQUIPMENT.trim_matches('\n'), RULES));
    let record = bench.record(&format!("runners: [ {{ id: S1, {runner} }} ]"));
    let stage = Stage::Certification;
    let full = bench.check(&record, stage);
    let brief = bench.brief(&record, stage);
    let pairs = |verdict: &rimegauge::check::Verdict| -> Vec<_> {
        let found = verdict.findings.iter();
        found
            .map(|one| (one.rule, one.item, one.side, one.outcome, one.reason))
            .collect()
    };
    assert_eq!(pairs(&full), pairs(&brief), "{runner}");
    let of = bench.of_rule(&full, rule);
    let worst = of.iter().min_by_key(|one| one.outcome).expect("a finding");
    (worst.outcome, worst.reason)
}

const GOOD: (Outcome, Option<Reason>) = (Outcome::Conforms, None);
const BAD: (Outcome, Option<Reason>) = (Outcome::DoesNotConform, None);

fn open(reason: Reason) -> (Outcome, Option<Reason>) {
    (Outcome::NotDecided, Some(reason))
}

#[test]
fn a_tie_of_a_rounded_value_goes_to_the_even_step() {
    // 4.65 lies between 4.6 and 4.7; 46 tenths are even, so it is rounded down.
    assert_eq!(
        asked("width: { with: exact, readings: 4.65 mm }", "rounded"),
        BAD
    );
    assert_eq!(
        asked("width: { with: exact, readings: 4.651 mm }", "rounded"),
        GOOD
    );
}

#[test]
fn lists_are_judged_word_by_word() {
    assert_eq!(asked("body: [wood, glass]", "only"), GOOD);
    assert_eq!(asked("body: [wood, aramid]", "only"), BAD);
    assert_eq!(asked("body: other", "only"), BAD);
    assert_eq!(asked("body: wood", "without"), GOOD);
    assert_eq!(asked("body: [glass, aramid]", "without"), BAD);
    assert_eq!(
        asked("width: { with: exact, readings: 5 mm }", "without"),
        open(Reason::TraitMissing)
    );
}

#[test]
fn a_table_by_two_traits_waits_for_both() {
    let width = "width: { with: exact, readings: 4 mm }";
    assert_eq!(
        asked(
            &format!("construction: plate, position: side, {width}"),
            "both"
        ),
        BAD
    );
    assert_eq!(
        asked(
            &format!("construction: plate, position: steering, {width}"),
            "both"
        ),
        GOOD
    );
    assert_eq!(
        asked(&format!("construction: plate, {width}"), "both"),
        open(Reason::TraitMissing)
    );
    let no_row = (Outcome::DoesNotConform, Some(Reason::NoRowForChoice));
    assert_eq!(asked(&format!("position: other, {width}"), "both"), no_row);
}

#[test]
fn the_best_option_counts_and_its_border_is_near_enough() {
    let sized = |width: &str, height: &str| {
        format!(
            "width: {{ with: exact, readings: {width} mm }}, height: {{ with: exact, readings: {height} mm }}"
        )
    };
    assert_eq!(asked(&sized("5.5", "22"), "listed"), GOOD);
    assert_eq!(asked(&sized("5.51", "22"), "listed"), BAD);
    assert_eq!(asked(&sized("6.6", "27"), "listed"), GOOD);
    assert_eq!(asked(&sized("5", "30"), "listed"), BAD);
    let one = "width: { with: exact, readings: 5 mm }";
    assert_eq!(asked(one, "listed"), open(Reason::NotMeasured));
    let far = "width: { with: exact, readings: 9 mm }";
    assert_eq!(asked(far, "listed"), BAD);
}

#[test]
fn a_place_on_a_border_meets_both_rows() {
    let at = |places: &[(&str, &str)]| {
        let each = places
            .iter()
            .map(|(at, depth)| format!("{{ at: {at} mm, readings: {depth} mm }}"));
        let each: Vec<String> = each.collect();
        format!("depth: {{ with: exact, places: [ {} ] }}", each.join(", "))
    };
    assert_eq!(asked(&at(&[("0", "70"), ("100", "40")]), "zoned"), GOOD);
    assert_eq!(asked(&at(&[("60", "69"), ("100", "40")]), "zoned"), BAD);
    assert_eq!(asked(&at(&[("60", "70")]), "zoned"), GOOD);
    assert_eq!(
        asked(&at(&[("61", "69")]), "zoned"),
        open(Reason::TooFewPlaces)
    );
    assert_eq!(
        asked(
            "depth: { with: exact, places: [ { from_edge: 3 mm, readings: 60 mm } ] }",
            "zoned"
        ),
        open(Reason::PlaceNotStated)
    );
}
