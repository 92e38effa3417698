//! A cell that should hold a quantity: read by the decimal sign of the map, with the reason told where it holds something else.

use super::cell::{Given, Refusal, no, plain};
use super::model::{Column, TableMap};
use super::target::{Target, What};
use crate::quantity::{Dimension, Exact, Quantity, Unit, mended, show};
use crate::record::sheet::Value;
use crate::text::quoted;
use crate::vocabulary::read;

/// A comma or a point between two digits, by its place.
fn between_digits(text: &str, sign: char) -> usize {
    let letters: Vec<char> = text.chars().collect();
    letters
        .windows(3)
        .filter(|three| matches!(three, [a, b, c] if a.is_ascii_digit() && *b == sign && c.is_ascii_digit()))
        .count()
}

/// The text with a decimal point, as the map says which sign is one.
fn pointed(text: &str, column: &Column, map: &TableMap) -> Result<String, Refusal> {
    let (commas, points) = (between_digits(text, ','), between_digits(text, '.'));
    let example = column.unit.map_or("mm", Unit::symbol);
    match (map.decimal_comma, commas, points) {
        (_, 0, 0) | (false, 0, 1) => Ok(text.to_owned()),
        (true, 1, 0) => Ok(text.replace(',', ".")),
        (_, 1.., 1..) | (true, 2.., 0) | (false, 0, 2..) => {
            let help = match ungrouped(text, map.decimal_comma) {
                Some(right) => format!("write the number without them: {right}"),
                None => in_sign(
                    &format!("write the number without them: 1234.5 {example}"),
                    map,
                ),
            };
            no(
                "table.number",
                format!("{} has signs between groups of digits", quoted(text)),
                help,
            )
        }
        (false, _, 0) => {
            let help = match mended(text) {
                Some(right) => format!("write {right}, or `decimal: comma` in the map if all its texts have commas"),
                None => "write a decimal point, or `decimal: comma` in the map if all its texts have commas".to_owned(),
            };
            no(
                "table.decimal",
                format!(
                    "{} has a comma; in this map a decimal sign is a point",
                    quoted(text)
                ),
                help,
            )
        }
        (true, 0, _) => no(
            "table.decimal",
            format!(
                "{} has a point; in this map a decimal sign is a comma",
                quoted(text)
            ),
            format!(
                "write {}, or `decimal: point` in the map if all its texts have points",
                in_sign(text, map)
            ),
        ),
    }
}

/// A number whose groups of digits are parted, without what parts them: `1.004,75` is `1004,75` where decimals have a comma.
fn ungrouped(text: &str, decimal_comma: bool) -> Option<String> {
    let (decimal, group) = if decimal_comma {
        (',', '.')
    } else {
        ('.', ',')
    };
    let (before, behind) = text.split_once(decimal).unwrap_or((text, ""));
    let mut groups = before.split([group, ' ']);
    let first = groups.next()?.trim_start_matches('-');
    let digits = |piece: &str| !piece.is_empty() && piece.bytes().all(|one| one.is_ascii_digit());
    let grouped = digits(first)
        && first.len() <= 3
        && groups.clone().count() > 0
        && groups.all(|piece| piece.len() == 3 && digits(piece));
    let plain = !behind.contains([decimal, group]);
    (grouped && plain)
        .then(|| text.replacen([group, ' '], "", before.matches([group, ' ']).count()))
}

/// A text with the decimal sign of the map in its numbers, so that what help says can be written as it stands.
pub(super) fn in_sign(text: &str, map: &TableMap) -> String {
    let (from, to) = if map.decimal_comma {
        ('.', ',')
    } else {
        (',', '.')
    };
    let letters: Vec<char> = text.chars().collect();
    let digit = |at: Option<usize>| {
        at.and_then(|at| letters.get(at))
            .is_some_and(char::is_ascii_digit)
    };
    let sign = |(at, letter): (usize, &char)| match *letter == from {
        true if digit(at.checked_sub(1)) && digit(at.checked_add(1)) => to,
        _ => *letter,
    };
    letters.iter().enumerate().map(sign).collect()
}

/// Whether a text is one number, with a unit or without, whichever its decimal sign.
fn lone(text: &str) -> bool {
    let text = text.trim();
    let end = text
        .find(|one: char| !one.is_ascii_digit() && !matches!(one, ',' | '.'))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    number.bytes().filter(|one| !one.is_ascii_digit()).count() <= 1
        && number.starts_with(|one: char| one.is_ascii_digit())
        && number.ends_with(|one: char| one.is_ascii_digit())
        && (unit.is_empty() || Unit::from_symbol(unit.trim()).is_some())
}

