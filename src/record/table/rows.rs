//! Rows of a table to what they say: whose boat, which day, and each cell's value; refused cells are named.

use super::cell::{Given, Refusal, convert, is_nothing};
use super::columns::Found;
use super::model::{Column, TableMap};
use super::number::wonder;
use super::place::{At, label};
use super::target::{Target, What};
use crate::diagnostic::Diagnostic;
use crate::record::sheet::{Area, Book, Kind, Row, Value, letters};
use crate::text::quoted;

/// Faults that are told one by one; the rest is counted.
const TOLD: usize = 50;

/// Implausible readings that are told one by one; the rest is counted.
const WONDERED: usize = 20;

/// Faults of an import, bounded.
#[derive(Default)]
pub(super) struct Refused {
    pub found: Vec<Diagnostic>,
    more: usize,
}

impl Refused {
    pub(super) fn push(&mut self, fault: Diagnostic) {
        if self.found.len() < TOLD {
            self.found.push(fault);
        } else {
            self.more += 1;
        }
    }

    /// All of them, with how many more there are.
    pub(super) fn all(mut self) -> Vec<Diagnostic> {
        if self.more > 0 {
            let message = format!("{} more faults of this table are not shown", self.more);
            self.found.push(
                Diagnostic::fault("table.too_many_faults", message)
                    .help("mend these and import again"),
            );
        }
        self.found
    }
}

/// What to do about a cell beyond the headers, by what parts it from the one before.
fn parting_help(found: &Found<'_>, row: u32, column: u32) -> &'static str {
    let sheet = found.sheet;
    let cell = sheet.row(row).and_then(|row| row.cell(column));
    let before = sheet.text.as_ref().zip(cell.and_then(|cell| cell.span));
    let before = before.and_then(|(text, span)| {
        let start = usize::try_from(span.start).ok()?;
        text.text()
            .get(..start)?
            .trim_end_matches(' ')
            .chars()
            .last()
    });
    match before {
        Some(';') => {
            "take it out, or write a header above it; a text with a semicolon in it is put in quotes"
        }
        Some('\t') => {
            "take it out, or write a header above it; a text with a tab in it is put in quotes"
        }
        _ => {
            "a comma in a number parts it in two where commas part the cells; put it in quotes, or save the table with semicolons"
        }
    }
}

/// A value with its cell.
pub(super) struct Got<'a> {
    pub column: &'a Column,
    pub given: Given,
    pub at: At,
}

/// What one row says.
pub(super) struct RowData<'a> {
    pub at: At,
    pub sail: (String, At),
    pub day: Option<(String, At)>,
    /// Whether none of its cells was refused.
    pub whole: bool,
    /// The id of the part that the row is, where rows are parts.
    pub id: Option<(String, At)>,
    pub got: Vec<Got<'a>>,
}

/// What is to be known of a table beside its records.
#[derive(Default)]
pub(super) struct Remarks {
    /// Cells whose value a formula computed, and the first of them.
    pub formulas: usize,
    pub first_formula: Option<String>,
    /// Columns that nothing of the map fills, with how many of their cells hold something.
    pub unused: Vec<(String, usize)>,
    pub filled: usize,
    /// Readings that lie outside what is plausible, up to a number, and how many there are.
    pub implausible: Vec<Diagnostic>,
    pub wondered: usize,
    /// Boats of which a row could not be used, and whether there is such a row of nobody knows which boat.
    pub broken: Vec<String>,
    pub lost: bool,
}

/// Reads the rows below the headers.
pub(super) fn read<'a>(
    map: &TableMap,
    book: &Book,
    found: &Found<'a>,
    table: usize,
    refused: &mut Refused,
    remarks: &mut Remarks,
) -> Vec<RowData<'a>> {
    let mut rows = Vec::new();
    let last = found.headers.iter().map(|(at, _)| *at).max().unwrap_or(0);
    let mut unused: Vec<(u32, usize)> = Vec::new();
    let mut reader = Reader {
        map,
        book,
        found,
        table,
        refused,
        remarks,
        merged: Merged::of(found),
    };
    for number in reader.numbers() {
        let empty = Row {
            number,
            cells: Vec::new(),
        };
        let row = found.sheet.row(number).unwrap_or(&empty);
        for cell in &row.cells {
            if found.columns.iter().any(|(at, _)| *at == cell.column) {
                continue;
            }
            if book.kind == Kind::Csv && found.spec.header_row > 0 && cell.column > last {
                reader.beyond(row.number, cell.column, last);
                break;
            }
            match unused.iter_mut().find(|(at, _)| *at == cell.column) {
                Some((_, count)) => *count += 1,
                None => unused.push((cell.column, 1)),
            }
        }
        rows.extend(reader.row(row));
    }
    unused.sort_unstable();
    for (column, count) in unused {
        let header = found.header(column);
        let told = header.is_some_and(|header| {
            found
                .spec
                .left_out
                .iter()
                .any(|(text, _)| super::columns::same_header(text, header))
        });
        if !told {
            let name = match header {
                Some(header) => format!("{} ({})", letters(column), quoted(header)),
                None => letters(column),
            };
            remarks.unused.push((name, count));
        }
    }
    rows
}

