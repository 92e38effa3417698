//! A table of readings: columns of quantities, with the unit in the header.

use std::path::Path;
use std::sync::Arc;

use crate::app::{Host, Trouble};
use crate::diagnostic::{Diagnostic, near_misses};
use crate::quantity::show::with_unit;
use crate::quantity::{Dimension, Exact, Quantity, Unit};
use crate::text::limits::TABLE_BYTES;
use crate::text::{Cell, Source, Table, decode_lines, parse_table, quoted};

use super::given::problem;

/// A table with the text it was read from.
pub(super) struct Readings {
    /// The text.
    pub source: Arc<Source>,
    table: Table,
}

/// One column.
#[derive(Debug)]
pub(super) struct Column {
    /// Its unit.
    pub unit: Unit,
    /// What stands in it.
    pub quantities: Vec<Quantity>,
}

impl Column {
    /// The finest step of a last digit: what its instrument shows, where somebody wrote 0 for 0.000 as well.
    pub fn step(&self) -> Exact {
        let steps = self.quantities.iter().map(|one| &one.resolution);
        steps.min().cloned().unwrap_or(Exact::ZERO)
    }

    /// The values, base units.
    pub fn values(&self) -> impl Iterator<Item = &Exact> {
        self.quantities.iter().map(|one| &one.value)
    }
}

/// The name and the unit of a header such as `x [mm]`.
fn header(cell: &Cell) -> (&str, Option<&str>) {
    match cell.text.split_once('[') {
        Some((name, unit)) => (name.trim(), unit.trim().strip_suffix(']').map(str::trim)),
        None => (cell.text.trim(), None),
    }
}

impl Readings {
    /// Reads a file.
    pub fn open(host: &dyn Host, path: &Path) -> Result<Readings, Trouble> {
        let bytes = host.read(path, TABLE_BYTES)?;
        let name = path.display().to_string();
        let source = decode_lines(&name, &bytes, 1)
            .map_err(|found| Trouble::one(Diagnostic::undecoded(found, &name)))?;
        let table = parse_table(source.text())
            .map_err(|found| Trouble::input(Diagnostic::from_problems(found, &source)))?;
        Ok(Readings { source, table })
    }

    /// Whether there is a column of this name.
    pub fn has(&self, name: &str) -> bool {
        self.table.header.iter().any(|cell| header(cell).0 == name)
    }

    /// How many rows there are.
    pub fn rows(&self) -> usize {
        self.table.rows.len()
    }

    /// Columns of other names than those that are read.
    pub fn unknown(&self, known: &[&str]) -> Vec<Diagnostic> {
        let unknown = self
            .table
            .header
            .iter()
            .filter(|cell| !known.contains(&header(cell).0));
        unknown
            .map(|cell| {
                let name = header(cell).0;
                let help = match near_misses(name, known.iter().copied()) {
                    Some(near) => format!("did you mean {}?", quoted(near)),
                    None => format!("the columns are {}", known.join(", ")),
                };
                Diagnostic::fault(
                    "table.column",
                    format!("there is no column {} to read", quoted(name)),
                )
                .label(&self.source, cell.span, "")
                .help(help)
            })
            .collect()
    }

    fn place(&self, name: &str) -> Result<(usize, &Cell), Diagnostic> {
        let mut found = self
            .table
            .header
            .iter()
            .enumerate()
            .filter(|(_, cell)| header(cell).0 == name);
        let first = found.next();
        if let (Some(_), Some((_, twin))) = (&first, found.next()) {
            let fault = Diagnostic::fault(
                "table.column",
                format!("two columns are called {}", quoted(name)),
            );
            return Err(fault.label(&self.source, twin.span, "again"));
        }
        first.ok_or_else(|| {
            let fault = Diagnostic::fault(
                "table.column",
                format!("the table has no column {}", quoted(name)),
            );
            let fault = match self.table.header.first().zip(self.table.header.last()) {
                Some((first, last)) => {
                    fault.label(&self.source, first.span.join(last.span), "the header")
                }
                None => fault,
            };
            fault.help(format!(
                "name the columns with their units, for example `{name} [mm]`"
            ))
        })
    }

    /// The words of a column.
    pub fn words(&self, name: &str) -> Result<Vec<&Cell>, Trouble> {
        let (at, _) = self.place(name).map_err(Trouble::one)?;
        let cells: Vec<&Cell> = self
            .table
            .rows
            .iter()
            .filter_map(|row| row.get(at))
            .collect();
        let empty = cells.iter().filter(|cell| cell.text.is_empty());
        let faults: Vec<Diagnostic> = empty
            .map(|cell| {
                Diagnostic::fault(
                    "table.cell",
                    format!("a row has nothing under {}", quoted(name)),
                )
                .label(&self.source, cell.span, "empty")
            })
            .collect();
        if faults.is_empty() {
            Ok(cells)
        } else {
            Err(Trouble::input(faults))
        }
    }

