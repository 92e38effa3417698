//! Values taken at places: where a rule looks, how many places are enough, and the worst of them.

use proptest::prelude::*;
use rimegauge::check::{Finding, Outcome, Reason, Settle};
use rimegauge::quantity::Exact;
use rimegauge::rules::Stage;

use super::tree::as_written;
use super::workbench::{Bench, SHIPPED, always, cases, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const BAR: &str = "
  boat: { parts: { bars: { many: bar } } }
  bar:
    measures:
      width: { kind: length, placed: yes, methods: { micrometer: { expanded_uncertainty: 0.02 mm } } }
      depth: { kind: length, placed: yes }
      toe_at: { kind: position, plausible: 100 mm to 700 mm }
      heel_at: { kind: position, plausible: -700 mm to -100 mm }
    derived: { middle_at: 0.5 * toe_at + 0.5 * heel_at }
    zones:
      edge_zone: { within: 6 mm, of: edge }
      toe_zone: { within: 12 mm, of: toe_at }
      middle: { between: -60 mm to 60 mm }
      centre: { within: 10 mm, of: middle_at }";

/// A rule on the width, not under 4.70 mm, that looks where `where_to_look` says.
fn bar(where_to_look: &str) -> Bench {
    let rules = format!(
        "rules:\n  - {{ id: wide, clause: A.1, title: T, text: T, applies_to: bar, value: width, judged: worst_place, {where_to_look} at_least: 4.70 mm }}"
    );
    Bench::new(&rules_text(SHIPPED, BAR.trim_matches('\n'), &rules))
}

/// Places in flow style, read exactly.
fn at(places: &str) -> String {
    format!(
        "bar: {{ toe_at: {{ with: exact, readings: 410 mm }}, heel_at: {{ with: exact, readings: -390 mm }}, width: {{ with: exact, places: [ {places} ] }} }}"
    )
}

fn only(bench: &Bench, text: &str, stage: Stage) -> Finding {
    let record = bench.record(text);
    let verdict = bench.check(&record, stage);
    let found = bench.of_rule(&verdict, "wide");
    assert_eq!(found.len(), 1);
    found[0].clone()
}

fn asked(bench: &Bench, places: &str) -> (Outcome, Option<Reason>) {
    let found = only(bench, &at(places), Stage::Certification);
    (found.outcome, found.reason)
}

const TOO_FEW: (Outcome, Option<Reason>) = (NotDecided, Some(Reason::TooFewPlaces));
const NOT_STATED: (Outcome, Option<Reason>) = (NotDecided, Some(Reason::PlaceNotStated));
const PASSES: (Outcome, Option<Reason>) = (Conforms, None);
const FAILS: (Outcome, Option<Reason>) = (DoesNotConform, None);

#[test]
fn too_few_places_never_conform_and_a_bad_one_fails_alone() {
    let bench = bar("places: { at_least: 3 },");
    assert_eq!(
        asked(
            &bench,
            "{ at: 0 mm, readings: 5 mm }, { at: 9 mm, readings: 5 mm }"
        ),
        TOO_FEW
    );
    assert_eq!(
        asked(
            &bench,
            "{ at: 0 mm, readings: 5 mm }, { at: 9 mm, readings: 5 mm }, { at: 18 mm, readings: 4.70 mm }"
        ),
        PASSES
    );
    assert_eq!(asked(&bench, "{ at: 0 mm, readings: 4.69 mm }"), FAILS);
    assert_eq!(asked(&bench, "{ readings: 4.69 mm }"), FAILS);
    let found = only(
        &bench,
        &at("{ at: 0 mm, readings: 5 mm }"),
        Stage::Certification,
    );
    assert_eq!(found.places, Some((1, 3)));
    assert!(matches!(found.settled_by, Some(Settle::MorePlaces(2))));
    // Two faces of one station are two places, and one without a station is one.
    let faces = "{ at: 0 mm, face: port, readings: 5 mm }, { at: 0 mm, face: starboard, readings: 5 mm }, { readings: 5 mm }";
    assert_eq!(asked(&bench, faces), PASSES);
}

#[test]
fn the_border_of_a_zone_belongs_to_it() {
    // Left out: at the border the rule does not look, just beside it the rule does.
    let outside = bar("outside: [edge_zone, toe_zone],");
    let place = |at: &str, edge: &str, value: &str| {
        format!("{{ at: {at} mm, from_edge: {edge} mm, readings: {value} mm }}")
    };
    let good = place("0", "40", "5");
    let with = |other: String| asked(&outside, &format!("{good}, {other}"));
    assert_eq!(with(place("0", "6", "1")), PASSES);
    assert_eq!(with(place("0", "6.0001", "1")), FAILS);
    assert_eq!(with(place("398", "40", "1")), PASSES);
    assert_eq!(with(place("422", "40", "1")), PASSES);
    assert_eq!(with(place("397.999", "40", "1")), FAILS);
    // In other units the border is the same.
    let inches = "{ at: 0 in, from_edge: 30/127 in, readings: 1 mm }";
    assert_eq!(with(inches.to_owned()), PASSES);
    let found = only(
        &outside,
        &at(&format!("{good}, {}", place("0", "6", "1"))),
        Stage::Certification,
    );
    assert_eq!((found.places, found.left_out.len()), (Some((1, 1)), 1));

    // The only zone: at its border the rule looks.
    let zone = bar("zone: middle,");
    let with = |other: &str| {
        asked(
            &zone,
            &format!("{{ at: 0 mm, readings: 5 mm }}, {{ at: {other}, readings: 1 mm }}"),
        )
    };
    assert_eq!(with("60 mm"), FAILS);
    assert_eq!(with("-60 mm"), FAILS);
    assert_eq!(with("60.001 mm"), PASSES);
    assert_eq!(with("0.06 m"), FAILS);
    // A zone round something computed.
    let centre = bar("zone: centre,");
    let with = |other: &str| {
        asked(
            &centre,
            &format!("{{ at: 10 mm, readings: 5 mm }}, {{ at: {other}, readings: 1 mm }}"),
        )
    };
    assert_eq!(with("20 mm"), FAILS);
    assert_eq!(with("0 mm"), FAILS);
    assert_eq!(with("20.1 mm"), PASSES);
    // A place on the border of one zone that is left out and of the only zone that counts is left out.
    let both = bar("zone: middle, outside: [edge_zone],");
    assert_eq!(
        asked(&both, "{ at: 60 mm, from_edge: 6 mm, readings: 1 mm }"),
        TOO_FEW
    );
}

#[test]
fn a_place_that_does_not_say_where_it_is_never_counts() {
    let bench = bar("outside: [edge_zone],");
    let good = "{ at: 0 mm, from_edge: 40 mm, readings: 5 mm }";
    assert_eq!(asked(&bench, "{ at: 0 mm, readings: 5 mm }"), NOT_STATED);
    assert_eq!(
        asked(&bench, &format!("{good}, {{ at: 5 mm, readings: 5 mm }}")),
        PASSES
    );
    // A failure there is not decided, and so is what might be one.
    assert_eq!(
        asked(
            &bench,
            &format!("{good}, {{ at: 5 mm, readings: 4.69 mm }}")
        ),
        NOT_STATED
    );
    // Proven bad elsewhere, it does not matter.
    assert_eq!(
        asked(
            &bench,
            "{ at: 0 mm, from_edge: 40 mm, readings: 4.69 mm }, { at: 5 mm, readings: 1 mm }"
        ),
        FAILS
    );
    // Where another zone leaves the place out anyhow, nothing needs to be said.
    let two = bar("outside: [edge_zone, toe_zone],");
    assert_eq!(
        asked(&two, &format!("{good}, {{ at: 410 mm, readings: 1 mm }}")),
        PASSES
    );
    let found = only(
        &bench,
        &at("{ at: 0 mm, readings: 5 mm }"),
        Stage::Certification,
    );
    assert!(matches!(found.settled_by, Some(Settle::StatePlace)));
}

/// With a large uncertainty a failure becomes a doubt; where the place does not say whether the rule looks there,
/// that must not let the rule pass.
#[test]
fn a_doubt_at_an_unstated_place_is_no_pass() {
    let rules = "rules:\n  - { id: wide, clause: A.1, title: T, text: T, applies_to: bar, value: width, judged: worst_place, outside: [edge_zone], at_least: 4.70 mm }";
    let bench = Bench::new(&rules_text(
        always("guarded_acceptance"),
        BAR.trim_matches('\n'),
        rules,
    ));
    let text = |error: &str| {
        format!(
            "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ mic: {{ kind: micrometer, max_permissible_error: {error} }} }},
               bar: {{ width: {{ with: mic, places: [ {{ at: 0 mm, from_edge: 40 mm, readings: 6.00 mm }}, {{ at: 5 mm, readings: 4.60 mm }} ] }} }} }}"
        )
    };
    for error in ["0.004 mm", "0.04 mm", "0.2 mm", "0.9 mm"] {
        let found = bench.ask(&text(error), Stage::Certification, "wide");
        assert_eq!(found, NOT_STATED, "{error}");
    }
}

