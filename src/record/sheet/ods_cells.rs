//! The cells of an OpenDocument spreadsheet (ISO/IEC 26300-1, 19.385 `office:value-type` and its kin).

use super::xlsx::iso;
use super::xml::{Element, Step, Walk};
use super::{Bad, Cell, Value, limits, percent, shortest};

/// What the attributes of a cell say.
pub(super) struct Given {
    kind: String,
    value: Option<String>,
    formula: bool,
    /// Yes or no, which some programs write as a formula with the value 1 or 0.
    truth: Option<bool>,
    pub rows_spanned: u32,
    pub columns_spanned: u32,
}

impl Given {
    pub(super) fn of(element: &Element<'_>) -> Given {
        let kind = element.get("value-type").unwrap_or_default();
        let value = match kind.as_str() {
            "date" => element.get("date-value"),
            "time" => element.get("time-value"),
            "boolean" => element.get("boolean-value"),
            "string" => element.get("string-value"),
            _ => element.get("value"),
        };
        let formula = element.get("formula");
        let truth = formula.as_deref().and_then(|formula| {
            match formula.rsplit('=').next().map(str::trim) {
                Some("TRUE()") => Some(true),
                Some("FALSE()") => Some(false),
                Some(_) | None => None,
            }
        });
        Given {
            kind,
            value,
            truth,
            formula: truth.is_none() && formula.is_some(),
            rows_spanned: element.number("number-rows-spanned").unwrap_or(1).max(1),
            columns_spanned: element.number("number-columns-spanned").unwrap_or(1).max(1),
        }
    }
}

/// Reads a cell to its end; nothing where it is empty. Its column is the caller's to say.
pub(super) fn cell(walk: &mut Walk<'_>, given: Given) -> Result<Option<Cell>, Bad> {
    let shown = shown(walk)?;
    let text = |text: &str| {
        let text = text.trim();
        (!text.is_empty()).then(|| Value::Text(text.to_owned()))
    };
    let error = shown.starts_with('#') || shown.starts_with("Err:");
    if let Some(truth) = given.truth {
        return Ok(Some(Cell {
            column: 0,
            value: Value::Truth(truth),
            formula: false,
            span: None,
        }));
    }
    let value = match (given.kind.as_str(), given.value.as_deref()) {
        // Errors are kept as the text that is shown, whatever the kind of the cell.
        _ if given.formula && error => Some(Value::Error(shown)),
        ("float" | "currency", Some(value)) => match shortest(value) {
            Some(number) => Some(Value::Number(number)),
            None => return Err(walk.wrong("has a number that is none")),
        },
        ("percentage", Some(value)) => match shortest(value) {
            Some(number) => Some(Value::Number(percent(number))),
            None => return Err(walk.wrong("has a number that is none")),
        },
        ("date", Some(value)) => Some(iso(value)),
        ("time", _) => Some(Value::Time(shown)),
        ("boolean", Some(value)) => Some(Value::Truth(value == "true")),
        ("string", Some(value)) => text(value),
        ("string", None) => text(&shown),
        _ if given.formula && shown.is_empty() => Some(Value::Uncomputed),
        _ => text(&shown),
    };
    Ok(value.map(|value| Cell {
        column: 0,
        value,
        formula: given.formula,
        span: None,
    }))
}

/// What is shown in a cell that has just begun: its paragraphs, without remarks and pictures.
fn shown(walk: &mut Walk<'_>) -> Result<String, Bad> {
    let mut text = String::new();
    let mut paragraphs = 0;
    let mut depth = 1_usize;
    loop {
        match walk.step()? {
            Step::Open(element) => match element.name.as_str() {
                "annotation" | "frame" | "shapes" | "ruby-text" => walk.skip()?,
                name => {
                    depth += 1;
                    match name {
                        "p" | "h" => {
                            if paragraphs > 0 {
                                text.push('\n');
                            }
                            paragraphs += 1;
                        }
                        // Blanks that are more than one, and a tab (6.1.3, 6.1.4).
                        "s" => {
                            let count = element.number("c").unwrap_or(1).min(100);
                            (0..count).for_each(|_| text.push(' '));
                        }
                        "tab" => text.push(' '),
                        "line-break" => text.push('\n'),
                        _ => {}
                    }
                }
            },
            Step::Close(_) => {
                depth -= 1;
                if depth == 0 {
                    return Ok(text.trim().to_owned());
                }
            }
            Step::Text(more) => {
                // Text beside paragraphs is how the file is laid out.
                if paragraphs > 0 && depth > 1 && text.len() < limits::CELL_BYTES {
                    text.push_str(&more);
                }
            }
            Step::End => return Err(walk.wrong("ends in a cell")),
        }
    }
}
