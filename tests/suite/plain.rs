//! Lines of plain values come to what their records come to: counts, margins and cases alike, at every border of a limit.

use std::sync::Arc;

use rimegauge::fleet::impact::{Asked, BoatAt, Pair, PlainScratch, Scratch, Tally};
use rimegauge::fleet::{Days, Piece};
use rimegauge::rules::{self, RulesFile, Stage};
use rimegauge::text::{Source, decode_lines};

const RULES: &str = "\
format: rimegauge-rules/1
class: ghyll-9
title: Ghyll 9 Class Rules
version: 1.0.0
status: adopted
in_force_from: 2026-01-01
authority: Ghyll 9 Class Association
silence: forbids
decision: { coverage_probability: 95 %, guard_factor: GUARD, self_check: POLICY, certification: guarded_acceptance, event_inspection: guarded_rejection }
event: { levels: [club] }
cautions: [edges]
equipment:
  boat:
    parts: { hull: { one: hull, at_least: 1 }, runners: { many: runner, at_least: 2 } }
    measures: { all_up_mass: { kind: mass, methods: { unnamed: { expanded_uncertainty: 0.5 kg } } } }
  hull: { measures: { length: { kind: length, methods: { unnamed: { expanded_uncertainty: 5 mm } } } } }
  runner:
    traits: { position: [steering, side], construction: [plate, insert, tee], marked: { flag: intended } }
    measures:
      thick: { kind: length, placed: yes, plausible: 2 mm to 12 mm, methods: { unnamed: { expanded_uncertainty: 0.05 mm } }, fresh_for: 365 days }
      height: { kind: length, plausible: 40 mm to 200 mm, methods: { unnamed: { expanded_uncertainty: 0.25 mm } } }
      body: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.10 mm } } }
      toe: { kind: position, methods: { unnamed: { expanded_uncertainty: 0.75 mm } } }
      hole: { kind: length, methods: { unnamed: { expanded_uncertainty: 0 mm } } }
      angle: { kind: angle, methods: { unnamed: { expanded_uncertainty: 0.5 deg } } }
      nose: { kind: yes_no, ask: Is it round? }
      paint: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.1 mm } } }
    derived: { above: height - body }
rules:
  - id: thick
    clause: A.1
    title: T
    text: T
    applies_to: runner
    value: thick
    judged: worst_place
    places: { at_least: 2 }
    by: construction
    limits: { plate: { at_least: 6.00 mm }, insert: { at_least: 4.70 mm, at_most: 8.00 mm } }
  - { id: height, clause: A.2, title: T, text: T, applies_to: runner, value: height, at_least: 80 mm, at_most: 95 mm }
  - { id: above, clause: A.3, title: T, text: T, applies_to: runner, value: above, more_than: 60.0 mm }
  - { id: together, clause: A.4, title: T, text: T, applies_to: runner, when: not (position is steering or construction is tee), value: height + body + toe, less_than: 500 mm }
  - { id: hole, clause: A.5, title: T, text: T, applies_to: runner, value: hole, at_most: 10.00 mm }
  - { id: angle, clause: A.6, title: T, text: T, applies_to: runner, value: angle, at_least: 80 deg, rounded_to: 1 deg }
  - { id: nose, clause: A.7, title: T, text: T, applies_to: runner, value: nose, equals: yes }
  - { id: kinds, clause: A.8, title: T, text: T, applies_to: runner, when: position is side, value: construction, without: [tee] }
  - { id: toe, clause: A.9, title: T, text: T, applies_to: runner, value: -toe, at_least: -400 mm }
  - { id: mass, clause: A.10, title: T, text: T, applies_to: boat, value: all_up_mass, at_least: 60 kg }
  - { id: hull, clause: A.11, title: T, text: T, applies_to: hull, value: length, at_most: 3000 mm }
marks:
  - { id: marks, clause: E.1, title: M, item: runner, by: event.level, limits: { club: { at_most: 3 } }, mark_on: steel }
";

