//! Checking records, one or a fleet: read, find the rules, check, hand on.

use std::ops::{ControlFlow, Range};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;
use rayon::prelude::*;

use crate::check::{Context, Detail, Outcome};
use crate::diagnostic::Diagnostic;
use crate::record::{self, Head, Loader};
use crate::report::Checked;
use crate::rules::{Stage, digest};
use crate::text::limits::{DOCUMENT_BYTES, LINE_BYTES};
use crate::text::{Node, Source, decode, decode_lines, parse_json_line, parse_yaml, quoted};

use super::boats::{Boats, Sighting};
use super::exit::{Exit, Trouble};
use super::host::{Doing, Host, HostProblem, Why};
use super::input::{self, Input};
use super::lines::{Piece, Pieces};
use super::shelf::{Bench, Benches};
use super::library::Shelves;

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
    /// Input that can't be used.
    Refused(Trouble),
    /// Something to know; it changes no outcome.
    Notice(Diagnostic),
}

/// Makes of a checked record what is wanted of it. Called on several threads, in no certain order.
pub type Reader<'r, P> = &'r (dyn Fn(&Checked) -> P + Sync);

/// Lines from which on two threads share them.
const WORTH_SHARING: usize = 16;

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
    let benches = Benches::new(host, shelves, request.rules.as_deref(), request.level.as_deref());
    let run = Run { host, request, benches, read };
    let mut taker = Taker { take, boats: Boats::default(), exit: Exit::Done, records: 0 };
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
        if taker.records == before {
            let nothing = Diagnostic::fault("input.nothing", format!("there is no record in {}", shown(path)))
                .help("a record is a file that ends in .yaml or .yml, a line of a .jsonl file, or a .json file");
            if taker.refuse(Trouble::one(nothing)).is_break() {
                return Exit::CouldNot;
            }
        }
    }
    taker.exit
}

/// A record read and checked, or why not.
type Step<P> = Result<Done<P>, Trouble>;

struct Done<P> {
    piece: P,
    outcome: Outcome,
    boat: Sighting,
    source: Arc<Source>,
    span: crate::text::Span,
}

struct Taker<'t, P> {
    take: &'t mut dyn FnMut(Found<P>) -> ControlFlow<()>,
    boats: Boats,
    exit: Exit,
    /// Records met, those that can't be used among them.
    records: usize,
}

impl<P> Taker<'_, P> {
    fn step(&mut self, step: Step<P>) -> ControlFlow<()> {
        self.records += 1;
        let done = match step {
            Ok(done) => done,
            Err(trouble) => return self.refuse(trouble),
        };
        self.exit = self.exit.worst(Exit::of(done.outcome));
        (self.take)(Found::Checked { piece: done.piece, outcome: done.outcome })?;
        match self.boats.meet(&done.boat, done.source.name()) {
            None => ControlFlow::Continue(()),
            Some(first) => {
                let number = quoted(done.source.slice(done.span));
                let twice =
                    Diagnostic::fault("record.sail_number_twice", format!("two records have the sail number {number}"))
                        .label(&done.source, done.span, format!("first at {first}"))
                        .help("give each boat its own number; a boat that was measured again has its name and the other day in both records");
                self.refuse(Trouble::one(twice))
            }
        }
    }

    fn refuse(&mut self, trouble: Trouble) -> ControlFlow<()> {
        self.exit = self.exit.worst(trouble.exit);
        (self.take)(Found::Refused(trouble))
    }
}

struct Run<'r, P> {
    host: &'r dyn Host,
    request: &'r CheckRequest,
    benches: Benches<'r>,
    read: Reader<'r, P>,
}

