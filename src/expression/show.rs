//! A checked tree as text again, in one canonical form that reads back to the same tree.

use crate::quantity::{Exact, Unit};
use crate::vocabulary::{ChoiceId, PartId, TraitKind, Vocabulary};

use super::names::OTHER;
use super::tree::{Arithmetic, Expression, Node, Op, Scope};

/// The canonical text of an expression. Numbers lose the zeros they were written with: what the
/// author wrote is [`Expression::text`].
pub fn show(expression: &Expression, vocabulary: &Vocabulary) -> String {
    show_node(&expression.root, expression.own, vocabulary)
}

/// The canonical text of a part of an expression where bare names are those of `own`.
pub fn show_node(node: &Node, own: PartId, vocabulary: &Vocabulary) -> String {
    let mut printer = Printer {
        text: String::new(),
        own,
        vocabulary,
    };
    printer.node(node, Level::Or);
    printer.text
}

/// How tightly something binds, loosest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Level {
    Or,
    And,
    Not,
    Comparison,
    Sum,
    Product,
    Unary,
    Primary,
}

struct Printer<'v> {
    text: String,
    own: PartId,
    vocabulary: &'v Vocabulary,
}

fn level(op: &Op) -> Level {
    match op {
        Op::Or(_) => Level::Or,
        Op::And(_) => Level::And,
        Op::Not(_) => Level::Not,
        Op::Compare(..) | Op::IsChoice { .. } | Op::IsLevel { .. } | Op::IsSame { .. } => {
            Level::Comparison
        }
        Op::Arithmetic(Arithmetic::Add | Arithmetic::Subtract, ..) => Level::Sum,
        Op::Arithmetic(Arithmetic::Multiply | Arithmetic::Divide, ..) => Level::Product,
        Op::Negate(_) => Level::Unary,
        Op::Truth(inner) => level(&inner.op),
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::Measure(..)
        | Op::Trait(..)
        | Op::Derived(..)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day
        | Op::Call(..)
        | Op::Count { .. }
        | Op::Sum { .. } => Level::Primary,
    }
}

