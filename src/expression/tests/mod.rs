//! Tests of the room: tables of good and bad expressions, laws on random trees and texts.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod laws;
mod small;
mod table;
mod trees;
mod vocabulary;

use super::{Expression, ExpressionProblem, Names, Yield, read, read_condition, read_value};
use crate::text::Span;
use crate::vocabulary::{DerivedId, PartId, Vocabulary};

/// How an expression is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reading {
    Any,
    Condition,
    Value,
}

/// What the derived values of the test vocabulary yield, read one after the other.
fn yields(vocabulary: &Vocabulary) -> Vec<Vec<Option<Yield>>> {
    let mut known: Vec<Vec<Option<Yield>>> = Vec::new();
    for (index, part) in vocabulary.parts.iter().enumerate() {
        known.push(Vec::new());
        for derived in &part.derived {
            let so_far = known.clone();
            let lookup = |part: PartId, id: DerivedId| {
                so_far
                    .get(part.index())
                    .and_then(|list| list.get(id.index()).copied())
                    .flatten()
            };
            let own = PartId(u16::try_from(index).unwrap());
            let names = Names {
                vocabulary,
                own,
                derived: &lookup,
            };
            let yields = read(
                &derived.text,
                &|range| Span::new(range.start, range.end),
                &names,
            );
            known[index].push(yields.ok().map(|expression| expression.yields));
        }
    }
    known
}

/// Reads a text as it stands at the start of a file.
fn read_in(
    vocabulary: &Vocabulary,
    own: &str,
    reading: Reading,
    text: &str,
) -> Result<Expression, Vec<ExpressionProblem>> {
    let known = yields(vocabulary);
    read_with(vocabulary, &known, own, reading, text)
}

fn read_with(
    vocabulary: &Vocabulary,
    known: &[Vec<Option<Yield>>],
    own: &str,
    reading: Reading,
    text: &str,
) -> Result<Expression, Vec<ExpressionProblem>> {
    let derived = |part: PartId, id: DerivedId| {
        known
            .get(part.index())
            .and_then(|list| list.get(id.index()).copied())
            .flatten()
    };
    let own = vocabulary
        .part_named(own)
        .expect("a part of the test vocabulary");
    let names = Names {
        vocabulary,
        own,
        derived: &derived,
    };
    let place = |range: std::ops::Range<usize>| Span::new(range.start, range.end);
    match reading {
        Reading::Any => read(text, &place, &names),
        Reading::Condition => read_condition(text, &place, &names),
        Reading::Value => read_value(text, &place, &names),
    }
}
