//! Reading records from one input: a document, lines, standard input; each is loaded and checked.

use std::ops::{ControlFlow, Range};
use std::path::Path;
use std::sync::{Arc, OnceLock};

use jiff::civil::Date;
use rayon::prelude::*;

use crate::check::{Context, Finding, Outcome, Verdict};
use crate::diagnostic::Diagnostic;
use crate::record::{self, Head, Loader, Record};
use crate::report::Checked;
use crate::rules::digest;
use crate::text::limits::{DOCUMENT_BYTES, LINE_BYTES};
use crate::text::{Node, Source, decode, decode_lines, parse_json_line, parse_yaml};

use super::boats::Sighting;
use super::check::{CheckRequest, Done, Reader, Step, Taker};
use super::exit::Trouble;
use super::host::{Doing, Host, HostProblem, Why};
use super::input::Input;
use super::lines::{Piece, Pieces};
use super::shelf::{Bench, Benches};

/// Lines from which on several threads share them.
const WORTH_SHARING: usize = 4;

/// Shares that a piece is cut into: enough that the threads end together, whatever a line costs.
const SHARES: usize = 16;

/// One run over all inputs.
pub(super) struct Run<'r, P> {
    pub(super) host: &'r dyn Host,
    pub(super) request: &'r CheckRequest,
    pub(super) benches: Benches<'r>,
    pub(super) read: Reader<'r, P>,
    /// The rules of the first record that came in a line, under which most others will be.
    pub(super) usual: OnceLock<Arc<Bench>>,
}

/// What a record asks for by its head.
struct Asked<'n> {
    head: Head<'n>,
    bench: Arc<Bench>,
    day: Date,
}

