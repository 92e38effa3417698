//! What holds of terms whatever the boat: fore and aft reach farther under a higher gap, the least is not above the
//! greatest, a heavier load does not sink less.

use super::super::common::PartIx;
use super::super::formula::Formula;
use super::super::term::{Poly, Term, TermId, Terms, What};
use super::clause::own;
use crate::quantity::Exact;

/// The laws between the terms of each kind of part, each as a statement about an item of it.
pub fn laws(terms: &Terms) -> Vec<(PartIx, Formula)> {
    let all: Vec<(TermId, &Term)> = terms.all().collect();
    let mut found = Vec::new();
    for (at, (id, term)) in all.iter().enumerate() {
        for (other_id, other) in all.iter().skip(at + 1) {
            if term.part != other.part {
                continue;
            }
            if same(&term.what, &other.what) {
                let poly = Poly::var(own(*id)).minus(&Poly::var(own(*other_id)));
                for way in [Exact::ONE, Exact::ONE.neg()] {
                    let holds = Formula::sign(&poly.scaled(&way), false, terms);
                    found.push((term.part, holds));
                }
            }
            if let Some(order) = ordered(&term.what, &other.what) {
                let (low, high) = if order {
                    (*id, *other_id)
                } else {
                    (*other_id, *id)
                };
                let poly = Poly::var(own(high)).minus(&Poly::var(own(low)));
                found.push((term.part, Formula::sign(&poly, false, terms)));
            }
        }
    }
    found
}

/// Whether two terms are one number.
fn same(one: &What, other: &What) -> bool {
    match (one, other) {
        (What::Forward(a, g), What::AlongEnd(b, h))
        | (What::AlongEnd(a, g), What::Forward(b, h)) => a == b && g == h,
        _ => false,
    }
}

/// Whether the first of two terms can't be above the second (true), or the second above the first (false).
fn ordered(one: &What, other: &What) -> Option<bool> {
    match (one, other) {
        (What::Forward(a, g), What::Forward(b, h)) | (What::Aft(a, g), What::Aft(b, h))
            if a == b =>
        {
            Some(g < h)
        }
        (What::AlongEnd(a, g), What::AlongEnd(b, h)) if a == b => Some(g < h),
        // Both are where the gap toward the toe reaches a height.
        (What::Forward(a, g), What::AlongEnd(b, h))
        | (What::AlongEnd(a, g), What::Forward(b, h))
            if a == b && g != h =>
        {
            Some(g < h)
        }
        (What::Sinks(a, g, force), What::Sinks(b, h, same)) if a == b && force == same => {
            Some(g < h)
        }
        (What::Lowest(a), What::Highest(b)) if a == b => Some(true),
        (What::Highest(a), What::Lowest(b)) if a == b => Some(false),
        (What::Lowest(a), What::Mean(b, _)) | (What::Mean(b, _), What::Highest(a)) if a == b => {
            Some(true)
        }
        (What::Mean(b, _), What::Lowest(a)) | (What::Highest(a), What::Mean(b, _)) if a == b => {
            Some(false)
        }
        _ => None,
    }
}
