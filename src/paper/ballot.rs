//! The sheet that is voted on: old and new side by side, numbers, a boat that shows it, boxes for what people write.

use std::borrow::Cow;

use serde::Serialize;

use super::face::Faces;
use super::layout::{
    Align, Block, Cell, Column, Field, Flow, Furniture, GAP, HEADING, LEAD, Page, Row, SMALL,
    SMALL_BOLD, STEP, Section, Setter, Span, TEXT, TEXT_BOLD, TITLE, Table, WIDTH, Word, WriteBox,
    write_boxes,
};
use super::{PaperProblem, Printed, day_digits, pdf, undrawable};

/// What stands on the sheet, in ready-made words.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Ballot {
    /// What it is.
    pub title: String,
    /// Of which class, from which version to which.
    pub lead: String,
    /// Whose rules they are.
    pub authority: String,
    /// The day from which the new version is to count: `2026-11-01`.
    pub day: String,
    /// Small facts: a name and what it is.
    pub facts: Vec<(String, String)>,
    /// The heads of the two sides.
    pub sides: [String; 2],
    /// Everything else, from the top.
    pub parts: Vec<Part>,
    /// Which program made it.
    pub made_by: String,
}

/// A part of the sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Part {
    /// What the following is about.
    Heading(String),
    /// A clause.
    Clause(String),
    /// A paragraph.
    Text(String),
    /// A sentence that stays with what follows it.
    Lead(String),
    /// Short sentences, one below the other.
    List(Vec<String>),
    /// What was and what is to be: what it is, and both sides.
    Sides(Vec<(String, [Vec<Run>; 2])>),
    /// A caption, heads, and rows of a label and cells.
    Numbers(String, Vec<String>, Vec<(String, Vec<String>)>),
    /// Lines to be copied as they are.
    Copy(String),
    /// Boxes to write in, two abreast.
    Boxes(Vec<Blank>),
}

/// A piece of a text; all of them one after another are the text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Run {
    /// Whole words.
    pub text: String,
    /// Whether they are set apart.
    pub marked: bool,
}

/// A box to write in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Blank {
    /// What is written in it.
    pub heading: String,
    /// What should be known beside; empty for nothing.
    pub sentence: String,
    /// What each line is for, and how many lines of 8 mm it takes.
    pub fields: Vec<(String, u32)>,
}

/// Prints the sheet. The same model gives the same bytes.
///
/// # Errors
/// [`PaperProblem::Day`] when the day is no date, and those that mean a damaged build.
pub fn print(model: &Ballot) -> Result<Printed, PaperProblem> {
    let day = day_digits("the day from which the new version counts", &model.day)?;
    let faces = Faces::read()?;
    let mut setter = Setter::new(&faces);
    let mut pages = lay(model, &[], &mut setter)?;
    let mut notes = Vec::new();
    if !setter.missing().is_empty() {
        // A note about characters that can't be drawn makes a second pass.
        notes = vec![undrawable(setter.missing())];
        pages = lay(model, &notes, &mut Setter::new(&faces))?;
    }
    let mut identity = b"rimegauge-ballot/1\n".to_vec();
    // Structs of strings always have a JSON form.
    if let Ok(json) = serde_json::to_vec(model) {
        identity.extend(json);
    }
    let about = pdf::About {
        title: format!("{}: {}", model.title, model.lead),
        subject: model.lead.clone(),
        creator: model.made_by.clone(),
        created: day.clone(),
        modified: day,
        identity,
    };
    Ok(Printed {
        pdf: pdf::write(&pages, &faces, &about)?,
        pages: pages.len(),
        notes,
    })
}

