//! Days and moments as they are written in records and rules: a partial date is an interval of whole days.
//!
//! Dates are ISO 8601-1:2019 calendar dates in the extended format, proleptic Gregorian, in the years 1800
//! to 2200; times are local and to the minute. What a partial date leaves open stays open: a comparison
//! answers yes, no, or not known.

use std::fmt;
use std::ops::Range;

use jiff::ToSpan as _;

use super::problem::{QuantityProblem, shown};

pub use jiff::civil::Date;

/// First and last year that a date may lie in.
pub const YEARS: std::ops::RangeInclusive<i16> = 1800..=2200;

/// How much of a date was written.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum DatePrecision {
    /// `2011`.
    Year,
    /// `2011-12`.
    Month,
    /// `2011-12-24`.
    Day,
}

/// A date as written: an interval of whole days, both ends included.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct DateSpan {
    /// First day.
    pub first: Date,
    /// Last day.
    pub last: Date,
    /// How much was written.
    pub precision: DatePrecision,
}

/// A local time as written, `2026-11-21 09:05`, or a day without a time, which is any minute of it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct DateTime {
    /// The day.
    pub date: Date,
    /// Minutes since midnight, 0 to 1439; `None` when no time was written.
    pub minute: Option<u16>,
}

impl DateSpan {
    /// One day.
    #[must_use]
    pub fn day(date: Date) -> DateSpan {
        DateSpan {
            first: date,
            last: date,
            precision: DatePrecision::Day,
        }
    }

    /// Reads `2026-11-21`, `2026-11` or `2026`.
    ///
    /// # Errors
    /// Another form, a day that doesn't exist, a year outside 1800 to 2200.
    pub fn parse(text: &str) -> Result<DateSpan, QuantityProblem> {
        if let Some(day) = plain_day(text.as_bytes()) {
            return Ok(DateSpan::day(day));
        }
        let (start, body) = trimmed(text);
        span(body).map_err(|problem| problem.shifted(start))
    }

    /// The day, when a whole date was written.
    #[must_use]
    pub fn as_day(&self) -> Option<Date> {
        (self.precision == DatePrecision::Day).then_some(self.first)
    }

    /// Whether this is before `other`: yes or no when every day of both says so, else `None`.
    #[must_use]
    pub fn before(&self, other: &DateSpan) -> Option<bool> {
        if self.last < other.first {
            Some(true)
        } else if self.first >= other.last {
            Some(false)
        } else {
            None
        }
    }

    /// Whether this is after `other`.
    #[must_use]
    pub fn after(&self, other: &DateSpan) -> Option<bool> {
        other.before(self)
    }

    /// Whether this is `other` or before it.
    #[must_use]
    pub fn not_after(&self, other: &DateSpan) -> Option<bool> {
        other.before(self).map(|after| !after)
    }

    /// Whether this is `other` or after it.
    #[must_use]
    pub fn not_before(&self, other: &DateSpan) -> Option<bool> {
        self.before(other).map(|before| !before)
    }

    /// Whether both are the same day; `None` when one of them could be several.
    #[must_use]
    pub fn same_day(&self, other: &DateSpan) -> Option<bool> {
        if self.last < other.first || other.last < self.first {
            Some(false)
        } else if self.first == self.last && other.first == other.last {
            Some(true)
        } else {
            None
        }
    }

    /// Both ends moved by a number of days; `None` beyond the years 1800 to 2200.
    #[must_use]
    pub fn add_days(&self, days: i64) -> Option<DateSpan> {
        Some(DateSpan {
            first: add_days(self.first, days)?,
            last: add_days(self.last, days)?,
            precision: self.precision,
        })
    }
}

/// A day moved by a number of days; `None` beyond the years 1800 to 2200.
#[must_use]
pub fn add_days(date: Date, days: i64) -> Option<Date> {
    // Longer than the whole range of years, and far below what the calendar can hold.
    let days = i32::try_from(days)
        .ok()
        .filter(|d| d.unsigned_abs() < 200_000)?;
    date.checked_add(days.days())
        .ok()
        .filter(|d| YEARS.contains(&d.year()))
}

/// Days from one day to another, negative when `to` is earlier.
#[must_use]
pub fn days_between(from: Date, to: Date) -> i64 {
    from.until(to).map_or(0, |span| i64::from(span.get_days()))
}