/// Merged areas by the columns that are used, in the order of their first rows: so that a cell's is found at once.
struct Merged {
    columns: Vec<(u32, Vec<Area>)>,
}

impl Merged {
    fn of(found: &Found<'_>) -> Merged {
        let columns = found.columns.iter().map(|(column, _)| {
            let inside = |area: &&Area| (area.first.1..=area.last.1).contains(column);
            let mut areas: Vec<Area> = found.sheet.merged.iter().filter(inside).copied().collect();
            areas.sort_unstable_by_key(|area| area.first);
            (*column, areas)
        });
        Merged {
            columns: columns.collect(),
        }
    }

    /// The area that covers a cell with the value of another.
    fn covering(&self, row: u32, column: u32) -> Option<Area> {
        let (_, areas) = self.columns.iter().find(|(known, _)| *known == column)?;
        // Areas of one sheet do not lie over one another.
        let after = areas.partition_point(|area| area.first.0 <= row);
        let area = areas.get(after.checked_sub(1)?)?;
        area.covers(row, column).then_some(*area)
    }

    /// The rows up to the last one that areas reach.
    fn reached(&self, last: u32) -> Vec<u32> {
        let mut areas: Vec<(u32, u32)> = self
            .columns
            .iter()
            .flat_map(|(_, areas)| areas)
            .map(|area| (area.first.0, area.last.0.min(last)))
            .collect();
        areas.sort_unstable();
        let mut rows = Vec::new();
        let mut next = 0;
        for (first, last) in areas {
            rows.extend(first.max(next)..=last);
            next = next.max(last.saturating_add(1));
        }
        rows
    }
}

struct Reader<'m, 'f, 'a> {
    map: &'m TableMap,
    book: &'m Book,
    found: &'f Found<'a>,
    table: usize,
    refused: &'f mut Refused,
    remarks: &'f mut Remarks,
    merged: Merged,
}

impl<'a> Reader<'_, '_, 'a> {
    /// The rows that hold something, those that merged cells reach among them.
    fn numbers(&self) -> Vec<u32> {
        let sheet = self.found.sheet;
        let mut numbers: Vec<u32> = sheet.rows.iter().map(|row| row.number).collect();
        let last = numbers.last().copied().unwrap_or(0);
        numbers.extend(self.merged.reached(last));
        numbers.sort_unstable();
        numbers.dedup();
        numbers.retain(|number| *number > self.found.spec.header_row);
        numbers
    }

    fn refuse(&mut self, row: u32, column: u32, refusal: Refusal) {
        let message = format!("{}: {}", self.found.named(row, column), refusal.message);
        let mut fault = Diagnostic::fault(refusal.code, message);
        if !refusal.help.is_empty() {
            fault = fault.help(refusal.help);
        }
        fault
            .labels
            .push(label(self.book, self.found.sheet, row, column, ""));
        self.refused.push(fault);
    }

    /// A reading that is imported and that somebody should look at.
    fn wondered(&mut self, row: u32, column: u32, message: &str) {
        self.remarks.wondered += 1;
        if self.remarks.implausible.len() < WONDERED {
            let message = format!("{}: {message}", self.found.named(row, column));
            let mut notice = Diagnostic::notice("table.implausible", message);
            let place = label(self.book, self.found.sheet, row, column, "");
            notice.labels.push(place);
            self.remarks.implausible.push(notice);
        }
    }

    fn beyond(&mut self, row: u32, column: u32, last: u32) {
        let refusal = Refusal {
            code: "table.cells",
            message: format!(
                "this cell has no header: the headers end with column {}",
                letters(last)
            ),
            help: parting_help(self.found, row, column).to_owned(),
        };
        self.refuse(row, column, refusal);
    }

