//! What is kept of a fleet that was read once, so that other limits are asked without reading it again.
//!
//! A line for the question, then one for each way in which items or boats turn, with how many do. No boat and no item is
//! named, and numbers are exact.

use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::check::{Reason, Turn};
use crate::diagnostic::Diagnostic;
use crate::fleet::impact::{LeftOut, Sample};
use crate::fleet::vary::{Base, Column, Columns, MovedLimit, VaryTally};
use crate::fleet::{Unusable, UnusableRecords};
use crate::quantity::{Date, Exact};
use crate::rules::RulesFile;
use crate::text::{Source, Span, quoted};

use super::exit::Trouble;
use super::host::{Doing, Host, HostProblem, Why};
use super::vary::VaryRequest;

/// The format of the first line.
const FORMAT: &str = "rimegauge-columns/1";

/// Bytes of a file of columns: far more than [`crate::fleet::vary::MOST_COLUMNS`] need.
const MOST_BYTES: u64 = 1 << 28;

/// The question that the columns answer.
#[derive(Serialize, Deserialize, PartialEq)]
struct Head {
    format: String,
    class: String,
    version: String,
    rules_digest: String,
    rule: String,
    row: Option<String>,
    limit: String,
    purpose: String,
    level: Option<String>,
    on: Option<String>,
}

/// What was looked at.
#[derive(Serialize, Deserialize)]
struct Looked {
    records: u64,
    boats: u64,
    superseded: u64,
    #[serde(default)]
    put_together: u64,
    #[serde(default)]
    copies: u64,
    broken: u64,
    #[serde(default)]
    broken_by: BTreeMap<String, u64>,
    old_names: u64,
    #[serde(default)]
    measured_later: u64,
    #[serde(default)]
    left_out: (u64, Vec<(String, u64)>),
    measured: Option<(String, String)>,
    other_row: u64,
    not_applicable: u64,
    open: Vec<(String, u64)>,
    /// Items and boats in the columns below, so that a file that was cut short is noticed.
    items_below: u64,
    boats_below: u64,
}

/// Where something turns.
#[derive(Serialize, Deserialize)]
struct KeptTurn {
    at: String,
    itself: bool,
    exact: bool,
}

/// A way to turn, and how many do.
#[derive(Serialize, Deserialize)]
struct KeptColumn {
    of: String,
    count: u64,
    with_the_mildest: String,
    conforms: Option<KeptTurn>,
    bearable: Option<KeptTurn>,
}

const BASES: [(Base, &str); 4] = [
    (Base::Out, "does_not_conform"),
    (Base::Unmeasured, "never_measured"),
    (Base::Open, "open"),
    (Base::Conforms, "conforms"),
];

fn head(rules: &RulesFile, limit: &MovedLimit, request: &VaryRequest) -> Head {
    Head {
        format: FORMAT.to_owned(),
        class: rules.class.text.clone(),
        version: rules.version.to_string(),
        rules_digest: rules.digest.clone(),
        rule: limit.rule.clone(),
        row: limit.row.clone(),
        limit: limit.kind.word().to_owned(),
        purpose: request.purpose.word().to_owned(),
        level: request.level.clone(),
        on: request.on.map(|day| day.to_string()),
    }
}

/// Keeps what was read.
///
/// # Errors
/// More ways to turn than are kept; a file that can't be written.
pub(super) fn write(
    host: &dyn Host,
    path: &Path,
    rules: &RulesFile,
    limit: &MovedLimit,
    request: &VaryRequest,
    tally: &VaryTally,
) -> Result<(), Trouble> {
    if tally.items.folded || tally.boats.folded {
        let message = "this fleet turns at more limits than are kept: each question reads it again";
        let fault = Diagnostic::fault("vary.keep", message.to_owned());
        return Err(Trouble::one(fault.help("leave --keep out")));
    }
    let sample = &tally.sample;
    let looked = Looked {
        records: sample.records,
        boats: sample.boats,
        superseded: sample.superseded,
        put_together: sample.put_together,
        copies: sample.copies,
        broken: sample.broken,
        broken_by: {
            let by = sample.unusable.by.iter();
            by.map(|(why, count)| (why.word().to_owned(), *count))
                .collect()
        },
        old_names: sample.old_names,
        measured_later: sample.measured_later,
        left_out: {
            let keys = sample.left_out.keys.clone().into_iter();
            (sample.left_out.records, keys.collect())
        },
        measured: sample
            .measured
            .map(|(first, last)| (first.to_string(), last.to_string())),
        other_row: tally.other_row,
        not_applicable: tally.not_applicable,
        open: tally
            .open
            .iter()
            .map(|(reason, count)| (reason.word().to_owned(), *count))
            .collect(),
        items_below: tally.items.total(),
        boats_below: tally.boats.total(),
    };
    let mut text = String::new();
    push(&mut text, &head(rules, limit, request));
    push(&mut text, &looked);
    for (of, columns) in [("items", &tally.items), ("boats", &tally.boats)] {
        for (column, count) in columns.iter() {
            push(&mut text, &kept(of, column, count));
        }
    }
    host.write(path, text.as_bytes())?;
    Ok(())
}

