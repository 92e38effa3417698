//! Counts and sums, tied to the items that they are about.

use super::super::formula::Formula;
use super::super::solve::{Literal, NumberVar};
use super::super::state::At;
use super::super::term::{Poly, Sort, TermId, What};
use super::Search;
use crate::quantity::Exact;

/// What a count or sum leaves to items that it is not tied to yet.
pub(super) struct Rest {
    /// So many items are tied.
    done: usize,
    value: Left,
    /// Hold where the rest adds nothing.
    nothing: Vec<Literal>,
}

/// The rest as a number, or as whether it is odd.
#[derive(Clone, Copy)]
enum Left {
    Number(NumberVar),
    Odd(Literal),
}

impl Search<'_, '_> {
    /// Ties a count or a sum to the items that it is about, or to some more of them.
    ///
    /// A boat can have many more items than it has, nearly all of which no question is about: those are left to a rest that
    /// is assumed to add nothing, until that stands in the way.
    pub(super) fn link(&mut self, at: At) {
        let rest = self.rests.remove(&at);
        if !self.linked.insert(at) && rest.is_none() {
            return;
        }
        let Some(what) = self.book.what(at.term).cloned() else {
            return;
        };
        let (What::Count(holding, _) | What::Odd(holding, _) | What::Sum(holding, _)) = &what
        else {
            return;
        };
        let present = |item: usize| self.base.items.get(item).is_some_and(|one| one.present);
        let mut items = self.all_of(*holding);
        items.sort_by_key(|item| (!present(*item), *item));
        let done = rest.as_ref().map_or(0, |rest| rest.done);
        let to = match &rest {
            // Where reasons are wanted all are tied, so that they rest on nothing assumed.
            _ if self.guards.is_some() => items.len(),
            None => items.iter().filter(|item| present(**item)).count() + 1,
            Some(rest) => 2 * rest.done,
        };
        let is_all = to >= items.len();
        let own: Vec<usize> = items.into_iter().skip(done).take(to - done).collect();
        let left = match (&rest, &what) {
            (Some(rest), _) => rest.value,
            (None, What::Odd(..)) => Left::Odd(self.truth(at)),
            (None, _) => Left::Number(self.number(at)),
        };
        let rest = match left {
            Left::Number(number) => self.tie_number(&what, number, &own, is_all),
            Left::Odd(odd) => self.tie_odd(&what, odd, &own, is_all),
        };
        if let Some((value, nothing)) = rest {
            let rest = Rest {
                done: to,
                value,
                nothing,
            };
            self.rests.insert(at, rest);
        }
    }

    /// Ties the rest of every count and sum that a contradiction rests on to more items; whether there was any.
    pub fn link_more(&mut self, core: &[Literal]) -> bool {
        let each = self.rests.iter();
        let needed: Vec<At> = each
            .filter(|(_, rest)| rest.nothing.iter().any(|one| core.contains(one)))
            .map(|(at, _)| *at)
            .collect();
        for at in &needed {
            self.link(*at);
        }
        !needed.is_empty()
    }

    /// What is assumed of items that counts and sums are not tied to.
    pub(super) fn no_more(&self) -> Vec<Literal> {
        let each = self.rests.values();
        each.flat_map(|rest| rest.nothing.iter().copied()).collect()
    }

    fn tie_number(
        &mut self,
        what: &What,
        number: NumberVar,
        items: &[usize],
        is_all: bool,
    ) -> Option<(Left, Vec<Literal>)> {
        let mut total = vec![(number, Exact::ONE.neg())];
        for item in items {
            let share = self.solver.new_number();
            total.push((share, Exact::ONE));
            match what {
                What::Count(_, condition) => {
                    let here = self.counted(condition, *item);
                    self.tie(here, share, &Exact::ONE);
                }
                What::Sum(_, pieces) => self.tie_share(pieces, share, *item),
                _ => {}
            }
        }
        let rest = (!is_all).then(|| {
            let rest = self.solver.new_number();
            total.push((rest, Exact::ONE));
            let (one, minus) = ((rest, Exact::ONE), (rest, Exact::ONE.neg()));
            let not_below = self.solver.constraint(&[one], &Exact::ZERO, false);
            let not_above = self.solver.constraint(&[minus], &Exact::ZERO, false);
            if self.adds_up(what) {
                self.solver.add_clause(&[not_below]);
                (Left::Number(rest), vec![not_above])
            } else {
                (Left::Number(rest), vec![not_below, not_above])
            }
        });
        self.equal_zero(&total, &Exact::ZERO, &[]);
        rest
    }

    /// Whether no item makes a count or sum less.
    fn adds_up(&self, what: &What) -> bool {
        let from_zero = |at: TermId| {
            let sort = self.book.terms.get(at).map(|term| &term.sort);
            match sort {
                Some(Sort::Number {
                    low: Some((low, _)),
                    ..
                }) => low.signum() >= 0,
                Some(Sort::Count) => true,
                Some(
                    Sort::Number { low: None, .. } | Sort::Day | Sort::Truth | Sort::Choice(_),
                )
                | None => false,
            }
        };
        let not_less = |poly: &Poly| {
            let each = poly.terms.iter().all(|(_, factor)| factor.signum() > 0);
            poly.constant.signum() >= 0 && each && poly.vars().all(|var| from_zero(var.term))
        };
        match what {
            What::Count(..) => true,
            What::Sum(_, pieces) => pieces.iter().all(|(_, poly)| not_less(poly)),
            _ => false,
        }
    }

    /// Ties what an item adds to a sum.
    pub(super) fn tie_share(&mut self, pieces: &[(Formula, Poly)], share: NumberVar, item: usize) {
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

    fn tie_odd(
        &mut self,
        what: &What,
        own: Literal,
        items: &[usize],
        is_all: bool,
    ) -> Option<(Left, Vec<Literal>)> {
        let What::Odd(_, condition) = what else {
            return None;
        };
        let mut odd = Literal::FALSE;
        for item in items {
            let here = self.counted(condition, *item);
            odd = self.either(odd, here);
        }
        let rest = (!is_all).then(|| self.solver.new_bool());
        if let Some(rest) = rest {
            odd = self.either(odd, rest);
        }
        self.solver.add_clause(&[!own, odd]);
        self.solver.add_clause(&[own, !odd]);
        rest.map(|rest| (Left::Odd(rest), vec![!rest]))
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
