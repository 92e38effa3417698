//! What a change does to a fleet: the same as whole reports of every boat under each version by itself, added up.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use proptest::prelude::*;
use rimegauge::check::{Context, FoundLimit, ItemRef, Outcome, Plan, Reason, RuleRef};
use rimegauge::fleet::impact::{Asked, BoatAt, Impact, Moves, Pair, Scratch, Stand, Tally};
use rimegauge::fleet::{Days, Piece};
use rimegauge::record::{self, Record};
use rimegauge::rules::{self, BoundKind, RulesFile, Stage};
use rimegauge::text;

use super::briefly::{EQUIPMENT, RULES, bordering_records, levels, policies};
use super::workbench::{Policy, cases, day, rules_text};

/// Changes of the small class: what is replaced, by what. Of equal texts all are replaced.
pub const CHANGES: &[(&str, &str, &str)] = &[
    ("nothing", "", ""),
    (
        "a limit",
        "plate: { at_least: 4.70 mm",
        "plate: { at_least: 4.72 mm",
    ),
    (
        "a limit of an exemption",
        "at_least: 4.50 mm",
        "at_least: 4.60 mm",
    ),
    (
        "two limits",
        "at_least: 71.0 mm, at_most: 125.0 mm",
        "at_least: 71.01 mm, at_most: 124.9 mm",
    ),
    (
        "which place",
        "value: thick, judged: worst_place, zone: middle",
        "value: thick, judged: mean, zone: middle",
    ),
    (
        "a rule less",
        "  - { id: twice, clause: B.4, title: T, text: T, applies_to: runner, value: height + height, at_least: 142.0 mm }\n",
        "",
    ),
    (
        "a rule more",
        "  - { id: height,",
        "  - { id: low, clause: B.0, title: T, text: T, applies_to: runner, value: body, at_most: 125.0 mm }\n  - { id: height,",
    ),
    (
        "a limit that is met by more",
        "if: height > 71.0 mm, because",
        "if: height > 70.0 mm, because",
    ),
    (
        "a condition that reaches more",
        "when: height > 71.0 mm, value: body",
        "when: height > 70.0 mm, value: body",
    ),
    (
        "a bound that lies outside",
        "value: body, at_most: 125.0 mm",
        "value: body, less_than: 125.0 mm",
    ),
    (
        "another answer",
        "value: nose, equals: yes",
        "value: nose, equals: no",
    ),
    (
        "another choice",
        "value: starboard.construction, equals: insert",
        "value: starboard.construction, equals: plate",
    ),
    (
        "a row less",
        "      insert: { more_than: 4.70 mm, less_than: 6.00 mm }\n",
        "",
    ),
    (
        "a count",
        "value: count(runners where height > 71.0 mm), at_least: 1",
        "value: count(runners where height > 71.0 mm), at_least: 2",
    ),
    ("marks", "at_most: 3, pairs", "at_most: 2, pairs"),
    ("the doubt", "guard_factor: ", "guard_factor: 0.5 # "),
    (
        "a zone",
        "between: -200 mm to 200 mm",
        "between: -150 mm to 200 mm",
    ),
    (
        "a sum",
        "sum(height over runners), at_most: 142.0 mm",
        "sum(height over runners), at_most: 143.0 mm",
    ),
    (
        "words alone",
        "title: T, text: T, applies_to: boat",
        "title: U, text: U, applies_to: boat",
    ),
];

fn loaded(text: &str) -> Arc<RulesFile> {
    let found = rules::load("small.yaml", text.as_bytes());
    Arc::new(found.unwrap_or_else(|found| panic!("{found:?}")))
}

pub fn changed(policy: Policy, change: usize) -> (Arc<RulesFile>, Arc<RulesFile>) {
    let old = rules_text(policy, EQUIPMENT.trim_matches('\n'), RULES);
    let (name, from, to) = CHANGES[change];
    assert!(from.is_empty() || old.contains(from), "{name}");
    let new = if from.is_empty() {
        old.clone()
    } else {
        old.replace(from, to)
    };
    (
        loaded(&old),
        loaded(&new.replace("version: 1.0.0", "version: 2.0.0")),
    )
}

fn counted(
    old: &Arc<RulesFile>,
    new: &Arc<RulesFile>,
    asked: &Asked,
    text: &str,
) -> (Impact, (Stand, Stand)) {
    let pair = Pair::new(old, new, asked.clone());
    let source = text::decode("record.yaml", text.as_bytes()).unwrap();
    let boat = pair.read(&source, &Piece::Document).unwrap();
    let mut tally = Tally::default();
    let at = BoatAt { file: 0, line: 1 };
    let stands = pair.look(&boat, &at, &mut Scratch::default(), &mut tally);
    tally.boat(stands);
    (tally.impact(&pair, &["record.yaml".to_owned()]), stands)
}

