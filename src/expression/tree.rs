//! The tree of an expression with its names resolved to slots and its types checked.

use crate::quantity::{DateSpan, Dimension, Exact, Unit};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, DerivedId, HoldingId, MeasureId, PartId, TraitId};

/// A checked expression: what it yields, and the tree.
#[derive(Clone, Debug)]
pub struct Expression {
    /// The text as written.
    pub text: String,
    /// Where the text stands in its file.
    pub span: Span,
    /// What it yields.
    pub yields: Yield,
    /// The tree.
    pub root: Node,
}

/// What an expression yields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Yield {
    /// The type of its value.
    pub kind: Type,
    /// Whether there is a value for each place rather than one.
    pub placed: bool,
}

/// The types of the rules language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Type {
    /// A number with a dimension. A position on the item is a length with its own origin.
    Quantity(Dimension),
    /// A count: a number that is a range when items are in doubt.
    Count,
    /// One of the choices of a trait.
    Choice(PartId, TraitId),
    /// One of the event levels.
    EventLevel,
    /// A day, or an interval of days.
    Date,
    /// Yes or no as a declared or looked-at answer (a flag, a `yes_no` measure, a constant).
    YesNo,
    /// The truth of a condition.
    Truth,
    /// The profile of an edge.
    Profile,
    /// A line along a flank.
    Line,
    /// A section across an edge.
    Section,
}

/// Whose thing a name means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scope {
    /// The item under judgement; inside `where` and `over`, the item counted.
    Own,
    /// The boat: `boat.built`, and bare names in a rule on the boat.
    Boat,
    /// A single part of the boat: `plank.length`.
    One(HoldingId),
}

/// A node with its place in the file.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where it stands.
    pub span: Span,
    /// What it is.
    pub op: Op,
}

/// What a node is. Closed: a new kind makes the compiler name every place to visit.
#[derive(Clone, Debug)]
pub enum Op {
    /// A quantity as written: value in base units and the unit of the text.
    Quantity {
        /// Base units.
        value: Exact,
        /// The unit as written.
        unit: Unit,
    },
    /// A day, month or year as written.
    Date(DateSpan),
    /// `yes` or `no`.
    YesNo(bool),
    /// A measure of an item.
    Measure(Scope, MeasureId),
    /// A trait of an item.
    Trait(Scope, TraitId),
    /// A derived value of an item.
    Derived(Scope, DerivedId),
    /// `event.level`.
    EventLevel,
    /// `event.day`.
    EventDay,
    /// `day`: the day of the check.
    Day,
    /// `-x`.
    Negate(Box<Node>),
    /// `x + y`, `x - y`, `x * y`, `x / y`.
    Arithmetic(Arithmetic, Box<Node>, Box<Node>),
    /// `x < y` and its kin, over quantities, counts or dates.
    Compare(Comparison, Box<Node>, Box<Node>),
    /// `trait is [not] choice`, `is one of (…)`, `is none of (…)`.
    IsChoice {
        /// A trait of choices.
        subject: Box<Node>,
        /// The choices; `None` is the silent `other`.
        choices: Vec<Option<ChoiceId>>,
        /// `is not`, `is none of`.
        negated: bool,
    },
    /// `event.level is [not] …`.
    IsLevel {
        /// The levels.
        levels: Vec<ChoiceId>,
        /// `is not`, `is none of`.
        negated: bool,
    },
    /// Two declared things compared by `is`: two choices of like traits, two answers, two dates.
    IsSame {
        /// Left side.
        left: Box<Node>,
        /// Right side.
        right: Box<Node>,
        /// `is not`.
        negated: bool,
    },
    /// A flag or an answer used as a condition.
    Truth(Box<Node>),
    /// `not x`.
    Not(Box<Node>),
    /// `x and y and …`.
    And(Vec<Node>),
    /// `x or y or …`.
    Or(Vec<Node>),
    /// A function.
    Call(Function, Vec<Node>),
    /// `count(parts where condition)`.
    Count {
        /// The parts counted.
        over: HoldingId,
        /// The condition on each, with `Own` the counted item.
        condition: Option<Box<Node>>,
    },
    /// `sum(value over parts where condition)`.
    Sum {
        /// The parts summed over.
        over: HoldingId,
        /// The value of each.
        value: Box<Node>,
        /// The condition on each.
        condition: Option<Box<Node>>,
    },
}

/// The four operations.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Arithmetic {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
}

/// The four comparisons.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Comparison {
    /// `<`
    Less,
    /// `<=`
    LessOrEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterOrEqual,
}

/// The functions of the language.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Function {
    /// `abs(x)`
    Abs,
    /// `min(x, y, …)`
    Min,
    /// `max(x, y, …)`
    Max,
    /// `lowest(m)`: the least place of a placed value.
    Lowest,
    /// `highest(m)`: the greatest place of a placed value.
    Highest,
    /// `flat_length(profile, gap)`
    FlatLength,
    /// `forward_flat(profile, gap)`
    ForwardFlat,
    /// `aft_flat(profile, gap)`
    AftFlat,
    /// `straightness(line)`
    Straightness,
    /// `included_angle(section)`
    IncludedAngle,
    /// `bevel_difference(section)`
    BevelDifference,
}
