//! Numbers at a glance: expressions over measures in floating point, each with a bound on its uncertainty.
//!
//! A fleet asks for outcomes alone, and most values are far from their limits. What is clear at a glance needs
//! no exact number and no list of parts; see [`Rough`] for why it can't differ from what those would say. All
//! else is left to the long way: one-sided readings, an unknown uncertainty, what is missing, structured
//! measures but bevels, second measurers, and everything near a limit.

use super::eval::Evaluator;
use super::reading::{Readings, implausible, same_place};
use super::value::{Evidence, Truth};
use crate::expression::{Arithmetic, Comparison, Function, Node, Op};
use crate::quantity::Exact;
use crate::record::{Content, EdgeAcross, Found, Item, Reading, Series, Where, With};
use crate::rules::{RulesFile, Spacing, Stage};
use crate::uncertainty::{Coverage, DecisionRule, Rough, RoughPool};
use crate::vocabulary::{DerivedId, Measure, MeasureId};
use smallvec::SmallVec;

/// A number at a glance.
#[derive(Clone, Copy, Debug)]
pub struct Glance<'r> {
    /// Value and uncertainty.
    pub rough: Rough,
    /// What it lacks as evidence.
    pub evidence: Evidence,
    /// The least number of readings behind it.
    pub readings: u32,
    /// Where it was taken, if at a place.
    pub place: Option<&'r Where>,
}

impl<'r> Glance<'r> {
    /// A number that needs no evidence.
    pub fn certain(rough: Rough) -> Glance<'r> {
        Glance {
            rough,
            evidence: Evidence::GOOD,
            readings: u32::MAX,
            place: None,
        }
    }

    /// The same evidence and place for a value made of this one alone.
    fn with(self, rough: Rough) -> Glance<'r> {
        Glance { rough, ..self }
    }

    /// A number made of two, at the place of the first.
    fn of(rough: Rough, one: &Glance<'r>, other: &Glance<'r>) -> Glance<'r> {
        Glance {
            rough,
            evidence: one.evidence.and(other.evidence),
            readings: one.readings.min(other.readings),
            place: one.place,
        }
    }
}

/// Where numbers stand one after another in the list of what was seen.
#[derive(Clone, Copy, Debug)]
pub struct Run {
    from: u32,
    to: u32,
}

/// What an expression comes to at a glance.
#[derive(Clone, Copy, Debug)]
pub enum Seen {
    /// One number: the first of the run.
    Number(Run),
    /// A number at each place.
    Places(Run),
    /// Two bevels at each place.
    Bevels(Run),
}

/// What is remembered of a measure or a derived value.
#[derive(Clone, Copy, Debug)]
enum Remembered {
    /// Nobody asked for it.
    Unasked,
    /// It can't be told at a glance.
    Closed,
    /// It was seen.
    Seen(Seen),
}

/// What was seen of one record.
#[derive(Debug)]
pub struct Glances<'r> {
    /// For each item where its measures begin, its derived values after them.
    starts: Vec<usize>,
    remembered: Vec<Remembered>,
    seen: Vec<Glance<'r>>,
    /// By part and measure.
    plausible: &'r [Vec<Plausible>],
}

/// What is plausible of a measure: from, to; the nearest floating-point numbers.
pub type Plausible = Option<(f64, f64)>;

