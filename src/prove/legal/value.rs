//! Expressions as values with their cases: polynomials over polynomials, each under the condition in which it counts.

use super::super::formula::Formula;
use super::super::term::{Poly, Sort, Terms, Var};
use crate::expression::Comparison;
use crate::quantity::Exact;

/// No value has more cases; what would have more stays opaque.
const MOST_PIECES: usize = 48;

/// One case of a number.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// When it counts; the cases of a value exclude each other. Where none counts, there is no value.
    pub when: Formula,
    /// Above the line.
    pub over: Poly,
    /// Below it; where it is zero, there is no value.
    pub under: Poly,
}

impl Piece {
    pub fn of(poly: Poly) -> Piece {
        Piece {
            when: Formula::True,
            over: poly,
            under: Poly::constant(Exact::ONE),
        }
    }

    fn joined(&self, other: &Piece, over: Poly, under: Poly) -> Option<Piece> {
        let when = Formula::all([self.when.clone(), other.when.clone()]);
        (when != Formula::False).then(|| Piece { when, over, under }.simple())
    }

    /// Without a number below the line.
    fn simple(self) -> Piece {
        match self
            .under
            .as_constant()
            .and_then(|under| Exact::ONE.checked_div(under))
        {
            Some(by) => Piece {
                when: self.when,
                over: self.over.scaled(&by),
                under: Poly::constant(Exact::ONE),
            },
            None => self,
        }
    }
}

/// What an expression comes to.
#[derive(Clone, Debug)]
pub(super) enum Val {
    /// A number, or a count.
    Number(Vec<Piece>),
    /// A day: the first and the last that it can be.
    Day(Poly, Poly),
    /// When it is true, and when false; in neither case it is not known.
    Truth(Truth),
    /// A choice that a boat declares.
    Choice(Chosen),
    /// The level of the event.
    Level,
    /// A structured measure.
    Structured(
        Var,
        super::super::common::PartIx,
        super::super::common::MeasureIx,
    ),
    /// What statements can't be made of, in words.
    Opaque(String),
}

/// A choice of a trait.
#[derive(Clone, Debug)]
pub(super) struct Chosen {
    pub var: Var,
    pub part: super::super::common::PartIx,
    pub slot: super::super::common::TraitIx,
    /// Whether it is a list.
    pub list: bool,
}

/// When a condition holds and when it does not.
#[derive(Clone, Debug)]
pub(super) struct Truth {
    pub yes: Formula,
    pub no: Formula,
}

impl Truth {
    pub fn of(yes: Formula, terms: &Terms) -> Truth {
        let no = yes.negated(terms);
        Truth { yes, no }
    }

    pub fn not(self) -> Truth {
        Truth {
            yes: self.no,
            no: self.yes,
        }
    }
}

/// Makes values of values.
pub(super) struct Reckoner<'t> {
    pub terms: &'t Terms,
}

