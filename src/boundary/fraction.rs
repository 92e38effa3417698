//! Quotients of straight lines in one unknown: what nearly every rule's value is, once all else is chosen.

use crate::quantity::Exact;

/// `a + b·x`.
#[derive(Clone, Debug, PartialEq)]
struct Line {
    a: Exact,
    b: Exact,
}

impl Line {
    fn constant(a: Exact) -> Line {
        Line { a, b: Exact::ZERO }
    }

    fn add(&self, other: &Line) -> Line {
        Line {
            a: self.a.add(&other.a),
            b: self.b.add(&other.b),
        }
    }

    fn scale(&self, by: &Exact) -> Line {
        Line {
            a: self.a.mul(by),
            b: self.b.mul(by),
        }
    }

    /// `None` where a square of the unknown comes up.
    fn mul(&self, other: &Line) -> Option<Line> {
        if !self.b.is_zero() && !other.b.is_zero() {
            return None;
        }
        Some(Line {
            a: self.a.mul(&other.a),
            b: self.a.mul(&other.b).add(&self.b.mul(&other.a)),
        })
    }
}

/// `(a + b·x) / (c + d·x)`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fraction {
    over: Line,
    under: Line,
}

impl Fraction {
    /// A number.
    pub fn constant(value: Exact) -> Fraction {
        Fraction {
            over: Line::constant(value),
            under: Line::constant(Exact::ONE),
        }
    }

    /// The unknown itself.
    pub fn unknown() -> Fraction {
        Fraction {
            over: Line {
                a: Exact::ZERO,
                b: Exact::ONE,
            },
            under: Line::constant(Exact::ONE),
        }
    }

    /// Its value, where the unknown is not in it.
    pub fn value(&self) -> Option<Exact> {
        let constant = self.over.b.is_zero() && self.under.b.is_zero();
        constant
            .then(|| self.over.a.checked_div(&self.under.a))
            .flatten()
    }

    fn of(over: Line, under: Line) -> Option<Fraction> {
        if under.b.is_zero() {
            let share = Exact::ONE.checked_div(&under.a)?;
            return Some(Fraction {
                over: over.scale(&share),
                under: Line::constant(Exact::ONE),
            });
        }
        Some(Fraction { over, under })
    }

    /// The sum.
    pub fn add(&self, other: &Fraction) -> Option<Fraction> {
        if self.under == other.under {
            return Fraction::of(self.over.add(&other.over), self.under.clone());
        }
        let (one, two) = (self.over.mul(&other.under)?, other.over.mul(&self.under)?);
        Fraction::of(one.add(&two), self.under.mul(&other.under)?)
    }

    /// The same with the other sign.
    pub fn neg(&self) -> Fraction {
        Fraction {
            over: self.over.scale(&Exact::ONE.neg()),
            under: self.under.clone(),
        }
    }

    /// The product.
    pub fn mul(&self, other: &Fraction) -> Option<Fraction> {
        Fraction::of(self.over.mul(&other.over)?, self.under.mul(&other.under)?)
    }

    /// The quotient.
    pub fn div(&self, other: &Fraction) -> Option<Fraction> {
        Fraction::of(self.over.mul(&other.under)?, self.under.mul(&other.over)?)
    }

    /// The unknown at which the fraction is `target`.
    pub fn solve(&self, target: &Exact) -> Option<Exact> {
        let over = target.mul(&self.under.a).sub(&self.over.a);
        let under = self.over.b.sub(&target.mul(&self.under.b));
        over.checked_div(&under)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn number(text: &str) -> Exact {
        Exact::from_decimal(text).unwrap()
    }

    #[test]
    fn a_quotient_is_solved_for_what_stands_in_both_its_parts() {
        // 360 / (x + 360) = 0.45
        let heel = Fraction::constant(number("360"));
        let length = Fraction::unknown().add(&heel).unwrap();
        let ratio = heel.div(&length).unwrap();
        assert_eq!(ratio.solve(&number("0.45")), Some(number("440")));
        assert_eq!(ratio.value(), None);
    }

    #[test]
    fn squares_and_flat_lines_have_no_answer() {
        let x = Fraction::unknown();
        assert_eq!(x.mul(&x), None);
        assert_eq!(x.add(&x.neg()).unwrap().solve(&Exact::ONE), None);
        let none = Fraction::constant(Exact::ZERO);
        assert_eq!(x.div(&none), None);
    }
}