impl<P: Send> Run<'_, P> {
    pub(super) fn input(&self, input: &Input, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
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
        let failed = |error: std::io::Error| {
            HostProblem::new(Doing::Reading, path, Why::Other(error.to_string()))
        };
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
        let limit = u64::try_from(DOCUMENT_BYTES)
            .unwrap_or(u64::MAX)
            .saturating_add(1);
        let mut rest = std::io::Read::take(from, limit);
        if let Err(error) = std::io::Read::read_to_end(&mut rest, &mut begun) {
            return taker.step(Err(failed(error).into()));
        }
        if begun.iter().all(u8::is_ascii_whitespace) {
            return ControlFlow::Continue(());
        }
        self.document(path, &begun, true, false, taker)
    }

    fn file(
        &self,
        path: &Path,
        named: bool,
        json: bool,
        taker: &mut Taker<'_, P>,
    ) -> ControlFlow<()> {
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
            Err(problem) => {
                return taker.step(Err(Trouble::one(Diagnostic::undecoded(problem, &name))));
            }
        };
        let parsed = if json {
            parse_json_line(&source, 0..source.text().len())
        } else {
            parse_yaml(&source)
        };
        let node = match parsed {
            Ok(node) => node,
            Err(problems) => {
                return taker.step(Err(Diagnostic::from_problems(problems, &source).into()));
            }
        };
        if !named && let Some(other) = other_format(&node) {
            taker.passed_over.push(format!("{name} ({other})"));
            return ControlFlow::Continue(());
        }
        let step = self.asked(&source, &node).and_then(|asked| {
            let loader = Loader::new(&asked.bench.rules().vocabulary);
            self.record(&source, &node, &asked, &loader, Some(digest(bytes)))
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
                    let problem =
                        HostProblem::new(Doing::Reading, path, Why::Other(error.to_string()));
                    return taker.step(Err(problem.into()));
                }
            }
        }
    }

    fn piece(&self, name: &str, piece: &Piece, taker: &mut Taker<'_, P>) -> ControlFlow<()> {
        if let Some((line, length)) = piece.too_long {
            let message =
                format!("{name}:{line} has {length} bytes; a line may have {LINE_BYTES} at most");
            return taker.step(Err(Trouble::one(
                Diagnostic::fault("text.size", message).help("one record is one line"),
            )));
        }
        let source = match decode_lines(name, &piece.bytes, piece.first_line) {
            Ok(source) => source,
            Err(problem) => return self.line_by_line(name, piece, problem, taker),
        };
        let lines: Vec<Range<usize>> = (0..source.line_count())
            .map(|line| source.line_span_of(line).range())
            .filter(|range| {
                !source
                    .text()
                    .get(range.clone())
                    .unwrap_or("")
                    .trim()
                    .is_empty()
            })
            .collect();
        let steps: Vec<Step<P>> = if lines.len() < WORTH_SHARING {
            self.segment(&source, &lines)
        } else {
            lines
                .par_chunks(lines.len().div_ceil(SHARES).max(2))
                .flat_map_iter(|lines| self.segment(&source, lines))
                .collect()
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
            let number = piece
                .first_line
                .saturating_add(u32::try_from(at).unwrap_or(u32::MAX));
            match decode_lines(name, line, number) {
                Ok(source) if source.text().trim().is_empty() => {}
                Ok(source) => {
                    let whole = 0..source.text().len();
                    self.segment(&source, &[whole])
                        .into_iter()
                        .try_for_each(|step| taker.step(step))?;
                }
                Err(problem) => {
                    taker.step(Err(Trouble::one(Diagnostic::undecoded(problem, name))))?
                }
            }
        }
        ControlFlow::Continue(())
    }

    /// Records line by line. Nearly all lines of a file are under the same rules and written in the common
    /// forms: those are read without a tree; the others, and what is wrong with them, by way of one.
    fn segment(&self, source: &Arc<Source>, lines: &[Range<usize>]) -> Vec<Step<P>> {
        let Some(usual) = self.usual.get() else {
            return self.segment_by_trees(source, lines);
        };
        let loader = Loader::new(&usual.rules().vocabulary);
        let mut steps = Vec::with_capacity(lines.len());
        for line in lines {
            match self.quickly(source, line, usual, &loader) {
                Some(done) => steps.push(Ok(done)),
                None => {
                    steps.append(&mut self.segment_by_trees(source, std::slice::from_ref(line)))
                }
            }
        }
        steps
    }

    /// A line in the common forms, under the usual rules.
    fn quickly(
        &self,
        source: &Arc<Source>,
        line: &Range<usize>,
        usual: &Arc<Bench>,
        loader: &Loader<'_>,
    ) -> Option<Done<P>> {
        let read = loader.quick(source, line.clone())?;
        let day = self.request.on.or(read.record.measured.day)?;
        let bench = self.benches.of(read.class, day).ok()?;
        let same = Arc::ptr_eq(&bench, usual) && bench.rules().class.text == read.class;
        same.then(|| self.judged(read.record, usual, day, read.class, None))
    }

    /// Records line by line, each by way of its tree. A loader is made once for all under the same rules.
    fn segment_by_trees(&self, source: &Arc<Source>, lines: &[Range<usize>]) -> Vec<Step<P>> {
        let parse = |range: &Range<usize>| {
            parse_json_line(source, range.clone())
                .map_err(|problems| Trouble::input(Diagnostic::from_problems(problems, source)))
        };
        let nodes: Vec<Result<Node<'_>, Trouble>> = lines.iter().map(parse).collect();
        let asked: Vec<Result<(&Node<'_>, Asked<'_>), Trouble>> = nodes
            .iter()
            .map(|node| {
                let node = node.as_ref().map_err(Trouble::clone)?;
                Ok((node, self.asked(source, node)?))
            })
            .collect();
        let mut loaders: Vec<(&Arc<Bench>, Loader<'_>)> = Vec::new();
        let mut steps = Vec::with_capacity(lines.len());
        for one in &asked {
            let (node, asked) = match one {
                Ok(found) => found,
                Err(trouble) => {
                    steps.push(Err(trouble.clone()));
                    continue;
                }
            };
            if !loaders
                .iter()
                .any(|(bench, _)| Arc::ptr_eq(bench, &asked.bench))
            {
                loaders.push((&asked.bench, Loader::new(&asked.bench.rules().vocabulary)));
            }
            let loader = loaders
                .iter()
                .find(|(bench, _)| Arc::ptr_eq(bench, &asked.bench));
            if let Some((bench, loader)) = loader {
                self.usual.get_or_init(|| Arc::clone(bench));
                steps.push(self.record(source, node, asked, loader, None));
            }
        }
        steps
    }

    /// What a record asks for by its head.
    fn asked<'n>(&self, source: &Arc<Source>, node: &'n Node<'n>) -> Result<Asked<'n>, Trouble> {
        let mut head = record::head(source, node)?;
        let day = match (self.request.on, head.day) {
            (Some(day), _) | (None, Some((day, _))) => day,
            (None, None) if !head.day_faults.is_empty() => {
                let day_faults = std::mem::take(&mut head.day_faults);
                // Without a day the rules in force can't be known; those of the newest version tell what
                // else is wrong, so that all slips are told at once.
                let newest = self.benches.of(head.class, Date::MAX).ok();
                let all = newest.and_then(|bench| {
                    Loader::new(&bench.rules().vocabulary)
                        .load(source, node)
                        .err()
                });
                return Err(Trouble::input(all.unwrap_or(day_faults)));
            }
            (None, None) => {
                return Err(Trouble::one(head.no_day(source)));
            }
        };
        let bench = self
            .benches
            .of(head.class, day)
            .map_err(|trouble| of_record(trouble, source, &head))?;
        let rules = bench.rules();
        if rules.class.text != head.class {
            let other = head.other_class(source, &rules.class.text).label(
                &rules.source,
                rules.class.span,
                "that class",
            );
            return Err(Trouble::one(
                other.help("leave --rules out, or name rules of the record's class"),
            ));
        }
        if let Some(wanted) = &self.request.budgets {
            super::rules::has_rules(rules, wanted)?;
        }
        Ok(Asked { head, bench, day })
    }

    fn record(
        &self,
        source: &Arc<Source>,
        node: &Node<'_>,
        asked: &Asked<'_>,
        loader: &Loader<'_>,
        digest: Option<String>,
    ) -> Step<P> {
        let Asked { head, bench, day } = asked;
        // To compile the schema takes longer than all the rest of a check, and it accepts whatever the typed loader
        // accepts (tests hold both to that): it is asked only what else there is to say of a record that is
        // refused. Lines of a fleet go without.
        let loaded = loader.load(source, node).or_else(|typed| {
            let schema = if digest.is_some() {
                bench.schema()
            } else {
                None
            };
            match schema {
                Some(schema) => schema.beside(source, node, Err(typed)),
                None => Err(typed),
            }
        });
        let record = loaded.map_err(Trouble::input)?;
        Ok(self.judged(record, bench, *day, head.class, digest))
    }

    /// What comes of a record under its rules.
    fn judged(
        &self,
        record: Record,
        bench: &Bench,
        day: Date,
        class: &str,
        digest: Option<String>,
    ) -> Done<P> {
        let context = Context {
            purpose: self.request.purpose,
            day,
            level: bench.level,
        };
        let brief = self.request.brief;
        let brief = brief.then(|| bench.plan.check_briefly(&record, &context));
        let verdict = match brief {
            Some(verdict) if needs_no_words(&verdict) => verdict,
            Some(_) | None => match &self.request.budgets {
                None => bench.plan.check(&record, &context),
                Some(rules) => bench.plan.check_with_budgets(&record, &context, rules),
            },
        };
        let boat = Sighting::of(&record, class);
        let source = Arc::clone(&record.source);
        let span = record.sail_number_span;
        let outcome = verdict.outcome;
        let checked = Checked {
            record,
            rules: Arc::clone(bench.plan.rules()),
            later: bench.later.clone(),
            purpose: self.request.purpose,
            day,
            level: bench.level,
            digest,
            verdict,
        };
        Done {
            piece: (self.read)(&checked),
            outcome,
            boat,
            source,
            span,
        }
    }
}

