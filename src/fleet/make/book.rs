//! All kinds of item that a class allows, each with ranges in which every rule is kept, and whole boats made of them.

use super::ask::allows;
use super::boats::Boat;
use super::digits;
use super::eval::World;
use super::fit::Question;
use super::interval::Interval;
use super::model::{Kind, Knob, What, Who};
use super::places::Planner;
use super::used::{Used, by_rule};
use crate::rules::{Rule, RulesFile};
use crate::vocabulary::{
    ChoiceId, Measure, MeasureId, MeasureKind, Part, PartId, QuantityKind, TraitKind, Vocabulary,
};

/// No more kinds of one part.
const KINDS: usize = 40;
/// No more combinations of choices are looked at.
const COMBINATIONS: usize = 4096;
/// Orders in which the rules of an item are tried.
const ORDERS: usize = 5;

/// What boats are made of.
#[derive(Debug)]
pub(super) struct Book {
    /// By slot of the part.
    pub kinds: Vec<Vec<Kind>>,
    /// Whole boats without numbers.
    pub boats: Vec<Boat>,
}

/// A rule with what it looks at.
pub(super) type Known<'r> = (&'r Rule, Vec<Used>);

impl Book {
    /// Reads a class.
    pub(super) fn of(rules: &RulesFile) -> Book {
        let known: Vec<Known<'_>> = rules
            .rules
            .iter()
            .map(|rule| (rule, by_rule(rules, rule)))
            .collect();
        let vocabulary = &rules.vocabulary;
        let mut kinds: Vec<Vec<Kind>> = slots(vocabulary.parts.len())
            .map(|part| enumerate(rules, PartId(part), &known))
            .collect();
        let lists = vec![Vec::new(); vocabulary.holdings.len()];
        for part in slots(kinds.len()).map(PartId) {
            let count = kinds.get(part.index()).map_or(0, Vec::len);
            for slot in 0..count {
                make(rules, &known, &mut kinds, &lists, Who::one(part, slot));
            }
        }
        for all in &mut kinds {
            if all.iter().any(|kind| kind.kept) {
                all.retain(|kind| kind.kept);
            }
            for kind in all {
                for knob in &mut kind.knobs {
                    knob.apart = knob.range.width() * 0.12;
                }
            }
        }
        let boats = super::boats::boats(rules, &known, &mut kinds);
        for knob in kinds.iter_mut().flatten().flat_map(|kind| &mut kind.knobs) {
            comfortable(knob);
        }
        Book { kinds, boats }
    }
}

/// Slots from the first.
pub(super) fn slots(count: usize) -> std::ops::Range<u16> {
    0..u16::try_from(count).unwrap_or(u16::MAX)
}