fn read(rules: &RulesFile, text: &str) -> Record {
    let source = text::decode("record.yaml", text.as_bytes()).unwrap();
    let node = text::parse_yaml(&source).unwrap();
    record::load(&source, &node, &rules.vocabulary).unwrap()
}

/// A limit that a value is compared with: which bound, and where.
type Limit = (BoundKind, String);

/// By item, and by item and rule, where everything stands; the limits that rules compare items with, and those that items
/// are near to.
#[derive(Default)]
struct Plainly {
    items: BTreeMap<usize, Stand>,
    rules: BTreeMap<(usize, String), Stand>,
    never: BTreeSet<(usize, String)>,
    limits: BTreeMap<(usize, String), Vec<Limit>>,
    near: BTreeMap<(usize, String), Vec<Limit>>,
}

impl Plainly {
    /// Items that a rule finds near a limit with which the other version does not compare them by this rule.
    fn near_new(&self, before: &Plainly) -> BTreeSet<(usize, String)> {
        let near = self.near.iter();
        let new = near.filter(|(place, limits)| {
            let before = before.limits.get(*place);
            let known = |limit: &Limit| before.is_some_and(|list| list.contains(limit));
            !limits.iter().all(known)
        });
        new.map(|(place, _)| place.clone()).collect()
    }
}

fn plainly(rules: &Arc<RulesFile>, asked: &Asked, text: &str) -> Plainly {
    let record = read(rules, text);
    let level = asked
        .level
        .as_deref()
        .and_then(|word| rules.vocabulary.event_level_named(word));
    let context = Context {
        purpose: asked.purpose,
        day: asked.days.on.unwrap(),
        level,
    };
    let verdict = Plan::compile(Arc::clone(rules)).check(&record, &context);
    let mut found = Plainly::default();
    for item in 0..record.items.len() {
        found.items.insert(item, Stand::Conforms);
    }
    for finding in &verdict.findings {
        let item = match finding.item {
            ItemRef::Item(at) => at,
            ItemRef::Holding(_) => 0,
        };
        let rule = match finding.rule {
            RuleRef::Rule(at) => rules.rules[at].id.text.clone(),
            RuleRef::Marks(at, _) | RuleRef::Pairs(at) | RuleRef::Bring(at, _) => {
                rules.marks[at].id.text.clone()
            }
            RuleRef::Equipment(_) | RuleRef::Role(..) => "equipment".to_owned(),
            RuleRef::Silence(_) | RuleRef::Unlisted(_) => "silence".to_owned(),
        };
        let stand = Stand::of(finding.outcome);
        let own = found.items.get_mut(&item).unwrap();
        *own = (*own).min(stand);
        let own = found.rules.entry((item, rule.clone())).or_insert(stand);
        *own = (*own).min(stand);
        if finding.outcome == Outcome::NotDecided && finding.reason == Some(Reason::NotMeasured) {
            found.never.insert((item, rule.clone()));
        }
        let Some(FoundLimit::Bound { kind, value, .. }) = &finding.limit else {
            continue;
        };
        if finding.outcome == Outcome::NotApplicable {
            continue;
        }
        let limit = (*kind, format!("{value:?}"));
        let place = (item, rule);
        found
            .limits
            .entry(place.clone())
            .or_default()
            .push(limit.clone());
        let near = match (&finding.margin, finding.expanded) {
            (Some(margin), Some(expanded)) => {
                expanded.U > 0.0 && margin.to_f64().abs() <= expanded.U
            }
            _ => false,
        };
        if near && finding.reason != Some(Reason::NotMeasured) {
            found.near.entry(place).or_default().push(limit);
        }
    }
    found
}

pub fn asked(purpose: Stage, level: Option<&str>) -> Asked {
    Asked {
        purpose,
        days: Days {
            on: Some(day("2026-11-21")),
            not_before: None,
        },
        level: level.map(str::to_owned),
        neutral: Vec::new(),
    }
}

fn added(was: &BTreeMap<usize, Stand>, is: &BTreeMap<usize, Stand>) -> Moves {
    let mut moves = Moves::default();
    for (item, stand) in was {
        moves.add(*stand, is[item]);
    }
    moves
}

