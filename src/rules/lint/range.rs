//! What a value can be at all: an interval around everything that a record could make of it.
//!
//! The domain is that of the comparison of versions: lengths, masses, forces, areas and stiffnesses are not
//! below 0, angles lie from 0 to 180 degrees, positions and plain numbers are free. What is plausible is no
//! part of it. An interval is never too narrow: each name is taken to be free of all others, so that "nothing
//! meets it" and "everything meets it" are sure.

use crate::expression::{Arithmetic, Function, Node, Op};
use crate::quantity::{Exact, Unit};
use crate::rules::RulesFile;
use crate::vocabulary::{MeasureKind, PartId, QuantityKind};

/// An interval, ends included; `None` is without end.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Range {
    /// The least value, base units.
    pub low: Option<Exact>,
    /// The greatest value, base units.
    pub high: Option<Exact>,
}

impl Range {
    fn point(value: Exact) -> Range {
        Range {
            low: Some(value.clone()),
            high: Some(value),
        }
    }

    fn from_zero() -> Range {
        Range {
            low: Some(Exact::ZERO),
            high: None,
        }
    }

    fn angle() -> Range {
        Range {
            low: Some(Exact::ZERO),
            high: Some(Unit::DEG.to_base(&Exact::from_integer(180))),
        }
    }

    fn neg(self) -> Range {
        Range {
            low: self.high.map(|end| end.neg()),
            high: self.low.map(|end| end.neg()),
        }
    }

    fn add(self, other: Range) -> Range {
        let both = |a: Option<Exact>, b: Option<Exact>| Some(a?.add(&b?));
        Range {
            low: both(self.low, other.low),
            high: both(self.high, other.high),
        }
    }

    fn is_not_negative(&self) -> bool {
        self.low.as_ref().is_some_and(|low| low.signum() >= 0)
    }

    /// Both factors from 0 up: the ends multiply. Constants of either sign turn the ends.
    fn mul(self, other: Range) -> Range {
        if let (Some(low), Some(high)) = (&self.low, &self.high)
            && low == high
        {
            return other.times(low);
        }
        if let (Some(low), Some(high)) = (&other.low, &other.high)
            && low == high
        {
            return self.times(low);
        }
        if self.is_not_negative() && other.is_not_negative() {
            let both = |a: Option<Exact>, b: Option<Exact>| Some(a?.mul(&b?));
            return Range {
                low: both(self.low, other.low),
                high: both(self.high, other.high),
            };
        }
        Range::default()
    }

    fn times(self, factor: &Exact) -> Range {
        let scaled = |end: Option<Exact>| end.map(|end| end.mul(factor));
        let (low, high) = (scaled(self.low), scaled(self.high));
        match factor.signum() {
            0 => Range::point(Exact::ZERO),
            1.. => Range { low, high },
            _ => Range {
                low: high,
                high: low,
            },
        }
    }

    fn div(self, other: Range) -> Range {
        if let (Some(low), Some(high)) = (&other.low, &other.high)
            && low == high
        {
            return match Exact::ONE.checked_div(low) {
                Some(factor) => self.times(&factor),
                None => Range::default(),
            };
        }
        if self.is_not_negative() && other.is_not_negative() {
            return Range::from_zero();
        }
        Range::default()
    }

    fn abs(self) -> Range {
        if self.is_not_negative() {
            return self;
        }
        let high = match (&self.low, &self.high) {
            (Some(low), Some(high)) => Some(low.abs().max(high.abs())),
            _ => None,
        };
        Range {
            low: Some(Exact::ZERO),
            high,
        }
    }

    fn least_of(self, other: Range) -> Range {
        let low = match (self.low, other.low) {
            (Some(a), Some(b)) => Some(a.min(b)),
            _ => None,
        };
        let high = match (self.high, other.high) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        Range { low, high }
    }

    fn greatest_of(self, other: Range) -> Range {
        self.neg().least_of(other.neg()).neg()
    }
}

