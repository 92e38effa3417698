//! Naming a cell: sheet, row, column and header, and a line of the table to underline it in.

use std::sync::Arc;

use crate::diagnostic::Label;
use crate::record::sheet::{Book, Row, Sheet, letters};
use crate::text::{Source, Span, quoted};

/// A cell by its table (of the map), row and column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct At {
    pub table: usize,
    pub row: u32,
    /// 0 for the row as a whole.
    pub column: u32,
}

/// Letters of a cell that are shown in a line.
const SHOWN: usize = 24;

/// Row, column and header of a cell: ``sheet `Runners`, row 7, column D `thickness [mm]` ``.
pub(super) fn named(sheet: &Sheet, row: u32, column: u32, header: Option<&str>) -> String {
    let mut text = String::new();
    if !sheet.name.is_empty() {
        text.push_str(&format!("sheet {}, ", quoted(&sheet.name)));
    }
    text.push_str(&format!("row {row}"));
    if column > 0 {
        text.push_str(&format!(", column {}", letters(column)));
        if let Some(header) = header {
            text.push_str(&format!(" {}", quoted(header)));
        }
    }
    text
}

/// The place of a cell in a text that can be drawn: the file's own, or for a spreadsheet its row as a line.
pub(super) fn label(book: &Book, sheet: &Sheet, row: u32, column: u32, words: &str) -> Label {
    let found = sheet.row(row);
    if let Some(text) = &sheet.text {
        let cell = found.and_then(|row| row.cell(column));
        let span = match (cell.and_then(|cell| cell.span), found) {
            (Some(span), _) => span,
            (None, Some(row)) if column > 0 => of_empty(text.text(), row, column),
            (None, Some(row)) => of_row(row),
            (None, None) => Span::default(),
        };
        return Label::new(text, span, words);
    }
    let (text, span) = line(found, column);
    let source: Arc<Source> = Source::new_at(&book.name, text, row);
    Label::new(&source, span, words)
}

/// The bytes of a row of a text; of one that goes over several lines, its first cell.
fn of_row(row: &Row) -> Span {
    row.cells
        .iter()
        .find_map(|cell| cell.span)
        .unwrap_or_default()
}

/// Where an empty cell of a text stands: as many partings behind the last cell before it, or before the first one behind it.
/// A row that is too short ends before it.
fn of_empty(text: &str, row: &Row, column: u32) -> Span {
    let parting = |one: &u8| matches!(one, b',' | b';' | b'\t');
    // An empty cell may stand in quotes.
    let nothing = |one: &u8| matches!(one, b' ' | b'"');
    let bytes = text.as_bytes();
    let spans = || {
        row.cells
            .iter()
            .filter_map(|cell| Some((cell.column, cell.span?)))
    };
    let size = |at: u32| usize::try_from(at).unwrap_or(usize::MAX);
    let mut at;
    if let Some((known, span)) = spans().rfind(|(known, _)| *known < column) {
        at = size(span.end);
        for _ in known..column {
            while bytes.get(at).is_some_and(nothing) {
                at += 1;
            }
            match bytes.get(at) {
                Some(one) if parting(one) => at += 1,
                _ => break,
            }
        }
    } else if let Some((known, span)) = spans().next() {
        at = size(span.start);
        for _ in column..known {
            while at > 0 && bytes.get(at - 1).is_some_and(nothing) {
                at -= 1;
            }
            match at
                .checked_sub(1)
                .filter(|before| bytes.get(*before).is_some_and(parting))
            {
                Some(before) => at = before,
                None => break,
            }
        }
    } else {
        return of_row(row);
    }
    Span::new(at, at)
}

/// A row as one line, and where a cell stands in it.
fn line(row: Option<&Row>, column: u32) -> (String, Span) {
    let mut text = String::new();
    let mut span = Span::default();
    let mut at = 1;
    let mut push = |text: &mut String, shown: &str, at: u32| {
        if at > 1 {
            text.push_str(" | ");
        }
        let start = text.len();
        text.push_str(shown);
        if at == column {
            span = Span::new(start, text.len().max(start + 1));
        }
    };
    for cell in row.iter().flat_map(|row| &row.cells) {
        // Of far columns the empty ones between are not drawn.
        while at < cell.column && at < column + 20 && cell.column - at < 40 {
            push(&mut text, " ", at);
            at += 1;
        }
        at = cell.column;
        let one_line: String = cell
            .value
            .shown()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let mut shown: String = one_line.chars().take(SHOWN).collect();
        if shown.len() < one_line.len() {
            shown.push('…');
        }
        if shown.is_empty() {
            shown.push(' ');
        }
        push(&mut text, &shown, at);
        at += 1;
    }
    while at <= column && column - at < 40 {
        push(&mut text, " ", at);
        at += 1;
    }
    text.push(' ');
    (text, span)
}
