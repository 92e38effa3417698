//! The files of a fleet: lines of JSON on all cores in flat memory, single records one by one.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use crate::diagnostic::Diagnostic;
use crate::fleet::impact::BoatAt;
use crate::fleet::{Piece, UnusableRecords};
use crate::text::limits::{DOCUMENT_BYTES, LINE_BYTES};
use crate::text::{Source, decode, decode_lines, parse_json_line, parse_yaml, quoted};

use super::exit::{Exit, Trouble};
use super::host::{Doing, Host, HostProblem, Kind, Why};
use super::input::{self, Input};
use super::lines::Pieces;
use super::reading::other_format;

/// How far reading has come.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    /// Which time the files are read: 1, and more where boats have several records.
    pub pass: u8,
    /// Bytes read.
    pub bytes: u64,
    /// Bytes that there are, where that is known.
    pub of: Option<u64>,
    /// Records read.
    pub records: u64,
}

/// Told now and then while a fleet is read.
pub type Watcher<'w> = &'w dyn Fn(&Reading);

/// What became of reading a fleet.
#[derive(Debug, Default)]
pub struct Troubles {
    /// What is wrong with the first records that can't be used.
    pub told: Vec<Diagnostic>,
    /// Why they can't, and where they are.
    pub unusable: UnusableRecords,
    /// How many there are.
    pub count: u64,
    /// Files that were named or found, and hold no record.
    pub empty: Vec<String>,
    /// The worst of it.
    pub exit: Option<Exit>,
}

/// Records with faults that are told in full.
const TOLD: usize = 10;

/// Faults of one record that are told.
const FAULTS: usize = 3;

impl Troubles {
    pub(super) fn add(&mut self, file: &str, line: u32, trouble: Trouble) {
        self.count += 1;
        self.exit = Some(
            self.exit
                .map_or(trouble.exit, |exit| exit.worst(trouble.exit)),
        );
        self.unusable.add(file, line, &trouble.diagnostics);
        if self.told.len() < TOLD {
            // Of a record that has nothing in common with the rules the first faults tell enough.
            let more = trouble.diagnostics.len().saturating_sub(FAULTS);
            self.told
                .extend(trouble.diagnostics.into_iter().take(FAULTS));
            if more > 0 {
                let message = match more {
                    1 => format!("{file}:{line} has 1 more fault, which is not shown"),
                    more => format!("{file}:{line} has {more} more faults, which are not shown"),
                };
                let notice = Diagnostic::notice("fleet.more_faults", message);
                self.told
                    .push(notice.help("check this record by itself to see all of them"));
            }
        }
    }
}

/// Whoever takes the records of a fleet, in shares that begin with nothing.
pub(super) trait Taker: Sync {
    /// What a share of the records comes to.
    type Share: Send;
    /// Nothing yet.
    fn begin(&self) -> Self::Share;
    /// One record more, or what is wrong with it.
    fn record(
        &self,
        share: &mut Self::Share,
        source: &Arc<Source>,
        piece: &Piece,
        at: BoatAt,
    ) -> Result<(), Vec<Diagnostic>>;
}

/// Whoever is handed the shares: each of them now and then in the order of the files, to take out what came since, and once
/// more at the end.
pub(super) type Hand<'t, S> = dyn FnMut(&mut S, Handed) + 't;

/// When a share is handed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Handed {
    /// More may come.
    Meanwhile,
    /// Nothing more comes.
    AtTheEnd,
}

/// Lines that can't be used, and what is wrong with them.
type Faulty = Vec<(u32, Vec<Diagnostic>)>;

/// The files of a fleet.
pub(super) struct FleetFiles<'h> {
    host: &'h dyn Host,
    inputs: Vec<Input>,
    /// The names of the inputs.
    pub(super) names: Vec<String>,
    total: Option<u64>,
}

/// Lines of one piece are shared out in so many shares: the same on every machine, so that sums are.
const SHARES: usize = 8;

/// Lines that were read, and what is wrong with others.
struct Ready {
    sources: Vec<Arc<Source>>,
    bytes: u64,
    troubles: Vec<(u32, Trouble)>,
}

