//! Nothing missing is ever a pass: what is taken out of a record leaves doubts, and no new conformity.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rimegauge::check::{Finding, Outcome, Reason, RuleRef};
use rimegauge::expression::{Op, Scope};
use rimegauge::record::{Content, Found, Record, Series, TraitValue, With};
use rimegauge::rules::{RulesFile, Stage};
use rimegauge::vocabulary::{MeasureId, PartId};

use super::shipped;
use super::small::{records, small};
use super::workbench::{Bench, EACH, Policy, SHIPPED, cases, item_name, rules_text, worst_by_item};

use Outcome::{Conforms, DoesNotConform, NotApplicable, NotDecided};

type Worst = BTreeMap<(String, String), Outcome>;

fn asked(bench: &Bench, record: &Record, stage: Stage) -> Worst {
    worst_by_item(bench, record, &bench.check(record, stage))
}

/// The law: a rule that was not met, or open, is neither met nor no longer asked. What `silence` says of
/// a declared `other` goes with the declaration.
fn no_pass(before: &Worst, after: &Worst, what: &str) -> Result<(), TestCaseError> {
    for (name, outcome) in before {
        if name.0.starts_with("silence") || !matches!(outcome, DoesNotConform | NotDecided) {
            continue;
        }
        let after = after.get(name);
        prop_assert!(
            matches!(after, Some(DoesNotConform | NotDecided)),
            "{}: {:?} was {:?} and is {:?}",
            what,
            name,
            outcome,
            after
        );
    }
    Ok(())
}

/// Whether a rule's own value needs a measure of its item, or of the boat or a single part.
fn needs(rules: &RulesFile, at: usize, part: PartId, slot: MeasureId) -> bool {
    fn in_node(
        rules: &RulesFile,
        node: &rimegauge::expression::Node,
        own: PartId,
        part: PartId,
        slot: MeasureId,
    ) -> bool {
        let of = |scope: Scope| scope.part(own, &rules.vocabulary);
        match &node.op {
            Op::Measure(scope, id) => *id == slot && of(*scope) == Some(part),
            Op::Derived(scope, id) => of(*scope).is_some_and(|owner| {
                let inner = rules.derived_value(owner, *id).unwrap();
                in_node(rules, &inner.root, owner, part, slot)
            }),
            // What is counted or added up can be none of the item's.
            Op::Count { .. } | Op::Sum { .. } => false,
            _ => node
                .children()
                .into_iter()
                .any(|one| in_node(rules, one, own, part, slot)),
        }
    }
    let rule = &rules.rules[at];
    in_node(rules, &rule.value.root, rule.applies_to, part, slot)
}

/// Every record that lacks one measure, each with the item and the slot it lacks.
fn without_a_measure(record: &Record) -> Vec<(usize, MeasureId, Record)> {
    let mut found = Vec::new();
    for (at, item) in record.items.iter().enumerate() {
        for slot in 0..item.measures.len() {
            if item.measures[slot].is_some() {
                let mut lesser = record.clone();
                lesser.items[at].measures[slot] = None;
                found.push((at, MeasureId(u16::try_from(slot).unwrap()), lesser));
            }
        }
    }
    found
}

fn losing_measures(bench: &Bench, record: &Record) -> Result<(), TestCaseError> {
    let rules = bench.plan.rules();
    for stage in Stage::ALL {
        let before = asked(bench, record, stage);
        for (at, slot, lesser) in without_a_measure(record) {
            let part = record.items[at].part;
            let name = &rules.vocabulary.part(part).unwrap().measures[slot.index()]
                .name
                .text;
            let what = format!("{} without {name}", item_name(bench, record, at));
            let verdict = bench.check(&lesser, stage);
            no_pass(&before, &worst_by_item(bench, &lesser, &verdict), &what)?;
            // A rule whose value lost its measure is never met.
            for finding in &verdict.findings {
                let (RuleRef::Rule(rule), rimegauge::check::ItemRef::Item(on)) =
                    (finding.rule, finding.item)
                else {
                    continue;
                };
                let own = record.items[on].part;
                if (on == at || record.items[at].holding.is_none() || own != part)
                    && needs(rules, rule, part, slot)
                {
                    prop_assert!(finding.outcome != Conforms, "{}: {:?}", what, finding);
                }
            }
        }
    }
    Ok(())
}