/// The combinations of choices that a part may have.
fn enumerate(rules: &RulesFile, id: PartId, known: &[Known<'_>]) -> Vec<Kind> {
    let Some(part) = rules.vocabulary.part(id) else {
        return Vec::new();
    };
    if part.is_group() {
        return Vec::new();
    }
    let mut all: Vec<Vec<Option<ChoiceId>>> = vec![Vec::new()];
    for one in &part.traits {
        let TraitKind::Choice(names) = &one.kind else {
            all.iter_mut().for_each(|choices| choices.push(None));
            continue;
        };
        let more = all.iter().flat_map(|choices| {
            slots(names.len()).map(|choice| {
                let mut choices = choices.clone();
                choices.push(Some(ChoiceId(choice)));
                choices
            })
        });
        all = more.take(COMBINATIONS).collect();
    }
    let mut found: Vec<Kind> = Vec::new();
    for choices in all {
        let mut kind = Kind {
            part: id,
            choices,
            option: 0,
            knobs: Vec::new(),
            plans: Vec::new(),
            asked: vec![true; part.measures.len()],
            kept: true,
        };
        let alone = alone(rules, id, kind.clone());
        let own = Who::one(id, 0);
        let world = world(rules, &alone, &[]);
        let applying: Vec<&Known<'_>> = known
            .iter()
            .filter(|(rule, _)| rule.applies_to == id)
            .filter(|(rule, _)| {
                let when = rule.when.as_ref();
                when.is_none_or(|when| world.truth(&when.root, &own, None) != Some(false))
            })
            .collect();
        let fine = |one: &&Known<'_>| allows(one.0, rules.silence, &kind.choices);
        if !applying.iter().all(fine) {
            continue;
        }
        asked(id, known, &applying, &mut kind);
        let options = applying.iter().map(|(rule, _)| options(rule)).max();
        for option in 0..options.unwrap_or(1).clamp(1, 4) {
            found.push(Kind {
                option,
                ..kind.clone()
            });
        }
    }
    // Of very many some are taken, evenly.
    let step = found.len().div_ceil(KINDS).max(1);
    let mut found: Vec<Kind> = found.into_iter().step_by(step).collect();
    for kind in &mut found {
        kind.knobs = unplaced(rules, part, kind);
    }
    found
}

/// How many options a rule lists.
fn options(rule: &Rule) -> usize {
    crate::rules::rows(&rule.limits, &[])
        .map(|row| match &row.demand {
            crate::rules::Demand::Options(options) => options.rows.len(),
            crate::rules::Demand::Bounds(_)
            | crate::rules::Demand::Equals(..)
            | crate::rules::Demand::Only(..)
            | crate::rules::Demand::Without(..)
            | crate::rules::Demand::None => 1,
        })
        .max()
        .unwrap_or(1)
}

/// Leaves out measures that rules look at, but none that applies to the kind.
fn asked(id: PartId, known: &[Known<'_>], applying: &[&Known<'_>], kind: &mut Kind) {
    for (slot, asked) in kind.asked.iter_mut().enumerate() {
        let looks = |(_, used): &Known<'_>| {
            used.iter()
                .any(|(part, one)| *part == id && one.index() == slot)
        };
        let anywhere = known.iter().any(looks);
        let others = known
            .iter()
            .filter(|(rule, _)| rule.applies_to != id)
            .any(looks);
        *asked = !anywhere || others || applying.iter().any(|one| looks(one));
    }
}

/// The kinds of a class with one alone.
fn alone(rules: &RulesFile, part: PartId, kind: Kind) -> Vec<Vec<Kind>> {
    let mut all: Vec<Vec<Kind>> = vec![Vec::new(); rules.vocabulary.parts.len()];
    if let Some(list) = all.get_mut(part.index()) {
        list.push(kind);
    }
    all
}

pub(super) fn world<'a>(
    rules: &'a RulesFile,
    kinds: &'a [Vec<Kind>],
    lists: &'a [Vec<Who>],
) -> World<'a> {
    World {
        rules,
        kinds,
        lists,
        roles: &[],
        base: None,
        held: None,
        doubtful: true,
    }
}

/// What a measure could be before any rule is asked.
fn start(measure: &Measure) -> Interval {
    if let Some((low, high)) = &measure.plausible {
        return Interval::new(low.to_f64(), high.to_f64());
    }
    let MeasureKind::Quantity(kind) = measure.kind else {
        return Interval::new(0.0, 1.0);
    };
    match kind {
        QuantityKind::Length => Interval::new(1.0, 3000.0),
        QuantityKind::Position => Interval::new(-500.0, 500.0),
        QuantityKind::Angle => Interval::new(5.0, 170.0),
        QuantityKind::Mass => Interval::new(0.1, 200.0),
        QuantityKind::Force => Interval::new(1000.0, 500_000.0),
        QuantityKind::Area => Interval::new(10_000.0, 20_000_000.0),
        QuantityKind::Ratio => Interval::new(0.05, 2.0),
        QuantityKind::Stiffness => Interval::new(100.0, 100_000.0),
        QuantityKind::Temperature => Interval::new(258.0, 283.0),
        QuantityKind::HardnessHrc => Interval::new(20.0, 66.0),
        QuantityKind::HardnessHv | QuantityKind::HardnessHbw => Interval::new(120.0, 600.0),
        QuantityKind::Number => Interval::new(0.0, 12.0),
    }
}