impl<'h> FleetFiles<'h> {
    /// Looks for the files.
    ///
    /// # Errors
    /// A path that does not exist, standard input, nothing that could hold a record.
    pub(super) fn of(host: &'h dyn Host, paths: &[PathBuf]) -> Result<FleetFiles<'h>, Trouble> {
        let mut inputs = Vec::new();
        let mut trouble: Option<Trouble> = None;
        for path in paths {
            let fault = |code, message: String, help: &str| {
                Trouble::one(Diagnostic::fault(code, message).help(help.to_owned()))
            };
            if path.as_os_str() == "-" {
                let message = "a fleet can't come by standard input: its boats are read again where one has several records";
                let found = fault(
                    "fleet.input",
                    message.to_owned(),
                    "write it into a file that ends in .jsonl",
                );
                trouble = Some(super::library::joined(trouble, found));
                continue;
            }
            match input::of(host, path) {
                Ok(found) if found.is_empty() => {
                    let message = format!(
                        "there is no record in {}",
                        quoted(&path.display().to_string())
                    );
                    let help = "a record is a file that ends in .yaml, .yml or .json, or a line of a .jsonl file";
                    trouble = Some(super::library::joined(
                        trouble,
                        fault("input.nothing", message, help),
                    ));
                }
                Ok(found) => {
                    let paths = found.iter().filter_map(Input::path);
                    // A path that leads nowhere is told when it is read.
                    let passing = |path: &&Path| {
                        host.size(path).is_none() && matches!(host.kind(path), Ok(Kind::File))
                    };
                    for path in paths.filter(passing) {
                        let message = format!(
                            "{} is no file on a disk, such as a pipe: a fleet is read again where a boat has several records",
                            quoted(&path.display().to_string())
                        );
                        let help = "write it into a file that ends in .jsonl";
                        trouble = Some(super::library::joined(
                            trouble,
                            fault("fleet.input", message, help),
                        ));
                    }
                    inputs.extend(found);
                }
                Err(found) => trouble = Some(super::library::joined(trouble, found)),
            }
        }
        if let Some(trouble) = trouble {
            return Err(trouble);
        }
        let names = inputs.iter().map(shown).collect();
        let sizes = inputs
            .iter()
            .map(|input| input.path().and_then(|path| host.size(path)));
        let total = sizes.sum();
        Ok(FleetFiles {
            host,
            inputs,
            names,
            total,
        })
    }

    /// Hands every record to a taker, and its shares on.
    pub(super) fn read<T: Taker>(
        &self,
        taker: &T,
        pass: u8,
        watcher: Watcher<'_>,
        hand: &mut Hand<'_, T::Share>,
    ) -> Troubles {
        let mut troubles = Troubles::default();
        let mut shares: Vec<T::Share> = (0..SHARES).map(|_| taker.begin()).collect();
        let mut reading = Reading {
            pass,
            bytes: 0,
            of: self.total,
            records: 0,
        };
        for (file, (input, name)) in self.inputs.iter().zip(&self.names).enumerate() {
            let before = reading.records + troubles.count;
            let path = match input {
                Input::Standard => continue,
                Input::Yaml { path, named } => {
                    let shares = (&mut shares[..], &mut *hand);
                    let of = (file, path.as_path(), name.as_str());
                    self.document(taker, of, (*named, false), &mut troubles, shares);
                    path
                }
                Input::Json { path, named } => {
                    let shares = (&mut shares[..], &mut *hand);
                    let of = (file, path.as_path(), name.as_str());
                    self.document(taker, of, (*named, true), &mut troubles, shares);
                    path
                }
                Input::Lines(path) => {
                    let told = (&mut reading, watcher);
                    let shares = (&mut shares[..], &mut *hand);
                    self.lines(taker, (file, path, name), told, &mut troubles, shares);
                    if before == reading.records + troubles.count {
                        troubles.empty.push(name.clone());
                    }
                    continue;
                }
            };
            reading.bytes += self.host.size(path).unwrap_or(0);
            reading.records += 1;
            watcher(&reading);
        }
        for share in &mut shares {
            hand(share, Handed::AtTheEnd);
        }
        troubles.told.extend(nothing_in(&troubles.empty));
        troubles
    }

    fn document<T: Taker>(
        &self,
        taker: &T,
        (file, path, name): (usize, &Path, &str),
        (named, json): (bool, bool),
        troubles: &mut Troubles,
        (shares, hand): (&mut [T::Share], &mut Hand<'_, T::Share>),
    ) {
        let bytes = match self.host.read(path, DOCUMENT_BYTES) {
            Ok(bytes) => bytes,
            Err(problem) => return troubles.add(name, 1, problem.into()),
        };
        let source = match decode(name, &bytes) {
            Ok(source) => source,
            Err(problem) => {
                return troubles.add(name, 1, Trouble::one(Diagnostic::undecoded(problem, name)));
            }
        };
        // What stands in a folder and is something else, a form or rules, is no record and no fault.
        if !named
            && let Ok(node) = if json {
                parse_json_line(&source, 0..source.text().len())
            } else {
                parse_yaml(&source)
            }
            && other_format(&node).is_some()
        {
            return;
        }
        let piece = if json {
            Piece::Line(0..source.text().len())
        } else {
            Piece::Document
        };
        let Some(share) = shares.first_mut() else {
            return;
        };
        if let Err(faults) = taker.record(share, &source, &piece, BoatAt { file, line: 1 }) {
            troubles.add(name, 1, Trouble::input(faults));
        }
        hand(share, Handed::Meanwhile);
    }

    fn lines<T: Taker>(
        &self,
        taker: &T,
        (file, path, name): (usize, &Path, &str),
        (reading, watcher): (&mut Reading, Watcher<'_>),
        troubles: &mut Troubles,
        (shares, hand): (&mut [T::Share], &mut Hand<'_, T::Share>),
    ) {
        let mut pieces = match self.host.open(path) {
            Ok(from) => Pieces::new(from, Vec::new()),
            Err(problem) => return troubles.add(name, 0, problem.into()),
        };
        let mut next = ready(&mut pieces, name);
        loop {
            let now = match next {
                Ok(Some(now)) => now,
                Ok(None) => return,
                Err(error) => {
                    let why = Why::Other(error.to_string());
                    let problem = HostProblem::new(Doing::Reading, path, why);
                    return troubles.add(name, 0, problem.into());
                }
            };
            for (line, trouble) in now.troubles {
                troubles.add(name, line, trouble);
            }
            reading.bytes += now.bytes;
            // The next piece is read while this one is looked at.
            let (found, after) = rayon::join(
                || looked_at(taker, file, &now.sources, shares),
                || ready(&mut pieces, name),
            );
            next = after;
            for (line, found) in found.faults {
                troubles.add(name, line, Trouble::input(found));
            }
            reading.records += found.records;
            for share in &mut *shares {
                hand(share, Handed::Meanwhile);
            }
            watcher(reading);
        }
    }
}

/// That files hold nothing, by name: an empty export is a fault that nobody would see in a sum.
fn nothing_in(files: &[String]) -> Option<Diagnostic> {
    let named: Vec<String> = files
        .iter()
        .take(TOLD)
        .map(|name| quoted(name).to_string())
        .collect();
    let more = match files.len().saturating_sub(TOLD) {
        0 => String::new(),
        1 => " and 1 more file".to_owned(),
        more => format!(" and {more} more files"),
    };
    let message = match files {
        [] => return None,
        _ => format!("there is no record in {}{more}", named.join(", ")),
    };
    Some(
        Diagnostic::notice("fleet.empty_file", message)
            .help("nothing was counted of it; a fleet has a record in each line"),
    )
}

/// The next lines of a file, as text.
fn ready(pieces: &mut Pieces, name: &str) -> std::io::Result<Option<Ready>> {
    let Some(piece) = pieces.next()? else {
        return Ok(None);
    };
    let mut found = Ready {
        sources: Vec::new(),
        bytes: u64::try_from(piece.bytes.len()).unwrap_or(0),
        troubles: Vec::new(),
    };
    if let Some((line, length)) = piece.too_long {
        found.bytes += length;
        let message =
            format!("{name}:{line} has {length} bytes; a line may have {LINE_BYTES} at most");
        let fault = Diagnostic::fault("text.size", message).help("one record is one line");
        found.troubles.push((line, Trouble::one(fault)));
    }
    match decode_lines(name, &piece.bytes, piece.first_line) {
        Ok(source) => found.sources.push(source),
        // Bytes that are no text: line by line, so that only the bad ones are refused.
        Err(_) => {
            for (at, line) in piece.bytes.split(|byte| *byte == b'\n').enumerate() {
                let number = piece
                    .first_line
                    .saturating_add(u32::try_from(at).unwrap_or(u32::MAX));
                match decode_lines(name, line, number) {
                    Ok(source) => found.sources.push(source),
                    Err(problem) => {
                        let trouble = Trouble::one(Diagnostic::undecoded(problem, name));
                        found.troubles.push((number, trouble));
                    }
                }
            }
        }
    }
    Ok(Some(found))
}

/// What came of some lines.
struct LookedAt {
    records: u64,
    faults: Faulty,
}

/// Shares out lines.
fn looked_at<T: Taker>(
    taker: &T,
    file: usize,
    sources: &[Arc<Source>],
    shares: &mut [T::Share],
) -> LookedAt {
    let mut lines: Vec<(usize, u32, std::ops::Range<usize>)> = Vec::new();
    for (at, source) in sources.iter().enumerate() {
        for line in 0..source.line_count() {
            let range = source.line_span_of(line).range();
            let text = source.text().get(range.clone());
            if text.is_some_and(|text| !text.trim_ascii().is_empty()) {
                let start = u32::try_from(range.start).unwrap_or(0);
                lines.push((at, source.line_column(start).line, range));
            }
        }
    }
    let length = lines.len().div_ceil(SHARES).max(1);
    let found: Vec<Faulty> = lines
        .par_chunks(length)
        .zip(shares.par_iter_mut())
        .map(|(lines, share)| {
            let mut faults = Vec::new();
            for (source, line, range) in lines {
                let at = BoatAt { file, line: *line };
                let Some(source) = sources.get(*source) else {
                    continue;
                };
                let piece = Piece::Line(range.clone());
                if let Err(found) = taker.record(share, source, &piece, at) {
                    faults.push((*line, found));
                }
            }
            faults
        })
        .collect();
    LookedAt {
        records: u64::try_from(lines.len()).unwrap_or(0),
        faults: found.into_iter().flatten().collect(),
    }
}

fn shown(input: &Input) -> String {
    input
        .path()
        .map_or("-".to_owned(), |path| path.display().to_string())
}
