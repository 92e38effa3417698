//! An XLSX workbook (ECMA-376 part 1, SpreadsheetML) to sheets of cells.

use super::xlsx_parts::{Shown, shared_texts, styles, workbook};
use super::xml::{Element, Step, Walk};
use super::zip::Archive;
use super::{
    Area, Bad, Book, Cell, Count, Kind, Row, Sheet, Value, bad, column_of, limits, percent,
    shortest, too_much,
};
use crate::quantity::{Date, add_days};

/// What cells refer to.
struct Shared {
    texts: Vec<String>,
    styles: Vec<Shown>,
    from_1904: bool,
}

pub(super) fn read(name: &str, archive: &Archive<'_>) -> Result<Book, Bad> {
    let (workbook, folder) = workbook(name, archive)?;
    let shared = Shared {
        texts: shared_texts(name, archive, &folder)?,
        styles: styles(name, archive, &folder)?,
        from_1904: workbook.from_1904,
    };
    let mut count = Count::default();
    let mut sheets = Vec::new();
    for listed in &workbook.sheets {
        let Some(text) = archive.text(&listed.part)? else {
            continue;
        };
        let mut walk = Walk::new(name, &listed.part, &text);
        let mut sheet = cells(name, &mut walk, &shared, &mut count)?;
        sheet.name.clone_from(&listed.name);
        sheets.push(sheet);
    }
    if sheets.is_empty() {
        return Err(bad(
            name,
            "the workbook has no sheet with cells",
            "put the table into a sheet",
        ));
    }
    Ok(Book {
        name: name.to_owned(),
        kind: Kind::Xlsx,
        sheets,
    })
}

/// `D7` as row and column.
fn reference(text: &str) -> Option<(u32, u32)> {
    let digits = text.find(|letter: char| letter.is_ascii_digit())?;
    let (letters, number) = text.split_at(digits);
    let row: u32 = number.parse().ok()?;
    let column = column_of(letters)?;
    (1..=limits::ROWS).contains(&row).then_some((row, column))
}

fn cells(
    name: &str,
    walk: &mut Walk<'_>,
    shared: &Shared,
    count: &mut Count,
) -> Result<Sheet, Bad> {
    let mut sheet = Sheet::default();
    let mut row = Row::default();
    let mut column = 0;
    loop {
        match walk.step()? {
            Step::Open(element) => match element.name.as_str() {
                "row" => {
                    let last = row.number;
                    keep(&mut sheet, std::mem::take(&mut row));
                    row.number = element
                        .number("r")
                        .unwrap_or_else(|| last.saturating_add(1));
                    if row.number <= last || row.number > limits::ROWS {
                        return Err(walk.wrong("has rows out of order"));
                    }
                    column = 0;
                }
                "c" => {
                    let at = element.get("r").and_then(|text| reference(&text));
                    let next = at.map_or(column + 1, |(_, column)| column);
                    if next <= column || next > limits::COLUMNS {
                        return Err(walk.wrong("has cells out of order"));
                    }
                    column = next;
                    if let Some(cell) = cell(walk, &element, column, shared)? {
                        count.one(name)?;
                        row.cells.push(cell);
                    }
                }
                "mergeCell" => {
                    let area = element.get("ref").and_then(|text| area(&text));
                    sheet.merged.extend(area);
                    if sheet.merged.len() > limits::MERGED {
                        return Err(Box::new(too_much(
                            name,
                            "more areas are merged than are read",
                            limits::MERGED,
                        )));
                    }
                }
                _ => {}
            },
            Step::End => {
                keep(&mut sheet, row);
                return Ok(sheet);
            }
            Step::Close(_) | Step::Text(_) => {}
        }
    }
}

fn keep(sheet: &mut Sheet, row: Row) {
    if !row.cells.is_empty() {
        sheet.rows.push(row);
    }
}

fn area(text: &str) -> Option<Area> {
    let (first, last) = text.split_once(':')?;
    Some(Area {
        first: reference(first)?,
        last: reference(last)?,
    })
}