/// What a value can be.
pub(super) fn range_of(node: &Node, own: PartId, rules: &RulesFile) -> Range {
    let below = |node: &Node| range_of(node, own, rules);
    match &node.op {
        Op::Quantity { value, .. } => Range::point(value.clone()),
        Op::Measure(scope, slot) => {
            let part = scope.part(own, &rules.vocabulary);
            let part = part.and_then(|part| rules.vocabulary.part(part));
            let measure = part.and_then(|part| part.measures.get(slot.index()));
            measure.map_or_else(Range::default, |measure| range_of_kind(measure.kind))
        }
        Op::Derived(scope, slot) => {
            let part = scope.part(own, &rules.vocabulary);
            let derived = part.and_then(|part| Some((part, rules.derived_value(part, *slot)?)));
            derived.map_or_else(Range::default, |(part, expression)| {
                range_of(&expression.root, part, rules)
            })
        }
        Op::Negate(inner) => below(inner).neg(),
        Op::Arithmetic(operation, left, right) => {
            let (left, right) = (below(left), below(right));
            match operation {
                Arithmetic::Add => left.add(right),
                Arithmetic::Subtract => left.add(right.neg()),
                Arithmetic::Multiply => left.mul(right),
                Arithmetic::Divide => left.div(right),
            }
        }
        Op::Call(function, arguments) => {
            let mut each = arguments.iter().map(below);
            let first = each.next().unwrap_or_default();
            range_of_call(*function, first, each)
        }
        Op::Count { .. } => Range::from_zero(),
        Op::Sum { value, over, .. } => {
            let part = rules.vocabulary.holding(*over).map(|one| one.part);
            let each = part.map(|part| range_of(value, part, rules));
            match each {
                Some(each) if each.is_not_negative() => Range::from_zero(),
                Some(_) | None => Range::default(),
            }
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
        | Op::Or(_) => Range::default(),
    }
}

fn range_of_call(function: Function, first: Range, rest: impl Iterator<Item = Range>) -> Range {
    match function {
        Function::Abs => first.abs(),
        Function::Min => rest.fold(first, Range::least_of),
        Function::Max => rest.fold(first, Range::greatest_of),
        Function::Lowest | Function::Highest => first,
        Function::FlatLength
        | Function::ForwardFlat
        | Function::AftFlat
        | Function::CrownRadius
        | Function::Hollow
        | Function::Straightness
        | Function::Stiffness
        | Function::Area => Range::from_zero(),
        // Of a hollow edge the gap can lie below the straight edge that was read against; a load can lift as
        // well as press.
        Function::GapAt | Function::DeflectionAt => Range::default(),
        Function::IncludedAngle | Function::BevelDifference => Range::angle(),
        Function::ConvertedHardness { .. } => Range::from_zero(),
        // By a share of a thousandth or so, which no contradiction hangs on.
        Function::At20Degrees { .. } => Range::default(),
    }
}

fn range_of_kind(kind: MeasureKind) -> Range {
    match kind {
        MeasureKind::Quantity(quantity) => match quantity {
            QuantityKind::Length
            | QuantityKind::Mass
            | QuantityKind::Force
            | QuantityKind::Area
            | QuantityKind::Stiffness
            | QuantityKind::HardnessHrc
            | QuantityKind::HardnessHv
            | QuantityKind::HardnessHbw => Range::from_zero(),
            QuantityKind::Angle => Range::angle(),
            QuantityKind::Position
            | QuantityKind::Ratio
            | QuantityKind::Temperature
            | QuantityKind::Number => Range::default(),
        },
        MeasureKind::YesNo
        | MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => Range::default(),
    }
}

/// Visits every node of an expression on an item, derived values written out.
pub(super) fn written_out(
    rules: &RulesFile,
    node: &Node,
    own: PartId,
    visit: &mut dyn FnMut(&Node),
) {
    visit(node);
    if let Op::Derived(scope, slot) = &node.op {
        let part = scope.part(own, &rules.vocabulary);
        if let Some((part, derived)) =
            part.and_then(|part| Some((part, rules.derived_value(part, *slot)?)))
        {
            written_out(rules, &derived.root, part, visit);
        }
    }
    if let Op::Count { .. } | Op::Sum { .. } = &node.op {
        return;
    }
    for child in node.children() {
        written_out(rules, child, own, visit);
    }
}
