//! What a fleet is told: the same outcomes, reasons and flags as a whole report gives, whatever is asked and
//! whatever was measured; on a class with a rule of every shape, with values on the limits, on their guard
//! bands and beside both.

use std::sync::{Mutex, PoisonError};

use proptest::prelude::*;
use rimegauge::check::{Finding, Verdict};
use rimegauge::rules::Stage;

use super::small::{
    INSTRUMENTS, claim, hundredths, maybe, near, nose, parsed, records, section, small, taken,
    with, word,
};
use super::tree::{Tree, as_written, map, text};
use super::workbench::{Bench, EACH, Policy, SHIPPED, always, cases, rules_text};

#[path = "../../benches/fleet/generate.rs"]
#[expect(dead_code, reason = "the benchmark makes small records too")]
mod generate;

pub const EQUIPMENT: &str = r#"
  boat:
    parts:
      plank: { one: plank }
      runners: { many: runner, at_least: 2 }
    groups:
      sets: { at_least: 1, roles: { port: runner, starboard: runner } }
  plank:
    measures:
      length: { kind: length, methods: { lath: { expanded_uncertainty: 0.04 mm }, unnamed: { expanded_uncertainty: 0.2 mm } } }
  runner:
    traits:
      construction: [plate, insert, tee]
      built: { date: proven }
      marked: { flag: intended }
    measures:
      thick:
        kind: length
        placed: yes
        plausible: 4.38 mm to 12 mm
        methods:
          micrometer: { expanded_uncertainty: 0.02 mm }
          calliper: { expanded_uncertainty: 0.06 mm }
          unnamed: { expanded_uncertainty: 0.06 mm }
        fresh_for: 365 days
      height: { kind: length, plausible: 20 mm to 200 mm }
      body: { kind: length, methods: { micrometer: { expanded_uncertainty: 0.02 mm }, unnamed: { expanded_uncertainty: 0.1 mm } } }
      toe_at: { kind: position, methods: { unnamed: { expanded_uncertainty: 0.5 mm } } }
      heel_at: { kind: position, methods: { unnamed: { expanded_uncertainty: 0.5 mm } } }
      edge: { kind: section, placed: yes, methods: { unnamed: { expanded_uncertainty: 0.7 deg } } }
      nose: { kind: yes_no, ask: "Is the nose rounded?", fresh_for: 365 days }
    derived:
      steel_length: toe_at - heel_at
      share: -heel_at / steel_length
      angle: included_angle(edge)
      apart: bevel_difference(edge)
      rest: thick - body / 10
    zones:
      rim: { within: 6 mm, of: edge }
      tip: { within: 12 mm, of: toe_at }
      middle: { between: -200 mm to 200 mm }
"#;