impl Reckoner<'_> {
    pub fn pairs(
        &self,
        left: &[Piece],
        right: &[Piece],
        each: impl Fn(&Piece, &Piece) -> Option<Vec<Piece>>,
    ) -> Option<Vec<Piece>> {
        let mut all = Vec::new();
        for one in left {
            for other in right {
                all.extend(each(one, other)?);
                if all.len() > MOST_PIECES {
                    return None;
                }
            }
        }
        Some(all)
    }

    pub fn sum(&self, left: &[Piece], right: &[Piece], sign: i64) -> Option<Vec<Piece>> {
        let by = Exact::from_integer(sign);
        self.pairs(left, right, |a, b| {
            let (over, under) = added(a, b, &by);
            Some(a.joined(b, over, under).into_iter().collect())
        })
    }

    pub fn product(&self, left: &[Piece], right: &[Piece]) -> Option<Vec<Piece>> {
        self.pairs(left, right, |a, b| {
            let joined = a.joined(b, a.over.times(&b.over), a.under.times(&b.under));
            Some(joined.into_iter().collect())
        })
    }

    pub fn quotient(&self, left: &[Piece], right: &[Piece]) -> Option<Vec<Piece>> {
        self.pairs(left, right, |a, b| {
            // Divided by what is itself a fraction, nothing may be lost: its lower part is not zero either.
            let over = a.over.times(&b.under);
            let under = a.under.times(&b.over);
            let mut piece = a.joined(b, over, under);
            if b.under.as_constant().is_none()
                && let Some(piece) = &mut piece
            {
                let fits = self.not_zero(&b.under);
                piece.when = Formula::all([piece.when.clone(), fits]);
            }
            Some(piece.into_iter().collect())
        })
    }

    pub fn scaled(&self, of: &[Piece], by: &Exact) -> Vec<Piece> {
        let each = of.iter().map(|piece| Piece {
            over: piece.over.scaled(by),
            ..piece.clone()
        });
        each.collect()
    }

    pub fn abs(&self, of: &[Piece]) -> Option<Vec<Piece>> {
        let mut all = Vec::new();
        for piece in of {
            let below = self.piece_sign(piece, true, true);
            let above = self.piece_sign(piece, false, false);
            let turned = Piece {
                over: piece.over.scaled(&Exact::ONE.neg()),
                ..piece.clone()
            };
            for (side, piece) in [(above, piece.clone()), (below, turned)] {
                let when = Formula::all([piece.when.clone(), side]);
                if when != Formula::False {
                    all.push(Piece { when, ..piece });
                }
            }
        }
        (all.len() <= MOST_PIECES).then_some(all)
    }

    pub fn extreme(&self, left: &[Piece], right: &[Piece], greatest: bool) -> Option<Vec<Piece>> {
        self.pairs(left, right, |a, b| {
            let (over, under) = added(a, b, &Exact::ONE.neg());
            let difference = a.joined(b, over, under);
            let Some(difference) = difference else {
                return Some(Vec::new());
            };
            // a - b above zero, or not.
            let above = self.piece_sign(&difference, false, true);
            let below = self.piece_sign(&difference, true, false);
            let (of_a, of_b) = if greatest {
                (above, below)
            } else {
                (below, above)
            };
            let make = |side: Formula, piece: &Piece| {
                let when = Formula::all([difference.when.clone(), side]);
                (when != Formula::False).then(|| Piece {
                    when,
                    ..piece.clone()
                })
            };
            Some(make(of_a, a).into_iter().chain(make(of_b, b)).collect())
        })
    }

    /// When a number compares so with another one.
    pub fn compared(
        &self,
        comparison: Comparison,
        left: &[Piece],
        right: &[Piece],
    ) -> Option<Truth> {
        let (below, strict) = match comparison {
            Comparison::Less => (true, true),
            Comparison::LessOrEqual => (true, false),
            Comparison::Greater => (false, true),
            Comparison::GreaterOrEqual => (false, false),
        };
        let difference = self.sum(left, right, -1)?;
        Some(self.sign(&difference, below, strict))
    }

    /// When a number is above zero (or below), or on it where that is not strict.
    pub fn sign(&self, of: &[Piece], below: bool, strict: bool) -> Truth {
        let some = |below: bool, strict: bool| {
            Formula::any(of.iter().map(|piece| {
                Formula::all([piece.when.clone(), self.piece_sign(piece, below, strict)])
            }))
        };
        Truth {
            yes: some(below, strict),
            no: some(!below, !strict),
        }
    }

    fn piece_sign(&self, piece: &Piece, below: bool, strict: bool) -> Formula {
        let towards = |poly: &Poly, below: bool, strict: bool| {
            if below {
                Formula::sign(&poly.scaled(&Exact::ONE.neg()), strict, self.terms)
            } else {
                Formula::sign(poly, strict, self.terms)
            }
        };
        match self.known_sign(&piece.under) {
            Some(sign) => towards(&piece.over, below == (sign > 0), strict),
            None => Formula::any([
                Formula::all([
                    towards(&piece.under, false, true),
                    towards(&piece.over, below, strict),
                ]),
                Formula::all([
                    towards(&piece.under, true, true),
                    towards(&piece.over, !below, strict),
                ]),
            ]),
        }
    }

    fn not_zero(&self, poly: &Poly) -> Formula {
        match self.known_sign(poly) {
            Some(_) => Formula::True,
            None => Formula::any([
                Formula::sign(poly, true, self.terms),
                Formula::sign(&poly.scaled(&Exact::ONE.neg()), true, self.terms),
            ]),
        }
    }

    /// The sign of what can't be zero: 1 or -1.
    fn known_sign(&self, poly: &Poly) -> Option<i32> {
        if let Some(value) = poly.as_constant() {
            return (!value.is_zero()).then(|| value.signum());
        }
        let above_zero = |var: &Var| match self.terms.get(var.term).map(|term| &term.sort) {
            Some(Sort::Number {
                low: Some((low, belongs)),
                ..
            }) => low.signum() > 0 || (low.is_zero() && !belongs),
            _ => false,
        };
        let sign = poly.terms.first().map(|(_, value)| value.signum())?;
        let alike = poly
            .terms
            .iter()
            .all(|(monomial, value)| value.signum() == sign && monomial.iter().all(above_zero));
        let with_constant = poly.constant.is_zero() || poly.constant.signum() == sign;
        (alike && with_constant).then_some(sign)
    }
}

/// a + sign·b above and below the line.
fn added(a: &Piece, b: &Piece, sign: &Exact) -> (Poly, Poly) {
    if a.under == b.under {
        return (a.over.combined(&Exact::ONE, &b.over, sign), a.under.clone());
    }
    let over = a
        .over
        .times(&b.under)
        .combined(&Exact::ONE, &b.over.times(&a.under), sign);
    (over, a.under.times(&b.under))
}
