//! Whether statements can hold together: Boolean structure over linear constraints of rational numbers, exactly.
//!
//! Clauses are solved by conflict-driven search (`search`, `clauses`, `order`), the numbers by a general simplex
//! (`simplex`, `pivot`); a constraint is a literal, and both are held together by the bounds that hold. Constraints on
//! one number never come to the simplex to be decided: the thresholds of a number are sorted, and a clause between
//! neighbours says that who is above the higher one is above the lower one.
//!
//! Nothing is rounded, and nothing depends on a clock or on chance: the same calls give the same answers.

#![allow(
    clippy::indexing_slicing,
    reason = "every index is a variable, a number, a row or a clause that this room itself made and never removes; the \
              tests hold the answers to brute force"
)]

mod clauses;
mod model;
mod optimum;
mod order;
mod pair;
mod pivot;
mod search;
mod simplex;

#[cfg(test)]
mod tests;

use std::collections::HashMap;

use clauses::{Clauses, NO_CLAUSE};
pub use model::End;
use order::Order;
use simplex::{Atom, NONE, Simplex};

use crate::quantity::Exact;

/// A Boolean variable, or its negation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Literal(u32);

impl Literal {
    /// Holds always.
    pub const TRUE: Literal = Literal(0);
    /// Holds never.
    pub const FALSE: Literal = Literal(1);

    const fn of(variable: u32, negated: bool) -> Literal {
        Literal(variable << 1 | negated as u32)
    }

    const fn index(self) -> usize {
        self.0 as usize
    }

    const fn variable(self) -> u32 {
        self.0 >> 1
    }

    const fn is_negated(self) -> bool {
        self.0 & 1 == 1
    }
}

impl std::ops::Not for Literal {
    type Output = Literal;
    fn not(self) -> Literal {
        Literal(self.0 ^ 1)
    }
}

/// A number that may be any rational.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NumberVar(u32);

/// How much work one question may take. Counted, not timed: the same everywhere.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Conflicts of the search.
    pub conflicts: u64,
    /// Steps of the simplex: coefficients and values reckoned, and long ones as often as their length costs.
    pub steps: u64,
    /// Bits of numerator and denominator of a number, where they outgrow machine words.
    pub bits: u64,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            conflicts: 200_000,
            steps: 100_000_000,
            bits: 4096,
        }
    }
}

/// What questions have cost: counted, so that it is the same on every machine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Questions to the solver.
    pub solved: u64,
    /// Conflicts of the search.
    pub conflicts: u64,
    /// Decisions of the search, assumptions not among them.
    pub decisions: u64,
    /// Pivots of the simplex.
    pub pivots: u64,
    /// Steps of the simplex, as [`Limits`] count them.
    pub steps: u64,
}

impl Work {
    /// With what others have cost.
    #[must_use]
    pub fn and(self, other: Work) -> Work {
        Work {
            solved: self.solved.saturating_add(other.solved),
            conflicts: self.conflicts.saturating_add(other.conflicts),
            decisions: self.decisions.saturating_add(other.decisions),
            pivots: self.pivots.saturating_add(other.pivots),
            steps: self.steps.saturating_add(other.steps),
        }
    }
}

/// What is known about clauses under assumptions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// There is a model: `bool_value`, `value` and `range` tell of it.
    Satisfiable,
    /// There is none, and these assumptions suffice for that.
    Unsatisfiable(Vec<Literal>),
    /// A limit of work was reached.
    GaveUp,
}

/// Clauses over literals and linear constraints, to which more can be added after each answer.
#[derive(Debug)]
pub struct Solver {
    clauses: Clauses,
    order: Order,
    simplex: Simplex,
    /// By variable: the atom that it is.
    atom_of: Vec<u32>,
    /// By number: its atoms from the least threshold to the greatest.
    thresholds: Vec<Vec<u32>>,
    sums: HashMap<Vec<(u32, Exact)>, u32>,
    /// By variable: how it was decided last, and how it is to be decided.
    phase: Vec<bool>,
    polarity: Vec<Option<bool>>,
    /// By number: where it stays while it may.
    preferred: Vec<Option<Exact>>,
    /// How much of the trail the simplex has been told.
    told: usize,
    /// By level: the history of bounds when it began.
    marks: Vec<usize>,
    /// No model whatever is assumed.
    contradictory: bool,
    limits: Limits,
    work: Work,
    most_steps: u64,
    most_learnt: usize,
    model: Vec<bool>,
    values: Vec<Exact>,
    /// The assignment is still that of the model.
    held: bool,
    /// The history of bounds before those of the model were set again.
    probe: Option<usize>,
    conflict: Vec<Literal>,
    learnt: Vec<Literal>,
    scratch: Vec<Literal>,
    bumped: Vec<u32>,
    seen: Vec<bool>,
    stamps: Vec<u64>,
    stamp: u64,
}