    /// The value of a cell; where the map says so, that of the cell it is merged with.
    fn value(&mut self, row: &Row, column: u32) -> Option<(Value, bool)> {
        if let Some(cell) = row.cell(column) {
            return Some((cell.value.clone(), cell.formula));
        }
        let area = self.merged.covering(row.number, column)?;
        let first = self
            .found
            .sheet
            .row(area.first.0)
            .and_then(|row| row.cell(area.first.1))?;
        if area.first.0 <= self.found.spec.header_row {
            return None;
        }
        if self.found.spec.merged_fill {
            return Some((first.value.clone(), first.formula));
        }
        let refusal = Refusal {
            code: "table.merged",
            message: format!("this cell is one of the merged cells {}, whose value stands in the first of them alone", area.name()),
            help: "undo the merge and write the value into each cell, or write `merged: fill` in the map if it holds for all of them".to_owned(),
        };
        self.refuse(row.number, column, refusal);
        None
    }

    fn row(&mut self, row: &Row) -> Option<RowData<'a>> {
        let found = self.found;
        let rows = found.spec.rows;
        let before = self.refused.found.len() + self.refused.more;
        let mut got: Vec<Got<'a>> = Vec::new();
        let (mut sail, mut day, mut id) = (None, None, None);
        let mut filled = false;
        for (at, column) in &found.columns {
            let Some((value, formula)) = self.value(row, *at) else {
                continue;
            };
            if is_nothing(&value, self.map) {
                continue;
            }
            filled = true;
            let here = At {
                table: self.table,
                row: row.number,
                column: *at,
            };
            if formula {
                self.remarks.formulas += 1;
                if self.remarks.first_formula.is_none() {
                    self.remarks.first_formula = Some(found.named(row.number, *at));
                }
            }
            let given = match convert(&value, column, self.map) {
                Ok(Some(given)) => given,
                Ok(None) => continue,
                Err(refusal) => {
                    self.refuse(row.number, *at, refusal);
                    // Which boat or part it is can't be told, which is said once.
                    continue;
                }
            };
            if let Some(message) = wonder(&given, column, self.map) {
                self.wondered(row.number, *at, &message);
            }
            match &column.target {
                Target::SailNumber => sail = Some((given.shown(), here)),
                Target::Measured("day") => day = Some((given.shown(), here)),
                Target::Item {
                    holding,
                    id: None,
                    what: What::Id,
                } if *holding == rows => {
                    id = Some((given.shown(), here));
                }
                Target::Boat(_) | Target::Measured(_) | Target::Item { .. } => {
                    self.remarks.filled += 1;
                    got.push(Got {
                        column,
                        given,
                        at: here,
                    });
                }
            }
        }
        let whole = self.refused.found.len() + self.refused.more == before;
        let at = At {
            table: self.table,
            row: row.number,
            column: 0,
        };
        // Rows of nothing but blanks stand between.
        if !filled {
            return None;
        }
        let Some(sail) = sail else {
            self.remarks.lost = true;
            if whole {
                self.without(row.number, |target| *target == Target::SailNumber, "this row has values and no sail number", "write whose boat it is in each row; a row that is none, such as a sum, is taken out");
            }
            return None;
        };
        if !whole || rows.is_some() && id.is_none() {
            self.remarks.broken.push(sail.0.clone());
        }
        if rows.is_some() && id.is_none() {
            if whole {
                self.without(
                    row.number,
                    |target| {
                        matches!(
                            target,
                            Target::Item {
                                id: None,
                                what: What::Id,
                                ..
                            }
                        )
                    },
                    "this row has values and no id of its part",
                    "write its id: 1 to 16 letters, digits and . _ -, such as S1",
                );
            }
            return None;
        }
        Some(RowData {
            at,
            sail,
            day,
            whole,
            id,
            got,
        })
    }

    /// A row that lacks what tells whose it is, named at the column that should tell it.
    fn without(&mut self, row: u32, test: impl Fn(&Target) -> bool, message: &str, help: &str) {
        let column = self
            .found
            .columns
            .iter()
            .find(|(_, column)| test(&column.target));
        let refusal = Refusal {
            code: "table.row",
            message: message.to_owned(),
            help: help.to_owned(),
        };
        self.refuse(row, column.map_or(0, |(at, _)| *at), refusal);
    }
}