/// Changes: what is replaced, by what.
const CHANGES: &[&[(&str, &str)]] = &[
    &[("insert: { at_least: 4.70 mm", "insert: { at_least: 4.75 mm")],
    &[
        (
            "at_least: 80 mm, at_most: 95 mm",
            "more_than: 80.25 mm, less_than: 95 mm",
        ),
        (
            "value: hole, at_most: 10.00 mm",
            "value: hole, less_than: 10.00 mm",
        ),
    ],
    // Another vocabulary: most rules are the same for all that, and those of the construction are not.
    &[
        ("[plate, insert, tee]", "[plate, insert, tee, angle]"),
        (
            "value: above, more_than: 60.0 mm",
            "value: above, at_least: 60.1 mm",
        ),
    ],
    &[
        ("      paint:", "      more: { kind: length }\n      paint:"),
        (
            "thick: { kind: length, placed: yes, plausible: 2 mm",
            "thick: { kind: length, placed: yes, plausible: 4.7 mm",
        ),
        (
            "expanded_uncertainty: 0.25 mm",
            "expanded_uncertainty: 0.20 mm",
        ),
    ],
    &[
        (
            "  - { id: nose, clause: A.7, title: T, text: T, applies_to: runner, value: nose, equals: yes }\n",
            "",
        ),
        (
            "when: position is side, value: construction, without: [tee]",
            "value: construction, only: [plate, insert]",
        ),
        (
            "at_least: 2 }, runners: { many",
            "at_least: 2 }, runners: { many",
        ),
    ],
    &[
        (
            "runners: { many: runner, at_least: 2 }",
            "runners: { many: runner, at_least: 3 }",
        ),
        ("rounded_to: 1 deg", "rounded_to: 2 deg"),
        (
            "value: -toe, at_least: -400 mm",
            "value: -toe, at_least: -399 mm",
        ),
        (
            "all_up_mass, at_least: 60 kg",
            "all_up_mass, at_least: 61 kg",
        ),
    ],
];

struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n as u64) as usize
    }

    fn one<'w>(&mut self, of: &[&'w str]) -> &'w str {
        of[self.below(of.len())]
    }
}

/// Readings around all borders of the versions, some forms that are not plain, and nothing.
const FIELDS: &[(&str, &[&str])] = &[
    (
        "height",
        &[
            "80 mm",
            "79.75 mm",
            "80.25 mm",
            "80.24 mm",
            "79.8 mm",
            "80.2 mm",
            "80.45 mm",
            "80.05 mm",
            "94.75 mm",
            "95.25 mm",
            "95.2 mm",
            "95 mm",
            "3.5 in",
            "9 cm",
            "87.123456789 mm",
            "300 mm",
            "88 mm",
            "88.5 mm",
            "90 mm",
        ],
    ),
    (
        "body",
        &[
            "20 mm", "19.8 mm", "20.2 mm", "25.0 mm", "1 in", "29.9 mm", "28.1 mm",
        ],
    ),
    (
        "toe",
        &[
            "400 mm",
            "399.25 mm",
            "400.75 mm",
            "399 mm",
            "398.25 mm",
            "-3 mm",
            "380 mm",
            "390.5 mm",
        ],
    ),
    (
        "hole",
        &["10.00 mm", "10.001 mm", "9.999 mm", "10 mm", "9.5 mm"],
    ),
    (
        "angle",
        &[
            "79.5 deg", "79 deg", "80 deg", "80.5 deg", "78.5 deg", "90 deg", "78 deg", "81 deg",
        ],
    ),
    ("paint", &["0.1 mm", "2 mm"]),
];

const THICK: &[&str] = &[
    "4.70 mm", "4.65 mm", "4.75 mm", "4.8 mm", "4.76 mm", "5.95 mm", "6.05 mm", "6.00 mm",
    "7.95 mm", "8.05 mm", "6.2 mm", "6.2 mm", "6.2 mm", "6.2 mm", "12.5 mm", "4.6 mm",
];