fn losing_traits(bench: &Bench, record: &Record) -> Result<(), TestCaseError> {
    let whole = Stage::ALL.map(|stage| asked(bench, record, stage));
    for (at, item) in record.items.iter().enumerate() {
        for (slot, claim) in item.traits.iter().enumerate() {
            // Not to say that an item is meant for a mark is to say that it is not.
            let Some(claim) = claim
                .as_ref()
                .filter(|claim| !matches!(claim.value, TraitValue::Flag(_)))
            else {
                continue;
            };
            let mut lesser = record.clone();
            lesser.items[at].traits[slot] = None;
            let what = format!("{} without {claim:?}", item_name(bench, record, at));
            for (before, stage) in whole.iter().zip(Stage::ALL) {
                no_pass(before, &asked(bench, &lesser, stage), &what)?;
            }
            // A date keeps less when its proof is gone, or was seen by nobody.
            if let TraitValue::Date(date) = &claim.value {
                let mut claims = vec![date.clone(), date.clone()];
                claims[0].seen = None;
                claims[1].seen = None;
                claims[1].proof = None;
                for lesser_claim in claims {
                    let mut lesser = record.clone();
                    let place = lesser.items[at].traits[slot].as_mut().unwrap();
                    place.value = TraitValue::Date(lesser_claim);
                    for (before, stage) in whole.iter().zip(Stage::ALL) {
                        no_pass(before, &asked(bench, &lesser, stage), &what)?;
                    }
                }
            }
        }
    }
    Ok(())
}

/// Holdings that a rule counts or adds up.
fn is_counted(
    rules: &RulesFile,
    finding: &Finding,
    holding: Option<rimegauge::vocabulary::HoldingId>,
) -> bool {
    let RuleRef::Rule(at) = finding.rule else {
        return true;
    };
    let rule = &rules.rules[at];
    let mut found = false;
    let mut look = |one: &rimegauge::expression::Expression| {
        one.root.visit(one.own, &rules.vocabulary, &mut |_, node| {
            found |= match &node.op {
                Op::Count { over, .. } | Op::Sum { over, .. } => Some(*over) == holding,
                Op::Measure(Scope::One(id), _)
                | Op::Trait(Scope::One(id), _)
                | Op::Derived(Scope::One(id), _) => Some(*id) == holding,
                _ => false,
            };
        });
    };
    look(&rule.value);
    rule.when.as_ref().map(&mut look);
    rule.instead.iter().for_each(|row| look(&row.condition));
    for row in rimegauge::rules::rows(&rule.limits, &rule.instead) {
        if let rimegauge::rules::Demand::Bounds(bounds) = &row.demand {
            bounds.iter().for_each(|bound| look(&bound.limit));
        }
    }
    found
}

fn losing_items(bench: &Bench, record: &Record) -> Result<(), TestCaseError> {
    let rules = bench.plan.rules();
    let whole = Stage::ALL.map(|stage| bench.check(record, stage));
    for at in 1..record.items.len() {
        let mut lesser = record.clone();
        let gone = lesser.items.remove(at);
        let name = item_name(bench, record, at);
        for (stage, before) in Stage::ALL.into_iter().zip(&whole) {
            let after = bench.check(&lesser, stage);
            let left = worst_by_item(bench, &lesser, &after);
            let worst = worst_by_item(bench, record, before);
            for finding in &before.findings {
                let (rule, item, _) = super::workbench::key_of(bench, record, finding);
                if item == name || is_counted(rules, finding, gone.holding) {
                    continue;
                }
                let key = (rule, item);
                prop_assert_eq!(
                    left.get(&key),
                    worst.get(&key),
                    "{:?} without {}",
                    key,
                    name
                );
            }
            // Fewer parts than must be there is not decided, whatever the others are.
            let holding = rules.vocabulary.holding(gone.holding.unwrap()).unwrap();
            let count = lesser
                .items
                .iter()
                .filter(|item| item.holding == gone.holding)
                .count();
            if count < holding.at_least as usize {
                prop_assert_eq!(
                    left.get(&("equipment".to_owned(), holding.key.text.clone())),
                    Some(&NotDecided)
                );
                prop_assert!(after.outcome != Conforms);
            }
        }
    }
    Ok(())
}

