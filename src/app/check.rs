//! Checking records, one or a fleet: read, find the rules, check, hand on.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use jiff::civil::Date;

use crate::check::Outcome;
use crate::diagnostic::Diagnostic;
use crate::report::Checked;
use crate::rules::Stage;
use crate::text::{Source, quoted};

use super::boats::{Boats, Sighting};
use super::exit::{Exit, Trouble};
use super::host::Host;
use super::input::{self, Input};
use super::library::Shelves;
use super::overlay::Laid;
use super::reading::Run;
use super::shelf::Benches;

/// What is to be checked, and for what.
#[derive(Clone, Debug)]
pub struct CheckRequest {
    /// Files, folders, `-` for standard input.
    pub records: Vec<PathBuf>,
    /// A reference or a path to rules, in place of those of the record's class.
    pub rules: Option<String>,
    /// The purpose.
    pub purpose: Stage,
    /// The day, in place of the day of measuring.
    pub on: Option<Date>,
    /// The level of the event.
    pub level: Option<String>,
    /// What the event changes of the rules.
    pub overlay: Option<PathBuf>,
    /// Whether nothing but the outcomes is wanted of a record in which all conforms without a remark.
    pub brief: bool,
    /// The rules whose uncertainty budgets are wanted, by id or clause; an empty list stands for all that are
    /// shown.
    pub budgets: Option<Vec<String>>,
}

impl CheckRequest {
    /// Whether more than one record may come of it.
    pub fn may_be_many(&self, host: &dyn Host) -> bool {
        let many = |path: &PathBuf| match input::of(host, path) {
            Ok(inputs) => inputs.len() != 1 || inputs.iter().any(Input::may_be_many),
            Err(_) => false,
        };
        self.records.len() != 1 || self.records.iter().any(many)
    }
}

/// What comes of the inputs, in their order.
#[derive(Debug)]
pub enum Found<P> {
    /// A record was checked.
    Checked {
        /// What the reader made of it.
        piece: P,
        /// Its outcome.
        outcome: Outcome,
    },
    /// A record, or a whole input, that can't be used.
    Refused(Trouble),
    /// Something is wrong between records that can be used, each by itself.
    Fault(Trouble),
    /// Something to know; it changes no outcome.
    Notice(Diagnostic),
}

/// Makes of a checked record what is wanted of it. Called on several threads, in no certain order.
pub type Reader<'r, P> = &'r (dyn Fn(&Checked) -> P + Sync);

/// Checks all records and hands each result to `take`, in the order of the inputs. Records of a file of
/// many are checked on several threads, and no more of the file is held in memory than a piece.
///
/// Gives the worst of all that was found. `take` can break off; what was not read then counts as
/// [`Exit::CouldNot`].
pub fn check<P: Send>(
    host: &dyn Host,
    shelves: &Shelves,
    request: &CheckRequest,
    read: Reader<'_, P>,
    take: &mut dyn FnMut(Found<P>) -> ControlFlow<()>,
) -> Exit {
    let rules = request.rules.as_deref();
    let laid = request.overlay.as_deref();
    let laid = match laid.map(|path| Laid::read(host, shelves, path, rules)) {
        None => None,
        Some(Ok(laid)) => Some(laid),
        // Without it no record can be checked as it was asked.
        Some(Err(trouble)) => {
            let exit = trouble.exit;
            let _ = take(Found::Fault(trouble));
            return exit;
        }
    };
    for notice in laid.iter().flat_map(|laid| &laid.notices) {
        if take(Found::Notice(notice.clone())).is_break() {
            return Exit::CouldNot;
        }
    }
    let benches = Benches::new(host, shelves, rules, request.level.as_deref(), laid);
    let run = Run {
        host,
        request,
        benches,
        read,
        usual: OnceLock::new(),
    };
    let mut taker = Taker {
        take,
        boats: Boats::default(),
        exit: Exit::Done,
        records: 0,
        passed_over: Vec::new(),
    };
    for path in &request.records {
        let inputs = match input::of(host, path) {
            Ok(inputs) => inputs,
            Err(trouble) => {
                if taker.refuse(trouble).is_break() {
                    return Exit::CouldNot;
                }
                continue;
            }
        };
        let before = taker.records;
        for input in &inputs {
            if run.input(input, &mut taker).is_break() {
                return Exit::CouldNot;
            }
        }
        if let Some(notice) = passed_over(path, std::mem::take(&mut taker.passed_over))
            && (taker.take)(Found::Notice(notice)).is_break()
        {
            return Exit::CouldNot;
        }
        if taker.records == before && taker.refuse(Trouble::one(nothing_in(path))).is_break() {
            return Exit::CouldNot;
        }
    }
    taker.exit
}