impl Printer<'_> {
    /// Prints a node, in brackets where it binds less tightly than its surroundings ask.
    fn node(&mut self, node: &Node, least: Level) {
        if level(&node.op) < least {
            self.text.push('(');
            self.bare(node);
            self.text.push(')');
        } else {
            self.bare(node);
        }
    }

    fn bare(&mut self, node: &Node) {
        match &node.op {
            Op::Quantity { value, unit } => self.quantity(value, *unit),
            Op::Date(date) => self.text.push_str(&date.to_string()),
            Op::YesNo(yes) => self.text.push_str(if *yes { "yes" } else { "no" }),
            Op::Measure(scope, id) => {
                let part = scope
                    .part(self.own, self.vocabulary)
                    .and_then(|id| self.vocabulary.part(id));
                let name = part
                    .and_then(|part| part.measures.get(id.index()))
                    .map(|one| &one.name);
                self.name(*scope, name.map(|name| name.text.as_str()));
            }
            Op::Trait(scope, id) => {
                let part = scope
                    .part(self.own, self.vocabulary)
                    .and_then(|id| self.vocabulary.part(id));
                let name = part
                    .and_then(|part| part.traits.get(id.index()))
                    .map(|one| &one.name);
                self.name(*scope, name.map(|name| name.text.as_str()));
            }
            Op::Derived(scope, id) => {
                let part = scope
                    .part(self.own, self.vocabulary)
                    .and_then(|id| self.vocabulary.part(id));
                let name = part
                    .and_then(|part| part.derived.get(id.index()))
                    .map(|one| &one.name);
                self.name(*scope, name.map(|name| name.text.as_str()));
            }
            Op::EventLevel => self.text.push_str("event.level"),
            Op::EventDay => self.text.push_str("event.day"),
            Op::Day => self.text.push_str("day"),
            Op::Negate(inner) => {
                self.text.push('-');
                // A sign glued to a number would be read as part of the number.
                let number = matches!(inner.op, Op::Quantity { .. });
                if number {
                    self.text.push('(');
                }
                self.node(inner, Level::Unary);
                if number {
                    self.text.push(')');
                }
            }
            Op::Arithmetic(operation, left, right) => {
                let (least, more) = match operation {
                    Arithmetic::Add | Arithmetic::Subtract => (Level::Sum, Level::Product),
                    Arithmetic::Multiply | Arithmetic::Divide => (Level::Product, Level::Unary),
                };
                self.infix(left, least, operation.word(), right, more);
            }
            Op::Compare(comparison, left, right) => {
                self.infix(left, Level::Sum, comparison.word(), right, Level::Sum);
            }
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                self.node(subject, Level::Sum);
                let words: Vec<String> = choices
                    .iter()
                    .map(|choice| self.choice(subject, *choice))
                    .collect();
                self.is(&words, *negated);
            }
            Op::IsLevel { levels, negated } => {
                self.text.push_str("event.level");
                let words: Vec<String> = levels
                    .iter()
                    .map(|level| self.vocabulary.event_levels.get(level.index()))
                    .map(|name| name.map_or_else(String::new, |name| name.text.clone()))
                    .collect();
                self.is(&words, *negated);
            }
            Op::IsSame {
                left,
                right,
                negated,
            } => {
                self.infix(
                    left,
                    Level::Sum,
                    if *negated { "is not" } else { "is" },
                    right,
                    Level::Sum,
                );
            }
            Op::Truth(inner) => self.bare(inner),
            Op::Not(inner) => {
                self.text.push_str("not ");
                self.node(inner, Level::Not);
            }
            Op::And(operands) => self.joined(operands, " and ", Level::Not),
            Op::Or(operands) => self.joined(operands, " or ", Level::And),
            Op::Call(function, arguments) => {
                self.text.push_str(function.word());
                self.text.push('(');
                let told = function.told();
                let values = arguments.split_at_checked(1).filter(|_| !told.is_empty());
                let (first, rest) = values.unwrap_or((arguments, &[]));
                self.joined(first, ", ", Level::Or);
                for word in told {
                    self.text.push_str(", ");
                    self.text.push_str(word);
                }
                for value in rest {
                    self.text.push_str(", ");
                    self.node(value, Level::Or);
                }
                self.text.push(')');
            }
            Op::Count { over, condition } => {
                self.text.push_str("count(");
                self.over(*over, condition.as_deref());
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                self.text.push_str("sum(");
                let outer = self.own;
                self.own = self
                    .vocabulary
                    .holding(*over)
                    .map_or(outer, |holding| holding.part);
                self.node(value, Level::Sum);
                self.own = outer;
                self.text.push_str(" over ");
                self.over(*over, condition.as_deref());
            }
        }
    }

    fn infix(&mut self, left: &Node, least: Level, word: &str, right: &Node, more: Level) {
        self.node(left, least);
        self.text.push(' ');
        self.text.push_str(word);
        self.text.push(' ');
        self.node(right, more);
    }

    fn joined(&mut self, nodes: &[Node], between: &str, least: Level) {
        for (at, node) in nodes.iter().enumerate() {
            if at > 0 {
                self.text.push_str(between);
            }
            self.node(node, least);
        }
    }

    /// The parts and the condition of `count` and `sum`, with the closing bracket.
    fn over(&mut self, over: crate::vocabulary::HoldingId, condition: Option<&Node>) {
        let holding = self.vocabulary.holding(over);
        self.text
            .push_str(holding.map_or("", |holding| holding.key.text.as_str()));
        if let Some(condition) = condition {
            self.text.push_str(" where ");
            let outer = self.own;
            self.own = holding.map_or(outer, |holding| holding.part);
            self.node(condition, Level::Or);
            self.own = outer;
        }
        self.text.push(')');
    }

    fn is(&mut self, words: &[String], negated: bool) {
        match (words, negated) {
            ([word], false) => self.text.push_str(&format!(" is {word}")),
            ([word], true) => self.text.push_str(&format!(" is not {word}")),
            (words, false) => self
                .text
                .push_str(&format!(" is one of ({})", words.join(", "))),
            (words, true) => self
                .text
                .push_str(&format!(" is none of ({})", words.join(", "))),
        }
    }

    fn choice(&self, subject: &Node, choice: Option<ChoiceId>) -> String {
        let Some(choice) = choice else {
            return OTHER.to_owned();
        };
        let Op::Trait(scope, id) = &subject.op else {
            return String::new();
        };
        let part = scope
            .part(self.own, self.vocabulary)
            .and_then(|id| self.vocabulary.part(id));
        match part
            .and_then(|part| part.traits.get(id.index()))
            .map(|one| &one.kind)
        {
            Some(TraitKind::Choice(names)) => names
                .get(choice.index())
                .map_or_else(String::new, |name| name.text.clone()),
            Some(TraitKind::AnyOf(_) | TraitKind::Date | TraitKind::Flag) | None => String::new(),
        }
    }

    fn name(&mut self, scope: Scope, name: Option<&str>) {
        match scope {
            Scope::Own => {}
            // In a rule on the boat its names stand bare.
            Scope::Boat if self.own == Vocabulary::BOAT => {}
            Scope::Boat => self.text.push_str("boat."),
            Scope::Role(id) => {
                let group = self.vocabulary.part(self.own);
                if let Some(role) = group.and_then(|group| group.role(id)) {
                    self.text.push_str(&role.name.text);
                    self.text.push('.');
                }
            }
            Scope::One(id) => {
                if let Some(holding) = self.vocabulary.holding(id) {
                    self.text.push_str(&holding.key.text);
                    self.text.push('.');
                }
            }
        }
        self.text.push_str(name.unwrap_or(""));
    }

    fn quantity(&mut self, value: &Exact, unit: Unit) {
        self.text.push_str(&unit.from_base(value).to_string());
        if unit != Unit::PLAIN {
            self.text.push(' ');
            self.text.push_str(unit.symbol());
        }
    }
}
