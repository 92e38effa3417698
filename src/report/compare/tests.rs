//! A comparison made by hand, of a shipped version and a changed copy of it, in all formats.

use std::path::Path;

use semver::Version;
use serde_json::json;

use super::{Compared, compare_json, compare_plain, compare_text};
use crate::check::Outcome;
use crate::prove::{
    Answer, Bump, Change, Comparison, Direction, Effect, Witness, claimed_step, wording,
};
use crate::quantity::Date;
use crate::rules::{RulesFile, Stage, load};

const OLD: &str = include_str!("../../../rules/tarn-8/3.1.0.yaml");

pub(in crate::report) fn old() -> RulesFile {
    load("3.1.0.yaml", OLD.as_bytes()).unwrap()
}

/// The next version: a limit is moved, a remedy and two texts have other words, of which one is declared.
pub(in crate::report) fn new() -> RulesFile {
    let mut text = OLD.to_owned();
    for (was, is) in [
        ("version: 3.1.0", "version: 3.2.0"),
        ("replaces: 3.0.0", "replaces: 3.1.0"),
        ("status: adopted", "status: draft"),
        ("in_force_from: 2026-11-01", "in_force_from: 2027-09-01"),
        (
            "insert: { at_least: 4.70 mm }",
            "insert: { at_least: 4.80 mm }",
        ),
        (
            "Round the nose with a file or stone, edge guard on.",
            "Round the nose with a stone, edge guard on.",
        ),
        (
            "The leading edge of the steel shall be rounded, without point or corner.",
            "The leading edge of the steel shall be round.",
        ),
        (
            "The total mass of the correctors shall not exceed 5.0 kg.",
            "Correctors shall not weigh more than 5.0 kg together.",
        ),
    ] {
        assert!(text.contains(was), "{was}");
        text = text.replace(was, is);
    }
    let at = text.find("\nwords:").unwrap_or(text.len());
    text.truncate(at);
    text.push_str(
        "\nwords:\n  - { about: [corrector_mass], effect: none, by: Technical Committee, because: The same in shorter words. }\n",
    );
    load("3.2.0.yaml", text.as_bytes()).unwrap()
}

fn witness() -> Witness {
    Witness {
        fragment: "runners:\n- id: R1\n  construction: insert\n  steel_thickness:\n    with: exact\n    readings: 4.75 mm\n".to_owned(),
        fragment_json: json!({ "runners": [{ "id": "R1", "construction": "insert", "steel_thickness": { "with": "exact", "readings": "4.75 mm" } }] }),
        old_record: "old".to_owned(),
        new_record: "new".to_owned(),
        stage: Stage::SelfCheck,
        level: Some("continental".to_owned()),
        day: Date::constant(2027, 9, 1),
        old_outcome: Outcome::Conforms,
        new_outcome: Outcome::DoesNotConform,
        rules: vec!["steel_thickness".to_owned()],
        why: "4.75 mm is at least 4.70 mm (E.3.2), and less than 4.80 mm (E.3.2 of 3.2.0).".to_owned(),
        flips: Vec::new(),
        cases: "cases".to_owned(),
    }
}

pub(in crate::report) fn comparison(old: &RulesFile, new: &RulesFile) -> Comparison {
    let change = |rule: &str, title: &str, effect| Change {
        rule: rule.to_owned(),
        title: title.to_owned(),
        effect,
        was: None,
        is: None,
        for_whom: Vec::new(),
        says: Vec::new(),
        illegal: None,
        legal: None,
    };
    Comparison {
        old: old.version.clone(),
        new: new.version.clone(),
        becomes_illegal: Direction {
            requirement: Answer::Witness(vec![witness()]),
            evidence: Answer::ProvedNone,
        },
        becomes_legal: Direction {
            requirement: Answer::ProvedNone,
            evidence: Answer::Undecided(vec![
                "the shapes of two profiles could not be told apart.".to_owned(),
            ]),
        },
        changes: vec![
            Change {
                for_whom: vec!["runners: construction insert".to_owned()],
                illegal: Some(witness()),
                says: vec![
                    "proved: boats that are legal under 3.1.0 become illegal by it".to_owned(),
                ],
                ..change(
                    "steel_thickness",
                    "E.3.2 Steel thickness",
                    Effect::Tightened,
                )
            },
            change("plank_crown", "D.7.4 Crown", Effect::Neutral),
            change("nose", "E.3.7 Leading edge", Effect::Neutral),
            Change {
                says: vec![
                    "not known: the shapes of two profiles could not be told apart.".to_owned(),
                ],
                ..change("flat", "E.5.1 Flat", Effect::Undecided)
            },
        ],
        words: wording(old, new),
        required: Bump::Major,
        declared: Bump::between(&old.version, &new.version),
        reach: vec![("runners".to_owned(), 14), ("sails".to_owned(), 5)],
    }
}

/// Holds a text to a file; `RIMEGAUGE_REWRITE=1` writes it as it is now, to be read before it is kept.
pub(in crate::report) fn as_kept(name: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(&path).unwrap_or_default(),
        text,
        "{name}"
    );
}

fn notes() -> Vec<String> {
    vec!["3.2.0 is a draft: it can still change, and nothing is in force by it.".to_owned()]
}

