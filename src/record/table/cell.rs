//! One cell to what a record says there, or why not.

use super::dates;
use super::model::{Column, DateOrder, TableMap};
use super::number::{in_sign, load, sided};
use super::target::{Target, Wants};
use crate::quantity::Dimension;
use crate::record::sheet::Value;
use crate::text::quoted;

/// What a cell says, in the words of a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Given {
    /// One text.
    Text(String),
    /// Some words.
    List(Vec<String>),
    /// More or less than a quantity: the key and the quantity.
    Bound(&'static str, String),
}

impl Given {
    /// As it can be shown.
    pub(super) fn shown(&self) -> String {
        match self {
            Given::Text(text) => text.clone(),
            Given::List(words) => words.join(", "),
            Given::Bound("more_than", text) => format!("> {text}"),
            Given::Bound(_, text) => format!("< {text}"),
        }
    }
}

/// Why a cell can't be used, and what would be accepted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Refusal {
    pub code: &'static str,
    pub message: String,
    pub help: String,
}

pub(super) fn no<T>(
    code: &'static str,
    message: impl Into<String>,
    help: impl Into<String>,
) -> Result<T, Refusal> {
    Err(Refusal {
        code,
        message: message.into(),
        help: help.into(),
    })
}

/// Whether two texts are one word: capitals and blanks around it do not count.
pub(super) fn same_word(one: &str, other: &str) -> bool {
    let lower = |text: &str| text.trim().to_lowercase();
    lower(one) == lower(other)
}

/// A text without the blanks and signs that look like others.
pub(super) fn plain(text: &str) -> String {
    let letters = text.chars().map(|letter| match letter {
        '\u{a0}' | '\u{2007}' | '\u{2009}' | '\u{202f}' => ' ',
        '\u{2212}' => '-',
        other => other,
    });
    letters.collect::<String>().trim().to_owned()
}

/// Whether a text stands for nothing measured.
pub(super) fn is_nothing(value: &Value, map: &TableMap) -> bool {
    match value {
        Value::Text(text) => {
            let text = plain(text);
            text.is_empty() || map.not_measured.iter().any(|word| same_word(word, &text))
        }
        // An error such as `#N/A` may be how a table says it.
        Value::Error(text) => map.not_measured.iter().any(|word| same_word(word, text)),
        Value::Number(text) => map.not_measured.iter().any(|word| word == text),
        Value::Day(_) | Value::Time(_) | Value::Truth(_) | Value::Uncomputed => false,
    }
}

/// What tables write where nothing was measured.
const NOTHING: [&str; 17] = [
    "-", "--", "---", "–", "—", "/", ".", "…", "?", "??", "n/a", "n.a.", "na", "#n/a", "none",
    "nil", "x",
];

/// What a cell says of its column; nothing where nothing was measured.
pub(super) fn convert(
    value: &Value,
    column: &Column,
    map: &TableMap,
) -> Result<Option<Given>, Refusal> {
    converted(value, column, map).map_err(|refusal| Refusal {
        help: of_nothing(value, column, map).unwrap_or(refusal.help),
        ..refusal
    })
}

/// How a map says that a refused cell means nothing measured, where that is likely.
fn of_nothing(value: &Value, column: &Column, map: &TableMap) -> Option<String> {
    // A day that every row needs is not left out by a word.
    let Target::Item { .. } = column.target else {
        return None;
    };
    let (Value::Text(text) | Value::Error(text)) = value else {
        return None;
    };
    let text = plain(text);
    NOTHING.iter().find(|word| same_word(word, &text))?;
    let known = map.not_measured.iter().map(String::as_str);
    let all: Vec<String> = known
        .chain([text.as_str()])
        .map(|word| serde_json::Value::from(word).to_string())
        .collect();
    Some(format!(
        "if it says that nothing was measured, write `not_measured: [{}]` in the map; else write the value",
        all.join(", ")
    ))
}

