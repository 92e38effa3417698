//! Whether bounds on numbers and on sums of them can hold together: the general simplex, exactly.
//!
//! Source: B. Dutertre, L. de Moura, "A fast linear-arithmetic solver for DPLL(T)", CAV 2006, sections 3 to 5. Their
//! letters: a tableau of rows x_i = Σ a_ij·x_j for the basic x_i over those that are not, β the values, l and u the
//! bounds. Values outside their bounds are looked for among basic numbers alone.

use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

use super::Literal;
use super::pair::Pair;
use crate::quantity::Exact;

pub(super) const NONE: u32 = u32::MAX;

/// A threshold: the literal means that the number is at least `at`, strict: is above it.
#[derive(Debug)]
pub(super) struct Atom {
    pub(super) number: u32,
    pub(super) at: Exact,
    pub(super) strict: bool,
    pub(super) literal: Literal,
}

impl Atom {
    /// k of the lower bound that this is when it holds.
    fn lower_k(&self) -> i64 {
        i64::from(self.strict)
    }

    /// k of the upper bound that this is when it does not hold.
    fn upper_k(&self) -> i64 {
        i64::from(self.strict) - 1
    }
}

/// basic = Σ coefficient · variable.
#[derive(Debug, Default)]
pub(super) struct Row {
    pub(super) basic: u32,
    pub(super) numbers: Vec<u32>,
    pub(super) factors: Vec<Exact>,
}

#[derive(Clone, Copy, Debug)]
struct Undo {
    number: u32,
    upper: bool,
    old: u32,
}

/// What a check of all bounds found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Checked {
    /// They hold together, and the values are within them.
    Holds,
    /// They do not; the clause that says so is in `conflict`.
    Conflict,
    /// A limit of work was reached.
    GaveUp,
}

#[derive(Debug)]
pub(super) struct Simplex {
    pub(super) atoms: Vec<Atom>,
    pub(super) rows: Vec<Row>,
    /// The row in which a number is basic.
    pub(super) row_of: Vec<u32>,
    /// The rows in which a number has a coefficient; none for basic ones.
    pub(super) columns: Vec<Vec<u32>>,
    pub(super) values: Vec<Pair>,
    /// The atoms that are the bounds now.
    pub(super) lower: Vec<u32>,
    pub(super) upper: Vec<u32>,
    undo: Vec<Undo>,
    suspects: BinaryHeap<Reverse<u32>>,
    suspected: Vec<bool>,
    /// Where a number stands in the row that is worked on, plus one; zero between uses.
    pub(super) place: Vec<u32>,
    /// Coefficients and values reckoned so far.
    pub(super) steps: u64,
    pub(super) pivots: u64,
    /// Bits of the largest coefficient or value that a pivot made, where it outgrew the short form.
    pub(super) bits: u64,
    pub(super) conflict: Vec<Literal>,
}

impl Simplex {
    pub(super) fn new() -> Simplex {
        Simplex {
            atoms: Vec::new(),
            rows: Vec::new(),
            row_of: Vec::new(),
            columns: Vec::new(),
            values: Vec::new(),
            lower: Vec::new(),
            upper: Vec::new(),
            undo: Vec::new(),
            suspects: BinaryHeap::new(),
            suspected: Vec::new(),
            place: Vec::new(),
            steps: 0,
            pivots: 0,
            bits: 0,
            conflict: Vec::new(),
        }
    }

    /// One more number, free.
    pub(super) fn push_number(&mut self) -> u32 {
        let number = self.values.len() as u32;
        self.row_of.push(NONE);
        self.columns.push(Vec::new());
        self.values.push(Pair::ZERO);
        self.lower.push(NONE);
        self.upper.push(NONE);
        self.suspected.push(false);
        self.place.push(0);
        number
    }

    /// A number that is this sum, basic in a row of its own.
    pub(super) fn push_sum(&mut self, terms: &[(u32, Exact)]) -> u32 {
        let sum = self.push_number();
        let row = self.rows.len() as u32;
        self.rows.push(Row {
            basic: sum,
            ..Row::default()
        });
        let mut value = Pair::ZERO;
        for (number, factor) in terms {
            value.add_multiple(factor, &self.values[*number as usize]);
            let source = match self.row_of[*number as usize] {
                NONE => Row {
                    basic: NONE,
                    numbers: vec![*number],
                    factors: vec![Exact::ONE],
                },
                other => std::mem::take(&mut self.rows[other as usize]),
            };
            self.add_row(row, factor, &source);
            if source.basic != NONE {
                let other = self.row_of[*number as usize] as usize;
                self.rows[other] = source;
            }
        }
        self.row_of[sum as usize] = row;
        self.values[sum as usize] = value;
        sum
    }

    pub(super) fn lower_of(&self, number: u32) -> Option<(&Exact, i64)> {
        let atom = self.atoms.get(self.lower[number as usize] as usize)?;
        Some((&atom.at, atom.lower_k()))
    }