impl DateTime {
    /// A day without a time.
    #[must_use]
    pub fn day(date: Date) -> DateTime {
        DateTime { date, minute: None }
    }

    /// Reads `2026-11-21 09:05`, or `2026-11-21` alone.
    ///
    /// # Errors
    /// Another form, a day or a time that doesn't exist, a year outside 1800 to 2200.
    pub fn parse(text: &str) -> Result<DateTime, QuantityProblem> {
        if let Some(time) = plain_moment(text.as_bytes()) {
            return Ok(time);
        }
        let (start, body) = trimmed(text);
        moment(body).map_err(|problem| problem.shifted(start))
    }

    /// Whether this is before `other`: `None` when a day without a time leaves it open.
    #[must_use]
    pub fn before(&self, other: &DateTime) -> Option<bool> {
        let ((a, b), (c, d)) = (self.minutes(), other.minutes());
        if (self.date, b) < (other.date, c) {
            Some(true)
        } else if (self.date, a) >= (other.date, d) {
            Some(false)
        } else {
            None
        }
    }

    /// Whether this is `other` or before it.
    #[must_use]
    pub fn not_after(&self, other: &DateTime) -> Option<bool> {
        other.before(self).map(|after| !after)
    }

    /// First and last minute of the day it can be.
    fn minutes(&self) -> (u16, u16) {
        self.minute.map_or((0, 1439), |minute| (minute, minute))
    }

    /// The same moment as the day it lies in.
    #[must_use]
    pub fn span(&self) -> DateSpan {
        DateSpan::day(self.date)
    }
}

impl fmt::Display for DateSpan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let day = self.first;
        match self.precision {
            DatePrecision::Year => write!(f, "{:04}", day.year()),
            DatePrecision::Month => write!(f, "{:04}-{:02}", day.year(), day.month()),
            DatePrecision::Day => write!(f, "{day}"),
        }
    }
}

impl fmt::Display for DateTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.minute {
            Some(minute) => write!(f, "{} {:02}:{:02}", self.date, minute / 60, minute % 60),
            None => write!(f, "{}", self.date),
        }
    }
}

/// A date with a month at the start of an expression text, as (bytes eaten, what it is): `2012-01-01`,
/// `2011-12`. `None` when the text starts with none; a bare year is a number there.
#[must_use]
pub fn lex_date(text: &str) -> Option<(usize, Result<DateSpan, QuantityProblem>)> {
    let bytes = text.as_bytes();
    let shape = |pattern: &[u8]| {
        bytes.len() >= pattern.len()
            && bytes.iter().zip(pattern).all(|(b, p)| match p {
                b'0' => b.is_ascii_digit(),
                _ => b == p,
            })
    };
    if !shape(b"0000-0") {
        return None;
    }
    let end = bytes
        .iter()
        .position(|b| !b.is_ascii_digit() && *b != b'-')
        .unwrap_or(bytes.len());
    let body = text.get(..end)?;
    Some((end, span(body)))
}

/// Two digits as a number.
fn two_digits(tens: u8, ones: u8) -> Option<i8> {
    let both = tens.is_ascii_digit() && ones.is_ascii_digit();
    let number = || (tens - b'0') * 10 + (ones - b'0');
    if both {
        i8::try_from(number()).ok()
    } else {
        None
    }
}

/// A whole day as it is written nearly always, `2026-11-21`; anything else, right or wrong, goes the long way.
fn plain_day(text: &[u8]) -> Option<Date> {
    let [c, d, y, z, b'-', m, n, b'-', e, f] = *text else {
        return None;
    };
    let year = i16::from(two_digits(c, d)?) * 100 + i16::from(two_digits(y, z)?);
    let (month, day) = (two_digits(m, n)?, two_digits(e, f)?);
    Date::new(year, month, day)
        .ok()
        .filter(|_| YEARS.contains(&year))
}

/// A day with its time as it is written nearly always, `2026-11-21 09:05`.
fn plain_moment(text: &[u8]) -> Option<DateTime> {
    let (day, [b' ', h, i, b':', m, n]) = text.split_at_checked(10)? else {
        return None;
    };
    let (hour, minute) = (two_digits(*h, *i)?, two_digits(*m, *n)?);
    let on_clock = hour < 24 && minute < 60;
    let minute = u16::try_from(i16::from(hour) * 60 + i16::from(minute)).ok();
    let date = plain_day(day).filter(|_| on_clock)?;
    Some(DateTime { date, minute })
}

