//! Days as numbers, counted from 1970-01-01.

use crate::quantity::{Date, Exact, add_days, days_between};

const FIRST: Date = Date::constant(1970, 1, 1);

/// The number of a day.
pub(super) fn day_number(day: Date) -> Exact {
    Exact::from_integer(days_between(FIRST, day))
}

/// The day of a number; nothing where it is not whole, or beyond the days that can be written.
pub(super) fn day_of(number: &Exact) -> Option<Date> {
    add_days(FIRST, number.to_i64()?)
}
