//! Reading single values out of a tree: quantities, ranges, dates, yes and no, declared names.
//!
//! Shared by the loaders of rules, records and forms, so that a wrong unit is told in the same words
//! everywhere.

use crate::diagnostic::{Faults, near_misses};
use crate::quantity::{
    Date, DateSpan, DateTime, Dimension, Exact, Quantity, QuantityProblem, Unit,
};
use crate::text::{Node, Span, quoted};

/// The scalar of a node, or a fault that says what `what` would be written as.
pub fn scalar<'n>(
    node: &'n Node<'_>,
    key_span: Option<Span>,
    what: &str,
    form: &str,
    faults: &mut Faults,
) -> Option<&'n str> {
    match node.as_text() {
        Some(text) => Some(text),
        None => {
            faults.fault(
                "file.shape",
                node.label_span(key_span),
                format!(
                    "{what} is written as {form}; here stands {}",
                    node.kind_in_words()
                ),
                format!("not {form}"),
                "",
            );
            None
        }
    }
}

/// Adds the problem of a quantity or date, underlined to the character.
pub fn problem(problem: QuantityProblem, node: &Node<'_>, faults: &mut Faults) {
    let span = node.text_span(problem.range.clone());
    faults.fault(
        problem.code,
        span,
        problem.message,
        "",
        problem.help.unwrap_or_default(),
    );
}

/// A quantity of a dimension: `4.70 mm`.
pub fn quantity(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    dimension: Dimension,
    faults: &mut Faults,
) -> Option<Quantity> {
    let text = scalar(node, key_span, what, "a number with its unit", faults)?;
    match Quantity::parse_as(text, dimension) {
        Ok(quantity) => Some(quantity),
        Err(found) => {
            problem(found, node, faults);
            None
        }
    }
}

/// A closed range of two quantities: `2 mm to 12 mm`.
pub fn range(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    dimension: Dimension,
    faults: &mut Faults,
) -> Option<(Quantity, Quantity)> {
    let text = scalar(
        node,
        key_span,
        what,
        "two quantities with `to` between them",
        faults,
    )?;
    let (low, high) = match Quantity::parse_range(text) {
        Ok(range) => range,
        Err(found) => {
            problem(found, node, faults);
            return None;
        }
    };
    if low.dimension() != dimension {
        let help = match (low.unit == Unit::PLAIN, dimension.likely_units().first()) {
            (true, Some(unit)) => format!("write `{low} {unit} to {high} {unit}`"),
            _ => written_in(dimension),
        };
        faults.fault(
            "quantity.dimension",
            node.span,
            format!(
                "{} is {}; {what} is {}",
                quoted(text),
                low.dimension().in_words(),
                dimension.in_words()
            ),
            "another kind of quantity",
            help,
        );
        return None;
    }
    if low.value > high.value {
        faults.fault(
            "quantity.range",
            node.span,
            format!("the range {} goes downward", quoted(text)),
            "",
            "the lower end comes first",
        );
        return None;
    }
    Some((low, high))
}

/// How a quantity of a dimension is written: "a length is written in mm, in or m".
pub fn written_in(dimension: Dimension) -> String {
    if dimension == Dimension::RATIO {
        return "write a plain number, or one with %".to_owned();
    }
    let units = dimension.likely_units().iter().take(3);
    let symbols: Vec<&str> = units
        .map(|unit| unit.symbol())
        .filter(|symbol| !symbol.is_empty())
        .collect();
    match symbols.split_last() {
        None => format!("write {}", dimension.in_words()),
        Some((last, [])) => format!("{} is written in {last}", dimension.in_words()),
        Some((last, before)) => {
            let before = before.join(", ");
            format!("{} is written in {before} or {last}", dimension.in_words())
        }
    }
}