/// The numbers of a measure, for one cell of its places.
fn knobs(rules: &RulesFile, part: PartId, slot: MeasureId, cell: Option<usize>) -> Vec<Knob> {
    let Some(of) = rules.vocabulary.part(part) else {
        return Vec::new();
    };
    let Some(measure) = of.measures.get(slot.index()) else {
        return Vec::new();
    };
    let doubt = digits::doubt(measure);
    let step = digits::of(of, measure).base;
    let knob = |what: What, range: Interval, doubt: f64, doubt_share: f64| Knob {
        measure: slot,
        what,
        cell,
        range,
        start: range,
        apart: 0.0,
        doubt,
        doubt_share,
    };
    match measure.kind {
        MeasureKind::Quantity(kind) => {
            let sure = kind == QuantityKind::Number || measure.fixed_at.is_some();
            let doubt = if sure { 0.0 } else { 1.35 * doubt + step };
            vec![knob(What::Value, start(measure), doubt, 0.0)]
        }
        MeasureKind::YesNo => Vec::new(),
        MeasureKind::Section => {
            let range = Interval::new(25.0, 75.0);
            [What::Port, What::Starboard]
                .map(|what| knob(what, range, 0.8 * doubt + step, 0.0))
                .to_vec()
        }
        MeasureKind::Profile => {
            let gap = super::eval::gaps(rules, part, slot);
            let share = 1.4 * doubt / (2.0 * gap.first().copied().unwrap_or(1.0));
            let range = Interval::new(20.0, 600.0);
            let step = super::sheet::reach(of).base;
            [What::Forward, What::Aft]
                .map(|what| knob(what, range, 2.0 * step, share))
                .to_vec()
        }
        MeasureKind::Line => {
            let range = Interval::new(2.0 * step, 5.0);
            vec![knob(What::Bow, range, 1.6 * doubt + 3.0 * step, 0.0)]
        }
        MeasureKind::LoadTest => {
            let range = Interval::new(2.0, 200.0);
            vec![knob(What::Sinks, range, 1.6 * doubt + 2.0 * step, 0.0)]
        }
        MeasureKind::Outline => {
            let range = Interval::new(500_000.0, 25_000_000.0);
            vec![knob(What::Area, range, 0.0, 0.015)]
        }
    }
}

fn unplaced(rules: &RulesFile, part: &Part, kind: &Kind) -> Vec<Knob> {
    let each = slots(part.measures.len()).zip(&part.measures);
    each.filter(|(slot, measure)| {
        !measure.placed && kind.asked.get(usize::from(*slot)) == Some(&true)
    })
    .flat_map(|(slot, _)| knobs(rules, kind.part, MeasureId(slot), None))
    .collect()
}