impl<'r> Glances<'r> {
    /// Nothing seen yet.
    pub fn new(items: &[Item], rules: &RulesFile, plausible: &'r [Vec<Plausible>]) -> Glances<'r> {
        let mut starts = Vec::with_capacity(items.len());
        let mut count = 0;
        for item in items {
            starts.push(count);
            let part = rules.vocabulary.part(item.part);
            count += part.map_or(0, |part| part.measures.len() + part.derived.len());
        }
        Glances {
            starts,
            remembered: vec![Remembered::Unasked; count],
            seen: Vec::with_capacity(4 * count),
            plausible,
        }
    }

    fn recall(&self, at: usize) -> Option<Option<Seen>> {
        match *self.remembered.get(at)? {
            Remembered::Unasked => None,
            Remembered::Closed => Some(None),
            Remembered::Seen(seen) => Some(Some(seen)),
        }
    }

    fn remember(&mut self, at: usize, value: Option<Seen>) {
        if let Some(place) = self.remembered.get_mut(at) {
            *place = value.map_or(Remembered::Closed, Remembered::Seen);
        }
    }

    /// The numbers of a run.
    pub fn list(&self, run: Run) -> &[Glance<'r>] {
        let place = |at: u32| usize::try_from(at).ok();
        let range = place(run.from).zip(place(run.to));
        let list = range.and_then(|(from, to)| self.seen.get(from..to));
        list.unwrap_or(&[])
    }

    /// One number.
    pub fn number(&self, run: Run) -> Option<&Glance<'r>> {
        self.list(run).first()
    }

    fn end(&self) -> u32 {
        u32::try_from(self.seen.len()).unwrap_or(u32::MAX)
    }

    fn run_from(&self, from: u32) -> Run {
        let to = self.end();
        Run { from, to }
    }

    fn push(&mut self, glance: Glance<'r>) -> Seen {
        let from = self.end();
        self.seen.push(glance);
        Seen::Number(self.run_from(from))
    }

    /// Makes a number of each, at the same place.
    fn each(
        &mut self,
        value: Seen,
        make: impl Fn(&Glances<'r>, &Glance<'r>) -> Option<Glance<'r>>,
    ) -> Option<Seen> {
        let (Seen::Number(run) | Seen::Places(run)) = value else {
            return None;
        };
        let start = self.end();
        for at in run.from..run.to {
            let own = self.seen.get(usize::try_from(at).ok()?)?;
            let made = Glance {
                place: own.place,
                ..make(self, own)?
            };
            self.seen.push(made);
        }
        let made = self.run_from(start);
        Some(match value {
            Seen::Number(_) => Seen::Number(made),
            Seen::Places(_) | Seen::Bevels(_) => Seen::Places(made),
        })
    }

    /// Makes a number of each pair of bevels.
    fn each_pair(&mut self, run: Run, make: impl Fn(&Rough, &Rough) -> Rough) -> Option<Seen> {
        let start = self.end();
        for at in (run.from..run.to).step_by(2) {
            let at = usize::try_from(at).ok()?;
            let (port, starboard) = (self.seen.get(at)?, self.seen.get(at + 1)?);
            if !is_bevel(&port.rough) || !is_bevel(&starboard.rough) {
                return None;
            }
            let rough = make(&port.rough, &starboard.rough);
            let made = Glance::of(rough, port, starboard);
            self.seen.push(made);
        }
        Some(Seen::Places(self.run_from(start)))
    }

    fn join(&mut self, operation: Arithmetic, left: Seen, right: Seen) -> Option<Seen> {
        let join = |a: &Glance<'r>, b: &Glance<'r>| {
            let rough = match operation {
                Arithmetic::Add => a.rough.add(&b.rough),
                Arithmetic::Subtract => a.rough.sub(&b.rough),
                Arithmetic::Multiply => a.rough.mul(&b.rough),
                Arithmetic::Divide => a.rough.div(&b.rough)?,
            };
            Some(Glance::of(rough, a, b))
        };
        match (left, right) {
            (left, Seen::Number(b)) => self.each(left, |all, a| join(a, all.number(b)?)),
            (Seen::Number(a), right) => self.each(right, |all, b| join(all.number(a)?, b)),
            // Which places are the same is left to the long way.
            _ => None,
        }
    }

