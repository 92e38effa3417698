//! A small class with a rule of every kind, and records of it made by chance: near the limits, with parts
//! missing, with instruments of every state.

use std::sync::{Mutex, PoisonError};

use proptest::prelude::*;

use super::tree::{Tree, as_written, map, text};
use super::workbench::{Bench, Policy, rules_text};

/// The equipment of the small class.
pub const EQUIPMENT: &str = r#"
  boat:
    parts:
      plank: { one: plank }
      runners: { many: runner, at_least: 2 }
    traits: { built: { date: proven } }
  plank:
    measures:
      length: { kind: length, methods: { tape: { expanded_uncertainty: 2.0 mm }, unnamed: { expanded_uncertainty: 5 mm } } }
      port_arm: length
      starboard_arm: length
    derived: { track: port_arm + starboard_arm }
  runner:
    traits:
      position: [steering, side]
      construction: [plate, insert, tee]
      shape: [slim, broad]
      built: { date: proven }
      marked: { flag: intended }
    measures:
      steel_thickness:
        kind: length
        placed: yes
        plausible: 2 mm to 12 mm
        methods:
          micrometer: { expanded_uncertainty: 0.02 mm }
          calliper: { expanded_uncertainty: 0.06 mm }
          unnamed: { expanded_uncertainty: 0.06 mm }
        fresh_for: 365 days
      # No floor at all: U comes from the instrument.
      pivot_height: { kind: length, fresh_for: 365 days }
      toe_at: position
      heel_at: position
      edge_section: { kind: section, placed: yes, methods: { unnamed: { expanded_uncertainty: 0.7 deg } } }
      edge_profile: { kind: profile, methods: { shims: { expanded_uncertainty: 0.01 mm }, unnamed: { expanded_uncertainty: 0.03 mm } } }
      nose_rounded: { kind: yes_no, ask: "Is the nose rounded?", fresh_for: 365 days }
    derived:
      steel_length: toe_at - heel_at
      edge_angle: included_angle(edge_section)
      flat: flat_length(edge_profile, 0.20 mm)
      kept_until: built + 3650 days
    zones:
      relief_edge: { within: 6 mm, of: edge }
      relief_toe: { within: 12 mm, of: toe_at }
      middle: { between: -200 mm to 200 mm }
"#;

