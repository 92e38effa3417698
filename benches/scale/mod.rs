//! Two versions of an invented class, its boats, and the same count by SQL and by hand.

pub mod by_hand;
pub mod by_sql;
pub mod generate;
pub mod ordinary;

use std::sync::Arc;

use rimegauge::rules::{self, RulesFile};

const RULES: &str = include_str!("rules.yaml");

/// What the second version says in place of the first: limits of four rules, a measure more, and so another vocabulary.
const MOVED: &[(&str, &str)] = &[
    ("version: 1.0.0", "version: 2.0.0\nreplaces: 1.0.0"),
    ("in_force_from: 2026-01-01", "in_force_from: 2026-11-01"),
    (
        "insert: { at_least: 4.70 mm }",
        "insert: { at_least: 4.80 mm }",
    ),
    (
        "value: pivot_hole, at_least: 10.00 mm, at_most: 10.40 mm",
        "value: pivot_hole, at_least: 10.00 mm, at_most: 10.25 mm",
    ),
    (
        "value: hardness, at_least: 44 HRC",
        "value: hardness, at_least: 47 HRC",
    ),
    (
        "value: stem_width, at_most: 8 mm",
        "value: stem_width, at_most: 8.5 mm",
    ),
    (
        "      bolt: {",
        "      bolt_length: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.5 mm } } }\n      bolt: {",
    ),
];

/// Both versions.
pub fn versions() -> [Arc<RulesFile>; 2] {
    let mut moved = RULES.to_owned();
    for (was, is) in MOVED {
        assert_eq!(moved.matches(was).count(), 1, "{was}");
        moved = moved.replace(was, is);
    }
    [("1.0.0", RULES), ("2.0.0", &moved)].map(|(version, text)| {
        let name = format!("ghyll-9/{version}.yaml");
        let rules = rules::load(&name, text.as_bytes());
        Arc::new(rules.unwrap_or_else(|faults| {
            panic!("{}", rimegauge::diagnostic::narrate(&faults));
        }))
    })
}

/// Ids of the rules that differ, in the order of the file.
pub const CHANGED: [&str; 4] = ["steel_thickness", "pivot_hole", "stem_width", "hardness"];

/// What everybody has to come to: how many went from where to where (does not conform, not decided, conforms), under the
/// first version and under the second.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Boats.
    pub boats: [[u64; 3]; 3],
    /// Runners.
    pub runners: [[u64; 3]; 3],
    /// Runners by what each changed rule says.
    pub rules: [[[u64; 3]; 3]; CHANGED.len()],
}

/// The largest memory that a process took so far, kilobytes; `self` for this one.
pub fn peak_of(process: &str) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .unwrap();
    line.trim().trim_end_matches(" kB").parse().unwrap()
}
