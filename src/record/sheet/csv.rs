//! A CSV file (RFC 4180, with semicolons and tabs as well) to one sheet whose cells know their bytes.

use std::sync::Arc;

use super::{Cell, Count, Parting, Row, Sheet, Value, limits};
use crate::diagnostic::Diagnostic;
use crate::text::{Source, Span, decode_lines};

/// Reads a file. A row is what a spreadsheet would show as one: a quoted cell may go over several lines.
pub(super) fn read(name: &str, bytes: &[u8], parting: Parting) -> Result<Sheet, Vec<Diagnostic>> {
    let source = decode_lines(name, bytes, 1)
        .map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let mut reader = Reader {
        source: &source,
        text: source.text(),
        at: 0,
        by: b',',
        faults: Vec::new(),
    };
    let told = reader.told();
    reader.by = parting.or(told).unwrap_or_else(|| reader.most_frequent());
    let rows = reader.rows(told.is_some());
    if !reader.faults.is_empty() {
        return Err(reader.faults);
    }
    let rows = rows?;
    Ok(Sheet {
        name: String::new(),
        rows,
        merged: Vec::new(),
        text: Some(Arc::clone(&source)),
    })
}

struct Reader<'s> {
    source: &'s Arc<Source>,
    text: &'s str,
    at: usize,
    by: u8,
    faults: Vec<Diagnostic>,
}

/// Faults after which reading stops: one wrong quote makes many.
const FAULTS: usize = 20;

impl Reader<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// The parting that a first line `sep=;` tells, which is then passed over.
    fn told(&mut self) -> Option<u8> {
        let line = self.text.lines().next()?;
        let by = line.trim_end().strip_prefix("sep=")?;
        let by = match by {
            "" => b'\t',
            _ => *by.as_bytes().first()?,
        };
        self.at = (line.len() + 1).min(self.text.len());
        if self.text.as_bytes().get(line.len()) == Some(&b'\r') {
            self.at = (line.len() + 2).min(self.text.len());
        }
        matches!(by, b',' | b';' | b'\t').then_some(by)
    }

    /// What parts the cells of the first line that holds something.
    fn most_frequent(&self) -> u8 {
        let mut quoted = false;
        let (mut commas, mut semicolons, mut tabs) = (0, 0, 0);
        for byte in self.text.bytes() {
            match byte {
                b'"' => quoted = !quoted,
                b'\n' if !quoted && commas + semicolons + tabs > 0 => break,
                b',' if !quoted => commas += 1,
                b';' if !quoted => semicolons += 1,
                b'\t' if !quoted => tabs += 1,
                _ => {}
            }
        }
        if semicolons >= commas && semicolons >= tabs && semicolons > 0 {
            b';'
        } else if tabs > commas {
            b'\t'
        } else {
            b','
        }
    }

    fn rows(&mut self, one_gone: bool) -> Result<Vec<Row>, Vec<Diagnostic>> {
        let mut rows = Vec::new();
        let mut count = Count::default();
        let mut number = u32::from(one_gone);
        while self.at < self.text.len() {
            number += 1;
            let name = self.source.name().to_owned();
            if number > limits::ROWS {
                let most = usize::try_from(limits::ROWS).unwrap_or(usize::MAX);
                return Err(vec![super::too_much(
                    &name,
                    "the table has more rows than are read",
                    most,
                )]);
            }
            let mut row = Row {
                number,
                cells: Vec::new(),
            };
            let mut column = 0;
            loop {
                column += 1;
                if column > limits::COLUMNS {
                    let most = usize::try_from(limits::COLUMNS).unwrap_or(usize::MAX);
                    return Err(vec![super::too_much(
                        &name,
                        "a row has more cells than are read",
                        most,
                    )]);
                }
                if let Some(mut cell) = self.cell() {
                    count.one(&name).map_err(|bad| vec![*bad])?;
                    cell.column = column;
                    row.cells.push(cell);
                }
                if self.peek() != Some(self.by) {
                    break;
                }
                self.at += 1;
            }
            // The end of the line.
            if self.peek() == Some(b'\r') {
                self.at += 1;
            }
            if self.peek() == Some(b'\n') {
                self.at += 1;
            }
            if !row.cells.is_empty() {
                rows.push(row);
            }
            if self.faults.len() >= FAULTS {
                break;
            }
        }
        Ok(rows)
    }

    /// One cell, up to what parts it from the next; nothing for an empty one.
    fn cell(&mut self) -> Option<Cell> {
        let start = self.at;
        while let Some(b' ' | b'\t') = self.peek() {
            if self.peek() == Some(self.by) {
                break;
            }
            self.at += 1;
        }
        if self.peek() == Some(b'"') {
            return self.quoted();
        }
        self.at = start;
        let rest = self.text.get(start..).unwrap_or("");
        let by = char::from(self.by);
        let end = rest.find([by, '\n', '\r']).unwrap_or(rest.len());
        let raw = rest.get(..end).unwrap_or("");
        self.at = start + end;
        self.made(raw, raw.to_owned(), start)
    }

    fn made(&self, raw: &str, text: String, start: usize) -> Option<Cell> {
        let bare = text.trim();
        if bare.is_empty() {
            return None;
        }
        let before = raw.len() - raw.trim_start().len();
        let span = Span::new(start + before, start + before + raw.trim().len());
        Some(Cell {
            column: 0,
            value: Value::Text(bare.to_owned()),
            formula: false,
            span: Some(span),
        })
    }

    /// A cell in quotes, in which a quote is written twice.
    fn quoted(&mut self) -> Option<Cell> {
        let start = self.at;
        self.at += 1;
        let mut text = String::new();
        loop {
            let rest = self.text.get(self.at..).unwrap_or("");
            let Some(end) = rest.find('"') else {
                self.fault(
                    Span::new(start, start + 1),
                    "a quote opens a cell here and nothing closes it",
                    "opened here",
                );
                self.at = self.text.len();
                return None;
            };
            text.push_str(rest.get(..end).unwrap_or(""));
            self.at += end + 1;
            if self.peek() == Some(b'"') {
                text.push('"');
                self.at += 1;
                continue;
            }
            break;
        }
        let raw_end = self.at;
        while self.peek() == Some(b' ') {
            self.at += 1;
        }
        let by = self.by;
        let ends =
            |byte: Option<u8>| byte.is_none_or(|one| one == by || one == b'\n' || one == b'\r');
        if !ends(self.peek()) {
            let span = Span::new(start, raw_end);
            self.fault(
                span,
                "text follows the quote that closes this cell",
                "closed too early",
            );
            while !ends(self.peek()) {
                self.at += 1;
            }
            return None;
        }
        let raw = self.text.get(start..raw_end).unwrap_or("");
        self.made(raw, text, start)
    }

    fn fault(&mut self, span: Span, message: &str, words: &str) {
        let fault = Diagnostic::fault("table.quotes", message)
            .label(self.source, span, words)
            .help("a quote inside a quoted cell is written twice: \"3/16\"\" steel\"");
        self.faults.push(fault);
    }
}
