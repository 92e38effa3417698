//! A certificate as it would be filled for T8 41 Nightjar. Class, boat, persons and readings are invented.

use rimegauge::paper::Certificate;
use rimegauge::paper::certificate::{
    Boat, ClassRules, Decision, Document, Finding, Grandfathered, Instrument, Item, List, ListRow,
    NotMeasured, Part, Record, Signature, Validity,
};

/// Clause, title, requirement, value, k, margin, places, deciding place.
type Line = [&'static str; 8];

fn s(text: &str) -> String {
    text.to_owned()
}

fn finding(item: &str, line: Line) -> Finding {
    let [
        clause,
        title,
        requirement,
        value,
        k,
        margin,
        places,
        deciding,
    ] = line.map(s);
    Finding {
        clause,
        title,
        item: s(item),
        requirement,
        value,
        k,
        margin,
        places,
        deciding,
        outcome: s("conforms"),
    }
}

/// Each line for each item, clause by clause.
fn part(heading: &str, items: &[&str], lines: &[Line]) -> Part {
    Part {
        heading: s(heading),
        findings: lines
            .iter()
            .flat_map(|&line| items.iter().map(move |item| finding(item, line)))
            .collect(),
    }
}

/// The runners of a part, under fourteen clauses of which some have two sides.
fn runner_findings(items: &[&str]) -> Part {
    part(
        "E Runners",
        items,
        &[
            ["E.2.1", "Label of the runner", "yes", "yes", "", "", "", ""],
            [
                "E.2.3",
                "Mass of the runner",
                "at most 5.00 kg",
                "3.601 ± 0.010 kg",
                "2.0",
                "1.399 kg inside",
                "",
                "",
            ],
            [
                "E.3.1",
                "Length of the steel",
                "from 760 mm to 920 mm",
                "804.5 ± 1.4 mm",
                "2.0",
                "44.5 mm inside",
                "",
                "",
            ],
            [
                "E.3.2",
                "Steel thickness",
                "at least 4.70 mm",
                "4.83 ± 0.02 mm",
                "2.0",
                "0.13 mm inside",
                "5 of 5",
                "−160 mm",
            ],
            [
                "E.3.4",
                "Exposed steel",
                "from 20.0 mm to 45.0 mm",
                "33.93 ± 0.25 mm",
                "2.0",
                "10.93 mm inside",
                "3 of 3",
                "−150 mm",
            ],
            [
                "E.3.5",
                "Straightness sideways",
                "at most 0.80 mm",
                "0.19 ± 0.08 mm",
                "2.0",
                "0.61 mm inside",
                "9 of 9",
                "",
            ],
            [
                "E.3.6",
                "Hardness",
                "at most 60 HRC",
                "55.0 ± 1.5 HRC",
                "2.0",
                "5.0 HRC inside",
                "3 of 3",
                "0 mm",
            ],
            ["E.3.8", "Leading edge", "yes", "yes", "", "", "", ""],
            [
                "E.4.1",
                "Included edge angle",
                "from 80 deg to 115 deg",
                "89.3 ± 1.0 deg",
                "2.0",
                "9.3 deg inside",
                "5 of 5",
                "−280 mm",
            ],
            [
                "E.5.1",
                "Flat at 0.20 mm",
                "from 160 mm to 600 mm",
                "447 ± 11 mm",
                "2.1",
                "153 mm inside",
                "",
                "",
            ],
            [
                "E.7.1",
                "Height of the pivot",
                "from 70.0 mm to 125.0 mm",
                "96.40 ± 0.10 mm",
                "2.0",
                "26.40 mm inside",
                "",
                "",
            ],
            [
                "E.7.3",
                "Pivot hole",
                "from 10.00 mm to 10.60 mm",
                "10.26 ± 0.06 mm",
                "2.0",
                "0.26 mm inside",
                "",
                "",
            ],
        ],
    )
}

/// The certificate with these runners.
pub fn with_runners(runners: &[&str]) -> Certificate {
    let mut items = vec![
        item("hull", "plywood", "", "T8 41 cut in the bulkhead"),
        item("plank", "", "", ""),
        item("mast", "composite", "", "bands"),
        item("boom", "", "", ""),
        item("sail A", "woven", "", "T8 41"),
    ];
    for id in runners {
        let position = if id.starts_with('F') {
            "steering"
        } else {
            "side"
        };
        items.push(item(
            id,
            "runner, insert",
            position,
            &format!("T8 41 {id} engraved"),
        ));
    }
    items.push(Item {
        id: s("S9"),
        kind: s("runner, tee"),
        position: s("side"),
        marks: s("T8 41 S9 engraved"),
        not_covered: Some(s("not asked for")),
    });
    Certificate {
        title: s("Measurement certificate"),
        document: Document {
            number: s("HW-0117"),
            replaces: Some(s("HW-0093")),
            first_issued: Some(s("2019-04-12")),
            measured_on: s("2026-11-21"),
            issued_on: Some(s("2026-11-22")),
            measurer: s("A. B."),
            temperature: Some(s("−6 °C")),
        },
        boat: Boat {
            sail_number: s("T8 41"),
            name: s("Nightjar"),
            owner: s("Łucja Õunapuu-Sjöström"),
            built: Some(s("2019-03")),
            built_proof: Some(s("builder's invoice 17, seen by A. B. on 2026-11-20")),
            further: vec![(
                s("Correctors"),
                s("2 of 1.250 kg, 2.500 kg in all, bolted forward of the cockpit"),
            )],
        },
        rules: ClassRules {
            title: s("Tarn 8 Class Rules"),
            class: s("tarn-8"),
            version: s("3.1.0"),
            in_force_from: s("2026-11-01"),
            replaces: Some(s("3.0.0")),
            digest: s("5f1d3c0b9a8e77264c1b02de94aa31f0c6d7e8b95a4f3e2d1c0b9a8f7e6d5c4b"),
            authority: s("Tarn 8 Class Association, Technical Committee"),
            interpretations: vec![
                (
                    s("i_2026_1"),
                    s(
                        "Paint, varnish and ice are not steel. They are taken off before the thickness is measured.",
                    ),
                ),
                (
                    s("i_2026_3"),
                    s(
                        "The runner hangs free on a pin through its pivot hole while the shims are slid in. Nobody presses it on the straight edge.",
                    ),
                ),
            ],
            not_in_force: None,
            overlay: None,
        },
        decision: Decision {
            rule: s(
                "Guarded acceptance: a value conforms when it lies inside the limit by at least its expanded uncertainty U. A value closer to the limit than U is not decided, and no certificate is given for it.",
            ),
            coverage_probability: s("95 %"),
        },
        statement: format!(
            "Hull, plank, mast, boom, sail A and the runners {} of T8 41 Nightjar conformed with the Tarn 8 Class Rules 3.1.0 on 2026-11-21.",
            runners.join(", ")
        ),
        items,
        lists: vec![List {
            heading: s("Correctors"),
            columns: vec![s("Place"), s("Mass")],
            rows: vec![
                ListRow {
                    id: s("K1"),
                    values: vec![s("mast step"), s("1.250 ± 0.010 kg")],
                    not_covered: None,
                },
                ListRow {
                    id: s("K2"),
                    values: vec![s("cockpit front"), s("1.250 ± 0.010 kg")],
                    not_covered: None,
                },
            ],
        }],
        parts: vec![
            part(
                "C Boat as a whole",
                &["boat"],
                &[
                    [
                        "C.4.1",
                        "Mass of the boat",
                        "at least 78.0 kg",
                        "81.41 ± 0.10 kg",
                        "2.0",
                        "3.41 kg inside",
                        "",
                        "",
                    ],
                    [
                        "C.4.2",
                        "Mass of correctors",
                        "at most 5.0 kg",
                        "2.500 ± 0.010 kg",
                        "2.0",
                        "2.500 kg inside",
                        "",
                        "",
                    ],
                    [
                        "C.4.3",
                        "Fastening of correctors",
                        "yes",
                        "yes",
                        "",
                        "",
                        "",
                        "",
                    ],
                ],
            ),
            part(
                "D Hull and plank",
                &["hull"],
                &[
                    [
                        "D.4.1",
                        "Length of the hull",
                        "from 4100 mm to 4300 mm",
                        "4208.5 ± 2.0 mm",
                        "2.0",
                        "91.5 mm inside",
                        "",
                        "",
                    ],
                    [
                        "D.4.2",
                        "Width of the hull",
                        "from 500 mm to 600 mm",
                        "562.5 ± 0.5 mm",
                        "2.0",
                        "37.5 mm inside",
                        "",
                        "",
                    ],
                    [
                        "D.5.1",
                        "Cockpit length",
                        "at least 1300 mm",
                        "1412.5 ± 1.0 mm",
                        "2.0",
                        "112.5 mm inside",
                        "",
                        "",
                    ],
                    [
                        "D.6.1",
                        "Mass of the hull",
                        "at least 24.0 kg",
                        "25.61 ± 0.10 kg",
                        "2.0",
                        "1.61 kg inside",
                        "",
                        "",
                    ],
                ],
            ),
            runner_findings(runners),
            part(
                "G Sails",
                &["sail A"],
                &[
                    [
                        "G.2.2",
                        "Battens",
                        "from 3 to 6",
                        "5",
                        "",
                        "1 inside",
                        "",
                        "",
                    ],
                    [
                        "G.3.1",
                        "Sail area",
                        "at most 8.00 m2",
                        "7.94 ± 0.03 m2",
                        "2.0",
                        "0.06 m2 inside",
                        "",
                        "",
                    ],
                ],
            ),
        ],
        not_measured: vec![
            gap(
                "E.8.1",
                "Flange of a T runner",
                &runners.join(", "),
                "does not apply",
                "asked of tee only; these are insert",
            ),
            gap(
                "E.8.3",
                "Flanges of an angle runner",
                &runners.join(", "),
                "does not apply",
                "asked of angle only; these are insert",
            ),
            gap(
                "C.5.1",
                "Marked runners",
                "boat",
                "does not apply",
                "asked at an event",
            ),
            gap(
                "D.7.3",
                "Thickness of the plank",
                "plank",
                "not measured",
                "covered by certificate HW-0093, as E.2.4 allows",
            ),
            gap("", "Runner S9", "S9", "not covered", "not asked for"),
        ],
        grandfathered: vec![Grandfathered {
            clause: s("E.3.2"),
            item: s("S3"),
            basis: s(
                "Built before 2024, so that an insert of at least 4.50 mm is accepted until 2030-10-31. Proof: builder's invoice 22 of 2021-10, seen by A. B. on 2026-11-20.",
            ),
        }],
        instruments: vec![
            instrument(
                "mic_2",
                "micrometer",
                "M-2207",
                "08:40 5.000 → 5.00 mm",
                "17:20 5.000 → 5.00 mm",
            ),
            instrument(
                "calliper_1",
                "calliper",
                "K-118",
                "08:40 20.00 → 20.00 mm",
                "17:20 20.00 → 20.01 mm",
            ),
            instrument(
                "protractor_1",
                "protractor",
                "W-017",
                "08:40 90.0 → 90.0 deg",
                "17:20 90.0 → 90.1 deg",
            ),
            instrument(
                "tape_1",
                "tape",
                "T-1105",
                "08:40 1000 → 1000 mm",
                "17:20 1000 → 1000 mm",
            ),
        ],
        record: Record {
            name: s("nightjar.yaml"),
            digest: s("0c9b7f1e52d84a6390fe1b27c4d5a8e3716f20b9d8c7a6958473625140fedcba"),
        },
        notes: vec![
            s(
                "S1, steel thickness: a second measurer (C. D., mic_5) read 4.85 mm at 10 mm; both conform.",
            ),
            s("S2, flat: U is larger because one shim was used at both ends."),
        ],
        validity: Validity {
            statement: s(
                "Valid from 2026-11-21 until the class rules named here are replaced by a version that asks more of a covered item.",
            ),
            ends_when: vec![
                s("a covered item is altered, repaired or replaced other than by sharpening;"),
                s("the boat changes its owner;"),
                s("correctors are moved or changed;"),
                s("the authority withdraws it."),
            ],
        },
        cautions: vec![
            s(
                "Guards stay on edges except for the reading. Carry runners in cut-proof gloves. Never test an edge with a finger.",
            ),
            s(
                "Thickness and holes of the ice are for the people on the spot. This paper says nothing about ice, weather, strength or fitness. Never sail alone.",
            ),
        ],
        interest: s("The measurer declares no interest in this boat, its equipment or its owner."),
        signatures: vec![
            signature(
                "Measurer: A. B.",
                "I took or supervised the readings stated here, as the class rules and this paper say.",
            ),
            signature(
                "Owner: receipt",
                "I have received this certificate. This signature is no agreement with it.",
            ),
            signature(
                "Owner: agreement",
                "I agree with what is stated here about my boat, and will have it measured again when an item is altered.",
            ),
        ],
        made_by: s("rimegauge 0.1.0"),
    }
}

/// The certificate for three runners.
pub fn nightjar() -> Certificate {
    with_runners(&["S1", "S2", "F1"])
}

fn item(id: &str, kind: &str, position: &str, marks: &str) -> Item {
    Item {
        id: s(id),
        kind: s(kind),
        position: s(position),
        marks: s(marks),
        not_covered: None,
    }
}

fn gap(clause: &str, title: &str, items: &str, how: &str, why: &str) -> NotMeasured {
    NotMeasured {
        clause: s(clause),
        title: s(title),
        items: s(items),
        how: s(how),
        why: s(why),
    }
}

fn instrument(id: &str, kind: &str, serial: &str, before: &str, after: &str) -> Instrument {
    Instrument {
        id: s(id),
        kind: s(kind),
        serial: s(serial),
        calibrated: s("2026-03-12"),
        due: s("2027-03-12"),
        check_before: s(before),
        check_after: s(after),
    }
}

fn signature(who: &str, sentence: &str) -> Signature {
    Signature {
        who: s(who),
        sentence: s(sentence),
    }
}
