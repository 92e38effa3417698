//! What an expression of the rules can come to while each number of an item is anywhere in its range.

use super::interval::Interval;
use super::model::{Kind, What, Who};
use crate::expression::{Arithmetic, Comparison, Function, Node, Op, Scope};
use crate::rules::RulesFile;
use crate::vocabulary::{DerivedId, HoldingId, MeasureId, MeasureKind, PartId, Vocabulary};

/// Standard gravity in base units of force for a kilogram.
const GRAVITY: f64 = 9806.65;

/// All that an expression can look at.
pub(super) struct World<'a> {
    pub rules: &'a RulesFile,
    /// Kinds by slot of the part.
    pub kinds: &'a [Vec<Kind>],
    /// Items by slot of the holding.
    pub lists: &'a [Vec<Who>],
    /// Items by slot of the role, in a rule on a group.
    pub roles: &'a [Who],
    /// Where between the ends of all ranges this boat lies, where its items are compared with each other.
    pub base: Option<f64>,
    /// A number that is held: of a kind, by slot.
    pub held: Option<(PartId, usize, usize, f64)>,
    /// Whether ranges are widened by the doubt about readings.
    pub doubtful: bool,
}

/// What a structured measure is referred to as.
struct Thing {
    who: Who,
    measure: MeasureId,
}

