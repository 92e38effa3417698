//! A table to records: every cell by the map, every record by the loader, or nothing at all.

use std::collections::{BTreeMap, BTreeSet};

use super::build::{Boat, Mark, Written};
use super::columns::{self, Found};
use super::model::TableMap;
use super::place::{At, label};
use super::rows::{self, Refused, Remarks, RowData};
use super::target::Target;
use crate::diagnostic::{Diagnostic, Severity};
use crate::quantity::{Date, DateSpan};
use crate::record::head::head;
use crate::record::keys::Loader;
use crate::record::model::Record;
use crate::record::sheet::Book;
use crate::text::{Source, parse_json_line, quoted};
use crate::vocabulary::{HoldingId, Vocabulary};

/// A sail number with one blank where several stand.
fn plain(sail: &str) -> String {
    sail.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Columns that are named in one notice.
const NAMED: usize = 12;

/// What became of a table.
pub struct Import<'a> {
    map: &'a TableMap,
    book: &'a Book,
    found: Vec<Found<'a>>,
    /// The records, in the order in which their boats first stand in the table.
    pub made: Vec<Made>,
    /// What to know: formulas, columns that nothing fills.
    pub notices: Vec<Diagnostic>,
    /// How much it is.
    pub counts: Counts,
}

/// How much was read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Different sail numbers.
    pub boats: usize,
    /// Parts by their holding, where there are some.
    pub parts: Vec<(HoldingId, usize)>,
    /// Cells that were used.
    pub cells: usize,
}

/// One record that was made.
pub struct Made {
    /// The record as one line of JSON, without a line end.
    pub text: String,
    /// The day of measuring.
    pub day: Option<Date>,
    marks: Vec<(std::ops::Range<usize>, Mark)>,
}

impl<'a> Import<'a> {
    /// Turns a table into records by a map. Each record is still to be loaded, by [`Import::load`].
    ///
    /// # Errors
    /// Every fault of columns, cells and rows, up to a limit, with the number of the rest.
    pub fn read(
        map: &'a TableMap,
        book: &'a Book,
        vocabulary: &Vocabulary,
    ) -> Result<Import<'a>, Vec<Diagnostic>> {
        let mut faults = Vec::new();
        let mut found = Vec::new();
        for spec in &map.tables {
            found.extend(columns::find(map, spec, book, &mut faults));
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let mut refused = Refused::default();
        let mut remarks = Remarks::default();
        let mut all: Vec<(Option<HoldingId>, RowData<'a>)> = Vec::new();
        for (table, one) in found.iter().enumerate() {
            let rows = rows::read(map, book, one, table, &mut refused, &mut remarks);
            all.extend(rows.into_iter().map(|row| (one.spec.rows, row)));
        }
        let mut import = Import {
            map,
            book,
            found,
            made: Vec::new(),
            notices: Vec::new(),
            counts: Counts {
                cells: remarks.filled,
                ..Counts::default()
            },
        };
        let nothing = all.is_empty() && refused.found.is_empty();
        let boats = import.boats(all, &mut refused, &mut remarks);
        if nothing {
            refused.push(
                Diagnostic::fault(
                    "table.nothing",
                    format!(
                        "{} has no row below its headers that says something",
                        book.name
                    ),
                )
                .help("look at `sheet` and `header_row` in the map"),
            );
        }
        if !refused.found.is_empty() {
            import.rest(&boats, &remarks, vocabulary, &mut refused);
            return Err(refused.all());
        }
        let mut parts: BTreeMap<HoldingId, usize> = BTreeMap::new();
        let mut sails: Vec<&str> = boats.iter().map(Boat::sail).collect();
        sails.sort_unstable();
        sails.dedup();
        import.counts.boats = sails.len();
        for boat in &boats {
            for holding in boat.parts() {
                *parts.entry(holding).or_default() += 1;
            }
            let Written { text, marks } = boat.write(map, vocabulary);
            let day = boat
                .day
                .as_ref()
                .map(|(day, _)| day.as_str())
                .or_else(|| import.constant_day());
            let day = day.and_then(|day| DateSpan::parse(day).ok()?.as_day());
            import.made.push(Made { text, day, marks });
        }
        import.counts.parts = parts.into_iter().collect();
        import.notices = import.told(&remarks);
        Ok(import)
    }

    fn constant_day(&self) -> Option<&'a str> {
        let map: &'a TableMap = self.map;
        let day = map
            .constants
            .iter()
            .find(|one| one.target == Target::Measured("day"))?;
        Some(&day.text)
    }