/// What a cell holds that is no single value, where that can be seen: a formula, a tolerance, a range, several readings, a
/// guess.
fn no_single_value(
    text: &str,
    column: &Column,
    map: &TableMap,
    dimension: Dimension,
) -> Option<Refusal> {
    let form = || in_sign(&read::written_in(dimension), map);
    let made = |what: &str, help: String| {
        Some(Refusal {
            code: "table.number",
            message: format!("{} {what}", quoted(text)),
            help,
        })
    };
    if let Some(inside) = text.strip_prefix('=') {
        let help = match lone(inside.trim_start().trim_start_matches('-')) {
            true => format!("write the value alone: {}", in_sign(inside.trim(), map)),
            false => format!("write the value that it gives; {}", form()),
        };
        return made("is a formula, kept as text, and no value", help);
    }
    let tolerance = ["±", "+/-", "+-"]
        .into_iter()
        .find_map(|sign| text.split_once(sign));
    if let Some((before, _)) = tolerance {
        let help = match lone(before) {
            true => format!(
                "write the reading alone: {}; how sure it is, its instrument tells",
                in_sign(before.trim(), map)
            ),
            false => form(),
        };
        return made("has a tolerance; one value is wanted", help);
    }
    let repeated = matches!(
        &column.target,
        Target::Item {
            what: What::Measure(_, ""),
            ..
        }
    );
    let each = match repeated {
        true => format!(
            "a cell holds one reading: write each into a column of its own; several columns of the map can fill {}",
            quoted(&column.path)
        ),
        false => "a cell holds one value: write the one that is meant".to_owned(),
    };
    let range = ["–", "—", "…", "..", " to ", "-"]
        .into_iter()
        .find_map(|sign| text.split_once(sign));
    if range.is_some_and(|(from, to)| lone(from) && lone(to)) {
        return made("is a range; one value is wanted", each);
    }
    if let Some(right) = ungrouped(text, map.decimal_comma).filter(|_| text.contains(' ')) {
        return made(
            "has blanks between groups of digits",
            format!("write the number without them: {right}"),
        );
    }
    let pieces: Vec<&str> = text
        .split([' ', ';', '/', '|'])
        .filter(|piece| !piece.is_empty())
        .collect();
    // `4,7 4,8 mm`: the unit stands behind all of them.
    let numbers = match pieces.as_slice() {
        [all @ .., last] if Unit::from_symbol(last).is_some() => all,
        all => all,
    };
    if numbers.len() > 1 && numbers.iter().all(|piece| lone(piece)) {
        return made(&format!("holds {} values", numbers.len()), each);
    }
    let doubted = text.ends_with('?');
    let about = ["ca.", "ca", "c.", "about", "approx.", "~", "≈"]
        .into_iter()
        .find_map(|word| text.strip_prefix(word));
    let value = about.unwrap_or(text).trim_end_matches('?').trim();
    if (doubted || about.is_some()) && lone(value.trim_start_matches('-')) {
        return made(
            "is marked as not sure",
            format!(
                "write {} if that was read; leave the cell empty if nothing sure was",
                in_sign(value, map)
            ),
        );
    }
    None
}

/// What a reading that is read right makes one wonder about: that it lies outside what is plausible of its measure.
pub(super) fn wonder(given: &Given, column: &Column, map: &TableMap) -> Option<String> {
    let (Given::Text(text) | Given::Bound(_, text)) = given else {
        return None;
    };
    let lies = column.lies.as_ref()?;
    let (low, high) = lies.plausible.as_ref()?;
    let read = Quantity::parse(text).ok()?;
    if read.value >= *low && read.value <= *high {
        return None;
    }
    let unit = lies.unit.unwrap_or(read.unit);
    let limit = |value: &Exact| show::with_unit(&show::number(value, unit, None).0, unit);
    let message = format!(
        "{} is implausible: {} to {} is what is expected; it is imported, and stays open until a named person confirms it",
        given.shown(),
        limit(low),
        limit(high)
    );
    Some(in_sign(&message, map))
}

fn quantity(
    value: &Value,
    column: &Column,
    map: &TableMap,
    dimension: Dimension,
) -> Result<String, Refusal> {
    let found = single(value, column, map, dimension);
    match (value, found) {
        (Value::Text(text), Err(refusal)) => {
            Err(no_single_value(&plain(text), column, map, dimension).unwrap_or(refusal))
        }
        (_, found) => found,
    }
}

