//! Rows of the tableau: one added to another, and the pivot.

use super::simplex::{NONE, Row, Simplex};
use crate::quantity::Exact;

impl Simplex {
    /// Adds `factor` times `source` to a row, with all columns kept right.
    pub(super) fn add_row(&mut self, row: u32, factor: &Exact, source: &Row) {
        let target = &mut self.rows[row as usize];
        for (at, &number) in target.numbers.iter().enumerate() {
            self.place[number as usize] = at as u32 + 1;
        }
        self.steps += source.numbers.len() as u64;
        let mut vanished = false;
        for (&number, other) in source.numbers.iter().zip(&source.factors) {
            let product = factor.mul(other);
            match self.place[number as usize] {
                0 => {
                    target.numbers.push(number);
                    target.factors.push(product.trimmed());
                    self.columns[number as usize].push(row);
                    self.place[number as usize] = target.numbers.len() as u32;
                }
                at => {
                    let own = &mut target.factors[at as usize - 1];
                    *own = own.add(&product).trimmed();
                    vanished |= own.is_zero();
                    let bits = own.bits();
                    self.bits = self.bits.max(bits);
                    self.steps += 8 * bits;
                }
            }
        }
        for &number in &target.numbers {
            self.place[number as usize] = 0;
        }
        if vanished {
            for at in (0..target.numbers.len()).rev() {
                if target.factors[at].is_zero() {
                    let number = target.numbers.swap_remove(at);
                    target.factors.swap_remove(at);
                    let column = &mut self.columns[number as usize];
                    if let Some(at) = column.iter().position(|&other| other == row) {
                        column.swap_remove(at);
                    }
                }
            }
        }
    }

    /// The basic number of a row and a number of it change places; values stay.
    pub(super) fn pivot(&mut self, row: u32, entering: u32) {
        let mut own = std::mem::take(&mut self.rows[row as usize]);
        let leaving = own.basic;
        let Some(at) = own.numbers.iter().position(|&other| other == entering) else {
            self.rows[row as usize] = own;
            return;
        };
        // A coefficient in a row is not zero.
        let inverse = Exact::ONE
            .checked_div(&own.factors[at])
            .unwrap_or(Exact::ONE)
            .lowest();
        let minus = inverse.neg();
        for factor in &mut own.factors {
            *factor = factor.mul(&minus).trimmed();
        }
        own.numbers[at] = leaving;
        own.factors[at] = inverse;
        own.basic = entering;
        self.row_of[leaving as usize] = NONE;
        self.row_of[entering as usize] = row;
        let mut column = std::mem::take(&mut self.columns[entering as usize]);
        self.columns[leaving as usize].clear();
        self.columns[leaving as usize].push(row);
        for &other in &column {
            if other == row {
                continue;
            }
            let target = &mut self.rows[other as usize];
            if let Some(at) = target.numbers.iter().position(|&number| number == entering) {
                target.numbers.swap_remove(at);
                let factor = target.factors.swap_remove(at);
                self.add_row(other, &factor, &own);
            }
        }
        column.clear();
        self.columns[entering as usize] = column;
        self.rows[row as usize] = own;
    }
}
