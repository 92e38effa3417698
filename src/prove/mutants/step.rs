//! The smallest changes of a written number, unit or date: texts from texts.

use jiff::civil::Date;
use num_integer::Integer;

use crate::quantity::Unit;

/// The largest denominator that a step of a fraction makes; finer ones are not written on drawings (common practice,
/// no source).
const FINEST: u64 = 64;

/// A quantity one step of its last written digit down and up: `4.70 mm` gives `4.69 mm` and `4.71 mm`, `5/16 in`
/// gives `9/32 in` and `11/32 in`, `82 deg 30 min` gives `82 deg 29 min` and `82 deg 31 min`. The step of a number
/// with a sign is one of its size; below zero there is none.
pub fn steps(text: &str) -> Vec<String> {
    let Some((start, end)) = last_number(text) else {
        return Vec::new();
    };
    let (Some(before), Some(number), Some(after)) =
        (text.get(..start), text.get(start..end), text.get(end..))
    else {
        return Vec::new();
    };
    let stepped = match number.split_once('/') {
        Some((above, below)) => {
            let mixed = before.ends_with(' ') && before.trim_end().ends_with(is_digit);
            fractions(above, below, mixed)
        }
        None => decimals(number),
    };
    let whole = |number: String| format!("{before}{number}{after}");
    stepped.into_iter().map(whole).collect()
}

fn is_digit(c: char) -> bool {
    c.is_ascii_digit()
}

/// Where the last number of a text stands, its sign aside.
fn last_number(text: &str) -> Option<(usize, usize)> {
    let mut at = 0;
    let mut found = None;
    for word in text.split(' ') {
        let digits = word.strip_prefix('-').unwrap_or(word);
        if digits.starts_with(is_digit) {
            let start = at + word.len() - digits.len();
            found = Some((start, start + digits.len()));
        }
        at += word.len() + 1;
    }
    found
}

fn decimals(number: &str) -> Vec<String> {
    let places = number.split_once('.').map_or(0, |(_, after)| after.len());
    let digits: String = number.chars().filter(|c| *c != '.').collect();
    let Ok(count) = digits.parse::<u128>() else {
        return Vec::new();
    };
    let written = |count: u128| {
        let digits = format!("{count:0width$}", width = places + 1);
        match digits.split_at_checked(digits.len() - places) {
            Some((whole, after)) if places > 0 => format!("{whole}.{after}"),
            Some(_) | None => digits,
        }
    };
    let both = [count.checked_sub(1), count.checked_add(1)];
    both.into_iter().flatten().map(written).collect()
}

fn fractions(above: &str, below: &str, mixed: bool) -> Vec<String> {
    let (Ok(above), Ok(below)) = (above.parse::<u64>(), below.parse::<u64>()) else {
        return Vec::new();
    };
    let times = if below <= FINEST / 2 { 2 } else { 1 };
    let (Some(above), Some(below)) = (above.checked_mul(times), below.checked_mul(times)) else {
        return Vec::new();
    };
    let written = |above: u64| {
        // Beside a whole number a fraction is neither nothing nor a whole.
        if above == 0 || below == 0 || (mixed && above >= below) {
            return None;
        }
        let common = above.gcd(&below);
        let (above, below) = (above / common, below / common);
        Some(match below {
            1 => above.to_string(),
            below => format!("{above}/{below}"),
        })
    };
    let both = [above.checked_sub(1), above.checked_add(1)];
    both.into_iter().flatten().filter_map(written).collect()
}

/// A quantity with another unit of the same dimension and another size in place of its own; none of one that is
/// written with two units, or has none.
pub fn other_unit(text: &str) -> Option<String> {
    let is_number = |word: &&str| word.trim_start_matches('-').starts_with(is_digit);
    let units = text.split(' ').filter(|word| !is_number(word)).count();
    let (number, symbol) = text.rsplit_once(' ')?;
    let unit = Unit::from_symbol(symbol).filter(|_| units == 1)?;
    let other = Unit::all().find(|other| {
        let same = other.dimension() == unit.dimension() && other.offset() == unit.offset();
        same && other.factor() != unit.factor()
    })?;
    Some(match other.symbol() {
        "" => number.to_owned(),
        symbol => format!("{number} {symbol}"),
    })
}

/// A date by one step of what it says last: a day, a month or a year before and after.
pub fn date_steps(text: &str) -> Vec<String> {
    let both = match text.split('-').collect::<Vec<_>>().as_slice() {
        [year] => {
            let Ok(year) = year.parse::<i16>() else {
                return Vec::new();
            };
            let both = [year.checked_sub(1), year.checked_add(1)];
            both.map(|year| year.map(|year| format!("{year:04}")))
        }
        [_, _] => {
            let Ok(first) = format!("{text}-01").parse::<Date>() else {
                return Vec::new();
            };
            let after = first.last_of_month().tomorrow();
            let both = [first.yesterday().ok(), after.ok()];
            both.map(|day| day.map(|day| format!("{:04}-{:02}", day.year(), day.month())))
        }
        _ => {
            let Ok(day) = text.parse::<Date>() else {
                return Vec::new();
            };
            let both = [day.yesterday().ok(), day.tomorrow().ok()];
            both.map(|day| day.map(|day| day.to_string()))
        }
    };
    both.into_iter().flatten().collect()
}

#[cfg(test)]
#[path = "step_tests.rs"]
mod tests;
