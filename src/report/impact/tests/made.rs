//! A fleet of 31 boats made by hand, some of them thin.

use crate::check::{Reason, RowRef};
use crate::diagnostic::Diagnostic;
use crate::fleet::UnusableRecords;
use crate::fleet::impact::{
    Case, Histogram, Impact, LeftOut, LimitImpact, Moves, RuleImpact, Sample, Several, Stand,
};
use crate::quantity::{Date, Exact, Number, Quantity, Unit};
use crate::rules::BoundKind;

pub(super) const C: Stand = Stand::Conforms;
pub(super) const N: Stand = Stand::NotDecided;
pub(super) const D: Stand = Stand::DoesNotConform;

pub(super) fn moves(all: &[(Stand, Stand, u64)]) -> Moves {
    let mut moves = Moves::default();
    for (old, new, count) in all {
        for _ in 0..*count {
            moves.add(*old, *new);
        }
    }
    moves
}

/// A quantity in base units.
pub(super) fn base(text: &str) -> Exact {
    Quantity::parse(text).unwrap().value
}

pub(super) fn size(text: &str) -> f64 {
    base(text).to_f64()
}

pub(super) fn case(
    sail_number: &str,
    item: &str,
    value: &str,
    limit: &str,
    line: u32,
    before: Stand,
) -> Case {
    Case {
        sail_number: sail_number.to_owned(),
        at: ("fleet.jsonl".to_owned(), line),
        item: item.to_owned(),
        day: Date::constant(2026, 10, 3),
        before,
        value: Number::Exact(base(value)),
        decimals: Some(2),
        u: Some(size("0.02 mm")),
        margin: Number::Exact(base(value).sub(&base(limit))),
    }
}

pub(super) fn limit(old: Option<&str>, new: Option<&str>, name: &str, row: usize) -> LimitImpact {
    LimitImpact {
        row: RowRef::Main(row),
        row_name: Some(name.to_owned()),
        kind: BoundKind::AtLeast,
        unit: Unit::MM,
        decimals: Some(2),
        old: old.map(base),
        old_written: None,
        texts: (None, None),
        new: new.map(base),
        margins: Histogram {
            width: size("0.02 mm"),
            first: -6,
            counts: vec![1, 0, 2, 3, 4, 4, 9, 14, 22, 17, 9, 0, 5, 3, 1],
            beyond: (3, 2),
        },
        typical_u: Some(size("0.021 mm")),
        worst: Vec::new(),
    }
}

pub(super) fn unusable() -> UnusableRecords {
    let mut found = UnusableRecords::default();
    let cut = Diagnostic::fault("text.bracket", "a string is not closed on its line");
    let other = Diagnostic::fault("record.other_class", "the record is of the class `ghyll-2`");
    found.add("fleet.jsonl", 17, &[cut.help("close it")]);
    found.add("fleet.jsonl", 40, std::slice::from_ref(&other));
    found.add("more.yaml", 1, &[other.clone(), other]);
    found
}

pub(super) fn several() -> Several {
    Several {
        sail_number: "T8 7".to_owned(),
        records: vec![
            ("fleet.jsonl".to_owned(), 3, Date::constant(2026, 1, 9)),
            ("fleet.jsonl".to_owned(), 90, Date::constant(2026, 11, 14)),
        ],
        same_day: 1,
        copies: 0,
    }
}

/// A fleet of 31 boats, some of them thin.
pub(super) fn impact() -> Impact {
    let mut insert = limit(Some("4.70 mm"), Some("4.80 mm"), "insert", 0);
    insert.worst = vec![
        case("T8  41", "runners/S1", "4.62 mm", "4.80 mm", 12, N),
        case("T8 41", "runners/S2", "4.71 mm", "4.80 mm", 12, C),
        case("T8 7", "runners/R1", "4.79 mm", "4.80 mm", 90, C),
    ];
    let mut plate = limit(Some("6.35 mm"), Some("6.35 mm"), "plate", 1);
    plate.typical_u = None;
    plate.margins.beyond = (0, 0);
    plate.margins.first = 0;
    let thickness = moves(&[(C, D, 13), (N, D, 1), (N, N, 60), (C, N, 9), (C, C, 59)]);
    let mut radius = limit(None, Some("2.00 mm"), "any", 0);
    radius.kind = BoundKind::AtMost;
    radius.row_name = None;
    radius.margins.first = -2;
    radius.worst = vec![Case {
        margin: Number::Exact(base("-0.01 mm")),
        u: None,
        ..case("T8 9", "boat", "2.01 mm", "2.00 mm", 77, C)
    }];
    let mut computed = limit(None, None, "computed", 0);
    computed.row = RowRef::Exemption(0);
    computed.row_name = None;
    let rule = |rule: &str, clause: &str, title: &str, part: &str, moves: Moves| RuleImpact {
        rule: rule.to_owned(),
        clause: clause.to_owned(),
        title: title.to_owned(),
        part: part.to_owned(),
        in_versions: (true, true),
        moves,
        open: Vec::new(),
        open_as_before: 0,
        others: Vec::new(),
        opened: Vec::new(),
        never_measured: 0,
        within_uncertainty: 0,
        limits: Vec::new(),
    };
    Impact {
        sample: Sample {
            records: 34,
            boats: 31,
            items: vec![("boat".to_owned(), 31), ("runner".to_owned(), 142)],
            superseded: 8,
            put_together: 1,
            measured_later: 0,
            copies: 2,
            several: vec![several()],
            broken: 3,
            unusable: unusable(),
            old_names: 12,
            left_out: LeftOut::default(),
            measured: Some((Date::constant(2025, 10, 3), Date::constant(2026, 11, 14))),
            on: None,
            not_before: Some(Date::constant(2027, 9, 1)),
        },
        boats: moves(&[(C, D, 4), (D, D, 2), (N, N, 11), (C, C, 14)]),
        items: moves(&[
            (C, D, 14),
            (N, D, 1),
            (D, C, 1),
            (N, N, 60),
            (C, N, 9),
            (C, C, 88),
        ]),
        parts: vec![
            (
                "boat".to_owned(),
                moves(&[(C, D, 1), (D, C, 1), (C, C, 29)]),
            ),
            ("runner".to_owned(), thickness),
        ],
        rules: vec![
            RuleImpact {
                open: vec![(Reason::NotMeasured, 60), (Reason::NearLimit, 9)],
                open_as_before: 2,
                others: Vec::new(),
                opened: Vec::new(),
                never_measured: 60,
                within_uncertainty: 9,
                limits: vec![insert, plate],
                ..rule(
                    "steel_thickness",
                    "E.3.2",
                    "Steel thickness",
                    "runner",
                    thickness,
                )
            },
            RuleImpact {
                in_versions: (false, true),
                limits: vec![radius, computed],
                ..rule(
                    "nose_radius",
                    "E.3.9",
                    "Radius of the rounded leading edge of the steel, <measured> & told",
                    "boat",
                    moves(&[(C, D, 1), (C, C, 30)]),
                )
            },
            RuleImpact {
                in_versions: (true, false),
                ..rule(
                    "plank_crown",
                    "D.7.4",
                    "Crown",
                    "boat",
                    moves(&[(D, C, 1), (C, C, 30)]),
                )
            },
        ],
        within_uncertainty: 9,
        never_measured: 60,
        years: vec![
            (None, moves(&[(C, C, 2)])),
            (Some(2004), moves(&[(C, D, 9), (C, C, 11)])),
            (Some(2019), moves(&[(C, D, 5), (D, C, 1), (C, C, 115)])),
        ],
    }
}
