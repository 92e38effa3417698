//! Counts and sums weighed against each other. What is never more than nothing for one item is never more than nothing for
//! all of them: weights for which that holds bound counts and sums together, where looking at the items one by one would
//! need every way to share them out.
//!
//! The weights come from trial: those that fit all items met so far and speak most against what the solver has, until no
//! item speaks against the weights (a cut for which the item is the counterexample), or no weights are left.

use std::collections::{BTreeMap, BTreeSet};

use super::super::common::{HoldingIx, PartIx, Side};
use super::super::question::candidates;
use super::super::solve::{Answer, Limits, Literal, NumberVar, Solver};
use super::super::state::At;
use super::super::term::{TermId, What};
use super::{Found, Instance, Search, group_of};
use crate::quantity::Exact;

/// Counts and sums over one list of items.
struct Scale<'b, 'r> {
    of: Vec<At>,
    /// One item of each kind, with what it adds to each of them.
    items: Vec<(Search<'b, 'r>, Vec<NumberVar>)>,
    /// What items that were met add.
    met: Vec<Vec<Exact>>,
    /// Weights by which no item adds more than nothing.
    weights: Vec<Vec<Exact>>,
    /// By weights and place: whether it was asked who adds nothing by them.
    asked: BTreeSet<(usize, usize)>,
}

const BOAT: PartIx = PartIx(0);

/// No more solutions are weighed.
const MOST_SOLUTIONS: usize = 40;
/// No more weights are tried against one solution.
const MOST_WEIGHTS: usize = 40;
/// Counts and sums beyond so many are not weighed together.
const MOST_TERMS: usize = 12;

impl<'b, 'r> Search<'b, 'r> {
    /// Weighs the counts and sums that the search has come to speak of; whether that shows that there is no boat. Else
    /// what was found is told to the solver.
    pub fn weigh(&mut self) -> bool {
        // Where reasons are wanted, nothing may rest on statements without naming them.
        if self.guards.is_some() {
            return false;
        }
        let mut few = self.alone(false);
        for (formula, item, place) in &self.asked {
            few.require(formula, *item, *place, &[]);
        }
        let mut known: Vec<Instance> = self.added.iter().copied().collect();
        known.retain(|(_, _, item, _)| *item == 0);
        known.extend(self.akin());
        known.sort_unstable();
        for instance in known {
            few.add(instance);
        }
        let mut scales = few.scales();
        for _ in 0..MOST_SOLUTIONS {
            match few.solver.solve(&[]) {
                Answer::Unsatisfiable(_) => return true,
                Answer::GaveUp => return false,
                Answer::Satisfiable => {}
            }
            let mut told = false;
            for scale in &mut scales {
                let each = scale.of.iter().map(|at| few.number(*at));
                let vars: Vec<NumberVar> = each.collect();
                let values = vars.iter().map(|var| few.solver.value(*var));
                let values: Vec<Exact> = values.collect();
                if let Some(weights) = scale.against(&values) {
                    few.bound(&scale.of, &weights, None);
                    self.bound(&scale.of, &weights, None);
                    scale.weights.push(weights);
                    told = true;
                } else if let Some((weights, place, up)) = scale.strictly_against(&values) {
                    few.bound(&scale.of, &weights, Some((place, up)));
                    self.bound(&scale.of, &weights, Some((place, up)));
                    told = true;
                }
            }
            if !told {
                return false;
            }
        }
        false
    }

    /// A search of its own for the same boats; where single items are looked at, without statements about counts and sums.
    fn alone(&self, of_items: bool) -> Search<'b, 'r> {
        let mut search = Search::new(self.book, self.base, self.under, self.everything);
        search.without = self.without.clone();
        search.solver.set_limits(Limits {
            conflicts: 200,
            ..Limits::default()
        });
        if of_items {
            for side in Side::BOTH {
                let version = self.book.version(side);
                for term in &self.book.derived {
                    let at = usize::try_from(term.0).ok();
                    let spoken = at.and_then(|at| version.by_term.get(at));
                    let facts = spoken.into_iter().flatten().map(|one| one.fact);
                    search
                        .left_out
                        .extend(facts.map(|fact| (group_of(side), fact)));
                }
            }
        }
        search
    }