pub const RULES: &str = r#"
rules:
  - id: worst
    clause: A.1
    title: T
    text: T
    applies_to: runner
    value: thick
    judged: worst_place
    places: { at_least: 2, spaced_at_most: 300 mm, from: heel_at, to: toe_at, repeats: 2, combine: mean }
    outside: [rim, tip]
    by: construction
    limits:
      plate: { at_least: 4.70 mm, at_most: 6.00 mm }
      insert: { more_than: 4.70 mm, less_than: 6.00 mm }
    instead:
      - { if: construction is insert and built < 2012-01-01, because: built before the rule, at_least: 4.50 mm, unproven: main_limit }
      - { if: height > 71.0 mm, because: a high one, at_least: 4.60 mm }
  - { id: inside, clause: A.2, title: T, text: T, applies_to: runner, value: thick, judged: worst_place, zone: middle, at_least: 4.70 mm, at_most: 6.00 mm }
  - { id: mean, clause: A.3, title: T, text: T, applies_to: runner, value: thick, judged: mean, zone: middle, places: { at_least: 2 }, at_least: 4.70 mm, less_than: 6.00 mm }
  - { id: even, clause: A.4, title: T, text: T, applies_to: runner, value: highest(thick) - lowest(thick), at_most: 0.20 mm }
  - { id: thickest, clause: A.5, title: T, text: T, applies_to: runner, value: highest(thick), less_than: lowest(thick) + 0.20 mm }
  - { id: rest, clause: A.6, title: T, text: T, applies_to: runner, value: rest, judged: worst_place, at_least: -2.40 mm }
  - { id: ratio, clause: A.7, title: T, text: T, applies_to: runner, value: thick / body, judged: worst_place, at_most: 0.10 }
  - { id: inverse, clause: A.8, title: T, text: T, applies_to: runner, value: body - thick, judged: mean, at_least: 65.00 mm }
  - { id: height, clause: B.1, title: T, text: T, applies_to: runner, value: height, at_least: 71.0 mm, at_most: 125.0 mm }
  - { id: strict, clause: B.2, title: T, text: T, applies_to: runner, value: height, more_than: 71.0 mm, less_than: 125.0 mm }
  - { id: sum, clause: B.3, title: T, text: T, applies_to: runner, value: height + body, at_least: 142.0 mm, at_most: 196.0 mm }
  - { id: twice, clause: B.4, title: T, text: T, applies_to: runner, value: height + height, at_least: 142.0 mm }
  - { id: itself, clause: B.5, title: T, text: T, applies_to: runner, value: height - height, at_least: 0 mm }
  - { id: difference, clause: B.6, title: T, text: T, applies_to: runner, value: abs(height - body), at_most: 0.02 mm }
  - { id: measured, clause: B.7, title: T, text: T, applies_to: runner, value: height, at_least: body }
  - { id: times, clause: B.8, title: T, text: T, applies_to: runner, value: steel_length, at_most: 11 * body }
  - { id: product, clause: B.9, title: T, text: T, applies_to: runner, value: height * body, at_least: 71 mm * 71 mm }
  - { id: share, clause: B.10, title: T, text: T, applies_to: runner, value: share, at_least: 0.42, less_than: 0.58 }
  - { id: least, clause: B.11, title: T, text: T, applies_to: runner, value: "min(height, body)", at_least: 71.0 mm }
  - { id: angle, clause: C.1, title: T, text: T, applies_to: runner, value: angle, judged: worst_place, zone: middle, at_least: 80 deg, at_most: 95 deg }
  - { id: apart, clause: C.2, title: T, text: T, applies_to: runner, value: apart, judged: worst_place, at_most: 4 deg }
  - { id: when_high, clause: D.1, title: T, text: T, applies_to: runner, when: height > 71.0 mm, value: body, at_least: 71.0 mm }
  - { id: when_long, clause: D.2, title: T, text: T, applies_to: runner, when: steel_length <= 800 mm or nose, value: body, at_most: 125.0 mm }
  - { id: when_not, clause: D.3, title: T, text: T, applies_to: runner, when: not (height < body), value: thick, judged: worst_place, at_least: 4.70 mm }
  - { id: plank, clause: D.4, title: T, text: T, applies_to: runner, value: plank.length, at_least: 11 * height }
  - { id: nose, clause: D.5, title: T, text: T, applies_to: runner, value: nose, equals: yes }
  - { id: total, clause: E.1, title: T, text: T, applies_to: boat, value: sum(height over runners), at_most: 142.0 mm }
  - { id: high_ones, clause: E.2, title: T, text: T, applies_to: boat, value: count(runners where height > 71.0 mm), at_least: 1 }
  - { id: matched, clause: F.1, title: T, text: T, applies_to: sets, value: abs(port.height - starboard.height), at_most: 0.02 mm }
  - { id: one_body, clause: F.2, title: T, text: T, applies_to: sets, value: port.height, at_least: starboard.body, at_most: 125.0 mm }
  - { id: of_port, clause: F.3, title: T, text: T, applies_to: sets, value: port.thick, judged: worst_place, places: { at_least: 2, repeats: 2 }, at_least: 4.70 mm }
  - { id: both_thick, clause: F.4, title: T, text: T, applies_to: sets, value: highest(port.thick) - lowest(starboard.thick), at_most: 0.20 mm }
  - { id: when_alike, clause: F.5, title: T, text: T, applies_to: sets, when: port.construction is starboard.construction, value: port.steel_length - starboard.steel_length, at_most: 0 mm, instead: [ { if: port.built < 2012-01-01, because: an old one, at_most: 10 mm } ] }
  - { id: kind, clause: F.6, title: T, text: T, applies_to: sets, value: starboard.construction, equals: insert }
  - { id: noses, clause: F.7, title: T, text: T, applies_to: sets, value: port.nose, equals: yes }
  - { id: good_sets, clause: F.8, title: T, text: T, applies_to: boat, value: count(sets where port.height > starboard.height), at_most: 1 }
  - { id: set_sum, clause: F.9, title: T, text: T, applies_to: boat, value: sum(port.height over sets where starboard.construction is insert), at_most: 142.0 mm }
