//! Decision rules: a value with its expanded uncertainty against one limit (JCGM 106:2012, clause 8;
//! ISO 14253-1). A two-sided limit is decided side by side.
//!
//! Exact numbers are compared exactly. The fast path compares floating point only where the numbers are
//! clearly apart (relative 1e-9); near the border the margin is an exact fraction, and the guard band is the
//! guard factor times the shortest decimal of U, so that 4.72 mm with U = 0.02 mm reaches 4.70 mm and no
//! rounding of binary fractions decides.

use std::cmp::Ordering;

use statrs::function::erf::erfc;

use super::coverage::central_share;
use super::uncertain::{Bound, Uncertain};
use crate::quantity::{Exact, Number};

/// Who carries the doubt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DecisionRule {
    /// The value alone decides (JCGM 106:2012, 8.2).
    SimpleAcceptance,
    /// Conformity has to be shown: the limit is moved inward by the guard band (JCGM 106:2012, 8.3.2).
    GuardedAcceptance,
    /// Non-conformity has to be shown: the limit is moved outward by the guard band (JCGM 106:2012, 8.3.3).
    GuardedRejection,
}

/// Which side of the permitted range a limit closes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// `at_least`, `more_than`.
    Lower,
    /// `at_most`, `less_than`.
    Upper,
}

/// One limit.
#[derive(Clone, Copy, Debug)]
pub struct Limit<'a> {
    /// Side of the permitted range.
    pub side: Side,
    /// `more_than` or `less_than`: the limit itself is outside.
    pub strict: bool,
    /// The limit in base units.
    pub value: &'a Number,
}

/// What a decision comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Conforms.
    Conforms,
    /// Does not conform.
    DoesNotConform,
    /// Not decided: within its uncertainty of the limit.
    NearLimit,
    /// Not decided: a one-sided result that does not reach.
    NotReached,
    /// Not decided: the rule asks for an uncertainty and none is known.
    UncertaintyUnknown,
}

/// A verdict with what has to be said beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Decision {
    /// The verdict.
    pub verdict: Verdict,
    /// It conforms only by guarded rejection: the value itself lies beyond the limit.
    pub benefit_of_doubt: bool,
    /// |value − limit| ≤ g with g above 0, whatever the rule: asks for a second measurer.
    pub near: bool,
}

/// The value's distance from the limit, in base units: 0 on the limit, positive inside the permitted range.
#[must_use]
pub fn margin(limit: &Limit<'_>, value: &Number) -> Number {
    match limit.side {
        Side::Lower => value.sub(limit.value),
        Side::Upper => limit.value.sub(value),
    }
}

/// The guard band g = guard factor × U, and the margin, ready to be compared.
struct Comparison<'a> {
    limit: &'a Limit<'a>,
    value: &'a Number,
    guard_factor: &'a Exact,
    expanded_u: f64,
    /// Margin and the guard band as floating point; the band of a real number includes its rounding bound.
    margin: f64,
    band: f64,
    /// How far the margin can be off.
    doubt: f64,
    real: bool,
}

impl<'a> Comparison<'a> {
    fn new(
        limit: &'a Limit<'a>,
        value: &'a Number,
        guard_factor: &'a Exact,
        expanded_u: f64,
    ) -> Comparison<'a> {
        let (v, t) = (value.to_f64(), limit.value.to_f64());
        let margin = match limit.side {
            Side::Lower => v - t,
            Side::Upper => t - v,
        };
        let rounding = value.bound() + limit.value.bound();
        Comparison {
            limit,
            value,
            guard_factor,
            expanded_u,
            margin,
            band: if expanded_u == 0.0 {
                rounding
            } else {
                guard_factor.to_f64() * expanded_u + rounding
            },
            doubt: 4.0 * f64::EPSILON * (v.abs() + t.abs()),
            real: value.as_exact().is_none() || limit.value.as_exact().is_none(),
        }
    }

    /// The verdict of every decision rule where the margin is clearly larger than the guard band.
    fn beyond_all_doubt(&self) -> Option<Verdict> {
        let (size, band) = (self.margin.abs(), self.band.abs());
        let rounding = self.value.bound() + self.limit.value.bound();
        // A not-a-number compares as false and is left to the long way.
        let clear = size - band > 2.0 * (self.doubt + rounding) + 1e-9 * (size + band);
        clear.then_some(if self.margin > 0.0 {
            Verdict::Conforms
        } else {
            Verdict::DoesNotConform
        })
    }

    /// The margin against `times` the guard band (−1, 0 or 1); `None` when the rounding of a real number
    /// leaves the order open, so that a real number is never on a border.
    fn order(&self, times: i8) -> Option<Ordering> {
        let border = f64::from(times) * self.band;
        let apart = (self.margin - border).abs();
        if apart > self.doubt + 1e-9 * (self.margin.abs() + border.abs()) {
            return self.margin.partial_cmp(&border);
        }
        if self.real {
            let rounding = self.value.bound() + self.limit.value.bound() + self.doubt;
            // Around the limit itself the rounding bound is the only doubt; around the guard band it is
            // part of the band already.
            let doubt = if times == 0 { rounding } else { self.doubt };
            return if apart > doubt {
                self.margin.partial_cmp(&border)
            } else {
                None
            };
        }
        let exact = margin(self.limit, self.value);
        let border = match times {
            0 => Some(Exact::ZERO),
            _ => Exact::from_f64_shortest(self.expanded_u).map(|u| {
                let band = self.guard_factor.mul(&u);
                if times < 0 { band.neg() } else { band }
            }),
        };
        Some(exact.as_exact()?.cmp(&border?))
    }

    /// Whether a value that compares so with a border is on its permitted side.
    fn inside(&self, order: Option<Ordering>) -> Option<bool> {
        order.map(|order| match order {
            Ordering::Greater => true,
            Ordering::Less => false,
            Ordering::Equal => !self.limit.strict,
        })
    }
}