fn push(text: &mut String, line: &impl Serialize) {
    // Plain structs of text and numbers are always written.
    if let Ok(line) = serde_json::to_string(line) {
        text.push_str(&line);
        text.push('\n');
    }
}

fn kept(of: &str, column: &Column, count: u64) -> KeptColumn {
    let turn = |turn: &Option<Turn>| {
        turn.as_ref().map(|turn| KeptTurn {
            at: turn.at.to_string(),
            itself: turn.itself,
            exact: turn.exact,
        })
    };
    let base = BASES.iter().find(|(base, _)| *base == column.base);
    KeptColumn {
        of: of.to_owned(),
        count,
        with_the_mildest: base.map_or("", |(_, word)| word).to_owned(),
        conforms: turn(&column.conforms),
        bearable: turn(&column.bearable),
    }
}

/// Reads what was kept, for the same question.
///
/// # Errors
/// A file that can't be read, that is no such file, or that answers another question.
pub(super) fn read(
    host: &dyn Host,
    path: &Path,
    rules: &RulesFile,
    limit: &MovedLimit,
    request: &VaryRequest,
) -> Result<VaryTally, Trouble> {
    let name = path.display().to_string();
    let mut bytes = Vec::new();
    let from = host.open(path)?;
    from.take(MOST_BYTES)
        .read_to_end(&mut bytes)
        .map_err(|error| HostProblem::new(Doing::Reading, path, Why::Other(error.to_string())))?;
    let text = String::from_utf8_lossy(&bytes);
    let source = Source::new(&name, text.as_ref());
    let broken = |line: usize, why: &str| {
        let span = text.lines().nth(line).map_or(Span::new(0, 0), |one| {
            let from = one.as_ptr() as usize - text.as_ptr() as usize;
            Span::new(from, from + one.len())
        });
        let message = format!("{}: line {} {why}", quoted(&name), line + 1);
        let fault = Diagnostic::fault("vary.kept", message);
        // Of what is no text nothing is shown that could be read.
        let readable = text.lines().nth(line).unwrap_or_default();
        let readable = !readable
            .chars()
            .any(|one| one.is_control() || one == '\u{fffd}');
        Trouble::one(
            match readable {
                true => fault.label(&source, span, ""),
                false => fault,
            }
            .help("make it anew from the fleet: --fleet … --keep FILE"),
        )
    };
    let mut lines = text.lines().enumerate();
    let mut next = || lines.next().map_or("", |(_, line)| line);
    let found: Head = serde_json::from_str(next())
        .map_err(|_| broken(0, "is not the head of a file that was written by --keep"))?;
    let asked = head(rules, limit, request);
    if found != asked {
        return Err(other_question(&name, &found, &asked));
    }
    let looked: Looked =
        serde_json::from_str(next()).map_err(|_| broken(1, "does not tell what was looked at"))?;
    let sample = sample(&looked, rules, request);
    let mut tally = VaryTally::of(sample, looked.other_row, looked.not_applicable);
    for (word, count) in &looked.open {
        let reason = Reason::ALL.iter().find(|reason| reason.word() == word);
        let reason = reason.ok_or_else(|| broken(1, "gives a reason that there is not"))?;
        tally.open.insert(*reason, *count);
    }
    let lower = limit.kind.is_lower();
    for (at, line) in lines {
        let column: KeptColumn =
            serde_json::from_str(line).map_err(|_| broken(at, "is no column"))?;
        let own = read_column(&column).ok_or_else(|| broken(at, "holds no number"))?;
        let columns: &mut Columns = match column.of.as_str() {
            "items" => &mut tally.items,
            "boats" => &mut tally.boats,
            _ => return Err(broken(at, "is about neither items nor boats")),
        };
        columns.add(&own, column.count, &[], lower);
    }
    let whole = (looked.items_below, looked.boats_below);
    if (tally.items.total(), tally.boats.total()) != whole {
        return Err(broken(
            1,
            "tells of other counts than stand below: the file was cut short or changed",
        ));
    }
    Ok(tally)
}

