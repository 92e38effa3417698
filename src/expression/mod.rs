//! The expressions of the rules language: lexer, parser, types.
//!
//! A text goes through three hands. The lexer makes tokens of it, the parser a tree as written, and the
//! checker resolves names against the vocabulary of the class and checks types, dimensions and places.
//! What comes out is an [`Expression`] whose names are slots; nothing below looks up a word again. All
//! problems are collected, each with its place in the file. This room evaluates nothing: it knows no
//! record, no event and no rule.

mod check;
mod check_calls;
mod check_is;
mod check_tables;
mod forms;
mod grammar;
mod in_use;
mod lexer;
mod names;
mod parser;
mod problem;
mod show;
mod syntax;
mod tree;
mod words;

use std::ops::Range;

use crate::text::Span;
use crate::vocabulary::{DerivedId, PartId};

use check::{Checker, Typed};
use syntax::Syntax;

pub use names::Names;
pub use problem::{CODES, ExpressionProblem, PROBLEMS};
pub use show::{show, show_node};
pub use tree::*;
pub use words::{is_reserved, reserved};

/// The most numbers that one value is computed from, about as many as one expression has room for. Each factor
/// makes an exact number longer, and derived values that use each other twice double it at every step.
const NUMBERS: u64 = 1000;

#[cfg(test)]
mod tests;

/// Reads and checks an expression of any type. `text` is the value of its scalar; `place` maps bytes of
/// it to the file.
///
/// # Errors
/// All problems at once, in the order of the text. The list is empty when nothing is wrong here but a
/// derived value that the expression uses is broken: that is reported where it is declared.
pub fn read(
    text: &str,
    place: &dyn Fn(Range<usize>) -> Span,
    names: &Names,
) -> Result<Expression, Vec<ExpressionProblem>> {
    read_as(text, place, names, |_, _, typed| Some(typed))
}

/// Reads a condition: `when`, `if`, `where`. A flag or an answer is the condition that it is yes.
///
/// # Errors
/// As [`read`]; something that is not a condition, or has an answer for each place.
pub fn read_condition(
    text: &str,
    place: &dyn Fn(Range<usize>) -> Span,
    names: &Names,
) -> Result<Expression, Vec<ExpressionProblem>> {
    read_as(text, place, names, |checker, tree, typed| {
        let typed = checker.as_condition(tree, typed)?;
        checker.one_answer(tree, typed)
    })
}

/// Reads the value of a rule: a quantity, a count, a choice, an answer or a date.
///
/// # Errors
/// As [`read`]; a condition, an event level, or a structured measure that no function was put on.
pub fn read_value(
    text: &str,
    place: &dyn Fn(Range<usize>) -> Span,
    names: &Names,
) -> Result<Expression, Vec<ExpressionProblem>> {
    read_as(text, place, names, |checker, tree, typed| {
        let help = match typed.kind {
            Type::Quantity(_)
            | Type::Count
            | Type::Choice(..)
            | Type::AnyOf(..)
            | Type::YesNo
            | Type::Date => {
                return Some(typed);
            }
            Type::Truth => Some(
                "the value stands left of the sign and its limit under `at_least`, `at_most`, `more_than` or `less_than`; a condition stands under `when`"
                    .to_owned(),
            ),
            Type::EventLevel => Some("limits by level stand under `by: event.level`".to_owned()),
            Type::Profile | Type::Line | Type::Section | Type::LoadTest | Type::Outline => checker.in_use(tree, typed.kind),
        };
        let message = format!(
            "{} is {}; a rule decides a number, a count, a choice, an answer or a date",
            checker.read(tree),
            typed.kind.in_words()
        );
        checker.problems.push(problem::Problem {
            help,
            ..problem::Problem::new("expression.value", tree.range.clone(), message)
        });
        None
    })
}

fn read_as(
    text: &str,
    place: &dyn Fn(Range<usize>) -> Span,
    names: &Names,
    last: impl FnOnce(&mut Checker, &Syntax, Typed) -> Option<Typed>,
) -> Result<Expression, Vec<ExpressionProblem>> {
    let (tree, mut problems) = parser::parse(text);
    let mut checker = Checker::new(text, *names, place);
    let typed = checker
        .check(&tree)
        .and_then(|typed| last(&mut checker, &tree, typed));
    problems.append(&mut checker.problems);
    let numbers = typed.as_ref().map_or(0, |typed| {
        let derived = |part, slot| (names.derived)(part, slot).map_or(1, |found| found.numbers);
        typed.node.numbers(names.own, names.vocabulary, &derived)
    });
    if problems.is_empty() && numbers > NUMBERS {
        problems.push(problem::grown(text.len(), numbers));
    }
    match typed {
        Some(typed) if problems.is_empty() => Ok(Expression {
            text: text.to_owned(),
            span: place(0..text.len()),
            own: names.own,
            yields: Yield {
                kind: typed.kind,
                placed: typed.placed.is_some(),
                numbers,
            },
            root: typed.node,
        }),
        _ => Err(problem::placed(problems, text.len(), place)),
    }
}

/// The derived values that an expression names, each once, in the order of the text; what can't be read
/// is left out. For putting derived values in order and for finding circles, before types are known.
pub fn derived_used(text: &str, names: &Names) -> Vec<(PartId, DerivedId)> {
    let (tree, _) = parser::parse(text);
    let place = names::Place {
        vocabulary: names.vocabulary,
        own: names.own,
        outer: None,
    };
    let mut found = Vec::new();
    names::derived_in(&tree, place, &mut found);
    found
}
