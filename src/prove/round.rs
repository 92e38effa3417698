//! Round numbers and days within a range, near to what is usual.

use super::days::{day_number, day_of};
use super::solve::End;
use crate::quantity::{Exact, Ties, Unit};

/// The ends of a range; nothing where it has none.
pub(super) struct Ends {
    pub low: End,
    pub high: End,
}

/// No number is looked for with more digits after the point.
const DIGITS: i32 = 9;

impl Ends {
    fn has(&self, value: &Exact) -> bool {
        let above = match &self.low {
            Some((low, belongs)) => value > low || (*belongs && value == low),
            None => true,
        };
        let below = match &self.high {
            Some((high, belongs)) => value < high || (*belongs && value == high),
            None => true,
        };
        above && below
    }

    fn nearest(&self, near: &Exact) -> Exact {
        match (&self.low, &self.high) {
            (Some((low, _)), _) if near < low => low.clone(),
            (_, Some((high, _))) if near > high => high.clone(),
            _ => near.clone(),
        }
    }
}

/// The roundest number of a range near to a value, in a unit; base units in and out.
pub(super) fn round_number(ends: &Ends, near: &Exact, unit: Unit) -> Option<Exact> {
    let target = unit.from_base(&ends.nearest(near));
    // Not farther off than a quarter of it, so that it stays near what is usual.
    let quarter = Exact::from_fraction(1, 4)?;
    let span = target.abs().mul(&quarter).max(Exact::ONE);
    let ten = Exact::from_integer(10);
    let mut step = Exact::from_integer(1_000_000_000);
    for _ in -9..=DIGITS {
        let multiple = target.checked_div(&step)?.round_to_integer(Ties::Even);
        for offset in [0, 1, -1, 2, -2, 3, -3] {
            let number = multiple.add(&Exact::from_integer(offset)).mul(&step);
            let near_enough = number.sub(&target).abs() <= span;
            let value = unit.to_base(&number);
            let nothing = number.is_zero() && !target.is_zero();
            if near_enough && !nothing && ends.has(&value) {
                return Some(value);
            }
        }
        step = step.checked_div(&ten)?;
    }
    None
}

/// The first of a year in a range, else the first of a month, else a day; near to one, counted from 1970-01-01.
pub(super) fn round_day(ends: &Ends, near: &Exact) -> Option<Exact> {
    let target = ends.nearest(near).round_to_integer(Ties::Even);
    let date = day_of(&target)?;
    let mut tried: Vec<Exact> = Vec::new();
    for year in [0_i16, 1, -1] {
        let year = date.year().checked_add(year)?;
        for month in [6, 1] {
            tried.push(day_number(jiff::civil::Date::new(year, month, 1).ok()?));
        }
    }
    for offset in -1..=1_i8 {
        let month = date.month().checked_add(offset)?;
        if let Ok(first) = jiff::civil::Date::new(date.year(), month, 1) {
            tried.push(day_number(first));
        }
    }
    tried.extend([
        target.clone(),
        target.add(&Exact::ONE),
        target.sub(&Exact::ONE),
    ]);
    tried.into_iter().find(|one| ends.has(one))
}