    fn extreme(&mut self, run: Run, highest: bool) -> Option<Seen> {
        let list = self.list(run);
        let rough = Rough::extreme(list.iter().map(|one| &one.rough), highest)?;
        let evidence = list.iter().map(|one| one.evidence);
        let evidence = evidence.fold(Evidence::GOOD, Evidence::and);
        Some(self.push(Glance {
            evidence,
            ..Glance::certain(rough)
        }))
    }
}

/// Whether an angle clearly lies above 0 and below 90 degrees.
fn is_bevel(angle: &Rough) -> bool {
    let right_angle = Rough::certain(90.0, 0.0);
    let above_zero = angle.value() - angle.off() > 0.0;
    above_zero && right_angle.value() - angle.value() > angle.off()
}

impl<'r> Evaluator<'r> {
    /// An expression on an item at a glance; `None` where that tells nothing.
    pub fn glance(&mut self, node: &Node, own: usize) -> Option<Seen> {
        match &node.op {
            Op::Quantity { value, .. } => {
                let number = Glance::certain(Rough::exact(value));
                Some(self.glances.as_mut()?.push(number))
            }
            Op::Measure(scope, slot) => {
                let (at, item) = self.item(*scope, own).ok()?;
                self.glance_measure(at, item, *slot)
            }
            Op::Derived(scope, slot) => {
                let (at, item) = self.item(*scope, own).ok()?;
                self.glance_derived(at, item, *slot)
            }
            Op::Negate(inner) => {
                let inner = self.glance(inner, own)?;
                let glances = self.glances.as_mut()?;
                glances.each(inner, |_, one| Some(one.with(one.rough.neg())))
            }
            Op::Arithmetic(operation, left, right) => {
                let left = self.glance(left, own)?;
                let right = self.glance(right, own)?;
                self.glances.as_mut()?.join(*operation, left, right)
            }
            Op::Call(function, arguments) => {
                let [argument] = arguments.as_slice() else {
                    return None;
                };
                let argument = self.glance(argument, own)?;
                self.glance_call(*function, argument)
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
            | Op::Or(_)
            | Op::Count { .. }
            | Op::Sum { .. } => None,
        }
    }

    /// One number at a glance.
    pub fn glance_number(&mut self, node: &Node, own: usize) -> Option<Glance<'r>> {
        match self.glance(node, own)? {
            Seen::Number(run) => self.glances.as_ref()?.number(run).copied(),
            Seen::Places(_) | Seen::Bevels(_) => None,
        }
    }

    fn glance_call(&mut self, function: Function, argument: Seen) -> Option<Seen> {
        let glances = self.glances.as_mut()?;
        match (function, argument) {
            (Function::Abs, argument) => {
                glances.each(argument, |_, one| Some(one.with(one.rough.abs())))
            }
            (Function::Lowest, Seen::Places(run)) => glances.extreme(run, false),
            (Function::Highest, Seen::Places(run)) => glances.extreme(run, true),
            (Function::Lowest | Function::Highest, number @ Seen::Number(_)) => Some(number),
            (Function::IncludedAngle, Seen::Bevels(run)) => glances.each_pair(run, Rough::add),
            (Function::BevelDifference, Seen::Bevels(run)) => {
                glances.each_pair(run, |port, starboard| port.sub(starboard).abs())
            }
            _ => None,
        }
    }

    fn glance_measure(&mut self, at: usize, item: &'r Item, slot: MeasureId) -> Option<Seen> {
        let glances = self.glances.as_mut()?;
        let place = glances.starts.get(at)? + slot.index();
        if let Some(known) = glances.recall(place) {
            return known;
        }
        let part = self.rules.vocabulary.part(item.part)?;
        let measure = part.measures.get(slot.index())?;
        let of_part = glances.plausible.get(item.part.index());
        let plausible = of_part.and_then(|list| list.get(slot.index()).copied().flatten());
        let asked = (measure, plausible);
        let found = self
            .readings
            .glance(item, slot, asked, self.coverage, glances);
        glances.remember(place, found);
        found
    }