proptest! {
    #![proptest_config(cases(250))]

    #[test]
    fn a_fleet_comes_to_what_reports_of_its_boats_come_to(
        tree in bordering_records(), policy in policies(), change in 0..CHANGES.len(), level in levels(),
        purpose in prop::sample::select(Stage::ALL.to_vec()),
    ) {
        let (old, new) = changed(policy, change);
        let asked = asked(purpose, level);
        let text = tree.to_file();
        let (impact, stands) = counted(&old, &new, &asked, &text);
        let (was, is) = (plainly(&old, &asked, &text), plainly(&new, &asked, &text));
        prop_assert_eq!(impact.items, added(&was.items, &is.items));
        let near = is.near_new(&was);
        let worst = |all: &BTreeMap<usize, Stand>| all.values().copied().min().unwrap();
        prop_assert_eq!(stands, (worst(&was.items), worst(&is.items)));
        for rule in &impact.rules {
            let mut moves = Moves::default();
            let stand = |all: &Plainly, item: usize| all.rules.get(&(item, rule.rule.clone())).copied();
            for item in was.items.keys() {
                let (before, now) = (stand(&was, *item), stand(&is, *item));
                if before.is_some() || now.is_some() {
                    moves.add(before.unwrap_or(Stand::Conforms), now.unwrap_or(Stand::Conforms));
                }
            }
            prop_assert_eq!(rule.moves, moves, "{}", rule.rule);
            let of_rule = |all: &BTreeSet<(usize, String)>| {
                all.iter().filter(|(_, id)| *id == rule.rule).count() as u64
            };
            // What is not met whatever else is measured is no gap of the sample.
            let open = |place: &&(usize, String)| is.rules[*place] == Stand::NotDecided;
            let never = is.never.iter().filter(open).cloned().collect();
            prop_assert_eq!(rule.never_measured, of_rule(&never), "{}", rule.rule);
            prop_assert_eq!(rule.within_uncertainty, of_rule(&near), "{}", rule.rule);
            // Whoever is hit by a rule is told with a reason, whatever kind of rule it is; nobody else is.
            let illegal = rule.moves.count(Stand::Conforms, Stand::DoesNotConform)
                + rule.moves.count(Stand::NotDecided, Stand::DoesNotConform);
            let worst = rule.limits.iter().map(|limit| limit.worst.len()).sum::<usize>();
            prop_assert_eq!(illegal > 0, worst + rule.others.len() > 0, "{}", rule.rule);
            for case in &rule.others {
                prop_assert_eq!(case.finding.outcome, Outcome::DoesNotConform);
            }
            let counted_apart = |reason: &Reason| matches!(reason, Reason::NearLimit | Reason::NotMeasured);
            let others = rule.open.iter().any(|(reason, _)| !counted_apart(reason));
            let opened = rule.moves.count(Stand::Conforms, Stand::NotDecided);
            prop_assert!(rule.opened.is_empty() || (opened > 0 && others), "{}", rule.rule);
            for case in &rule.opened {
                prop_assert!(case.finding.reason.is_some());
            }
        }
        let near: BTreeSet<usize> = near.iter().map(|(item, _)| *item).collect();
        prop_assert_eq!(impact.within_uncertainty, near.len() as u64);
        // What moved is told by some rule.
        let told: u64 = impact.rules.iter().map(|rule| rule.moves.moved()).sum();
        prop_assert!(impact.items.moved() == 0 || told > 0);
    }

    #[test]
    fn a_version_against_itself_moves_nothing(tree in bordering_records(), policy in policies()) {
        let (old, new) = changed(policy, 0);
        let (impact, _) = counted(&old, &new, &asked(Stage::Certification, None), &tree.to_file());
        prop_assert_eq!(impact.items.moved(), 0);
        prop_assert_eq!(impact.boats.moved(), 0);
        prop_assert!(impact.rules.is_empty());
    }

    #[test]
    fn swapping_the_versions_swaps_the_moves(
        tree in bordering_records(), policy in policies(), change in 0..CHANGES.len(),
    ) {
        let (old, new) = changed(policy, change);
        let asked = asked(Stage::Certification, None);
        let (there, _) = counted(&old, &new, &asked, &tree.to_file());
        let (back, _) = counted(&new, &old, &asked, &tree.to_file());
        for from in Stand::ALL {
            for to in Stand::ALL {
                prop_assert_eq!(there.items.count(from, to), back.items.count(to, from));
            }
        }
    }
}