fn converted(value: &Value, column: &Column, map: &TableMap) -> Result<Option<Given>, Refusal> {
    if is_nothing(value, map) {
        return Ok(None);
    }
    let wanted = column.wants.in_words();
    match value {
        Value::Error(text) => {
            return no(
                "table.error",
                format!("the spreadsheet shows the error {}", quoted(text)),
                format!("mend the formula, or write the value itself: {wanted}"),
            );
        }
        Value::Uncomputed => {
            return no(
                "table.formula",
                "a formula stands here without its value: the file was saved by a program that did not compute it",
                "open and save the file in a spreadsheet program, or write the value itself",
            );
        }
        Value::Text(_) | Value::Number(_) | Value::Day(_) | Value::Time(_) | Value::Truth(_) => {}
    }
    let value = match word_of(value, column, map) {
        Some(meant) => Value::Text(meant.to_owned()),
        None => value.clone(),
    };
    let text = |text: String| Ok(Some(Given::Text(text)));
    match &column.wants {
        Wants::Quantity(dimension) => sided(&value, column, map, *dimension).map(Some),
        Wants::Load => text(load(&value, column, map)?),
        Wants::Plain => sided(&value, column, map, Dimension::RATIO).map(Some),
        Wants::Word(words) => text(word(&value, words)?),
        Wants::Words(words) => several(&value, words).map(Some),
        Wants::YesNo => text(yes_no(&value)?),
        Wants::Date => text(day(&value, map, true, true)?),
        Wants::Day => text(day(&value, map, false, false)?),
        Wants::Moment => text(day(&value, map, false, true)?),
        Wants::Text => text(free(&value)?),
    }
}

/// What a word of the table means, where the map says it.
fn word_of<'m>(value: &Value, column: &'m Column, map: &'m TableMap) -> Option<&'m str> {
    let said = match value {
        Value::Text(text) | Value::Number(text) => text,
        Value::Day(_) | Value::Time(_) | Value::Truth(_) | Value::Error(_) | Value::Uncomputed => {
            return None;
        }
    };
    let mut words = column.words.iter().chain(&map.words);
    words
        .find(|(word, _)| same_word(word, said))
        .map(|(_, meant)| meant.as_str())
}

/// With which characters a text begins that a spreadsheet program would run as a formula.
const RUN: [char; 4] = ['=', '+', '-', '@'];

/// Whether a text is, behind apostrophes or without, one that a spreadsheet program would run.
fn runs(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(RUN)
}

/// A text as it goes into a table: one that would be run gets an apostrophe in front, as spreadsheet programs have it typed.
/// Each gets one more than it has, so that [`unguarded`] gives back every text as it was.
pub(super) fn guarded(text: String, column: &Column) -> String {
    match column.wants {
        Wants::Text if runs(&text) => format!("'{text}"),
        _ => text,
    }
}

/// A text of a table without the apostrophe that keeps it from being run.
fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(inside) if runs(inside) => inside,
        _ => text,
    }
}

fn free(value: &Value) -> Result<String, Refusal> {
    match value {
        Value::Text(text) => Ok(unguarded(text.trim()).to_owned()),
        Value::Number(text) => Ok(text.trim().to_owned()),
        Value::Day(day) => no(
            "table.kind",
            format!("a day stands here, {day}, where a text is wanted"),
            "a spreadsheet may have made a day of what was typed; format the cell as text and type it again",
        ),
        Value::Time(time) => no(
            "table.kind",
            format!("a time stands here, {time}, where a text is wanted"),
            "format the cell as text and type it again",
        ),
        Value::Truth(_) | Value::Error(_) | Value::Uncomputed => no(
            "table.kind",
            format!(
                "{} stands here where a text is wanted",
                quoted(value.shown())
            ),
            "format the cell as text and type it again",
        ),
    }
}

fn normal(text: &str) -> String {
    plain(text).to_lowercase().replace([' ', '-'], "_")
}

fn one_word(text: &str, words: &[String]) -> Result<String, Refusal> {
    let said = normal(text);
    if let Some(word) = words.iter().find(|word| **word == said) {
        return Ok(word.clone());
    }
    let near = crate::diagnostic::near_misses(&said, words.iter().map(String::as_str));
    let list = words.join(", ");
    let help = match near {
        Some(near) => format!("did you mean {}? It is one of: {list}", quoted(near)),
        None => format!(
            "it is one of: {list}; what the table's own words mean, the map says under `words`"
        ),
    };
    no(
        "table.word",
        format!("{} is not known here", quoted(text)),
        help,
    )
}

fn word(value: &Value, words: &[String]) -> Result<String, Refusal> {
    one_word(&free(value)?, words)
}

fn several(value: &Value, words: &[String]) -> Result<Given, Refusal> {
    let text = free(value)?;
    let pieces = text
        .split([',', ';', '/', '+'])
        .map(str::trim)
        .filter(|piece| !piece.is_empty());
    let found: Result<Vec<String>, Refusal> = pieces.map(|piece| one_word(piece, words)).collect();
    Ok(Given::List(found?))
}