/// Where the text without its outer blanks starts, and that text.
fn trimmed(text: &str) -> (usize, &str) {
    let body = text.trim_ascii();
    (text.len() - text.trim_ascii_start().len(), body)
}

const FORMS: &str = "a date is written as 2026-11-21, a partial one as 2026-11 or 2026";

/// Exactly this many digits as a number.
fn digits(text: &str, count: usize) -> Option<i16> {
    let fits = text.len() == count && text.bytes().all(|b| b.is_ascii_digit());
    if fits { text.parse().ok() } else { None }
}

fn span(text: &str) -> Result<DateSpan, QuantityProblem> {
    let whole = 0..text.len();
    if text.is_empty() {
        return Err(
            QuantityProblem::new("date.empty", whole, "no date is written here").with_help(FORMS),
        );
    }
    let mut parts = text.split('-');
    let (year, month, day, more) = (parts.next(), parts.next(), parts.next(), parts.next());
    let Some(year) = year.and_then(|y| digits(y, 4)).filter(|_| more.is_none()) else {
        return Err(other_form(text));
    };
    if !YEARS.contains(&year) {
        return Err(QuantityProblem::new(
            "date.year",
            0..4,
            format!("the year {year:04} is outside 1800 to 2200"),
        ));
    }
    let Some(month) = month else {
        return between(whole, (year, 1, 1), (year, 12, 31), DatePrecision::Year);
    };
    let Some(month) = digits(month, 2) else {
        return Err(other_form(text));
    };
    if !(1..=12).contains(&month) {
        return Err(no_such(5..7, format!("there is no month {month:02}"))
            .with_help("months run from 01 to 12"));
    }
    let in_month = Date::new(year, narrow(month), 1).map_or(31, Date::days_in_month);
    let Some(day) = day else {
        let ends = ((year, narrow(month), 1), (year, narrow(month), in_month));
        return between(whole, ends.0, ends.1, DatePrecision::Month);
    };
    let Some(day) = digits(day, 2) else {
        return Err(other_form(text));
    };
    if !(1..=i16::from(in_month)).contains(&day) {
        let message = format!("{} has no day {day:02}", text.get(..7).unwrap_or(text));
        let last = format!(
            "its last day is {}-{in_month:02}",
            text.get(..7).unwrap_or(text)
        );
        return Err(QuantityProblem {
            help: Some(last),
            ..no_such(8..10, message)
        });
    }
    let day = (year, narrow(month), narrow(day));
    between(whole, day, day, DatePrecision::Day)
}

fn narrow(n: i16) -> i8 {
    i8::try_from(n).unwrap_or(0)
}

fn between(
    whole: Range<usize>,
    first: (i16, i8, i8),
    last: (i16, i8, i8),
    precision: DatePrecision,
) -> Result<DateSpan, QuantityProblem> {
    let date = |(y, m, d)| {
        Date::new(y, m, d).map_err(|_| no_such(whole.clone(), "this day doesn't exist".to_owned()))
    };
    Ok(DateSpan {
        first: date(first)?,
        last: date(last)?,
        precision,
    })
}

fn no_such(range: Range<usize>, message: String) -> QuantityProblem {
    QuantityProblem::new("date.not_in_calendar", range, message)
}