/// Names that changed: each version reads records that were written for the other one.
#[test]
fn records_of_either_vocabulary_are_read_for_both_versions() {
    let policy = super::workbench::SHIPPED;
    let plain = "height: { kind: length, plausible: 20 mm to 200 mm }";
    let known = "height: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.1 mm } } }";
    assert!(EQUIPMENT.contains(plain));
    let equipment = EQUIPMENT.replace(plain, known);
    let old_text = rules_text(policy, equipment.trim_matches('\n'), RULES);
    let new_text = old_text
        .replace("version: 1.0.0", "version: 2.0.0")
        .replace("\nequipment:", "\nrenamed: { runner.height: pivot_height, runner.construction.tee: t_section }\nequipment:")
        .replace("height", "pivot_height")
        .replace("runner.pivot_height: pivot_pivot_height", "runner.height: pivot_height")
        .replace("[plate, insert, tee]", "[plate, insert, t_section, angle]")
        .replace("value: pivot_height, at_least: 71.0 mm, at_most", "value: pivot_height, at_least: 72.0 mm, at_most")
        .replace("      nose: {", "      tail: { kind: length }\n      nose: {");
    let (old, new) = (loaded(&old_text), loaded(&new_text));
    let asked = asked(Stage::SelfCheck, None);
    let record = |height: &str, kind: &str, more: &str| {
        format!(
            "format: rimegauge-record/1\nclass: tarn-8\nboat: {{ sail_number: T8 41 }}\nmeasured: {{ day: 2026-11-21, by: AB }}\n\
             runners:\n  - {{ id: R0, construction: {kind}, {height}: 71.5 mm{more} }}\n"
        )
    };
    for (height, kind, more) in [
        ("height", "tee", ""),
        ("pivot_height", "t_section", ""),
        ("pivot_height", "angle", ", tail: 30 mm"),
    ] {
        let text = record(height, kind, more);
        let (impact, _) = counted(&old, &new, &asked, &text);
        let rule = impact
            .rules
            .iter()
            .find(|rule| rule.rule.ends_with("height") && rule.clause == "B.1")
            .unwrap();
        assert_eq!(rule.moves.newly_illegal(), 1, "{text}");
    }
}

/// Limits that go by zone have rows of their own: a value is told at the row of its worst place.
#[test]
fn values_at_limits_by_zone_are_told_by_zone() {
    let policy = super::workbench::always("guarded_acceptance");
    let rule = |middle: &str| {
        format!(
            "\nrules:\n  - {{ id: zoned, clause: A.1, title: T, text: T, applies_to: runner, value: thick, judged: worst_place, places: {{ at_least: 2 }}, by: zone, limits: {{ middle: {{ at_least: {middle} }}, elsewhere: {{ at_least: 4.00 mm }} }} }}\nmarks: []\n"
        )
    };
    let text = |middle| rules_text(policy, EQUIPMENT.trim_matches('\n'), &rule(middle));
    let old = loaded(&text("4.70 mm"));
    let new = loaded(&text("4.80 mm").replace("version: 1.0.0", "version: 2.0.0"));
    let record = "format: rimegauge-record/1\nclass: tarn-8\nboat: { sail_number: T8 41 }\nmeasured: { day: 2026-11-21 }\nplank: { length: 900 mm }\nrunners:\n  - { id: A, construction: plate, toe_at: 400 mm, heel_at: -400 mm, thick: { places: [ { at: 0 mm, from_edge: 20 mm, readings: 4.72 4.72 mm }, { at: 300 mm, from_edge: 20 mm, readings: 4.90 4.90 mm } ] } }\n  - { id: B, construction: plate, toe_at: 400 mm, heel_at: -400 mm, thick: { places: [ { at: 0 mm, from_edge: 20 mm, readings: 4.95 4.95 mm }, { at: 300 mm, from_edge: 20 mm, readings: 4.10 4.10 mm } ] } }\n";
    let (impact, _) = counted(&old, &new, &asked(Stage::SelfCheck, None), record);
    let rule = impact.rules.iter().find(|one| one.rule == "zoned").unwrap();
    let limits: Vec<(Option<&str>, u64)> = rule
        .limits
        .iter()
        .map(|one| (one.row_name.as_deref(), one.margins.total()))
        .collect();
    assert_eq!(limits, [(Some("middle"), 1), (Some("elsewhere"), 1)]);
    assert!(rule.limits[0].old != rule.limits[0].new);
    assert_eq!(
        rule.limits[0].worst.len(),
        1,
        "4.72 mm falls short of 4.80 mm"
    );
    assert_eq!(rule.limits[1].old, rule.limits[1].new);
}
