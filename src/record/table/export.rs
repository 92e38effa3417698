//! Records back to a table, by the map that would read it; what the map does not cover is counted.

use std::collections::BTreeMap;

use super::cell::{guarded, is_nothing};
use super::model::{Column, TableMap, TableSpec};
use super::target::{Target, What, part_of};
use crate::diagnostic::Diagnostic;
use crate::record::model::{Item, Record};
use crate::record::sheet::{Value, letters};
use crate::text::quoted;
use crate::vocabulary::{HoldingId, Part, Vocabulary};

/// A table that was made of records.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// The table as CSV, with LF.
    pub text: String,
    /// Its rows below the headers.
    pub rows: usize,
    /// What the records say and the table does not, with how often: `runners.side_line`.
    pub left: Vec<(String, usize)>,
}

/// Makes the table of a map that has one, or the one of the sheet that is named.
///
/// # Errors
/// A map with several tables and none of them named, or no sheet of that name.
pub fn export(
    map: &TableMap,
    vocabulary: &Vocabulary,
    records: &[Record],
    sheet: Option<&str>,
) -> Result<Exported, Diagnostic> {
    let spec = chosen(map, sheet)?;
    let by = match map.parted_by {
        Some(by) => char::from(by),
        None if map.decimal_comma => ';',
        None => ',',
    };
    let order = order(spec);
    let mut writer = Writer {
        map,
        vocabulary,
        spec,
        left: BTreeMap::new(),
    };
    let mut text = String::new();
    // Headers may stand further down; the rows above them are the table's own.
    for _ in 1..spec.header_row {
        text.push('\n');
    }
    if spec.header_row > 0 {
        let headers: Vec<String> = order
            .iter()
            .enumerate()
            .map(|(at, column)| match column {
                Some(column) => column.header.clone().unwrap_or_else(|| column.path.clone()),
                None => u32::try_from(at + 1).map(letters).unwrap_or_default(),
            })
            .collect();
        line(&mut text, &headers, by);
    }
    let mut rows = 0;
    for record in records {
        let lines = writer.record(record, &order);
        for cells in lines {
            line(&mut text, &cells, by);
            rows += 1;
        }
    }
    Ok(Exported {
        text,
        rows,
        left: writer.left.into_iter().collect(),
    })
}

fn chosen<'m>(map: &'m TableMap, sheet: Option<&str>) -> Result<&'m TableSpec, Diagnostic> {
    let names = || {
        let names = map.tables.iter().filter_map(|table| table.sheet.as_ref());
        names
            .map(|(name, _)| quoted(name))
            .collect::<Vec<_>>()
            .join(", ")
    };
    match (map.tables.as_slice(), sheet) {
        ([only], None) => Ok(only),
        (tables, Some(name)) => {
            let named = |table: &&TableSpec| {
                table
                    .sheet
                    .as_ref()
                    .is_some_and(|(known, _)| super::columns::same_header(known, name))
            };
            tables.iter().find(named).ok_or_else(|| {
                let help = if names().is_empty() {
                    "leave --sheet out".to_owned()
                } else {
                    format!("it describes: {}", names())
                };
                Diagnostic::fault(
                    "usage.sheet",
                    format!("the map describes no sheet {}", quoted(name)),
                )
                .help(help)
            })
        }
        (_, None) => Err(Diagnostic::fault(
            "usage.sheet",
            "the map describes several sheets, and a CSV file is one table",
        )
        .help(format!("name one of them with --sheet: {}", names()))),
    }
}

/// The columns from A on; those that the map names by letter stand there, the others fill what is free.
fn order(spec: &TableSpec) -> Vec<Option<&Column>> {
    let mut order: Vec<Option<&Column>> = Vec::new();
    for column in &spec.columns {
        if let Some(at) = column
            .letter
            .and_then(|letter| usize::try_from(letter).ok()?.checked_sub(1))
        {
            if order.len() <= at {
                order.resize(at + 1, None);
            }
            if let Some(place) = order.get_mut(at) {
                *place = Some(column);
            }
        }
    }
    for column in spec.columns.iter().filter(|column| column.letter.is_none()) {
        match order.iter_mut().find(|place| place.is_none()) {
            Some(place) => *place = Some(column),
            None => order.push(Some(column)),
        }
    }
    order
}