    pub(super) fn upper_of(&self, number: u32) -> Option<(&Exact, i64)> {
        let atom = self.atoms.get(self.upper[number as usize] as usize)?;
        Some((&atom.at, atom.upper_k()))
    }

    fn against_lower(&self, number: u32) -> Ordering {
        match self.lower_of(number) {
            Some((at, k)) => self.values[number as usize].cmp_to(at, k),
            None => Ordering::Greater,
        }
    }

    fn against_upper(&self, number: u32) -> Ordering {
        match self.upper_of(number) {
            Some((at, k)) => self.values[number as usize].cmp_to(at, k),
            None => Ordering::Less,
        }
    }

    /// Whether the value may move up, or down, within its bounds.
    pub(super) fn may_move(&self, number: u32, up: bool) -> bool {
        if up {
            self.against_upper(number) == Ordering::Less
        } else {
            self.against_lower(number) == Ordering::Greater
        }
    }

    /// Whether the present value of the atom's number lies on the side where the atom holds.
    pub(super) fn holds_now(&self, atom: u32) -> bool {
        let atom = &self.atoms[atom as usize];
        self.values[atom.number as usize].cmp_to(&atom.at, atom.lower_k()) != Ordering::Less
    }

    /// How far the bounds' history goes, for `undo_to`.
    pub(super) fn mark(&self) -> usize {
        self.undo.len()
    }

    /// The bounds as they were at a mark. Values stay: what lay within tighter bounds lies within wider ones.
    pub(super) fn undo_to(&mut self, mark: usize) {
        while self.undo.len() > mark {
            let Some(undo) = self.undo.pop() else { return };
            let side = if undo.upper {
                &mut self.upper
            } else {
                &mut self.lower
            };
            side[undo.number as usize] = undo.old;
        }
    }

    /// The bound that an atom is when it holds, or does not. That no lower bound exceeds an upper one of the same number
    /// is the caller's business: clauses between neighbouring atoms say so.
    pub(super) fn assert(&mut self, index: u32, holds: bool) {
        let atom = &self.atoms[index as usize];
        let number = atom.number;
        let side = if holds { &self.lower } else { &self.upper };
        let old = side[number as usize];
        if let Some(old) = self.atoms.get(old as usize) {
            let order = atom
                .at
                .cmp(&old.at)
                .then_with(|| atom.strict.cmp(&old.strict));
            let tighter = if holds {
                order == Ordering::Greater
            } else {
                order == Ordering::Less
            };
            if !tighter {
                return;
            }
        }
        let (outside, target) = if holds {
            (Ordering::Less, (&atom.at, atom.lower_k()))
        } else {
            (Ordering::Greater, (&atom.at, atom.upper_k()))
        };
        let is_outside = self.values[number as usize].cmp_to(target.0, target.1) == outside;
        let target = is_outside.then(|| Pair::at(target.0, target.1));
        self.undo.push(Undo {
            number,
            upper: !holds,
            old,
        });
        if holds {
            self.lower[number as usize] = index;
        } else {
            self.upper[number as usize] = index;
        }
        if let Some(target) = target {
            if self.row_of[number as usize] == NONE {
                self.update(number, target);
            } else {
                self.suspect(number);
            }
        }
    }

    /// Moves numbers to values that are wished for, where their bounds let them go there. A basic one changes places with
    /// a sum of its row, for which nothing is wished.
    pub(super) fn prefer(&mut self, wishes: &[Option<Exact>]) {
        for (number, wish) in (0..).zip(wishes) {
            let (Some(wish), Some(own)) = (wish, self.values.get(number as usize)) else {
                continue;
            };
            if own.k.is_zero() && own.c == *wish {
                continue;
            }
            let target = Pair::at(wish, 0);
            let is_within = self
                .upper_of(number)
                .is_none_or(|(at, k)| target.cmp_to(at, k) != Ordering::Greater)
                && self
                    .lower_of(number)
                    .is_none_or(|(at, k)| target.cmp_to(at, k) != Ordering::Less);
            if !is_within {
                continue;
            }
            let row = self.row_of[number as usize];
            if row == NONE {
                self.update(number, target);
                continue;
            }
            let others = self.rows[row as usize].numbers.iter().copied();
            let sum = others
                .filter(|&other| !matches!(wishes.get(other as usize), Some(Some(_))))
                .min_by_key(|&other| (self.columns[other as usize].len(), other));
            if let Some(sum) = sum {
                self.pivot_and_update(row, sum, target);
            }
        }
    }

    fn suspect(&mut self, number: u32) {
        if !self.suspected[number as usize] {
            self.suspected[number as usize] = true;
            self.suspects.push(Reverse(number));
        }
    }

    /// Moves a number that is not basic, and with it the basic ones of its column.
    pub(super) fn update(&mut self, number: u32, target: Pair) {
        let by = target.sub(&self.values[number as usize]);
        self.shift_column(number, &by, NONE);
        self.values[number as usize] = target;
    }