/// Its rules.
pub const RULES: &str = r#"
rules:
  - id: steel_thickness
    clause: A.1
    title: Steel thickness
    text: Not thinner than the limit for its construction.
    applies_to: runner
    value: steel_thickness
    judged: worst_place
    places: { at_least: 2, repeats: 1 }
    outside: [relief_edge, relief_toe]
    by: construction
    limits:
      plate: { at_least: 6.00 mm }
      insert: { at_least: 4.70 mm }
    instead:
      - { if: construction is insert and built < 2012-01-01, because: built before the rule, at_least: 4.50 mm, unproven: main_limit, until: 2030-06-30 }
  - { id: thickness_mean, clause: A.2, title: T, text: T, applies_to: runner, value: steel_thickness, judged: mean, zone: middle, at_least: 4.60 mm, at_most: 6.50 mm }
  - { id: pivot_height, clause: A.3, title: T, text: T, applies_to: runner, value: pivot_height, at_least: 70.0 mm, at_most: 125.0 mm }
  - id: old_height
    clause: A.4
    title: T
    text: T
    applies_to: runner
    when: position is not steering
    value: pivot_height
    more_than: 71.0 mm
    instead:
      - { if: built < 2015-01-01, because: built before the rule, more_than: 70.5 mm }
      - { if: nose_rounded, because: a rounded nose, limit: none }
  - { id: flat_when_high, clause: A.5, title: T, text: T, applies_to: runner, when: pivot_height > 71 mm, value: flat, at_least: 160 mm, at_most: 600 mm }
  - { id: nose, clause: A.6, title: T, text: T, applies_to: runner, value: nose_rounded, equals: yes }
  - { id: edge_angle, clause: A.7, title: T, text: T, applies_to: runner, when: construction is not tee, value: edge_angle, judged: worst_place, zone: middle, places: { at_least: 1 }, at_least: 75 deg, at_most: 110 deg }
  - { id: steel_share, clause: A.8, title: T, text: T, applies_to: runner, value: pivot_height / steel_length, at_most: 10 % }
  - { id: even, clause: A.9, title: T, text: T, applies_to: runner, value: highest(steel_thickness) - lowest(steel_thickness), less_than: 0.50 mm }
  - { id: kept, clause: A.10, title: T, text: T, applies_to: runner, when: kept_until < 2026-06-01, value: pivot_height, at_least: 70.2 mm }
  - { id: said_nose, clause: A.11, title: T, text: T, applies_to: runner, when: nose_rounded is yes, value: pivot_height, at_most: 124 mm }
  - { id: high_enough, clause: A.12, title: T, text: T, applies_to: runner, value: pivot_height, at_least: 71.0 mm, instead: [ { if: construction is insert, because: an insert, at_least: 70.5 mm } ] }
  - { id: stiff, clause: A.13, title: T, text: T, applies_to: runner, when: position is side, value: pivot_height, by: shape, limits: { slim: { at_most: 124 mm }, broad: { at_most: 125 mm } }, checked_at: [self_check, event_inspection] }
  - { id: plank_length, clause: B.1, title: T, text: T, applies_to: plank, value: length, at_least: 2900 mm, at_most: 3000 mm, checked_at: [self_check, certification] }
  - { id: track, clause: B.2, title: T, text: T, applies_to: plank, value: track, at_least: 0.9 * length }
  - { id: sides, clause: C.1, title: T, text: T, applies_to: boat, value: count(runners where position is side), at_least: 1, at_most: 2 }
  - { id: low_ones, clause: C.2, title: T, text: T, applies_to: boat, value: count(runners where pivot_height < 71 mm), at_most: 1 }
  - { id: all_heights, clause: C.3, title: T, text: T, applies_to: boat, value: sum(pivot_height over runners where position is side), at_most: 150 mm }
  - { id: just_two, clause: C.4, title: T, text: T, applies_to: boat, value: count(runners where nose_rounded), equals: 2 }
  - { id: steering, clause: C.5, title: T, text: T, applies_to: boat, value: count(runners where position is steering), by: event.level, limits: { club: { at_least: 1 }, regional: { at_least: 2 } } }
  - { id: two_sides, clause: C.7, title: T, text: T, applies_to: boat, when: count(runners where position is side) is 2, value: count(runners), at_most: 3 }
  - { id: as_many, clause: C.8, title: T, text: T, applies_to: boat, value: count(runners where nose_rounded), at_least: count(runners where built < 2015-01-01) }
  - { id: old_boat, clause: C.6, title: T, text: T, applies_to: boat, when: boat.built < 2015-01-01, value: count(runners), at_most: 3, checked_at: [certification, event_inspection] }
marks:
  - { id: marked_runners, clause: E.1, title: T, text: T, item: runner, by: event.level, limits: { club: { at_most: 2 }, regional: { at_most: 1 } }, of_which: [ { where: built < 2012-01-01, at_most: 1 }, { where: pivot_height < 71 mm, at_most: 1 } ] }
"#;

/// The small class under a policy.
pub fn small(policy: Policy) -> Bench {
    // Loaded once for each policy: the laws ask thousands of times.
    static KNOWN: Mutex<Vec<(Policy, Bench)>> = Mutex::new(Vec::new());
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, bench)) = known.iter().find(|(other, _)| *other == policy) {
        return bench.clone();
    }
    let bench = Bench::new(&rules_text(policy, EQUIPMENT.trim_matches('\n'), RULES));
    known.push((policy, bench.clone()));
    bench
}