/// One cell (18.3.1.4); nothing where it is empty.
fn cell(
    walk: &mut Walk<'_>,
    element: &Element<'_>,
    column: u32,
    shared: &Shared,
) -> Result<Option<Cell>, Bad> {
    let kind = element.get("t").unwrap_or_default();
    let style = element.number("s").unwrap_or(0);
    let (mut raw, mut inline, mut formula) = (None, None, false);
    loop {
        match walk.step()? {
            Step::Open(element) => match element.name.as_str() {
                "v" => raw = Some(walk.text(&[])?),
                "is" => inline = Some(walk.text(&["rPh", "phoneticPr"])?),
                "f" => {
                    formula = true;
                    walk.skip()?;
                }
                _ => walk.skip()?,
            },
            // Elements in it were walked to their ends: this end is the cell's.
            Step::Close(_) => break,
            Step::Text(_) => {}
            Step::End => return Err(walk.wrong("ends in a cell")),
        }
    }
    let text = |text: &str| {
        let text = text.trim();
        (!text.is_empty()).then(|| Value::Text(text.to_owned()))
    };
    let value = match (kind.as_str(), raw.as_deref()) {
        ("inlineStr", _) => inline.as_deref().and_then(text),
        // A formula that gives an empty text has a value: nothing.
        ("str", Some(raw)) => text(raw),
        (_, None) | (_, Some("")) => formula.then_some(Value::Uncomputed),
        ("s", Some(raw)) => {
            let at: Option<usize> = raw.trim().parse().ok();
            let found = at.and_then(|at| shared.texts.get(at));
            let Some(found) = found else {
                return Err(walk.wrong("names a shared text that is not there"));
            };
            text(found)
        }
        ("b", Some(raw)) => Some(Value::Truth(raw.trim() == "1")),
        ("e", Some(raw)) => Some(Value::Error(raw.trim().to_owned())),
        ("d", Some(raw)) => Some(iso(raw.trim())),
        (_, Some(raw)) => {
            let shown = usize::try_from(style)
                .ok()
                .and_then(|at| shared.styles.get(at))
                .copied()
                .unwrap_or(Shown::Number);
            let Some(number) = shortest(raw) else {
                return Err(walk.wrong("has a number that is none"));
            };
            Some(match shown {
                Shown::Number => Value::Number(number),
                Shown::Percent => Value::Number(percent(number)),
                Shown::Day => day(&number, shared.from_1904).unwrap_or(Value::Number(number)),
                Shown::Time => Value::Time(clock(&number).unwrap_or(number)),
            })
        }
    };
    Ok(value.map(|value| Cell {
        column,
        value,
        formula,
        span: None,
    }))
}

/// A day as it is written in ISO 8601: a `T` parts it from its time.
pub(super) fn iso(text: &str) -> Value {
    let text = text.trim_end_matches('Z');
    let (day, time) = text.split_once('T').unwrap_or((text, ""));
    let minutes: String = time.chars().take(5).collect();
    let rest = time.get(5..).unwrap_or("");
    let whole = rest.chars().all(|one| matches!(one, ':' | '0' | '.'));
    Value::Day(match minutes.as_str() {
        "" => day.to_owned(),
        "00:00" if whole => day.to_owned(),
        _ => format!("{day} {minutes}"),
    })
}

/// A day by its number (18.17.4.1): 1 is 1900-01-01, and 60 a day that never was; or 0 is 1904-01-01.
pub(super) fn day(number: &str, from_1904: bool) -> Option<Value> {
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let days: i64 = whole.parse().ok()?;
    let date = if from_1904 {
        add_days(Date::constant(1904, 1, 1), days)?
    } else {
        match days {
            1..=59 => add_days(Date::constant(1899, 12, 31), days)?,
            61.. => add_days(Date::constant(1899, 12, 30), days)?,
            _ => return None,
        }
    };
    if !(0..=2_958_465).contains(&days) {
        return None;
    }
    if part.is_empty() {
        return Some(Value::Day(date.to_string()));
    }
    let minutes = minutes_of(part)?;
    Some(Value::Day(match minutes {
        // So close to midnight that it was the next day before it became a double.
        1440 => add_days(date, 1)?.to_string(),
        _ => format!("{date} {:02}:{:02}", minutes / 60, minutes % 60),
    }))
}

/// The nearest minute of a part of a day: times are kept as doubles, which no minute is exactly.
fn minutes_of(part: &str) -> Option<u32> {
    let fraction: f64 = format!("0.{part}").parse().ok()?;
    let minutes = (fraction * 1440.0).round();
    (0.0..=1440.0).contains(&minutes).then(|| {
        // Between 0 and 1440, as was just seen.
        format!("{minutes:.0}").parse().unwrap_or(0)
    })
}

/// A time of day as it is shown.
fn clock(number: &str) -> Option<String> {
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let days: u32 = whole.parse().ok()?;
    let minutes = if part.is_empty() {
        0
    } else {
        minutes_of(part)?
    };
    let minutes = days.checked_mul(1440)?.checked_add(minutes)?;
    Some(format!("{:02}:{:02}", minutes / 60, minutes % 60))
}
