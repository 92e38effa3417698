//! Where each thing stands on a certificate.
//!
//! The order is that of a reader at the desk: what it is and for whom, what was measured under which rules,
//! the statement, the items, the findings, what was not measured, with which instruments, what it does not
//! promise, who signs, and how to check the paper.

use std::borrow::Cow;

use super::super::face::Faces;
use super::super::layout::{
    Align, Block, Cell, Column, Field, Flow, Furniture, GAP, HEADING, LEAD, Page, Row, SMALL, STEP,
    Section, Setter, Span, TEXT, TEXT_BOLD, TITLE, Table, WIDTH, WriteBox, column_at, span,
    write_boxes,
};
use super::super::{PaperProblem, undrawable};
use super::{Certificate, Finding, Part, words};

/// A certificate on its pages.
pub(super) struct Laid {
    pub pages: Vec<Page>,
    pub notes: Vec<String>,
}

/// Lays the certificate out. Which characters can't be drawn is known when all is set; a note about them
/// then makes a second pass.
pub(super) fn compose(
    model: &Certificate,
    code: &str,
    faces: &Faces,
) -> Result<Laid, PaperProblem> {
    let mut setter = Setter::new(faces);
    let pages = lay(model, code, &[], &mut setter)?;
    if setter.missing().is_empty() {
        return Ok(Laid {
            pages,
            notes: Vec::new(),
        });
    }
    let notes = vec![undrawable(setter.missing())];
    let pages = lay(model, code, &notes, &mut Setter::new(faces))?;
    Ok(Laid { pages, notes })
}

fn lay(
    model: &Certificate,
    code: &str,
    extra_notes: &[String],
    setter: &mut Setter<'_>,
) -> Result<Vec<Page>, PaperProblem> {
    let mut flow = Flow::new();
    face(model, &mut flow, setter);
    rules(model, &mut flow, setter);
    statement(model, &mut flow, setter);
    items(model, &mut flow, setter);
    lists(model, &mut flow, setter);
    findings(model, &mut flow, setter);
    not_measured(model, &mut flow, setter);
    instruments(model, &mut flow, setter);
    notes(model, extra_notes, &mut flow, setter);
    validity(model, &mut flow, setter);
    signatures(model, code, &mut flow, setter);
    // A name that fills a line by itself stands on the face only.
    let name = if model.boat.name.chars().count() <= 40 {
        model.boat.name.as_str()
    } else {
        ""
    };
    let furniture = Furniture {
        identity: joined(
            &[
                &model.boat.sail_number,
                name,
                &format!("certificate {}", model.document.number),
                &format!("measured {}", model.document.measured_on),
                code,
            ],
            " · ",
        ),
    };
    flow.pages(setter, &furniture)
}

/// What it is and for whom.
fn face(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let (document, boat) = (&model.document, &model.boat);
    let (marks, steps) = setter.lines(0.0, 0, WIDTH, SMALL, &model.rules.authority);
    flow.push(Block {
        steps,
        marks,
        with_next: true,
        ..Block::default()
    });
    let room = WIDTH - setter.width(&model.title, TITLE) - STEP;
    if setter.width(&document.number, TITLE) <= room {
        let number = setter.line_to(WIDTH, 0, TITLE, &document.number);
        let mut title = setter.heading(TITLE, &model.title);
        title.marks.push(number);
        flow.push(title);
    } else {
        flow.push(setter.heading(TITLE, &model.title));
        flow.push(setter.heading(TITLE, &document.number));
    }
    let name = joined(&[&boat.sail_number, &boat.name], " · ");
    flow.push(setter.heading(HEADING, &name));
    flow.push(Block::rule());
    let built = joined(
        &[
            boat.built.as_deref().unwrap_or("not stated"),
            boat.built_proof.as_deref().unwrap_or_default(),
        ],
        ", ",
    );
    let issued = document.issued_on.as_deref().unwrap_or("as signed");
    let mut facts = vec![
        fact("Owner", &boat.owner, 2),
        fact("Measurer", &document.measurer, 2),
        fact("Measured on", &document.measured_on, 1),
        fact("Issued on", issued, 1),
        fact("Built", &built, 4),
    ];
    if let Some(first) = &document.first_issued {
        facts.push(fact("First issued on", first, 1));
    }
    if let Some(replaces) = &document.replaces {
        facts.push(fact("Replaces", replaces, 1));
    }
    for (label, value) in &boat.further {
        facts.push(fact(label, value, 4));
    }
    if let Some(temperature) = &document.temperature {
        facts.push(fact("Air temperature", temperature, 2));
    }
    flow.extend(setter.facts(&facts, TEXT));
}

