//! Counts and sums, tied to the items that they are about.

use super::super::formula::Formula;
use super::super::solve::{Literal, NumberVar};
use super::super::state::At;
use super::super::term::What;
use super::Search;
use crate::quantity::Exact;

impl Search<'_, '_> {
    /// Ties a count or a sum to the items that it is about.
    pub(super) fn link(&mut self, at: At) {
        if !self.linked.insert(at) {
            return;
        }
        let Some(what) = self.book.what(at.term).cloned() else {
            return;
        };
        match &what {
            What::Count(holding, condition) => {
                let mut sum = vec![(self.number(at), Exact::ONE.neg())];
                for item in self.all_of(*holding) {
                    let here = self.counted(condition, item);
                    let one = self.solver.new_number();
                    self.tie(here, one, &Exact::ONE);
                    sum.push((one, Exact::ONE));
                }
                self.equal_zero(&sum, &Exact::ZERO, &[]);
            }
            What::Odd(holding, condition) => {
                let mut odd = Literal::FALSE;
                for item in self.all_of(*holding) {
                    let here = self.counted(condition, item);
                    odd = self.either(odd, here);
                }
                let own = self.truth(at);
                self.solver.add_clause(&[!own, odd]);
                self.solver.add_clause(&[own, !odd]);
            }
            What::Sum(holding, pieces) => {
                let mut total = vec![(self.number(at), Exact::ONE.neg())];
                for item in self.all_of(*holding) {
                    let share = self.solver.new_number();
                    total.push((share, Exact::ONE));
                    let present = self.presence(item);
                    let mut none = vec![!present];
                    for (when, poly) in pieces {
                        let here = self.counted(when, item);
                        let Some(mut sum) = self.sum(poly, item, 0) else {
                            continue;
                        };
                        sum.push((share, Exact::ONE.neg()));
                        self.equal_zero(&sum, &poly.constant, &[!here]);
                        none.push(here);
                    }
                    // Where no piece counts, nothing is added.
                    let zero = [(share, Exact::ONE)];
                    let some: Vec<Literal> = none.iter().skip(1).copied().collect();
                    self.equal_zero(&zero, &Exact::ZERO, &some);
                }
                self.equal_zero(&total, &Exact::ZERO, &[]);
            }
            _ => {}
        }
    }

    pub(super) fn all_of(&self, holding: super::super::common::HoldingIx) -> Vec<usize> {
        let items = self.base.items.iter().enumerate();
        items
            .filter(|(_, one)| one.holding == Some(holding))
            .map(|(at, _)| at)
            .collect()
    }

    /// An item is there and meets a condition.
    pub(super) fn counted(&mut self, condition: &Formula, item: usize) -> Literal {
        let present = self.presence(item);
        let meets = self.exactly(condition, item);
        if present == Literal::TRUE {
            return meets;
        }
        if meets == Literal::TRUE {
            return present;
        }
        let both = self.solver.new_bool();
        self.solver.add_clause(&[!both, present]);
        self.solver.add_clause(&[!both, meets]);
        self.solver.add_clause(&[both, !present, !meets]);
        both
    }

    pub(super) fn either(&mut self, a: Literal, b: Literal) -> Literal {
        if a == Literal::FALSE {
            return b;
        }
        let odd = self.solver.new_bool();
        self.solver.add_clause(&[!odd, a, b]);
        self.solver.add_clause(&[!odd, !a, !b]);
        self.solver.add_clause(&[odd, !a, b]);
        self.solver.add_clause(&[odd, a, !b]);
        odd
    }

    /// A number is `value` where a literal holds, else zero.
    pub(super) fn tie(&mut self, literal: Literal, number: NumberVar, value: &Exact) {
        let minus = Exact::ONE.neg();
        let not_below = self
            .solver
            .constraint(&[(number, Exact::ONE)], &value.neg(), false);
        let not_above = self
            .solver
            .constraint(&[(number, minus.clone())], value, false);
        let from_zero = self
            .solver
            .constraint(&[(number, Exact::ONE)], &Exact::ZERO, false);
        let to_zero = self
            .solver
            .constraint(&[(number, minus)], &Exact::ZERO, false);
        self.solver.add_clause(&[!literal, not_below]);
        self.solver.add_clause(&[literal, to_zero]);
        self.solver.add_clause(&[not_above]);
        self.solver.add_clause(&[from_zero]);
    }

    pub(super) fn equal_zero(
        &mut self,
        sum: &[(NumberVar, Exact)],
        constant: &Exact,
        unless: &[Literal],
    ) {
        let turned: Vec<(NumberVar, Exact)> = sum.iter().map(|(var, c)| (*var, c.neg())).collect();
        for (sum, constant) in [(sum, constant.clone()), (&turned, constant.neg())] {
            let literal = self.solver.constraint(sum, &constant, false);
            let clause: Vec<Literal> = unless.iter().copied().chain([literal]).collect();
            self.solver.add_clause(&clause);
        }
    }
}