/// Decides one value against one limit.
///
/// `expanded_u` is U in base units, not negative; `None` (or a value marked so, or no finite number) means
/// that it is unknown. A real number's rounding bound is added to the guard band. A one-sided value conforms
/// when its bound already does, does not conform when its bound already does not, and is not reached
/// otherwise. Source: JCGM 106:2012, clause 8; ISO 14253-1.
#[must_use]
pub fn decide(
    rule: DecisionRule,
    limit: &Limit<'_>,
    value: &Uncertain,
    expanded_u: Option<f64>,
    guard_factor: &Exact,
) -> Decision {
    let known = expanded_u.filter(|u| u.is_finite() && *u >= 0.0 && !value.unknown);
    let comparison = Comparison::new(limit, &value.value, guard_factor, known.unwrap_or(0.0));
    if known.is_some()
        && value.bound.is_none()
        && let Some(verdict) = comparison.beyond_all_doubt()
    {
        return Decision {
            verdict,
            benefit_of_doubt: false,
            near: false,
        };
    }
    let (inward, outward) = (comparison.order(1), comparison.order(-1));
    let near = known.is_some()
        && comparison.band > 0.0
        && inward != Some(Ordering::Greater)
        && outward != Some(Ordering::Less);
    if known.is_none() && rule != DecisionRule::SimpleAcceptance {
        return Decision {
            verdict: Verdict::UncertaintyUnknown,
            benefit_of_doubt: false,
            near,
        };
    }
    let inside = |order| comparison.inside(order);
    let itself = || inside(comparison.order(0));
    // Accepted within the first border, rejected beyond the second.
    let (accepted, rejected) = match rule {
        DecisionRule::SimpleAcceptance => {
            let itself = itself();
            (itself, itself)
        }
        DecisionRule::GuardedAcceptance => (inside(inward), inside(outward)),
        DecisionRule::GuardedRejection => (inside(outward), inside(outward)),
    };
    let verdict = match (value.bound, accepted, rejected) {
        (Some(Bound::Neither), _, _) => Verdict::NotReached,
        (Some(bound), accepted, rejected) => {
            let toward_inside = match limit.side {
                Side::Lower => bound == Bound::AtLeast,
                Side::Upper => bound == Bound::AtMost,
            };
            match (toward_inside, accepted, rejected) {
                (true, Some(true), _) => Verdict::Conforms,
                (false, _, Some(false)) => Verdict::DoesNotConform,
                _ => Verdict::NotReached,
            }
        }
        (None, Some(true), _) => Verdict::Conforms,
        (None, _, Some(false)) => Verdict::DoesNotConform,
        (None, _, _) => Verdict::NearLimit,
    };
    Decision {
        verdict,
        benefit_of_doubt: rule == DecisionRule::GuardedRejection
            && verdict == Verdict::Conforms
            && itself() != Some(true),
        near,
    }
}

/// The expanded uncertainty that would decide an open case under guarded acceptance: |margin| over the guard
/// factor. A value inside the range conforms with this U or less; a value beyond the limit does not conform
/// with less. `None` when no uncertainty would: a value on the limit, a one-sided value, a guard factor of 0.
#[must_use]
pub fn largest_deciding_u(
    limit: &Limit<'_>,
    value: &Uncertain,
    guard_factor: &Exact,
) -> Option<f64> {
    if value.bound.is_some() || guard_factor.signum() <= 0 {
        return None;
    }
    let margin = margin(limit, &value.value);
    let u = match &margin {
        Number::Exact(exact) => exact.abs().checked_div(guard_factor)?.to_f64(),
        Number::Real { value, bound } => (value.abs() - bound) / guard_factor.to_f64(),
    };
    (u > 0.0).then_some(u)
}

/// Probability that the measurand lies within all `limits`, given its best value and standard uncertainty
/// `u`: the normal law for infinite `nu`, else Student's t with `nu` degrees of freedom about the value, in
/// units of `u`.
///
/// With `u` = 0 it is 1 or 0 by exact comparison. Source: JCGM 106:2012, 7.2 to 7.4 for the normal law;
/// JCGM 100:2008, G.3.2 and G.4.1 for t.
#[must_use]
pub fn probability_of_conformity(limits: &[Limit<'_>], value: &Number, u: f64, nu: f64) -> f64 {
    if u.is_nan() || u <= 0.0 {
        let certain = Uncertain::certain(value.clone());
        let inside = limits.iter().all(|limit| {
            let rule = DecisionRule::SimpleAcceptance;
            decide(rule, limit, &certain, Some(0.0), &Exact::ONE).verdict == Verdict::Conforms
        });
        return if inside { 1.0 } else { 0.0 };
    }
    // The smallest margin on each side; the share beyond each is taken off.
    let beyond = |side: Side| {
        let smallest = limits
            .iter()
            .filter(|limit| limit.side == side)
            .map(|limit| margin(limit, value).to_f64())
            .reduce(f64::min);
        smallest.map_or(0.0, |margin| upper_share(margin / u, nu))
    };
    (1.0 - beyond(Side::Lower) - beyond(Side::Upper)).clamp(0.0, 1.0)
}

/// Share of the law beyond `z`.
fn upper_share(z: f64, nu: f64) -> f64 {
    if nu.is_infinite() {
        return erfc(z / std::f64::consts::SQRT_2) / 2.0;
    }
    let tail = (1.0 - central_share(z.abs(), nu)) / 2.0;
    if z < 0.0 { 1.0 - tail } else { tail }
}

#[cfg(test)]
#[path = "decision_tests.rs"]
mod tests;
