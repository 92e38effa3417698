//! Numbers for measures, so that an expression has a wanted value exactly.

use super::fraction::Fraction;
use super::world::{Frame, LoadKind, Var, What, World};
use crate::expression::{Arithmetic, Function, Node, Op, Scope};
use crate::quantity::{Dimension, Exact, Ties};
use crate::rules::RulesFile;
use crate::vocabulary::{Measure, MeasureKind, QuantityKind};

/// Where in its range a number that is free is put first, in tenths, and where next.
const TRIED: [i64; 9] = [5, 6, 4, 7, 3, 8, 2, 9, 1];

/// In how many ways the others are put: all at the same tenth, each at the next one, each at the next but one.
const SHIFTS: usize = 3;

/// No number of a case has more digits after the point, in base units.
const DECIMALS: usize = 8;

/// Which way `abs`, `min` and `max` of the unknown are taken, one bit each.
struct Turns {
    bits: u32,
    used: u32,
}

impl Turns {
    fn next(&mut self) -> bool {
        let turn = self.bits >> self.used.min(31) & 1 == 1;
        self.used += 1;
        turn
    }
}

/// Chooses numbers by the vocabulary of one version.
#[derive(Clone, Copy)]
pub(super) struct Solver<'r> {
    pub rules: &'r RulesFile,
}

