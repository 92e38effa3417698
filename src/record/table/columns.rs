//! Which column of a sheet is which of the map: by header, by letter, or by both.

use super::model::{Column, TableMap, TableSpec};
use super::place::{label, named};
use super::suggest_words::other_unit;
use crate::diagnostic::{Diagnostic, near_misses};
use crate::quantity::Unit;
use crate::record::sheet::{Book, Kind, Sheet, Value, letters};
use crate::text::quoted;

/// A table of the map, found in a file.
pub(super) struct Found<'a> {
    pub spec: &'a TableSpec,
    pub sheet: &'a Sheet,
    /// Columns of the sheet with those of the map, by column.
    pub columns: Vec<(u32, &'a Column)>,
    /// The headers, by column.
    pub headers: Vec<(u32, String)>,
}

impl Found<'_> {
    /// The header above a column.
    pub(super) fn header(&self, column: u32) -> Option<&str> {
        let found = self.headers.iter().find(|(at, _)| *at == column)?;
        Some(&found.1)
    }

    /// How a cell of it is named.
    pub(super) fn named(&self, row: u32, column: u32) -> String {
        named(self.sheet, row, column, self.header(column))
    }
}

/// How a header and a map come to say one unit.
pub(super) fn one_unit(of_header: Unit, of_map: Unit) -> String {
    format!(
        "write `unit: {}` in the map if `{0}` is meant; if `{}` is, mend the header in the table and in the map",
        of_header.symbol(),
        of_map.symbol()
    )
}

/// Whether two headers are one: capitals and runs of blanks do not count.
pub(super) fn same_header(one: &str, other: &str) -> bool {
    let plain = |text: &str| {
        text.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .to_lowercase()
    };
    plain(one) == plain(other)
}

/// The sheet of a table.
pub(super) fn sheet_of<'a>(
    map: &TableMap,
    spec: &TableSpec,
    book: &'a Book,
) -> Result<&'a Sheet, Diagnostic> {
    if book.kind == Kind::Csv {
        return match book.sheets.as_slice() {
            [sheet] if map.tables.len() == 1 => Ok(sheet),
            _ => Err(Diagnostic::fault(
                "table.sheet",
                format!(
                    "{} is a CSV file, which is one table; the map describes {}",
                    book.name,
                    map.tables.len()
                ),
            )
            .label(&map.source, spec.span, "")
            .help("give a spreadsheet with these sheets, or a map for each file")),
        };
    }
    let names: Vec<String> = book
        .sheets
        .iter()
        .map(|sheet| quoted(&sheet.name))
        .collect();
    match &spec.sheet {
        Some((name, span)) => {
            let found = book
                .sheets
                .iter()
                .find(|sheet| same_header(&sheet.name, name));
            found.ok_or_else(|| {
                let near = near_misses(name, book.sheets.iter().map(|sheet| sheet.name.as_str()));
                let help = match near {
                    Some(near) => format!("did you mean {}?", quoted(near)),
                    None => format!("it has: {}", names.join(", ")),
                };
                Diagnostic::fault(
                    "table.sheet",
                    format!("{} has no sheet {}", book.name, quoted(name)),
                )
                .label(&map.source, *span, "not there")
                .help(help)
            })
        }
        None => {
            let mut filled = book.sheets.iter().filter(|sheet| !sheet.rows.is_empty());
            match (filled.next(), filled.next(), book.sheets.first()) {
                (Some(only), None, _) => Ok(only),
                (None, _, Some(first)) => Ok(first),
                _ => Err(Diagnostic::fault(
                    "table.sheet",
                    format!(
                        "{} has the sheets {}; the map does not say which is meant",
                        book.name,
                        names.join(", ")
                    ),
                )
                .label(&map.source, spec.span, "no `sheet` here")
                .help("write `sheet:` with its name")),
            }
        }
    }
}

