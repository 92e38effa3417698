//! Mutants of what stands in an expression.

use super::edit::Maker;
use super::kind::Kind;
use super::step::date_steps;
use crate::expression::{Arithmetic, Comparison, Expression, Function, Node, Op};
use crate::text::{Node as Tree, Span};

/// Mutants of an expression; a number in it changes as `numbers` says.
pub(super) fn mutate(maker: &mut Maker<'_>, expression: &Expression, at: &Tree<'_>, numbers: Kind) {
    let in_one_piece = at.verbatim && at.one_line && at.used_at.is_none();
    if !in_one_piece {
        maker.leave_out(
            at.span,
            "an expression that is written over several lines, with escapes or by an alias",
        );
        return;
    }
    node(maker, &expression.root, numbers);
}

fn node(maker: &mut Maker<'_>, here: &Node, numbers: Kind) {
    match &here.op {
        Op::Quantity { .. } => maker.number(numbers, here.span),
        Op::Date(_) => {
            for stepped in date_steps(maker.slice(here.span)) {
                maker.add(Kind::Date, here.span, stepped);
            }
        }
        Op::YesNo(yes) => maker.add(Kind::Negation, here.span, if *yes { "no" } else { "yes" }),
        Op::Measure(..)
        | Op::Trait(..)
        | Op::Derived(..)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day => {}
        Op::Negate(_) => {
            if maker.slice(here.span).starts_with('-') {
                maker.add(Kind::Arithmetic, here.span.sub(0..1), "");
            }
        }
        Op::Arithmetic(operation, left, right) => {
            let other = match operation {
                Arithmetic::Add => Arithmetic::Subtract,
                Arithmetic::Subtract => Arithmetic::Add,
                Arithmetic::Multiply => Arithmetic::Divide,
                Arithmetic::Divide => Arithmetic::Multiply,
            };
            let words = (operation.word(), other.word());
            between(maker, Kind::Arithmetic, left.span, right.span, words);
        }
        Op::Compare(comparison, left, right) => {
            let other = match comparison {
                Comparison::Less => Comparison::LessOrEqual,
                Comparison::LessOrEqual => Comparison::Less,
                Comparison::Greater => Comparison::GreaterOrEqual,
                Comparison::GreaterOrEqual => Comparison::Greater,
            };
            let words = (comparison.word(), other.word());
            between(maker, Kind::Comparison, left.span, right.span, words);
        }
        Op::IsChoice {
            subject, negated, ..
        } => {
            let tail = Span::new(subject.span.end as usize, here.span.end as usize);
            is_not(maker, tail, *negated);
            listed(maker, tail);
        }
        Op::IsLevel { negated, .. } => {
            is_not(maker, here.span, *negated);
            listed(maker, here.span);
        }
        Op::IsSame { left, negated, .. } => {
            let tail = Span::new(left.span.end as usize, here.span.end as usize);
            is_not(maker, tail, *negated);
        }
        Op::Truth(_) => {
            let text = format!("not {}", maker.slice(here.span));
            maker.add(Kind::Negation, here.span, text);
        }
        Op::Not(_) => {
            if maker.slice(here.span).starts_with("not ") {
                maker.add(Kind::Negation, here.span.sub(0..4), "");
            }
        }
        Op::And(parts) => joined(maker, parts, ("and", "or")),
        Op::Or(parts) => joined(maker, parts, ("or", "and")),
        Op::Call(function, _) => call(maker, here.span, *function),
        Op::Count { condition, .. } | Op::Sum { condition, .. } => {
            if let Some(condition) = condition {
                let before = Span::new(here.span.start as usize, condition.span.start as usize);
                if let Some(at) = maker.slice(before).rfind(" where ") {
                    let start = before.start as usize + at;
                    let taken = Span::new(start, condition.span.end as usize);
                    if balanced(maker.slice(taken)) {
                        maker.add(Kind::Condition, taken, "");
                    }
                }
            }
        }
    }
    for child in here.children() {
        node(maker, child, numbers);
    }
}