fn lay(
    model: &Ballot,
    notes: &[String],
    setter: &mut Setter<'_>,
) -> Result<Vec<Page>, PaperProblem> {
    let mut flow = Flow::new();
    let (marks, steps) = setter.lines(0.0, 0, WIDTH, SMALL, &model.authority);
    flow.push(Block {
        steps,
        marks,
        with_next: true,
        ..Block::default()
    });
    flow.push(setter.heading(TITLE, &model.title));
    flow.push(setter.lead(WIDTH, LEAD, &model.lead).with_next());
    flow.push(Block::rule());
    let facts: Vec<Span> = model
        .facts
        .iter()
        .map(|(label, value)| Span {
            label: label.clone(),
            value: value.clone(),
            columns: 3,
        })
        .collect();
    flow.extend(setter.facts(&facts, TEXT));
    for (at, part) in model.parts.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|at| model.parts.get(at));
        one(model, part, before, &mut flow, setter);
        // What is said of both sides begins on the page on which they end.
        let next = model.parts.get(at + 1);
        if let (Part::Sides(_), Some(Part::Text(_) | Part::Lead(_))) = (part, next) {
            flow.hold();
        }
    }
    for note in notes {
        flow.extend_after(1, setter.paragraph(0.0, WIDTH, SMALL, note));
    }
    let made = format!("Made by {}.", model.made_by);
    flow.extend_after(1, setter.paragraph(0.0, WIDTH, SMALL, &made));
    let furniture = Furniture {
        identity: format!("{} · {}", model.title, model.lead),
    };
    flow.pages(setter, &furniture)
}

fn one(
    model: &Ballot,
    part: &Part,
    before: Option<&Part>,
    flow: &mut Flow,
    setter: &mut Setter<'_>,
) {
    match part {
        Part::Heading(words) => flow.push(setter.heading(HEADING, words).after(2)),
        Part::Clause(words) => flow.push(setter.heading(TEXT_BOLD, words).after(1)),
        Part::Text(words) => flow.extend_after(1, setter.paragraph(0.0, WIDTH, TEXT, words)),
        Part::Lead(words) => {
            flow.extend_after(1, setter.paragraph(0.0, WIDTH, TEXT, words));
            flow.hold();
        }
        Part::List(all) => {
            for one in all {
                let mut blocks = setter.paragraph(STEP, WIDTH - STEP, TEXT, one);
                let dash = setter.line(0.0, 0, TEXT, "–");
                if let Some(first) = blocks.first_mut() {
                    first.marks.insert(0, dash);
                }
                flow.extend_after(1, blocks);
            }
        }
        Part::Sides(sides) => {
            let air = u32::from(!matches!(before, Some(Part::Clause(_))));
            both(model, sides, air, flow, setter);
        }
        Part::Numbers(caption, heads, rows) => numbers(caption, heads, rows, flow, setter),
        Part::Copy(lines) => copy(lines, flow, setter),
        Part::Boxes(boxes) => {
            let boxes: Vec<WriteBox> = boxes.iter().map(write_box).collect();
            for block in write_boxes(setter, &boxes) {
                flow.push(block.after(1));
            }
        }
    }
}

fn write_box(blank: &Blank) -> WriteBox {
    WriteBox {
        heading: blank.heading.clone(),
        sentence: blank.sentence.clone(),
        fields: blank
            .fields
            .iter()
            .map(|(label, lines)| Field {
                label: label.clone(),
                lines: *lines,
            })
            .collect(),
    }
}

/// Width of what a row of both sides is.
const WHAT: f64 = 34.0;
/// Lines of a side that stand together: a longer text goes on in a row of its own, so that it can go on on another page.
const LINES: usize = 24;

/// Old and new side by side.
fn both(
    model: &Ballot,
    sides: &[(String, [Vec<Run>; 2])],
    before: u32,
    flow: &mut Flow,
    setter: &mut Setter<'_>,
) {
    let side = (WIDTH - WHAT) / 2.0;
    let [now, proposed] = &model.sides;
    let columns = [("", WHAT), (now.as_str(), side), (proposed.as_str(), side)];
    let table = Table {
        columns: columns
            .iter()
            .map(|(title, width)| Column {
                title: Cow::Owned((*title).to_owned()),
                width: *width,
                align: Align::Left,
            })
            .collect(),
    };
    // Rows of one line stand together; a rule is for the eye that comes back from a paragraph.
    let mut sections: Vec<Section> = Vec::new();
    let mut short_before = false;
    for (what, both) in sides {
        let (rows, short) = rows_of(what, both, side, setter);
        match sections.last_mut() {
            Some(last) if short && short_before => last.rows.extend(rows),
            Some(_) | None => sections.push(Section {
                rows,
                ..Section::default()
            }),
        }
        short_before = short;
    }
    table.set_airy(flow, setter, before, None, &sections);
}

