//! Tables as other programs keep them (CSV, XLSX, ODS): bytes to rows of cells, with nothing guessed.
//!
//! A cell says what the file holds, not what it may mean: a number is the shortest decimal that is that number to
//! the spreadsheet, a day is a day, a formula is its last value and is known as one. What a cell can't be used for
//! is for the reader of the map to say. All limits are counted, so that a hostile file costs little.

mod csv;
mod ods;
mod ods_cells;
mod xlsx;
mod xlsx_parts;
mod xml;
mod zip;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::text::{Source, Span, quoted};

/// The limits of what is read of a table.
pub mod limits {
    /// Bytes of the file.
    pub const FILE_BYTES: usize = 64_000_000;
    /// Bytes of one part of a spreadsheet, unpacked.
    pub const PART_BYTES: usize = 128_000_000;
    /// Cells with something in them, of all sheets together.
    pub const CELLS: usize = 2_000_000;
    /// Rows down to the last that is used, of one sheet.
    pub const ROWS: u32 = 1_048_576;
    /// Columns of one sheet.
    pub const COLUMNS: u32 = 16_384;
    /// Bytes of one cell.
    pub const CELL_BYTES: usize = 32_767 * 4;
    /// Areas of merged cells of one sheet.
    pub const MERGED: usize = 20_000;
}

/// What kind of file it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Text with cells parted by commas, semicolons or tabs.
    Csv,
    /// A workbook of Office Open XML (ECMA-376).
    Xlsx,
    /// A spreadsheet of OpenDocument (ISO/IEC 26300).
    Ods,
}

/// The sheets of a file, in their order.
#[derive(Clone, Debug)]
pub struct Book {
    /// What it is called in messages: usually the path.
    pub name: String,
    /// What kind of file it was.
    pub kind: Kind,
    /// Its sheets; a CSV file is one.
    pub sheets: Vec<Sheet>,
}

/// One sheet.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Its name; empty for a CSV file.
    pub name: String,
    /// Rows with something in them, in order.
    pub rows: Vec<Row>,
    /// Areas of cells that are merged into one.
    pub merged: Vec<Area>,
    /// The text it was read from; spreadsheets have none.
    pub text: Option<Arc<Source>>,
}

/// A row with something in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Its number from 1, as a spreadsheet shows it.
    pub number: u32,
    /// Cells with something in them, by column.
    pub cells: Vec<Cell>,
}

/// A cell with something in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// Its column, 1 for A.
    pub column: u32,
    /// What stands in it.
    pub value: Value,
    /// Whether a formula computed it.
    pub formula: bool,
    /// Where it stands, in a text.
    pub span: Option<Span>,
}

/// What a cell holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// A text, without blanks around it.
    Text(String),
    /// A number, as the shortest decimal that a spreadsheet takes for it; with its sign where the cell shows a percentage:
    /// `5 %`, which is no length.
    Number(String),
    /// A day, with a time or without: `2026-11-21`, `2026-11-21 09:05`.
    Day(String),
    /// A length of time or a time of day, as it is shown.
    Time(String),
    /// True or false.
    Truth(bool),
    /// An error such as `#REF!`.
    Error(String),
    /// A formula whose value the file does not hold.
    Uncomputed,
}

impl Value {
    /// The value as it can be shown.
    pub fn shown(&self) -> &str {
        match self {
            Value::Text(text)
            | Value::Number(text)
            | Value::Day(text)
            | Value::Time(text)
            | Value::Error(text) => text,
            Value::Truth(true) => "TRUE",
            Value::Truth(false) => "FALSE",
            Value::Uncomputed => "",
        }
    }
}

/// A rectangle of cells, ends included, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// First row and column: where the value of merged cells stands.
    pub first: (u32, u32),
    /// Last row and column.
    pub last: (u32, u32),
}

impl Area {
    /// Whether a cell lies in it and is not its first.
    pub fn covers(&self, row: u32, column: u32) -> bool {
        let inside = (self.first.0..=self.last.0).contains(&row)
            && (self.first.1..=self.last.1).contains(&column);
        inside && self.first != (row, column)
    }

    /// As people name it: `D6:D8`.
    pub fn name(&self) -> String {
        format!(
            "{}{}:{}{}",
            letters(self.first.1),
            self.first.0,
            letters(self.last.1),
            self.last.0
        )
    }
}

impl Row {
    /// The cell of a column.
    pub fn cell(&self, column: u32) -> Option<&Cell> {
        let at = self
            .cells
            .binary_search_by_key(&column, |cell| cell.column)
            .ok()?;
        self.cells.get(at)
    }
}

impl Sheet {
    /// The row of a number.
    pub fn row(&self, number: u32) -> Option<&Row> {
        let at = self
            .rows
            .binary_search_by_key(&number, |row| row.number)
            .ok()?;
        self.rows.get(at)
    }
}

/// A column as letters: 1 is A, 27 is AA.
pub fn letters(column: u32) -> String {
    let mut rest = column;
    let mut text = Vec::new();
    while rest > 0 {
        let digit = (rest - 1) % 26;
        text.push(char::from(
            b'A'.saturating_add(u8::try_from(digit).unwrap_or(0)),
        ));
        rest = (rest - 1) / 26;
    }
    text.iter().rev().collect()
}

/// The column of letters: `C` is 3. Nothing else than one to three capital letters or small ones.
pub fn column_of(letters: &str) -> Option<u32> {
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    let mut column = 0;
    for byte in letters.bytes() {
        let letter = byte.to_ascii_uppercase();
        if !letter.is_ascii_uppercase() {
            return None;
        }
        column = column * 26 + u32::from(letter - b'A') + 1;
    }
    (column <= limits::COLUMNS).then_some(column)
}

