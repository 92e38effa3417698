//! The quick way against the long one: where it gives a record, it is the same record; where the long way
//! finds a fault, it gives none.

use proptest::prelude::*;

use super::super::*;
use super::line_tree::Tree;
use super::{filled_forms, source_of, tarn_8, vocabulary_of};
use crate::text;
use crate::vocabulary::Vocabulary;

#[path = "../../../benches/fleet/generate.rs"]
#[expect(dead_code, reason = "the speed measurements make small records too")]
mod generate;

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Both ways gave the same record.
    Quick,
    /// The quick way left a good record to the long one.
    Long,
    /// The long way refused it, and the quick way gave nothing.
    Refused,
}

pub(super) fn way(loader: &Loader<'_>, line: &str) -> Way {
    // The line stands in the middle of its source, as in a file.
    let source = source_of("fleet.jsonl", &format!("{{}}\n{line}\n{{}}\n"));
    let range = 3..3 + line.len();
    let quick = loader.quick(&source, range.clone());
    let tree = text::parse_json_line(&source, range);
    let long = tree.as_ref().ok().and_then(|tree| {
        let head = head(&source, tree).ok()?;
        Some((head, loader.load(&source, tree).ok()?))
    });
    match (quick, long) {
        (Some(quick), Some((head, record))) => {
            assert_eq!(format!("{:?}", quick.record), format!("{record:?}"));
            assert_eq!(quick.class, head.class);
            assert_eq!(quick.record.measured.day, head.day.map(|(day, _)| day));
            Way::Quick
        }
        (Some(_), None) => panic!("read quickly, though it is refused:\n{line}"),
        (None, Some(_)) => Way::Long,
        (None, None) => Way::Refused,
    }
}

fn mere_6() -> Vocabulary {
    vocabulary_of("mere-6", include_str!("../../../benches/fleet/rules.yaml"))
}

fn boat(number: u64) -> String {
    let mut line = String::new();
    generate::boat(number, &mut line);
    line.trim_end().to_owned()
}

fn filled_trees() -> Vec<(String, Tree)> {
    let trees = filled_forms().into_iter().map(|(name, form)| {
        let source = source_of(&name, &form);
        let tree = Tree::of(&text::parse_yaml(&source).unwrap());
        (name, tree)
    });
    trees.collect()
}

/// Forms of writing that no filled form has.
const OTHERS: &str = r#"{"format":"rimegauge-record/1","class":"tarn-8","measured":{"by":"AB","day":"2026-11-21",
"place":"Harrowmere, north shore","temperature":"-4.5 degC"},"boat":{"sail_number":"T8 7","name":"Tern \u00e9"},
"instruments":{"mic_2":{"calibration":{"k":2.0,"expanded_uncertainty":"0.002 mm"},"checks":[],
"resolution":"10 um","kind":"micrometer"},"tape_1":{"kind":"tape"},"gauge_1":{"kind":"depth_gauge","checks":
[{"accept_within":"0.01 in","reading":"1.00 in","reference":"25.4 mm","taken":"2026-11-21"}]}},
"runners":[{"id":"S1","steel_thickness":{"second":"no","searched":"by eye","with":"mic_2","places":[
{"face":"port","readings":["4.76 mm","4.77 mm"],"at":"-1 in","from_edge":"12 mm"},
{"face":"starboard","readings":"4.76 4.75 mm","at":"-1 in"}]}},{"id":"S2"}]}"#;

/// Every kind of series, each of few values.
const SERIES: &str = r#"{"format":"rimegauge-record/1","class":"tarn-8","boat":{"sail_number":"T8 8",
"correctors_fixed":{"answer":"yes","by":"AB","day":"2026-11-21"}},"measured":{"day":"2026-11-21","by":"AB"},
"instruments":{"mic_2":{"kind":"micrometer","resolution":"0.01 mm","calibration":{"day":"2026-03-12",
"due":"2027-03-12","expanded_uncertainty":"0.002 mm","k":2}},"pro_1":{"kind":"protractor","resolution":"0.1 deg"}},
"runners":[{"id":"S1","steel_thickness":{"series":[{"with":"mic_2","places":[{"at":"0 mm","readings":"4.76 mm"}]},
{"by":"CD","second":"yes","with":"mic_2","places":[{"at":"0 mm","readings":"4.77 mm"}]}]},
"side_line":{"with":"mic_2","stations":"-200 0 200 mm","port":"0.00 0.05 0.00 mm","starboard":"0.00 -0.05 0.00 mm"},
"edge_profile":{"contact":"0 mm","shims":[{"gap":"0.20 mm","forward":"228 mm","aft":"219 mm"}]},
"edge_section":{"with":"pro_1","bevels":{"port":"45 deg","starboard":"45 deg"}}}]}"#;