/// The word between two parts, brackets aside.
fn between(
    maker: &mut Maker<'_>,
    kind: Kind,
    left: Span,
    right: Span,
    (word, other): (&str, &str),
) {
    let gap = Span::new(left.end as usize, right.start as usize);
    if let Some(at) = maker.slice(gap).find(&format!(" {word} ")) {
        maker.add(kind, gap.sub(at + 1..at + 1 + word.len()), other);
    }
}

/// `is` and `is not`, `is one of` and `is none of`; `tail` is what follows the subject, or the whole.
fn is_not(maker: &mut Maker<'_>, tail: Span, negated: bool) {
    let forms: &[(&str, &str)] = if negated {
        &[(" is none of ", " is one of "), (" is not ", " is ")]
    } else {
        &[(" is one of ", " is none of "), (" is ", " is not ")]
    };
    let text = maker.slice(tail);
    for (form, other) in forms {
        if let Some(at) = text.find(form) {
            let span = tail.sub(at + 1..at + form.len() - 1);
            maker.add(Kind::Negation, span, other.trim());
            return;
        }
    }
}

/// The choices of `one of (a, b)`: each taken out.
fn listed(maker: &mut Maker<'_>, tail: Span) {
    let text = maker.slice(tail);
    let (Some(open), Some(close)) = (text.find(" of ("), text.rfind(')')) else {
        return;
    };
    let start = open + " of (".len();
    let words: Vec<&str> = text
        .get(start..close)
        .unwrap_or("")
        .split(',')
        .map(str::trim)
        .collect();
    if words.len() < 2 {
        return;
    }
    for at in 0..words.len() {
        let others = words.iter().enumerate().filter(|(one, _)| *one != at);
        let others: Vec<&str> = others.map(|(_, word)| *word).collect();
        maker.add(Kind::Choice, tail.sub(start..close), others.join(", "));
    }
}

fn joined(maker: &mut Maker<'_>, parts: &[Node], words: (&str, &str)) {
    for pair in parts.windows(2) {
        if let [left, right] = pair {
            between(maker, Kind::Junction, left.span, right.span, words);
        }
    }
    for (at, part) in parts.iter().enumerate() {
        let next = parts.get(at + 1);
        let before = at.checked_sub(1).and_then(|at| parts.get(at));
        let taken = match (next, before) {
            (Some(next), _) => Span::new(part.span.start as usize, next.span.start as usize),
            (None, Some(before)) => Span::new(before.span.end as usize, part.span.end as usize),
            (None, None) => continue,
        };
        if balanced(maker.slice(taken)) {
            maker.add(Kind::Condition, taken, "");
        }
    }
}

/// Whether a text closes all brackets that it opens, and no other.
fn balanced(text: &str) -> bool {
    let mut open = 0_usize;
    for c in text.chars() {
        match c {
            '(' => open += 1,
            ')' => match open.checked_sub(1) {
                Some(fewer) => open = fewer,
                None => return false,
            },
            _ => {}
        }
    }
    open == 0
}

fn call(maker: &mut Maker<'_>, span: Span, function: Function) {
    let other = match function {
        Function::Abs => "",
        Function::Min => Function::Max.word(),
        Function::Max => Function::Min.word(),
        Function::Lowest => Function::Highest.word(),
        Function::Highest => Function::Lowest.word(),
        Function::ForwardFlat => Function::AftFlat.word(),
        Function::AftFlat => Function::ForwardFlat.word(),
        Function::FlatLength
        | Function::GapAt
        | Function::CrownRadius
        | Function::Hollow
        | Function::Straightness
        | Function::IncludedAngle
        | Function::BevelDifference
        | Function::Stiffness
        | Function::DeflectionAt
        | Function::Area
        | Function::ConvertedHardness { .. }
        | Function::At20Degrees { .. } => return,
    };
    let word = function.word();
    if maker.slice(span).starts_with(word) {
        maker.add(Kind::Function, span.sub(0..word.len()), other);
    }
}
