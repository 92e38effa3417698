//! A limit that moves: whatever it is moved to, items stand as a check by rules with that limit written says.

use std::sync::Arc;

use proptest::prelude::*;
use rimegauge::check::{Concern, Context, ItemRef, Outcome, Plan, Reason, RuleRef};
use rimegauge::fleet::vary::{
    Asked, Base, Column, MovedLimit, Question, Stands, VaryTally, limits_of, steps, varied,
};
use rimegauge::fleet::{Days, Piece};
use rimegauge::quantity::{Exact, show};
use rimegauge::record::{self, Record};
use rimegauge::rules::{self, RulesFile, Stage};
use rimegauge::text;

use super::briefly::{EQUIPMENT, RULES, bordering_records, levels, policies};
use super::workbench::{always, cases, day, rules_text};

fn loaded(text: &str) -> Option<Arc<RulesFile>> {
    rules::load("small.yaml", text.as_bytes())
        .ok()
        .map(Arc::new)
}

/// The same rules with another limit written in place of one; nothing where it can't be written in decimals, or where
/// the loader takes no such limit.
fn with_limit(rules: &RulesFile, limit: &MovedLimit, value: &Exact) -> Option<Arc<RulesFile>> {
    let (number, exact) = show::number(value, limit.unit, None);
    if !exact {
        return None;
    }
    let text = rules.source.text();
    let range = limit.span.range();
    assert_eq!(
        &text[range.clone()],
        limit.written,
        "the limit alone is replaced"
    );
    let written = show::with_unit(&number, limit.unit);
    loaded(&format!(
        "{}{written}{}",
        &text[..range.start],
        &text[range.end..]
    ))
}

fn read(rules: &RulesFile, text: &str) -> Record {
    let source = text::decode("record.yaml", text.as_bytes()).unwrap();
    let node = text::parse_yaml(&source).unwrap();
    record::load(&source, &node, &rules.vocabulary).unwrap()
}

fn every_limit(rules: &Arc<RulesFile>) -> Vec<MovedLimit> {
    let all = (0..rules.rules.len()).flat_map(|at| limits_of(rules, at));
    all.filter(|limit| limit.present.is_some()).collect()
}

/// The worst a check finds of a rule on an item.
fn checked(
    rules: &Arc<RulesFile>,
    text: &str,
    context: &Context,
    (rule, item): (usize, usize),
) -> Option<(Outcome, Option<Reason>)> {
    let record = read(rules, text);
    let verdict = Plan::compile(Arc::clone(rules)).check(&record, context);
    let own = verdict.findings.iter().filter(|finding| {
        finding.rule == RuleRef::Rule(rule) && finding.item == ItemRef::Item(item)
    });
    own.min_by_key(|finding| finding.outcome)
        .map(|finding| (finding.outcome, finding.reason))
}

fn alike(stands: Stands, outcome: Outcome) -> bool {
    match (stands, outcome) {
        (Stands::DoesNotConform, Outcome::DoesNotConform) => true,
        (Stands::Unmeasured | Stands::Open | Stands::InDoubt, Outcome::NotDecided) => true,
        (Stands::Conforms, Outcome::Conforms | Outcome::NotApplicable) => true,
        (
            Stands::DoesNotConform
            | Stands::Unmeasured
            | Stands::Open
            | Stands::InDoubt
            | Stands::Conforms,
            _,
        ) => false,
    }
}

/// Compares an item with checks at limits around every place where it turns; gives how many checks there were.
fn compare(
    rules: &Arc<RulesFile>,
    text: &str,
    context: &Context,
    limit: &MovedLimit,
    more: &[Exact],
) -> Result<usize, TestCaseError> {
    let record = read(rules, text);
    let plan = Plan::compile(Arc::clone(rules));
    let mut moving = plan.moving(&record, context, &limit.at).unwrap();
    let lower = limit.kind.is_lower();
    let mut seen = 0;
    for item in moving.items() {
        if moving.concern(item) != Concern::Met {
            continue;
        }
        let Some(turns) = moving.turns(item) else {
            continue;
        };
        let column = Column::of(&turns);
        let hair = Exact::power_of_ten(-6).mul(&limit.unit.factor());
        let mut limits = more.to_vec();
        for turn in column.conforms.iter().chain(&column.bearable) {
            limits.extend([turn.at.clone(), turn.at.add(&hair), turn.at.sub(&hair)]);
        }
        for value in limits {
            let Some(changed) = with_limit(rules, limit, &value) else {
                continue;
            };
            let (outcome, reason) =
                checked(&changed, text, context, (limit.at.rule, item)).unwrap();
            let stands = column.stands(&value, lower);
            prop_assert!(
                alike(stands, outcome),
                "{} {:?} {} at {value}: {stands:?} against {outcome:?} ({reason:?}); {column:?}\n{text}",
                limit.rule,
                limit.row,
                limit.kind.word(),
            );
            prop_assert_eq!(
                stands == Stands::Unmeasured,
                outcome == Outcome::NotDecided && column.base == Base::Unmeasured
            );
            seen += 1;
        }
    }
    Ok(seen)
}