/// Forms that are rare, each in the place of a value.
const RARE: &str = r#"{"format":"rimegauge-record/1","class":"tarn-8","boat":{"sail_number":"T8 9","notes":"Cold."},
"measured":{"day":"2026-11-21","by":"AB"},"notes":["One.","Two."],"unlisted":[{"part":"runners/S1","what":"heated grip",
"seen_by":"AB","day":"2026-11-21"}],"instruments":{"mic_2":{"kind":"micrometer","resolution":"0.01 mm"}},
"runners":[{"id":"S1","work":[{"day":"2026-10-03","did":"sharpened"}],"notes":["Blunt."],
"exposed_depth":{"more_than":"31 mm"},
"steel_thickness":{"with":"mic_2","places":[{"at":"0 mm","readings":"4.76 4.77 4.76 mm","void":[{"reading":2,"by":"AB",
"because":"chip"}]},{"at":"9 mm","readings":"4.70 mm","confirmed_by":"AB"}]},
"edge_profile":{"stations":"-200 0 200 mm","gaps":"0.10 0.00 0.10 mm"},
"edge_section":{"places":[{"at":"0 mm","points":{"port":["-1 1 mm","-2 2 mm"],"starboard":["1 1 mm","2 2 mm"]}}]}}]}"#;

fn small_ones() -> [String; 3] {
    [OTHERS, SERIES, RARE].map(|text| text.replace('\n', "").replace("\\u00e9", "é"))
}

#[test]
fn generated_boats_come_the_quick_way() {
    let vocabulary = mere_6();
    let loader = Loader::new(&vocabulary);
    let boats: Vec<Way> = (0..60).map(|number| way(&loader, &boat(number))).collect();
    let quick = boats.iter().filter(|way| **way == Way::Quick).count();
    assert!(quick * 100 >= boats.len() * 99, "{boats:?}");
}

#[test]
fn filled_forms_as_lines_are_the_same_either_way() {
    let loader = Loader::new(tarn_8());
    let mut quick = Vec::new();
    for (name, mut tree) in filled_trees() {
        let written = way(&loader, &tree.line(""));
        assert_eq!(way(&loader, &tree.line(" \t")), written, "{name}");
        tree.sort();
        let sorted = way(&loader, &tree.line(""));
        assert_eq!(sorted, written, "{name}");
        if written == Way::Quick {
            quick.push(name);
        }
    }
    // One is longer than what is read quickly.
    assert_eq!(quick.len(), filled_forms().len() - 1, "{quick:?}");
}

#[test]
fn other_ways_of_writing_are_the_same_either_way() {
    let loader = Loader::new(tarn_8());
    for line in small_ones() {
        assert_eq!(way(&loader, &line), Way::Quick, "{line}");
    }
    // Over several lines, or with an escape, it is a record too.
    assert_eq!(way(&loader, &OTHERS.replace("\\u00e9", "é")), Way::Long);
    assert_eq!(way(&loader, &OTHERS.replace('\n', "")), Way::Long);
}

