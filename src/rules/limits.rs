//! Limits as typed data: rows, tables of rows, bounds, listed options.

use jiff::civil::Date;

use crate::expression::{Expression, Op, Type};
use crate::quantity::{Exact, Quantity, Unit};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, Name, TraitId, ZoneId};

/// The limits of a rule.
#[derive(Clone, Debug)]
pub enum Limits {
    /// One row for all.
    Direct(LimitRow),
    /// A row for each choice of a trait of the item.
    ByTrait {
        /// The trait.
        by: TraitId,
        /// Where it is named.
        span: Span,
        /// The rows in file order.
        rows: Vec<(ChoiceId, LimitRow)>,
    },
    /// A row for each choice of several traits of the item together.
    ByTraits {
        /// The traits, outermost first.
        by: Vec<TraitId>,
        /// Where they are named.
        span: Span,
        /// The rows in file order, each with a choice of every trait.
        rows: Vec<(Vec<ChoiceId>, LimitRow)>,
    },
    /// A row for each zone: a place meets the row of every zone that it lies in.
    ByZone {
        /// Where `zone` is named.
        span: Span,
        /// The rows in file order; the one without a zone is `elsewhere`.
        rows: Vec<(Option<ZoneId>, LimitRow)>,
    },
    /// A row for each event level.
    ByLevel {
        /// Where `event.level` is named.
        span: Span,
        /// The rows in file order.
        rows: Vec<(ChoiceId, LimitRow)>,
    },
}

/// One row of limits.
#[derive(Clone, Debug)]
pub struct LimitRow {
    /// Where the row stands.
    pub span: Span,
    /// What it asks.
    pub demand: Demand,
}

/// What a row of limits asks.
#[derive(Clone, Debug)]
pub enum Demand {
    /// One bound or two.
    Bounds(Vec<Bound>),
    /// A declared or counted thing must be just so.
    Equals(Equals, Span),
    /// Nothing may be declared but these choices.
    Only(Vec<ChoiceId>, Span),
    /// None of these choices may be declared.
    Without(Vec<ChoiceId>, Span),
    /// One of some listed options must be met in all its columns.
    Options(Box<Options>),
    /// `limit: none`: only in `instead`.
    None,
}

impl Demand {
    /// The bounds, where it asks for bounds.
    pub fn bounds(&self) -> &[Bound] {
        match self {
            Demand::Bounds(bounds) => bounds,
            Demand::Equals(..)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::Options(_)
            | Demand::None => &[],
        }
    }

    /// Everything in it that is computed on an item: limits, and the columns of options.
    pub fn expressions(&self) -> impl Iterator<Item = &Expression> {
        let columns: &[Column] = match self {
            Demand::Options(options) => &options.columns,
            Demand::Bounds(_)
            | Demand::Equals(..)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::None => &[],
        };
        let limits = self.bounds().iter().map(|bound| &bound.limit);
        limits.chain(columns.iter().map(|column| &column.value))
    }
}

/// Listed options: an item has to be one of them, in every column.
#[derive(Clone, Debug)]
pub struct Options {
    /// Where the word `options` stands.
    pub span: Span,
    /// What is compared.
    pub columns: Vec<Column>,
    /// The options in file order.
    pub rows: Vec<OptionRow>,
}

/// A column of listed options.
#[derive(Clone, Debug)]
pub struct Column {
    /// A measure or a derived value.
    pub value: Expression,
    /// How near a value must come.
    pub within: Within,
}

/// How near a value must come to a listed one; the border counts as near enough.
#[derive(Clone, Debug, PartialEq)]
pub enum Within {
    /// Just so.
    Exactly,
    /// A share of the listed value, 0 or above.
    Share(Quantity),
    /// A quantity of the value's dimension, 0 or above.
    Distance(Quantity),
}

impl Within {
    /// The largest difference from a listed value, base units.
    pub fn of(&self, listed: &Exact) -> Exact {
        match self {
            Within::Exactly => Exact::ZERO,
            Within::Share(share) => listed.abs().mul(&share.value),
            Within::Distance(distance) => distance.difference(),
        }
    }

    /// As it is written: `10 %`.
    pub fn as_written(&self) -> String {
        match self {
            Within::Exactly => "exactly".to_owned(),
            Within::Share(quantity) | Within::Distance(quantity) => quantity.as_written(),
        }
    }
}

/// One of the listed options.
#[derive(Clone, Debug)]
pub struct OptionRow {
    /// Its name: `t25`.
    pub name: Name,
    /// A value for each column, with its place in the file.
    pub values: Vec<(Quantity, Span)>,
}

/// A bound on a value.
#[derive(Clone, Debug)]
pub struct Bound {
    /// The word in the file.
    pub kind: BoundKind,
    /// A constant or an expression.
    pub limit: Expression,
    /// Where the limit stands.
    pub span: Span,
    /// What it comes to where values are rounded before they are compared.
    pub rounded: Option<Box<Rounded>>,
}

impl Bound {
    /// The limit that an unrounded value is decided against, base units; `None` where it is no constant.
    pub fn exact_limit(&self) -> Option<Exact> {
        match &self.rounded {
            Some(rounded) => Some(rounded.limit.clone()),
            None => self.limit.root.constant(),
        }
    }