marks:
  - { id: marked, clause: G.1, title: T, text: T, item: runner, at_most: 3, pairs: { where: height > 71.0 mm or nose, alike: [construction] }, bring: { sets: 1, runners: 2 } }
"#;

fn bordering(policy: Policy) -> Bench {
    // Loaded once for each policy: the law asks hundreds of times.
    static KNOWN: Mutex<Vec<(Policy, Bench)>> = Mutex::new(Vec::new());
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, bench)) = known.iter().find(|(other, _)| *other == policy) {
        return bench.clone();
    }
    let bench = Bench::new(&rules_text(policy, EQUIPMENT.trim_matches('\n'), RULES));
    known.push((policy, bench.clone()));
    bench
}

pub fn policies() -> impl Strategy<Value = Policy> {
    let decisions = prop::sample::select(vec![
        EACH,
        SHIPPED,
        always("guarded_rejection"),
        always("simple_acceptance"),
    ]);
    let factor = prop::sample::select(vec!["1", "1", "0", "2"]);
    let silence = prop::sample::select(vec!["forbids", "permits"]);
    (decisions, factor, silence).prop_map(|(policy, guard_factor, silence)| Policy {
        guard_factor,
        silence,
        ..policy
    })
}

/// Hundredths beside a limit: on it, on the guard bands of the floors and their doubles, a last digit off,
/// clearly apart.
const STEPS: &[i64] = &[
    -300, -40, -12, -7, -6, -5, -4, -3, -2, -1, 0, 0, 1, 2, 3, 4, 5, 6, 7, 12, 40, 300,
];

fn reading(n: i64) -> String {
    as_written(i128::from(n), 100)
}

fn thick_place() -> impl Strategy<Value = Tree> {
    let at = prop::sample::select(vec![
        None,
        Some(-380),
        Some(-200),
        Some(-100),
        Some(0),
        Some(100),
        Some(200),
        Some(398),
    ]);
    let from_edge = prop::sample::select(vec![None, Some(5), Some(6), Some(7), Some(12), Some(12)]);
    let again = prop::collection::vec(-1_i64..2, 0..3);
    let value = near(&[450, 470, 600], STEPS);
    (
        at,
        from_edge,
        value,
        again,
        prop::bool::weighted(0.2),
        prop::bool::weighted(0.1),
    )
        .prop_map(|(at, from_edge, value, again, confirmed, open)| {
            let all = std::iter::once(value).chain(again.iter().map(|step| value + step));
            let all: Vec<String> = all.map(reading).collect();
            let readings = if open {
                map([("more_than", Some(text(hundredths(value))))])
            } else {
                text(format!("{} mm", all.join(" ")))
            };
            map([
                ("at", at.map(|mm| text(format!("{mm} mm")))),
                ("from_edge", from_edge.map(|mm| text(format!("{mm} mm")))),
                ("readings", Some(readings)),
                ("confirmed_by", confirmed.then(|| text("AB"))),
            ])
        })
}