impl Default for Solver {
    fn default() -> Solver {
        Solver::new()
    }
}

impl Solver {
    /// Without clauses.
    #[must_use]
    pub fn new() -> Solver {
        let mut solver = Solver {
            clauses: Clauses::new(),
            order: Order::new(),
            simplex: Simplex::new(),
            atom_of: Vec::new(),
            thresholds: Vec::new(),
            sums: HashMap::new(),
            phase: Vec::new(),
            polarity: Vec::new(),
            preferred: Vec::new(),
            told: 0,
            marks: Vec::new(),
            contradictory: false,
            limits: Limits::default(),
            work: Work::default(),
            most_steps: 0,
            most_learnt: 2000,
            model: Vec::new(),
            values: Vec::new(),
            held: false,
            probe: None,
            conflict: Vec::new(),
            learnt: Vec::new(),
            scratch: Vec::new(),
            bumped: Vec::new(),
            seen: Vec::new(),
            stamps: Vec::new(),
            stamp: 0,
        };
        let constant = solver.new_bool();
        solver.clauses.assign(constant, NO_CLAUSE);
        solver
    }

    /// Limits of work for the questions to come.
    pub fn set_limits(&mut self, limits: Limits) {
        self.limits = limits;
    }

    /// What all questions so far have cost.
    #[must_use]
    pub fn work(&self) -> Work {
        Work {
            pivots: self.simplex.pivots,
            steps: self.simplex.steps,
            ..self.work
        }
    }

    /// A Boolean that may be either.
    pub fn new_bool(&mut self) -> Literal {
        let variable = self.clauses.push_variable();
        self.order.push_variable();
        self.atom_of.push(NONE);
        self.phase.push(false);
        self.polarity.push(None);
        self.seen.push(false);
        Literal::of(variable, false)
    }

    /// A rational number without bounds.
    pub fn new_number(&mut self) -> NumberVar {
        self.thresholds.push(Vec::new());
        NumberVar(self.simplex.push_number())
    }

    /// Decides a variable this way first.
    pub fn set_polarity(&mut self, literal: Literal) {
        self.polarity[literal.variable() as usize] = Some(!literal.is_negated());
    }

    /// Leaves a number at this value where nothing moves it, and decides its constraints for the side on which the value
    /// lies first. A wish: it excludes nothing.
    pub fn set_preferred_value(&mut self, number: NumberVar, value: &Exact) {
        let at = number.0 as usize;
        if self.preferred.len() <= at {
            self.preferred.resize(at + 1, None);
        }
        self.preferred[at] = Some(value.clone());
    }

    /// At least one of these holds.
    pub fn add_clause(&mut self, clause: &[Literal]) {
        self.end_probe();
        self.back_to(0);
        let mut kept = std::mem::take(&mut self.scratch);
        kept.clear();
        kept.extend_from_slice(clause);
        kept.sort_unstable();
        kept.dedup();
        let tautology = kept.windows(2).any(|pair| pair[0] == !pair[1]);
        if !tautology && kept.iter().all(|&literal| self.clauses.truth(literal) <= 0) {
            kept.retain(|&literal| self.clauses.truth(literal) == 0);
            match kept.as_slice() {
                [] => self.contradictory = true,
                &[fact] => self.clauses.assign(fact, NO_CLAUSE),
                _ => {
                    self.clauses.store(&kept, false, 0);
                }
            }
        }
        self.scratch = kept;
    }

