//! Written tree to checked tree: every name resolved to its slot, every type and dimension checked.
//!
//! A piece with a problem yields nothing, and what stands on it is not blamed a second time; its other
//! pieces are still looked at.

use std::ops::Range;

use crate::quantity::{Dimension, Exact, Unit};
use crate::text::{Span, quoted};
use crate::vocabulary::{MeasureKind, PartId, TraitKind};

use super::names::{Meaning, Names, Place};
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Arithmetic, Comparison, Node, Op, Scope, Type, Yield};

/// A checked piece.
pub(super) struct Typed {
    pub node: Node,
    pub kind: Type,
    /// Whose places the value has, if it has several.
    pub placed: Option<Scope>,
}

pub(super) struct Checker<'a> {
    pub text: &'a str,
    pub names: Names<'a>,
    pub file: &'a dyn Fn(Range<usize>) -> Span,
    pub place: Place<'a>,
    pub problems: Vec<Problem>,
}

impl<'a> Checker<'a> {
    pub fn new(
        text: &'a str,
        names: Names<'a>,
        file: &'a dyn Fn(Range<usize>) -> Span,
    ) -> Checker<'a> {
        let place = Place {
            vocabulary: names.vocabulary,
            own: names.own,
            outer: None,
        };
        Checker {
            text,
            names,
            file,
            place,
            problems: Vec::new(),
        }
    }

    pub(super) fn slice(&self, range: &Range<usize>) -> &'a str {
        self.text.get(range.clone()).unwrap_or("")
    }

    pub(super) fn report(
        &mut self,
        code: &'static str,
        range: &Range<usize>,
        message: impl Into<String>,
    ) {
        self.problems
            .push(Problem::new(code, range.clone(), message));
    }

    pub(super) fn report_with(
        &mut self,
        code: &'static str,
        range: &Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems
            .push(Problem::new(code, range.clone(), message).help(help));
    }

    pub(super) fn node(&self, range: &Range<usize>, op: Op) -> Node {
        Node {
            span: (self.file)(range.clone()),
            op,
        }
    }

    pub(super) fn typed(
        &self,
        range: &Range<usize>,
        op: Op,
        kind: Type,
        placed: Option<Scope>,
    ) -> Option<Typed> {
        Some(Typed {
            node: self.node(range, op),
            kind,
            placed,
        })
    }

    /// Checks a piece; `None` where a problem was reported, or one is known elsewhere.
    pub fn check(&mut self, tree: &Syntax) -> Option<Typed> {
        let range = &tree.range;
        match &tree.kind {
            Kind::Broken(inside) => {
                for piece in inside {
                    self.check(piece);
                }
                None
            }
            Kind::Literal { quantity, .. } => {
                let op = Op::Quantity {
                    value: quantity.value.clone(),
                    unit: quantity.unit,
                };
                self.typed(range, op, Type::Quantity(quantity.unit.dimension()), None)
            }
            Kind::Date(date) => self.typed(range, Op::Date(*date), Type::Date, None),
            Kind::YesNo(yes) => self.typed(range, Op::YesNo(*yes), Type::YesNo, None),
            Kind::Name(words) => self.name(range, words),
            Kind::Call { name, arguments } => self.call(range, name, arguments),
            Kind::Negate(inner) => self.negate(range, inner),
            Kind::Arithmetic(operation, left, right) => {
                self.arithmetic(range, *operation, left, right)
            }
            Kind::Compare(comparison, left, right) => self.compare(range, *comparison, left, right),
            Kind::Is {
                left,
                right,
                negated,
                told,
            } => self.is(range, left, right, *negated, *told),
            Kind::IsOneOf {
                left,
                words,
                negated,
            } => self.is_one_of(range, left, words, *negated),
            Kind::Not(inner) => {
                let inner = self.condition(inner)?;
                let op = Op::Not(Box::new(inner.node));
                self.typed(range, op, Type::Truth, inner.placed)
            }
            Kind::And(operands) => self.joined(range, operands, Op::And),
            Kind::Or(operands) => self.joined(range, operands, Op::Or),
            Kind::Count { parts, condition } => {
                let (over, part) = self.parts(parts)?;
                let condition = self.condition_on(part, condition.as_deref());
                let op = Op::Count {
                    over,
                    condition: condition?,
                };
                self.typed(range, op, Type::Count, None)
            }
            Kind::Sum {
                value,
                parts,
                condition,
            } => self.sum(range, value, parts, condition.as_deref()),
        }
    }

    // ---- names

    fn name(&mut self, range: &Range<usize>, words: &[Word]) -> Option<Typed> {
        let Some(meaning) = self.place.meaning(words) else {
            self.problems.push(self.place.unknown(words));
            return None;
        };
        let vocabulary = self.place.vocabulary;
        match meaning {
            Meaning::EventLevel => self.typed(range, Op::EventLevel, Type::EventLevel, None),
            Meaning::EventDay => self.typed(range, Op::EventDay, Type::Date, None),
            Meaning::Day => self.typed(range, Op::Day, Type::Date, None),
            Meaning::Measure(scope, part, id) => {
                let measure = vocabulary.part(part)?.measures.get(id.index())?;
                let kind = match measure.kind {
                    MeasureKind::Quantity(kind) => Type::Quantity(kind.dimension()),
                    MeasureKind::YesNo => Type::YesNo,
                    MeasureKind::Profile => Type::Profile,
                    MeasureKind::Line => Type::Line,
                    MeasureKind::Section => Type::Section,
                    MeasureKind::LoadTest => Type::LoadTest,
                    MeasureKind::Outline => Type::Outline,
                };
                self.typed(
                    range,
                    Op::Measure(scope, id),
                    kind,
                    measure.placed.then_some(scope),
                )
            }
            Meaning::Trait(scope, part, id) => {
                let kind = match vocabulary.part(part)?.traits.get(id.index())?.kind {
                    TraitKind::Choice(_) => Type::Choice(part, id),
                    TraitKind::AnyOf(_) => Type::AnyOf(part, id),
                    TraitKind::Date => Type::Date,
                    TraitKind::Flag => Type::YesNo,
                };
                self.typed(range, Op::Trait(scope, id), kind, None)
            }
            Meaning::Derived(scope, part, id) => {
                let Yield { kind, placed, .. } = (self.names.derived)(part, id)?;
                self.typed(range, Op::Derived(scope, id), kind, placed.then_some(scope))
            }
        }
    }

    // ---- places

    /// The places of a value made of two. Values of one item pair by place; those of two don't.
    pub(super) fn pair(
        &mut self,
        range: &Range<usize>,
        left: Option<Scope>,
        right: Option<Scope>,
    ) -> Option<Option<Scope>> {
        match (left, right) {
            (Some(one), Some(other)) if one != other => {
                self.report_with(
                    "expression.placed",
                    range,
                    "places of two different items don't pair",
                    "take one value of each: `lowest(…)` or `highest(…)`",
                );
                None
            }
            _ => Some(left.or(right)),
        }
    }

    // ---- numbers

    fn negate(&mut self, range: &Range<usize>, inner: &Syntax) -> Option<Typed> {
        let typed = self.check(inner)?;
        self.number(inner, &typed)?;
        self.off_scale(inner, &typed)?;
        self.typed(
            range,
            Op::Negate(Box::new(typed.node)),
            typed.kind,
            typed.placed,
        )
    }

    /// The dimension of a number, or a problem that says what stands there instead.
    pub(super) fn number(&mut self, tree: &Syntax, typed: &Typed) -> Option<Dimension> {
        if let Some(dimension) = typed.kind.dimension() {
            return Some(dimension);
        }
        let message = format!(
            "{} is {}; a number is needed here",
            self.read(tree),
            typed.kind.in_words()
        );
        self.problems.push(Problem {
            help: self.in_use(tree, typed.kind),
            ..Problem::new("expression.argument", tree.range.clone(), message)
        });
        None
    }

    /// A piece of the text as a message quotes it.
    pub(super) fn read(&self, tree: &Syntax) -> String {
        quoted(self.slice(&tree.range))
    }

    /// Refuses a temperature, whose number depends on where its scale starts.
    pub(super) fn off_scale(&mut self, tree: &Syntax, typed: &Typed) -> Option<()> {
        if typed.kind != Type::Quantity(Dimension::TEMPERATURE) {
            return Some(());
        }
        let message = format!(
            "{} is a temperature; temperatures can be compared, not computed with",
            self.read(tree)
        );
        self.report("expression.scale", &tree.range, message);
        None
    }

    fn arithmetic(
        &mut self,
        range: &Range<usize>,
        operation: Arithmetic,
        left_tree: &Syntax,
        right_tree: &Syntax,
    ) -> Option<Typed> {
        let left = self.check(left_tree);
        let right = self.check(right_tree);
        let (left, right) = (left?, right?);
        if left.kind == Type::Date || right.kind == Type::Date {
            return self.date_arithmetic(range, operation, (left_tree, left), (right_tree, right));
        }
        let one = self.number(left_tree, &left);
        let other = self.number(right_tree, &right);
        let (one, other) = (one?, other?);
        let placed = self.pair(range, left.placed, right.placed)?;
        let dimension = match operation {
            Arithmetic::Add | Arithmetic::Subtract => {
                let word = if operation == Arithmetic::Add {
                    "plus"
                } else {
                    "minus"
                };
                self.like(range, (left_tree, one), (right_tree, other), |a, b| {
                    format!("{a} {word} {b}")
                })?;
                one
            }
            Arithmetic::Multiply => one.mul(other),
            Arithmetic::Divide => one.div(other),
        };
        self.off_scale(left_tree, &left)?;
        self.off_scale(right_tree, &right)?;
        if matches!(operation, Arithmetic::Multiply | Arithmetic::Divide) {
            let number_below = operation == Arithmetic::Divide && is_hardness(other);
            if number_below
                || (is_hardness(one) && other != Dimension::RATIO)
                || (is_hardness(other) && one != Dimension::RATIO)
            {
                self.report_with(
                    "expression.scale",
                    range,
                    "a hardness is a place on its scale; only a plain number multiplies or divides it",
                    "within one scale, hardnesses are compared, subtracted and averaged",
                );
                return None;
            }
        }
        if operation == Arithmetic::Divide
            && right.node.constant().is_some_and(|value| value.is_zero())
        {
            let message = format!(
                "{} is zero; nothing can be divided by it",
                self.read(right_tree)
            );
            let help = "write a number that is not zero, or a measure";
            self.report_with("expression.zero", &right_tree.range, message, help);
            return None;
        }
        if !dimension.is_in_range() {
            self.report(
                "expression.dimension",
                range,
                "the powers of its units are beyond what is kept",
            );
            return None;
        }
        let counts = is_count(&left)
            && is_count(&right)
            && (left.kind == Type::Count || right.kind == Type::Count)
            && operation != Arithmetic::Divide;
        let kind = if counts {
            Type::Count
        } else {
            Type::Quantity(dimension)
        };
        let op = Op::Arithmetic(operation, Box::new(left.node), Box::new(right.node));
        self.typed(range, op, kind, placed)
    }

    /// A date moved by a fixed number of days; everything else with dates is refused.
    fn date_arithmetic(
        &mut self,
        range: &Range<usize>,
        operation: Arithmetic,
        (left_tree, left): (&Syntax, Typed),
        (right_tree, right): (&Syntax, Typed),
    ) -> Option<Typed> {
        let help = "a date can be moved by a fixed number of days, as in `built + 365 days`";
        let turned = operation == Arithmetic::Add && left.kind == Type::Quantity(Dimension::TIME);
        if turned && right.kind == Type::Date {
            let (time, date) = (self.slice(&left_tree.range), self.slice(&right_tree.range));
            let help = format!("write `{date} + {time}`");
            self.report_with("expression.date", range, "the date stands in front", help);
            return None;
        }
        let moves = matches!(operation, Arithmetic::Add | Arithmetic::Subtract);
        if left.kind != Type::Date || !moves || right.kind != Type::Quantity(Dimension::TIME) {
            let message = match operation {
                Arithmetic::Add => {
                    format!("{} plus {}", left.kind.in_words(), right.kind.in_words())
                }
                Arithmetic::Subtract => {
                    format!("{} minus {}", left.kind.in_words(), right.kind.in_words())
                }
                Arithmetic::Multiply => {
                    format!("{} times {}", left.kind.in_words(), right.kind.in_words())
                }
                Arithmetic::Divide => {
                    format!(
                        "{} divided by {}",
                        left.kind.in_words(),
                        right.kind.in_words()
                    )
                }
            };
            self.report_with(
                "expression.date",
                range,
                format!("{message} has no meaning here"),
                help,
            );
            return None;
        }
        let days = right
            .node
            .constant()
            .map(|value| Unit::DAYS.from_base(&value));
        if !days.is_some_and(|days: Exact| days.is_integer()) {
            let message = format!(
                "{} is not a fixed number of whole days",
                self.read(right_tree)
            );
            self.report_with("expression.date", &right_tree.range, message, help);
            return None;
        }
        let op = Op::Arithmetic(operation, Box::new(left.node), Box::new(right.node));
        self.typed(range, op, Type::Date, None)
    }

    /// Checks that two numbers are of like kind; `say` puts the words for both into a sentence that
    /// ends with "has no meaning".
    pub(super) fn like(
        &mut self,
        range: &Range<usize>,
        (left_tree, left): (&Syntax, Dimension),
        (right_tree, right): (&Syntax, Dimension),
        say: impl FnOnce(&str, &str) -> String,
    ) -> Option<()> {
        if left == right {
            return Some(());
        }
        let message = format!(
            "{} has no meaning",
            say(&left.in_words(), &right.in_words())
        );
        let plain = |tree: &Syntax, other: Dimension| match &tree.kind {
            Kind::Literal { quantity, .. } if quantity.unit == Unit::PLAIN => {
                let unit = other.likely_units().first()?;
                Some(format!(
                    "`{}` has no unit; {} is written as `{0} {unit}`",
                    self.slice(&tree.range),
                    other.in_words()
                ))
            }
            _ => None,
        };
        let scales = is_hardness(left) && is_hardness(right);
        let help = plain(left_tree, right).or_else(|| plain(right_tree, left));
        let help = help.unwrap_or_else(|| {
            if scales {
                return "no factor leads from one hardness scale to another, only a published table"
                    .to_owned();
            }
            let (one, other) = (self.read(left_tree), self.read(right_tree));
            format!(
                "{one} is {}, {other} is {}",
                left.in_words(),
                right.in_words()
            )
        });
        self.report_with("expression.dimension", range, message, help);
        None
    }

    // ---- comparisons

    fn compare(
        &mut self,
        range: &Range<usize>,
        comparison: Comparison,
        left_tree: &Syntax,
        right_tree: &Syntax,
    ) -> Option<Typed> {
        let left = self.check(left_tree);
        let right = self.check(right_tree);
        let (left, right) = (left?, right?);
        let (left, right) = self.with_year((left_tree, left), (right_tree, right));
        let placed = match (left.kind, right.kind) {
            (Type::Date, Type::Date) => None,
            (Type::Date, other) => return self.no_date(right_tree, other),
            (other, Type::Date) => return self.no_date(left_tree, other),
            _ => {
                let one = self.number(left_tree, &left);
                let other = self.number(right_tree, &right);
                self.like(range, (left_tree, one?), (right_tree, other?), |a, b| {
                    format!("{a} compared with {b}")
                })?;
                self.pair(range, left.placed, right.placed)?
            }
        };
        let op = Op::Compare(comparison, Box::new(left.node), Box::new(right.node));
        self.typed(range, op, Type::Truth, placed)
    }

    /// Reads four digits as a year where the other side is a date.
    pub(super) fn with_year(
        &self,
        (left_tree, left): (&Syntax, Typed),
        (right_tree, right): (&Syntax, Typed),
    ) -> (Typed, Typed) {
        let read = |tree: &Syntax, typed: Typed, other: Type| match &tree.kind {
            Kind::Literal {
                year: Some(year), ..
            } if other == Type::Date => Typed {
                node: Node {
                    op: Op::Date(*year),
                    ..typed.node
                },
                kind: Type::Date,
                placed: None,
            },
            _ => typed,
        };
        let kinds = (left.kind, right.kind);
        (
            read(left_tree, left, kinds.1),
            read(right_tree, right, kinds.0),
        )
    }

    fn no_date(&mut self, tree: &Syntax, kind: Type) -> Option<Typed> {
        let message = format!(
            "{} is {}; a date is compared with a date",
            self.read(tree),
            kind.in_words()
        );
        self.report_with(
            "expression.date",
            &tree.range,
            message,
            "a date is written as 2012-06-30, a partial one as 2012-06 or 2012",
        );
        None
    }

    /// The trait or derived value counted parts are of.
    pub(super) fn inside<T>(&mut self, part: PartId, check: impl FnOnce(&mut Self) -> T) -> T {
        let outer = self.place;
        self.place = outer.inside(part);
        let result = check(self);
        self.place = outer;
        result
    }
}

pub(super) fn is_hardness(dimension: Dimension) -> bool {
    [
        Dimension::HARDNESS_HRC,
        Dimension::HARDNESS_HV,
        Dimension::HARDNESS_HBW,
    ]
    .contains(&dimension)
}

/// Whether a value is a count, or a constant number that can be put together with one.
pub(super) fn is_count(typed: &Typed) -> bool {
    typed.kind == Type::Count
        || (typed.kind == Type::Quantity(Dimension::RATIO) && typed.node.is_constant())
}
