//! The numbers, answers and choices that the solver chooses.

use super::super::solve::{Literal, NumberVar};
use super::super::state::{At, Cell, ItemState};
use super::super::term::Sort;
use super::Search;
use crate::quantity::Exact;

impl Search<'_, '_> {
    pub(super) fn sort(&self, at: At) -> Sort {
        self.book
            .terms
            .get(at.term)
            .map_or(Sort::Truth, |term| term.sort.clone())
    }

    pub fn number(&mut self, at: At) -> NumberVar {
        if let Some(var) = self.numbers.get(&at) {
            return *var;
        }
        let var = self.solver.new_number();
        self.numbers.insert(at, var);
        if let Some(Cell::Number(value)) = self.base.cell(at, &self.book.layout) {
            self.solver.set_preferred_value(var, value);
        }
        let bounds = match self.sort(at) {
            Sort::Number { low, high } => (low, high),
            Sort::Count => (Some((Exact::ZERO, true)), None),
            Sort::Day | Sort::Truth | Sort::Choice(_) => (None, None),
        };
        let mut bound = |limit: Option<(Exact, bool)>, up: bool| {
            let Some((limit, belongs)) = limit else {
                return;
            };
            let (c, k) = if up {
                (Exact::ONE, limit.neg())
            } else {
                (Exact::ONE.neg(), limit)
            };
            let literal = self.solver.constraint(&[(var, c)], &k, !belongs);
            self.solver.add_clause(&[literal]);
        };
        bound(bounds.0, true);
        bound(bounds.1, false);
        if let Some((low, high)) = self.book.plausible(at.term) {
            let low = self
                .solver
                .constraint(&[(var, Exact::ONE)], &low.neg(), false);
            let high = self
                .solver
                .constraint(&[(var, Exact::ONE.neg())], &high, false);
            self.wishes.extend([low, high]);
        }
        if matches!(self.sort(at), Sort::Day) {
            // No day is beyond those that can be written.
            let (first, last) = super::super::book::days();
            for (c, k) in [(Exact::ONE, first.neg()), (Exact::ONE.neg(), last)] {
                let literal = self.solver.constraint(&[(var, c)], &k, false);
                self.solver.add_clause(&[literal]);
            }
        }
        var
    }

    pub(super) fn truth(&mut self, at: At) -> Literal {
        if let Some(literal) = self.truths.get(&at) {
            return *literal;
        }
        let literal = self.solver.new_bool();
        let likely = matches!(
            self.base.cell(at, &self.book.layout),
            Some(Cell::Truth(true))
        );
        self.solver
            .set_polarity(if likely { literal } else { !literal });
        self.truths.insert(at, literal);
        literal
    }

    pub(super) fn choice(&mut self, at: At) -> Vec<Literal> {
        if let Some(list) = self.choices.get(&at) {
            return list.clone();
        }
        let Sort::Choice(all) = self.sort(at) else {
            return Vec::new();
        };
        let list: Vec<Literal> = (0..all).map(|_| self.solver.new_bool()).collect();
        self.solver.add_clause(&list);
        for (first, one) in list.iter().enumerate() {
            for other in list.iter().skip(first + 1) {
                self.solver.add_clause(&[!*one, !*other]);
            }
        }
        if let Some(Cell::Choice(own)) = self.base.cell(at, &self.book.layout)
            && let Some(literal) = list.get(usize::from(*own))
        {
            self.solver.set_polarity(*literal);
        }
        self.choices.insert(at, list.clone());
        list
    }

    /// Has an item be there.
    pub fn has(&mut self, item: usize) {
        let present = self.presence(item);
        self.solver.add_clause(&[present]);
    }

    /// Whether an item is there; those of the base are.
    pub fn presence(&mut self, item: usize) -> Literal {
        if item < self.fixed {
            return Literal::TRUE;
        }
        if let Some(literal) = self.present.get(&item) {
            return *literal;
        }
        let literal = self.solver.new_bool();
        let there = self.base.items.get(item).is_some_and(|one| one.present);
        self.solver
            .set_polarity(if there { literal } else { !literal });
        self.present.insert(item, literal);
        // What fills the roles of a group is there as well.
        let roles = self
            .base
            .items
            .get(item)
            .map_or(Vec::new(), |one| one.roles.clone());
        for role in roles {
            let filled = self.presence(role);
            self.solver.add_clause(&[!literal, filled]);
        }
        let groups = self.base.items.iter().enumerate();
        let groups: Vec<usize> = groups
            .filter(|(_, one)| one.roles.contains(&item))
            .map(|(at, _)| at)
            .collect();
        for group in groups {
            let group = self.presence(group);
            self.solver.add_clause(&[!group, literal]);
        }
        if let Some(before) = self.before(item) {
            let before = self.presence(before);
            self.solver.add_clause(&[!literal, before]);
        }
        literal
    }

    /// Items that the base lacks and that stand in no group are alike: they come one after the other, and this is the one
    /// before.
    fn before(&self, item: usize) -> Option<usize> {
        let items = &self.base.items;
        let own = items.get(item)?;
        let is_free = |at: usize, one: &ItemState| {
            !one.present
                && one.roles.is_empty()
                && !items.iter().any(|group| group.roles.contains(&at))
        };
        if !is_free(item, own) {
            return None;
        }
        let mut earlier = items.iter().enumerate().take(item).rev();
        let found = earlier.find(|(at, one)| one.holding == own.holding && is_free(*at, one));
        found.map(|(at, _)| at)
    }

    pub(super) fn product(&mut self, mut all: Vec<At>) -> NumberVar {
        all.sort_unstable();
        if let [at] = all.as_slice() {
            return self.number(*at);
        }
        if let Some(var) = self.products.get(&all) {
            return *var;
        }
        let var = self.solver.new_number();
        let low_of = |search: &Self, at: &At| match search.sort(*at) {
            Sort::Number {
                low: Some((low, belongs)),
                ..
            } if low.signum() >= 0 => Some(low.signum() > 0 || !belongs),
            Sort::Count => Some(false),
            Sort::Number { .. } | Sort::Day | Sort::Truth | Sort::Choice(_) => None,
        };
        let lows: Vec<Option<bool>> = all.iter().map(|at| low_of(self, at)).collect();
        let square = all.chunks(2).all(|pair| matches!(pair, [a, b] if a == b));
        if lows.iter().all(Option::is_some) {
            let strict = lows.iter().all(|low| *low == Some(true));
            let literal = self
                .solver
                .constraint(&[(var, Exact::ONE)], &Exact::ZERO, strict);
            self.solver.add_clause(&[literal]);
        } else if square {
            let literal = self
                .solver
                .constraint(&[(var, Exact::ONE)], &Exact::ZERO, false);
            self.solver.add_clause(&[literal]);
        }
        self.products.insert(all, var);
        var
    }
}