fn sample(looked: &Looked, rules: &RulesFile, request: &VaryRequest) -> Sample {
    let day = |text: &str| text.parse::<Date>().ok();
    Sample {
        records: looked.records,
        boats: looked.boats,
        superseded: looked.superseded,
        put_together: looked.put_together,
        copies: looked.copies,
        broken: looked.broken,
        unusable: UnusableRecords {
            by: Unusable::ALL
                .into_iter()
                .filter_map(|why| Some((why, *looked.broken_by.get(why.word())?)))
                .collect(),
            // Where they are stood in the files; what is kept names none.
            first: Vec::new(),
        },
        old_names: looked.old_names,
        measured_later: looked.measured_later,
        left_out: LeftOut {
            records: looked.left_out.0,
            keys: looked.left_out.1.iter().cloned().collect(),
        },
        measured: looked
            .measured
            .as_ref()
            .and_then(|(first, last)| Some((day(first)?, day(last)?))),
        on: request.on,
        not_before: Some(rules.in_force_from).filter(|_| request.on.is_none()),
        ..Sample::default()
    }
}

fn read_column(column: &KeptColumn) -> Option<Column> {
    let turn = |turn: &Option<KeptTurn>| match turn {
        None => Some(None),
        Some(turn) => Some(Some(Turn {
            at: number(&turn.at)?,
            itself: turn.itself,
            exact: turn.exact,
        })),
    };
    let word = &column.with_the_mildest;
    Some(Column {
        base: BASES.iter().find(|(_, known)| known == word)?.0,
        conforms: turn(&column.conforms)?,
        bearable: turn(&column.bearable)?,
    })
}

/// A decimal, or a fraction in lowest terms.
fn number(text: &str) -> Option<Exact> {
    match text.split_once('/') {
        Some((over, under)) => Exact::from_decimal(over)?.checked_div(&Exact::from_decimal(under)?),
        None => Exact::from_decimal(text),
    }
}

/// Why columns answer another question.
fn other_question(name: &str, found: &Head, asked: &Head) -> Trouble {
    let none = || "not named".to_owned();
    let own = || "each boat's own".to_owned();
    let pairs = [
        ("format", found.format.clone(), asked.format.clone()),
        ("class", found.class.clone(), asked.class.clone()),
        ("version", found.version.clone(), asked.version.clone()),
        (
            "text of the rules",
            found.rules_digest.clone(),
            asked.rules_digest.clone(),
        ),
        ("rule", found.rule.clone(), asked.rule.clone()),
        (
            "row",
            found.row.clone().unwrap_or_else(none),
            asked.row.clone().unwrap_or_else(none),
        ),
        ("limit", found.limit.clone(), asked.limit.clone()),
        ("purpose", found.purpose.clone(), asked.purpose.clone()),
        (
            "level",
            found.level.clone().unwrap_or_else(none),
            asked.level.clone().unwrap_or_else(none),
        ),
        (
            "day",
            found.on.clone().unwrap_or_else(own),
            asked.on.clone().unwrap_or_else(own),
        ),
    ];
    let differ = pairs.iter().filter(|(_, found, asked)| found != asked);
    let differ: Vec<String> = differ
        .map(|(what, found, asked)| format!("its {what} is {found}, asked was {asked}"))
        .collect();
    let message = format!(
        "{} was kept for another question: {}",
        quoted(name),
        differ.join("; ")
    );
    Trouble::one(
        Diagnostic::fault("vary.kept", message)
            .help("ask the same rule, row, limit, purpose, level and day, or read the fleet again with --fleet"),
    )
}