fn line(number: u64) -> String {
    let mut random = Random(number);
    let day = random.one(&["2026-11-21", "2026-11-21", "2026-11-21", "2024-11-21"]);
    let mut text = format!(
        r#"{{"format":"rimegauge-record/1","class":"ghyll-9","measured":{{"day":"{day}","by":"AB"}},"boat":{{"sail_number":"G9 {number}","name":"Lark","all_up_mass":"{}"}}"#,
        random.one(&["60 kg", "59.5 kg", "60.5 kg", "61.5 kg", "70 kg", "60500 g"]),
    );
    if random.below(10) > 0 {
        let length = random.one(&["2995 mm", "3005 mm", "3000 mm", "2.9 m"]);
        text.push_str(&format!(r#","hull":{{"length":"{length}"}}"#));
    }
    text.push_str(r#","runners":["#);
    for runner in 0..random.below(4) {
        if runner > 0 {
            text.push(',');
        }
        text.push_str(&format!(r#"{{"id":"S{runner}""#));
        if random.below(20) > 0 {
            let position = random.one(&["steering", "side"]);
            text.push_str(&format!(r#","position":"{position}""#));
        }
        if random.below(20) > 0 {
            let kind = random.one(&["plate", "insert", "insert", "insert", "tee", "other"]);
            text.push_str(&format!(r#","construction":"{kind}""#));
        }
        for (name, readings) in FIELDS {
            if random.below(15) > 0 {
                let reading = random.one(readings);
                text.push_str(&match random.below(8) {
                    0 => format!(r#","{name}":{{"readings":"{reading}"}}"#),
                    _ => format!(r#","{name}":"{reading}""#),
                });
            }
        }
        if random.below(10) > 0 {
            let answer = random.one(&["yes", "yes", "no"]);
            text.push_str(&format!(r#","nose":"{answer}""#));
        }
        if random.below(15) > 0 {
            text.push_str(r#","thick":{"places":["#);
            let places = 1 + random.below(3);
            for place in 0..places {
                let comma = if place > 0 { "," } else { "" };
                let reading = random.one(THICK);
                text.push_str(&match random.below(30) {
                    0 => {
                        format!(r#"{comma}{{"at":"1{place} mm","readings":"{reading} {reading}"}}"#)
                            .replacen(" mm 4", " 4", 1)
                    }
                    _ => format!(r#"{comma}{{"at":"1{place}0 mm","readings":"{reading}"}}"#),
                });
            }
            text.push_str("]}");
        }
        if random.below(30) == 0 {
            text.push_str(r#","marked":"yes""#);
        }
        text.push('}');
    }
    text.push_str("]}");
    text
}

fn loaded(text: &str) -> Arc<RulesFile> {
    let found = rules::load("ghyll-9.yaml", text.as_bytes());
    Arc::new(found.unwrap_or_else(|found| panic!("{}", rimegauge::diagnostic::narrate(&found))))
}

fn versions(policy: &str, guard: &str, change: &[(&str, &str)]) -> [Arc<RulesFile>; 2] {
    let old = RULES.replace("POLICY", policy).replace("GUARD", guard);
    let mut new = old.replace("version: 1.0.0", "version: 2.0.0");
    for (from, to) in change {
        assert!(new.contains(from) || from == to, "{from}");
        new = new.replace(from, to);
    }
    [loaded(&old), loaded(&new)]
}

/// What lines come to by their plain values, and how many of them did; and as records.
fn both_ways([old, new]: &[Arc<RulesFile>; 2], source: &Arc<Source>) -> (String, String, usize) {
    let asked = Asked {
        purpose: Stage::SelfCheck,
        days: Days::default(),
        level: None,
        neutral: Vec::new(),
    };
    let pair = Pair::new(old, new, asked);
    let (mut plainly, mut wholly) = (Tally::default(), Tally::default());
    let (mut plain, mut scratch) = (PlainScratch::default(), Scratch::default());
    let mut count = 0;
    for number in 0..source.line_count() {
        let range = source.line_span_of(number).range();
        let at = BoatAt {
            file: 0,
            line: 1 + number as u32,
        };
        let Some(looked) = pair.look_plainly(source, &range, &at, &mut plain, &mut plainly) else {
            continue;
        };
        let record = pair.read(source, &Piece::Line(range.clone()));
        let (looked, record) = match (looked, record) {
            (Ok(looked), Ok(record)) => (looked, record),
            (looked, record) => panic!(
                "{:?} {:?} {}",
                looked.map(|one| one.stands),
                record.map(|_| ()),
                &source.text()[range]
            ),
        };
        count += 1;
        plainly.boat(looked.stands);
        wholly.sample.record((record.measured, record.day), false);
        let stands = pair.look(&record, &at, &mut scratch, &mut wholly);
        assert_eq!(looked.stands, stands, "{}", &source.text()[range]);
        wholly.boat(stands);
    }
    let files = ["fleet.jsonl".to_owned()];
    let told = |tally: Tally| format!("{:#?}", tally.impact(&pair, &files));
    (told(plainly), told(wholly), count)
}

#[test]
fn plain_lines_come_to_what_their_records_come_to() {
    let lines: Vec<String> = (0..400).map(line).collect();
    let source = decode_lines("fleet.jsonl", lines.join("\n").as_bytes(), 1).unwrap();
    for (policy, guard) in [
        ("guarded_acceptance", "1"),
        ("guarded_rejection", "1"),
        ("simple_acceptance", "1"),
        ("guarded_acceptance", "0.5"),
    ] {
        for change in CHANGES {
            let pair = versions(policy, guard, change);
            let (plainly, wholly, count) = both_ways(&pair, &source);
            assert!(count > 60, "{count} of 400 lines are plain: {change:?}");
            if plainly != wholly {
                let differ = plainly
                    .lines()
                    .zip(wholly.lines())
                    .position(|(one, other)| one != other);
                let at = differ.unwrap_or(0);
                let around = |text: &str| -> String {
                    text.lines()
                        .skip(at.saturating_sub(30))
                        .take(40)
                        .collect::<Vec<_>>()
                        .join("\n")
                };
                panic!(
                    "{policy} {change:?}\n{}\n--- as records\n{}",
                    around(&plainly),
                    around(&wholly)
                );
            }
        }
    }
}