#[test]
fn the_answer_comes_first_and_the_reasons_with_it() {
    let (old, new) = (old(), new());
    let comparison = comparison(&old, &new);
    let notes = notes();
    let compared = Compared {
        old: &old,
        new: &new,
        comparison: &comparison,
        notes: &notes,
    };
    let text = compare_text(&compared, 80);
    as_kept("compare-human.txt", &text);
    as_kept("compare-plain.txt", &compare_plain(&compared));
    as_kept("compare.json", &format!("{:#}\n", compare_json(&compared)));
    for width in [60, 80, 120] {
        for line in compare_text(&compared, width).lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
    }
    // The lines of a record stand as they are, so that they can be copied.
    assert!(
        text.contains(&format!("\n\n{}\n", witness().fragment)),
        "{text}"
    );
    assert!(!text.contains('\u{1b}'));
}

#[test]
fn no_change_is_said_only_where_all_is_proved() {
    let (old, new) = (old(), new());
    let parts = || {
        [
            Answer::ProvedNone,
            Answer::Undecided(vec!["too large.".to_owned()]),
            Answer::Witness(vec![witness()]),
        ]
    };
    let mut said = 0;
    for first in parts() {
        for second in parts() {
            for third in parts() {
                for fourth in parts() {
                    let all = [&first, &second, &third, &fourth];
                    let proved = all.iter().all(|one| matches!(one, Answer::ProvedNone));
                    for silent in [false, true] {
                        let mut comparison = comparison(&old, &new);
                        comparison.changes.clear();
                        comparison.required = Bump::Patch;
                        if !silent {
                            comparison.words.clear();
                        }
                        comparison.becomes_illegal = Direction {
                            requirement: first.clone(),
                            evidence: second.clone(),
                        };
                        comparison.becomes_legal = Direction {
                            requirement: third.clone(),
                            evidence: fourth.clone(),
                        };
                        let compared = Compared {
                            old: &old,
                            new: &new,
                            comparison: &comparison,
                            notes: &[],
                        };
                        for text in [compare_text(&compared, 80), compare_plain(&compared)] {
                            let no_change = text.contains("No change");
                            assert_eq!(no_change, proved && !silent, "{text}");
                            let by_the_data = text.contains("By the data nothing");
                            assert_eq!(by_the_data, proved && silent, "{text}");
                            said += usize::from(no_change);
                        }
                    }
                }
            }
        }
    }
    assert_eq!(said, 2);
}

/// The first sentence for a declared step, a needed one, and whether all is known.
#[test]
fn every_standing_has_its_words() {
    let (old, new) = (old(), new());
    let first = |declared: &str, required: Bump, known: bool| {
        let mut comparison = comparison(&old, &new);
        comparison.required = required;
        comparison.declared = Bump::between(&old.version, &Version::parse(declared).unwrap());
        comparison.words.clear();
        if known {
            comparison.becomes_legal.evidence = Answer::ProvedNone;
        }
        let compared = Compared {
            old: &old,
            new: &new,
            comparison: &comparison,
            notes: &[],
        };
        let json = compare_json(&compared);
        let plain = compare_plain(&compared);
        let line = plain.lines().nth(1).unwrap().to_owned();
        (line, json["standing"].clone(), json["accepted"].clone())
    };
    let cases = [
        (
            "3.1.1",
            Bump::Patch,
            true,
            "Patch is needed, and patch is declared: accepted.",
            "accepted",
        ),
        (
            "3.2.0",
            Bump::Minor,
            true,
            "Minor is needed, and minor is declared: accepted.",
            "accepted",
        ),
        (
            "4.0.0",
            Bump::Major,
            true,
            "Major is needed, and major is declared: accepted.",
            "accepted",
        ),
        (
            "4.0.0",
            Bump::Major,
            false,
            "Major is needed, and major is declared: accepted.",
            "accepted",
        ),
        (
            "4.0.0",
            Bump::Patch,
            true,
            "Patch is needed, and major is declared: accepted. It is more than what is needed.",
            "more_than_needed",
        ),
        (
            "4.0.0",
            Bump::Minor,
            false,
            "Major is declared: accepted. There is no greater step; at least minor is needed, and the rest is not known.",
            "accepted",
        ),
        (
            "3.2.0",
            Bump::Major,
            true,
            "Major is needed, and minor is declared: refused.",
            "refused",
        ),
        (
            "3.1.1",
            Bump::Minor,
            false,
            "At least minor is needed, and patch is declared: refused.",
            "refused",
        ),
        (
            "3.2.0",
            Bump::Minor,
            false,
            "Minor is declared: not confirmed. At least minor is needed, and something is not known.",
            "not_confirmed",
        ),
        (
            "3.1.1",
            Bump::Patch,
            false,
            "Patch is declared: not confirmed. At least patch is needed, and something is not known.",
            "not_confirmed",
        ),
    ];
    for (declared, required, known, line, standing) in cases {
        let accepted = matches!(standing, "accepted" | "more_than_needed");
        let expected = (line.to_owned(), json!(standing), json!(accepted));
        assert_eq!(first(declared, required, known), expected);
    }
}

#[test]
fn words_are_claimed_by_a_name_or_not_known() {
    let (old, new) = (old(), new());
    let words = wording(&old, &new);
    let of: Vec<(&str, bool)> = words
        .iter()
        .map(|one| (one.of.as_str(), one.claim.is_some()))
        .collect();
    assert_eq!(of, [("corrector_mass", true), ("nose", false)]);
    assert_eq!(claimed_step(&words), Bump::Patch);
    // A version beside itself has no changed words.
    assert!(wording(&new, &new).is_empty());
    // What is declared against the version before counts against no other one.
    let mut other = old.clone();
    other.version = Version::new(3, 0, 9);
    assert!(wording(&other, &new).iter().all(|one| one.claim.is_none()));
}
