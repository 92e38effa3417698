//! Days as tables write them, by the order that the map says. Nothing is guessed where two orders would do.

use super::model::DateOrder;
use crate::quantity::{Date, DateSpan, DateTime, add_days};

/// A text as the day, month or year it names, in the way of records; nothing for what is none in this order.
pub(super) fn read(text: &str, order: DateOrder) -> Option<String> {
    let text = text.trim();
    if let Ok(span) = DateSpan::parse(text) {
        return Some(span.to_string());
    }
    if let Ok(moment) = DateTime::parse(text) {
        return Some(moment.to_string());
    }
    let (day, time) = match text.split_once([' ', 'T']) {
        Some((day, time)) => (day, Some(time.trim())),
        None => (text, None),
    };
    let day = written(day, order)?;
    match time {
        None => Some(day),
        Some(time) => {
            let moment = DateTime::parse(&format!("{day} {time}")).ok()?;
            Some(moment.to_string())
        }
    }
}

/// `21.11.2026`, `11/21/2026`, `11.2026`, `2026/11/21`.
fn written(text: &str, order: DateOrder) -> Option<String> {
    let by = text.chars().find(|one| matches!(one, '.' | '/' | '-'))?;
    let pieces: Vec<&str> = text.split(by).map(str::trim).collect();
    let whole = |piece: &&str| {
        !piece.is_empty() && piece.len() <= 4 && piece.bytes().all(|one| one.is_ascii_digit())
    };
    if !pieces.iter().all(whole) {
        return None;
    }
    let form = |year: &str, month: &str, day: Option<&str>| {
        if year.len() != 4 || month.len() > 2 || day.is_some_and(|day| day.len() > 2) {
            return None;
        }
        let text = match day {
            Some(day) => format!("{year}-{month:0>2}-{day:0>2}"),
            None => format!("{year}-{month:0>2}"),
        };
        DateSpan::parse(&text).ok().map(|span| span.to_string())
    };
    match (pieces.as_slice(), order) {
        // The year first is read in every order: nobody puts the day behind it.
        ([year, month, day], _) if year.len() == 4 => form(year, month, Some(day)),
        ([day, month, year], DateOrder::DayMonthYear) => form(year, month, Some(day)),
        ([month, day, year], DateOrder::MonthDayYear) => form(year, month, Some(day)),
        ([month, year], DateOrder::DayMonthYear | DateOrder::MonthDayYear) => {
            form(year, month, None)
        }
        _ => None,
    }
}

/// The orders in which a text would be a day.
pub(super) fn orders(text: &str) -> Vec<(DateOrder, String)> {
    DateOrder::WORDS
        .iter()
        .filter_map(|(_, order)| read(text, *order).map(|day| (*order, day)))
        .collect()
}

/// The day that a bare number would be to a spreadsheet that counts days from 1900.
pub(super) fn serial(number: &str) -> Option<Date> {
    let days: i64 = number.split('.').next()?.parse().ok()?;
    let date = add_days(Date::constant(1899, 12, 30), days)?;
    (61..=110_000).contains(&days).then_some(date)
}