    fn glance_derived(&mut self, at: usize, item: &'r Item, slot: DerivedId) -> Option<Seen> {
        let rules = self.rules;
        let glances = self.glances.as_ref()?;
        let part = rules.vocabulary.part(item.part)?;
        let place = glances.starts.get(at)? + part.measures.len() + slot.index();
        if let Some(known) = glances.recall(place) {
            return known;
        }
        let expression = rules.derived_value(item.part, slot)?;
        let found = self.glance(&expression.root, at);
        self.glances.as_mut()?.remember(place, found);
        found
    }

    /// Whether a condition over numbers holds, where that is clear at a glance.
    pub(super) fn compare_at_a_glance(
        &mut self,
        comparison: Comparison,
        (left, right): (&Node, &Node),
        own: usize,
    ) -> Option<Truth> {
        self.glances.as_ref()?;
        let left = self.glance_number(left, own)?;
        let right = self.glance_number(right, own)?;
        let evidence = left.evidence.and(right.evidence);
        if evidence.reason(self.setting.stage).is_some() {
            return None;
        }
        let guard = match self.setting.decision {
            DecisionRule::SimpleAcceptance => 0.0,
            DecisionRule::GuardedAcceptance | DecisionRule::GuardedRejection => 1.0,
        };
        let above = left.rough.sub(&right.rough).beyond(guard)? > 0;
        Some(Truth::of(match comparison {
            Comparison::Less | Comparison::LessOrEqual => !above,
            Comparison::Greater | Comparison::GreaterOrEqual => above,
        }))
    }

    /// Whether some positions leave too wide a gap between each other and the ends, where that is clear at a
    /// glance.
    pub(super) fn too_wide_at_a_glance<'p>(
        &mut self,
        spacing: &Spacing,
        own: usize,
        positions: impl Iterator<Item = &'p Exact>,
    ) -> Option<bool> {
        self.glances.as_ref()?;
        let from = self.glance_number(&spacing.from.root, own)?;
        let to = self.glance_number(&spacing.to.root, own)?;
        let evidence = from.evidence.and(to.evidence);
        if evidence.reason(Stage::SelfCheck).is_some() {
            return None;
        }
        let (from, to) = (from.rough, to.rough);
        let low = from.value().min(to.value());
        let high = from.value().max(to.value());
        let mut between: SmallVec<[f64; 16]> = positions
            .map(Exact::to_f64)
            .filter(|at| *at > low && *at < high)
            .collect();
        between.push(high);
        if !between.is_sorted() {
            between.sort_unstable_by(f64::total_cmp);
        }
        let mut last = low;
        let mut widest = 0.0_f64;
        for at in between {
            widest = widest.max(at - last);
            last = at;
        }
        // Where an end moves by as much as it can be off, no gap changes by more than that.
        let off = 4.0 * (from.off() + to.off());
        let widest = Rough::certain(widest, off);
        let over = widest
            .sub(&Rough::exact(&spacing.at_most.value))
            .beyond(0.0)?;
        Some(over > 0)
    }
}

impl<'r> Readings<'r> {
    /// The value of a measure of an item at a glance, its numbers added to those seen.
    fn glance(
        &mut self,
        item: &'r Item,
        slot: MeasureId,
        (measure, plausible): (&Measure, Plausible),
        coverage: &Coverage,
        glances: &mut Glances<'r>,
    ) -> Option<Seen> {
        let measured = item.measures.get(slot.index())?.as_ref()?;
        let Found::Series(series) = &measured.found else {
            return None;
        };
        let series = series.iter().find(|one| !one.second)?;
        let start = glances.end();
        match &series.content {
            Content::Places(_) => {
                let asked = (measure, plausible);
                self.glance_places((item, slot), series, asked, coverage, &mut glances.seen)?;
                let run = glances.run_from(start);
                // Of a measure that is not taken at places, the first counts.
                let first = Run {
                    to: start + 1,
                    ..run
                };
                match (glances.list(run).is_empty(), measure.placed) {
                    (true, _) => None,
                    (false, true) => Some(Seen::Places(run)),
                    (false, false) => Some(Seen::Number(first)),
                }
            }
            Content::Sections(_) if measure.placed => {
                let of = (item, slot);
                self.glance_sections(of, series, measure, coverage, &mut glances.seen)?;
                Some(Seen::Bevels(glances.run_from(start)))
            }
            Content::Sections(_)
            | Content::Profile(_)
            | Content::Line(_)
            | Content::LoadTest(_)
            | Content::Outline(_) => None,
        }
    }