/// Instruments of every state, and what they are called in a record.
pub const INSTRUMENTS: [(&str, &str); 8] = [
    (
        "mic_good",
        "{ kind: micrometer, resolution: 0.01 mm, max_permissible_error: 0.004 mm, repeatability: 0.003 mm, calibration: { due: 2027-03-12, correction: 0.001 mm, expanded_uncertainty: 0.002 mm, k: 2 } }",
    ),
    (
        "mic_late",
        "{ kind: micrometer, resolution: 0.01 mm, calibration: { due: 2026-11-20, expanded_uncertainty: 0.002 mm, k: 2 } }",
    ),
    (
        "mic_lost",
        "{ kind: micrometer, resolution: 0.01 mm, checks: [ { taken: 2026-11-21 09:00, reference: 5.000 mm, reading: 5.00 mm, accept_within: 0.01 mm }, { taken: 2026-11-21 12:00, reference: 5.000 mm, reading: 5.02 mm, accept_within: 0.01 mm } ] }",
    ),
    (
        "mic_kept",
        "{ kind: micrometer, resolution: 0.01 mm, checks: [ { taken: 2026-11-21 09:00, reference: 5.000 mm, reading: 5.00 mm, accept_within: 0.01 mm }, { taken: 2026-11-21 12:00, reference: 5.000 mm, reading: 5.01 mm, accept_within: 0.01 mm } ] }",
    ),
    ("calliper_1", "{ kind: calliper, resolution: 0.01 mm }"),
    ("lath_1", "{ kind: lath }"),
    (
        "studied",
        "{ kind: micrometer, repeatability: 0.001 mm, study: spring 2026 }",
    ),
    (
        "rough",
        "{ kind: lath, resolution: 0.1 mm, max_permissible_error: 0.2 mm }",
    ),
];

/// What a series is taken with: an instrument, `exact`, or nothing.
pub fn with() -> impl Strategy<Value = Option<&'static str>> {
    let named = INSTRUMENTS.map(|(key, _)| Some(key));
    let mut all = vec![
        None,
        Some("exact"),
        Some("exact"),
        Some("exact"),
        Some("mic_good"),
        Some("mic_kept"),
    ];
    all.extend(named);
    prop::sample::select(all)
}

/// A length in hundredths of a millimetre, as text.
pub fn hundredths(n: i64) -> String {
    format!("{} mm", as_written(i128::from(n), 100))
}

/// When it was read: in the session, later, long ago.
pub fn taken() -> impl Strategy<Value = Option<Tree>> {
    prop::sample::select(vec![
        None,
        None,
        None,
        Some("2026-11-21 10:00"),
        Some("2026-11-21 13:00"),
        Some("2025-11-20"),
    ])
    .prop_map(|when| when.map(text))
}

pub fn maybe<T: std::fmt::Debug + Clone>(
    inner: impl Strategy<Value = T>,
) -> impl Strategy<Value = Option<T>> {
    prop::option::weighted(0.85, inner)
}

/// Numbers near the limits, in hundredths: on them, a floor beside them, further off.
pub fn near(limits: &'static [i64], steps: &'static [i64]) -> impl Strategy<Value = i64> {
    (prop::sample::select(limits), prop::sample::select(steps))
        .prop_map(|(limit, step)| limit + step)
}

fn thickness_place() -> impl Strategy<Value = (i64, Option<i64>, Vec<i64>, bool)> {
    (
        prop::sample::select(vec![-300, -200, -100, 0, 100, 200, 398, 399]),
        prop::sample::select(vec![None, Some(5), Some(6), Some(7), Some(12)]),
        (
            near(
                &[450, 470, 600],
                &[-100, -6, -3, -2, -1, 0, 1, 2, 3, 6, 40, 100],
            ),
            prop::collection::vec(-2_i64..3, 0..3),
        )
            .prop_map(|(value, more)| {
                let first = std::iter::once(value);
                first.chain(more.iter().map(|d| value + d)).collect()
            }),
        any::<bool>(),
    )
}