    /// The literal that means Σ c·x + k >= 0, strict: > 0.
    ///
    /// Constraints that are equal up to a positive factor are one literal, and those of which one is the complement of the
    /// other are its two signs. Without numbers it is [`Literal::TRUE`] or [`Literal::FALSE`].
    pub fn constraint(
        &mut self,
        terms: &[(NumberVar, Exact)],
        constant: &Exact,
        strict: bool,
    ) -> Literal {
        let Some((number, upper, inverse)) = self.measured(terms) else {
            let sign = constant.signum();
            let holds = if strict { sign > 0 } else { sign >= 0 };
            return if holds { Literal::TRUE } else { Literal::FALSE };
        };
        let at = constant.mul(&inverse).neg().lowest();
        // s <= at is not s > at, and s < at is not s >= at.
        let atom = self.atom(number, at, strict != upper);
        if upper { !atom } else { atom }
    }

    /// The number that a sum is a multiple of, with the first coefficient 1; whether the sum falls as it rises, and what
    /// the sum is to be multiplied by. Nothing where there are no numbers in it.
    fn measured(&mut self, terms: &[(NumberVar, Exact)]) -> Option<(u32, bool, Exact)> {
        let mut sum: Vec<(u32, Exact)> = Vec::with_capacity(terms.len());
        let mut sorted: Vec<&(NumberVar, Exact)> = terms.iter().collect();
        sorted.sort_by_key(|(number, _)| *number);
        for (number, factor) in sorted {
            match sum.last_mut() {
                Some((last, total)) if *last == number.0 => *total = total.add(factor),
                _ => sum.push((number.0, factor.clone())),
            }
        }
        sum.retain(|(_, factor)| !factor.is_zero());
        let (_, first) = sum.first()?;
        // The first coefficient becomes 1: s >= at, or for a negative one s <= at.
        let upper = first.signum() < 0;
        let inverse = Exact::ONE.checked_div(first).unwrap_or(Exact::ONE).lowest();
        for (_, factor) in &mut sum {
            *factor = factor.mul(&inverse).lowest();
        }
        let number = match sum.as_slice() {
            [(number, _)] => *number,
            _ => self.sum(sum),
        };
        Some((number, upper, inverse))
    }

    /// The number that is a sum.
    fn sum(&mut self, terms: Vec<(u32, Exact)>) -> u32 {
        if let Some(number) = self.sums.get(&terms) {
            return *number;
        }
        self.end_probe();
        self.back_to(0);
        let number = self.simplex.push_sum(&terms);
        self.thresholds.push(Vec::new());
        self.sums.insert(terms, number);
        number
    }

    /// The literal of a threshold, between its neighbours.
    fn atom(&mut self, number: u32, at: Exact, strict: bool) -> Literal {
        let thresholds = &self.thresholds[number as usize];
        let found = thresholds.binary_search_by(|&index| {
            let atom = &self.simplex.atoms[index as usize];
            atom.at.cmp(&at).then_with(|| atom.strict.cmp(&strict))
        });
        let literal_of = |index: &u32| self.simplex.atoms[*index as usize].literal;
        let place = match found {
            Ok(place) => return literal_of(&thresholds[place]),
            Err(place) => place,
        };
        let below = place.checked_sub(1).and_then(|at| thresholds.get(at));
        let (below, above) = (below.map(literal_of), thresholds.get(place).map(literal_of));
        let literal = self.new_bool();
        let index = self.simplex.atoms.len() as u32;
        self.simplex.atoms.push(Atom {
            number,
            at,
            strict,
            literal,
        });
        self.atom_of[literal.variable() as usize] = index;
        self.thresholds[number as usize].insert(place, index);
        if let Some(below) = below {
            self.add_clause(&[!literal, below]);
        }
        if let Some(above) = above {
            self.add_clause(&[!above, literal]);
        }
        literal
    }

    /// Whether all clauses can hold together with these literals. A model stays to be asked about until the next one.
    pub fn solve(&mut self, assumptions: &[Literal]) -> Answer {
        self.work.solved += 1;
        self.end_probe();
        self.back_to(0);
        if self.contradictory {
            return Answer::Unsatisfiable(Vec::new());
        }
        self.simplex.prefer(&self.preferred);
        self.search(assumptions)
    }
}