fn thick_series() -> impl Strategy<Value = Tree> {
    let places = prop::collection::vec(thick_place(), 1..5);
    (places, with(), taken()).prop_map(|(mut places, with, taken)| {
        // One place of a series stands once.
        let place = |one: &Tree| match one {
            Tree::Map(entries) => {
                let keys = entries
                    .iter()
                    .filter(|(key, _)| key == "at" || key == "from_edge");
                format!("{:?}", keys.collect::<Vec<_>>())
            }
            other => format!("{other:?}"),
        };
        places.sort_by_key(place);
        places.dedup_by_key(|one| place(one));
        map([
            ("with", with.map(text)),
            ("taken", taken),
            ("places", Some(Tree::List(places))),
        ])
    })
}

fn thick() -> impl Strategy<Value = Tree> {
    (thick_series(), prop::option::weighted(0.1, thick_series())).prop_map(|(first, second)| {
        let (mut first, Some(mut second)) = (first.clone(), second) else {
            return first;
        };
        for (series, by) in [(&mut first, "AB"), (&mut second, "CD")] {
            if let Tree::Map(entries) = series {
                entries.push(("by".to_owned(), text(by)));
            }
        }
        if let Tree::Map(entries) = &mut second {
            entries.push(("second".to_owned(), text("yes")));
        }
        map([("series", Some(Tree::List(vec![first, second])))])
    })
}

fn unplaced(limits: &'static [i64]) -> impl Strategy<Value = Tree> {
    let again = prop::collection::vec(-1_i64..2, 0..3);
    let one_sided = prop::sample::select(vec![
        None,
        None,
        None,
        None,
        None,
        Some("more_than"),
        Some("less_than"),
    ]);
    (near(limits, STEPS), again, with(), taken(), one_sided).prop_map(
        |(value, again, with, taken, one_sided)| {
            let all = std::iter::once(value).chain(again.iter().map(|step| value + step));
            let all: Vec<String> = all.map(reading).collect();
            let readings = match one_sided {
                Some(word) => map([(word, Some(text(hundredths(value))))]),
                None => text(format!("{} mm", all.join(" "))),
            };
            map([
                ("with", with.map(text)),
                ("taken", taken),
                ("readings", Some(readings)),
            ])
        },
    )
}

fn edge() -> impl Strategy<Value = Tree> {
    section(
        &[
            "40 deg", "40.7 deg", "42 deg", "44 deg", "47.5 deg", "39.9 deg",
        ],
        &[None, Some("exact"), Some("pro_1")],
    )
}

fn runner() -> impl Strategy<Value = Tree> {
    let traits = (
        maybe(word(&["plate", "insert", "insert", "tee", "other"])),
        maybe(claim()),
        prop::option::of(Just(text("yes"))),
    );
    let measures = (
        maybe(thick()),
        maybe(unplaced(&[7100, 7100, 12500])),
        maybe(unplaced(&[7100, 12500])),
        maybe(unplaced(&[41000, 39050])),
        maybe(unplaced(&[-39000, -37100])),
        maybe(edge()),
        maybe(nose()),
    );
    (traits, measures).prop_map(|(traits, measures)| {
        map([
            ("construction", traits.0),
            ("built", traits.1),
            ("marked", traits.2),
            ("thick", measures.0),
            ("height", measures.1),
            ("body", measures.2),
            ("toe_at", measures.3),
            ("heel_at", measures.4),
            ("edge", measures.5),
            ("nose", measures.6),
        ])
    })
}

