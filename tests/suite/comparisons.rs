//! The versions that are shipped, each compared with the one before: everything is decided, and what is shown holds.

use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::prove::witness::replay;
use rimegauge::prove::{
    Answer, Between, Bump, Comparison, Progress, Side, Standing, Witness, compare, compare_telling,
};
use rimegauge::rules::RulesFile;

fn shipped(path: &str) -> Arc<RulesFile> {
    let at = format!("{}/rules/{path}.yaml", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(&at).unwrap();
    let loaded = rimegauge::rules::load(path, &bytes);
    Arc::new(loaded.map_err(|faults| format!("{faults:?}")).unwrap())
}

/// Compares two versions; nothing of either part is left open, and every boat is checked once more.
fn decided(old: &str, new: &str) -> Comparison {
    let (was, is) = (shipped(old), shipped(new));
    let found = compare(&was, &is);
    let plans = [Plan::compile(was), Plan::compile(is)];
    let directions = [&found.becomes_illegal, &found.becomes_legal];
    for answer in directions
        .iter()
        .flat_map(|one| [&one.requirement, &one.evidence])
    {
        match answer {
            Answer::ProvedNone => {}
            Answer::Undecided(why) => panic!("{old} to {new}: {why:?}"),
            Answer::Witness(list) => {
                assert!(!list.is_empty());
                list.iter().for_each(|witness| holds(witness, &plans));
            }
        }
    }
    assert!(
        found.words.iter().all(|one| one.claim.is_some()),
        "{:?}",
        found.words
    );
    found
}

fn holds(witness: &Witness, plans: &[Plan; 2]) {
    for side in Side::BOTH {
        let (plan, record, outcome) = match side {
            Side::Old => (&plans[0], &witness.old_record, witness.old_outcome),
            Side::New => (&plans[1], &witness.new_record, witness.new_outcome),
        };
        let vocabulary = &plan.rules().vocabulary;
        let level = witness.level.as_deref();
        let level = level.and_then(|level| vocabulary.event_level_named(level));
        let found = replay(record, plan, (witness.stage, level, witness.day)).unwrap();
        assert_eq!(found.outcome, outcome, "{}", witness.why);
    }
    assert_ne!(witness.old_outcome, witness.new_outcome, "{}", witness.why);
    assert!(!witness.fragment.is_empty() && !witness.rules.is_empty());
}

#[test]
fn the_third_version_of_the_tarn_8_needs_a_major_step() {
    let found = decided("tarn-8/2.4.0", "tarn-8/3.0.0");
    assert_eq!(
        (found.required, found.standing()),
        (Bump::Major, Standing::Accepted)
    );
}

#[test]
fn what_says_that_nothing_is_tighter_is_proved() {
    let found = decided("tarn-8/3.0.0", "tarn-8/3.1.0");
    assert_eq!(found.becomes_illegal.word(), "proved_none");
    assert_eq!(
        (found.required, found.standing()),
        (Bump::Minor, Standing::Accepted)
    );
}

#[test]
fn the_fourth_version_of_the_tarn_8_needs_a_major_step() {
    let found = decided("tarn-8/3.1.0", "tarn-8/4.0.0");
    assert_eq!(
        (found.required, found.standing()),
        (Bump::Major, Standing::Accepted)
    );
}

/// Whoever waits hears of every question, then of every difference of what evidence is asked.
#[test]
fn how_far_a_comparison_is_is_told() {
    let versions = ["1", "2"].map(|repeats| {
        let asks = format!("at_least: 6 mm, places: {{ at_least: 1, repeats: {repeats} }}");
        let rules = rule("thick", &asks)
            .replace("value: thickness", "judged: worst_place, value: thickness");
        let text = thickness_alone(&rules).replace(
            "thickness: length",
            "thickness: { kind: length, placed: yes }",
        );
        let loaded = rimegauge::rules::load("rules.yaml", text.as_bytes());
        Arc::new(loaded.map_err(|faults| format!("{faults:?}")).unwrap())
    });
    let mut heard = Vec::new();
    compare_telling(&versions[0], &versions[1], &mut |progress| {
        heard.push(progress)
    });
    let evidence = |one: &&Progress| matches!(one, Progress::Evidence { .. });
    assert!(heard.iter().filter(evidence).count() > 0, "{heard:?}");
    let mut before = 0;
    let mut asked = true;
    for one in heard {
        match one {
            Progress::Asked { done, all } => {
                assert!(asked && done == before + 1 && done <= all);
                before = done;
            }
            Progress::Evidence { done, all } => {
                before = if asked { 0 } else { before + 1 };
                asked = false;
                assert!(done == before && done < all);
            }
        }
    }
}

#[test]
fn the_second_version_of_the_ghyll_2_needs_a_major_step() {
    let found = decided("ghyll-2/1.0.0", "ghyll-2/2.0.0");
    assert_eq!(
        (found.required, found.standing()),
        (Bump::Major, Standing::Accepted)
    );
}

/// A class with some rules on the thickness of runners, and no others.
fn thickness_alone(rules: &str) -> String {
    format!(
        "format: rimegauge-rules/1
class: tarn-8
title: Tarn 8, thickness alone
version: 1.0.0
status: draft
in_force_from: 2026-11-01
authority: Tarn 8 Class Association, Technical Committee
silence: forbids
decision: {{ coverage_probability: 95 %, self_check: simple_acceptance, certification: simple_acceptance, event_inspection: simple_acceptance }}
equipment:
  boat:
    parts: {{ runners: {{ many: runner, at_least: 1 }} }}
  runner:
    traits: {{ construction: [plate, tee], built: {{ date: proven }} }}
    measures: {{ thickness: length }}
rules:
{rules}"
    )
}

/// What lint says between some rules on the thickness of runners.
fn between(rules: &str) -> Vec<Between> {
    let text = thickness_alone(rules);
    let loaded = rimegauge::rules::load("rules.yaml", text.as_bytes());
    let rules = loaded.map_err(|faults| format!("{faults:?}")).unwrap();
    rimegauge::prove::between(&Arc::new(rules))
}

fn rule(id: &str, rest: &str) -> String {
    format!(
        "  - {{ id: {id}, clause: {id}, title: A, text: A., applies_to: runner, value: thickness, {rest} }}\n"
    )
}

#[test]
fn rules_that_meet_are_told_with_both_places() {
    let ids = |list: &[(String, rimegauge::text::Span)]| -> Vec<String> {
        list.iter().map(|(id, _)| id.clone()).collect()
    };
    let thick = rule("thick", "at_least: 6 mm");
    match &between(&(thick.clone() + &rule("thin", "at_most: 5 mm")))[..] {
        // Without a runner a boat would be legal, but there has to be one.
        [Between::NoLegalBoat { rules }] => {
            assert_eq!(ids(rules), ["equipment", "thick", "thin"]);
        }
        other => panic!("{other:?}"),
    }
    match &between(&(thick.clone() + &rule("thin", "at_most: 6 mm")))[..] {
        [] => {}
        other => panic!("{other:?}"),
    }
    let of_tees = rule("thin", "when: construction is tee, at_most: 5 mm");
    match &between(&(thick.clone() + &of_tees))[..] {
        [Between::NoneOfAKind { choice, rules, .. }] => {
            assert_eq!(
                (choice.as_str(), ids(rules)),
                ("tee", vec!["thick".to_owned(), "thin".to_owned()])
            );
        }
        other => panic!("{other:?}"),
    }
    match &between(&(thick.clone() + &rule("any", "more_than: 5.9 mm")))[..] {
        [Between::Implied { rule, by }] => assert_eq!(
            (rule.0.as_str(), ids(by)),
            ("any", vec!["thick".to_owned()])
        ),
        other => panic!("{other:?}"),
    }
    let looser =
        "at_least: 6 mm, instead: [ { if: built < 2010-01-01, because: old, at_least: 5 mm } ]";
    assert_eq!(between(&rule("thick", looser)), []);
    let tighter = looser.replace("5 mm", "7 mm");
    match &between(&rule("thick", &tighter))[..] {
        [Between::ExemptsNobody { rule, by, .. }] => {
            assert_eq!((rule.0.as_str(), by.len()), ("thick", 0))
        }
        other => panic!("{other:?}"),
    }
    let left = rule("thick", looser) + &rule("new", "when: built < 2010-01-01, at_least: 6.5 mm");
    match &between(&left)[..] {
        [Between::ExemptsNobody { by, .. }] => assert_eq!(ids(by), ["new"]),
        other => panic!("{other:?}"),
    }
}