/// A record read and checked, or why not.
pub(super) type Step<P> = Result<Done<P>, Trouble>;

pub(super) struct Done<P> {
    pub(super) piece: P,
    pub(super) outcome: Outcome,
    pub(super) boat: Sighting,
    pub(super) source: Arc<Source>,
    /// Where its sail number stands.
    pub(super) span: crate::text::Span,
}

pub(super) struct Taker<'t, P> {
    take: &'t mut dyn FnMut(Found<P>) -> ControlFlow<()>,
    boats: Boats,
    exit: Exit,
    /// Records met, those that can't be used among them.
    records: usize,
    /// Files of a folder that are of another format.
    pub(super) passed_over: Vec<String>,
}

impl<P> Taker<'_, P> {
    pub(super) fn step(&mut self, step: Step<P>) -> ControlFlow<()> {
        self.records += 1;
        let done = match step {
            Ok(done) => done,
            Err(trouble) => return self.refuse(trouble),
        };
        self.exit = self.exit.worst(Exit::of(done.outcome));
        (self.take)(Found::Checked {
            piece: done.piece,
            outcome: done.outcome,
        })?;
        match self.boats.meet(&done.boat, done.source.name()) {
            None => ControlFlow::Continue(()),
            Some(first) => {
                let number = quoted(done.source.slice(done.span).trim_matches('"'));
                let twice =
                    Diagnostic::fault("record.sail_number_twice", format!("two records have the sail number {number}"))
                        .label(&done.source, done.span, format!("first at {first}"))
                        .help("give each boat its own number; a boat that was measured again has its name and the other day in both records");
                let trouble = Trouble::one(twice);
                self.exit = self.exit.worst(trouble.exit);
                (self.take)(Found::Fault(trouble))
            }
        }
    }

    fn refuse(&mut self, trouble: Trouble) -> ControlFlow<()> {
        self.exit = self.exit.worst(trouble.exit);
        (self.take)(Found::Refused(trouble))
    }
}

/// A notice about the files of a folder that are no records.
fn passed_over(path: &Path, files: Vec<String>) -> Option<Diagnostic> {
    const NAMED: usize = 3;
    let more = files.len().saturating_sub(NAMED);
    let named: Vec<String> = files.iter().take(NAMED).cloned().collect();
    let named = named.join(", ");
    let message = match (files.len(), more) {
        (0, _) => return None,
        (1, _) => format!(
            "1 file in {} is no record and was passed over: {named}",
            shown(path)
        ),
        (count, 0) => format!(
            "{count} files in {} are no records and were passed over: {named}",
            shown(path)
        ),
        (count, more) => {
            format!(
                "{count} files in {} are no records and were passed over: {named} and {more} more",
                shown(path)
            )
        }
    };
    Some(Diagnostic::notice("input.passed_over", message))
}

fn nothing_in(path: &Path) -> Diagnostic {
    let help = if path.as_os_str() == "-" {
        "send a record in YAML, or records in JSON, one a line"
    } else {
        "a record is a file that ends in .yaml, .yml or .json, or a line of a .jsonl file"
    };
    Diagnostic::fault(
        "input.nothing",
        format!("there is no record in {}", shown(path)),
    )
    .help(help)
}

fn shown(path: &Path) -> String {
    if path.as_os_str() == "-" {
        "standard input".to_owned()
    } else {
        path.display().to_string()
    }
}