#[test]
fn places_are_no_further_apart_than_the_rule_says() {
    let bench = bar("places: { at_least: 2, spaced_at_most: 150 mm, from: heel_at, to: toe_at },");
    let stations = |list: &[i64]| {
        let places: Vec<String> = list
            .iter()
            .map(|at| format!("{{ at: {at} mm, readings: 5 mm }}"))
            .collect();
        asked(&bench, &places.join(", "))
    };
    // From -390 mm to 410 mm: 800 mm.
    assert_eq!(stations(&[-240, -90, 60, 210, 360]), PASSES);
    assert_eq!(stations(&[360, 60, -90, 210, -240]), PASSES);
    // From the end, between neighbours, to the other end.
    assert_eq!(stations(&[-239, -90, 60, 210, 360]), TOO_FEW);
    assert_eq!(stations(&[-240, -90, 61, 210, 360]), TOO_FEW);
    assert_eq!(stations(&[-240, -90, 60, 210, 259]), TOO_FEW);
    // A place beyond an end says nothing about the gap before it.
    assert_eq!(stations(&[-240, -90, 60, 210, 420]), TOO_FEW);
    assert_eq!(stations(&[-400, -240, -90, 60, 210, 360, 420]), PASSES);
    let found = only(
        &bench,
        &at("{ at: 0 mm, readings: 5 mm }, { at: 9 mm, readings: 5 mm }"),
        Stage::Certification,
    );
    assert!(matches!(found.settled_by, Some(Settle::CloserPlaces)));
    // A place that counts and does not say where it is leaves the gaps open.
    let all = [-240, -90, 60, 210, 360]
        .map(|at| format!("{{ at: {at} mm, readings: 5 mm }}"))
        .join(", ");
    assert_eq!(
        asked(&bench, &format!("{all}, {{ face: port, readings: 5 mm }}")),
        NOT_STATED
    );
    // Without the ends nothing can be said, and from an implausible one nothing either.
    let text = format!(
        "bar: {{ toe_at: {{ with: exact, readings: 410 mm }}, width: {{ with: exact, places: [ {all} ] }} }}"
    );
    assert_eq!(
        bench.ask(&text, Stage::Certification, "wide"),
        (NotDecided, Some(Reason::NotMeasured))
    );
    let slip = at(&all).replace("410 mm", "41.0 mm");
    assert_eq!(
        bench.ask(&slip, Stage::SelfCheck, "wide"),
        (NotDecided, Some(Reason::Implausible))
    );
    let confirmed = slip.replace("41.0 mm", "41.0 mm, confirmed_by: AB");
    assert_eq!(bench.ask(&confirmed, Stage::SelfCheck, "wide"), PASSES);
}