impl<'r> Solver<'r> {
    /// The measure of a number.
    pub fn measure(&self, var: &Var) -> Option<&'r Measure> {
        let part = self.rules.vocabulary.part(var.of.part)?;
        part.measures.get(var.measure.index())
    }

    /// The numbers that an expression is made of; `None` where it is made of something that no number is
    /// chosen for.
    pub fn numbers(&self, node: &Node, frame: Frame) -> Option<Vec<Var>> {
        let mut found: Vec<Var> = Vec::new();
        self.collect(node, frame, &mut found)?;
        Some(found)
    }

    fn collect(&self, node: &Node, frame: Frame, found: &mut Vec<Var>) -> Option<()> {
        let mut add = |var: Var| {
            if !found.contains(&var) {
                found.push(var);
            }
        };
        match &node.op {
            Op::Quantity { .. } => {}
            Op::Measure(scope, measure) => {
                let of = frame.resolve(*scope, self.rules)?;
                let var = Var {
                    of,
                    measure: *measure,
                    what: What::Value,
                };
                if !matches!(self.measure(&var)?.kind, MeasureKind::Quantity(_)) {
                    return None;
                }
                add(var);
            }
            Op::Derived(scope, slot) => {
                let of = frame.resolve(*scope, self.rules)?;
                let derived = self.rules.derived_value(of.part, *slot)?;
                self.collect(&derived.root, of, found)?;
            }
            Op::Negate(inner) => self.collect(inner, frame, found)?,
            Op::Arithmetic(_, left, right) => {
                self.collect(left, frame, found)?;
                self.collect(right, frame, found)?;
            }
            Op::Call(function, arguments) => match self.structured(*function, arguments, frame)? {
                Some(list) => list.into_iter().for_each(add),
                None => {
                    for argument in arguments {
                        self.collect(argument, frame, found)?;
                    }
                }
            },
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
            | Op::Count { .. } => return None,
            // A sum over items that are not there is nothing.
            Op::Sum { .. } => {}
        }
        Some(())
    }

    /// The numbers behind a function of a structured measure; `Some(None)` for a function of numbers.
    #[allow(clippy::option_option)]
    fn structured(
        &self,
        function: Function,
        arguments: &[Node],
        frame: Frame,
    ) -> Option<Option<Vec<Var>>> {
        let whats = match function {
            Function::Abs | Function::Min | Function::Max => return Some(None),
            // All places are alike where they are not those of one measure.
            Function::Lowest | Function::Highest => {
                let Some(Op::Measure(scope, measure)) = arguments.first().map(|one| &one.op) else {
                    return Some(None);
                };
                let of = frame.resolve(*scope, self.rules)?;
                let what = if function == Function::Lowest {
                    What::Least
                } else {
                    What::Greatest
                };
                let measure = *measure;
                return Some(Some(vec![Var { of, measure, what }]));
            }
            Function::FlatLength => {
                let gap = arguments.get(1)?.constant()?;
                vec![What::Forward(gap.clone()), What::Aft(gap)]
            }
            Function::ForwardFlat => vec![What::Forward(arguments.get(1)?.constant()?)],
            Function::AftFlat => vec![What::Aft(arguments.get(1)?.constant()?)],
            Function::Straightness => vec![What::Bend],
            Function::IncludedAngle | Function::BevelDifference => {
                vec![What::Port, What::Starboard]
            }
            Function::Stiffness => vec![What::Stiffness],
            Function::DeflectionAt => {
                let load = arguments.get(1)?;
                let mass = matches!(load.op, Op::Quantity { unit, .. } if unit.dimension() == Dimension::MASS);
                let kind = if mass {
                    LoadKind::Mass
                } else {
                    LoadKind::Force
                };
                vec![What::Sinks(load.constant()?, kind)]
            }
            Function::Area => vec![What::Area],
            // Which leaves or stations give a wanted gap, radius or depth is left to whoever writes cases.
            Function::GapAt | Function::CrownRadius | Function::Hollow => return None,
            // So is a reading that a table or a temperature turns into a wanted number.
            Function::ConvertedHardness { .. } | Function::At20Degrees { .. } => return None,
        };
        let Op::Measure(scope, measure) = arguments.first()?.op else {
            return None;
        };
        let of = frame.resolve(scope, self.rules)?;
        let var = |what| Var { of, measure, what };
        Some(Some(whats.into_iter().map(var).collect()))
    }

    /// What an expression comes to in a world, exactly.
    pub fn value(&self, node: &Node, frame: Frame, world: &World) -> Option<Exact> {
        let mut turns = Turns { bits: 0, used: 0 };
        self.fraction(node, frame, world, None, &mut turns)?.value()
    }

    fn fraction(
        &self,
        node: &Node,
        frame: Frame,
        world: &World,
        unknown: Option<&Var>,
        turns: &mut Turns,
    ) -> Option<Fraction> {
        let of_var = |var: &Var| {
            if Some(var) == unknown {
                return Some(Fraction::unknown());
            }
            world.number(var).cloned().map(Fraction::constant)
        };
        match &node.op {
            Op::Quantity { value, .. } => Some(Fraction::constant(value.clone())),
            Op::Measure(scope, measure) => of_var(&Var {
                of: frame.resolve(*scope, self.rules)?,
                measure: *measure,
                what: What::Value,
            }),
            Op::Derived(scope, slot) => {
                let of = frame.resolve(*scope, self.rules)?;
                let derived = self.rules.derived_value(of.part, *slot)?;
                self.fraction(&derived.root, of, world, unknown, turns)
            }
            Op::Negate(inner) => Some(self.fraction(inner, frame, world, unknown, turns)?.neg()),
            Op::Arithmetic(operation, left, right) => {
                let left = self.fraction(left, frame, world, unknown, turns)?;
                let right = self.fraction(right, frame, world, unknown, turns)?;
                match operation {
                    Arithmetic::Add => left.add(&right),
                    Arithmetic::Subtract => left.add(&right.neg()),
                    Arithmetic::Multiply => left.mul(&right),
                    Arithmetic::Divide => left.div(&right),
                }
            }
            Op::Call(function, arguments) => {
                let parts: Vec<Fraction> = match self.structured(*function, arguments, frame)? {
                    Some(vars) => vars.iter().map(of_var).collect::<Option<_>>()?,
                    None => arguments
                        .iter()
                        .map(|one| self.fraction(one, frame, world, unknown, turns))
                        .collect::<Option<_>>()?,
                };
                call(*function, parts, turns)
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
            | Op::Count { .. } => None,
            Op::Sum { over, value, .. } => {
                let items = world.many.iter().find(|(holding, _)| holding == over);
                let of = one_of_many(self, *over)?;
                let each = items.into_iter().flat_map(|(_, items)| items);
                let each = each.map(|item| self.value(value, of, item));
                each.sum::<Option<Exact>>().map(Fraction::constant)
            }
        }
    }

    /// A world, made of this one, in which an expression, less another one if there is one, is exactly
    /// `target`. Only numbers at places are changed where `placed` says so.
    pub fn reach(
        &self,
        (node, less): (&Node, Option<&Node>),
        frame: Frame,
        target: &Exact,
        world: &World,
        placed: bool,
    ) -> Option<World> {
        let mut vars = self.numbers(node, frame)?;
        if let Some(less) = less {
            for var in self.numbers(less, frame)? {
                if !vars.contains(&var) {
                    vars.push(var);
                }
            }
        }
        let total = |world: &World| {
            let value = self.value(node, frame, world)?;
            match less {
                Some(less) => Some(value.sub(&self.value(less, frame, world)?)),
                None => Some(value),
            }
        };
        let starts =
            (0..SHIFTS).flat_map(|shift| (0..TRIED.len()).map(move |start| (shift, start)));
        for (shift, start) in starts {
            for unknown in &vars {
                if world.number(unknown).is_some() || (placed && !self.measure(unknown)?.placed) {
                    continue;
                }
                let mut chosen = world.clone();
                for (at, var) in vars.iter().enumerate().filter(|(_, var)| *var != unknown) {
                    if chosen.number(var).is_none() {
                        let tenths = TRIED.iter().cycle().nth(start + shift * at)?;
                        let value = self.usual(var, *tenths)?;
                        chosen.numbers.push((var.clone(), value));
                    }
                }
                for bits in 0..8 {
                    let mut turns = Turns { bits, used: 0 };
                    let found = self.fraction(node, frame, &chosen, Some(unknown), &mut turns);
                    let found = match (found, less) {
                        (Some(found), Some(less)) => {
                            let less =
                                self.fraction(less, frame, &chosen, Some(unknown), &mut turns);
                            less.and_then(|less| found.add(&less.neg()))
                        }
                        (found, _) => found,
                    };
                    let solved = found.and_then(|found| found.solve(target));
                    if let Some(solved) = solved.filter(|value| self.may_be(unknown, value)) {
                        let reached = chosen.and_number(unknown, &solved)?;
                        if total(&reached).as_ref() == Some(target) && in_order(&reached) {
                            return Some(reached);
                        }
                    }
                    if bits + 1 >= 1 << turns.used.min(3) {
                        break;
                    }
                }
            }
        }
        None
    }

    /// Numbers for what an expression is made of, wherever they may lie.
    pub fn settle(&self, node: &Node, frame: Frame, world: &World) -> Option<World> {
        let mut chosen = world.clone();
        for var in self.numbers(node, frame)? {
            if chosen.number(&var).is_none() {
                let value = self.usual(&var, 5)?;
                chosen.numbers.push((var, value));
            }
        }
        Some(chosen)
    }

    /// Whether a record can say this number, in few digits and without being asked whether it is meant.
    fn may_be(&self, var: &Var, value: &Exact) -> bool {
        let Some(measure) = self.measure(var) else {
            return false;
        };
        if value
            .decimals_needed()
            .is_none_or(|digits| digits > DECIMALS)
        {
            return false;
        }
        let above_zero = value.signum() > 0;
        match (&var.what, measure.kind) {
            (What::Forward(_) | What::Aft(_) | What::Bend | What::Sinks(..), _) => {
                value.signum() >= 0
            }
            (What::Stiffness | What::Area, _) => above_zero,
            (What::Port | What::Starboard, _) => above_zero && *value < Exact::from_integer(90),
            (What::Value | What::Least | What::Greatest, MeasureKind::Quantity(kind)) => {
                let (plain, signed) = match kind {
                    QuantityKind::Position | QuantityKind::Temperature => (true, true),
                    QuantityKind::Number => (value.is_integer(), false),
                    QuantityKind::Angle => (*value <= Exact::from_integer(180), false),
                    QuantityKind::Length
                    | QuantityKind::Mass
                    | QuantityKind::Force
                    | QuantityKind::Area
                    | QuantityKind::Ratio
                    | QuantityKind::Stiffness
                    | QuantityKind::HardnessHrc
                    | QuantityKind::HardnessHv
                    | QuantityKind::HardnessHbw => (true, false),
                };
                match &measure.plausible {
                    Some((low, high)) => plain && value >= low && value <= high,
                    None => plain && (signed || above_zero),
                }
            }
            (What::Value | What::Least | What::Greatest, _) => false,
        }
    }

    /// A number that nobody wonders at: so many tenths up in what is plausible, in few digits.
    fn usual(&self, var: &Var, tenths: i64) -> Option<Exact> {
        let share = Exact::from_fraction(tenths, 10)?;
        let measure = self.measure(var)?;
        let half = match (&var.what, measure.kind) {
            (What::Value | What::Least | What::Greatest, MeasureKind::Quantity(kind)) => {
                if let Some((low, high)) = &measure.plausible {
                    let range = high.sub(low);
                    let step = Exact::power_of_ten(range.leading_exponent() - 1);
                    let value = low.add(&range.mul(&share));
                    let rounded = value.round_to_multiple(&step, Ties::Even);
                    return Some(rounded.max(low.clone()).min(high.clone()));
                }
                match kind {
                    QuantityKind::Length | QuantityKind::Position => 100,
                    QuantityKind::Angle | QuantityKind::HardnessHrc => 50,
                    QuantityKind::Mass => 10,
                    QuantityKind::Force | QuantityKind::Area => 1_000_000,
                    QuantityKind::Ratio => 1,
                    QuantityKind::Stiffness => 100_000,
                    QuantityKind::Temperature => 290,
                    QuantityKind::HardnessHv | QuantityKind::HardnessHbw => 400,
                    QuantityKind::Number => 10,
                }
            }
            (What::Value | What::Least | What::Greatest, _) => return None,
            (What::Sinks(..), _) => 50,
            (What::Stiffness, _) => 100_000,
            (What::Area, _) => 10_000_000,
            (What::Forward(_) | What::Aft(_), _) => 200,
            (What::Bend, _) => 1,
            (What::Port | What::Starboard, _) => 84,
        };
        let value = share.mul(&Exact::from_integer(half));
        let whole = matches!(measure.kind, MeasureKind::Quantity(QuantityKind::Number));
        Some(if whole {
            value.floor().max(Exact::ONE)
        } else {
            value
        })
    }
}