impl<P: Send> Run<'_, P> {
    fn input(&self, input: &Input, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        match input {
            Input::Standard => self.standard(taker),
            Input::Lines(path) => match self.host.open(path) {
                Ok(from) => self.lines(path, Pieces::new(from, Vec::new()), taker),
                Err(problem) => taker.step(Err(problem.into())),
            },
            Input::Yaml { path, named } => self.file(path, *named, false, taker),
            Input::Json { path, named } => self.file(path, *named, true, taker),
        }
    }

    /// Standard input is JSON Lines when its first character is a brace, else YAML.
    fn standard(&self, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        let path = Path::new("-");
        let mut from = self.host.input();
        let mut begun = Vec::new();
        let failed = |error: std::io::Error| HostProblem::new(Doing::Reading, path, Why::Other(error.to_string()));
        let first = loop {
            let mut byte = [0];
            match std::io::Read::read(&mut from, &mut byte) {
                Ok(0) => break None,
                Ok(_) => {
                    begun.extend_from_slice(&byte);
                    let [byte] = byte;
                    let blank = byte.is_ascii_whitespace() || [0xef, 0xbb, 0xbf].contains(&byte);
                    if !blank {
                        break Some(byte);
                    }
                    if begun.len() > DOCUMENT_BYTES {
                        break None;
                    }
                }
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => return taker.step(Err(failed(error).into())),
            }
        };
        if first == Some(b'{') {
            return self.lines(path, Pieces::new(from, begun), taker);
        }
        let limit = u64::try_from(DOCUMENT_BYTES).unwrap_or(u64::MAX).saturating_add(1);
        let mut rest = std::io::Read::take(from, limit);
        if let Err(error) = std::io::Read::read_to_end(&mut rest, &mut begun) {
            return taker.step(Err(failed(error).into()));
        }
        if begun.iter().all(u8::is_ascii_whitespace) {
            return ControlFlow::Continue(());
        }
        self.document(path, &begun, true, false, taker)
    }

    fn file(&self, path: &Path, named: bool, json: bool, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        match self.host.read(path, DOCUMENT_BYTES) {
            Ok(bytes) => self.document(path, &bytes, named, json, taker),
            Err(problem) => taker.step(Err(problem.into())),
        }
    }

    fn document(
        &self,
        path: &Path,
        bytes: &[u8],
        named: bool,
        json: bool,
        taker: &mut Taker<'_, P>,
    ) -> ControlFlow<()> {
        let name = path.display().to_string();
        let source = match decode(&name, bytes) {
            Ok(source) => source,
            Err(problem) => return taker.step(Err(Trouble::one(Diagnostic::undecoded(problem, &name)))),
        };
        let parsed =
            if json { parse_json_line(&source, 0..source.text().len()) } else { parse_yaml(&source) };
        let node = match parsed {
            Ok(node) => node,
            Err(problems) => return taker.step(Err(Diagnostic::from_problems(problems, &source).into())),
        };
        if !named && let Some(other) = other_format(&node) {
            let notice = Diagnostic::notice("input.passed_over", format!("{name} is no record: {}", quoted(other)))
                .help("it is passed over; name the file by itself to check it");
            return (taker.take)(Found::Notice(notice));
        }
        let step = self.head(&source, &node).and_then(|(head, bench, day)| {
            let loader = Loader::new(&bench.rules().vocabulary);
            self.record(&source, &node, &head, &bench, &loader, day, Some(digest(bytes)))
        });
        taker.step(step)
    }

    fn lines(&self, path: &Path, mut pieces: Pieces, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        let name = path.display().to_string();
        loop {
            match pieces.next() {
                Ok(Some(piece)) => self.piece(&name, &piece, taker)?,
                Ok(None) => return ControlFlow::Continue(()),
                Err(error) => {
                    let problem = HostProblem::new(Doing::Reading, path, Why::Other(error.to_string()));
                    return taker.step(Err(problem.into()));
                }
            }
        }
    }

    fn piece(&self, name: &str, piece: &Piece, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        if let Some((line, length)) = piece.too_long {
            let message = format!("{name}:{line} has {length} bytes; the limit LINE_BYTES is {LINE_BYTES}");
            return taker.step(Err(Trouble::one(Diagnostic::fault("text.size", message).help("one record is one line"))));
        }
        let source = match decode_lines(name, &piece.bytes, piece.first_line) {
            Ok(source) => source,
            Err(problem) => return self.line_by_line(name, piece, problem, taker),
        };
        let lines: Vec<Range<usize>> = (0..source.line_count())
            .map(|line| source.line_span_of(line).range())
            .filter(|range| !source.text().get(range.clone()).unwrap_or("").trim().is_empty())
            .collect();
        let steps: Vec<Step<P>> = if lines.len() < WORTH_SHARING {
            self.segment(&source, &lines)
        } else {
            lines.par_chunks(WORTH_SHARING / 2).flat_map_iter(|lines| self.segment(&source, lines)).collect()
        };
        steps.into_iter().try_for_each(|step| taker.step(step))
    }

    /// A piece with bytes that are no text: its lines are read one by one, so that only the bad ones are
    /// refused.
    fn line_by_line(
        &self,
        name: &str,
        piece: &Piece,
        problem: crate::text::TextProblem,
        taker: &mut Taker<'_, P>,
    ) -> ControlFlow<()> {
        let mut lines: Vec<&[u8]> = piece.bytes.split(|byte| *byte == b'\n').collect();
        if lines.len() < 2 {
            return taker.step(Err(Trouble::one(Diagnostic::undecoded(problem, name))));
        }
        if lines.last().is_some_and(|line| line.is_empty()) {
            lines.pop();
        }
        for (at, line) in lines.into_iter().enumerate() {
            let number = piece.first_line.saturating_add(u32::try_from(at).unwrap_or(u32::MAX));
            match decode_lines(name, line, number) {
                Ok(source) if source.text().trim().is_empty() => {}
                Ok(source) => {
                    let whole = 0..source.text().len();
                    self.segment(&source, &[whole]).into_iter().try_for_each(|step| taker.step(step))?;
                }
                Err(problem) => taker.step(Err(Trouble::one(Diagnostic::undecoded(problem, name))))?,
            }
        }
        ControlFlow::Continue(())
    }

    /// Records line by line. The loader is made once for neighbours under the same rules.
    fn segment(&self, source: &Arc<Source>, lines: &[Range<usize>]) -> Vec<Step<P>> {
        let mut steps = Vec::with_capacity(lines.len());
        let mut at = 0;
        let mut next: Option<Arc<Bench>> = None;
        while at < lines.len() {
            let bench = next.take();
            let loader = bench.as_ref().map(|bench| Loader::new(&bench.rules().vocabulary));
            while let Some(range) = lines.get(at) {
                let parsed = parse_json_line(source, range.clone())
                    .map_err(|problems| Trouble::input(Diagnostic::from_problems(problems, source)));
                let node = match parsed {
                    Ok(node) => node,
                    Err(trouble) => {
                        steps.push(Err(trouble));
                        at += 1;
                        continue;
                    }
                };
                let (head, own, day) = match self.head(source, &node) {
                    Ok(found) => found,
                    Err(trouble) => {
                        steps.push(Err(trouble));
                        at += 1;
                        continue;
                    }
                };
                match (&bench, &loader) {
                    (Some(bench), Some(loader)) if Arc::ptr_eq(bench, &own) => {
                        steps.push(self.record(source, &node, &head, bench, loader, day, None));
                        at += 1;
                    }
                    _ => {
                        next = Some(own);
                        break;
                    }
                }
            }
        }
        steps
    }

    /// The head of a record, and the bench and day that it asks for.
    fn head<'n>(
        &self,
        source: &Arc<Source>,
        node: &'n Node<'n>,
    ) -> Result<(Head<'n>, Arc<Bench>, Date), Trouble> {
        let mut head = record::head(source, node)?;
        let day = match (self.request.on, head.day) {
            (Some(day), _) | (None, Some((day, _))) => day,
            (None, None) if !head.day_faults.is_empty() => {
                return Err(Trouble::input(std::mem::take(&mut head.day_faults)));
            }
            (None, None) => {
                let no_day = Diagnostic::fault("record.no_day", "the record does not say on which day it was measured")
                    .label(source, head.class_span, "the rules of this class change from day to day")
                    .help("write `measured: { day: 2026-11-21 }`, or give the day with --on");
                return Err(Trouble::one(no_day));
            }
        };
        let bench = self.benches.of(head.class, day).map_err(|trouble| of_record(trouble, source, &head))?;
        let rules = bench.rules();
        if rules.class.text != head.class {
            let other = Diagnostic::fault(
                "record.other_class",
                format!("the record is of the class {}, the rules are those of {}", quoted(head.class), quoted(&rules.class.text)),
            )
            .label(source, head.class_span, "this class")
            .label(&rules.source, rules.class.span, "that class");
            return Err(Trouble::one(other.help("leave --rules out, or name rules of the record's class")));
        }
        Ok((head, bench, day))
    }

    fn record(
        &self,
        source: &Arc<Source>,
        node: &Node<'_>,
        head: &Head<'_>,
        bench: &Bench,
        loader: &Loader<'_>,
        day: Date,
        digest: Option<String>,
    ) -> Step<P> {
        let record = loader.load(source, node)?;
        let purpose = self.request.purpose;
        let context = Context { purpose, day, level: bench.level, detail: Detail::Full };
        let verdict = bench.plan.check(&record, &context);
        let boat = Sighting::of(&record, head.class);
        let span = record.sail_number_span;
        let outcome = verdict.outcome;
        let checked = Checked {
            record,
            rules: Arc::clone(bench.plan.rules()),
            later: bench.later.clone(),
            purpose,
            day,
            level: bench.level,
            digest,
            verdict,
        };
        let piece = (self.read)(&checked);
        Ok(Done { piece, outcome, boat, source: Arc::clone(source), span })
    }
}

/// Trouble with the rules of a record points at the class in the record where it points nowhere.
fn of_record(mut trouble: Trouble, source: &Arc<Source>, head: &Head<'_>) -> Trouble {
    for diagnostic in &mut trouble.diagnostics {
        if diagnostic.labels.is_empty() && diagnostic.code.starts_with("library.") {
            *diagnostic = diagnostic.clone().label(source, head.class_span, "asked for here");
        }
    }
    trouble
}

/// The format of a tree that says it is another of ours.
fn other_format<'n>(node: &'n Node<'_>) -> Option<&'n str> {
    let format = node.get("format")?.as_text()?;
    let name = format.split('/').next().unwrap_or(format);
    let ours = record::FORMAT.split('/').next().unwrap_or("");
    (name.starts_with("rimegauge-") && name != ours).then_some(format)
}

fn shown(path: &Path) -> String {
    if path.as_os_str() == "-" { "standard input".to_owned() } else { path.display().to_string() }
}