fn line(text: &mut String, cells: &[String], by: char) {
    for (at, cell) in cells.iter().enumerate() {
        if at > 0 {
            text.push(by);
        }
        let open = cell.contains([by, '"', '\n', '\r']) || cell.trim() != cell;
        if open {
            text.push('"');
            text.push_str(&cell.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(cell);
        }
    }
    text.push('\n');
}

pub(super) struct Writer<'m> {
    pub(super) map: &'m TableMap,
    pub(super) vocabulary: &'m Vocabulary,
    pub(super) spec: &'m TableSpec,
    left: BTreeMap<String, usize>,
}

impl Writer<'_> {
    pub(super) fn left(&mut self, what: impl Into<String>, count: usize) {
        if count > 0 {
            *self.left.entry(what.into()).or_default() += count;
        }
    }

    /// The rows of a record: one, or one for each part.
    fn record(&mut self, record: &Record, order: &[Option<&Column>]) -> Vec<Vec<String>> {
        self.beside(record);
        let rows: Vec<Option<&Item>> = match self.spec.rows {
            None => vec![None],
            Some(holding) => record
                .items
                .iter()
                .filter(|item| item.holding == Some(holding))
                .map(Some)
                .collect(),
        };
        // A boat without such a part has no row of it, and what else its rows would say is left out.
        if rows.is_empty() {
            self.left("boats without such a part", 1);
        }
        let mut covered: Vec<(usize, String)> = Vec::new();
        let mut lines = Vec::new();
        for row in rows {
            let mut cells = Vec::new();
            for column in order {
                let text = column.and_then(|column| {
                    let text = self.cell(record, row, column, &mut covered)?;
                    Some(guarded(text, column))
                });
                cells.push(text.unwrap_or_default());
            }
            lines.push(cells);
        }
        self.uncovered(record, &covered);
        lines
    }

    /// What stands in a record and in no column.
    fn beside(&mut self, record: &Record) {
        let column = |key: &str| {
            self.spec.columns.iter().any(|one| matches!(one.target, Target::Measured(known) | Target::Boat(known) if known == key))
        };
        let constant = |key: &str, text: &str| {
            self.map.constants.iter().any(|one| {
                matches!(one.target, Target::Measured(known) if known == key) && one.text == text
            })
        };
        let session = &record.measured;
        let temperature = session
            .temperature
            .as_ref()
            .map(|(value, unit)| unit.from_base(value).to_string());
        let said = [
            (
                "measured.day",
                "day",
                session.day.map(|day| day.to_string()),
            ),
            ("measured.by", "by", session.by.clone()),
            ("measured.place", "place", session.place.clone()),
            ("measured.temperature", "temperature", temperature),
            ("boat.name", "name", record.boat_name.clone()),
            ("boat.owner", "owner", record.owner.clone()),
        ];
        let lost: Vec<&str> = said
            .iter()
            .filter(|(_, key, text)| {
                text.as_ref()
                    .is_some_and(|text| !column(key) && !constant(key, text))
            })
            .map(|(path, _, _)| *path)
            .collect();
        for path in lost {
            self.left(path, 1);
        }
        if self.map.instruments.is_none() {
            self.left("instruments", record.instruments.len());
        }
        self.left("notes", record.notes.len());
        self.left("unlisted parts", record.unlisted.len());
        for item in &record.items {
            self.left("work", item.work.len());
            self.left("notes", item.notes.len());
            let told = self.spec.columns.iter().any(|column| {
                matches!(&column.target, Target::Item { holding, id, what: What::Role(_) }
                    if *holding == item.holding && (id.is_none() || *id == item.id))
            });
            self.left(
                "groups of parts",
                usize::from(item.members.is_some() && !told),
            );
        }
    }

    /// Traits and measures that no cell told.
    fn uncovered(&mut self, record: &Record, covered: &[(usize, String)]) {
        for (at, item) in record.items.iter().enumerate() {
            let Some(part) = part_of(self.vocabulary, item.holding) else {
                continue;
            };
            let first = match item.holding.and_then(|id| self.vocabulary.holding(id)) {
                Some(holding) => holding.key.text.as_str(),
                None => "boat",
            };
            let traits = part
                .traits
                .iter()
                .zip(&item.traits)
                .filter(|(_, claim)| claim.is_some())
                .map(|(one, _)| &one.name.text);
            let measures = part
                .measures
                .iter()
                .zip(&item.measures)
                .filter(|(_, found)| found.is_some())
                .map(|(one, _)| &one.name.text);
            let lost: Vec<String> = traits
                .chain(measures)
                .filter(|name| {
                    !covered
                        .iter()
                        .any(|(known, text)| *known == at && text == *name)
                })
                .map(|name| format!("{first}.{name}"))
                .collect();
            for name in lost {
                self.left(name, 1);
            }
        }
    }

    /// The text of one cell, which the import would read as the same.
    fn cell(
        &mut self,
        record: &Record,
        row: Option<&Item>,
        column: &Column,
        covered: &mut Vec<(usize, String)>,
    ) -> Option<String> {
        let text = match &column.target {
            Target::SailNumber => Some(record.sail_number.clone()),
            Target::Boat("name") => record.boat_name.clone(),
            Target::Boat(_) => record.owner.clone(),
            Target::Measured("day") => record.measured.day.map(|day| day.to_string()),
            Target::Measured("by") => record.measured.by.clone(),
            Target::Measured("place") => record.measured.place.clone(),
            Target::Measured(_) => {
                let (value, unit) = record.measured.temperature.as_ref()?;
                let number = unit.from_base(value).to_string();
                Some(self.number(&number, *unit, column))
            }
            Target::Item { holding, id, what } => {
                let at = self.item(record, row, *holding, id.as_deref())?;
                let item = record.items.get(at)?;
                let part = part_of(self.vocabulary, *holding)?;
                return self.of_item(record, (at, item), part, *what, column, covered);
            }
        }?;
        self.kept(text, column)
    }

    fn item(
        &self,
        record: &Record,
        row: Option<&Item>,
        holding: Option<HoldingId>,
        id: Option<&str>,
    ) -> Option<usize> {
        if holding.is_some() && holding == self.spec.rows && id.is_none() {
            let row = row?;
            return record.items.iter().position(|item| std::ptr::eq(item, row));
        }
        record
            .items
            .iter()
            .position(|item| item.holding == holding && (id.is_none() || item.id.as_deref() == id))
    }

    /// A text, unless the import would take it for nothing measured.
    fn kept(&mut self, text: String, column: &Column) -> Option<String> {
        if is_nothing(&Value::Text(guarded(text.clone(), column)), self.map) {
            self.left(column.path.clone(), 1);
            return None;
        }
        Some(text)
    }

    fn of_item(
        &mut self,
        record: &Record,
        (at, item): (usize, &Item),
        part: &Part,
        what: What,
        column: &Column,
        covered: &mut Vec<(usize, String)>,
    ) -> Option<String> {
        match what {
            What::Id => item.id.clone(),
            What::Role(role) => self.role(record, at, role),
            What::Inside(id, _) => {
                let measure = part.measures.get(id.index())?;
                let measured = item.measures.get(id.index())?.as_ref()?;
                let name = (at, measure.name.text.clone());
                if !covered.contains(&name) {
                    covered.push(name);
                    self.rest(record, measured, column);
                    self.rest_inside(measured, measure, column);
                }
                let text = self.inside(measured, measure, column)?;
                self.kept(text, column)
            }
            What::Trait(id, detail) => {
                let declared = part.traits.get(id.index())?;
                let claim = item.traits.get(id.index())?.as_ref()?;
                let name = (at, declared.name.text.clone());
                if detail.is_empty() && !covered.contains(&name) {
                    covered.push(name);
                    self.proof(claim, column);
                }
                let text = self.claim(claim, &declared.kind, detail, column)?;
                self.kept(text, column)
            }
            What::Measure(id, detail) => {
                let measure = part.measures.get(id.index())?;
                let measured = item.measures.get(id.index())?.as_ref()?;
                let name = (at, measure.name.text.clone());
                if detail.is_empty() && !covered.contains(&name) {
                    covered.push(name);
                    self.rest(record, measured, column);
                }
                let text = self.measured(record, measured, detail, column)?;
                self.kept(text, column)
            }
        }
    }
}