    /// Statements about counts and sums that may bear on those that the search speaks of: they rest on something that one
    /// of those rests on, or on nothing but which items are there.
    fn akin(&self) -> Vec<Instance> {
        let all = || self.book.derived.iter().zip(&self.book.rests_on);
        let is_known = |term: TermId| self.numbers.contains_key(&At::of_boat(term));
        let known = all().filter(|(term, _)| is_known(**term));
        let known: BTreeSet<TermId> = known.flat_map(|(_, on)| on.iter().copied()).collect();
        let mut found = Vec::new();
        let mut terms = all().filter(|(term, _)| is_known(**term)).count();
        for (term, rests_on) in all() {
            if is_known(*term) || (!rests_on.is_empty() && rests_on.is_disjoint(&known)) {
                continue;
            }
            terms += 1;
            if terms > MOST_TERMS {
                break;
            }
            for (side, is_kept) in [(Side::Old, self.under.old), (Side::New, self.under.new)] {
                let version = self.book.version(side);
                let at = usize::try_from(term.0).ok();
                let spoken = at.and_then(|at| version.by_term.get(at));
                for spoken in spoken.into_iter().flatten().filter(|_| is_kept) {
                    let fact = version.facts.get(spoken.fact);
                    let is_of_boat = fact.is_some_and(|fact| {
                        fact.on == BOAT && fact.place_of.is_none() && fact.only_place.is_none()
                    });
                    let clause = version.clause_of(spoken.fact);
                    if is_of_boat && !self.without.contains(&(side, clause)) {
                        found.push((group_of(side), spoken.fact, 0, 0));
                    }
                }
            }
        }
        found
    }

    fn scales(&self) -> Vec<Scale<'b, 'r>> {
        let mut of: BTreeMap<HoldingIx, Vec<At>> = BTreeMap::new();
        for at in self.numbers.keys().filter(|at| self.follows(**at)) {
            if let Some(What::Count(holding, _) | What::Sum(holding, _)) = self.book.what(at.term) {
                of.entry(*holding).or_default().push(*at);
            }
        }
        of.retain(|_, all| (2..=MOST_TERMS).contains(&all.len()));
        let mut scales = Vec::new();
        for (holding, of) in of {
            let part = self.book.common.holding(holding).map(|one| one.part);
            let kinds = part.map_or(Vec::new(), |part| candidates(self.base, part));
            let own = |item: &usize| {
                let item = self.base.items.get(*item);
                item.is_some_and(|one| one.holding == Some(holding))
            };
            let mut items = Vec::new();
            for item in kinds.into_iter().filter(own) {
                let mut search = self.alone(true);
                search.has(item);
                let shares = of.iter().map(|at| search.share(*at, item)).collect();
                items.push((search, shares));
            }
            scales.push(Scale {
                of,
                items,
                met: Vec::new(),
                weights: Vec::new(),
                asked: BTreeSet::new(),
            });
        }
        scales
    }

    /// What an item adds to a count or sum.
    fn share(&mut self, at: At, item: usize) -> NumberVar {
        let share = self.solver.new_number();
        match self.book.what(at.term).cloned() {
            Some(What::Count(_, condition)) => {
                let here = self.counted(&condition, item);
                self.tie(here, share, &Exact::ONE);
            }
            Some(What::Sum(_, pieces)) => self.tie_share(&pieces, share, item),
            _ => {}
        }
        share
    }

    /// Counts and sums come to no more than nothing by some weights; where one of them is above nothing, or below, to less.
    fn bound(&mut self, of: &[At], weights: &[Exact], less_where: Option<(usize, bool)>) {
        let vars: Vec<NumberVar> = of.iter().map(|at| self.number(*at)).collect();
        let sum: Vec<(NumberVar, Exact)> = vars
            .iter()
            .copied()
            .zip(weights.iter().map(Exact::neg))
            .collect();
        let literal = self
            .solver
            .constraint(&sum, &Exact::ZERO, less_where.is_some());
        let mut clause = vec![literal];
        if let Some((place, up)) = less_where
            && let Some(var) = vars.get(place)
        {
            let sign = if up { Exact::ONE } else { Exact::ONE.neg() };
            let there = self.solver.constraint(&[(*var, sign)], &Exact::ZERO, true);
            clause.push(!there);
        }
        self.solver.add_clause(&clause);
    }
}

impl Scale<'_, '_> {
    /// Weights by which the values come to more than nothing, and no item does.
    fn against(&mut self, values: &[Exact]) -> Option<Vec<Exact>> {
        for _ in 0..MOST_WEIGHTS {
            let weights = weights(values, &self.met)?;
            let question = |search: &mut Search<'_, '_>, shares: &[NumberVar]| {
                vec![sign(search, shares, &weights, true)]
            };
            if !self.somebody(question, &weights)? {
                return Some(weights);
            }
        }
        None
    }