impl World<'_> {
    /// The range of one number of somebody.
    pub(super) fn range(
        &self,
        who: &Who,
        measure: MeasureId,
        what: What,
        cell: Option<usize>,
    ) -> Option<Interval> {
        let all = self.kinds.get(who.part.index())?;
        let mut found: Option<Interval> = None;
        for slot in &who.kinds {
            let kind = all.get(*slot)?;
            for (at, knob) in kind.knobs.iter().enumerate() {
                let elsewhere = cell.is_some() && knob.cell.is_some() && knob.cell != cell;
                if knob.measure != measure || knob.what != what || elsewhere {
                    continue;
                }
                let mut range = knob.range;
                if let Some(base) = self.base {
                    let free = (range.width() - 2.0 * knob.apart).max(0.0);
                    let middle = range.low + knob.apart.min(range.width() / 2.0) + base * free;
                    range = Interval::point(middle).wider(knob.apart);
                }
                if self.doubtful {
                    let ends = range.low.abs().max(range.high.abs());
                    range = range.wider(knob.doubt + ends * knob.doubt_share);
                }
                if let Some((part, held, number, value)) = self.held
                    && (part, held, number) == (who.part, *slot, at)
                {
                    range = Interval::point(value);
                }
                found = Some(found.map_or(range, |found| found.hull(range)));
            }
        }
        found
    }

    fn resolve(&self, scope: Scope, own: &Who) -> Option<Who> {
        match scope {
            Scope::Own => Some(own.clone()),
            Scope::Boat => Some(self.boat()),
            Scope::One(holding) => self.lists.get(holding.index())?.first().cloned(),
            Scope::Role(role) => self.roles.get(role.index()).cloned(),
        }
    }

    /// The boat itself.
    pub(super) fn boat(&self) -> Who {
        let count = self.kinds.get(Vocabulary::BOAT.index()).map_or(0, Vec::len);
        Who {
            part: Vocabulary::BOAT,
            kinds: (0..count).collect(),
            marked: None,
        }
    }

    fn derived(&self, part: PartId, slot: DerivedId) -> Option<&Node> {
        self.rules.derived_value(part, slot).map(|one| &one.root)
    }

    fn items(&self, over: HoldingId) -> &[Who] {
        self.lists.get(over.index()).map_or(&[], Vec::as_slice)
    }

    fn thing(&self, node: &Node, own: &Who) -> Option<Thing> {
        match &node.op {
            Op::Measure(scope, measure) => Some(Thing {
                who: self.resolve(*scope, own)?,
                measure: *measure,
            }),
            Op::Derived(scope, slot) => {
                let who = self.resolve(*scope, own)?;
                self.thing(self.derived(who.part, *slot)?, &who)
            }
            _ => None,
        }
    }

    fn part_of(&self, thing: &Thing, what: What, cell: Option<usize>) -> Option<Interval> {
        self.range(&thing.who, thing.measure, what, cell)
    }

    /// What a number can be; nothing where that is not known here.
    pub(super) fn number(&self, node: &Node, own: &Who, cell: Option<usize>) -> Option<Interval> {
        match &node.op {
            Op::Quantity { value, .. } => Some(Interval::point(value.to_f64())),
            Op::Measure(scope, measure) => {
                let who = self.resolve(*scope, own)?;
                let cell = cell.filter(|_| *scope == Scope::Own);
                self.range(&who, *measure, What::Value, cell)
            }
            Op::Derived(scope, slot) => {
                let who = self.resolve(*scope, own)?;
                let cell = cell.filter(|_| *scope == Scope::Own);
                self.number(self.derived(who.part, *slot)?, &who, cell)
            }
            Op::Negate(child) => Some(self.number(child, own, cell)?.negate()),
            Op::Arithmetic(op, left, right) => {
                let left = self.number(left, own, cell)?;
                let right = self.number(right, own, cell)?;
                match op {
                    Arithmetic::Add => Some(left.add(right)),
                    Arithmetic::Subtract => Some(left.add(right.negate())),
                    Arithmetic::Multiply => Some(left.mul(right)),
                    Arithmetic::Divide => left.div(right),
                }
            }
            Op::Call(function, arguments) => self.call(*function, arguments, own, cell),
            Op::Count { over, condition } => {
                let mut range = Interval::point(0.0);
                for item in self.items(*over) {
                    let holds = self.holds(condition.as_deref(), item);
                    range.high += f64::from(u8::from(holds != Some(false)));
                    range.low += f64::from(u8::from(holds == Some(true)));
                }
                Some(range)
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                let mut range = Interval::point(0.0);
                for item in self.items(*over) {
                    let holds = self.holds(condition.as_deref(), item);
                    if holds == Some(false) {
                        continue;
                    }
                    let one = self.number(value, item, None)?;
                    range = range.add(match holds {
                        Some(true) => one,
                        _ => one.hull(Interval::point(0.0)),
                    });
                }
                Some(range)
            }
            Op::Date(_)
            | Op::YesNo(_)
            | Op::Trait(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_) => None,
        }
    }

    fn holds(&self, condition: Option<&Node>, item: &Who) -> Option<bool> {
        condition.map_or(Some(true), |condition| self.truth(condition, item, None))
    }

    fn call(
        &self,
        function: Function,
        arguments: &[Node],
        own: &Who,
        cell: Option<usize>,
    ) -> Option<Interval> {
        let first = arguments.first()?;
        let number = |at: usize| self.number(arguments.get(at)?, own, cell);
        let fold = |each: fn(Interval, Interval) -> Interval| {
            let mut all = arguments.iter().map(|one| self.number(one, own, cell));
            let first = all.next()??;
            all.try_fold(first, |found, one| Some(each(found, one?)))
        };
        let thing = || self.thing(first, own);
        match function {
            Function::Abs => Some(number(0)?.abs()),
            Function::Min => fold(Interval::min),
            Function::Max => fold(Interval::max),
            Function::Lowest | Function::Highest => self.number(first, own, None),
            Function::At20Degrees { .. } => number(0),
            Function::FlatLength => {
                let thing = thing()?;
                let forward = self.reach(&thing, What::Forward, number(1)?)?;
                Some(forward.add(self.reach(&thing, What::Aft, number(1)?)?))
            }
            Function::ForwardFlat => self.reach(&thing()?, What::Forward, number(1)?),
            Function::AftFlat => self.reach(&thing()?, What::Aft, number(1)?),
            Function::GapAt => {
                let thing = thing()?;
                let at = number(1)?;
                let what = if at.low >= 0.0 {
                    What::Forward
                } else {
                    What::Aft
                };
                let reach = self.part_of(&thing, what, None)?;
                let gap = self.first_gap(thing.who.part, thing.measure)?;
                let share = at.abs().div(reach)?;
                Some(share.mul(share).mul(Interval::point(gap)))
            }
            Function::CrownRadius => {
                let thing = thing()?;
                let gap = self.first_gap(thing.who.part, thing.measure)?;
                let forward = self.part_of(&thing, What::Forward, None)?;
                let reach = forward.hull(self.part_of(&thing, What::Aft, None)?);
                Some(reach.mul(reach).mul(Interval::point(0.5 / gap)))
            }
            Function::Hollow => Some(Interval::new(0.0, 0.01)),
            Function::Straightness => self.part_of(&thing()?, What::Bow, None),
            Function::IncludedAngle => {
                let thing = thing()?;
                let port = self.part_of(&thing, What::Port, cell)?;
                Some(port.add(self.part_of(&thing, What::Starboard, cell)?))
            }
            Function::BevelDifference => {
                let thing = thing()?;
                let port = self.part_of(&thing, What::Port, cell)?;
                let starboard = self.part_of(&thing, What::Starboard, cell)?;
                Some(port.add(starboard.negate()).abs())
            }
            Function::DeflectionAt => {
                let thing = thing()?;
                let load = as_force(arguments.get(1)?)?;
                let first = self.first_load(thing.who.part, thing.measure)?;
                let sinks = self.part_of(&thing, What::Sinks, None)?;
                Some(sinks.mul(Interval::point(load / first)))
            }
            Function::Stiffness => {
                let thing = thing()?;
                let first = self.first_load(thing.who.part, thing.measure)?;
                Interval::point(first).div(self.part_of(&thing, What::Sinks, None)?)
            }
            Function::Area => self.part_of(&thing()?, What::Area, None),
            Function::ConvertedHardness { .. } => None,
        }
    }

    /// How far the flat reaches at a gap: it rises with the square of the distance.
    fn reach(&self, thing: &Thing, what: What, gap: Interval) -> Option<Interval> {
        let first = self.first_gap(thing.who.part, thing.measure)?;
        let times = (gap.high / first).max(0.0).sqrt();
        Some(self.part_of(thing, what, None)?.mul(Interval::point(times)))
    }

    fn first_gap(&self, part: PartId, measure: MeasureId) -> Option<f64> {
        gaps(self.rules, part, measure).first().copied()
    }

    fn first_load(&self, part: PartId, measure: MeasureId) -> Option<f64> {
        loads(self.rules, part, measure)
            .first()
            .map(|(_, force)| *force)
    }

    /// Whether a condition holds; nothing where that is open.
    pub(super) fn truth(&self, node: &Node, own: &Who, cell: Option<usize>) -> Option<bool> {
        match &node.op {
            Op::YesNo(yes) => Some(*yes),
            Op::Truth(child) => self.truth(child, own, cell),
            Op::Not(child) => self.truth(child, own, cell).map(|one| !one),
            Op::And(children) => {
                let all: Vec<Option<bool>> = children
                    .iter()
                    .map(|one| self.truth(one, own, cell))
                    .collect();
                match all.contains(&Some(false)) {
                    true => Some(false),
                    false => (!all.contains(&None)).then_some(true),
                }
            }
            Op::Or(children) => {
                let all: Vec<Option<bool>> = children
                    .iter()
                    .map(|one| self.truth(one, own, cell))
                    .collect();
                match all.contains(&Some(true)) {
                    true => Some(true),
                    false => (!all.contains(&None)).then_some(false),
                }
            }
            Op::Trait(scope, slot) => {
                let who = self.resolve(*scope, own)?;
                let part = self.rules.vocabulary.part(who.part)?;
                match part.traits.get(slot.index())?.kind {
                    crate::vocabulary::TraitKind::Flag => who.marked,
                    crate::vocabulary::TraitKind::Choice(_)
                    | crate::vocabulary::TraitKind::AnyOf(_)
                    | crate::vocabulary::TraitKind::Date => None,
                }
            }
            Op::Measure(scope, measure) => {
                let who = self.resolve(*scope, own)?;
                let part = self.rules.vocabulary.part(who.part)?;
                let looked = part.measures.get(measure.index())?.kind == MeasureKind::YesNo;
                looked.then_some(true)
            }
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, slot) = &subject.op else {
                    return None;
                };
                let who = self.resolve(*scope, own)?;
                let all = self.kinds.get(who.part.index())?;
                let mut found: Option<bool> = None;
                for kind in &who.kinds {
                    let choice = (*all.get(*kind)?.choices.get(slot.index())?)?;
                    let is = choices.contains(&Some(choice)) != *negated;
                    if found.is_some_and(|found| found != is) {
                        return None;
                    }
                    found = Some(is);
                }
                found
            }
            Op::Compare(comparison, left, right) => {
                let left = self.number(left, own, cell)?;
                let right = self.number(right, own, cell)?;
                let (below, above) = match comparison {
                    Comparison::Less => (left.high < right.low, left.low >= right.high),
                    Comparison::LessOrEqual => (left.high <= right.low, left.low > right.high),
                    Comparison::Greater => (left.low > right.high, left.high <= right.low),
                    Comparison::GreaterOrEqual => (left.low >= right.high, left.high < right.low),
                };
                match (below, above) {
                    (true, _) => Some(true),
                    (_, true) => Some(false),
                    (false, false) => None,
                }
            }
            Op::IsSame { .. }
            | Op::IsLevel { .. }
            | Op::Quantity { .. }
            | Op::Date(_)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => None,
        }
    }
}