#[test]
fn a_mean_is_that_of_the_stated_places() {
    let rules = "rules:\n  - { id: wide, clause: A.1, title: T, text: T, applies_to: bar, value: width, judged: mean, zone: middle, places: { at_least: 2 }, at_least: 4.70 mm }";
    let bench = Bench::new(&rules_text(SHIPPED, BAR.trim_matches('\n'), rules));
    let pair =
        |a: &str, b: &str| format!("{{ at: 0 mm, readings: {a} }}, {{ at: 60 mm, readings: {b} }}");
    assert_eq!(asked(&bench, &pair("4.60 mm", "4.80 mm")), PASSES);
    assert_eq!(asked(&bench, &pair("4.60 mm", "4.79 mm")), FAILS);
    // What lies outside, or does not say where it is, takes no part.
    let more = "{ at: 61 mm, readings: 1 mm }, { readings: 1 mm }";
    assert_eq!(
        asked(&bench, &format!("{}, {more}", pair("4.60 mm", "4.80 mm"))),
        PASSES
    );
    // Too few for a mean is no failure: the mean of what is missing is not known.
    assert_eq!(asked(&bench, "{ at: 0 mm, readings: 1 mm }"), TOO_FEW);
    assert_eq!(asked(&bench, "{ readings: 1 mm }"), NOT_STATED);
    assert_eq!(asked(&bench, "{ at: 61 mm, readings: 1 mm }"), TOO_FEW);
    let found = only(
        &bench,
        &at(&pair("4.60 mm", "4.85 mm")),
        Stage::Certification,
    );
    assert_eq!(
        *found.margin.unwrap().as_exact().unwrap(),
        Exact::from_fraction(25, 1000).unwrap()
    );
}

