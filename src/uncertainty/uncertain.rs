//! A value together with the parts of its uncertainty, and arithmetic that carries both.
//!
//! Values are computed exactly as long as they can be; uncertainties are propagated to first order
//! (JCGM 100:2008, 5.1.2 and F.1.2.3): each part is multiplied by the partial derivative and parts of one
//! source are added with their signs. A value that enters twice is therefore fully correlated with itself.
//!
//! One-sided results ("more than 310 mm") follow the signs: a sum of two lower bounds is a lower bound, a
//! negated lower bound is an upper bound, and where nothing follows the result says so ([`Bound::Neither`])
//! and decides nothing.

use super::coverage::Coverage;
use super::part::{Combined, Part};
use super::parts::Parts;
use crate::quantity::{Exact, Number};

/// Which way a one-sided result is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Bound {
    /// The true value is at least the stated one.
    AtLeast,
    /// The true value is at most the stated one.
    AtMost,
    /// Computed from one-sided values in a way that leaves neither side known.
    Neither,
}

impl Bound {
    /// The bound of the value with the other sign.
    #[must_use]
    pub fn flipped(self) -> Bound {
        match self {
            Bound::AtLeast => Bound::AtMost,
            Bound::AtMost => Bound::AtLeast,
            Bound::Neither => Bound::Neither,
        }
    }
}

/// The bound of a sum.
fn joined(a: Option<Bound>, b: Option<Bound>) -> Option<Bound> {
    match (a, b) {
        (None, other) | (other, None) => other,
        (Some(a), Some(b)) if a == b => Some(a),
        _ => Some(Bound::Neither),
    }
}

/// A value with the parts of its uncertainty. Base units.
#[derive(Clone, Debug)]
pub struct Uncertain {
    /// Best value.
    pub value: Number,
    /// Parts, one for each source, in order of source and kind.
    pub parts: Parts,
    /// Set when the result is one-sided.
    pub bound: Option<Bound>,
    /// The expanded uncertainty is unknown: an unnamed instrument without a floor of its method.
    pub unknown: bool,
}

/// Which rule gave the expanded uncertainty; see [`Uncertain::expanded`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Governing {
    /// k(p, ν_eff)·u_c of all parts but the floors.
    Combined,
    /// The scatter of the readings alone, with its own degrees of freedom.
    Repeatability,
    /// The method's floor.
    MethodFloor,
}

/// An expanded uncertainty.
#[expect(non_snake_case, reason = "U is the letter of the GUM")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expanded {
    /// Expanded uncertainty U, base units.
    pub U: f64,
    /// Coverage factor k = U/u_c.
    pub k: f64,
    /// Effective degrees of freedom, infinite allowed.
    pub nu: f64,
    /// What gave U.
    pub by: Governing,
}

/// Terms beyond which the parts of a linear combination are put in order once, at its end.
const MANY: usize = 16;

impl Uncertain {
    /// A value without uncertainty: a count, a declared number, a constant.
    #[must_use]
    pub fn exact(value: Exact) -> Uncertain {
        Uncertain::certain(Number::Exact(value))
    }

    /// A number without uncertainty.
    #[must_use]
    pub fn certain(value: Number) -> Uncertain {
        Uncertain {
            value,
            parts: Parts::new(),
            bound: None,
            unknown: false,
        }
    }

    /// A value with its parts, brought into order.
    #[must_use]
    pub fn new(value: Number, parts: impl IntoIterator<Item = Part>) -> Uncertain {
        Uncertain {
            value,
            parts: Parts::of(parts),
            bound: None,
            unknown: false,
        }
    }

    /// The same value, open on one side.
    #[must_use]
    pub fn with_bound(mut self, bound: Option<Bound>) -> Uncertain {
        self.bound = bound;
        self
    }

    /// The same value with an unknown expanded uncertainty.
    #[must_use]
    pub fn with_unknown_uncertainty(mut self) -> Uncertain {
        self.unknown = true;
        self
    }