    /// What a shift of a number does to the basic numbers of its column, but for one row.
    fn shift_column(&mut self, number: u32, by: &Pair, but: u32) {
        let column = std::mem::take(&mut self.columns[number as usize]);
        self.steps += column.len() as u64;
        for &row in &column {
            if row == but {
                continue;
            }
            let row = &self.rows[row as usize];
            let basic = row.basic;
            if let Some(at) = row.numbers.iter().position(|&other| other == number) {
                self.values[basic as usize].add_multiple(&row.factors[at], by);
            }
            if self.is_outside(basic) {
                self.suspect(basic);
            }
        }
        self.columns[number as usize] = column;
    }

    fn is_outside(&self, number: u32) -> bool {
        self.against_lower(number) == Ordering::Less
            || self.against_upper(number) == Ordering::Greater
    }

    /// The coefficient of a number in a row.
    pub(super) fn factor(&self, row: u32, number: u32) -> Option<&Exact> {
        let row = &self.rows[row as usize];
        let at = row.numbers.iter().position(|&other| other == number)?;
        row.factors.get(at)
    }

    /// The basic number of a row leaves for a number of the row, and goes to `target`.
    pub(super) fn pivot_and_update(&mut self, row: u32, entering: u32, target: Pair) {
        let leaving = self.rows[row as usize].basic;
        let by = target.sub(&self.values[leaving as usize]);
        let inverse = self
            .factor(row, entering)
            .and_then(|factor| Exact::ONE.checked_div(factor));
        // A coefficient in a row is not zero.
        let Some(inverse) = inverse else { return };
        let by = by.times(&inverse.lowest());
        self.shift_column(entering, &by, row);
        self.values[leaving as usize] = target;
        let value = &mut self.values[entering as usize];
        value.add_multiple(&Exact::ONE, &by);
        value.c = value.c.lowest();
        value.k = value.k.lowest();
        self.bits = self.bits.max(value.c.bits());
        self.pivots += 1;
        self.pivot(row, entering);
        if self.is_outside(entering) {
            self.suspect(entering);
        }
    }

    /// Moves values until all are within their bounds, or shows bounds that cannot hold together: of a row whose basic
    /// number is outside while none of the others can make it better (Farkas: the row is the proof).
    pub(super) fn check(&mut self, most_steps: u64, most_bits: u64) -> Checked {
        let mut pivots = 0;
        let patience = 50 + self.rows.len();
        while let Some(Reverse(number)) = self.suspects.pop() {
            self.suspected[number as usize] = false;
            let row = self.row_of[number as usize];
            if row == NONE {
                continue;
            }
            let low = self.against_lower(number) == Ordering::Less;
            if !low && self.against_upper(number) != Ordering::Greater {
                continue;
            }
            let Some(entering) = self.entering(row, low, pivots > patience) else {
                self.suspect(number);
                self.explain(row, low);
                return Checked::Conflict;
            };
            if self.steps >= most_steps || self.bits > most_bits {
                self.suspect(number);
                return Checked::GaveUp;
            }
            pivots += 1;
            self.steps += 1;
            let bound = if low {
                self.lower_of(number)
            } else {
                self.upper_of(number)
            };
            let Some((at, k)) = bound else { continue };
            let target = Pair::at(at, k);
            self.pivot_and_update(row, entering, target);
        }
        Checked::Holds
    }

    /// The number of a row that can move its basic number up, or down. The one with the shortest column first, as that
    /// is the least work; in the long run the least number, as by Bland's rule the search then ends.
    fn entering(&self, row: u32, up: bool, by_bland: bool) -> Option<u32> {
        let row = &self.rows[row as usize];
        let mut best: Option<(usize, u32)> = None;
        for (&number, factor) in row.numbers.iter().zip(&row.factors) {
            let rank = if by_bland {
                0
            } else {
                self.columns[number as usize].len()
            };
            if best.is_some_and(|best| best <= (rank, number)) {
                continue;
            }
            if self.may_move(number, (factor.signum() > 0) == up) {
                best = Some((rank, number));
            }
        }
        best.map(|(_, number)| number)
    }

    fn explain(&mut self, row: u32, low: bool) {
        self.conflict.clear();
        let row = &self.rows[row as usize];
        let lower = |number: u32| {
            Some(
                self.atoms
                    .get(self.lower[number as usize] as usize)?
                    .literal,
            )
        };
        let upper = |number: u32| {
            Some(
                !self
                    .atoms
                    .get(self.upper[number as usize] as usize)?
                    .literal,
            )
        };
        let own = if low {
            lower(row.basic)
        } else {
            upper(row.basic)
        };
        let others = row
            .numbers
            .iter()
            .zip(&row.factors)
            .map(|(&number, factor)| {
                if (factor.signum() > 0) == low {
                    upper(number)
                } else {
                    lower(number)
                }
            });
        let reasons = std::iter::once(own).chain(others).flatten();
        self.conflict.extend(reasons.map(|reason| !reason));
    }
}