#[test]
fn two_placed_measures_pair_where_place_and_face_are_the_same() {
    let rules = "rules:\n  - { id: wide, clause: A.1, title: T, text: T, applies_to: bar, value: width - depth, judged: worst_place, at_least: 1 mm }";
    let bench = Bench::new(&rules_text(SHIPPED, BAR.trim_matches('\n'), rules));
    let ask = |width: &str, depth: &str| {
        let text = format!(
            "bar: {{ width: {{ with: exact, places: [ {width} ] }}, depth: {{ with: exact, places: [ {depth} ] }} }}"
        );
        bench.ask(&text, Stage::Certification, "wide")
    };
    let width =
        "{ at: 0 mm, face: port, readings: 5 mm }, { at: 10 mm, face: port, readings: 5 mm }";
    assert_eq!(
        ask(width, "{ at: 0 m, face: port, readings: 4 mm }"),
        PASSES
    );
    assert_eq!(
        ask(width, "{ at: 1 cm, face: port, readings: 4.1 mm }"),
        FAILS
    );
    assert_eq!(
        ask(width, "{ at: 0 mm, face: starboard, readings: 9 mm }"),
        TOO_FEW
    );
    assert_eq!(ask(width, "{ at: 0 mm, readings: 9 mm }"), TOO_FEW);
}

// ---- a place more

fn place() -> impl Strategy<Value = (Option<i64>, Option<i64>, i64)> {
    (
        prop::option::weighted(0.9, -400_i64..420),
        prop::option::weighted(0.8, prop::sample::select(vec![5_i64, 6, 7, 40])),
        prop::sample::select(vec![460_i64, 469, 470, 471, 500]),
    )
}

fn written(places: &[(Option<i64>, Option<i64>, i64)]) -> String {
    let each = places.iter().enumerate().map(|(number, (at, edge, n))| {
        let at = at.map_or(String::new(), |mm| format!("at: {mm} mm, "));
        let edge = edge.map_or(String::new(), |mm| format!("from_edge: {mm} mm, "));
        // The face keeps two places of one station apart.
        let face = if number % 2 == 0 { "port" } else { "starboard" };
        format!(
            "{{ {at}{edge}face: {face}, readings: {} mm }}",
            as_written(i128::from(*n), 100)
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

proptest! {
    #![proptest_config(cases(400))]

    /// Worst place: a place more never makes the outcome better, except where there were too few or they lay too
    /// far apart; and what conforms with some places conforms with each of them alone.
    #[test]
    fn a_place_more_makes_nothing_better(
        mut places in prop::collection::vec(place(), 1..7),
        more in place(),
        spaced in any::<bool>(),
        least in 1_usize..4,
        stage in prop::sample::select(Stage::ALL.to_vec()),
    ) {
        let spacing = if spaced { ", spaced_at_most: 300 mm, from: heel_at, to: toe_at" } else { "" };
        let bench = bar(&format!("places: {{ at_least: {least}{spacing} }}, outside: [edge_zone, toe_zone],"));
        places.sort();
        places.dedup_by_key(|place| (place.0, place.1));
        prop_assume!(!places.iter().any(|one| (one.0, one.1) == (more.0, more.1)));
        let before = only(&bench, &at(&written(&places)), stage);
        places.push(more);
        let after = only(&bench, &at(&written(&places)), stage);
        // NotStated stands for too few as well, where unstated places could have been the ones that lack.
        let too_few = matches!(before.reason, Some(Reason::TooFewPlaces | Reason::PlaceNotStated));
        prop_assert!(after.outcome <= before.outcome || too_few, "{:?} became {:?}", before, after);
        // A failure stays one.
        if before.outcome == DoesNotConform {
            prop_assert_eq!(after.outcome, DoesNotConform);
        }
        // Too few is cured by places that count alone.
        let (counted, _) = after.places.unwrap();
        if (counted as usize) < least {
            prop_assert!(after.outcome != Conforms);
        }
        // And the value that is shown is that of the smallest margin among those that count.
        if after.outcome == DoesNotConform {
            let counts = |one: &&(Option<i64>, Option<i64>, i64)| {
                one.0.is_some_and(|at| (at - 410).abs() > 12) && one.1.is_some_and(|edge| edge > 6)
            };
            let least = places.iter().filter(counts).map(|one| one.2 - 470).min().unwrap();
            let margin = after.margin.clone().unwrap();
            let expected = Exact::from_fraction(least, 100).unwrap();
            prop_assert_eq!(margin.as_exact(), Some(&expected));
        }
    }
}
