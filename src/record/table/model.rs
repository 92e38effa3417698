//! What a map says: `rimegauge-map/1` as typed data.

use std::sync::Arc;

use super::target::{Target, Wants};
use crate::quantity::{Exact, Unit};
use crate::record::values::Allowed;
use crate::text::{Source, Span};
use crate::vocabulary::HoldingId;

/// A map: which column of which sheet fills what.
#[derive(Clone, Debug)]
pub struct TableMap {
    /// The text it was read from.
    pub source: Arc<Source>,
    /// The class of the records.
    pub class: String,
    /// Whether numbers in texts have a comma where others have a point.
    pub decimal_comma: bool,
    /// How days in texts are written.
    pub dates: DateOrder,
    /// Words that stand for nothing measured, beside an empty cell.
    pub not_measured: Vec<String>,
    /// Words of the table with what they mean.
    pub words: Vec<(String, String)>,
    /// What parts the cells of a CSV file, where it is told.
    pub parted_by: Option<u8>,
    /// What is the same for all records: `measured.day`, `measured.by`, with the place in the map.
    pub constants: Vec<Constant>,
    /// Instruments that every record gets, as JSON, with the place in the map.
    pub instruments: Option<(String, Span)>,
    /// The tables, one at least.
    pub tables: Vec<TableSpec>,
}

/// Something that is the same for all records.
#[derive(Clone, Debug)]
pub struct Constant {
    /// What it fills.
    pub target: Target,
    /// As it is written in a record.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// One table: a sheet, or the whole of a CSV file.
#[derive(Clone, Debug)]
pub struct TableSpec {
    /// The name of the sheet; without one the only sheet.
    pub sheet: Option<(String, Span)>,
    /// The row of the headers, from 1; 0 for none, so that columns are named by letter.
    pub header_row: u32,
    /// The parts of which each row is one; without it a row is a boat.
    pub rows: Option<HoldingId>,
    /// Whether a merged cell stands for all the cells it covers.
    pub merged_fill: bool,
    /// The columns that are used.
    pub columns: Vec<Column>,
    /// Headers of columns that are left out on purpose.
    pub left_out: Vec<(String, Span)>,
    /// Where the table is described.
    pub span: Span,
}

/// A column and what it fills.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its header as the map has it.
    pub header: Option<String>,
    /// Its column, 1 for A, where the map names it by its letter.
    pub letter: Option<u32>,
    /// Where it is named.
    pub span: Span,
    /// What it fills.
    pub target: Target,
    /// The same in words: `runners.steel_thickness`.
    pub path: String,
    /// What kind of value is wanted.
    pub wants: Wants,
    /// The unit of bare numbers.
    pub unit: Option<Unit>,
    /// Decimals of bare numbers, which spreadsheets lose when the last ones are zeros.
    pub decimals: Option<u8>,
    /// Words of this column with what they mean, before those of the map.
    pub words: Vec<(String, String)>,
    /// Where its readings can lie, for those of a quantity.
    pub(in crate::record) lies: Option<Lies>,
    /// What the map says of every reading of this column.
    pub details: Vec<(&'static str, String, Span)>,
}

impl Column {
    /// The text of a detail: `at`, `face`, `with`.
    pub fn detail(&self, key: &str) -> Option<&str> {
        let mut details = self.details.iter();
        let found = details.find(|(known, _, _)| *known == key)?;
        Some(&found.1)
    }
}

/// Where readings of a measure can lie, and where they are expected.
#[derive(Clone, Debug)]
pub(in crate::record) struct Lies {
    pub allowed: Allowed,
    pub plausible: Option<(Exact, Exact)>,
    /// The unit in which that was written.
    pub unit: Option<Unit>,
}

/// How days are written in texts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// `2026-11-21` alone.
    YearMonthDay,
    /// `21.11.2026`, `21/11/2026`.
    DayMonthYear,
    /// `11/21/2026`.
    MonthDayYear,
}

impl DateOrder {
    /// Every order with its word.
    pub const WORDS: [(&'static str, DateOrder); 3] = [
        ("year_month_day", DateOrder::YearMonthDay),
        ("day_month_year", DateOrder::DayMonthYear),
        ("month_day_year", DateOrder::MonthDayYear),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            DateOrder::YearMonthDay => "year_month_day",
            DateOrder::DayMonthYear => "day_month_year",
            DateOrder::MonthDayYear => "month_day_year",
        }
    }
}