    /// Weights by which values come to nothing, while each item that adds to one of them, or takes from it, comes to less.
    fn strictly_against(&mut self, values: &[Exact]) -> Option<(Vec<Exact>, usize, bool)> {
        for number in 0..self.weights.len() {
            let weights = self.weights.get(number)?.clone();
            let sum = values.iter().zip(&weights);
            let sum = sum.fold(Exact::ZERO, |sum, (value, weight)| {
                sum.add(&value.mul(weight))
            });
            if !sum.is_zero() {
                continue;
            }
            for (place, value) in values.iter().enumerate() {
                let up = value.signum() > 0;
                if value.is_zero() || !self.asked.insert((number, 2 * place + usize::from(up))) {
                    continue;
                }
                let question = |search: &mut Search<'_, '_>, shares: &[NumberVar]| {
                    let one = if up { Exact::ONE } else { Exact::ONE.neg() };
                    let adds = shares.get(place).map_or(Literal::FALSE, |share| {
                        search
                            .solver
                            .constraint(&[(*share, one)], &Exact::ZERO, true)
                    });
                    vec![sign(search, shares, &weights, false), adds]
                };
                if !self.somebody(question, &weights)? {
                    return Some((weights, place, up));
                }
            }
        }
        None
    }

    /// Whether there is an item of which something holds; what one adds that comes to most by some weights is kept. It may
    /// lie on a limit that no item reaches: there weights can be no better. Nothing where it is not known.
    fn somebody(
        &mut self,
        question: impl Fn(&mut Search<'_, '_>, &[NumberVar]) -> Vec<Literal>,
        weights: &[Exact],
    ) -> Option<bool> {
        for (search, shares) in &mut self.items {
            let assumed = question(search, shares);
            match search.find(&assumed) {
                Found::Boat(_) => {
                    let adds = shares.iter().map(|share| search.solver.value(*share));
                    let adds: Vec<Exact> = adds.collect();
                    let sum = weighed(shares, weights);
                    self.met
                        .push(search.solver.farthest(&sum, shares).unwrap_or(adds));
                    return Some(true);
                }
                Found::None(_) => {}
                Found::Unknown(_) => return None,
            }
        }
        Some(false)
    }
}

/// What shares come to by weights is above nothing, or not below.
fn sign(
    search: &mut Search<'_, '_>,
    shares: &[NumberVar],
    weights: &[Exact],
    strict: bool,
) -> Literal {
    let sum = weighed(shares, weights);
    search.solver.constraint(&sum, &Exact::ZERO, strict)
}

fn weighed(shares: &[NumberVar], weights: &[Exact]) -> Vec<(NumberVar, Exact)> {
    let each = shares.iter().copied().zip(weights.iter().cloned());
    each.collect()
}

/// Weights from −1 to 1 by which no item that was met comes to more than nothing, and the values to as much as can be;
/// nothing where that is nothing.
fn weights(values: &[Exact], met: &[Vec<Exact>]) -> Option<Vec<Exact>> {
    let mut solver = Solver::new();
    let minus = Exact::ONE.neg();
    let all: Vec<NumberVar> = values.iter().map(|_| solver.new_number()).collect();
    for var in &all {
        for factor in [&Exact::ONE, &minus] {
            let literal = solver.constraint(&[(*var, factor.clone())], &Exact::ONE, false);
            solver.add_clause(&[literal]);
        }
    }
    for adds in met {
        let sum = all.iter().copied().zip(adds.iter().map(Exact::neg));
        let sum: Vec<(NumberVar, Exact)> = sum.collect();
        let literal = solver.constraint(&sum, &Exact::ZERO, false);
        solver.add_clause(&[literal]);
    }
    let total = solver.new_number();
    let mut sum: Vec<(NumberVar, Exact)> =
        all.iter().copied().zip(values.iter().cloned()).collect();
    sum.push((total, minus.clone()));
    let turned: Vec<(NumberVar, Exact)> = sum.iter().map(|(var, c)| (*var, c.neg())).collect();
    for sum in [&sum, &turned] {
        let literal = solver.constraint(sum, &Exact::ZERO, false);
        solver.add_clause(&[literal]);
    }
    if solver.solve(&[]) != Answer::Satisfiable {
        return None;
    }
    let (most, _) = solver.range(total, &[]).1?;
    if most.signum() <= 0 {
        return None;
    }
    let best = solver.constraint(&[(total, Exact::ONE)], &most.neg(), false);
    if solver.solve(&[best]) != Answer::Satisfiable {
        return None;
    }
    Some(all.iter().map(|var| solver.value(*var)).collect())
}