proptest! {
    #![proptest_config(cases(300))]

    #[test]
    fn a_limit_that_moves_is_a_limit_that_is_written(
        tree in bordering_records(), policy in policies(), which in any::<prop::sample::Index>(), level in levels(),
        purpose in prop::sample::select(Stage::ALL.to_vec()), by in -20_i64..=20,
    ) {
        let rules = loaded(&rules_text(policy, EQUIPMENT.trim_matches('\n'), RULES)).unwrap();
        let all = every_limit(&rules);
        let limit = which.get(&all);
        let text = tree.to_file();
        let context = Context {
            purpose,
            day: day("2026-11-21"),
            level: level.and_then(|word| rules.vocabulary.event_level_named(word)),
        };
        let present = limit.present.clone().unwrap();
        let step = Exact::power_of_ten(-2).mul(&limit.unit.factor()).mul(&Exact::from_integer(by));
        compare(&rules, &text, &context, limit, &[present.clone(), present.add(&step)])?;
    }
}

/// A small class with a limit of every kind that a property test would meet too seldom.
fn rules_of(decision: &'static str, rule: &str) -> Arc<RulesFile> {
    let text = rules_text(
        always(decision),
        EQUIPMENT.trim_matches('\n'),
        &format!("\nrules:\n{rule}\nmarks: []\n"),
    );
    loaded(&text).unwrap_or_else(|| {
        panic!(
            "{:?}",
            rules::load("small.yaml", text.as_bytes()).unwrap_err()
        )
    })
}

const BOAT: &str = "format: rimegauge-record/1
class: tarn-8
boat: { sail_number: T8 41 }
measured: { day: 2026-11-21 }
plank: { length: 900 mm }
runners:
  - { id: A, construction: plate, height: 71.0 mm, toe_at: 400 mm, heel_at: -400 mm, thick: { places: [ { at: 0 mm, from_edge: 20 mm, readings: 4.72 4.72 mm }, { at: 100 mm, from_edge: 20 mm, readings: 4.80 4.80 mm } ] } }
  - { id: B, construction: plate, toe_at: 400 mm, heel_at: -400 mm, thick: { places: [ { at: 0 mm, from_edge: 20 mm, readings: 4.76 4.76 mm }, { at: 100 mm, from_edge: 20 mm, readings: 4.90 4.90 mm } ] } }
  - { id: C, construction: insert, height: 80 mm }
";

fn counted(rules: &Arc<RulesFile>, limit: &MovedLimit, from: &str, to: &str) -> VaryTally {
    let value = |text: &str| rimegauge::quantity::Quantity::parse(text).unwrap().value;
    let limits = steps(&value(from), &value(to), 4);
    let asked = Asked {
        purpose: Stage::SelfCheck,
        days: Days {
            on: Some(day("2026-11-21")),
            not_before: None,
        },
        level: None,
    };
    let question = Question::new(rules, limit.clone(), limits, asked);
    let source = text::decode("record.yaml", BOAT.as_bytes()).unwrap();
    let boat = question.read(&source, &Piece::Document).unwrap();
    let mut tally = VaryTally::default();
    question.look(&boat, &mut tally);
    tally
}