fn thickness_series() -> impl Strategy<Value = Tree> {
    (
        prop::collection::vec(thickness_place(), 1..5),
        with(),
        taken(),
    )
        .prop_map(|(mut places, with, taken)| {
            // One place of a series stands once.
            places.sort_by_key(|place| (place.0, place.1));
            places.dedup_by_key(|place| (place.0, place.1));
            let places = places.iter().map(|(at, from_edge, readings, confirmed)| {
                let readings: Vec<String> = readings
                    .iter()
                    .map(|n| as_written(i128::from(*n), 100))
                    .collect();
                map([
                    ("at", Some(text(format!("{at} mm")))),
                    ("from_edge", from_edge.map(|mm| text(format!("{mm} mm")))),
                    ("readings", Some(text(format!("{} mm", readings.join(" "))))),
                    ("confirmed_by", confirmed.then(|| text("AB"))),
                ])
            });
            map([
                ("with", with.map(text)),
                ("taken", taken),
                ("places", Some(Tree::List(places.collect()))),
            ])
        })
}

fn thickness() -> impl Strategy<Value = Tree> {
    (
        thickness_series(),
        prop::option::weighted(0.25, thickness_series()),
    )
        .prop_map(|(first, second)| {
            let Some(Tree::Map(mut second)) = second else {
                return first;
            };
            let mut first = first;
            if let Tree::Map(entries) = &mut first {
                entries.push(("by".to_owned(), text("AB")));
            }
            second.push(("by".to_owned(), text("CD")));
            second.push(("second".to_owned(), text("yes")));
            map([("series", Some(Tree::List(vec![first, Tree::Map(second)])))])
        })
}

fn height() -> impl Strategy<Value = Tree> {
    let value = near(
        &[7000, 7020, 7050, 7100, 12400, 12500],
        &[-30, -6, -1, 0, 0, 1, 6, 30],
    );
    (value, with(), taken(), any::<bool>()).prop_map(|(n, with, taken, short)| {
        if short {
            return text(hundredths(n));
        }
        map([
            ("with", with.map(text)),
            ("taken", taken),
            ("readings", Some(text(hundredths(n)))),
        ])
    })
}

/// A plain value of an instrument or none.
fn plain(values: &'static [&'static str]) -> impl Strategy<Value = Tree> {
    (
        prop::sample::select(values),
        prop::sample::select(vec![None, Some("exact"), Some("exact"), Some("mic_good")]),
    )
        .prop_map(|(value, with)| map([("with", with.map(text)), ("readings", Some(text(value)))]))
}

pub fn claim() -> impl Strategy<Value = Tree> {
    (
        prop::sample::select(vec![
            "2011-12-31",
            "2012",
            "2011",
            "2014-05",
            "2019-03",
            "2016-05-31",
        ]),
        0..3,
    )
        .prop_map(|(date, proof)| match proof {
            0 => text(date),
            1 => map([
                ("date", Some(text(date))),
                ("proof", Some(text("invoice 17"))),
            ]),
            _ => map([
                ("date", Some(text(date))),
                ("proof", Some(text("invoice 17"))),
                ("seen_by", Some(text("AB"))),
                ("seen_on", Some(text("2026-11-20"))),
            ]),
        })
}

pub fn word(words: &'static [&'static str]) -> impl Strategy<Value = Tree> {
    prop::sample::select(words).prop_map(text)
}

pub fn nose() -> impl Strategy<Value = Tree> {
    let day = prop::sample::select(vec![None, None, Some("2025-11-20")]);
    (word(&["yes", "yes", "no"]), any::<bool>(), day).prop_map(|(answer, named, day)| {
        map([
            ("answer", Some(answer)),
            ("by", named.then(|| text("AB"))),
            ("day", day.map(text)),
        ])
    })
}

/// Bevels at one to three places.
pub fn section(
    bevels: &'static [&'static str],
    with: &'static [Option<&'static str>],
) -> impl Strategy<Value = Tree> {
    let bevel = || prop::sample::select(bevels);
    let place = (
        prop::sample::select(vec![-201, -200, 0, 150]),
        bevel(),
        bevel(),
    );
    (
        prop::collection::vec(place, 1..4),
        prop::sample::select(with),
    )
        .prop_map(|(mut places, with)| {
            places.sort_by_key(|place| place.0);
            places.dedup_by_key(|place| place.0);
            let places = places.iter().map(|(at, port, starboard)| {
                let bevels = map([
                    ("port", Some(text(*port))),
                    ("starboard", Some(text(*starboard))),
                ]);
                map([
                    ("at", Some(text(format!("{at} mm")))),
                    ("bevels", Some(bevels)),
                ])
            });
            map([
                ("with", with.map(text)),
                ("places", Some(Tree::List(places.collect()))),
            ])
        })
}