/// Finds the columns of a table; every one that can't be told is a fault.
pub(super) fn find<'a>(
    map: &TableMap,
    spec: &'a TableSpec,
    book: &'a Book,
    faults: &mut Vec<Diagnostic>,
) -> Option<Found<'a>> {
    let sheet = match sheet_of(map, spec, book) {
        Ok(sheet) => sheet,
        Err(fault) => {
            faults.push(fault);
            return None;
        }
    };
    let before = faults.len();
    let first = sheet.row(spec.header_row);
    if spec.header_row > 0 && first.is_none() {
        let what = if sheet.rows.is_empty() {
            "the table is empty".to_owned()
        } else {
            format!(
                "row {} is empty; the headers are expected there",
                spec.header_row
            )
        };
        let mut fault = Diagnostic::fault("table.header", format!("{}: {what}", book.name))
            .help("say in the map where the headers stand: `header_row: 3`");
        fault
            .labels
            .push(label(book, sheet, spec.header_row, 0, ""));
        faults.push(fault);
        return None;
    }
    let headers: Vec<(u32, String)> = first
        .iter()
        .filter(|_| spec.header_row > 0)
        .flat_map(|row| &row.cells)
        .filter_map(|cell| match &cell.value {
            Value::Text(text) | Value::Number(text) | Value::Day(text) => {
                Some((cell.column, text.clone()))
            }
            Value::Time(_) | Value::Truth(_) | Value::Error(_) | Value::Uncomputed => None,
        })
        .collect();
    let mut columns: Vec<(u32, &Column)> = Vec::new();
    for column in &spec.columns {
        let Some(at) = column_at(map, spec, &headers, column, faults) else {
            continue;
        };
        if let Some((_, other)) = columns.iter().find(|(known, _)| *known == at) {
            faults.push(
                Diagnostic::fault(
                    "map.column_twice",
                    format!("column {} is named twice in the map", letters(at)),
                )
                .label(&map.source, column.span, "again here")
                .label(&map.source, other.span, "first here")
                .help("a column fills one place"),
            );
            continue;
        }
        // A header that the map names was compared where the map was read.
        let above = headers.iter().find(|(known, _)| *known == at);
        if column.header.is_none()
            && let (Some((_, header)), Some(unit)) = (above, column.unit)
            && let Some(other) = other_unit(header, unit)
        {
            let message = format!(
                "{}: the header says {}, the map `unit: {}`",
                named(sheet, spec.header_row, at, Some(header)),
                other.symbol(),
                unit.symbol()
            );
            let mut fault = Diagnostic::fault("map.unit", message).help(one_unit(other, unit));
            fault
                .labels
                .push(label(book, sheet, spec.header_row, at, "this unit"));
            faults.push(fault.label(&map.source, column.span, "another one"));
        }
        columns.push((at, column));
    }
    columns.sort_by_key(|(at, _)| *at);
    (faults.len() == before).then_some(Found {
        spec,
        sheet,
        columns,
        headers,
    })
}

fn column_at(
    map: &TableMap,
    spec: &TableSpec,
    headers: &[(u32, String)],
    column: &Column,
    faults: &mut Vec<Diagnostic>,
) -> Option<u32> {
    let Some(wanted) = &column.header else {
        return column.letter;
    };
    if spec.header_row == 0 {
        faults.push(
            Diagnostic::fault(
                "map.column",
                format!(
                    "the table has no headers (`header_row: 0`), so {} can't be found",
                    quoted(wanted)
                ),
            )
            .label(&map.source, column.span, "")
            .help("name the column by its letter: `column: C`"),
        );
        return None;
    }
    let found: Vec<u32> = headers
        .iter()
        .filter(|(_, header)| same_header(header, wanted))
        .map(|(at, _)| *at)
        .collect();
    match (found.as_slice(), column.letter) {
        (_, Some(letter)) => {
            if found.contains(&letter) {
                return Some(letter);
            }
            let above = headers.iter().find(|(at, _)| *at == letter);
            let stands = above.map_or("no header".to_owned(), |(_, header)| quoted(header));
            faults.push(
                Diagnostic::fault(
                    "map.column",
                    format!(
                        "above column {} stands {stands}, not {}",
                        letters(letter),
                        quoted(wanted)
                    ),
                )
                .label(&map.source, column.span, "")
                .help("mend the letter or the header in the map"),
            );
            None
        }
        ([at], None) => Some(*at),
        ([], None) => {
            faults.push(no_header(map, headers, wanted, column.span));
            None
        }
        (several, None) => {
            let places: Vec<String> = several.iter().map(|at| letters(*at)).collect();
            faults.push(
                Diagnostic::fault(
                    "table.header_twice",
                    format!(
                        "the header {} stands above the columns {}",
                        quoted(wanted),
                        places.join(" and ")
                    ),
                )
                .label(&map.source, column.span, "which is meant?")
                .help(format!(
                    "add the letter in the map: `column: {}`",
                    places.first().map_or("C", String::as_str)
                )),
            );
            None
        }
    }
}

fn no_header(
    map: &TableMap,
    headers: &[(u32, String)],
    wanted: &str,
    span: crate::text::Span,
) -> Diagnostic {
    const LISTED: usize = 12;
    let help = match near_misses(wanted, headers.iter().map(|(_, header)| header.as_str())) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None if headers.is_empty() => "the table has no headers there".to_owned(),
        None => {
            let mut list: Vec<String> = headers
                .iter()
                .take(LISTED)
                .map(|(_, header)| quoted(header))
                .collect();
            if headers.len() > LISTED {
                list.push(format!("and {} more", headers.len() - LISTED));
            }
            format!("its headers are: {}", list.join(", "))
        }
    };
    Diagnostic::fault(
        "map.no_column",
        format!("the table has no column {}", quoted(wanted)),
    )
    .label(&map.source, span, "not there")
    .help(help)
}