/// A whole day: `2026-11-21`.
pub fn day(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<Date> {
    let text = scalar(node, key_span, what, "a day such as 2026-11-21", faults)?;
    match DateSpan::parse(text) {
        Ok(span) => match span.as_day() {
            Some(day) => Some(day),
            None => {
                faults.fault(
                    "date.partial",
                    node.span,
                    format!(
                        "{what} is a whole day; {} is a month or a year",
                        quoted(text)
                    ),
                    "not a day",
                    "write year, month and day: 2026-11-21",
                );
                None
            }
        },
        Err(found) => {
            problem(found, node, faults);
            None
        }
    }
}

/// A day, a month or a year: `2011-12`.
pub fn date_span(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<DateSpan> {
    let text = scalar(node, key_span, what, "a day, a month or a year", faults)?;
    match DateSpan::parse(text) {
        Ok(span) => Some(span),
        Err(found) => {
            problem(found, node, faults);
            None
        }
    }
}

/// A day, with a time or without: `2026-11-21 09:05`.
pub fn date_time(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<DateTime> {
    let text = scalar(
        node,
        key_span,
        what,
        "a day, with a time or without",
        faults,
    )?;
    match DateTime::parse(text) {
        Ok(time) => Some(time),
        Err(found) => {
            problem(found, node, faults);
            None
        }
    }
}

/// Yes or no; `true` and `false` mean the same.
pub fn yes_no(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<bool> {
    let text = scalar(node, key_span, what, "yes or no", faults)?;
    match text {
        "yes" | "true" => Some(true),
        "no" | "false" => Some(false),
        _ => {
            faults.fault(
                "file.yes_no",
                node.span,
                format!("{what} is yes or no; {} was read", quoted(text)),
                "neither yes nor no",
                "write yes or no",
            );
            None
        }
    }
}

/// A whole number from 0 up.
pub fn count(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<u32> {
    let text = scalar(node, key_span, what, "a whole number", faults)?;
    match text.parse::<u32>() {
        Ok(number) if text.bytes().all(|byte| byte.is_ascii_digit()) && number <= 1_000_000 => {
            Some(number)
        }
        _ => {
            faults.fault(
                "file.count",
                node.span,
                format!(
                    "{what} is a whole number from 0 to 1000000; {} was read",
                    quoted(text)
                ),
                "not a whole number",
                "write it in digits, such as 5",
            );
            None
        }
    }
}

/// A quantity in whole days: `365 days`.
pub fn days(
    node: &Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<i64> {
    let found = quantity(node, key_span, what, Dimension::TIME, faults)?;
    let day = Exact::from_integer(86_400);
    match found.value.checked_div(&day).and_then(|days| days.to_i64()) {
        Some(days) if (0..=100_000).contains(&days) => Some(days),
        _ => {
            faults.fault(
                "quantity.days",
                node.span,
                format!("{what} is a whole number of days"),
                "not whole days",
                "write 365 days",
            );
            None
        }
    }
}

/// Whether a word can name something in a rules file: `[a-z][a-z0-9_]*`, at most 64 letters.
pub fn is_name(word: &str) -> bool {
    let mut bytes = word.bytes();
    word.len() <= 64
        && bytes.next().is_some_and(|first| first.is_ascii_lowercase())
        && bytes.all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_')
}

/// One of a list of words, or a fault with the nearest of them.
pub fn one_of<'w, T: Copy>(
    text: &str,
    span: Span,
    what: &str,
    words: impl Iterator<Item = (&'w str, T)> + Clone,
    faults: &mut Faults,
) -> Option<T> {
    if let Some((_, found)) = words.clone().find(|(word, _)| *word == text) {
        return Some(found);
    }
    let list: Vec<&str> = words.clone().map(|(word, _)| word).collect();
    let help = match (near_misses(text, list.iter().copied()), list.as_slice()) {
        (Some(near), _) => format!("did you mean {}?", quoted(near)),
        (None, []) => "there are none in this file".to_owned(),
        (None, [only]) => format!("write {}", quoted(only)),
        (None, _) => format!("{what} is one of: {}", list.join(", ")),
    };
    faults.fault(
        "name.unknown",
        span,
        format!("{} is not {what}", quoted(text)),
        "not known",
        help,
    );
    None
}