/// What was measured under which rules and decision rule.
fn rules(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let rules = &model.rules;
    flow.push(Block::rule());
    let title = format!("{} {}", rules.title, rules.version);
    let mut facts = vec![
        fact("Class rules", &title, 2),
        fact("In force from", &rules.in_force_from, 1),
        fact("Replacing", rules.replaces.as_deref().unwrap_or("none"), 1),
        fact(
            "Class and digest",
            &format!("{} · {}", rules.class, short(&rules.digest)),
            2,
        ),
    ];
    if let Some(overlay) = &rules.overlay {
        let words = format!("{} · {}", overlay.event, short(&overlay.digest));
        facts.push(fact("Event and digest of its overlay", &words, 4));
    }
    flow.extend(setter.facts(&facts, TEXT));
    if let Some(words) = &rules.not_in_force {
        flow.extend(setter.paragraph(0.0, WIDTH, TEXT_BOLD, words));
    }
    if let Some(overlay) = &rules.overlay {
        for (n, change) in overlay.changes.iter().enumerate() {
            let (label, before) = if n == 0 {
                ("Changed for it", 1)
            } else {
                ("", 0)
            };
            flow.extend_after(before, setter.labelled(label, SMALL, change));
        }
    }
    let decision = format!(
        "{} Coverage probability {}.",
        model.decision.rule, model.decision.coverage_probability
    );
    flow.extend_after(1, setter.labelled("Decision rule", SMALL, &decision));
    for (n, (id, text)) in rules.interpretations.iter().enumerate() {
        let label = if n == 0 { "Interpretations" } else { "" };
        flow.extend(setter.labelled(label, SMALL, &format!("{id}: {text}")));
    }
    let rulings = rules.overlay.iter().flat_map(|overlay| &overlay.rulings);
    for (n, (id, text)) in rulings.enumerate() {
        let label = if n == 0 { "Rulings" } else { "" };
        flow.extend(setter.labelled(label, SMALL, &format!("{id}: {text}")));
    }
}

/// The statement in one sentence, and what it does not say.
fn statement(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    flow.push(Block::rule());
    let mut lines = vec![setter.lead(WIDTH, LEAD, &model.statement)];
    let mut says = setter.paragraph(0.0, WIDTH, TEXT, words::SAYS);
    if let Some(first) = says.first_mut() {
        first.before = 1;
    }
    lines.append(&mut says);
    lines.append(&mut setter.paragraph(0.0, WIDTH, TEXT_BOLD, words::SAYS_NOT));
    let count = lines.len();
    for line in lines.iter_mut().take(count.saturating_sub(1)) {
        line.with_next = true;
    }
    flow.extend(lines);
}

fn items(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let rows: Vec<Row> = model
        .items
        .iter()
        .map(|item| {
            vec![
                Cell::bold(&item.id),
                item.kind.as_str().into(),
                item.position.as_str().into(),
                item.marks.as_str().into(),
                covered(item.not_covered.as_deref()),
            ]
        })
        .collect();
    let table = Table {
        columns: vec![
            wide("Item", 22.0, Align::Left),
            wide("Kind", 54.0, Align::Left),
            wide("Position", 17.0, Align::Left),
            wide("Marks and labels", 41.0, Align::Left),
            wide("This certificate", 40.0, Align::Left),
        ],
    };
    let title = setter.heading(HEADING, "Items");
    table.set(flow, setter, 1, Some(title), &plain(rows));
}

/// Items of which little is measured: a table for each kind.
fn lists(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    const FIRST: f64 = 22.0;
    const LAST: f64 = 40.0;
    for list in &model.lists {
        let count = u32::try_from(list.columns.len()).unwrap_or(u32::MAX).max(1);
        let each = (WIDTH - FIRST - LAST) / f64::from(count);
        let mut columns = vec![wide("Item", FIRST, Align::Left)];
        let titles = list.columns.iter().cloned();
        columns.extend(titles.map(|title| wide(title, each, Align::Left)));
        columns.push(wide("This certificate", LAST, Align::Left));
        let rows = list.rows.iter().map(|row| {
            let mut cells = vec![Cell::bold(&row.id)];
            cells.extend(row.values.iter().map(|value| Cell::from(value.as_str())));
            cells.push(covered(row.not_covered.as_deref()));
            cells
        });
        let title = setter.heading(HEADING, &list.heading);
        Table { columns }.set(flow, setter, 1, Some(title), &plain(rows.collect()));
    }
}

fn covered(not_covered: Option<&str>) -> Cell {
    match not_covered {
        None => Cell::from("covered"),
        Some(why) => Cell::from(joined(&["not covered", why], ": ").as_str()),
    }
}

/// Width of the column of items where no name is longer than `S1`, `plank`, `F12`.
const ITEM: f64 = 12.5;

