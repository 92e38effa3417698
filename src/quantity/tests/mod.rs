//! Tests of the room, by what they ask.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod dates;
mod laws;
mod numbers;
mod problems;
mod reading;
mod rounding;
mod showing;
mod units;

use super::{Exact, Quantity};

/// A decimal, or a fraction `381/80`.
fn exact(text: &str) -> Exact {
    match text.split_once('/') {
        Some((n, d)) => {
            Exact::from_fraction(n.parse::<i128>().unwrap(), d.parse::<i128>().unwrap()).unwrap()
        }
        None => Exact::from_decimal(text).unwrap(),
    }
}

fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap_or_else(|problem| panic!("{text}: {problem}"))
}
