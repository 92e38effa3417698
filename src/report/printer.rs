//! One printer for all formats, fed record by record, so that a fleet prints in flat memory.

use crate::diagnostic::Diagnostic;
use crate::rules::Stage;

use super::checked::{Checked, Counts};
use super::{human, json, junit, plain};

/// How a report is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// For a person at a terminal.
    Human,
    /// In sentences, for screen readers and logs.
    Plain,
    /// `rimegauge-report/1`.
    Json,
    /// Test results in XML, for build servers.
    Junit,
}

/// What is printed, and how wide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// The format.
    pub format: Format,
    /// Columns of the terminal.
    pub width: usize,
    /// Whether colour may be used.
    pub colour: bool,
    /// Whether what conforms and what does not apply is listed too.
    pub all: bool,
    /// Whether each finding is drawn with the lines of record and rules.
    pub details: bool,
    /// Whether there may be many records: each is then kept short, and totals stand at the end.
    pub many: bool,
}

/// Prints a report piece by piece: [`Printer::begin`], each record, [`Printer::finish`].
#[derive(Debug)]
pub struct Printer {
    options: Options,
    purpose: Stage,
    begun: bool,
    records: Counts,
    not_read: usize,
    refused: Vec<Diagnostic>,
    cautions: Vec<crate::rules::Caution>,
    last_rules: Option<String>,
    last_was_block: bool,
}

impl Printer {
    /// A printer for a purpose.
    pub fn new(options: Options, purpose: Stage) -> Printer {
        Printer {
            options,
            purpose,
            begun: false,
            records: Counts::default(),
            not_read: 0,
            refused: Vec::new(),
            cautions: Vec::new(),
            last_rules: None,
            last_was_block: false,
        }
    }

    /// A record.
    pub fn record(&mut self, checked: &Checked) -> String {
        let first = !std::mem::replace(&mut self.begun, true);
        self.records.add(checked.verdict.outcome);
        for caution in &checked.rules.cautions {
            if !self.cautions.contains(caution) {
                self.cautions.push(*caution);
            }
        }
        match self.options.format {
            Format::Human => {
                let heading = human::rules_line(checked);
                let new_rules = self.last_rules.as_deref() != Some(heading.as_str());
                self.last_rules = Some(heading);
                let (text, is_block) = human::record(checked, &self.options, new_rules);
                let parted = !first && (is_block || self.last_was_block || new_rules);
                self.last_was_block = is_block;
                if parted { format!("\n{text}") } else { text }
            }
            Format::Plain => plain::record(checked, &self.options),
            Format::Json => format!("{}{}", json::before_record(self.purpose, first), json::record(checked)),
            Format::Junit => format!("{}{}", if first { junit::BEGIN } else { "" }, junit::record(checked)),
        }
    }

    /// Input that could not be used. Formats for programs carry it to the end of the report; for people it
    /// is printed apart, see [`super::problems`].
    pub fn refused(&mut self, diagnostics: &[Diagnostic], records: usize) {
        self.not_read += records;
        match self.options.format {
            Format::Human | Format::Plain => {}
            Format::Json | Format::Junit => self.refused.extend_from_slice(diagnostics),
        }
    }

    /// The end: totals and cautions.
    pub fn finish(&mut self) -> String {
        match self.options.format {
            Format::Human if self.begun => {
                human::end(&self.options, self.records, self.not_read, &self.cautions)
            }
            Format::Plain if self.begun => plain::end(&self.options, self.records, self.not_read, &self.cautions),
            Format::Human | Format::Plain => String::new(),
            Format::Json => json::end(self.begun, &self.refused),
            Format::Junit => {
                let before = if self.begun { "" } else { junit::BEGIN };
                format!("{before}{}", junit::end(&self.refused))
            }
        }
    }
}