fn yes_no(value: &Value) -> Result<String, Refusal> {
    let word = match value {
        Value::Truth(true) => "yes",
        Value::Truth(false) => "no",
        Value::Text(text) => match normal(text).as_str() {
            "yes" | "true" => "yes",
            "no" | "false" => "no",
            _ => {
                return no(
                    "table.word",
                    format!("{} is neither yes nor no", quoted(text)),
                    format!(
                        "write yes or no, or say in the map what it means: `words: {{ \"{}\": yes }}`",
                        text.trim()
                    ),
                );
            }
        },
        Value::Number(text) => {
            return no(
                "table.word",
                format!("{text} is neither yes nor no"),
                format!(
                    "write yes or no, or say in the map what it means: `words: {{ \"{text}\": yes }}`"
                ),
            );
        }
        Value::Day(_) | Value::Time(_) | Value::Error(_) | Value::Uncomputed => {
            return no(
                "table.kind",
                format!("{} is neither yes nor no", quoted(value.shown())),
                "write yes or no",
            );
        }
    };
    Ok(word.to_owned())
}

/// A day; with `partial` also a month or a year, with `timed` also a time of it.
fn day(value: &Value, map: &TableMap, partial: bool, timed: bool) -> Result<String, Refusal> {
    let form = "a real day of the spreadsheet, or 2026-11-21 as text";
    let text = match value {
        Value::Day(text) => text.clone(),
        // A spreadsheet makes a number of a year; as a count of days it would be one before 1907.
        Value::Number(number) if partial && is_year(number) => number.clone(),
        Value::Number(number) if partial && let Some(month) = dates::month(number) => {
            return no(
                "table.date",
                format!(
                    "the bare number {} is no day; a month and a year were typed, and the spreadsheet took them for a number",
                    in_sign(number, map)
                ),
                format!("write {month} as text"),
            );
        }
        Value::Number(number) => {
            let message = match dates::serial(number) {
                Some(date) => format!(
                    "the bare number {number} is no day; a spreadsheet that counts days would mean {date}"
                ),
                None => format!("the bare number {number} is no day"),
            };
            return no(
                "table.date",
                message,
                "format the cell as a day, or write 2026-11-21 as text",
            );
        }
        Value::Text(text) => {
            let text = plain(text);
            match dates::read(&text, map.dates) {
                Some(found) => found,
                None => return Err(no_day(&text, map.dates)),
            }
        }
        Value::Time(time) => {
            return no(
                "table.date",
                format!("a time stands here, {time}, and no day"),
                format!("write {form}"),
            );
        }
        Value::Truth(_) | Value::Error(_) | Value::Uncomputed => {
            return no(
                "table.kind",
                format!("{} is no day", quoted(value.shown())),
                format!("write {form}"),
            );
        }
    };
    if text.len() < 10 && !partial {
        return no(
            "table.date",
            format!("{text} is a month or a year; a whole day is wanted"),
            format!("write {form}"),
        );
    }
    if text.len() > 10 && (!timed || partial) {
        return no(
            "table.date",
            format!("{text} has a time; a day is wanted"),
            "write the day alone, or fill `taken` of a measure with it",
        );
    }
    Ok(text)
}

/// Whether a number is written as a year of somebody's life is.
fn is_year(number: &str) -> bool {
    number.len() == 4
        && number
            .parse::<u16>()
            .is_ok_and(|year| (1900..2200).contains(&year))
}

fn no_day(text: &str, order: DateOrder) -> Refusal {
    let orders = dates::orders(text);
    let help = match orders.as_slice() {
        [] => match (
            dates::shown_in(text, order),
            crate::quantity::DateSpan::parse(text),
        ) {
            (Some(form), _) => form,
            (None, Err(problem)) => problem
                .help
                .unwrap_or_else(|| "write 2026-11-21".to_owned()),
            (None, Ok(_)) => "write 2026-11-21".to_owned(),
        },
        found => {
            let ways: Vec<String> = found
                .iter()
                .map(|(order, day)| format!("`dates: {}` reads {day}", order.word()))
                .collect();
            format!("in the map {}", ways.join(", "))
        }
    };
    Refusal {
        code: "table.date",
        message: format!(
            "{} is no day in the order of the map, `dates: {}`",
            quoted(text),
            order.word()
        ),
        help,
    }
}