fn profile() -> impl Strategy<Value = Tree> {
    let distance = || prop::sample::select(vec!["80 mm", "90 mm", "228 mm", "310 mm"]);
    (distance(), distance(), with()).prop_map(|(forward, aft, with)| {
        let shim = map([
            ("gap", Some(text("0.20 mm"))),
            ("forward", Some(text(forward))),
            ("aft", Some(text(aft))),
        ]);
        map([
            ("with", with.map(text)),
            ("contact", Some(text("0 mm"))),
            ("shims", Some(Tree::List(vec![shim]))),
        ])
    })
}

fn runner() -> impl Strategy<Value = Tree> {
    let traits = (
        maybe(word(&["steering", "side", "side"])),
        maybe(word(&["plate", "insert", "insert", "tee", "other"])),
        maybe(claim()),
        maybe(word(&["yes", "no"])),
        maybe(word(&["slim", "broad", "other"])),
    );
    let measures = (
        maybe(thickness()),
        maybe(height()),
        maybe(plain(&["410 mm", "700 mm"])),
        maybe(plain(&["-390 mm", "-300 mm"])),
        maybe(nose()),
        maybe(section(
            &["37.5 deg", "40 deg", "55 deg", "30 deg"],
            &[None, Some("exact")],
        )),
        maybe(profile()),
    );
    (traits, measures).prop_map(|(traits, measures)| {
        map([
            ("position", traits.0),
            ("construction", traits.1),
            ("built", traits.2),
            ("marked", traits.3),
            ("shape", traits.4),
            ("steel_thickness", measures.0),
            ("pivot_height", measures.1),
            ("toe_at", measures.2),
            ("heel_at", measures.3),
            ("nose_rounded", measures.4),
            ("edge_section", measures.5),
            ("edge_profile", measures.6),
        ])
    })
}

fn plank() -> impl Strategy<Value = Tree> {
    (
        maybe(plain(&[
            "2900 mm", "2901 mm", "2950 mm", "3000 mm", "3003 mm",
        ])),
        maybe(plain(&["1305 mm", "1310 mm", "1327.5 mm", "1400 mm"])),
        maybe(plain(&["1305 mm", "1300 mm", "1327.5 mm", "1400 mm"])),
    )
        .prop_map(|(length, port, starboard)| {
            map([
                ("length", length),
                ("port_arm", port),
                ("starboard_arm", starboard),
            ])
        })
}

/// A record of the small class by chance.
pub fn records() -> impl Strategy<Value = Tree> {
    (
        prop::option::weighted(0.95, plank()),
        prop::collection::vec(runner(), 0..5),
        maybe(claim()),
        prop::option::weighted(0.9, Just(text("AB"))),
    )
        .prop_map(|(plank, runners, built, by)| {
            let instruments = INSTRUMENTS.map(|(key, written)| (key.to_owned(), parsed(written)));
            let runners = runners.into_iter().enumerate().map(|(at, runner)| {
                let Tree::Map(mut entries) = runner else {
                    return runner;
                };
                entries.insert(0, ("id".to_owned(), text(format!("R{at}"))));
                Tree::Map(entries)
            });
            let boat = map([("sail_number", Some(text("T8 41"))), ("built", built)]);
            let measured = map([("day", Some(text("2026-11-21"))), ("by", by)]);
            map([
                ("format", Some(text("rimegauge-record/1"))),
                ("class", Some(text("tarn-8"))),
                ("boat", Some(boat)),
                ("measured", Some(measured)),
                ("instruments", Some(Tree::Map(instruments.into()))),
                ("plank", plank),
                ("runners", Some(Tree::List(runners.collect()))),
            ])
        })
}

pub fn parsed(written: &str) -> Tree {
    let source = rimegauge::text::decode("instrument", written.as_bytes()).unwrap();
    Tree::of(&rimegauge::text::parse_yaml(&source).unwrap())
}
