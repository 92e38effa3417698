//! Statements as clauses over the solver's literals.

use super::super::formula::Formula;
use super::super::solve::{Literal, NumberVar};
use super::super::term::Poly;
use super::Search;
use crate::quantity::Exact;

impl Search<'_, '_> {
    /// The sum of a polynomial over the solver's numbers; nothing where it speaks of an item that is not there.
    pub(super) fn sum(
        &mut self,
        poly: &Poly,
        item: usize,
        place: usize,
    ) -> Option<Vec<(NumberVar, Exact)>> {
        let mut sum: Vec<(NumberVar, Exact)> = Vec::with_capacity(poly.terms.len());
        for (monomial, c) in &poly.terms {
            let mut all = Vec::with_capacity(monomial.len());
            for var in monomial {
                all.push(self.base.at(*var, item, place, &self.book.layout)?);
            }
            let var = self.product(all);
            match sum.iter_mut().find(|(known, _)| *known == var) {
                Some((_, known)) => *known = known.add(c),
                None => sum.push((var, c.clone())),
            }
        }
        sum.retain(|(_, c)| !c.is_zero());
        Some(sum)
    }

    /// A literal from which a statement follows.
    pub fn literal(&mut self, formula: &Formula, item: usize, place: usize) -> Literal {
        match formula {
            Formula::False => Literal::FALSE,
            Formula::True => Literal::TRUE,
            Formula::Sign(constraint) => match self.sum(&constraint.poly, item, place) {
                Some(sum) => {
                    self.solver
                        .constraint(&sum, &constraint.poly.constant, constraint.strict)
                }
                None => Literal::FALSE,
            },
            Formula::Truth(var, yes) => match self.base.at(*var, item, place, &self.book.layout) {
                Some(at) => {
                    let literal = self.truth(at);
                    if *yes { literal } else { !literal }
                }
                None => Literal::FALSE,
            },
            Formula::Among(var, values) => {
                let Some(at) = self.base.at(*var, item, place, &self.book.layout) else {
                    return Literal::FALSE;
                };
                let all = self.choice(at);
                let chosen: Vec<Literal> = all
                    .iter()
                    .enumerate()
                    .filter(|(at, _)| {
                        u32::try_from(*at)
                            .is_ok_and(|at| values.checked_shr(at).unwrap_or(0) & 1 == 1)
                    })
                    .map(|(_, literal)| *literal)
                    .collect();
                match chosen.as_slice() {
                    [] => Literal::FALSE,
                    [one] => *one,
                    _ => {
                        let gate = self.solver.new_bool();
                        let clause: Vec<Literal> = [!gate].into_iter().chain(chosen).collect();
                        self.solver.add_clause(&clause);
                        gate
                    }
                }
            }
            Formula::All(list) => {
                let gate = self.solver.new_bool();
                for one in list.iter() {
                    let one = self.literal(one, item, place);
                    self.solver.add_clause(&[!gate, one]);
                }
                gate
            }
            Formula::Any(list) => {
                let gate = self.solver.new_bool();
                let mut clause = vec![!gate];
                for one in list.iter() {
                    clause.push(self.literal(one, item, place));
                }
                self.solver.add_clause(&clause);
                gate
            }
        }
    }

    /// A literal that is true exactly where a statement holds.
    pub(super) fn exactly(&mut self, formula: &Formula, item: usize) -> Literal {
        match formula {
            Formula::False => return Literal::FALSE,
            Formula::True => return Literal::TRUE,
            Formula::Sign(_) | Formula::Truth(..) => return self.literal(formula, item, 0),
            Formula::Among(..) | Formula::All(_) | Formula::Any(_) => {}
        }
        let not = formula.negated(&self.book.terms);
        let (yes, no) = (self.literal(formula, item, 0), self.literal(&not, item, 0));
        let literal = self.solver.new_bool();
        self.solver.add_clause(&[!literal, yes]);
        self.solver.add_clause(&[literal, no]);
        literal
    }

    /// Has a statement hold of an item at a place, beside those of the versions.
    pub fn ask(&mut self, formula: &Formula, item: usize, place: usize) {
        self.require(formula, item, place, &[]);
        self.asked.push((formula.clone(), item, place));
    }

    /// Has a statement hold of an item at a place, unless one of some literals holds.
    pub(super) fn require(
        &mut self,
        formula: &Formula,
        item: usize,
        place: usize,
        unless: &[Literal],
    ) {
        match formula {
            Formula::True => {}
            Formula::All(list) => {
                for one in list.iter() {
                    self.require(one, item, place, unless);
                }
            }
            Formula::Any(list) => {
                let mut clause = unless.to_vec();
                for one in list.iter() {
                    clause.push(self.literal(one, item, place));
                }
                self.solver.add_clause(&clause);
            }
            Formula::False | Formula::Sign(_) | Formula::Truth(..) | Formula::Among(..) => {
                let literal = self.literal(formula, item, place);
                let clause: Vec<Literal> = unless.iter().copied().chain([literal]).collect();
                self.solver.add_clause(&clause);
            }
        }
    }
}