    /// What the loader has against boats of which every row was read, beside the cells that were refused of others: a person
    /// mends all at once. Of a boat that lacks a row it might miss what is only not read.
    fn rest(
        &self,
        boats: &[Boat<'a>],
        remarks: &Remarks,
        vocabulary: &Vocabulary,
        refused: &mut Refused,
    ) {
        if remarks.lost {
            return;
        }
        let loader = Loader::new(vocabulary);
        let broken: BTreeSet<String> = remarks.broken.iter().map(|sail| plain(sail)).collect();
        for boat in boats.iter().filter(|boat| !broken.contains(boat.sail())) {
            let Written { text, marks } = boat.write(self.map, vocabulary);
            let made = Made {
                text,
                day: None,
                marks,
            };
            for fault in self.load(&made, &loader).err().into_iter().flatten() {
                refused.push(fault);
            }
        }
    }

    /// Puts rows of one boat and one day together.
    fn boats(
        &self,
        all: Vec<(Option<HoldingId>, RowData<'a>)>,
        refused: &mut Refused,
        remarks: &mut Remarks,
    ) -> Vec<Boat<'a>> {
        // Rows of a table without days belong to the one day that other tables have for the boat.
        let mut days: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for (_, row) in &all {
            let known = days.entry(plain(&row.sail.0)).or_default();
            if let Some((day, _)) = &row.day
                && !known.contains(day)
            {
                known.push(day.clone());
            }
        }
        let mut places: BTreeMap<(String, Option<String>), usize> = BTreeMap::new();
        let mut boats: Vec<Boat<'a>> = Vec::new();
        let mut clashes = Vec::new();
        for (rows, row) in all {
            let sail = plain(&row.sail.0);
            let known = days.get(&sail).map(Vec::as_slice).unwrap_or_default();
            let day = match (&row.day, known) {
                (Some((day, _)), _) => Some(day.clone()),
                // Its day, or another of its cells, is told already.
                (None, _) if !row.whole => None,
                (None, _) if self.lacks_day(&row, refused) => {
                    remarks.broken.push(sail);
                    continue;
                }
                (None, [only]) => Some(only.clone()),
                (None, []) => None,
                (None, several) => {
                    let several = several.join(", ");
                    self.refuse(row.sail.1, None, "table.day", &format!("{} was measured on {several}; this row does not say which day is meant", quoted(&sail)), "give the row its day, in a column that fills `measured.day`", refused);
                    remarks.broken.push(sail);
                    continue;
                }
            };
            let mark = row
                .day
                .as_ref()
                .map_or(Mark::Cell(row.sail.1), |(_, at)| Mark::Cell(*at));
            let key = (sail.clone(), day.clone());
            let at = *places.entry(key).or_insert_with(|| {
                boats.push(Boat::new((sail, row.sail.1), day.map(|day| (day, mark))));
                boats.len() - 1
            });
            if let Some(boat) = boats.get_mut(at) {
                let before = clashes.len();
                boat.add(row, rows, &mut clashes);
                if clashes.len() > before {
                    remarks.broken.push(boat.sail().to_owned());
                }
            }
        }
        for clash in clashes {
            self.refuse(
                clash.at,
                Some(clash.first),
                "table.twice",
                &clash.message,
                clash.help,
                refused,
            );
        }
        boats
    }

    /// Whether a row has no day though its table has a column for it, which is told at the empty cell. Without a day no
    /// rules can be chosen, and no fleet can use the record.
    fn lacks_day(&self, row: &RowData<'_>, refused: &mut Refused) -> bool {
        let columns = self.found.get(row.at.table).map(|found| &found.columns);
        let mut columns = columns.into_iter().flatten();
        let day = columns.find(|(_, column)| column.target == Target::Measured("day"));
        match day {
            Some((column, _)) if self.constant_day().is_none() => {
                let at = At {
                    column: *column,
                    ..row.at
                };
                let help = "write the day of measuring in each row, or `measured: { day: 2026-11-21 }` in the map if it is the same for all";
                self.refuse(
                    at,
                    None,
                    "table.day",
                    "this row has values and no day",
                    help,
                    refused,
                );
                true
            }
            _ => false,
        }
    }

    fn refuse(
        &self,
        at: At,
        first: Option<At>,
        code: &'static str,
        message: &str,
        help: &str,
        refused: &mut Refused,
    ) {
        let Some(found) = self.found.get(at.table) else {
            return;
        };
        let mut fault = Diagnostic::fault(
            code,
            format!("{}: {message}", found.named(at.row, at.column)),
        )
        .help(help);
        fault
            .labels
            .push(label(self.book, found.sheet, at.row, at.column, "here"));
        if let Some(first) = first
            && let Some(found) = self.found.get(first.table)
        {
            let words = format!("first in {}", found.named(first.row, 0));
            fault.labels.push(label(
                self.book,
                found.sheet,
                first.row,
                first.column,
                &words,
            ));
        }
        refused.push(fault);
    }

    /// What is to be known of what was read.
    fn told(&self, remarks: &Remarks) -> Vec<Diagnostic> {
        let mut notices = remarks.implausible.clone();
        let more = remarks.wondered.saturating_sub(notices.len());
        let without = self.made.iter().filter(|made| made.day.is_none()).count();
        if without > 0 {
            let message = match without {
                1 => "1 record has no day of measuring: no fleet can use it, and a check asks for the day".to_owned(),
                many => format!("{many} records have no day of measuring: no fleet can use them, and a check asks for the day"),
            };
            notices.push(Diagnostic::notice("table.day", message).help(
                "fill `measured.day` by a column, or write `measured: { day: 2026-11-21 }` in the map",
            ));
        }
        if more > 0 {
            let message = format!("{more} more implausible readings are not shown");
            notices.push(Diagnostic::notice("table.implausible", message));
        }
        if let Some(first) = &remarks.first_formula {
            let message = match remarks.formulas {
                1 => format!("1 cell holds a formula; its last computed value was taken: {first}"),
                many => format!(
                    "{many} cells hold formulas; their last computed values were taken, the first in {first}"
                ),
            };
            notices.push(Diagnostic::notice("table.formulas", message));
        }
        if !remarks.unused.is_empty() {
            let mut names: Vec<String> = remarks
                .unused
                .iter()
                .take(NAMED)
                .map(|(name, _)| name.clone())
                .collect();
            let more = remarks.unused.len().saturating_sub(NAMED);
            if more > 0 {
                names.push(format!("and {more} more"));
            }
            let cells: usize = remarks.unused.iter().map(|(_, count)| count).sum();
            let columns = if remarks.unused.len() == 1 {
                "column"
            } else {
                "columns"
            };
            let message = format!(
                "{cells} filled cells were left out, in {columns} that the map does not name: {}",
                names.join(", ")
            );
            notices.push(
                Diagnostic::notice("table.left_out", message)
                    .help("name a column under `left_out` in the map if it is meant to be"),
            );
        }
        notices
    }

    /// Loads a record that was made, as it would be loaded from its file.
    ///
    /// # Errors
    /// What the loader refuses, said of the cells.
    pub fn load(&self, made: &Made, loader: &Loader<'_>) -> Result<Record, Vec<Diagnostic>> {
        let source = Source::new(&self.book.name, made.text.as_str());
        let node = parse_json_line(&source, 0..made.text.len()).map_err(|problems| {
            self.all_of_cells(made, Diagnostic::from_problems(problems, &source))
        })?;
        if let Err(found) = head(&source, &node) {
            return Err(self.all_of_cells(made, found));
        }
        loader
            .load(&source, &node)
            .map_err(|found| self.all_of_cells(made, found))
    }

    fn all_of_cells(&self, made: &Made, found: Vec<Diagnostic>) -> Vec<Diagnostic> {
        found
            .into_iter()
            .map(|one| self.of_cell(made, one))
            .collect()
    }

    /// A message about a record as one about the cell, or the place in the map, that it came from.
    fn of_cell(&self, made: &Made, mut diagnostic: Diagnostic) -> Diagnostic {
        let labels = std::mem::take(&mut diagnostic.labels);
        for (at, old) in labels.into_iter().enumerate() {
            let start = usize::try_from(old.span.start).unwrap_or(0);
            let around = made
                .marks
                .iter()
                .filter(|(range, _)| range.contains(&start));
            let Some((_, mark)) = around.min_by_key(|(range, _)| range.len()) else {
                continue;
            };
            match mark {
                Mark::Map(span) => {
                    diagnostic = diagnostic.label(&self.map.source, *span, old.words)
                }
                Mark::Cell(cell) => {
                    let Some(found) = self.found.get(cell.table) else {
                        continue;
                    };
                    if at == 0 {
                        diagnostic.message = format!(
                            "{}: {}",
                            found.named(cell.row, cell.column),
                            diagnostic.message
                        );
                    }
                    diagnostic.labels.push(label(
                        self.book,
                        found.sheet,
                        cell.row,
                        cell.column,
                        &old.words,
                    ));
                }
            }
        }
        diagnostic.severity = Severity::Fault;
        diagnostic
    }

    /// Keeps faults of many records to a number that can be read.
    pub fn bounded(found: Vec<Diagnostic>) -> Vec<Diagnostic> {
        let mut refused = Refused::default();
        for one in found {
            refused.push(one);
        }
        refused.all()
    }
}
