//! Propagation held against an independent implementation on 500 random expressions with shared inputs: value,
//! standard uncertainty and effective degrees of freedom.
//!
//! Numbers and their making: `tests/data/uncertain-expressions.txt` and the program beside it.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::collections::BTreeMap;

use super::*;
use crate::quantity::{Exact, Number};

const EXPRESSIONS: &str = include_str!("../../tests/data/uncertain-expressions.txt");

fn exact(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

/// An expression in prefix form, taking its words off the front.
fn value<'w>(
    words: &mut impl Iterator<Item = &'w str>,
    inputs: &BTreeMap<&str, Uncertain>,
) -> Uncertain {
    let word = words.next().unwrap();
    if let Some(input) = inputs.get(word) {
        return input.clone();
    }
    let mut next = || value(words, inputs);
    match word {
        "neg" => next().neg(),
        "abs" => next().abs(),
        "+" | "-" | "*" | "/" | "min" | "max" => {
            let (a, b) = (next(), next());
            match word {
                "+" => a.add(&b),
                "-" => a.sub(&b),
                "*" => a.mul(&b),
                "/" => a.div(&b).unwrap(),
                "min" => a.min(&b),
                _ => a.max(&b),
            }
        }
        number => Uncertain::exact(exact(number)),
    }
}

/// The inputs of a line, each a source and a pool of its own.
fn inputs(text: &str) -> BTreeMap<&str, Uncertain> {
    let each = text.split_whitespace().zip(1..);
    each.map(|(one, id)| {
        let (name, figures) = one.split_once('=').unwrap();
        let figures: Vec<&str> = figures.split(',').collect();
        let (u, nu) = (figures[1].parse().unwrap(), figures[2].parse().unwrap());
        let part = Part::new(PartKind::Repeatability, id, id, u, nu);
        (
            name,
            Uncertain::new(Number::Exact(exact(figures[0])), [part]),
        )
    })
    .collect()
}

#[test]
fn five_hundred_expressions_agree_to_twelve_digits() {
    let (mut seen, mut shared, mut finite) = (0, 0, 0);
    let mut worst = [0.0_f64; 3];
    for line in EXPRESSIONS.lines().filter(|line| !line.starts_with('#')) {
        let fields: Vec<&str> = line.split('|').map(str::trim).collect();
        let inputs = inputs(fields[0]);
        let y = value(&mut fields[1].split_whitespace(), &inputs);
        let combined = y.combined();
        let names: Vec<&str> = fields[1]
            .split_whitespace()
            .filter(|word| inputs.contains_key(word))
            .collect();
        let once = names.iter().collect::<std::collections::BTreeSet<_>>();
        shared += usize::from(once.len() < names.len());
        let expected: Vec<f64> = fields[2..].iter().map(|one| one.parse().unwrap()).collect();
        let found = [y.value.to_f64(), combined.u, combined.nu];
        for (at, (found, expected)) in found.into_iter().zip(expected).enumerate() {
            if expected.is_infinite() {
                assert_eq!(found, expected, "{line}");
                continue;
            }
            let off = (found / expected - 1.0).abs();
            worst[at] = worst[at].max(off);
            assert!(
                off <= 1e-12,
                "{found} is not {expected}, off by {off:e}: {line}"
            );
        }
        finite += usize::from(combined.nu.is_finite());
        seen += 1;
    }
    assert_eq!((seen, shared), (500, 500));
    assert!(finite > 300, "{finite} with finite degrees of freedom");
    // Digits are not agreed to by chance of loose limits.
    assert!(worst.iter().all(|off| *off > 0.0), "{worst:?}");
}
