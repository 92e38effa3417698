//! One printer for all formats, fed record by record, so that a fleet prints in flat memory.
//!
//! A record is set in its format by [`Options::piece`], which depends on nothing else and can run on any
//! thread; [`Printer`] puts the pieces together in their order.

use crate::check::Outcome;
use crate::diagnostic::Diagnostic;
use crate::rules::{Caution, Stage};

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

/// A record set in its format.
#[derive(Clone, Debug)]
pub struct Piece {
    /// The record.
    body: String,
    /// What its rules are called, for people; said again only when it changes.
    rules: String,
    /// Whether it has several lines.
    block: bool,
    outcome: Outcome,
    cautions: Vec<Caution>,
}

impl Options {
    /// Whether of a record of many in which all conforms only the counts are printed.
    pub fn leaves_out_what_conforms(&self) -> bool {
        match self.format {
            Format::Human | Format::Plain => !self.all,
            Format::Json | Format::Junit => false,
        }
    }

    /// Sets a record in its format.
    pub fn piece(&self, checked: &Checked) -> Piece {
        let mut rules = String::new();
        let mut block = true;
        let body = match self.format {
            Format::Human => {
                if self.many {
                    rules = human::rules_heading(checked, self);
                }
                let (body, is_block) = human::record(checked, self);
                block = is_block;
                body
            }
            Format::Plain => plain::record(checked, self),
            Format::Json => json::record(checked),
            Format::Junit => junit::record(checked),
        };
        Piece {
            body,
            rules,
            block,
            outcome: checked.verdict.outcome,
            cautions: checked.rules.cautions.clone(),
        }
    }
}

/// Refused inputs that a report for programs carries; what is beyond is counted only.
const MOST_REFUSED: usize = 1000;

/// Puts a report together: each record, then [`Printer::finish`].
#[derive(Debug)]
pub struct Printer {
    options: Options,
    purpose: Stage,
    begun: bool,
    records: Counts,
    not_read: usize,
    refused: Vec<String>,
    cautions: Vec<Caution>,
    last_rules: String,
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
            last_rules: String::new(),
            last_was_block: false,
        }
    }

    /// A record, with what stands between it and the one before.
    pub fn record(&mut self, piece: Piece) -> String {
        let first = !std::mem::replace(&mut self.begun, true);
        self.records.add(piece.outcome);
        for caution in piece.cautions {
            if !self.cautions.contains(&caution) {
                self.cautions.push(caution);
            }
        }
        let before = match self.options.format {
            Format::Human => {
                let new_rules = self.last_rules != piece.rules;
                let parted = !first && (piece.block || self.last_was_block || new_rules);
                self.last_was_block = piece.block;
                let mut before = if parted {
                    "\n".to_owned()
                } else {
                    String::new()
                };
                if new_rules {
                    before.push_str(&piece.rules);
                    before.push('\n');
                    self.last_rules = piece.rules;
                }
                before
            }
            Format::Plain => String::new(),
            Format::Json => json::before_record(self.purpose, first),
            Format::Junit => if first { junit::BEGIN } else { "" }.to_owned(),
        };
        before + &piece.body
    }

    /// Input that is wrong, and whether a record could not be used for it. Formats for programs carry it to the end of the report; for people
    /// it is printed apart, see [`super::problems`].
    pub fn refused(&mut self, diagnostics: &[Diagnostic], lost: bool) {
        self.not_read += usize::from(lost);
        if self.refused.len() >= MOST_REFUSED {
            return;
        }
        match self.options.format {
            Format::Human | Format::Plain => {}
            Format::Json => self.refused.extend(json::problems(diagnostics)),
            Format::Junit => self.refused.extend(diagnostics.iter().map(junit::problem)),
        }
    }

    /// The end: totals and cautions, or what could not be used.
    pub fn finish(&self) -> String {
        match self.options.format {
            Format::Human if self.begun => {
                human::end(&self.options, self.records, self.not_read, &self.cautions)
            }
            Format::Plain if self.begun => {
                plain::end(&self.options, self.records, self.not_read, &self.cautions)
            }
            Format::Human | Format::Plain => String::new(),
            Format::Json => json::end(self.begun, &self.refused),
            Format::Junit => {
                let before = if self.begun { "" } else { junit::BEGIN };
                format!("{before}{}", junit::end(&self.refused))
            }
        }
    }
}