/// A pair of texts as rows of few lines each, and whether they are one line.
fn rows_of(
    what: &str,
    sides: &[Vec<Run>; 2],
    width: f64,
    setter: &mut Setter<'_>,
) -> (Vec<Row>, bool) {
    let mut highest = setter.wrap(what, SMALL_BOLD, WHAT - GAP).len();
    let [was, is] = sides.each_ref().map(|runs| {
        let words = words(runs, setter);
        let lines = setter.wrap_words(&words, width - GAP);
        highest = highest.max(lines.len());
        let pieces: Vec<Vec<Word>> = lines.chunks(LINES).map(<[_]>::concat).collect();
        pieces
    });
    let count = was.len().max(is.len()).max(1);
    let rows = (0..count)
        .map(|at| {
            let piece = |all: &[Vec<Word>]| match all.get(at) {
                Some(words) => Cell::marked(words),
                None => "".into(),
            };
            let label = if at == 0 { Cell::bold(what) } else { "".into() };
            vec![label, piece(&was), piece(&is)]
        })
        .collect();
    (rows, highest <= 1)
}

/// The words of a text as they can be drawn.
fn words(runs: &[Run], setter: &mut Setter<'_>) -> Vec<Word> {
    let mut all = Vec::new();
    for run in runs {
        let clean = setter.clean(&run.text);
        all.extend(clean.split_whitespace().map(|word| Word {
            text: word.to_owned(),
            marked: run.marked,
        }));
    }
    all
}

/// Width of a column of numbers, with the blank to the next.
const NUMBER: f64 = 21.0;

fn numbers(
    caption: &str,
    heads: &[String],
    rows: &[(String, Vec<String>)],
    flow: &mut Flow,
    setter: &mut Setter<'_>,
) {
    let count = heads.len().saturating_sub(1);
    #[expect(clippy::cast_precision_loss, reason = "a table has few columns")]
    let wide = NUMBER.min((WIDTH - 40.0) / count.max(1) as f64);
    #[expect(clippy::cast_precision_loss, reason = "a table has few columns")]
    let first = WIDTH - wide * count as f64;
    let columns = heads.iter().enumerate().map(|(at, head)| Column {
        title: Cow::Owned(head.clone()),
        width: if at == 0 { first } else { wide },
        align: if at == 0 { Align::Left } else { Align::Right },
    });
    let table = Table {
        columns: columns.collect(),
    };
    let rows = rows.iter().map(|(label, cells)| {
        let cells = cells.iter().map(|cell| cell.as_str().into());
        std::iter::once(Cell::from(label.as_str()))
            .chain(cells)
            .collect()
    });
    let section = Section {
        rows: rows.collect(),
        ..Section::default()
    };
    let title = setter.heading(TEXT_BOLD, caption);
    table.set_airy(flow, setter, 1, Some(title), &[section]);
}

/// Width of a blank at the beginning of a line that is copied.
const BLANK: f64 = 1.7;

/// Lines of a record that stay on one page; of more the first and the last few do.
const TOGETHER: usize = 24;

/// Lines as they are: each begins as far in as its blanks say.
fn copy(lines: &str, flow: &mut Flow, setter: &mut Setter<'_>) {
    let mut blocks = Vec::new();
    for line in lines.lines() {
        let blanks = line.len() - line.trim_start_matches(' ').len();
        #[expect(clippy::cast_precision_loss, reason = "a line has few blanks")]
        let x = (STEP + blanks as f64 * BLANK).min(WIDTH / 2.0);
        blocks.extend(setter.paragraph(x, WIDTH - x, SMALL, line.trim()));
    }
    let count = blocks.len();
    for (at, block) in blocks.iter_mut().enumerate() {
        let inside = at + 1 < count;
        block.with_next |= inside && (count <= TOGETHER || at < 3 || at + 4 > count);
    }
    flow.extend_after(1, blocks);
}
