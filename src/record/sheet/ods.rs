//! A spreadsheet of OpenDocument (ISO/IEC 26300-1, part `content.xml`) to sheets of cells.

use super::ods_cells::{Given, cell};
use super::xml::{Step, Walk};
use super::zip::Archive;
use super::{Area, Bad, Book, Count, Kind, Row, Sheet, bad, limits, too_much};

pub(super) fn read(name: &str, archive: &Archive<'_>) -> Result<Book, Bad> {
    let kind = archive.text("mimetype")?.unwrap_or_default();
    if !kind.is_empty() && !kind.contains("opendocument.spreadsheet") {
        let message = format!(
            "this is a document of OpenDocument, but no spreadsheet ({})",
            kind.trim()
        );
        return Err(bad(name, message, "put the table into a spreadsheet"));
    }
    if let Some(manifest) = archive.text("META-INF/manifest.xml")?
        && is_locked(name, &manifest)?
    {
        return Err(bad(
            name,
            "the spreadsheet has a password",
            "open it, take the password off and save a copy",
        ));
    }
    let Some(text) = archive.text("content.xml")? else {
        return Err(bad(
            name,
            "the spreadsheet has no part content.xml",
            "save it again",
        ));
    };
    let mut walk = Walk::new(name, "content.xml", &text);
    let mut count = Count::default();
    let mut sheets = Vec::new();
    loop {
        match walk.step()? {
            Step::Open(element) if element.name == "table" => {
                let title = element.get("name").unwrap_or_default();
                let mut sheet = table(name, &mut walk, &mut count)?;
                sheet.name = title;
                sheets.push(sheet);
            }
            Step::End => break,
            Step::Open(_) | Step::Close(_) | Step::Text(_) => {}
        }
    }
    if sheets.is_empty() {
        return Err(bad(
            name,
            "the spreadsheet has no sheet",
            "put the table into a sheet",
        ));
    }
    Ok(Book {
        name: name.to_owned(),
        kind: Kind::Ods,
        sheets,
    })
}

fn is_locked(name: &str, manifest: &str) -> Result<bool, Bad> {
    let mut walk = Walk::new(name, "META-INF/manifest.xml", manifest);
    loop {
        match walk.step()? {
            Step::Open(element) if element.name == "encryption-data" => return Ok(true),
            Step::End => return Ok(false),
            Step::Open(_) | Step::Close(_) | Step::Text(_) => {}
        }
    }
}

/// One table, to its end.
fn table(name: &str, walk: &mut Walk<'_>, count: &mut Count) -> Result<Sheet, Bad> {
    let mut sheet = Sheet::default();
    // Where the next row stands.
    let mut at = 1_u32;
    loop {
        match walk.step()? {
            Step::Open(element) => match element.name.as_str() {
                "table-row" => {
                    let repeated = element.number("number-rows-repeated").unwrap_or(1).max(1);
                    let mut row = row(name, walk, count, at, &mut sheet.merged)?;
                    let next = at.saturating_add(repeated);
                    if !row.cells.is_empty() {
                        // Repeated rows are rows of their own; empty ones, which fill a sheet to its end, are none.
                        for number in at..next {
                            row.number = number;
                            if number > limits::ROWS {
                                return Err(past(name, "rows", limits::ROWS));
                            }
                            if number > at {
                                for _ in &row.cells {
                                    count.one(name)?;
                                }
                            }
                            sheet.rows.push(row.clone());
                        }
                    }
                    at = next;
                }
                // A picture or a remark may hold a table of its own.
                "shapes" | "table-source" | "scenario" => walk.skip()?,
                _ => {}
            },
            Step::Close(element) if element == "table" => return Ok(sheet),
            Step::Close(_) | Step::Text(_) => {}
            Step::End => return Err(walk.wrong("ends in a table")),
        }
    }
}

fn past(name: &str, what: &str, most: u32) -> Bad {
    let most = usize::try_from(most).unwrap_or(usize::MAX);
    Box::new(too_much(
        name,
        &format!("a sheet has more {what} than are read"),
        most,
    ))
}

fn row(
    name: &str,
    walk: &mut Walk<'_>,
    count: &mut Count,
    number: u32,
    merged: &mut Vec<Area>,
) -> Result<Row, Bad> {
    let mut row = Row {
        number,
        cells: Vec::new(),
    };
    let mut at = 1_u32;
    loop {
        match walk.step()? {
            Step::Open(element)
                if matches!(element.name.as_str(), "table-cell" | "covered-table-cell") =>
            {
                let repeated = element
                    .number("number-columns-repeated")
                    .unwrap_or(1)
                    .max(1);
                let covered = element.name == "covered-table-cell";
                let given = Given::of(&element);
                let (rows, columns) = (given.rows_spanned, given.columns_spanned);
                if !covered && (rows > 1 || columns > 1) {
                    if merged.len() >= limits::MERGED {
                        return Err(Box::new(too_much(
                            name,
                            "more areas are merged than are read",
                            limits::MERGED,
                        )));
                    }
                    merged.push(Area {
                        first: (number, at),
                        last: (
                            number.saturating_add(rows - 1),
                            at.saturating_add(columns - 1),
                        ),
                    });
                }
                let next = at.saturating_add(repeated);
                // What a covered cell holds is not shown.
                if let Some(cell) = cell(walk, given)?
                    && !covered
                {
                    for column in at..next {
                        if column > limits::COLUMNS {
                            return Err(past(name, "columns", limits::COLUMNS));
                        }
                        count.one(name)?;
                        let mut cell = cell.clone();
                        cell.column = column;
                        row.cells.push(cell);
                    }
                }
                at = next;
            }
            Step::Open(_) => walk.skip()?,
            Step::Close(_) => return Ok(row),
            Step::Text(_) => {}
            Step::End => return Err(walk.wrong("ends in a row")),
        }
    }
}