    /// `value` computed by the caller from `terms`, each with its partial derivative; bounds follow the signs
    /// of the derivatives, so the function has to be monotone in every one-sided term.
    ///
    /// Source: JCGM 100:2008, 5.1.2 (law of propagation, first order).
    #[must_use]
    pub fn linear(value: Number, terms: &[(&Uncertain, f64)]) -> Uncertain {
        // Of many terms the parts are gathered before they are put in order.
        let many = terms.len() > MANY;
        let mut gathered = Vec::new();
        let mut parts = Parts::new();
        let mut bound = None;
        let mut unknown = false;
        for &(term, derivative) in terms {
            if derivative == 0.0 {
                continue;
            }
            unknown |= term.unknown;
            if many {
                gathered.push(term.parts.times(derivative));
            } else {
                parts = parts.weighted_sum(1.0, &term.parts, derivative);
            }
            bound = joined(bound, signed(term.bound, derivative < 0.0));
        }
        if many {
            parts = Parts::sum(gathered.iter());
        }
        Uncertain {
            value,
            parts,
            bound,
            unknown,
        }
    }

    /// The sum.
    #[must_use]
    pub fn add(&self, other: &Uncertain) -> Uncertain {
        self.combine(self.value.add(&other.value), 1.0, other, 1.0)
            .with_bound(joined(self.bound, other.bound))
    }

    /// The difference.
    #[must_use]
    pub fn sub(&self, other: &Uncertain) -> Uncertain {
        self.combine(self.value.sub(&other.value), 1.0, other, -1.0)
            .with_bound(joined(self.bound, other.bound.map(Bound::flipped)))
    }

    /// The product.
    #[must_use]
    pub fn mul(&self, other: &Uncertain) -> Uncertain {
        let (a, b) = (self.value.to_f64(), other.value.to_f64());
        self.combine(self.value.mul(&other.value), b, other, a)
            .with_bound(product_bound(self, other))
    }

    /// The quotient; `None` when the divisor is zero, may be zero by rounding, or is one-sided and may be zero.
    #[must_use]
    pub fn div(&self, other: &Uncertain) -> Option<Uncertain> {
        let value = self.value.checked_div(&other.value)?;
        let sign = other.value.signum()?;
        let away_from_zero = match other.bound {
            None => true,
            Some(Bound::AtLeast) => sign > 0,
            Some(Bound::AtMost) => sign < 0,
            Some(Bound::Neither) => false,
        };
        if !away_from_zero {
            return None;
        }
        let (a, b) = (self.value.to_f64(), other.value.to_f64());
        // 1/x falls on either side of zero, so the bound turns round; its sign stays known.
        let bound = match (self.bound, other.bound.map(Bound::flipped)) {
            (None, None) => None,
            (Some(bound), None) => signed(Some(bound), sign < 0),
            (None, Some(bound)) => match self.value.signum() {
                Some(0) => None,
                Some(own) => signed(Some(bound), own < 0),
                None => Some(Bound::Neither),
            },
            (Some(_), Some(_)) => Some(Bound::Neither),
        };
        let quotient = self.combine(value, b.recip(), other, -a / b / b);
        Some(quotient.with_bound(bound))
    }

    /// The value with the other sign.
    #[must_use]
    pub fn neg(&self) -> Uncertain {
        Uncertain {
            value: self.value.neg(),
            parts: self.parts.times(-1.0),
            bound: self.bound.map(Bound::flipped),
            unknown: self.unknown,
        }
    }

    /// The value times an exact factor.
    #[must_use]
    pub fn scale(&self, factor: &Exact) -> Uncertain {
        Uncertain {
            value: self.value.mul(&Number::Exact(factor.clone())),
            parts: self.parts.times(factor.to_f64()),
            bound: if factor.is_zero() {
                None
            } else {
                signed(self.bound, factor.signum() < 0)
            },
            unknown: self.unknown && !factor.is_zero(),
        }
    }

    /// The value without its sign. At zero, where there is no derivative, the uncertainty is kept.
    #[must_use]
    pub fn abs(&self) -> Uncertain {
        let negative = self.value.to_f64() < 0.0;
        let bound = match (self.bound, self.value.signum()) {
            (None, _) => None,
            // |x| rises away from zero; toward zero nothing follows.
            (Some(Bound::AtLeast), Some(0 | 1)) | (Some(Bound::AtMost), Some(0 | -1)) => {
                Some(Bound::AtLeast)
            }
            (Some(_), _) => Some(Bound::Neither),
        };
        let turned = if negative { self.neg() } else { self.clone() };
        Uncertain {
            value: self.value.abs(),
            bound,
            ..turned
        }
    }