/// Records of the class, by chance.
pub fn bordering_records() -> impl Strategy<Value = Tree> {
    let plank = maybe(unplaced(&[78100, 137500]));
    let runners = prop::collection::vec(runner(), 0..4);
    let roles = prop::collection::vec((0_usize..5, 0_usize..5), 0..3);
    let named = prop::bool::weighted(0.9);
    (plank, runners, roles, named).prop_map(|(length, runners, roles, named)| {
        // A number above that of the runners leaves the role open, and so does the second of one runner.
        let member = |at: usize| (at < runners.len()).then(|| text(format!("R{at}")));
        let sets = roles.iter().enumerate().map(|(number, (port, starboard))| {
            let other = member(*starboard).filter(|_| port != starboard);
            map([
                ("id", Some(text(format!("set{number}")))),
                ("port", member(*port)),
                ("starboard", other),
            ])
        });
        let sets = Tree::List(sets.collect());
        let instruments = INSTRUMENTS.into_iter().chain([(
            "pro_1",
            "{ kind: protractor, resolution: 0.5 deg, max_permissible_error: 0.3 deg }",
        )]);
        let instruments = instruments.map(|(key, written)| (key.to_owned(), parsed(written)));
        let runners = runners
            .into_iter()
            .enumerate()
            .map(|(at, runner)| match runner {
                Tree::Map(mut entries) => {
                    entries.insert(0, ("id".to_owned(), text(format!("R{at}"))));
                    Tree::Map(entries)
                }
                other => other,
            });
        let by = named.then(|| text("AB"));
        map([
            ("format", Some(text("rimegauge-record/1"))),
            ("class", Some(text("tarn-8"))),
            ("boat", Some(map([("sail_number", Some(text("T8 41")))]))),
            (
                "measured",
                Some(map([("day", Some(text("2026-11-21"))), ("by", by)])),
            ),
            ("instruments", Some(Tree::Map(instruments.collect()))),
            (
                "plank",
                length.map(|length| map([("length", Some(length))])),
            ),
            ("runners", Some(Tree::List(runners.collect()))),
            ("sets", (!roles.is_empty()).then_some(sets)),
        ])
    })
}

/// A fleet is told of each finding what a report says of it.
fn same(full: &Verdict, brief: &Verdict) -> Result<(), TestCaseError> {
    prop_assert_eq!((full.outcome, full.reason), (brief.outcome, brief.reason));
    let told = |one: &Finding| {
        (
            (one.rule, one.item, one.side),
            (one.outcome, one.reason),
            (one.benefit_of_doubt, one.second_measurer),
        )
    };
    let full = full.findings.iter().map(told).collect::<Vec<_>>();
    let brief = brief.findings.iter().map(told).collect::<Vec<_>>();
    prop_assert_eq!(full, brief);
    Ok(())
}

pub fn levels() -> impl Strategy<Value = Option<&'static str>> {
    prop::sample::select(vec![None, Some("club"), Some("regional")])
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn a_fleet_is_told_the_same_on_the_borders(tree in bordering_records(), policy in policies()) {
        let bench = bordering(policy);
        let record = bench.record(&tree.to_file());
        for stage in Stage::ALL {
            same(&bench.check(&record, stage), &bench.brief(&record, stage))?;
        }
    }

    #[test]
    fn a_fleet_is_told_the_same_of_rules_of_every_kind(
        tree in records(), policy in policies(), level in levels(),
    ) {
        let bench = Bench { level, ..small(policy) };
        let record = bench.record(&tree.to_file());
        for stage in Stage::ALL {
            same(&bench.check(&record, stage), &bench.brief(&record, stage))?;
        }
    }
}

#[test]
fn the_fleet_of_the_benchmark_is_told_the_same() {
    let rules = include_str!("../../benches/fleet/rules.yaml");
    let bench = Bench::new(rules);
    for number in 0..40 {
        let mut line = String::new();
        generate::boat(number, &mut line);
        let record = bench.record(&line);
        for stage in Stage::ALL {
            same(&bench.check(&record, stage), &bench.brief(&record, stage)).unwrap();
        }
    }
}