/// Whether the least of the places of a measure is no more than the greatest.
fn in_order(world: &World) -> bool {
    let least = world
        .numbers
        .iter()
        .filter(|(var, _)| var.what == What::Least);
    let mut pairs = least.filter_map(|(var, least)| {
        let greatest = Var {
            what: What::Greatest,
            ..var.clone()
        };
        Some((least, world.number(&greatest)?))
    });
    pairs.all(|(least, greatest)| least <= greatest)
}

fn call(function: Function, parts: Vec<Fraction>, turns: &mut Turns) -> Option<Fraction> {
    let mut parts = parts.into_iter();
    let first = parts.next()?;
    match function {
        Function::Abs => match first.value() {
            Some(value) => Some(Fraction::constant(value.abs())),
            None if turns.next() => Some(first.neg()),
            None => Some(first),
        },
        Function::Min | Function::Max => parts.try_fold(first, |one, other| {
            let less = match (one.value(), other.value()) {
                (Some(one), Some(other)) => one <= other,
                // One of them is taken and found out later to be the wrong one, or not.
                _ => turns.next(),
            };
            Some(if less == (function == Function::Min) {
                one
            } else {
                other
            })
        }),
        // All places of a case that asks for the least or the greatest of them are alike.
        Function::Lowest
        | Function::Highest
        | Function::Straightness
        | Function::Stiffness
        | Function::DeflectionAt
        | Function::Area => Some(first),
        Function::FlatLength | Function::IncludedAngle => match parts.next() {
            Some(second) => first.add(&second),
            None => None,
        },
        Function::ForwardFlat | Function::AftFlat => Some(first),
        Function::GapAt
        | Function::CrownRadius
        | Function::Hollow
        | Function::ConvertedHardness { .. }
        | Function::At20Degrees { .. } => None,
        Function::BevelDifference => {
            let difference = first.add(&parts.next()?.neg())?;
            match difference.value() {
                Some(value) => Some(Fraction::constant(value.abs())),
                None if turns.next() => Some(difference.neg()),
                None => Some(difference),
            }
        }
    }
}

/// The scope under which the items of a holding are looked at.
pub(super) fn one_of_many(
    solver: &Solver<'_>,
    holding: crate::vocabulary::HoldingId,
) -> Option<Frame> {
    let found = solver.rules.vocabulary.holding(holding)?;
    Some(Frame {
        own: Scope::Own,
        part: found.part,
    })
}
