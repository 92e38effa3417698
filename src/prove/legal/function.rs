//! The functions of the language in statements: what adds up is written out, and the rest is a term of its own.

use super::super::common::{MeasureIx, PartIx};
use super::super::formula::Formula;
use super::super::term::{Poly, Sort, Var, What, Whose};
use super::clause::{Frame, Translator};
use super::condition::number;
use super::value::{Piece, Val};
use crate::expression::{Function, Node, Op};
use crate::quantity::{Dimension, Exact};

const FROM_ZERO: Sort = Sort::Number {
    low: Some((Exact::ZERO, true)),
    high: None,
};
const ABOVE_ZERO: Sort = Sort::Number {
    low: Some((Exact::ZERO, false)),
    high: None,
};
const ANY: Sort = Sort::Number {
    low: None,
    high: None,
};

impl Translator<'_, '_> {
    pub fn call(
        &mut self,
        node: &Node,
        function: Function,
        arguments: &[Node],
        frame: Frame,
    ) -> Val {
        let mut values: Vec<Val> = arguments.iter().map(|one| self.value(one, frame)).collect();
        if let Some(Val::Opaque(why)) = values.iter().find(|one| matches!(one, Val::Opaque(_))) {
            return Val::Opaque(why.clone());
        }
        let too_many = || Val::Opaque("it has too many cases".to_owned());
        match function {
            Function::Abs => match values.pop() {
                Some(Val::Number(pieces)) => self
                    .reckoner()
                    .abs(&pieces)
                    .map_or_else(too_many, Val::Number),
                _ => self.unclear(node),
            },
            Function::Min | Function::Max => {
                let greatest = function == Function::Max;
                let mut found: Option<Vec<Piece>> = None;
                for value in values {
                    let Val::Number(pieces) = value else {
                        return self.unclear(node);
                    };
                    found = match found {
                        None => Some(pieces),
                        Some(best) => match self.reckoner().extreme(&best, &pieces, greatest) {
                            Some(best) => Some(best),
                            None => return too_many(),
                        },
                    };
                }
                found.map_or_else(|| self.unclear(node), Val::Number)
            }
            Function::Lowest | Function::Highest => match values.pop() {
                Some(Val::Number(pieces)) => {
                    self.extreme_of(node, &pieces, function == Function::Highest)
                }
                _ => self.unclear(node),
            },
            Function::FlatLength | Function::ForwardFlat | Function::AftFlat => {
                let (Some((whose, part, ix)), Some(gap)) =
                    (structured(&values), constant(arguments.get(1)))
                else {
                    return self.unclear(node);
                };
                let forward =
                    self.structured_term(whose, part, What::Forward(ix, gap.clone()), ABOVE_ZERO);
                let aft = self.structured_term(whose, part, What::Aft(ix, gap), ABOVE_ZERO);
                number(match function {
                    Function::ForwardFlat => forward,
                    Function::AftFlat => aft,
                    _ => forward.plus(&aft),
                })
            }
            Function::GapAt => self.of_structure(
                node,
                &values,
                |ix| Some(What::GapAt(ix, constant(arguments.get(1))?)),
                FROM_ZERO,
            ),
            Function::CrownRadius => {
                self.of_structure(node, &values, |ix| Some(What::CrownRadius(ix)), ABOVE_ZERO)
            }
            Function::Hollow => {
                self.of_structure(node, &values, |ix| Some(What::Hollow(ix)), FROM_ZERO)
            }
            Function::Straightness => {
                self.of_structure(node, &values, |ix| Some(What::Straightness(ix)), FROM_ZERO)
            }
            Function::Stiffness => {
                self.of_structure(node, &values, |ix| Some(What::Stiffness(ix)), ABOVE_ZERO)
            }
            Function::Area => {
                self.of_structure(node, &values, |ix| Some(What::Area(ix)), ABOVE_ZERO)
            }
            Function::DeflectionAt => {
                let force = arguments.get(1).is_some_and(|load| {
                    !matches!(&load.op, Op::Quantity { unit, .. } if unit.dimension() == Dimension::MASS)
                });
                self.of_structure(
                    node,
                    &values,
                    |ix| Some(What::Sinks(ix, constant(arguments.get(1))?, force)),
                    ANY,
                )
            }
            Function::IncludedAngle | Function::BevelDifference => {
                let Some((whose, part, ix)) = structured(&values) else {
                    return self.unclear(node);
                };
                let turn = Sort::Number {
                    low: Some((Exact::ZERO, false)),
                    high: Some((Exact::from_integer(180), false)),
                };
                let placed = self
                    .common
                    .part(part)
                    .and_then(|part| part.measures.get(ix.index()))
                    .is_some_and(|one| one.placed);
                let mut bevel = |what: What| {
                    let term = self.terms.intern(part, what, turn.clone(), placed);
                    Poly::var(Var { whose, term })
                };
                let (port, starboard) =
                    (bevel(What::PortBevel(ix)), bevel(What::StarboardBevel(ix)));
                if function == Function::IncludedAngle {
                    return number(port.plus(&starboard));
                }
                let difference = vec![Piece::of(port.minus(&starboard))];
                self.reckoner()
                    .abs(&difference)
                    .map_or_else(too_many, Val::Number)
            }
            Function::ConvertedHardness { from, to } => {
                self.of_number(node, values, |poly, _| What::Converted(from, to, poly))
            }
            Function::At20Degrees { tape, item } => self.of_number(node, values, |poly, other| {
                What::At20(tape, item, poly, other)
            }),
        }
    }

