//! What a satisfiable answer is about: truths, values with a δ that is small enough, and how far each value may go.

use super::simplex::{Checked, NONE, Simplex};
use super::{Literal, NumberVar, Solver};
use crate::quantity::Exact;

/// An end of a range: where it is, and whether the end itself belongs to the range; `None`: there is none.
pub type End = Option<(Exact, bool)>;

impl Solver {
    pub(super) fn keep_model(&mut self) {
        self.model.clear();
        for variable in 0..self.clauses.level.len() as u32 {
            let holds = self.clauses.truth(Literal::of(variable, false)) > 0;
            self.model.push(holds);
        }
        self.simplex.concrete(&mut self.values);
        self.held = true;
    }

    /// Whether a literal holds in the last model; `None` for one that is newer than it.
    #[must_use]
    pub fn bool_value(&self, literal: Literal) -> Option<bool> {
        let holds = self.model.get(literal.variable() as usize)?;
        Some(*holds != literal.is_negated())
    }

    /// A number in the last model: all constraints that hold in it hold for these values. Zero for a number that is newer.
    #[must_use]
    pub fn value(&self, number: NumberVar) -> Exact {
        let value = self.values.get(number.0 as usize);
        value.cloned().unwrap_or(Exact::ZERO)
    }

    /// The least and the greatest value of a number while every Boolean, and so every constraint, is as in the last model,
    /// and some more constraints hold that are met within that.
    pub fn range(&mut self, number: NumberVar, also: &[Literal]) -> (End, End) {
        if number.0 as usize >= self.simplex.values.len() {
            return (None, None);
        }
        self.hold_model();
        let before = self.simplex.mark();
        for literal in also {
            let atom = self.atom_of[literal.variable() as usize];
            if atom != NONE {
                self.simplex.assert(atom, !literal.is_negated());
            }
        }
        let ends = self.ends(number);
        self.simplex.undo_to(before);
        ends
    }

    /// Values of some numbers where a sum of others is as great as it can be while every Boolean is as in the last model;
    /// on the end of an open range, where that is how far it goes. Nothing where it goes on for ever.
    pub fn farthest(&mut self, sum: &[(NumberVar, Exact)], of: &[NumberVar]) -> Option<Vec<Exact>> {
        let (number, upper, _) = self.measured(sum)?;
        self.hold_model();
        if self.simplex.check(u64::MAX, u64::MAX) != Checked::Holds {
            return None;
        }
        self.simplex.extreme(number, !upper)?;
        let value =
            |number: &NumberVar| Some(self.simplex.values.get(number.0 as usize)?.c.lowest());
        of.iter().map(value).collect()
    }

    /// Sets the bounds of the last model again, where they are not held.
    fn hold_model(&mut self) {
        if !self.held && self.probe.is_none() {
            self.probe = Some(self.simplex.mark());
            for (variable, &holds) in self.model.iter().enumerate() {
                let atom = self.atom_of[variable];
                if atom != NONE {
                    self.simplex.assert(atom, holds);
                }
            }
        }
    }

    fn ends(&mut self, number: NumberVar) -> (End, End) {
        // The model is a point within its bounds, so that without more constraints this always holds.
        if self.simplex.check(u64::MAX, u64::MAX) != Checked::Holds {
            return (None, None);
        }
        let mut end = |up| {
            let end = self.simplex.extreme(number.0, up)?;
            Some((end.c.lowest(), end.k.is_zero()))
        };
        (end(false), end(true))
    }

    /// Takes back the bounds of the last model that `range` set.
    pub(super) fn end_probe(&mut self) {
        if let Some(mark) = self.probe.take() {
            self.simplex.undo_to(mark);
        }
    }
}

impl Simplex {
    /// Values without δ. Source: Dutertre and de Moura, CAV 2006, section 5; δ at most 1, so that sums and differences of
    /// whole numbers stay whole where they can.
    fn concrete(&self, values: &mut Vec<Exact>) {
        let mut delta = Exact::ONE;
        let mut at_most = |room: Exact, k: Exact| {
            if room.signum() > 0
                && k.signum() > 0
                && let Some(limit) = room.checked_div(&k)
                && limit < delta
            {
                delta = limit.lowest();
            }
        };
        for (number, value) in self.values.iter().enumerate() {
            if self.is_alone(number) {
                continue;
            }
            if let Some((at, k)) = self.lower_of(number as u32) {
                at_most(value.c.sub(at), Exact::from_integer(k).sub(&value.k));
            }
            if let Some((at, k)) = self.upper_of(number as u32) {
                at_most(at.sub(&value.c), value.k.sub(&Exact::from_integer(k)));
            }
        }
        values.clear();
        for (number, value) in self.values.iter().enumerate() {
            values.push(if self.is_alone(number) {
                self.alone(number as u32)
            } else if value.k.is_zero() {
                value.c.lowest()
            } else {
                value.c.add(&value.k.mul(&delta)).lowest()
            });
        }
    }

    /// Whether a number stands in no sum.
    fn is_alone(&self, number: usize) -> bool {
        self.row_of[number] == NONE && self.columns[number].is_empty()
    }

    /// A value within the bounds of a number that stands in no sum: beside an open bound half-way to the other one, or
    /// one further.
    fn alone(&self, number: u32) -> Exact {
        let value = &self.values[number as usize];
        let (bound, step) = match value.k.signum() {
            0 => return value.c.lowest(),
            1 => (self.upper_of(number), Exact::ONE),
            _ => (self.lower_of(number), Exact::from_integer(-1)),
        };
        let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
        match bound {
            Some((at, _)) => value.c.add(at).mul(&half).lowest(),
            None => value.c.add(&step).lowest(),
        }
    }
}
