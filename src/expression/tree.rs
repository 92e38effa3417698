//! The tree of an expression with its names resolved to slots and its types checked.

use std::borrow::Cow;

use crate::quantity::{DateSpan, Dimension, Exact, HardnessScale, Material, Unit};
use crate::text::Span;
use crate::vocabulary::{
    ChoiceId, DerivedId, HoldingId, MeasureId, PartId, RoleId, TraitId, Vocabulary,
};

/// A checked expression: what it yields, and the tree.
#[derive(Clone, Debug)]
pub struct Expression {
    /// The text as written.
    pub text: String,
    /// Where the text stands in its file.
    pub span: Span,
    /// The part that [`Scope::Own`] means outside `where` and `over`.
    pub own: PartId,
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
    /// How many numbers it is computed from, with derived values written out. Exact numbers grow with
    /// each, so that there is a limit.
    pub numbers: u64,
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
    /// Some of the choices of a trait.
    AnyOf(PartId, TraitId),
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
    /// A test under load.
    LoadTest,
    /// An outline.
    Outline,
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
    /// The part in a role of the group under judgement: `port.pivot_height`.
    Role(RoleId),
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
    /// `x + y`, `x - y`, `x * y`, `x / y`. One of them may be a date: `date + n`, `date - n` with a
    /// constant whole number of days on the right; the value is then the date moved by n days.
    Arithmetic(Arithmetic, Box<Node>, Box<Node>),
    /// `x < y` and its kin, over quantities, counts or dates.
    Compare(Comparison, Box<Node>, Box<Node>),
    /// `trait is [not] choice`, `is one of (…)`, `is none of (…)`.
    IsChoice {
        /// A trait of choices: always an [`Op::Trait`].
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
    /// Two things compared by `is`: two choices of like traits (same slots), two answers, two dates, a
    /// count with a count or a constant number.
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
    /// `gap_at(profile, place)`: how far the edge stands over the straight edge there.
    GapAt,
    /// `crown_radius(profile)`: the radius of the edge.
    CrownRadius,
    /// `hollow(profile)`: the depth of the deepest concave place of the edge.
    Hollow,
    /// `straightness(line)`
    Straightness,
    /// `included_angle(section)`
    IncludedAngle,
    /// `bevel_difference(section)`
    BevelDifference,
    /// `stiffness(test)`
    Stiffness,
    /// `deflection_at(test, load)`
    DeflectionAt,
    /// `area(outline)`
    Area,
    /// `converted_hardness(hardness, scale)`: by the published table alone.
    ConvertedHardness {
        /// The scale of what was read.
        from: HardnessScale,
        /// The scale in brackets.
        to: HardnessScale,
    },
    /// `at_20_degrees(length, tape, item)` or `at_20_degrees(length, tape, item, temperature)`: without a
    /// temperature of its own, that of the session counts.
    At20Degrees {
        /// What the scale is made of.
        tape: Material,
        /// What the item is made of.
        item: Material,
    },
}

macro_rules! words {
    ($name:ident: $($variant:ident $({ $($fields:tt)* })? = $word:literal)*) => {
        impl $name {
            /// Every one with the word or sign it is written with. Of those that are told more by words in
            /// their brackets, one stands for all.
            pub const WORDS: &'static [(&'static str, $name)] =
                &[$(($word, $name::$variant $({ $($fields)* })?),)*];

            /// The word or sign it is written with.
            pub fn word(self) -> &'static str {
                match self { $($name::$variant { .. } => $word,)* }
            }

            /// The one of this word or sign.
            pub fn named(word: &str) -> Option<$name> {
                $name::WORDS.iter().find(|(known, _)| *known == word).map(|(_, one)| *one)
            }
        }
    };
}

words! { Arithmetic: Add = "+" Subtract = "-" Multiply = "*" Divide = "/" }

words! { Comparison: Less = "<" LessOrEqual = "<=" Greater = ">" GreaterOrEqual = ">=" }

words! { Function:
    Abs = "abs"
    Min = "min"
    Max = "max"
    Lowest = "lowest"
    Highest = "highest"
    FlatLength = "flat_length"
    ForwardFlat = "forward_flat"
    AftFlat = "aft_flat"
    GapAt = "gap_at"
    CrownRadius = "crown_radius"
    Hollow = "hollow"
    Straightness = "straightness"
    IncludedAngle = "included_angle"
    BevelDifference = "bevel_difference"
    Stiffness = "stiffness"
    DeflectionAt = "deflection_at"
    Area = "area"
    ConvertedHardness { from: HardnessScale::Hrc, to: HardnessScale::Hv } = "converted_hardness"
    At20Degrees { tape: Material::Steel, item: Material::Steel } = "at_20_degrees"
}

impl Function {
    /// The words that stand in the brackets behind the first value: not values, but what is looked up.
    pub fn told(self) -> Vec<&'static str> {
        match self {
            Function::ConvertedHardness { to, .. } => vec![to.word()],
            Function::At20Degrees { tape, item } => vec![tape.word(), item.word()],
            Function::Abs
            | Function::Min
            | Function::Max
            | Function::Lowest
            | Function::Highest
            | Function::FlatLength
            | Function::ForwardFlat
            | Function::AftFlat
            | Function::GapAt
            | Function::Straightness
            | Function::IncludedAngle
            | Function::BevelDifference
            | Function::Stiffness
            | Function::DeflectionAt
            | Function::Area
            | Function::CrownRadius
            | Function::Hollow => Vec::new(),
        }
    }
}