/// What is rare is read from a tree of its own, good and bad.
#[test]
fn an_edge_by_stations_is_the_same_either_way() {
    let loader = Loader::new(tarn_8());
    let shims = r#""contact":"0 mm","shims":[{"gap":"0.20 mm","forward":"228 mm","aft":"219 mm"}]"#;
    let line = SERIES.replace('\n', "");
    let by = |stations: &str| line.replace(shims, stations);
    assert!(line.contains(shims));
    let good = r#""stations":"-200 0 200 mm","gaps":"0.10 0.00 0.10 mm""#;
    assert_eq!(way(&loader, &by(good)), Way::Quick);
    for bad in [
        r#""stations":"-200 0 200 mm","gaps":"0.10 0.00 mm""#.to_owned(),
        r#""stations":"-200 0 200 mm""#.to_owned(),
        format!("{good},{shims}"),
        format!(r#"{good},"contact":"0 mm""#),
    ] {
        assert_eq!(way(&loader, &by(&bad)), Way::Refused, "{bad}");
    }
}

/// Remarks and work have no slot that a second one would find taken.
#[test]
fn nothing_rare_is_said_twice() {
    let loader = Loader::new(tarn_8());
    let [_, _, line] = small_ones();
    for (there, twice) in [
        (r#""notes":"Cold.""#, r#""notes":[],"notes":"Cold.""#),
        (
            r#""notes":["One.","Two."]"#,
            r#""notes":[],"notes":["One."]"#,
        ),
        (
            r#""notes":["Blunt."]"#,
            r#""notes":"Sharp.","notes":["Blunt."]"#,
        ),
        (r#""work":["#, r#""work":[],"work":["#),
        (r#""unlisted":["#, r#""unlisted":[],"unlisted":["#),
    ] {
        assert!(line.contains(there), "{there}");
        let changed = line.replacen(there, twice, 1);
        assert_eq!(way(&loader, &changed), Way::Refused, "{twice}");
    }
}

/// Faults that a change at random seldom makes: what stands in a small record, and what in its stead.
const FAULTS: &[&[(&str, &str)]] = &[
    &[("2027-03-12", "2025-03-12")],
    &[(r#""k":2}"#, r#""k":"200 %"}"#)],
    &[(r#","k":2}"#, "}")],
    &[("CD", "AB")],
    &[(
        r#""with":"mic_2","stations""#,
        r#""with":"pro_1","stations""#,
    )],
    &[("-200 0 200 mm", "-200 0 0 mm")],
    &[
        ("-200 0 200 mm", "-200 200 mm"),
        ("0.00 0.05 0.00 mm", "0.00 0.05 mm"),
        ("0.00 -0.05 0.00 mm", "0.00 -0.05 mm"),
    ],
    &[("0.00 -0.05 0.00 mm", "0.00 -0.05 mm")],
    &[(r#""id":"S1","#, "")],
    &[(
        r#""id":"S1""#,
        r#""id":"S1","built":{"date":"2019","seen_by":"AB"}"#,
    )],
    &[(
        r#""id":"S1""#,
        r#""id":"S1","built":{"date":"2019","proof":"invoice 7","seen_on":"2026-11-20"}"#,
    )],
    &[(r#""id":"S1""#, r#""id":"S1""},{"id":"S1""#)],
    &[(r#""id":"S1""#, r#""id":"S1 a""#)],
    &[("micrometer", "unnamed")],
    &[(r#""mic_2":"#, r#""exact":"#)],
    &[(r#""45 deg","starboard""#, r#""181 deg","starboard""#)],
    &[("0.20 mm", "0 mm")],
    &[("228 mm", "-1 mm")],
    &[(r#""T8 8""#, r#""  ""#)],
    &[(r#","class":"tarn-8""#, "")],
    &[("record/1", "record/2")],
];

#[test]
fn faults_are_left_to_the_long_way() {
    let loader = Loader::new(tarn_8());
    let [_, line, _] = small_ones();
    for fault in FAULTS {
        let mut changed = line.clone();
        for (there, instead) in *fault {
            assert!(changed.contains(there), "{there}");
            changed = changed.replacen(there, instead, 1);
        }
        assert_eq!(way(&loader, &changed), Way::Refused, "{fault:?}");
    }
}

/// Values that are right in one place and wrong in another, or wrong everywhere.
pub(super) const VALUES: &[&str] = &[
    "null",
    "true",
    "false",
    "0",
    "-0",
    "2",
    "-1",
    "4.76",
    "1e3",
    "007",
    "5.",
    "-",
    "[]",
    "{}",
    "[[]]",
    r#""""#,
    r#"" ""#,
    r#""yes""#,
    r#""no""#,
    r#""true""#,
    r#""other""#,
    r#""exact""#,
    r#""unnamed""#,
    r#""micrometer""#,
    r#""mic_1""#,
    r#""mic_2""#,
    r#""S1""#,
    r#""F0""#,
    r#""port""#,
    r#""AB""#,
    r#""steering""#,
    r#""2026""#,
    r#""2026-11""#,
    r#""2026-11-21""#,
    r#""2026-11-31""#,
    r#""2027-03-12""#,
    r#""2026-11-21 09:05""#,
    r#""2026-11-21 24:00""#,
    r#""0 mm""#,
    r#""-1 mm""#,
    r#""4.76 mm""#,
    r#""4.76 in""#,
    r#""3/16 in""#,
    r#""1 3/16 in""#,
    r#""4.76 4.77 mm""#,
    r#""4.76  4.77 mm""#,
    r#""4 4 4 mm""#,
    r#""4.76 4.77 kg""#,
    r#"" 4.76 mm""#,
    r#""4.76mm""#,
    r#""+4.76 mm""#,
    r#""4,76 mm""#,
    r#""04.76 mm""#,
    r#""0.1 kg""#,
    r#""45 deg""#,
    r#""180 deg""#,
    r#""181 deg""#,
    r#""82 deg 30 min""#,
    r#""-300 degC""#,
    r#""-0.5 degC""#,
    r#""58 HRC""#,
    r#""5 %""#,
    r#""0.5""#,
    r#""1 2 3""#,
    r#""mere-6""#,
    r#""tarn-8""#,
    r#""Mere 6""#,
    r#""rimegauge-record/1""#,
    r#""rimegauge-record/2""#,
    r#""a\u0062""#,
    r#""tab	in it""#,
    r#""é""#,
    "\"\u{85}\"",
    r#"["4.76 mm","4.77 mm"]"#,
    r#"[4.76,"4.77 mm"]"#,
    r#"{"more_than":"310 mm"}"#,
    r#"{"answer":"yes","by":"AB","day":"2026-11-21"}"#,
    r#"{"day":"2026-11-21"}"#,
    r#"{"readings":"4.76 mm"}"#,
    r#"{"date":"2019","seen_by":"AB"}"#,
    r#"{"with":"exact","readings":"4.76 4.77 mm"}"#,
    r#"{"port":"45 deg","starboard":"45 deg"}"#,
    r#"{"bevels":{"port":"45 deg","starboard":"45 deg"}}"#,
    r#"{"points":{"port":["-1 1 mm","-2 2 mm"],"starboard":["1 1 mm","2 2 mm"]}}"#,
    r#"{"sine":{"length":"100 mm","port":"64 mm","starboard":"65 mm"}}"#,
    r#"{"widths":[{"depth":"0 mm","width":"1 mm"},{"depth":"2 mm","width":"5 mm"}]}"#,
    r#"[{"readings":"4.76 mm"}]"#,
    r#"{"series":[{"readings":"4.76 mm"}]}"#,
    r#"{"kind":"calliper","resolution":"0.01 mm"}"#,
    r#""a text that is longer than a sail number can be""#,
];

/// Keys that are known somewhere, and one that is not.
const KEYS: &[&str] = &[
    "at",
    "face",
    "from_edge",
    "readings",
    "void",
    "confirmed_by",
    "with",
    "by",
    "taken",
    "second",
    "searched",
    "places",
    "bevels",
    "points",
    "sine",
    "pins",
    "rollers",
    "widths",
    "edge_radius",
    "diameter",
    "over",
    "depth",
    "port",
    "starboard",
    "series",
    "day",
    "due",
    "k",
    "correction",
    "expanded_uncertainty",
    "resolution",
    "repeatability",
    "serial",
    "study",
    "checks",
    "calibration",
    "kind",
    "id",
    "notes",
    "work",
    "unlisted",
    "owner",
    "name",
    "place",
    "temperature",
    "proof",
    "seen_by",
    "seen_on",
    "date",
    "answer",
    "stations",
    "shims",
    "contact",
    "gap",
    "forward",
    "aft",
    "more_than",
    "nonsense",
    "boat",
    "runners",
    "hull",
    "class",
    "exact",
    "mic_1",
    "",
];

/// All values under a key, wherever they stand.
fn under(tree: &Tree, key: &str, found: &mut Vec<Tree>) {
    match tree {
        Tree::Bare(_) => {}
        Tree::List(items) => items.iter().for_each(|item| under(item, key, found)),
        Tree::Map(entries) => {
            for (own, item) in entries {
                if own == key {
                    found.push(item.clone());
                }
                under(item, key, found);
            }
        }
    }
}

/// One change of a tree: of a value, an entry, an item.
fn change(tree: &mut Tree, random: &mut impl FnMut(usize) -> usize) {
    let size = tree.size();
    let donor = tree.clone();
    let target = tree.at(random(size));
    match target {
        Tree::Bare(text) => *text = VALUES[random(VALUES.len())].to_owned(),
        Tree::List(items) => match random(4) {
            0 if !items.is_empty() => {
                items.remove(random(items.len()));
            }
            1 if !items.is_empty() => {
                let again = items[random(items.len())].clone();
                items.push(again);
            }
            2 if items.len() > 1 => {
                let (one, other) = (random(items.len()), random(items.len()));
                items.swap(one, other);
            }
            _ => *target = Tree::Bare(VALUES[random(VALUES.len())].to_owned()),
        },
        Tree::Map(entries) => {
            let at = random(entries.len().max(1));
            match random(9) {
                0 if !entries.is_empty() => {
                    entries.remove(at);
                }
                1 if !entries.is_empty() => {
                    let again = entries[at].clone();
                    entries.insert(random(entries.len() + 1), again);
                }
                2 if entries.len() > 1 => {
                    let other = random(entries.len());
                    entries.swap(at, other);
                }
                3 if !entries.is_empty() => {
                    entries[at].0 = format!("\"{}\"", KEYS[random(KEYS.len())]);
                }
                4 => {
                    let key = format!("\"{}\"", KEYS[random(KEYS.len())]);
                    let value = Tree::Bare(VALUES[random(VALUES.len())].to_owned());
                    entries.insert(random(entries.len() + 1), (key, value));
                }
                // What stands under the same key elsewhere is nearly right here.
                5 | 6 if !entries.is_empty() => {
                    let mut others = Vec::new();
                    under(&donor, &entries[at].0, &mut others);
                    entries[at].1 = others.swap_remove(random(others.len()));
                }
                7 => {
                    let mut donor = donor;
                    *target = donor.at(random(size)).clone();
                }
                _ => *target = Tree::Bare(VALUES[random(VALUES.len())].to_owned()),
            }
        }
    }
}

/// One change of the bytes of a line.
fn smudge(line: &mut String, random: &mut impl FnMut(usize) -> usize) {
    const BYTES: &[u8] = b"{}[]\",:.-+ 0123456789abemnyxS\\/#\t\x7f\n";
    let mut bytes = std::mem::take(line).into_bytes();
    let at = random(bytes.len());
    let byte = BYTES[random(BYTES.len())];
    match random(6) {
        0 => {
            bytes.remove(at);
        }
        1 => bytes.insert(at, byte),
        2 => bytes[at] = byte,
        3 => {
            let other = random(bytes.len());
            bytes.swap(at, other);
        }
        4 => bytes.push(byte),
        _ => bytes.truncate(at + 1),
    }
    // A byte of another character than ASCII may have been torn.
    *line = String::from_utf8_lossy(&bytes).into_owned();
}

/// Lines that are changed: boats of few runners, filled forms of few parts.
struct Lines {
    boats: Vec<Tree>,
    forms: Vec<Tree>,
}

impl Lines {
    fn new() -> Lines {
        let boats = (0..24).map(|number| Tree::of_line(&boat(number)));
        let forms = filled_trees().into_iter().map(|(_, tree)| tree);
        let few = |mut tree: Tree| {
            tree.shorten(1);
            tree
        };
        let mut lines = Lines {
            boats: boats.map(few).collect(),
            forms: forms.map(few).collect(),
        };
        // Small ones, so that a change meets every kind of value often.
        for _ in 0..10 {
            let small = small_ones();
            lines.forms.extend(small.map(|line| Tree::of_line(&line)));
        }
        lines
    }
}

#[derive(Default, Debug)]
struct Ways {
    quick: usize,
    long: usize,
    refused: usize,
}

/// Changes lines by a seed, and counts what became of them.
fn changed(lines: &Lines, loaders: &[Loader<'_>; 2], seed: u64, ways: &mut Ways) {
    let mut state = seed;
    // SplitMix64, as the boats are made.
    let mut random = |below: usize| {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) >> 1).unwrap() % below
    };
    let (trees, loader) = match random(2) {
        0 => (&lines.boats, &loaders[0]),
        _ => (&lines.forms, &loaders[1]),
    };
    let mut tree = trees[random(trees.len())].clone();
    for _ in 0..random(3) {
        change(&mut tree, &mut random);
    }
    let blank = ["", "", " ", "\t \r"][random(4)];
    let mut line = tree.line(blank);
    if random(3) == 0 {
        smudge(&mut line, &mut random);
    }
    match way(loader, &line) {
        Way::Quick => ways.quick += 1,
        Way::Long => ways.long += 1,
        Way::Refused => ways.refused += 1,
    }
}

#[test]
fn changed_lines_are_the_same_either_way() {
    let vocabulary = mere_6();
    let loaders = [Loader::new(&vocabulary), Loader::new(tarn_8())];
    let lines = Lines::new();
    let mut ways = Ways::default();
    let config = ProptestConfig {
        failure_persistence: None,
        cases: ProptestConfig::default().cases.max(3_000),
        ..ProptestConfig::default()
    };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    let seen = std::cell::RefCell::new(&mut ways);
    let outcome = runner.run(&any::<u64>(), |seed| {
        changed(&lines, &loaders, seed, &mut seen.borrow_mut());
        Ok(())
    });
    outcome.unwrap();
    // Both were met often enough for the comparison to mean something.
    assert!(ways.quick >= 500 && ways.refused >= 500, "{ways:?}");
}
