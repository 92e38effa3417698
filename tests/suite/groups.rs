//! Groups of parts: roles filled from the parts, rules by role, counts and sums over groups.

use proptest::prelude::*;
use rimegauge::check::{ItemRef, Outcome, Reason, RuleRef};
use rimegauge::rules::Stage;

use super::workbench::{Bench, Policy, SHIPPED, cases, rules_text, told};

const EQUIPMENT: &str = "  boat:
    parts: { plank: { one: plank }, runners: { many: runner } }
    groups: { sets: { at_least: 1, roles: { port: runner, starboard: runner, steering: runner } } }
  plank:
    measures: { length: length }
  runner:
    traits:
      construction: [plate, insert]
      marked: { flag: intended }
    measures:
      pivot_height: length
      depth: { kind: length, placed: yes }
      toe_at: position
      heel_at: position
    derived:
      steel_length: toe_at - heel_at";

const RULES: &str = "\
rules:
  - { id: matched, clause: D.1, applies_to: sets, value: abs(port.pivot_height - starboard.pivot_height), at_most: 0.8 mm }
  - { id: alike, clause: D.2, applies_to: sets, value: count(sets where port.construction is starboard.construction), at_least: 1 }
  - { id: plate_lower, clause: D.3, applies_to: sets, when: port.construction is starboard.construction and port.construction is plate, value: steering.pivot_height, at_most: 90 mm, instead: [ { if: steering.construction is insert, because: inserts stand lower, at_most: 80 mm } ] }
  - { id: depths, clause: D.4, applies_to: sets, value: highest(port.depth) - lowest(starboard.depth), at_most: 3 mm }
  - { id: longest, clause: D.5, applies_to: sets, value: port.steel_length, at_most: 0.3 * plank.length }
  - { id: all_heights, clause: D.6, applies_to: boat, value: sum(port.pivot_height + starboard.pivot_height over sets), at_most: 500 mm }";

fn bench() -> Bench {
    Bench::new(&rules_text(SHIPPED, EQUIPMENT, RULES))
}

/// A runner of which all is known, read without error.
fn runner(id: &str, construction: &str, height: &str, depth: &str) -> String {
    format!(
        "  - {{ id: {id}, construction: {construction}, pivot_height: {{ with: exact, readings: {height} mm }}, depth: {{ with: exact, places: [ {{ at: 0 mm, readings: {depth} mm }}, {{ at: 50 mm, readings: {depth} mm }} ] }}, toe_at: {{ with: exact, readings: 400 mm }}, heel_at: {{ with: exact, readings: -400 mm }} }}\n"
    )
}

const PLANK: &str = "plank: { length: { with: exact, readings: 2.95 m } }\n";

fn record(port: &str, starboard: &str, sets: &str) -> String {
    format!(
        "{PLANK}sets:\n{sets}runners:\n{}{}{}",
        runner("S1", "plate", port, "70"),
        runner("S2", "plate", starboard, "71"),
        runner("F1", "plate", "88", "70"),
    )
}

const SET: &str = "  - { id: hard_ice, port: S1, starboard: S2, steering: F1 }\n";

#[test]
fn a_rule_by_role_is_decided_at_its_border() {
    let bench = bench();
    for (starboard, outcome) in [
        ("92.8", Outcome::Conforms),
        ("92.81", Outcome::DoesNotConform),
        ("91.2", Outcome::Conforms),
        ("91.1", Outcome::DoesNotConform),
    ] {
        let record = record("92.0", starboard, SET);
        for stage in Stage::ALL {
            assert_eq!(bench.ask(&record, stage, "matched"), (outcome, None));
        }
    }
}