/// Findings by part of the rules: each clause once, its items beside it.
fn findings(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    // Long names of items are made room for, so that none breaks in each of its rows.
    let names = model.parts.iter().flat_map(|part| &part.findings);
    let longest = names
        .map(|finding| setter.width(&finding.item, SMALL))
        .fold(0.0, f64::max);
    let more = (longest + GAP - ITEM).clamp(0.0, 14.0);
    let table = Table {
        columns: vec![
            wide("Clause", 12.0, Align::Left),
            wide("Rule and requirement", 38.5 - 0.88 * more, Align::Left),
            wide("Item", ITEM + more, Align::Left),
            wide("Value ± U", 31.0, Align::Decimal),
            wide("k", 8.0, Align::Left),
            wide("Margin", 26.0, Align::Decimal),
            wide("Places", 12.0, Align::Left),
            wide("Deciding at", 19.5 - 0.12 * more, Align::Left),
            wide("Outcome", 14.5, Align::Left),
        ],
    };
    let sections: Vec<Section> = model.parts.iter().flat_map(part_sections).collect();
    let title = setter.heading(HEADING, "Findings");
    table.set(flow, setter, 1, Some(title), &sections);
    if !sections.is_empty() {
        flow.extend_after(1, setter.paragraph(0.0, WIDTH, SMALL, words::READING));
    }
}

/// Neighbouring findings of one clause with one requirement, as a section.
fn part_sections(part: &Part) -> Vec<Section> {
    part.findings
        .chunk_by(|a, b| {
            a.clause == b.clause && a.title == b.title && a.requirement == b.requirement
        })
        .enumerate()
        .map(|(n, same)| Section {
            part: if n == 0 {
                part.heading.clone()
            } else {
                String::new()
            },
            lead: same.first().map(lead).unwrap_or_default(),
            rows: same.iter().map(finding_row).collect(),
        })
        .collect()
}

/// The clause, and below its title what it asks.
fn lead(finding: &Finding) -> Vec<Vec<Cell>> {
    vec![
        vec![Cell::bold(&finding.clause)],
        vec![
            Cell::bold(&finding.title),
            Cell::from(finding.requirement.as_str()),
        ],
    ]
}

fn finding_row(finding: &Finding) -> Row {
    vec![
        finding.item.as_str().into(),
        finding.value.as_str().into(),
        finding.k.as_str().into(),
        finding.margin.as_str().into(),
        finding.places.as_str().into(),
        finding.deciding.as_str().into(),
        outcome(&finding.outcome),
    ]
}

/// Any other outcome than the one a certificate is for stands out.
fn outcome(words: &str) -> Cell {
    if words == "conforms" {
        Cell::from(words)
    } else {
        Cell::bold(words)
    }
}

fn not_measured(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let rows: Vec<Row> = model
        .not_measured
        .iter()
        .map(|gap| {
            vec![
                gap.clause.as_str().into(),
                gap.title.as_str().into(),
                gap.items.as_str().into(),
                gap.how.as_str().into(),
                gap.why.as_str().into(),
            ]
        })
        .collect();
    let table = Table {
        columns: vec![
            wide("Clause", 12.0, Align::Left),
            wide("What", 39.0, Align::Left),
            wide("Items", 41.0, Align::Left),
            wide("How", 24.0, Align::Left),
            wide("Why", 58.0, Align::Left),
        ],
    };
    let title = setter.heading(HEADING, "Not measured, not covered, does not apply");
    table.set(flow, setter, 1, Some(title), &plain(rows));

    let rows: Vec<Row> = model
        .grandfathered
        .iter()
        .map(|one| {
            vec![
                one.clause.as_str().into(),
                one.item.as_str().into(),
                one.basis.as_str().into(),
            ]
        })
        .collect();
    let table = Table {
        columns: vec![
            wide("Clause", 12.0, Align::Left),
            wide("Item", 19.0, Align::Left),
            wide("Basis and proof", 143.0, Align::Left),
        ],
    };
    let title = setter.heading(HEADING, "Accepted under an earlier rule");
    table.set(flow, setter, 1, Some(title), &plain(rows));
}

fn instruments(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let rows: Vec<Row> = model
        .instruments
        .iter()
        .map(|one| {
            vec![
                one.id.as_str().into(),
                one.kind.as_str().into(),
                one.serial.as_str().into(),
                one.calibrated.as_str().into(),
                one.due.as_str().into(),
                one.check_before.as_str().into(),
                one.check_after.as_str().into(),
            ]
        })
        .collect();
    let table = Table {
        columns: vec![
            wide("Instrument", 18.5, Align::Left),
            wide("Kind", 20.5, Align::Left),
            wide("Serial", 16.0, Align::Left),
            wide("Calibrated", 19.5, Align::Left),
            wide("Due", 19.5, Align::Left),
            wide("Check before", 40.0, Align::Left),
            wide("Check after", 40.0, Align::Left),
        ],
    };
    let title = setter.heading(HEADING, "Instruments");
    table.set(flow, setter, 1, Some(title), &plain(rows));
}