/// A constant load as a force in base units.
fn as_force(node: &Node) -> Option<f64> {
    let value = node.constant()?.to_f64();
    let Op::Quantity { unit, .. } = &node.op else {
        return Some(value);
    };
    let weighs = unit.dimension() == crate::quantity::Dimension::MASS;
    Some(if weighs { value * GRAVITY } else { value })
}

/// Every function called in the rules on a structured measure of a part, with its arguments.
fn calls(rules: &RulesFile, part: PartId, measure: MeasureId) -> Vec<(Function, &[Node])> {
    let mut found = Vec::new();
    for (own, root) in super::used::roots(rules) {
        super::used::each(root, &mut |node| {
            if let Op::Call(function, arguments) = &node.op
                && let Some(Op::Measure(scope, called)) = arguments.first().map(|one| &one.op)
                && *called == measure
                && scope.part(own, &rules.vocabulary) == Some(part)
            {
                found.push((*function, arguments.as_slice()));
            }
        });
    }
    found
}

/// Gaps at which the class asks for the flat of a profile, base units, least first; one of its own where it asks for none.
pub(super) fn gaps(rules: &RulesFile, part: PartId, measure: MeasureId) -> Vec<f64> {
    let all = calls(rules, part, measure);
    let mut found: Vec<f64> = all
        .iter()
        .filter(|(function, _)| {
            matches!(
                function,
                Function::FlatLength | Function::ForwardFlat | Function::AftFlat
            )
        })
        .filter_map(|(_, arguments)| Some(arguments.get(1)?.constant()?.to_f64()))
        .filter(|gap| *gap > 0.0)
        .collect();
    found.sort_by(f64::total_cmp);
    found.dedup();
    if found.is_empty() {
        found.push(0.2);
    }
    found
}

/// Loads at which the class asks how far something sinks: the expression as written, and the force in base units, least
/// first.
pub(super) fn loads(
    rules: &RulesFile,
    part: PartId,
    measure: MeasureId,
) -> Vec<(Option<&Node>, f64)> {
    let mut found: Vec<(Option<&Node>, f64)> = calls(rules, part, measure)
        .into_iter()
        .filter(|(function, _)| *function == Function::DeflectionAt)
        .filter_map(|(_, arguments)| {
            let load = arguments.get(1)?;
            Some((Some(load), as_force(load)?))
        })
        .collect();
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found.dedup_by(|a, b| a.1 == b.1);
    if found.is_empty() {
        found.push((None, 60.0 * GRAVITY));
    }
    found
}