/// Narrows the ranges of a kind until its own rules are kept, first of what has no places, then of what has.
fn make(
    rules: &RulesFile,
    known: &[Known<'_>],
    kinds: &mut [Vec<Kind>],
    lists: &[Vec<Who>],
    own: Who,
) {
    let slot = own.kinds.first().copied().unwrap_or(0);
    let Some(part) = rules.vocabulary.part(own.part) else {
        return;
    };
    let placed = |measure: &MeasureId| {
        part.measures
            .get(measure.index())
            .is_some_and(|one| one.placed)
    };
    let mut about: Vec<&Known<'_>> = known
        .iter()
        .filter(|(rule, used)| {
            rule.applies_to == own.part && used.iter().all(|(other, _)| *other == own.part)
        })
        .collect();
    about.sort_by_key(|(_, used)| used.len());
    let (late, early): (Vec<&Known<'_>>, Vec<&Known<'_>>) = about
        .into_iter()
        .partition(|(_, used)| used.iter().any(|(_, measure)| placed(measure)));
    let bases = [None];
    let settle = |kinds: &mut [Vec<Kind>], list: &[&Known<'_>], placed_only: bool| {
        let mut kept = true;
        for (rule, used) in list {
            let question = Question {
                rules,
                rule,
                used,
                own: own.clone(),
                lists,
                roles: &[],
                bases: &bases,
            };
            kept &= question.settle(kinds, placed_only);
        }
        kept
    };
    let mut order = early.clone();
    let single = order.iter().filter(|(_, used)| used.len() < 2).count();
    let before = kind_of(kinds, own.part, slot).map(|kind| kind.knobs.clone());
    let mut kept = false;
    for _ in 0..ORDERS {
        if let (Some(kind), Some(before)) = (kind_of(kinds, own.part, slot), &before) {
            kind.knobs.clone_from(before);
        }
        kept = settle(kinds, &order, false);
        if kept {
            break;
        }
        if let Some(several) = order.get_mut(single..)
            && !several.is_empty()
        {
            several.rotate_left(1);
        }
    }
    let asked: Vec<Known<'_>> = late
        .iter()
        .filter(|(rule, _)| {
            let world = world(rules, kinds, lists);
            let when = rule.when.as_ref();
            when.is_none_or(|when| world.truth(&when.root, &own, None) != Some(false))
        })
        .map(|(rule, used)| (*rule, used.clone()))
        .collect();
    let measures: Vec<MeasureId> = slots(part.measures.len())
        .map(MeasureId)
        .filter(placed)
        .filter(|measure| {
            let kind = kinds.get(own.part.index()).and_then(|all| all.get(slot));
            kind.is_some_and(|kind| kind.asked.get(measure.index()) == Some(&true))
        })
        .collect();
    let plans = Planner {
        rules,
        part: own.part,
        asked: &asked,
        world: &world(rules, kinds, lists),
        own: own.clone(),
        unit: digits::along(part),
    }
    .plans(&measures);
    if let Some(kind) = kind_of(kinds, own.part, slot) {
        for plan in &plans {
            for measure in &plan.measures {
                for cell in 0..plan.cells.len() {
                    let more = knobs(rules, own.part, *measure, Some(cell));
                    kind.knobs.extend(more);
                }
            }
        }
        kind.plans = plans;
    }
    kept &= settle(kinds, &late, true);
    if let Some(kind) = kind_of(kinds, own.part, slot) {
        kind.kept = kept;
    }
}

fn kind_of(kinds: &mut [Vec<Kind>], part: PartId, slot: usize) -> Option<&mut Kind> {
    kinds.get_mut(part.index())?.get_mut(slot)
}

/// What nothing limits on one side or both is made in the way of most boats: not far from the limit, or in the middle.
fn comfortable(knob: &mut Knob) {
    let (range, start) = (knob.range, knob.start);
    let little = start.width() * 1e-6;
    let low = range.low > start.low + little;
    let high = range.high < start.high - little;
    let least = (8.0 * (knob.doubt + knob.doubt_share * range.high.abs())).min(range.width());
    match (low, high) {
        (true, true) => {}
        (true, false) => knob.range.high = range.low + least.max(range.width() * 0.25),
        (false, true) => knob.range.low = range.high - least.max(range.width() * 0.25),
        (false, false) => {
            let by = range.width() * 0.3;
            knob.range = range.wider(-by);
        }
    }
    knob.apart = knob.apart.min(knob.range.width() * 0.12);
}

/// What rules keep a choice of several in a list from saying.
pub(super) fn allowed(rules: &RulesFile, part: PartId, slot: usize) -> Vec<usize> {
    let Some(of) = rules
        .vocabulary
        .part(part)
        .and_then(|part| part.traits.get(slot))
    else {
        return Vec::new();
    };
    let mut found: Vec<usize> = (0..of.kind.names().len()).collect();
    for rule in rules.rules.iter().filter(|rule| rule.applies_to == part) {
        let crate::expression::Op::Trait(crate::expression::Scope::Own, own) = &rule.value.root.op
        else {
            continue;
        };
        if own.index() != slot {
            continue;
        }
        for row in crate::rules::rows(&rule.limits, &[]) {
            match &row.demand {
                crate::rules::Demand::Only(list, _) => {
                    found.retain(|one| list.iter().any(|choice| choice.index() == *one));
                }
                crate::rules::Demand::Without(list, _) => {
                    found.retain(|one| !list.iter().any(|choice| choice.index() == *one));
                }
                crate::rules::Demand::Bounds(_)
                | crate::rules::Demand::Equals(..)
                | crate::rules::Demand::Options(_)
                | crate::rules::Demand::None => {}
            }
        }
    }
    found
}

/// The boat's own part.
pub(super) const BOAT: PartId = Vocabulary::BOAT;