fn notes(model: &Certificate, extra: &[String], flow: &mut Flow, setter: &mut Setter<'_>) {
    flow.push(setter.heading(HEADING, "Record and notes").after(1));
    let record = joined(&[&model.record.name, &model.record.digest], ", sha256 ");
    flow.extend(setter.labelled("Record", SMALL, &record));
    let digest = format!("sha256 {}", model.rules.digest);
    flow.extend(setter.labelled("Class rules", SMALL, &digest));
    let all: Vec<String> = model.notes.iter().chain(extra).cloned().collect();
    for (n, note) in all.iter().enumerate() {
        let label = if n == 0 { "Notes" } else { "" };
        flow.extend(setter.labelled(label, SMALL, note));
    }
}

fn validity(model: &Certificate, flow: &mut Flow, setter: &mut Setter<'_>) {
    let validity = &model.validity;
    if validity.statement.is_empty() && validity.ends_when.is_empty() && model.cautions.is_empty() {
        return;
    }
    flow.push(setter.heading(HEADING, "Validity and cautions").after(1));
    flow.extend(setter.labelled("Validity", SMALL, &validity.statement));
    if !validity.ends_when.is_empty() {
        let mut lines = setter.labelled("", SMALL, words::ENDS);
        if let Some(last) = lines.last_mut() {
            last.with_next = true;
        }
        flow.extend(lines);
        let dashes = setter.dashes(column_at(1), span(5), &validity.ends_when);
        flow.extend(dashes);
    }
    for (n, caution) in model.cautions.iter().enumerate() {
        let label = if n == 0 { "Cautions" } else { "" };
        let lines = setter.labelled(label, SMALL, caution);
        flow.extend_after(u32::from(n == 0), lines);
    }
}

/// Signatures and the check code, on one page.
fn signatures(model: &Certificate, code: &str, flow: &mut Flow, setter: &mut Setter<'_>) {
    let mut blocks = vec![setter.heading(HEADING, "Signatures").after(1)];
    if !model.interest.is_empty() {
        blocks.extend(setter.labelled("Interest", SMALL, &model.interest));
    }
    blocks.extend(setter.labelled("Corrections", SMALL, words::CORRECTING));
    let sign = |who: &str, sentence: &str| WriteBox {
        heading: who.to_owned(),
        sentence: sentence.to_owned(),
        fields: vec![
            Field {
                label: "Place and day".to_owned(),
                lines: 1,
            },
            Field {
                label: "Signature".to_owned(),
                lines: 2,
            },
        ],
    };
    let mut boxes: Vec<WriteBox> = model
        .signatures
        .iter()
        .map(|one| sign(&one.who, &one.sentence))
        .collect();
    boxes.push(WriteBox {
        heading: model.rules.authority.clone(),
        sentence: String::new(),
        fields: vec![Field {
            label: "Stamp of the authority".to_owned(),
            lines: 3,
        }],
    });
    for block in write_boxes(setter, &boxes) {
        blocks.push(block.after(1));
    }
    let check = Block {
        steps: 2,
        marks: vec![
            setter.line(0.0, 1, SMALL, "Check code"),
            setter.line(column_at(1), 0, HEADING, code),
        ],
        before: 1,
        ..Block::default()
    };
    blocks.push(check);
    blocks.extend(setter.paragraph(column_at(1), span(5), SMALL, words::CODE));
    let made = format!("Made by {}.", model.made_by);
    blocks.extend(setter.paragraph(column_at(1), span(5), SMALL, &made));
    let count = blocks.len();
    for block in blocks.iter_mut().take(count.saturating_sub(1)) {
        block.with_next = true;
    }
    flow.extend(blocks);
}

fn fact(label: &str, value: &str, columns: u32) -> Span {
    Span {
        label: label.to_owned(),
        value: value.to_owned(),
        columns,
    }
}

fn wide(title: impl Into<Cow<'static, str>>, width: f64, align: Align) -> Column {
    Column {
        title: title.into(),
        width,
        align,
    }
}

/// Rows without a heading or a lead.
fn plain(rows: Vec<Row>) -> [Section; 1] {
    [Section {
        rows,
        ..Section::default()
    }]
}

/// The texts that are not empty, joined.
fn joined(texts: &[&str], between: &str) -> String {
    let texts: Vec<&str> = texts.iter().copied().filter(|t| !t.is_empty()).collect();
    texts.join(between)
}

/// The first twelve digits of a digest, in groups of four.
fn short(digest: &str) -> String {
    let digits: Vec<char> = digest.chars().take(12).collect();
    let groups: Vec<String> = digits.chunks(4).map(|four| four.iter().collect()).collect();
    groups.join(" ")
}