/// Whether all conforms, and nothing has to be said beside it.
fn needs_no_words(verdict: &Verdict) -> bool {
    let marked = |finding: &Finding| finding.benefit_of_doubt || finding.second_measurer;
    verdict.outcome == Outcome::Conforms && !verdict.findings.iter().any(marked)
}

/// Trouble with the rules of a record points at the class in the record where it points nowhere.
fn of_record(mut trouble: Trouble, source: &Arc<Source>, head: &Head<'_>) -> Trouble {
    for diagnostic in &mut trouble.diagnostics {
        let nowhere = diagnostic.labels.is_empty() && diagnostic.code.starts_with("library.");
        let words = if nowhere {
            "asked for here"
        } else if diagnostic.code == "overlay.version" {
            "this record"
        } else {
            continue;
        };
        *diagnostic = diagnostic.clone().label(source, head.class_span, words);
    }
    trouble
}

/// The format of a tree that says it is another of ours.
pub(super) fn other_format<'n>(node: &'n Node<'_>) -> Option<&'n str> {
    let format = node.get("format")?.as_text()?;
    let name = format.split('/').next().unwrap_or(format);
    let ours = record::FORMAT.split('/').next().unwrap_or("");
    (name.starts_with("rimegauge-") && name != ours).then_some(format)
}