/// Every record that lacks one reading, place or series, or what names its instrument, time or person.
fn lesser_evidence(record: &Record) -> Vec<(String, Record)> {
    let mut found = Vec::new();
    for (at, item) in record.items.iter().enumerate() {
        for (slot, measured) in item.measures.iter().enumerate() {
            let mut change = |what: &str, change: &dyn Fn(&mut Found)| {
                let mut lesser = record.clone();
                change(&mut lesser.items[at].measures[slot].as_mut().unwrap().found);
                found.push((format!("item {at}, measure {slot}: {what}"), lesser));
            };
            match measured.as_ref().map(|measured| &measured.found) {
                Some(Found::Series(series)) => {
                    for number in 0..series.len() {
                        let of = move |found: &mut Found, change: &dyn Fn(&mut Series)| {
                            if let Found::Series(series) = found {
                                change(&mut series[number]);
                            }
                        };
                        // An instrument that is not named has the largest uncertainty of its measure.
                        change("no instrument", &move |found| {
                            of(found, &|one| one.with = With::Unnamed)
                        });
                    }
                    if series.len() > 1 {
                        change("no first series", &|found| {
                            if let Found::Series(series) = found {
                                series.retain(|one| one.second);
                            }
                        });
                    }
                }
                Some(Found::Answer(_)) => {
                    change("nobody looked", &|found| {
                        if let Found::Answer(answer) = found {
                            answer.by = None;
                        }
                    });
                }
                Some(Found::First(_)) => {
                    change("no paper", &|found| {
                        if let Found::First(first) = found {
                            first.paper = None;
                        }
                    });
                }
                None => {}
            }
        }
    }
    let mut nobody = record.clone();
    nobody.measured.by = None;
    found.push(("nobody measured".to_owned(), nobody));
    let mut undated = record.clone();
    undated.measured.day = None;
    found.push(("on no day".to_owned(), undated));
    for (number, instrument) in record.instruments.iter().enumerate() {
        for check in 0..instrument.checks.len() {
            let mut lesser = record.clone();
            // With no check at all an instrument is not checked in the field; that is another way to measure.
            if lesser.instruments[number].checks.len() > 1 {
                std::sync::Arc::make_mut(&mut lesser.instruments)[number]
                    .checks
                    .remove(check);
                if instrument.checks[check].is_good() {
                    found.push((format!("{} without a good check", instrument.key), lesser));
                }
            }
        }
    }
    found
}

fn losing_evidence(bench: &Bench, record: &Record) -> Result<(), TestCaseError> {
    for stage in Stage::ALL {
        let before = asked(bench, record, stage);
        for (what, lesser) in lesser_evidence(record) {
            // At home a reading without an instrument has the uncertainty of its kind, and a named instrument can
            // be worse than that; elsewhere it is no evidence.
            if what.ends_with("no instrument") && stage == Stage::SelfCheck {
                continue;
            }
            no_pass(&before, &asked(bench, &lesser, stage), &what)?;
        }
    }
    Ok(())
}

fn policies() -> impl Strategy<Value = Policy> {
    // Under guarded rejection the doubt is the owner's, and less evidence makes more of it.
    let guarded = Policy {
        decisions: [
            "guarded_acceptance",
            "simple_acceptance",
            "guarded_acceptance",
        ],
        ..EACH
    };
    let open = Policy {
        silence: "permits",
        ..guarded
    };
    prop::sample::select(vec![guarded, open])
}

proptest! {
    #![proptest_config(cases(24))]

    #[test]
    fn a_lost_measure_is_no_pass(tree in records(), policy in policies()) {
        let bench = small(policy).at_level("club");
        losing_measures(&bench, &bench.record(&tree.to_file()))?;
    }

    #[test]
    fn a_lost_declaration_is_no_pass(tree in records(), policy in policies()) {
        let bench = small(policy).at_level("club");
        losing_traits(&bench, &bench.record(&tree.to_file()))?;
    }

    #[test]
    fn a_lost_item_changes_nothing_of_the_others(tree in records(), policy in policies()) {
        let bench = small(policy).at_level("club");
        losing_items(&bench, &bench.record(&tree.to_file()))?;
    }

    #[test]
    fn lesser_evidence_is_no_pass(tree in records(), policy in policies()) {
        let bench = small(policy).at_level("club");
        losing_evidence(&bench, &bench.record(&tree.to_file()))?;
    }
}

