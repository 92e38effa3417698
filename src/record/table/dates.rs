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
    let (_, pieces) = parted(text)?;
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

/// The month that a bare number was typed as, with the year behind: `11.2019` is 2019-11. A number has lost a zero at its
/// end: `11.202`.
pub(super) fn month(number: &str) -> Option<String> {
    let (month, year) = number.split_once('.')?;
    let year = match year.len() {
        4 => year.to_owned(),
        3 => format!("{year}0"),
        _ => return None,
    };
    (1900..2200)
        .contains(&year.parse::<u16>().ok()?)
        .then_some(())?;
    let text = format!("{year}-{month:0>2}");
    DateSpan::parse(&text).ok().map(|span| span.to_string())
}

/// How to write what is a day, a month and a year in no order, by the order of the map; nothing where the year stands first
/// or the text is another one.
pub(super) fn shown_in(text: &str, order: DateOrder) -> Option<String> {
    let (by, pieces) = parted(text.split_once([' ', 'T']).map_or(text, |(day, _)| day))?;
    let [one, two, year] = pieces.as_slice() else {
        return None;
    };
    if year.len() != 4 || one.len() > 2 || two.len() > 2 {
        return None;
    }
    let (day, month, form) = match order {
        DateOrder::YearMonthDay => return None,
        DateOrder::DayMonthYear => (one, two, format!("21{by}11{by}2026")),
        DateOrder::MonthDayYear => (two, one, format!("11{by}21{by}2026")),
    };
    Some(format!(
        "it would be day {day} of month {month} of {year}, which the calendar does not have; a day is written as {form} or 2026-11-21"
    ))
}

/// What parts a date, and its pieces.
fn parted(text: &str) -> Option<(char, Vec<&str>)> {
    let by = text.chars().find(|one| matches!(one, '.' | '/' | '-'))?;
    let pieces: Vec<&str> = text.split(by).map(str::trim).collect();
    let whole = |piece: &&str| {
        !piece.is_empty() && piece.len() <= 4 && piece.bytes().all(|one| one.is_ascii_digit())
    };
    pieces.iter().all(whole).then_some((by, pieces))
}

/// The day that a bare number would be to a spreadsheet that counts days from 1900.
pub(super) fn serial(number: &str) -> Option<Date> {
    let days: i64 = number.split('.').next()?.parse().ok()?;
    let date = add_days(Date::constant(1899, 12, 30), days)?;
    (61..=110_000).contains(&days).then_some(date)
}

#[cfg(test)]
mod tests {
    use super::month;

    #[test]
    fn a_number_that_was_a_month_and_a_year_is_told_as_such() {
        let told = [
            ("11.2019", Some("2019-11")),
            ("3.202", Some("2020-03")),
            ("12.19", None),
            ("13.2019", None),
            ("0.2019", None),
            ("11.1850", None),
            ("46347", None),
            ("-3.2021", None),
        ];
        for (number, wanted) in told {
            assert_eq!(month(number).as_deref(), wanted, "{number}");
        }
    }
}