#[test]
fn a_boat_turns_with_the_first_of_its_items() {
    let rules = rules_of(
        "simple_acceptance",
        "  - { id: high, clause: A.1, title: T, text: T, applies_to: runner, value: height, at_least: 71.0 mm }",
    );
    let limit = &limits_of(&rules, 0)[0];
    let tally = counted(&rules, limit, "70 mm", "82 mm");
    let value = |text: &str| rimegauge::quantity::Quantity::parse(text).unwrap().value;
    let found = varied(
        limit.clone(),
        &[value("70 mm"), value("75 mm"), value("82 mm")],
        None,
        tally,
    );
    let point = |at: &str| found.point(&value(at)).unwrap().clone();
    assert_eq!((found.items, found.boats), (3, 1));
    let count = |at: &str| {
        let items = point(at).items;
        (items.conforms, items.does_not_conform, items.never_measured)
    };
    assert_eq!(count("70 mm"), (2, 0, 1));
    assert_eq!(count("75 mm"), (1, 1, 1));
    assert_eq!(count("82 mm"), (0, 2, 1));
    // B was never measured: the boat is never told as conforming.
    assert_eq!(point("70 mm").boats.never_measured, 1);
    assert_eq!(point("75 mm").boats.does_not_conform, 1);
    let turns = found.turns.unwrap();
    let at: Vec<(Exact, bool)> = turns
        .iter()
        .map(|turn| (turn.turn.at.clone(), turn.turn.itself))
        .collect();
    assert_eq!(at, [(value("71 mm"), true), (value("80 mm"), true)]);
    assert_eq!(turns[0].items_beyond.conforms, 1);
    assert_eq!(turns[1].items_beyond.does_not_conform, 2);
    assert_eq!(turns[0].boats_beyond.does_not_conform, 1);
}

#[test]
fn rounded_values_turn_at_multiples_of_the_step() {
    let rules = rules_of(
        "simple_acceptance",
        "  - { id: high, clause: A.1, title: T, text: T, applies_to: runner, value: height, rounded_to: 2 mm, at_least: 70 mm }",
    );
    let limit = &limits_of(&rules, 0)[0];
    let record = read(&rules, BOAT);
    let context = Context {
        purpose: Stage::SelfCheck,
        day: day("2026-11-21"),
        level: None,
    };
    let plan = Plan::compile(Arc::clone(&rules));
    let mut moving = plan.moving(&record, &context, &limit.at).unwrap();
    // 71.0 mm lies between 70 and 72, and goes to the one that is an even multiple of 2 mm: 72.
    let runner = moving.items()[0];
    let turns = moving.turns(runner).unwrap();
    assert_eq!(turns.conforms.unwrap().at, Exact::from_integer(72));
    for height in [66, 68, 70, 72, 74, 76] {
        let value = Exact::from_integer(height);
        let changed = with_limit(&rules, limit, &value).unwrap();
        let (outcome, _) = checked(&changed, BOAT, &context, (0, runner)).unwrap();
        assert_eq!(outcome == Outcome::Conforms, height <= 72, "{height}");
    }
    assert!(
        moving.look(runner, &Exact::from_integer(71)).is_none(),
        "no multiple of the step"
    );
}

#[test]
fn of_many_places_the_first_to_turn_counts_with_its_own_uncertainty() {
    let rules = rules_of(
        "guarded_acceptance",
        "  - { id: thin, clause: A.1, title: T, text: T, applies_to: runner, value: thick, judged: worst_place, places: { at_least: 2 }, by: construction, limits: { plate: { at_least: 4.70 mm }, insert: { at_least: 4.00 mm } } }",
    );
    let all = limits_of(&rules, 0);
    let plate = all
        .iter()
        .find(|one| one.row.as_deref() == Some("plate"))
        .unwrap();
    let tally = counted(&rules, plate, "4.50 mm", "5.00 mm");
    assert_eq!(tally.other_row, 1, "the insert runner meets another row");
    assert_eq!(tally.items.total(), 2);
    let seen = compare(
        &rules,
        BOAT,
        &Context {
            purpose: Stage::SelfCheck,
            day: day("2026-11-21"),
            level: None,
        },
        plate,
        &[],
    )
    .unwrap();
    assert!(seen >= 12, "{seen}");
}

#[test]
fn limits_by_zone_move_too() {
    let rules = rules_of(
        "guarded_acceptance",
        "  - { id: zoned, clause: A.1, title: T, text: T, applies_to: runner, value: thick, judged: worst_place, places: { at_least: 2 }, by: zone, limits: { middle: { at_least: 4.70 mm }, elsewhere: { at_least: 4.00 mm } } }",
    );
    let all = limits_of(&rules, 0);
    let names: Vec<Option<&str>> = all.iter().map(|one| one.row.as_deref()).collect();
    assert_eq!(names, [Some("middle"), Some("elsewhere")]);
    let context = Context {
        purpose: Stage::SelfCheck,
        day: day("2026-11-21"),
        level: None,
    };
    let seen = compare(&rules, BOAT, &context, &all[0], &[Exact::from_integer(4)]).unwrap();
    assert!(seen >= 8, "{seen}");
}