impl Type {
    /// The type with its article, for messages: "a length", "a choice", "a condition".
    pub fn in_words(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Type::Quantity(dimension) => return dimension.in_words(),
            Type::Count => "a count",
            Type::Choice(..) => "a choice",
            Type::AnyOf(..) => "a list of choices",
            Type::EventLevel => "an event level",
            Type::Date => "a date",
            Type::YesNo => "an answer of yes or no",
            Type::Truth => "a condition",
            Type::Profile => "a profile",
            Type::Line => "a line",
            Type::Section => "a section",
            Type::LoadTest => "a load test",
            Type::Outline => "an outline",
        })
    }

    /// The dimension of a number; counts are plain numbers.
    pub fn dimension(self) -> Option<Dimension> {
        match self {
            Type::Quantity(dimension) => Some(dimension),
            Type::Count => Some(Dimension::RATIO),
            Type::Choice(..)
            | Type::AnyOf(..)
            | Type::EventLevel
            | Type::Date
            | Type::YesNo
            | Type::Truth
            | Type::Profile
            | Type::Line
            | Type::Section
            | Type::LoadTest
            | Type::Outline => None,
        }
    }
}

impl Scope {
    /// The kind of part it means, where bare names are those of `own`.
    pub fn part(self, own: PartId, vocabulary: &Vocabulary) -> Option<PartId> {
        match self {
            Scope::Own => Some(own),
            Scope::Boat => Some(Vocabulary::BOAT),
            Scope::One(id) => vocabulary.holding(id).map(|holding| holding.part),
            Scope::Role(id) => vocabulary
                .part(own)
                .and_then(|group| group.role(id))
                .map(|role| role.part),
        }
    }
}

impl Node {
    /// The nodes directly below, in the order of the text.
    pub fn children(&self) -> Vec<&Node> {
        match &self.op {
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => Vec::new(),
            Op::Negate(child) | Op::Truth(child) | Op::Not(child) => vec![child],
            Op::IsChoice { subject, .. } => vec![subject],
            Op::Arithmetic(_, left, right)
            | Op::Compare(_, left, right)
            | Op::IsSame { left, right, .. } => vec![left, right],
            Op::And(children) | Op::Or(children) | Op::Call(_, children) => {
                children.iter().collect()
            }
            Op::Count { condition, .. } => condition.iter().map(Box::as_ref).collect(),
            Op::Sum {
                value, condition, ..
            } => std::iter::once(value)
                .chain(condition)
                .map(Box::as_ref)
                .collect(),
        }
    }

    /// Calls `visit` with every node from here down, each with the part that [`Scope::Own`] means there:
    /// `own` at the start, the counted part inside `where` and `over`.
    pub fn visit<'n>(
        &'n self,
        own: PartId,
        vocabulary: &Vocabulary,
        visit: &mut dyn FnMut(PartId, &'n Node),
    ) {
        visit(own, self);
        let below = if let Op::Count { over, .. } | Op::Sum { over, .. } = &self.op {
            vocabulary
                .holding(*over)
                .map_or(own, |holding| holding.part)
        } else {
            own
        };
        for child in self.children() {
            child.visit(below, vocabulary, visit);
        }
    }

    /// How many numbers one value here is computed from, where `derived` says it of a derived value. The
    /// sides of a condition are decided one by one: the larger one counts.
    pub fn numbers(
        &self,
        own: PartId,
        vocabulary: &Vocabulary,
        derived: &dyn Fn(PartId, DerivedId) -> u64,
    ) -> u64 {
        let inner = match &self.op {
            Op::Count { over, .. } | Op::Sum { over, .. } => vocabulary
                .holding(*over)
                .map_or(own, |holding| holding.part),
            _ => own,
        };
        let below = self.children();
        let each = below
            .into_iter()
            .map(|child| child.numbers(inner, vocabulary, derived));
        match &self.op {
            Op::Derived(scope, slot) => scope
                .part(own, vocabulary)
                .map_or(1, |part| derived(part, *slot)),
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => 1,
            Op::Compare(..)
            | Op::IsSame { .. }
            | Op::IsChoice { .. }
            | Op::And(_)
            | Op::Or(_)
            | Op::Not(_)
            | Op::Truth(_)
            | Op::Count { .. } => each.max().unwrap_or(1),
            Op::Negate(_) | Op::Arithmetic(..) | Op::Call(..) | Op::Sum { .. } => {
                each.fold(0, u64::saturating_add)
            }
        }
    }

    /// Whether anything here names `event.level` or `event.day`.
    pub fn names_event(&self) -> bool {
        matches!(self.op, Op::EventLevel | Op::EventDay | Op::IsLevel { .. })
            || self.children().into_iter().any(Node::names_event)
    }

    /// Whether nothing here depends on a record or an event: literals and what is computed from them.
    pub fn is_constant(&self) -> bool {
        let constant = match &self.op {
            Op::Quantity { .. } | Op::Date(_) | Op::YesNo(_) => true,
            Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. }
            | Op::Count { .. }
            | Op::Sum { .. } => false,
            Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_)
            | Op::Call(..) => true,
        };
        constant && self.children().into_iter().all(Node::is_constant)
    }

    /// The exact value of a constant made of numbers and the four operations, base units; `None` for
    /// everything else, and where it divides by zero.
    pub fn constant(&self) -> Option<Exact> {
        match &self.op {
            Op::Quantity { value, .. } => Some(value.clone()),
            Op::Negate(inner) => inner.constant().map(|value| value.neg()),
            Op::Arithmetic(operation, left, right) => {
                let (left, right) = (left.constant()?, right.constant()?);
                match operation {
                    Arithmetic::Add => Some(left.add(&right)),
                    Arithmetic::Subtract => Some(left.sub(&right)),
                    Arithmetic::Multiply => Some(left.mul(&right)),
                    Arithmetic::Divide => left.checked_div(&right),
                }
            }
            Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
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
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => None,
        }
    }
}