/// The parting of cells that is asked for; without one it is seen in the header.
pub type Parting = Option<u8>;

/// Reads a file by what it holds, whatever it is called. `name` is what messages call it.
///
/// # Errors
/// A file that is none of these kinds, one that is damaged or locked, one beyond the [`limits`].
pub fn read(name: &str, bytes: &[u8], parting: Parting) -> Result<Book, Vec<Diagnostic>> {
    if bytes.len() > limits::FILE_BYTES {
        return Err(vec![too_much(
            name,
            &format!("the file has {} bytes", bytes.len()),
            limits::FILE_BYTES,
        )]);
    }
    if bytes.is_empty() {
        let message = format!("{name} is empty");
        return Err(vec![
            Diagnostic::fault("table.empty", message)
                .help("give a table in CSV, XLSX or ODS with a line of headers"),
        ]);
    }
    if bytes.starts_with(b"PK") {
        return zipped(name, bytes).map_err(|found| vec![*found]);
    }
    if bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1]) {
        return Err(vec![*compound(name, bytes)]);
    }
    if let Some(kind) = crate::text::binary_kind(bytes) {
        let help = "give the table itself: XLSX, ODS or CSV (UTF-8)";
        return Err(vec![*bad(name, format!("this is {kind}, no table"), help)]);
    }
    let sheet = csv::read(name, bytes, parting).map_err(|found| {
        let named = [".xlsx", ".xlsm", ".ods", ".xls"];
        let lower = name.to_lowercase();
        match found.iter().any(|one| one.code.starts_with("text."))
            && named.iter().any(|end| lower.ends_with(end))
        {
            true => vec![*bad(
                name,
                "this is no spreadsheet, whatever its name says; it is damaged, or another kind of file",
                "open it in a spreadsheet program and save it as XLSX, ODS or CSV (UTF-8)",
            )],
            false => found,
        }
    })?;
    Ok(Book {
        name: name.to_owned(),
        kind: Kind::Csv,
        sheets: vec![sheet],
    })
}

/// A fault that keeps a whole file from being read. Boxed: it is rare, and the good way is walked often.
type Bad = Box<Diagnostic>;

fn bad(name: &str, message: impl std::fmt::Display, help: &str) -> Bad {
    let fault = Diagnostic::fault("table.unreadable", format!("{name}: {message}"));
    Box::new(if help.is_empty() {
        fault
    } else {
        fault.help(help)
    })
}

fn too_much(name: &str, what: &str, limit: usize) -> Diagnostic {
    Diagnostic::fault(
        "table.size",
        format!("{name}: {what}; {limit} are read at most"),
    )
    .help("split the table, or delete what is not data; a real fleet is far smaller")
}

/// A file of the older compound format: a spreadsheet of before 2007, or one with a password.
fn compound(name: &str, bytes: &[u8]) -> Bad {
    // The names of its streams stand in it as UTF-16 (MS-CFB 2.6).
    let wide: Vec<u8> = "EncryptedPackage"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let locked = bytes
        .windows(wide.len())
        .any(|window| window == wide.as_slice());
    if locked {
        bad(
            name,
            "the spreadsheet has a password",
            "open it, take the password off and save a copy",
        )
    } else {
        bad(
            name,
            "this is a spreadsheet of the older binary kind (XLS)",
            "save it as XLSX, ODS or CSV (UTF-8)",
        )
    }
}

fn zipped(name: &str, bytes: &[u8]) -> Result<Book, Bad> {
    let archive = zip::Archive::open(name, bytes)?;
    if archive.has("xl/workbook.xml") || archive.has("_rels/.rels") && archive.has_under("xl/") {
        return xlsx::read(name, &archive);
    }
    if archive.has("content.xml") {
        return ods::read(name, &archive);
    }
    let inside: Vec<&str> = archive.names().take(3).collect();
    let message = format!(
        "this is a zip archive, but neither XLSX nor ODS; in it: {}",
        inside
            .iter()
            .map(|name| quoted(name))
            .collect::<Vec<_>>()
            .join(", ")
    );
    Err(bad(
        name,
        message,
        "save the table as XLSX, ODS or CSV (UTF-8)",
    ))
}

/// A number of a spreadsheet, which is a double, as the shortest decimal that gives this double; nothing for what is
/// no number. 4.7000000000000002 and 4.7 are one double, and a person typed 4.7.
fn shortest(text: &str) -> Option<String> {
    let number: f64 = text.trim().parse().ok()?;
    let exact = crate::quantity::Exact::from_f64_shortest(number)?;
    Some(match exact.to_decimal(17) {
        (text, true) => text,
        (_, false) => exact.to_string(),
    })
}

/// A number that is shown as a percentage: `0.05` is `5 %`.
fn percent(number: String) -> String {
    let hundred = crate::quantity::Exact::power_of_ten(2);
    match crate::quantity::Exact::from_decimal(&number) {
        Some(exact) => format!("{} %", &exact * &hundred),
        None => number,
    }
}

/// Counts cells of all sheets against the limit.
#[derive(Default)]
struct Count {
    cells: usize,
}

impl Count {
    fn one(&mut self, name: &str) -> Result<(), Bad> {
        self.cells += 1;
        if self.cells > limits::CELLS {
            return Err(Box::new(too_much(
                name,
                "there are more filled cells than are read",
                limits::CELLS,
            )));
        }
        Ok(())
    }
}