    fn glance_places(
        &mut self,
        of: (&Item, MeasureId),
        series: &'r Series,
        (measure, plausible): (&Measure, Plausible),
        coverage: &Coverage,
        seen: &mut Vec<Glance<'r>>,
    ) -> Option<()> {
        let Content::Places(places) = &series.content else {
            return None;
        };
        let errors = self.rough_errors(series, measure)?;
        let evidence = self.evidence(series, of, measure);
        let mut pool = RoughPool::default();
        let mut samples = SmallVec::<[_; 8]>::new();
        for place in places {
            let mut outside = false;
            let mut one_sided = false;
            let readings = place.readings.iter().map(|one| {
                let value = one.value.to_f64();
                one_sided |= one.bound.is_some();
                // The nearest floating-point numbers stand in the order of the numbers; only those that
                // are the same need a closer look.
                outside |= plausible.is_some_and(|(low, high)| {
                    value < low
                        || value > high
                        || ((value == low || value == high) && implausible(one, measure))
                });
                value
            });
            let sample = pool.add(readings)?;
            if one_sided {
                return None;
            }
            samples.push((sample, outside && place.confirmed_by.is_none()));
        }
        let k = pool.factor(coverage);
        let exact = series.with == With::Exact;
        for (place, (sample, implausible)) in places.iter().zip(&samples) {
            let rough = if exact {
                Rough::of_exact_sample(sample, &pool)
            } else {
                Rough::of_sample(sample, &pool, &errors, k)
            };
            let evidence = if *implausible {
                evidence.and(Evidence::IMPLAUSIBLE)
            } else {
                evidence
            };
            seen.push(Glance {
                rough,
                evidence,
                readings: sample.n(),
                place: Some(&place.place),
            });
        }
        Some(())
    }

    fn glance_sections(
        &mut self,
        of: (&Item, MeasureId),
        series: &'r Series,
        measure: &Measure,
        coverage: &Coverage,
        seen: &mut Vec<Glance<'r>>,
    ) -> Option<()> {
        let Content::Sections(places) = &series.content else {
            return None;
        };
        let errors = self.rough_errors(series, measure)?;
        let k = RoughPool::default().factor(coverage);
        let evidence = self.evidence(series, of, measure);
        let mut single = |reading: &Reading, place: &'r Where| {
            if reading.bound.is_some() {
                return None;
            }
            let mut pool = RoughPool::default();
            let sample = pool.add(std::iter::once(reading.value.to_f64()))?;
            let rough = if series.with == With::Exact {
                Rough::of_exact_sample(&sample, &pool)
            } else {
                let errors = errors.with_resolution(reading.resolution.to_f64());
                Rough::of_sample(&sample, &pool, &errors, k)
            };
            seen.push(Glance {
                rough,
                evidence,
                readings: 1,
                place: Some(place),
            });
            Some(())
        };
        for (number, place) in places.iter().enumerate() {
            let before = places.iter().take(number);
            if before
                .map(|one| &one.place)
                .any(|one| same_place(one, &place.place))
            {
                return None;
            }
            let EdgeAcross::Bevels { port, starboard } = &place.edge else {
                return None;
            };
            single(port, &place.place)?;
            single(starboard, &place.place)?;
        }
        Some(())
    }
}