    /// The unit that the limit is written in, else one that is usual for its dimension.
    pub fn unit(&self) -> Unit {
        let written = match &self.limit.root.op {
            Op::Quantity { unit, .. } => Some(*unit),
            _ => None,
        };
        let usual = || match self.limit.yields.kind {
            Type::Quantity(dimension) => dimension.likely_units().first().copied(),
            _ => None,
        };
        written.or_else(usual).unwrap_or(Unit::PLAIN)
    }

    /// The decimals that the limit is written with, where it is one number: `4.70 mm` has two.
    pub fn decimals(&self) -> Option<u8> {
        let written = Quantity::parse(&self.limit.text).ok()?;
        written.decimals
    }

    /// The bound that an unrounded value is decided against.
    pub fn exact_kind(&self) -> BoundKind {
        match &self.rounded {
            Some(rounded) => rounded.kind,
            None => self.kind,
        }
    }
}

/// A limit on a rounded value, as the limit on the unrounded one that says the same.
///
/// A value half a step between two multiples is rounded to the even multiple (ISO 80000-1, annex B, rule A).
#[derive(Clone, Debug)]
pub struct Rounded {
    /// The step, as written.
    pub to: Quantity,
    /// Whether the limit itself conforms.
    pub kind: BoundKind,
    /// The limit half a step away, base units.
    pub limit: Exact,
}

impl Rounded {
    /// The exact limit of a bound on a value that is rounded to a multiple of a step; `None` where the limit is
    /// no multiple of it, or the step is not above zero. Both in base units.
    pub fn new(kind: BoundKind, limit: &Exact, to: Quantity) -> Option<Rounded> {
        let step = to.difference();
        if step.signum() <= 0 {
            return None;
        }
        let half = Exact::from_integer(2);
        let multiple = limit.checked_div(&step).filter(Exact::is_integer)?;
        let even = multiple.checked_div(&half)?.is_integer();
        let half_step = step.checked_div(&half)?;
        // The tie lies between the limit and its neighbour, and goes to the even one of the two.
        let (limit, kind) = match (kind, even) {
            (BoundKind::AtLeast, true) => (limit.sub(&half_step), BoundKind::AtLeast),
            (BoundKind::AtLeast, false) => (limit.sub(&half_step), BoundKind::MoreThan),
            (BoundKind::AtMost, true) => (limit.add(&half_step), BoundKind::AtMost),
            (BoundKind::AtMost, false) => (limit.add(&half_step), BoundKind::LessThan),
            (BoundKind::MoreThan, true) => (limit.add(&half_step), BoundKind::MoreThan),
            (BoundKind::MoreThan, false) => (limit.add(&half_step), BoundKind::AtLeast),
            (BoundKind::LessThan, true) => (limit.sub(&half_step), BoundKind::LessThan),
            (BoundKind::LessThan, false) => (limit.sub(&half_step), BoundKind::AtMost),
        };
        Some(Rounded { to, kind, limit })
    }
}

/// The four bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BoundKind {
    /// The limit conforms.
    AtLeast,
    /// The limit conforms.
    AtMost,
    /// The limit does not conform.
    MoreThan,
    /// The limit does not conform.
    LessThan,
}

impl BoundKind {
    /// All four, in the order in which they are read.
    pub const ALL: [BoundKind; 4] = [
        BoundKind::AtLeast,
        BoundKind::MoreThan,
        BoundKind::AtMost,
        BoundKind::LessThan,
    ];

    /// The word in files: `at_least`.
    pub fn word(self) -> &'static str {
        match self {
            BoundKind::AtLeast => "at_least",
            BoundKind::AtMost => "at_most",
            BoundKind::MoreThan => "more_than",
            BoundKind::LessThan => "less_than",
        }
    }

    /// The words for people: `at least`.
    pub fn words(self) -> &'static str {
        match self {
            BoundKind::AtLeast => "at least",
            BoundKind::AtMost => "at most",
            BoundKind::MoreThan => "more than",
            BoundKind::LessThan => "less than",
        }
    }

    /// Whether values must lie above.
    pub fn is_lower(self) -> bool {
        match self {
            BoundKind::AtLeast | BoundKind::MoreThan => true,
            BoundKind::AtMost | BoundKind::LessThan => false,
        }
    }

    /// Whether the limit itself is outside.
    pub fn is_strict(self) -> bool {
        match self {
            BoundKind::MoreThan | BoundKind::LessThan => true,
            BoundKind::AtLeast | BoundKind::AtMost => false,
        }
    }
}

/// What `equals` asks.
#[derive(Clone, Debug, PartialEq)]
pub enum Equals {
    /// Yes or no.
    YesNo(bool),
    /// A choice of the value's trait.
    Choice(ChoiceId),
    /// A count.
    Count(i64),
}

/// Another limit for some equipment.
#[derive(Clone, Debug)]
pub struct Instead {
    /// For which.
    pub condition: Expression,
    /// Why, in the words of the class.
    pub because: String,
    /// The other limit.
    pub row: LimitRow,
    /// Whether a condition that is not proven leaves the main limit in force.
    pub unproven_takes_main: bool,
    /// The last day on which the row counts.
    pub until: Option<Date>,
}
