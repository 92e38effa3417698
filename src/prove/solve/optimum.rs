//! How far a number can go within all bounds: the simplex with an objective, by Bland's rule, so that it ends.
//!
//! Source: R. G. Bland, "New finite pivoting rules for the simplex method", Mathematics of Operations Research 2 (1977).

use super::pair::Pair;
use super::simplex::{NONE, Simplex};
use crate::quantity::Exact;

/// What stops a number on its way.
enum Stop {
    /// Its own bound.
    Own(Pair),
    /// The bound of the basic number of a row.
    Row(u32, Pair),
}

impl Simplex {
    /// The greatest value (`up`), or the least; `None` when there is no end. All values are within their bounds before
    /// and after.
    pub(super) fn extreme(&mut self, number: u32, up: bool) -> Option<Pair> {
        loop {
            let row = self.row_of[number as usize];
            let (entering, entering_up) = if row == NONE {
                if !self.may_move(number, up) {
                    return Some(self.values[number as usize].clone());
                }
                (number, up)
            } else {
                match self.improving(row, up) {
                    Some(found) => found,
                    None => return Some(self.values[number as usize].clone()),
                }
            };
            match self.stop(entering, entering_up)? {
                Stop::Own(target) => self.update(entering, target),
                Stop::Row(row, target) => self.pivot_and_update(row, entering, target),
            }
        }
    }

    /// The least number of a row that moves its basic number up, or down, and which way it has to go itself.
    fn improving(&self, row: u32, up: bool) -> Option<(u32, bool)> {
        let row = &self.rows[row as usize];
        let moves = row.numbers.iter().zip(&row.factors);
        moves
            .map(|(&number, factor)| (number, (factor.signum() > 0) == up))
            .filter(|&(number, up)| self.may_move(number, up))
            .min()
    }

    /// The first bound that a number meets on its way up or down; of several met at once its own, then that of the
    /// least number.
    fn stop(&self, entering: u32, up: bool) -> Option<Stop> {
        let value = &self.values[entering as usize];
        let bound = |number: u32, up: bool| {
            let bound = if up {
                self.upper_of(number)
            } else {
                self.lower_of(number)
            };
            bound.map(|(at, k)| Pair::at(at, k))
        };
        let minus = Exact::from_integer(-1);
        let way = |distance: Pair| if up { distance } else { distance.times(&minus) };
        let own = bound(entering, up);
        let mut nearest = own.as_ref().map(|target| way(target.sub(value)));
        let mut stop = own.map(Stop::Own);
        let mut least = NONE;
        for &row in &self.columns[entering as usize] {
            let basic = self.rows[row as usize].basic;
            let Some(factor) = self.factor(row, entering) else {
                continue;
            };
            let Some(target) = bound(basic, (factor.signum() > 0) == up) else {
                continue;
            };
            let Some(inverse) = Exact::ONE.checked_div(factor) else {
                continue;
            };
            let distance = way(target.sub(&self.values[basic as usize]).times(&inverse));
            let nearer = match &nearest {
                None => true,
                Some(nearest) => {
                    distance < *nearest
                        || (distance == *nearest
                            && matches!(stop, Some(Stop::Row(..)))
                            && basic < least)
                }
            };
            if nearer {
                nearest = Some(distance);
                least = basic;
                stop = Some(Stop::Row(row, target));
            }
        }
        stop
    }
}