#[test]
fn conditions_counts_sums_and_other_parts_are_reached_from_a_group() {
    let bench = bench();
    let good = record("92.0", "92.0", SET);
    let all = ["alike", "plate_lower", "depths", "longest", "all_heights"];
    for rule in all {
        let asked = bench.ask(&good, Stage::Certification, rule);
        assert_eq!(asked, (Outcome::Conforms, None), "{rule}");
    }
    let insert = good.replace(
        "id: F1, construction: plate",
        "id: F1, construction: insert",
    );
    let asked = bench.ask(&insert, Stage::Certification, "plate_lower");
    assert_eq!(asked, (Outcome::DoesNotConform, None));
    let other = good.replace(
        "id: S2, construction: plate",
        "id: S2, construction: insert",
    );
    let asked = bench.ask(&other, Stage::Certification, "plate_lower");
    assert_eq!(asked, (Outcome::NotApplicable, Some(Reason::Condition)));
    assert_eq!(
        bench.ask(&other, Stage::Certification, "alike"),
        (Outcome::DoesNotConform, None)
    );
    let short = good.replace("2.95 m", "2.65 m");
    assert_eq!(
        bench.ask(&short, Stage::Certification, "longest"),
        (Outcome::DoesNotConform, None)
    );
    let two = record(
        "92.0",
        "92.0",
        &format!("{SET}{}", SET.replace("hard_ice", "soft")),
    );
    assert_eq!(
        bench.ask(&good, Stage::Certification, "all_heights"),
        (Outcome::Conforms, None)
    );
    assert_eq!(
        bench.ask(
            &two.replace("92.0 mm", "125.1 mm"),
            Stage::Certification,
            "all_heights"
        ),
        (Outcome::DoesNotConform, None)
    );
}

#[test]
fn a_runner_serves_in_several_sets_and_each_set_is_judged() {
    let bench = bench();
    let sets = format!("{SET}  - {{ id: soft, port: S2, starboard: F1, steering: S1 }}\n");
    let record = bench.record(&record("92.0", "92.0", &sets));
    let verdict = bench.check(&record, Stage::Certification);
    let matched = bench.of_rule(&verdict, "matched");
    let outcomes: Vec<Outcome> = matched.iter().map(|one| one.outcome).collect();
    assert_eq!(outcomes, [Outcome::Conforms, Outcome::DoesNotConform]);
    // Groups come behind the parts, wherever they stand in the record.
    assert_eq!(
        matched.iter().map(|one| one.item).collect::<Vec<_>>(),
        [ItemRef::Item(5), ItemRef::Item(6)]
    );
}

#[test]
fn a_finding_points_at_both_runners() {
    let bench = bench();
    let record = bench.record(&record("92.0", "95.5", SET));
    let verdict = bench.check(&record, Stage::Certification);
    let [finding] = bench.of_rule(&verdict, "matched")[..] else {
        panic!("one finding");
    };
    let text = |span| record.source.slice(span);
    assert!(text(finding.source_at).contains("92.0 mm"), "{finding:?}");
    let also: Vec<&str> = finding.also_at.iter().map(|span| text(*span)).collect();
    let line = |span: rimegauge::text::Span| record.source.line_index(span.start);
    let own = line(finding.source_at);
    assert!(also.len() < 3 && finding.also_at.iter().any(|span| line(*span) == own + 1));
}

#[test]
fn an_open_role_and_a_missing_set_are_not_decided() {
    let bench = bench();
    let open = record(
        "92.0",
        "92.0",
        "  - { id: hard_ice, port: S1, steering: F1 }\n",
    );
    for stage in Stage::ALL {
        let asked = bench.ask(&open, stage, "equipment");
        assert_eq!(asked, (Outcome::NotDecided, Some(Reason::NotMeasured)));
        let asked = bench.ask(&open, stage, "matched");
        assert_eq!(asked, (Outcome::NotDecided, Some(Reason::NotMeasured)));
    }
    let loaded = bench.record(&open);
    let verdict = bench.check(&loaded, Stage::SelfCheck);
    let [role] = bench.of_rule(&verdict, "equipment")[..] else {
        panic!("one role is open");
    };
    assert!(matches!(role.rule, RuleRef::Role(..)));
    let none = record("92.0", "92.0", "").replace("sets:\n", "");
    let asked = bench.ask(&none, Stage::SelfCheck, "equipment");
    assert_eq!(asked, (Outcome::NotDecided, Some(Reason::NotMeasured)));
}

