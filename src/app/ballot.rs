//! The sheet that is voted on, written as a paper or as a page.

use std::path::{Path, PathBuf};

use crate::diagnostic::Diagnostic;
use crate::paper::ballot as paper;
use crate::report::{Ballot, Blank, Compared, Fleet, Part, Run, ballot, ballot_page};

use super::ending::{Named, ending};
use super::exit::Trouble;
use super::host::Host;
use super::library::joined;

/// As what a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Paper,
    Page,
}

/// A sheet that is voted on.
const SHEET: Named = Named {
    code: "usage.ballot",
    what: "a sheet",
    endings: &["pdf", "html", "htm"],
    refused: &[],
    example: "--ballot ballot.pdf",
};

fn form(out: &Path) -> Option<Form> {
    match ending(out).as_str() {
        "pdf" => Some(Form::Paper),
        "html" | "htm" => Some(Form::Page),
        _ => None,
    }
}

/// Whether sheets may be written under these names; to be asked before a proof that takes its time.
///
/// # Errors
/// Other endings than those of papers and pages.
pub fn ballot_files(all: &[PathBuf]) -> Result<(), Trouble> {
    let mut wrong: Option<Trouble> = None;
    for fault in all.iter().filter_map(|out| SHEET.fault(out)) {
        wrong = Some(joined(wrong, Trouble::one(fault)));
    }
    wrong.map_or(Ok(()), Err)
}

/// Writes the sheet into each file, whole or not at all. Gives what the person who prints it should know.
///
/// # Errors
/// What [`ballot_files`] refuses, a paper that can't be made, a write that did not succeed.
pub fn write_ballots(
    host: &dyn Host,
    compared: &Compared<'_>,
    fleet: Option<&Fleet<'_>>,
    all: &[PathBuf],
) -> Result<Vec<String>, Trouble> {
    ballot_files(all)?;
    let sheet = ballot(compared, fleet);
    let mut notes = Vec::new();
    for out in all {
        match form(out) {
            Some(Form::Page) => host.write(out, ballot_page(&sheet).as_bytes())?,
            Some(Form::Paper) => {
                let printed = paper::print(&model(&sheet)).map_err(|problem| {
                    Trouble::one(Diagnostic::fault("paper.ballot", problem.to_string()))
                })?;
                host.write(out, &printed.pdf)?;
                notes.extend(printed.notes);
            }
            None => {}
        }
    }
    Ok(notes)
}

/// The sheet as the paper takes it.
fn model(sheet: &Ballot) -> paper::Ballot {
    let side = |runs: &Option<Vec<Run>>, none: &str| match runs {
        Some(runs) => runs.iter().map(run).collect(),
        None => vec![paper::Run {
            text: none.to_owned(),
            marked: false,
        }],
    };
    let part = |part: &Part| match part {
        Part::Heading(words) => paper::Part::Heading(words.clone()),
        Part::Clause(words) => paper::Part::Clause(words.clone()),
        Part::Text(words) => paper::Part::Text(words.clone()),
        Part::Lead(words) => paper::Part::Lead(words.clone()),
        Part::List(all) => paper::Part::List(all.clone()),
        Part::Sides(sides) => paper::Part::Sides(
            sides
                .iter()
                .map(|one| {
                    let (was, is) = (side(&one.was, "not there"), side(&one.is, "gone"));
                    (one.what.clone(), [was, is])
                })
                .collect(),
        ),
        Part::Table(table) => paper::Part::Numbers(
            table.caption.clone(),
            table.heads.clone(),
            table.rows.clone(),
        ),
        Part::Copy(lines) => paper::Part::Copy(lines.clone()),
        Part::Boxes(boxes) => paper::Part::Boxes(boxes.iter().map(blank).collect()),
    };
    paper::Ballot {
        title: sheet.title.clone(),
        lead: sheet.lead.clone(),
        authority: sheet.authority.clone(),
        day: sheet.day.clone(),
        facts: sheet.facts.clone(),
        sides: sheet.sides.clone(),
        parts: sheet.parts.iter().map(part).collect(),
        made_by: concat!("rimegauge ", env!("CARGO_PKG_VERSION")).to_owned(),
    }
}

fn run(run: &Run) -> paper::Run {
    paper::Run {
        text: run.text.clone(),
        marked: run.differs,
    }
}

fn blank(blank: &Blank) -> paper::Blank {
    paper::Blank {
        heading: blank.heading.clone(),
        sentence: blank.sentence.clone(),
        fields: blank.fields.clone(),
    }
}