    fn unclear(&self, node: &Node) -> Val {
        Val::Opaque(format!("{} can't be put in statements", self.text_of(node)))
    }

    fn structured_term(&mut self, whose: Whose, part: PartIx, what: What, sort: Sort) -> Poly {
        let placed = match &what {
            What::Forward(ix, _)
            | What::Aft(ix, _)
            | What::GapAt(ix, _)
            | What::CrownRadius(ix)
            | What::Hollow(ix)
            | What::Straightness(ix)
            | What::Stiffness(ix)
            | What::Sinks(ix, ..)
            | What::Area(ix) => {
                let part = self.common.part(part);
                part.and_then(|part| part.measures.get(ix.index()))
                    .is_some_and(|one| one.placed)
            }
            _ => false,
        };
        let term = self.terms.intern(part, what, sort, placed);
        Poly::var(Var { whose, term })
    }

    fn of_structure(
        &mut self,
        node: &Node,
        values: &[Val],
        what: impl Fn(MeasureIx) -> Option<What>,
        sort: Sort,
    ) -> Val {
        let Some((whose, part, ix)) = structured(values) else {
            return self.unclear(node);
        };
        match what(ix) {
            Some(what) => number(self.structured_term(whose, part, what, sort)),
            None => self.unclear(node),
        }
    }

    /// The least or greatest of a value over all places.
    fn extreme_of(&mut self, node: &Node, pieces: &[Piece], highest: bool) -> Val {
        let [piece] = pieces else {
            return self.unclear(node);
        };
        let plain = piece.when == Formula::True && piece.under.as_constant() == Some(&Exact::ONE);
        if !plain {
            return self.unclear(node);
        }
        if !piece.over.vars().any(|var| self.terms.is_placed(var.term)) {
            return number(piece.over.clone());
        }
        let Some((whose, poly)) = one_owner(&piece.over) else {
            return self.unclear(node);
        };
        let Some(part) = self.part_of_vars(&poly) else {
            return self.unclear(node);
        };
        // Alone, a measure has the limits of its kind.
        let sort = match poly.terms.as_slice() {
            [(monomial, value)]
                if monomial.len() == 1 && *value == Exact::ONE && poly.constant.is_zero() =>
            {
                let term = monomial.first().and_then(|var| self.terms.get(var.term));
                term.map_or(ANY, |term| term.sort.clone())
            }
            _ => ANY,
        };
        let what = if highest {
            What::Highest(poly)
        } else {
            What::Lowest(poly)
        };
        let term = self.terms.intern(part, what, sort, false);
        number(Poly::var(Var { whose, term }))
    }

    /// The mean of a value over the places that are looked at.
    pub fn mean_of(&mut self, pieces: &[Piece], looked: &Formula) -> Option<Vec<Piece>> {
        let [piece] = pieces else { return None };
        if piece.when != Formula::True || piece.under.as_constant() != Some(&Exact::ONE) {
            return None;
        }
        let (whose, poly) = one_owner(&piece.over)?;
        let part = self.part_of_vars(&poly)?;
        let term = self
            .terms
            .intern(part, What::Mean(poly, looked.clone()), ANY, false);
        Some(vec![Piece::of(Poly::var(Var { whose, term }))])
    }

    fn part_of_vars(&self, poly: &Poly) -> Option<PartIx> {
        poly.vars()
            .next()
            .and_then(|var| self.terms.get(var.term))
            .map(|term| term.part)
    }

    fn of_number(
        &mut self,
        node: &Node,
        values: Vec<Val>,
        what: impl Fn(Poly, Option<Poly>) -> What,
    ) -> Val {
        let mut polys: Vec<Poly> = Vec::new();
        for value in &values {
            let Val::Number(pieces) = value else {
                return self.unclear(node);
            };
            let [piece] = pieces.as_slice() else {
                return self.unclear(node);
            };
            if piece.when != Formula::True || piece.under.as_constant() != Some(&Exact::ONE) {
                return self.unclear(node);
            }
            polys.push(piece.over.clone());
        }
        let whose = match polys.first().and_then(one_owner) {
            Some((whose, _)) => whose,
            None => return self.unclear(node),
        };
        let mut own = Vec::new();
        for poly in &polys {
            match one_owner(poly) {
                Some((other, poly)) if other == whose => own.push(poly),
                None if poly.as_constant().is_some() => own.push(poly.clone()),
                _ => return self.unclear(node),
            }
        }
        let mut own = own.into_iter();
        let Some(first) = own.next() else {
            return self.unclear(node);
        };
        let Some(part) = self.part_of_vars(&first) else {
            return self.unclear(node);
        };
        let placed = first.vars().any(|var| self.terms.is_placed(var.term));
        let term = self
            .terms
            .intern(part, what(first, own.next()), ABOVE_ZERO, placed);
        number(Poly::var(Var { whose, term }))
    }
}

/// Whose a polynomial is, where all of it is one item's, and the same as the item's own.
fn one_owner(poly: &Poly) -> Option<(Whose, Poly)> {
    let whose = poly.vars().next()?.whose;
    if poly.vars().any(|var| var.whose != whose) {
        return None;
    }
    Some((
        whose,
        poly.mapped(&mut |var| Var {
            whose: Whose::Own,
            ..var
        }),
    ))
}

fn structured(values: &[Val]) -> Option<(Whose, PartIx, MeasureIx)> {
    match values.first()? {
        Val::Structured(var, part, ix) => Some((var.whose, *part, *ix)),
        _ => None,
    }
}

fn constant(node: Option<&Node>) -> Option<Exact> {
    node.and_then(Node::constant)
}
