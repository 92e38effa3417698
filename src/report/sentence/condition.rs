//! Conditions in words: behind an item (`a runner whose construction is insert`), or by themselves (`if the boat
//! was built before 1 January 2015`).

use crate::expression::{Comparison, Node, Op, Scope};

use super::super::words::plain_name;
use super::phrase::Phrase;
use super::value::Speaker;

/// A single statement about something.
enum Statement {
    /// Something that the subject has, and what is said of it.
    Has(Scope, String, Phrase),
    /// What the subject is or was; two forms, for one and for many.
    Is(Scope, &'static str, &'static str, Phrase),
    /// A whole sentence.
    Whole(Phrase),
}

impl Speaker<'_> {
    /// Whether a condition is about the item alone, so that it can stand behind its name.
    pub(super) fn is_about_item(&self, node: &Node) -> bool {
        let mut all = true;
        node.visit(self.own, &self.rules.vocabulary, &mut |own, node| {
            let foreign = match &node.op {
                Op::Measure(scope, _) | Op::Trait(scope, _) | Op::Derived(scope, _) => {
                    own == self.own && !self.is_own(*scope)
                }
                Op::EventLevel | Op::EventDay | Op::Day | Op::IsLevel { .. } => true,
                Op::Count { .. } | Op::Sum { .. } => true,
                _ => false,
            };
            all &= !foreign;
        });
        all
    }

    /// Behind the item: `whose construction is insert and that was built before 1 January 2012`.
    pub(super) fn relative(&self, node: &Node) -> Phrase {
        match &node.op {
            Op::And(all) => {
                let said = all.iter().map(|one| self.relative_in(one)).collect();
                Phrase::joined(said, ", ", " and ")
            }
            Op::Or(any) => match self.merged(any) {
                Some(statement) => self.behind(statement),
                None => {
                    let said = any.iter().map(|one| self.relative(one)).collect();
                    Phrase::joined(said, ", or ", ", or ")
                }
            },
            _ => self.behind(self.statement(node)),
        }
    }

    /// A part of an `and` behind an item.
    fn relative_in(&self, node: &Node) -> Phrase {
        match &node.op {
            Op::Or(any) if self.merged(any).is_none() => {
                Phrase::of("for which ").then(self.clause(node))
            }
            _ => self.relative(node),
        }
    }

    /// By itself: `its construction is insert`, `the boat was built before 1 January 2015`.
    pub(super) fn clause(&self, node: &Node) -> Phrase {
        match &node.op {
            Op::And(all) => {
                let said = all.iter().map(|one| self.clause_in(one)).collect();
                Phrase::joined(said, ", ", " and ")
            }
            Op::Or(any) => match self.merged(any) {
                Some(statement) => self.alone(statement),
                None => {
                    let said: Vec<Phrase> = any.iter().map(|one| self.clause(one)).collect();
                    Phrase::of("either ").then(Phrase::joined(said, ", or ", " or "))
                }
            },
            _ => self.alone(self.statement(node)),
        }
    }

    fn clause_in(&self, node: &Node) -> Phrase {
        self.clause(node)
    }

    fn behind(&self, statement: Statement) -> Phrase {
        match statement {
            Statement::Has(scope, noun, said) if self.is_own(scope) => {
                Phrase::of(format!("whose {noun} ")).then(said)
            }
            Statement::Is(scope, one, many, said) if self.is_own(scope) => {
                let verb = if self.many { many } else { one };
                Phrase::of(format!("that {verb} ")).then(said)
            }
            other => Phrase::of("for which ").then(self.alone(other)),
        }
    }

    fn alone(&self, statement: Statement) -> Phrase {
        match statement {
            Statement::Has(scope, noun, said) => {
                let whose = match scope {
                    _ if self.is_own(scope) => format!("its {noun} "),
                    Scope::Own => format!("its {noun} "),
                    Scope::Boat => format!("the {noun} of the boat "),
                    Scope::One(id) => format!("the {noun} of the {} ", self.holding(id)),
                    Scope::Role(id) => format!("the {noun} of the {} ", self.role(id)),
                };
                Phrase::of(whose).then(said)
            }
            Statement::Is(scope, one, _, said) => {
                let who = match scope {
                    _ if self.is_own(scope) => "it".to_owned(),
                    Scope::Own => "it".to_owned(),
                    Scope::Boat => "the boat".to_owned(),
                    Scope::One(id) => format!("the {}", self.holding(id)),
                    Scope::Role(id) => format!("the {}", self.role(id)),
                };
                Phrase::of(format!("{who} {one} ")).then(said)
            }
            Statement::Whole(said) => said,
        }
    }

    fn statement(&self, node: &Node) -> Statement {
        match &node.op {
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, id) = &subject.op else {
                    return Statement::Whole(Phrase::default());
                };
                let words: Vec<Phrase> = choices
                    .iter()
                    .map(|choice| Phrase::of(self.choice(*scope, id.index(), *choice)))
                    .collect();
                let noun = plain_name(self.trait_name(*scope, id.index()));
                Statement::Has(*scope, noun, one_of(words, *negated))
            }
            Op::IsLevel { levels, negated } => {
                let words: Vec<Phrase> = levels
                    .iter()
                    .filter_map(|level| self.rules.vocabulary.event_levels.get(level.index()))
                    .map(|level| Phrase::of(plain_name(&level.text)))
                    .collect();
                Statement::Whole(
                    Phrase::of("the level of the event ").then(one_of(words, *negated)),
                )
            }
            Op::IsSame {
                left,
                right,
                negated,
            } => {
                let word = match (&right.op, *negated) {
                    (Op::YesNo(_) | Op::Quantity { .. } | Op::Date(_), false) => " is ",
                    (Op::YesNo(_) | Op::Quantity { .. } | Op::Date(_), true) => " is not ",
                    (_, false) => " is the same as ",
                    (_, true) => " is not the same as ",
                };
                Statement::Whole(self.value(left).words(word).then(self.value(right)))
            }
            Op::Compare(comparison, left, right) => self.comparison(*comparison, left, right),
            Op::Truth(inner) => self.truth(inner, true),
            Op::Not(inner) => match &inner.op {
                Op::Truth(inner) => self.truth(inner, false),
                _ => Statement::Whole(Phrase::of("it is not so that ").then(self.clause(inner))),
            },
            Op::And(_) | Op::Or(_) => Statement::Whole(self.clause(node)),
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => self.truth(node, true),
        }
    }

    /// A flag or an answer used as a condition.
    fn truth(&self, node: &Node, holds: bool) -> Statement {
        match &node.op {
            Op::Trait(scope, id) => {
                let name = plain_name(self.trait_name(*scope, id.index()));
                let said = Phrase::of(name);
                if holds {
                    Statement::Is(*scope, "is", "are", said)
                } else {
                    Statement::Is(*scope, "is not", "are not", said)
                }
            }
            _ => {
                let answer = if holds { " is yes" } else { " is no" };
                Statement::Whole(self.value(node).words(answer))
            }
        }
    }

    fn comparison(&self, comparison: Comparison, left: &Node, right: &Node) -> Statement {
        let dated = |node: &Node| {
            matches!(&node.op, Op::Date(_) | Op::EventDay | Op::Day)
                || matches!(&node.op, Op::Trait(..))
        };
        if dated(left) || dated(right) {
            let word = match comparison {
                Comparison::Less => "before ",
                Comparison::LessOrEqual => "on or before ",
                Comparison::Greater => "after ",
                Comparison::GreaterOrEqual => "on or after ",
            };
            let said = Phrase::of(word).then(self.value(right));
            if let Op::Trait(scope, id) = &left.op {
                let name = plain_name(self.trait_name(*scope, id.index()));
                return if is_done(&name) {
                    Statement::Is(
                        *scope,
                        "was",
                        "were",
                        Phrase::of(format!("{name} ")).then(said),
                    )
                } else {
                    Statement::Has(*scope, name, Phrase::of("is ").then(said))
                };
            }
            return Statement::Whole(self.value(left).words(" is ").then(said));
        }
        let word = match comparison {
            Comparison::Less => " is less than ",
            Comparison::LessOrEqual => " is at most ",
            Comparison::Greater => " is more than ",
            Comparison::GreaterOrEqual => " is at least ",
        };
        Statement::Whole(self.value(left).words(word).then(self.value(right)))
    }

    /// `position is side or position is either` as one statement.
    fn merged(&self, any: &[Node]) -> Option<Statement> {
        let mut subject = None;
        let mut words = Vec::new();
        for one in any {
            let Op::IsChoice {
                subject: of,
                choices,
                negated: false,
            } = &one.op
            else {
                return None;
            };
            let Op::Trait(scope, id) = &of.op else {
                return None;
            };
            if *subject.get_or_insert((*scope, *id)) != (*scope, *id) {
                return None;
            }
            words.extend(
                choices
                    .iter()
                    .map(|choice| Phrase::of(self.choice(*scope, id.index(), *choice))),
            );
        }
        let (scope, id) = subject?;
        let noun = plain_name(self.trait_name(scope, id.index()));
        Some(Statement::Has(scope, noun, one_of(words, false)))
    }
}

/// `is insert`, `is not angle`, `is insert or tee`, `is neither insert nor tee`
fn one_of(words: Vec<Phrase>, negated: bool) -> Phrase {
    match (words.len(), negated) {
        (_, false) => Phrase::of("is ").then(Phrase::listed(words, "or")),
        (0 | 1, true) => Phrase::of("is not ").then(Phrase::listed(words, "or")),
        (2, true) => Phrase::of("is neither ").then(Phrase::listed(words, "nor")),
        (_, true) => Phrase::of("is none of ").then(Phrase::listed(words, "and")),
    }
}

/// Whether the name of a date says what was done on it: `built`, `registered`.
fn is_done(name: &str) -> bool {
    name == "built" || name.ends_with("ed")
}