fn single(
    value: &Value,
    column: &Column,
    map: &TableMap,
    dimension: Dimension,
) -> Result<String, Refusal> {
    let wanted = column.wants.in_words();
    let text = match value {
        Value::Number(number) => number.clone(),
        Value::Text(text) => pointed(&plain(text), column, map)?,
        Value::Day(day) => {
            return no(
                "table.kind",
                format!("a day stands here, {day}, where {wanted} is wanted"),
                "a spreadsheet may have made a day of a number such as 4.7; format the cell as a number and type it again",
            );
        }
        Value::Time(time) => {
            return no(
                "table.kind",
                format!("a time stands here, {time}, where {wanted} is wanted"),
                "format the cell as a number and type it again",
            );
        }
        Value::Truth(_) | Value::Error(_) | Value::Uncomputed => {
            return no(
                "table.kind",
                format!("{} is no number", quoted(value.shown())),
                format!("write {wanted}"),
            );
        }
    };
    let bare = Quantity::parse(&text)
        .ok()
        .filter(|found| found.unit == Unit::PLAIN);
    let text = match (bare, column.unit) {
        (Some(_), None) if dimension != Dimension::RATIO => {
            let likely = dimension
                .likely_units()
                .first()
                .copied()
                .unwrap_or(Unit::PLAIN);
            let help = format!(
                "say the unit in the map, `unit: {}`, or in the cell: {}",
                likely.symbol(),
                in_sign(&show::with_unit(&text, likely), map)
            );
            return no(
                "table.unit",
                format!(
                    "{} has no unit, and the map says none for this column",
                    quoted(&in_sign(&text, map))
                ),
                help,
            );
        }
        (Some(_), unit) => {
            show::with_unit(&padded(&text, column.decimals), unit.unwrap_or(Unit::PLAIN))
        }
        (None, _) => text,
    };
    match Quantity::parse_as(&text, dimension) {
        Ok(found) => {
            // What can't be at all is told here with the other cells; the loader would tell it after they are mended.
            let allowed = column.lies.as_ref().map(|lies| lies.allowed);
            match allowed.and_then(|allowed| allowed.refuses(&found.value, dimension)) {
                None => Ok(text),
                Some((rule, _)) => no(
                    "record.range",
                    format!(
                        "{} was read; {} is {rule}",
                        quoted(&in_sign(value.shown(), map)),
                        quoted(&column.path)
                    ),
                    "mend it, or leave the cell empty where nothing was measured",
                ),
            }
        }
        Err(problem) => {
            let help = problem.help.unwrap_or_else(|| read::written_in(dimension));
            no(
                "table.number",
                in_sign(&problem.message, map),
                in_sign(&help, map),
            )
        }
    }
}

/// A quantity, or one that is more or less than what could be read: `> 310`.
pub(super) fn sided(
    value: &Value,
    column: &Column,
    map: &TableMap,
    dimension: Dimension,
) -> Result<Given, Refusal> {
    let said = match value {
        Value::Text(text) => {
            let text = plain(text);
            [
                (">", "more_than"),
                ("<", "less_than"),
                ("more than ", "more_than"),
                ("less than ", "less_than"),
            ]
            .into_iter()
            .find_map(|(sign, key)| {
                let start = text.get(..sign.len())?;
                let rest = text.get(sign.len()..)?;
                start
                    .eq_ignore_ascii_case(sign)
                    .then(|| (key, rest.trim().to_owned()))
            })
        }
        Value::Number(_)
        | Value::Day(_)
        | Value::Time(_)
        | Value::Truth(_)
        | Value::Error(_)
        | Value::Uncomputed => None,
    };
    match said {
        Some((key, rest)) => {
            let found = quantity(&Value::Text(rest), column, map, dimension)?;
            Ok(Given::Bound(key, found))
        }
        None => quantity(value, column, map, dimension).map(Given::Text),
    }
}

/// A load: a force where its unit says so, else a mass.
pub(super) fn load(value: &Value, column: &Column, map: &TableMap) -> Result<String, Refusal> {
    let own = match value {
        Value::Text(text) => Quantity::parse(&plain(text).replace(',', ".")).ok(),
        Value::Number(_)
        | Value::Day(_)
        | Value::Time(_)
        | Value::Truth(_)
        | Value::Error(_)
        | Value::Uncomputed => None,
    };
    let unit = own.map(|own| own.unit).filter(|unit| *unit != Unit::PLAIN);
    let unit = unit.or(column.unit);
    let force = unit.is_some_and(|unit| unit.dimension() == Dimension::FORCE);
    let dimension = if force {
        Dimension::FORCE
    } else {
        Dimension::MASS
    };
    quantity(value, column, map, dimension)
}

/// A bare decimal with zeros up to so many decimals; never shortened.
fn padded(text: &str, decimals: Option<u8>) -> String {
    let wanted = decimals.map_or(0, usize::from);
    let written = text.split_once('.').map_or(0, |(_, places)| places.len());
    match Exact::from_decimal(text) {
        Some(number) if wanted > written => number.to_fixed(wanted),
        _ => text.to_owned(),
    }
}