    /// The smaller of two, with its parts; where both are equal, the parts of the less certain one.
    #[must_use]
    pub fn min(&self, other: &Uncertain) -> Uncertain {
        let smaller = match self.value.compare(&other.value) {
            Some(std::cmp::Ordering::Less) => self,
            Some(std::cmp::Ordering::Greater) => other,
            Some(std::cmp::Ordering::Equal) | None => less_certain(self, other),
        };
        Uncertain {
            value: self.value.min(&other.value),
            parts: smaller.parts.clone(),
            bound: bound_of_min(self, other),
            unknown: self.unknown || other.unknown,
        }
    }

    /// The larger of two, with its parts; where both are equal, the parts of the less certain one.
    #[must_use]
    pub fn max(&self, other: &Uncertain) -> Uncertain {
        self.neg().min(&other.neg()).neg()
    }

    /// The sum of any number of values; exactly zero for none.
    #[must_use]
    pub fn sum<'a>(values: impl IntoIterator<Item = &'a Uncertain>) -> Uncertain {
        let mut total = Uncertain::exact(Exact::ZERO);
        let parts = values.into_iter().map(|value| {
            total.value = total.value.add(&value.value);
            total.bound = joined(total.bound, value.bound);
            total.unknown |= value.unknown;
            &value.parts
        });
        let parts = Parts::sum(parts);
        Uncertain { parts, ..total }
    }

    fn combine(&self, value: Number, own: f64, other: &Uncertain, others: f64) -> Uncertain {
        Uncertain {
            value,
            parts: self.parts.weighted_sum(own, &other.parts, others),
            bound: None,
            unknown: self.unknown || other.unknown,
        }
    }

    /// The combined standard uncertainty and its effective degrees of freedom. A reading whose own uncertainty
    /// is below half of its method's floor counts as half the floor; without floors this is the GUM's u_c(y)
    /// and ν_eff.
    ///
    /// Source: JCGM 100:2008, formulas 13 and G.2b.
    #[must_use]
    pub fn combined(&self) -> Combined {
        self.parts.totals().combined()
    }

    /// The covariance with another value through the sources that both share; maximum permissible errors count
    /// by source (r = 0) and floors not at all.
    ///
    /// Source: JCGM 100:2008, F.1.2.3, formula F.2.
    #[must_use]
    pub fn covariance(&self, other: &Uncertain) -> f64 {
        let others = other.parts.to_vec();
        self.parts
            .to_vec()
            .iter()
            .flat_map(|a| {
                let twin = others
                    .iter()
                    .filter(|b| b.source == a.source && b.kind == a.kind);
                twin.map(|b| a.u * b.u)
            })
            .sum()
    }

    /// The expanded uncertainty for one coverage probability: the largest of
    ///
    /// - k(p, ν_eff)·u_c of all parts but the floors: the GUM's (JCGM 100:2008, 6.2 and G.4);
    /// - k(p, ν_A)·u_A of the scatter seen in repeats alone. Welch–Satterthwaite lets U shrink when an instrument gets
    ///   worse (more u_c, but also more ν_eff); more uncertainty must never turn a doubt into a pass;
    /// - the floors: every reading has at least its floor, which is an expanded uncertainty already and does
    ///   not change with the coverage probability; what the readings have beyond their floors is combined with
    ///   k(p, ∞). For one reading this is the floor itself.
    ///
    /// Each of the three rises with every part of infinite ν, with every floor and every maximum permissible
    /// error, or is covered by another one that does; the tests hold it to that. `k` is U/u_c, so it is the
    /// factor of the GUM only where [`Governing::Combined`] says so.
    #[must_use]
    pub fn expanded(&self, coverage: &Coverage) -> Expanded {
        let totals = self.parts.totals();
        let combined = totals.combined();
        if combined.u == 0.0 {
            return Expanded {
                U: 0.0,
                k: coverage.factor(f64::INFINITY),
                nu: f64::INFINITY,
                by: Governing::Combined,
            };
        }
        let mut k = coverage.factor(totals.plain.nu);
        let mut largest = k * totals.plain.u;
        let mut by = Governing::Combined;
        if totals.type_a.nu.is_finite() {
            let alone = coverage.factor(totals.type_a.nu) * totals.type_a.u;
            // Repeatability alone is the same number as the combination when there is nothing else.
            if alone > largest * (1.0 + 1e-12) {
                (largest, by) = (alone, Governing::Repeatability);
            }
        }
        if totals.has_floors() {
            let floors = totals
                .with_floors(coverage.factor(f64::INFINITY), 2.0)
                .sqrt();
            if floors > largest * (1.0 + 1e-12) {
                (largest, by) = (floors, Governing::MethodFloor);
            }
        }
        if by != Governing::Combined || combined.u != totals.plain.u {
            k = largest / combined.u;
        }
        Expanded {
            U: largest,
            k,
            nu: combined.nu,
            by,
        }
    }

    /// U, or `None` when it is unknown.
    #[must_use]
    pub fn expanded_u(&self, coverage: &Coverage) -> Option<f64> {
        (!self.unknown).then(|| self.expanded(coverage).U)
    }
}

