//! Numbers beside a bound that is strict: c + k·δ with an infinitesimal δ > 0.
//!
//! Source: B. Dutertre, L. de Moura, "A fast linear-arithmetic solver for DPLL(T)", CAV 2006, section 5, "Strict
//! inequalities": x > c is x >= c + δ, and pairs (c, k) are ordered by c and then by k.

use std::cmp::Ordering;

use crate::quantity::Exact;

/// c + k·δ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Pair {
    pub(super) c: Exact,
    pub(super) k: Exact,
}

impl Pair {
    pub(super) const ZERO: Pair = Pair {
        c: Exact::ZERO,
        k: Exact::ZERO,
    };

    /// At a bound.
    pub(super) fn at(c: &Exact, k: i64) -> Pair {
        Pair {
            c: c.clone(),
            k: Exact::from_integer(k),
        }
    }

    /// This plus `factor` times `other`.
    pub(super) fn add_multiple(&mut self, factor: &Exact, other: &Pair) {
        if !other.c.is_zero() {
            self.c = self.c.add(&factor.mul(&other.c)).trimmed();
        }
        if !other.k.is_zero() {
            self.k = self.k.add(&factor.mul(&other.k)).trimmed();
        }
    }

    pub(super) fn sub(&self, other: &Pair) -> Pair {
        Pair {
            c: self.c.sub(&other.c),
            k: self.k.sub(&other.k),
        }
    }

    pub(super) fn times(&self, factor: &Exact) -> Pair {
        Pair {
            c: self.c.mul(factor),
            k: self.k.mul(factor),
        }
    }

    /// Against c + k·δ.
    pub(super) fn cmp_to(&self, c: &Exact, k: i64) -> Ordering {
        self.c
            .cmp(c)
            .then_with(|| self.k.cmp(&Exact::from_integer(k)))
    }
}

impl Ord for Pair {
    fn cmp(&self, other: &Pair) -> Ordering {
        self.c.cmp(&other.c).then_with(|| self.k.cmp(&other.k))
    }
}

impl PartialOrd for Pair {
    fn partial_cmp(&self, other: &Pair) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