#[test]
fn nothing_lost_from_the_filled_forms_is_a_pass() {
    let bench = shipped::tarn_8().at_level("regional");
    for (name, form) in shipped::forms() {
        if name != "borderline.yaml" {
            continue;
        }
        let record = bench.record(&form);
        let told = |found: TestCaseError| panic!("{name}: {found}");
        losing_measures(&bench, &record).unwrap_or_else(told);
        losing_traits(&bench, &record).unwrap_or_else(told);
        losing_items(&bench, &record).unwrap_or_else(told);
    }
}

/// The places of the filled forms are as many as the rules ask for, and the readings of each as well: with one
/// less no rule that asks for them conforms.
#[test]
fn one_place_or_reading_less_than_asked_never_conforms() {
    let bench = shipped::tarn_8().at_level("regional");
    let rules = bench.plan.rules();
    let mut tried = 0;
    for (name, form) in shipped::forms() {
        if name != "conforming.yaml" {
            continue;
        }
        let record = bench.record(&form);
        for rule in rules.rules.iter().filter(|rule| rule.places.is_some()) {
            let before = bench.check(&record, Stage::SelfCheck);
            for finding in bench.of_rule(&before, &rule.id.text) {
                let (Some((counted, asked)), rimegauge::check::ItemRef::Item(at)) =
                    (finding.places, finding.item)
                else {
                    continue;
                };
                if counted != asked {
                    continue;
                }
                for slot in 0..record.items[at].measures.len() {
                    let measure = MeasureId(u16::try_from(slot).unwrap());
                    let index = rules
                        .rules
                        .iter()
                        .position(|one| one.id == rule.id)
                        .unwrap();
                    if !needs(rules, index, record.items[at].part, measure) {
                        continue;
                    }
                    for gone in 0..counted as usize {
                        let mut lesser = record.clone();
                        let Some(Found::Series(series)) = lesser.items[at].measures[slot]
                            .as_mut()
                            .map(|one| &mut one.found)
                        else {
                            continue;
                        };
                        // Places left out by zone are not among those asked for; take one that counts.
                        series.truncate(1);
                        match &mut series[0].content {
                            Content::Places(places) if gone < places.len() => {
                                places.remove(gone);
                            }
                            Content::Sections(places) if gone < places.len() => {
                                places.remove(gone);
                            }
                            _ => continue,
                        }
                        let after = bench.check(&lesser, Stage::SelfCheck);
                        for other in bench.of_rule(&after, &rule.id.text) {
                            if other.item == finding.item
                                && other.places.is_some_and(|(counted, asked)| counted < asked)
                            {
                                assert_ne!(other.outcome, Conforms, "{name}: {other:?}");
                                tried += 1;
                            }
                        }
                    }
                }
            }
        }
    }
    assert!(tried > 100, "only {tried} places were taken away");
}

#[test]
fn one_reading_less_than_asked_never_conforms() {
    let rules = "rules:\n  - { id: thick, clause: A.1, title: T, text: T, applies_to: bar, value: width, judged: worst_place, places: { at_least: 2, repeats: 3 }, at_least: 4.70 mm }";
    let equipment = "  boat: { parts: { bars: { many: bar } } }\n  bar: { measures: { width: { kind: length, placed: yes } } }";
    let bench = Bench::new(&rules_text(SHIPPED, equipment, rules));
    let ask = |first: &str| {
        let text = format!(
            "bar: {{ width: {{ with: exact, places: [ {{ at: 0 mm, readings: {first} }}, {{ at: 5 mm, readings: 5 5 5 mm }} ] }} }}"
        );
        bench.ask(&text, Stage::Certification, "thick")
    };
    assert_eq!(ask("4.70 4.70 4.70 mm"), (Conforms, None));
    assert_eq!(
        ask("4.70 4.70 mm"),
        (NotDecided, Some(Reason::TooFewRepeats))
    );
    assert_eq!(ask("9 mm"), (NotDecided, Some(Reason::TooFewRepeats)));
    // What is proven bad is so with however few readings.
    assert_eq!(ask("4.69 mm"), (DoesNotConform, None));
    // A void reading is none.
    let voided = "4.70 9.70 4.70 mm, void: { reading: 2, because: a slip, by: AB }";
    assert_eq!(ask(voided), (NotDecided, Some(Reason::TooFewRepeats)));
}