/// A text of another form than ours, with the right form when only one day can be meant.
fn other_form(text: &str) -> QuantityProblem {
    let problem = |help: String| {
        QuantityProblem::new(
            "date.form",
            0..text.len(),
            format!("\"{}\" is not a date as it is written here", shown(text)),
        )
        .with_help(help)
    };
    // Only a text with a blank: its day has none, so this looks once.
    let timed = if text.contains(' ') {
        moment(text).ok()
    } else {
        None
    };
    if let Some(DateTime {
        date,
        minute: Some(_),
    }) = timed
    {
        return problem(format!("no time is asked for here: write {date}"));
    }
    if let (8, Some(Ok(day))) = (text.len(), run_together(text).map(|day| span(&day))) {
        return problem(format!("write {day}"));
    }
    let parts: Vec<&str> = text.split(['-', '/', '.', ' ']).collect();
    let number = |part: &str| {
        let short = part.len() <= 4 && !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        if short {
            part.parse::<i16>().ok()
        } else {
            None
        }
    };
    let numbers: Option<Vec<i16>> = parts.iter().map(|part| number(part)).collect();
    let short = parts.iter().all(|part| part.len() <= 2 || part.len() == 4);
    if let (Some(numbers), [first, ..], true) = (numbers, parts.as_slice(), short) {
        match *numbers.as_slice() {
            [y, m, d] if first.len() == 4 && Date::new(y, narrow(m), narrow(d)).is_ok() => {
                return problem(format!("write {y:04}-{m:02}-{d:02}"));
            }
            [y, m] if first.len() == 4 && (1..=12).contains(&m) => {
                return problem(format!("write {y:04}-{m:02}"));
            }
            [d, m, y] if (1000..=9999).contains(&y) => {
                // Day first or month first: said once when only one of them exists.
                let day_first = Date::new(y, narrow(m), narrow(d)).is_ok();
                let month_first = Date::new(y, narrow(d), narrow(m)).is_ok();
                let (a, b) = (
                    format!("{y:04}-{m:02}-{d:02}"),
                    format!("{y:04}-{d:02}-{m:02}"),
                );
                return match (day_first, month_first) {
                    (true, true) if a != b => problem(format!(
                        "write the year first, then month, then day: {a} or {b}"
                    )),
                    (true, _) => problem(format!("write {a}")),
                    (false, true) => problem(format!("write {b}")),
                    (false, false) => problem(FORMS.to_owned()),
                };
            }
            _ => {}
        }
    }
    problem(FORMS.to_owned())
}

/// 20261121 as 2026-11-21.
fn run_together(text: &str) -> Option<String> {
    let (year, month, day) = (text.get(..4)?, text.get(4..6)?, text.get(6..)?);
    text.bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| format!("{year}-{month}-{day}"))
}

/// A day and time in another common spelling, as it is written here: a `T` between them, seconds of
/// zero, an hour of one digit.
fn respelled_moment(text: &str) -> Option<String> {
    let (day, time) = text.split_once(['T', 't', ' '])?;
    let mut parts = time.trim_ascii().split([':', '.']);
    let (hour, minute, seconds) = (parts.next()?, parts.next()?, parts.next());
    let plain = seconds.is_none_or(|s| s == "00") && parts.next().is_none();
    let form = format!("{day} {hour:0>2}:{minute}");
    (plain && form != text && moment_parts(&form).is_ok()).then_some(form)
}

fn moment(text: &str) -> Result<DateTime, QuantityProblem> {
    moment_parts(text).map_err(|problem| match respelled_moment(text) {
        Some(form) if problem.code == "date.time_form" => {
            problem.with_help(format!("write {form}"))
        }
        _ => problem,
    })
}

fn moment_parts(text: &str) -> Result<DateTime, QuantityProblem> {
    const HELP: &str = "a day with its local time is written as 2026-11-21 09:05";
    let cut = text.find(' ').unwrap_or(text.len());
    let (day, rest) = (
        text.get(..cut).unwrap_or(text),
        text.get(cut..).unwrap_or(""),
    );
    let time = rest.trim_ascii();
    let form = || {
        QuantityProblem::new(
            "date.time_form",
            0..text.len(),
            format!("\"{}\" is not a time as it is written here", shown(text)),
        )
        .with_help(HELP)
    };
    if time.is_empty() && day.contains(['T', 't', ':', 'Z']) {
        return Err(form());
    }
    let date = span(day)?;
    let Some(date) = date.as_day() else {
        return Err(QuantityProblem::new(
            "date.partial",
            0..day.len(),
            format!("{date} is not one day; the day is needed here"),
        )
        .with_help(HELP));
    };
    if time.is_empty() {
        return Ok(DateTime::day(date));
    }
    let (hour, minute) = time.split_once(':').ok_or_else(form)?;
    let (Some(hour), Some(minute)) = (digits(hour, 2), digits(minute, 2)) else {
        return Err(form());
    };
    if !(0..24).contains(&hour) || !(0..60).contains(&minute) {
        let start = text.len() - time.len();
        let message = format!("there is no time {time}; a day runs from 00:00 to 23:59");
        return Err(QuantityProblem::new(
            "date.not_on_clock",
            start..text.len(),
            message,
        ));
    }
    let minute = u16::try_from(hour * 60 + minute).ok();
    Ok(DateTime { date, minute })
}