    /// The quantities of a column, in the unit of its header.
    pub fn column(&self, name: &str, dimension: Option<Dimension>) -> Result<Column, Trouble> {
        let (at, cell) = self.place(name).map_err(Trouble::one)?;
        let unit = self.unit(cell, dimension).map_err(Trouble::one)?;
        let mut quantities = Vec::with_capacity(self.table.rows.len());
        let mut faults = Vec::new();
        for cell in self.table.rows.iter().filter_map(|row| row.get(at)) {
            match self.quantity(cell, unit, name) {
                Ok(quantity) => quantities.push(quantity),
                Err(fault) if faults.len() < crate::text::limits::PROBLEMS => faults.push(fault),
                Err(_) => break,
            }
        }
        if faults.is_empty() {
            Ok(Column { unit, quantities })
        } else {
            Err(Trouble::input(faults))
        }
    }

    /// Rows that say the same under a column as a row before.
    pub fn repeated(&self, name: &str, column: &Column) -> Vec<Diagnostic> {
        let Ok((at, _)) = self.place(name) else {
            return Vec::new();
        };
        let cells = self.table.rows.iter().filter_map(|row| row.get(at));
        let mut seen: std::collections::BTreeMap<&Exact, &Cell> = std::collections::BTreeMap::new();
        let mut found = Vec::new();
        for (value, cell) in column.values().zip(cells) {
            match seen.get(value) {
                Some(first) => {
                    let message = format!("two rows are at {}", with_unit(&cell.text, column.unit));
                    found.push(
                        Diagnostic::fault("table.repeated", message)
                            .label(&self.source, cell.span, "again")
                            .label(&self.source, first.span, "here first")
                            .help("each place once; repeats of one place belong into their mean"),
                    );
                }
                None => {
                    seen.insert(value, cell);
                }
            }
        }
        found.truncate(crate::text::limits::PROBLEMS);
        found
    }

    fn unit(&self, cell: &Cell, dimension: Option<Dimension>) -> Result<Unit, Diagnostic> {
        let (name, symbol) = header(cell);
        let fault = |message: String, help: String| {
            Diagnostic::fault("table.unit", message)
                .label(&self.source, cell.span, "")
                .help(help)
        };
        let usual = dimension
            .and_then(|dimension| dimension.likely_units().first().copied())
            .map_or("mm", Unit::symbol);
        let Some(symbol) = symbol else {
            return Err(fault(
                format!("the column {} has no unit", quoted(name)),
                format!("write `{name} [{usual}]`"),
            ));
        };
        let Some(unit) = Unit::from_symbol(symbol) else {
            return Err(fault(
                format!("{} is no unit", quoted(symbol)),
                format!("write `{name} [{usual}]`"),
            ));
        };
        match dimension {
            Some(dimension) if unit.dimension() != dimension => Err(fault(
                format!(
                    "the column {} is {}; {} is asked",
                    quoted(name),
                    unit.dimension().in_words(),
                    dimension.in_words()
                ),
                format!("write `{name} [{usual}]`"),
            )),
            _ => Ok(unit),
        }
    }

    fn quantity(&self, cell: &Cell, unit: Unit, name: &str) -> Result<Quantity, Diagnostic> {
        if cell.text.is_empty() {
            let fault = Diagnostic::fault(
                "table.cell",
                format!("a row has nothing under {}", quoted(name)),
            );
            return Err(fault.label(&self.source, cell.span, "empty"));
        }
        let has_unit = cell
            .text
            .chars()
            .any(|c| c.is_alphabetic() && c != 'e' && c != 'E');
        if has_unit && Quantity::parse(&cell.text).is_ok() {
            let fault = Diagnostic::fault(
                "table.cell",
                format!(
                    "{} carries a unit of its own under {} in {}",
                    quoted(&cell.text),
                    quoted(name),
                    quoted(unit.symbol())
                ),
            );
            return Err(fault
                .label(&self.source, cell.span, "two units in one column")
                .help("the header's unit holds for the whole column: write the number alone"));
        }
        let text = with_unit(&cell.text, unit);
        Quantity::parse_as(&text, unit.dimension()).map_err(|mut found| {
            // The unit is the header's.
            found.range.end = found.range.end.min(cell.text.len());
            found.range.start = found.range.start.min(found.range.end);
            problem(found, &self.source, cell.span.start as usize)
        })
    }
}