#[test]
fn a_record_with_nothing_applicable_is_not_decided() {
    let equipment = "  boat: { parts: { bars: { many: bar } } }\n  bar: { traits: { material: [wood, steel], built: { date: proven } }, measures: { width: length } }";
    let nothing = |rules: &str, text: &str| {
        let bench = Bench::new(&rules_text(SHIPPED, equipment, rules));
        for stage in Stage::ALL {
            let verdict = bench.check(&bench.record(text), stage);
            assert_eq!(
                (verdict.outcome, verdict.reason),
                (NotDecided, Some(Reason::NothingChecked)),
                "{text}"
            );
            assert!(
                verdict
                    .findings
                    .iter()
                    .all(|one| one.outcome == NotApplicable)
            );
        }
    };
    let thick = "rules:\n  - { id: thick, clause: A.1, title: T, text: T, applies_to: bar, when: material is steel, value: width, at_least: 4 mm }";
    nothing(thick, "boat: {}");
    nothing(
        thick,
        "bar: { material: wood, width: { with: exact, readings: 9 mm } }",
    );
    nothing("rules: []", "bar: { material: wood }");
    let exempt = "rules:\n  - { id: thick, clause: A.1, title: T, text: T, applies_to: bar, value: width, at_least: 4 mm, instead: [ { if: material is wood, because: wood, limit: none } ] }";
    nothing(exempt, "bar: { material: wood }");
    // One thing that conforms is something that was checked.
    let bench = Bench::new(&rules_text(SHIPPED, equipment, thick));
    let record = bench.record("bar: { material: steel, width: { with: exact, readings: 9 mm } }");
    assert_eq!(bench.check(&record, Stage::Certification).outcome, Conforms);
}

#[test]
fn a_boat_without_a_part_that_must_be_there_is_not_decided() {
    let equipment = "  boat: { parts: { hull: { one: hull }, bars: { many: bar, at_least: 2 }, spars: { many: bar } } }\n  hull: { measures: { width: length } }\n  bar: { measures: { width: length } }";
    let rules = "rules:\n  - { id: wide, clause: A.1, title: T, text: T, applies_to: hull, value: width, at_least: 4 mm }";
    let bench = Bench::new(&rules_text(SHIPPED, equipment, rules));
    let hull = "hull: { width: { with: exact, readings: 9 mm } }";
    let missing = |text: &str| -> Vec<String> {
        let record = bench.record(text);
        let verdict = bench.check(&record, Stage::EventInspection);
        let of = bench.of_rule(&verdict, "equipment").into_iter();
        of.map(|finding| {
            assert_eq!(
                (finding.outcome, finding.reason),
                (NotDecided, Some(Reason::NotMeasured))
            );
            super::workbench::key_of(&bench, &record, finding).1
        })
        .collect()
    };
    assert_eq!(missing("boat: {}"), ["hull", "bars"]);
    assert_eq!(missing(&format!("{{ {hull} }}")), ["bars"]);
    assert_eq!(
        missing(&format!("{{ {hull}, bars: [ {{ id: A }} ] }}")),
        ["bars"]
    );
    // What another place of the boat holds does not stand in for it.
    assert_eq!(
        missing(&format!(
            "{{ {hull}, bars: [ {{ id: A }} ], spars: [ {{ id: B }} ] }}"
        )),
        ["bars"]
    );
    assert_eq!(
        missing(&format!("{{ {hull}, bars: [ {{ id: A }}, {{ id: B }} ] }}")),
        [""; 0]
    );
}
