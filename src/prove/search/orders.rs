//! Counts and sums of which one is never above another one: whoever is counted there is counted here as well. Shown of one
//! item, this holds of any number of them, and spares the solver to look at each.

use super::super::common::HoldingIx;
use super::super::formula::Formula;
use super::super::state::At;
use super::super::term::{Poly, TermId, What};
use super::{Found, Search, Under};
use crate::quantity::Exact;

impl Search<'_, '_> {
    /// Tells the solver of counts and sums that it has above others which they never exceed; whether there were any.
    pub(super) fn order(&mut self, loose: &[At]) -> bool {
        let mut told = false;
        for &one in loose {
            let Some(var) = self.numbers.get(&one).copied() else {
                continue;
            };
            let all = self.numbers.keys().copied();
            let others: Vec<At> = all.filter(|at| *at != one && self.follows(*at)).collect();
            for other in others {
                let Some(second) = self.numbers.get(&other).copied() else {
                    continue;
                };
                let order = self.solver.value(var).cmp(&self.solver.value(second));
                let (small, large, below, above) = match order {
                    std::cmp::Ordering::Less => (other.term, one.term, second, var),
                    std::cmp::Ordering::Equal => continue,
                    std::cmp::Ordering::Greater => (one.term, other.term, var, second),
                };
                if self.ordered.contains_key(&(small, large)) {
                    continue;
                }
                let never = self.never_above(small, large);
                self.ordered.insert((small, large), never);
                if never {
                    let sum = [(above, Exact::ONE), (below, Exact::ONE.neg())];
                    let literal = self.solver.constraint(&sum, &Exact::ZERO, false);
                    self.solver.add_clause(&[literal]);
                    told = true;
                }
            }
        }
        told
    }

    /// Whether a count or sum speaks of nothing that another one does not speak of. Others are hardly ever in order, and are
    /// not looked at.
    fn rests_on_less(&self, one: TermId, other: TermId) -> bool {
        let of = |term: TermId| {
            let each = self.book.derived.iter().zip(&self.book.rests_on);
            each.filter(|(known, _)| **known == term)
                .map(|(_, rests_on)| rests_on)
                .next()
        };
        of(one)
            .zip(of(other))
            .is_some_and(|(one, other)| one.is_subset(other))
    }

    /// Whether a count or sum is never above another one over the same items, shown of a single item by the laws alone.
    fn never_above(&self, small: TermId, large: TermId) -> bool {
        let shares = |term: TermId| self.book.what(term).and_then(shares);
        let (Some((holding, less)), Some((other, more))) = (shares(small), shares(large)) else {
            return false;
        };
        if holding != other || !self.rests_on_less(large, small) {
            return false;
        }
        let terms = &self.book.terms;
        let mut above = Vec::new();
        for (when, share) in &less {
            for (where_, most) in &more {
                let exceeds = Formula::sign(&share.minus(most), true, terms);
                above.push(Formula::all([when.clone(), where_.clone(), exceeds]));
            }
        }
        // Where nothing is counted nothing is added.
        let none = |list: &[(Formula, Poly)]| {
            Formula::all(list.iter().map(|(when, _)| when.negated(terms)))
        };
        for (when, share) in &less {
            let exceeds = Formula::sign(share, true, terms);
            above.push(Formula::all([when.clone(), none(&more), exceeds]));
        }
        for (when, most) in &more {
            let exceeds = Formula::sign(&most.scaled(&Exact::ONE.neg()), true, terms);
            above.push(Formula::all([when.clone(), none(&less), exceeds]));
        }
        let above = Formula::any(above);
        let speaks_of_places = {
            let mut found = false;
            above.each_var(&mut |var| found |= terms.is_placed(var.term));
            found
        };
        let Some(item) = self.all_of(holding).first().copied() else {
            return false;
        };
        if speaks_of_places {
            return false;
        }
        let nothing = Under {
            old: false,
            new: false,
        };
        let mut search = Search::new(self.book, self.base, nothing, false);
        search.has(item);
        search.ask(&above, item, 0);
        matches!(search.find(&[]), Found::None(_))
    }
}

/// What each item adds to a count or a sum, and when.
fn shares(what: &What) -> Option<(HoldingIx, Vec<(Formula, Poly)>)> {
    match what {
        What::Count(holding, condition) => {
            let one = Poly::constant(Exact::ONE);
            Some((*holding, vec![(condition.clone(), one)]))
        }
        What::Sum(holding, pieces) => Some((*holding, pieces.clone())),
        _ => None,
    }
}