proptest! {
    #![proptest_config(cases(40))]

    #[test]
    fn swapping_sides_and_renaming_sets_change_no_outcome(
        heights in proptest::array::uniform2(9150_i32..9350),
        choices in proptest::array::uniform2(prop_oneof![Just("plate"), Just("insert")]),
        guarded in prop::bool::ANY,
    ) {
        let policy = Policy {
            decisions: if guarded { SHIPPED.decisions } else { ["simple_acceptance"; 3] },
            ..SHIPPED
        };
        // The rules that do not tell the sides apart.
        let symmetric: Vec<&str> = RULES
            .lines()
            .filter(|line| !line.contains("depths") && !line.contains("longest"))
            .collect();
        let bench = Bench::new(&rules_text(policy, EQUIPMENT, &symmetric.join("\n")));
        let [port, starboard] = heights.map(|height| format!("{}.{:02}", height / 100, height % 100));
        let text = record(&port, &starboard, SET)
            .replace("id: S1, construction: plate", &format!("id: S1, construction: {}", choices[0]))
            .replace("id: S2, construction: plate", &format!("id: S2, construction: {}", choices[1]))
            .replace("pivot_height: { with: exact, readings:", "pivot_height: { readings:");
        let swapped = text.replace("port: S1, starboard: S2", "port: S2, starboard: S1");
        let renamed = text.replace("hard_ice", "smooth");
        prop_assert_ne!(&swapped, &text);
        for stage in Stage::ALL {
            let outcomes = |text: &str| {
                let record = bench.record(text);
                let verdict = bench.check(&record, stage);
                let all = told(&bench, &record, &verdict).into_iter();
                all.map(|((rule, item, side), one)| {
                    (rule, item.replace("smooth", "hard_ice"), side, one.outcome, one.reason, one.by_purpose)
                })
                .collect::<Vec<_>>()
            };
            prop_assert_eq!(outcomes(&text), outcomes(&swapped));
            prop_assert_eq!(outcomes(&text), outcomes(&renamed));
            let record = bench.record(&text);
            let (full, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
            prop_assert_eq!(full.findings.len(), brief.findings.len());
            for (full, brief) in full.findings.iter().zip(&brief.findings) {
                prop_assert_eq!(
                    (full.rule, full.item, full.side, full.outcome, full.reason),
                    (brief.rule, brief.item, brief.side, brief.outcome, brief.reason)
                );
            }
        }
    }
}

// ---- marks

const MARKS: &str = "\
rules:
  - { id: height, clause: D.1, applies_to: runner, value: pivot_height, at_least: 10 mm }
marks:
  - { id: marked, clause: E.1, title: Marked runners, item: runner, at_most: 9, pairs: { where: position is side, alike: [construction, steel] }, bring: { sets: 1, runners: 3 }, exchange: before_closing, after_last_mark: final, replacement: needs_permission, mark_on: steel }";

fn marks() -> Bench {
    let equipment = EQUIPMENT.replace("at_least: 1, ", "").replace(
        "      construction:",
        "      position: [side, steering]\n      steel: [soft, hard]\n      construction:",
    );
    Bench::new(&rules_text(SHIPPED, &equipment, MARKS))
}

/// Marked runners, each by position, construction and steel; a dash leaves one out.
fn marked(runners: &[&str]) -> String {
    let mut text = "runners:\n".to_owned();
    for (number, words) in runners.iter().enumerate() {
        text.push_str(&format!("  - {{ id: R{number}, marked: yes"));
        let keys = ["position", "construction", "steel"];
        for (key, word) in keys.into_iter().zip(words.split(' ')) {
            if word != "-" {
                text.push_str(&format!(", {key}: {word}"));
            }
        }
        text.push_str(" }\n");
    }
    text
}

fn pairs(runners: &[&str]) -> (Outcome, Option<Reason>, String) {
    let bench = marks();
    let record = bench.record(&marked(runners));
    let verdict = bench.check(&record, Stage::SelfCheck);
    let mut found = verdict.findings.iter();
    let found = found
        .find(|one| matches!(one.rule, RuleRef::Pairs(_)))
        .unwrap();
    let value = format!("{:?}", found.value.as_ref().unwrap());
    for stage in Stage::ALL {
        assert_eq!(*found.by_purpose.at(stage), Some(found.outcome));
    }
    (found.outcome, found.reason, value)
}

#[test]
fn marked_side_runners_come_in_pairs_of_a_kind() {
    let plate = "side plate soft";
    for (runners, outcome, reason, alone) in [
        (
            &["steering plate soft"][..],
            Outcome::Conforms,
            None,
            "0, possible: 0",
        ),
        (&[plate, plate], Outcome::Conforms, None, "0, possible: 0"),
        (&[plate], Outcome::DoesNotConform, None, "1, possible: 1"),
        (
            &[plate, "side plate hard"],
            Outcome::DoesNotConform,
            None,
            "2, possible: 2",
        ),
        (
            &[plate, "side insert soft", plate, "side insert soft"],
            Outcome::Conforms,
            None,
            "0, possible: 0",
        ),
        (
            &[plate, plate, plate, "side insert soft"],
            Outcome::DoesNotConform,
            None,
            "2, possible: 2",
        ),
        // What is not known of a kind may fit, and an odd number never does.
        (
            &[plate, "side plate -"],
            Outcome::NotDecided,
            Some(Reason::TraitMissing),
            "0, possible: 2",
        ),
        (
            &[plate, plate, "side plate -"],
            Outcome::DoesNotConform,
            None,
            "1, possible: 1",
        ),
        (
            &["side - soft", "side plate -"],
            Outcome::NotDecided,
            Some(Reason::TraitMissing),
            "0, possible: 2",
        ),
        (
            &[plate, "side insert soft", "side plate hard", "side - soft"],
            Outcome::DoesNotConform,
            None,
            "2, possible: 4",
        ),
        // One that may not be a side runner at all.
        (
            &[plate, plate, "- plate soft"],
            Outcome::NotDecided,
            Some(Reason::ConditionUnknown),
            "0, possible: 1",
        ),
        (
            &[plate, "- plate soft"],
            Outcome::NotDecided,
            Some(Reason::ConditionUnknown),
            "0, possible: 2",
        ),
        // Two that are none of the listed kinds can be of two kinds.
        (
            &["side other soft", "side other soft"],
            Outcome::NotDecided,
            Some(Reason::ConditionUnknown),
            "0, possible: 2",
        ),
    ] {
        let (found, why, value) = pairs(runners);
        assert_eq!((found, why), (outcome, reason), "{runners:?}");
        assert!(value.contains(alone), "{runners:?}: {value}");
    }
}

#[test]
fn a_boat_brings_complete_sets_to_inspection() {
    let bench = marks();
    let three = marked(&["side plate soft", "side plate soft", "steering plate soft"]);
    let asked = |text: &str, stage: Stage| {
        let record = bench.record(text);
        let verdict = bench.check(&record, stage);
        let found = verdict.findings.iter();
        found
            .filter(|one| matches!(one.rule, RuleRef::Bring(..)))
            .map(|one| (one.outcome, one.reason))
            .collect::<Vec<_>>()
    };
    let whole = format!("{three}sets: [ {{ id: a, port: R0, starboard: R1, steering: R2 }} ]\n");
    let open = format!("{three}sets: [ {{ id: a, port: R0, starboard: R1 }} ]\n");
    let good = (Outcome::Conforms, None);
    let bad = (Outcome::DoesNotConform, None);
    assert_eq!(asked(&whole, Stage::EventInspection), [good, good]);
    // A set with a role open can still be completed; one that is not there is not brought.
    let waits = (Outcome::NotDecided, Some(Reason::NotMeasured));
    assert_eq!(asked(&open, Stage::EventInspection), [waits, good]);
    assert_eq!(asked(&three, Stage::EventInspection), [bad, good]);
    assert_eq!(asked("notes: nothing", Stage::EventInspection), [bad, bad]);
    for stage in [Stage::SelfCheck, Stage::Certification] {
        assert!(asked(&whole, stage).is_empty());
    }
}

#[test]
fn what_may_be_done_with_a_mark_is_data() {
    use rimegauge::rules::{AfterLastMark, Exchange, Replacement};
    let bench = marks();
    let mark = &bench.plan.rules().marks[0];
    assert_eq!(mark.exchange, Some(Exchange::BeforeClosing));
    assert_eq!(mark.after_last_mark, Some(AfterLastMark::Final));
    assert_eq!(mark.replacement, Some(Replacement::NeedsPermission));
    assert_eq!(mark.mark_on.as_ref().unwrap().text, "steel");
    let words: Vec<&str> = mark
        .bring
        .iter()
        .map(|one| {
            let holding = bench.plan.rules().vocabulary.holding(one.holding).unwrap();
            holding.key.text.as_str()
        })
        .collect();
    assert_eq!(words, ["sets", "runners"]);
}

/// Every way to settle what is in doubt, tried out: a failure is certain only where none of them pairs.
#[test]
fn a_failure_of_pairs_is_certain() {
    let all = [
        "side plate soft",
        "side insert soft",
        "side plate -",
        "- plate soft",
        "steering - -",
    ];
    let kinds = |words: &str| -> Vec<Option<String>> {
        let [position, construction, steel] = words.split(' ').collect::<Vec<_>>()[..] else {
            panic!("three words");
        };
        let either = |word: &str, all: [&str; 2]| match word {
            "-" => all.map(str::to_owned).to_vec(),
            word => vec![word.to_owned()],
        };
        let mut found = Vec::new();
        if position != "side" {
            found.push(None);
        }
        if position != "steering" {
            for construction in either(construction, ["plate", "insert"]) {
                for steel in either(steel, ["soft", "hard"]) {
                    found.push(Some(format!("{construction} {steel}")));
                }
            }
        }
        found
    };
    let mut seen = std::collections::BTreeSet::new();
    for number in 0..all.len().pow(4) {
        let runners: Vec<&str> = (0..4_u32)
            .map(|place| all[number / all.len().pow(place) % all.len()])
            .collect();
        let mut worlds: Vec<Vec<String>> = vec![Vec::new()];
        for runner in &runners {
            let with = |world: &Vec<String>, kind: Option<String>| {
                world.iter().cloned().chain(kind).collect::<Vec<_>>()
            };
            worlds = worlds
                .iter()
                .flat_map(|world| kinds(runner).into_iter().map(|kind| with(world, kind)))
                .collect();
        }
        let paired = |world: &Vec<String>| {
            let same = |kind: &String| world.iter().filter(|other| *other == kind).count();
            world.iter().all(|kind| same(kind) % 2 == 0)
        };
        let (some, every) = (worlds.iter().any(paired), worlds.iter().all(paired));
        // Sorted runners come to the same: asked once.
        let mut sorted = runners.clone();
        sorted.sort_unstable();
        if sorted != runners {
            continue;
        }
        let (outcome, ..) = pairs(&runners);
        seen.insert(outcome);
        match outcome {
            Outcome::Conforms => assert!(every, "{runners:?}"),
            Outcome::DoesNotConform => assert!(!some, "{runners:?}"),
            Outcome::NotDecided => assert!(!every, "{runners:?}"),
            Outcome::NotApplicable => panic!("{runners:?}"),
        }
    }
    assert_eq!(seen.len(), 3);
}