fn signed(bound: Option<Bound>, negative: bool) -> Option<Bound> {
    if negative {
        bound.map(Bound::flipped)
    } else {
        bound
    }
}

/// The bound of a product: known when one factor's sign is, or when both are bounds away from zero.
fn product_bound(a: &Uncertain, b: &Uncertain) -> Option<Bound> {
    let known_sign = |bounded: Bound, factor: &Uncertain| match factor.value.signum() {
        Some(0) => None,
        Some(sign) => signed(Some(bounded), sign < 0),
        None => Some(Bound::Neither),
    };
    match (a.bound, b.bound) {
        (None, None) => None,
        (Some(bound), None) => known_sign(bound, b),
        (None, Some(bound)) => known_sign(bound, a),
        (Some(left), Some(right)) => {
            let signs = (a.value.signum(), b.value.signum());
            match (left, right, signs) {
                (Bound::AtLeast, Bound::AtLeast, (Some(0 | 1), Some(0 | 1)))
                | (Bound::AtMost, Bound::AtMost, (Some(0 | -1), Some(0 | -1))) => {
                    Some(Bound::AtLeast)
                }
                (Bound::AtLeast, Bound::AtMost, (Some(0 | 1), Some(0 | -1)))
                | (Bound::AtMost, Bound::AtLeast, (Some(0 | -1), Some(0 | 1))) => {
                    Some(Bound::AtMost)
                }
                _ => Some(Bound::Neither),
            }
        }
    }
}

/// The bound of the smaller of two.
fn bound_of_min(a: &Uncertain, b: &Uncertain) -> Option<Bound> {
    let below = |x: &Uncertain, y: &Uncertain| {
        matches!(
            x.value.compare(&y.value),
            Some(std::cmp::Ordering::Less | std::cmp::Ordering::Equal)
        )
    };
    let one = |bounded: &Uncertain, bound: Bound, other: &Uncertain| match bound {
        // At least as large as the other one: the other one is the smaller.
        Bound::AtLeast if below(other, bounded) => None,
        Bound::AtLeast => Some(Bound::AtLeast),
        Bound::AtMost => Some(Bound::AtMost),
        Bound::Neither => Some(Bound::Neither),
    };
    match (a.bound, b.bound) {
        (None, None) => None,
        (Some(bound), None) => one(a, bound, b),
        (None, Some(bound)) => one(b, bound, a),
        (Some(Bound::AtLeast), Some(Bound::AtLeast)) => Some(Bound::AtLeast),
        (Some(Bound::AtMost), Some(Bound::AtMost)) => Some(Bound::AtMost),
        // Only the one that is bounded above says something, and only about its own value.
        (Some(Bound::AtMost), Some(Bound::AtLeast)) if below(a, b) => Some(Bound::AtMost),
        (Some(Bound::AtLeast), Some(Bound::AtMost)) if below(b, a) => Some(Bound::AtMost),
        _ => Some(Bound::Neither),
    }
}

fn less_certain<'a>(a: &'a Uncertain, b: &'a Uncertain) -> &'a Uncertain {
    if b.combined().u > a.combined().u {
        b
    } else {
        a
    }
}
