//! The report for a person at a terminal: the least settled first, columns aligned on the decimal point.

use std::cmp::Ordering;

use crate::check::{Finding, Outcome, Reason};
use crate::diagnostic::{DrawOptions, draw, safe_line};
use crate::rules::Caution;

use super::budget::{budget_table, budgets};
use super::checked::{Checked, Counts};
use super::labels::Labels;
use super::layout::{Column, flow, pad, width_of, wrap};
use super::message::{Message, base_name, settled};
use super::parts::Figure;
use super::printer::Options;
use super::standing::Said;
use super::{details, words};

/// Between pieces that flow.
const DOT: &str = " · ";
/// Between columns of figures.
const GAP: &str = "   ";
/// The width of the longest outcome, with its gap.
const OUTCOME: usize = 18;
/// Wider lists of items stand on a line of their own.
const ITEM: usize = 14;

/// `Tarn 8 Class Rules 3.1.0, in force from 2026-11-01`
pub(super) fn rules_line(checked: &Checked) -> String {
    let rules = &checked.rules;
    let title = safe_line(&rules.title);
    let (version, from) = (&rules.version, rules.in_force_from);
    match rules.status {
        crate::rules::Status::Adopted => format!("{title} {version}, in force from {from}"),
        crate::rules::Status::Draft => format!("{title} {version}, a draft"),
        crate::rules::Status::Proposed => format!("{title} {version}, proposed"),
        crate::rules::Status::Repealed => format!("{title} {version}, repealed"),
    }
}

/// `T8 41  Nightjar`
pub(super) fn boat(checked: &Checked) -> String {
    let number = safe_line(&checked.record.sail_number);
    match checked.record.boat_name.as_deref().map(safe_line) {
        Some(name) if !name.is_empty() => format!("{number}  {name}"),
        _ => number.into_owned(),
    }
}

/// `self-check on 2026-11-21, continental event`
pub(super) fn occasion(checked: &Checked) -> String {
    let purpose = checked.purpose.words();
    let level = checked
        .level_name()
        .map_or(String::new(), |level| format!(", {level} event"));
    format!("{purpose} on {}{level}", checked.day)
}

/// Whether a record of many is kept to one line.
fn is_one_line(checked: &Checked, options: &Options, shown: &[Message]) -> bool {
    options.many && !options.all && shown.is_empty() && checked.own_notes().is_empty()
}

/// The rules and the purpose, above the records of many.
pub(super) fn rules_heading(checked: &Checked, options: &Options) -> String {
    let mut lines = flow(
        &[rules_line(checked), checked.purpose.words().to_owned()],
        DOT,
        options.width,
    );
    for note in checked.rules_notes() {
        lines.extend(wrap(&note, options.width));
    }
    ended(&lines)
}

/// A record with its findings, and whether it takes more than a line.
pub(super) fn record(checked: &Checked, options: &Options) -> (String, bool) {
    let shown = Message::some(checked, options.all);
    let mut lines = Vec::new();
    let source = safe_line(checked.record.source.name()).into_owned();
    let line = checked
        .record
        .source
        .line_column(checked.record.span.start)
        .line;
    let source = if checked.digest.is_none() {
        format!("{source}:{line}")
    } else {
        source
    };
    let outcome = checked.verdict.outcome;
    if is_one_line(checked, options, &shown) {
        let mut pieces = vec![boat(checked), base_name(&source).to_owned()];
        pieces.push(checked.counts().pieces().join(", "));
        pieces.extend(checked.old_names());
        for (at, text) in flow(&pieces, DOT, options.width.saturating_sub(OUTCOME))
            .into_iter()
            .enumerate()
        {
            let first = pad(if at == 0 { outcome.words() } else { "" }, OUTCOME);
            lines.push(format!("{}{text}", painted(&first, outcome, options)));
        }
        return (ended(&lines), false);
    }
    let said = painted(outcome.words(), outcome, options);
    let name = boat(checked);
    if width_of(&name) + width_of(DOT) + outcome.words().len() <= options.width {
        lines.push(format!("{name}{DOT}{said}"));
    } else {
        lines.extend(wrap(&name, options.width));
        lines.push(said);
    }
    let about = if options.many {
        vec![source, occasion(checked)]
    } else {
        vec![source, rules_line(checked), occasion(checked)]
    };
    lines.extend(flow(&about, DOT, options.width));
    // Of many, what there is to know of the rules stands above them.
    let of_rules = if options.many {
        Vec::new()
    } else {
        checked.rules_notes()
    };
    let notes = of_rules
        .into_iter()
        .chain(checked.own_notes())
        .chain(checked.old_names())
        .chain(checked.work_notes());
    for note in notes {
        lines.extend(wrap(&note, options.width));
    }
    let shown: Vec<&Message> = shown.iter().collect();
    if !shown.is_empty() {
        lines.push(String::new());
        if options.details {
            lines.push(drawn(&shown, options));
        } else {
            lines.extend(Table::of(&shown, options).lines());
        }
        lines.extend(tables(&shown, options));
    }
    if shown.is_empty() && !options.many {
        let nearest = nearest(checked);
        let nearest: Vec<&Message> = nearest.iter().collect();
        if !nearest.is_empty() {
            lines.push(String::new());
            lines.push("Nearest to a limit:".to_owned());
            lines.extend(Table::of(&nearest, options).lines());
            lines.extend(tables(&nearest, options));
        }
    }
    lines.push(String::new());
    lines.extend(flow(&checked.counts().pieces(), DOT, options.width));
    (ended(&lines), true)
}

/// The budgets of findings, where they were asked for, in the order of the findings.
fn tables(shown: &[&Message], options: &Options) -> Vec<String> {
    let mut sorted = shown.to_vec();
    sorted.sort_by(|a, b| order(a, b));
    let mut lines = Vec::new();
    for budget in budgets(sorted.into_iter()) {
        lines.push(String::new());
        lines.extend(budget_table(budget, options.width, options.all));
    }
    lines
}

/// How many findings are shown of a record in which everything conforms.
const NEAREST: usize = 4;

/// What conforms with the least margin for its uncertainty: the first to look at again.
fn nearest(checked: &Checked) -> Vec<Message> {
    let mut found: Vec<(f64, &Finding)> = Vec::new();
    for finding in &checked.verdict.findings {
        let settled = settled(finding);
        if finding.outcome == Outcome::Conforms && settled.is_finite() {
            found.push((settled, finding));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let labels = Labels::of(&checked.record, &checked.rules);
    found
        .into_iter()
        .take(NEAREST)
        .map(|(_, finding)| Message::of(checked, &labels, finding))
        .collect()
}

/// Totals of many records, and the cautions.
pub(super) fn end(
    options: &Options,
    records: Counts,
    not_read: usize,
    cautions: &[Caution],
) -> String {
    let mut lines = Vec::new();
    if options.many {
        let total = records.total();
        let s = if total == 1 { "" } else { "s" };
        let mut pieces = vec![format!("{total} record{s}")];
        pieces.extend(records.pieces());
        if not_read > 0 {
            pieces.push(format!("{not_read} not read"));
        }
        lines.push(String::new());
        lines.extend(flow(&pieces, DOT, options.width));
    }
    lines.extend(wrap(&caution_line(cautions), options.width));
    ended(&lines)
}

/// `This says nothing about safety. Edges are sharp: guards on.`
pub(super) fn caution_line(cautions: &[Caution]) -> String {
    let mut said: Vec<Caution> = cautions.to_vec();
    if !said.contains(&Caution::ComplianceIsNotSafety) {
        said.push(Caution::ComplianceIsNotSafety);
    }
    said.sort_by_key(|caution| *caution != Caution::ComplianceIsNotSafety);
    said.into_iter()
        .map(words::caution)
        .collect::<Vec<_>>()
        .join(" ")
}

fn ended(lines: &[String]) -> String {
    let mut text = String::new();
    for line in lines {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Outcomes in three colours at most, for those who may have them; the words say the same.
fn painted(text: &str, outcome: Outcome, options: &Options) -> String {
    if !options.colour {
        return text.to_owned();
    }
    let code = match outcome {
        Outcome::DoesNotConform => "31",
        Outcome::NotDecided => "33",
        Outcome::Conforms => "32",
        Outcome::NotApplicable => return text.to_owned(),
    };
    format!("\u{1b}[{code}m{text}\u{1b}[0m")
}

fn drawn(messages: &[&Message], options: &Options) -> String {
    let mut sorted = messages.to_vec();
    sorted.sort_by(|a, b| order(a, b));
    let draw_options = DrawOptions {
        width: options.width,
        colour: options.colour,
        ..DrawOptions::default()
    };
    // One by one, so that the order stays that of the report.
    let drawn: Vec<String> = sorted
        .into_iter()
        .map(|message| {
            draw(&[details::diagnostic(message)], draw_options)
                .trim_end()
                .to_owned()
        })
        .collect();
    drawn.join("\n\n")
}

/// The order of findings: worst first; of these the least settled first, by how many times its U the value
/// lies from the limit; then what has no U, then what has no value.
pub(super) fn order(a: &Message, b: &Message) -> Ordering {
    let outcome = a.outcome.cmp(&b.outcome);
    let settled = a.settled.total_cmp(&b.settled);
    let value = |message: &Message| message.figures.value.is_none();
    outcome.then(settled).then(value(a).cmp(&value(b)))
}

/// Findings that say the same about several items are one entry, and so are the two sides of a limit that
/// say the same.
struct Entry<'m> {
    message: &'m Message,
    others: Vec<&'m Message>,
    /// Both sides of the limit, where the entry stands for both.
    both: Option<Figure>,
}

impl<'m> Entry<'m> {
    fn joins(&self, other: &Message) -> bool {
        let first = self.message;
        let alike = (
            &first.rule,
            &first.title,
            first.outcome,
            first.reason,
            &first.settle,
        ) == (
            &other.rule,
            &other.title,
            other.outcome,
            other.reason,
            &other.settle,
        );
        let same_words = (
            &first.why,
            &first.places,
            &first.elsewhere,
            &first.exemption,
            &first.remarks,
        ) == (
            &other.why,
            &other.places,
            &other.elsewhere,
            &other.exemption,
            &other.remarks,
        );
        alike && same_words && first.notes == other.notes
    }

    /// Takes in a finding that says the same of another item, or of the other side of the limit.
    fn takes(&mut self, other: &'m Message) -> bool {
        let first = self.message;
        if !self.joins(other) {
            return false;
        }
        let without_value = first.figures.value.is_none() && other.figures.value.is_none();
        if without_value && first.side == other.side {
            self.others.push(other);
            return true;
        }
        // Two sides of one limit: what does not conform on one side stays apart.
        let same_reading = first.item_path == other.item_path
            && first.place == other.place
            && first.figures.value == other.figures.value;
        let sides = (first.side, other.side) == (Some("lower"), Some("upper"));
        let settled =
            first.outcome != Outcome::DoesNotConform && first.reason != Some(Reason::NearLimit);
        let (Some(low), Some(high)) = (&first.figures.limit, &other.figures.limit) else {
            return false;
        };
        if !(same_reading && sides && settled && self.others.is_empty() && self.both.is_none()) {
            return false;
        }
        let number = |figure: &Figure| {
            Figure {
                before: String::new(),
                ..figure.clone()
            }
            .text()
        };
        let words = match (low.before.as_str(), high.before.as_str()) {
            ("at least", "at most") => format!("from {} to {}", low.number, number(high)),
            _ => format!("{}, {}", low.text(), high.text()),
        };
        self.both = Some(Figure::words(words));
        if other.margin_size < first.margin_size {
            self.message = other;
        }
        true
    }

    fn items(&self) -> String {
        let all = std::iter::once(self.message).chain(self.others.iter().copied());
        all.map(|message| message.item.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    }

    /// The figures, without a limit that is not that of all.
    fn figures(&self) -> [Option<&Figure>; 3] {
        let figures = &self.message.figures;
        let same = self
            .others
            .iter()
            .all(|other| other.figures.limit == figures.limit);
        let limit = self.both.as_ref().or(figures.limit.as_ref());
        [
            figures.value.as_ref(),
            limit.filter(|_| same),
            figures.margin.as_ref(),
        ]
    }
}

struct Table<'m> {
    entries: Vec<Entry<'m>>,
    options: Options,
    item: usize,
    clause: usize,
    columns: [Column; 3],
    /// Everything of an entry's head and figures stands on one line.
    one_line: bool,
    title: usize,
    indent: usize,
}

impl<'m> Table<'m> {
    fn of(messages: &[&'m Message], options: &Options) -> Table<'m> {
        let mut sorted = messages.to_vec();
        sorted.sort_by(|a, b| order(a, b));
        let mut entries: Vec<Entry<'m>> = Vec::new();
        for message in sorted {
            if !entries.iter_mut().any(|entry| entry.takes(message)) {
                entries.push(Entry {
                    message,
                    others: Vec::new(),
                    both: None,
                });
            }
        }
        let widest =
            |width: &dyn Fn(&Entry<'m>) -> usize| entries.iter().map(width).max().unwrap_or(0);
        let item = widest(&|entry| width_of(&entry.items())).min(ITEM);
        let clause = widest(&|entry| entry.message.clause.as_deref().map_or(0, width_of));
        let title = widest(&|entry| width_of(&entry.message.title));
        let column = |at: usize| {
            let figures: Vec<&Figure> = entries
                .iter()
                .filter_map(|entry| entry.figures().get(at).copied().flatten())
                .collect();
            Column::of(figures.into_iter())
        };
        let [value, limit, margin] = [column(0), column(1), column(2)];
        let indent = if options.width >= 72 { OUTCOME } else { 4 };
        let head = OUTCOME + item + 2 + clause + 2 + title + GAP.len();
        let aligned = [value, limit, margin];
        let ways = [
            aligned,
            [value, limit, margin.flush_left()],
            [value, limit.flush_left(), margin.flush_left()],
        ];
        let fits = |columns: &[Column; 3], room: usize| {
            entries
                .iter()
                .all(|entry| width_of(set(columns, entry.figures()).trim_end()) <= room)
        };
        let one_line = head < options.width && fits(&aligned, options.width - head);
        let room = options.width.saturating_sub(indent);
        let columns = ways
            .into_iter()
            .find(|columns| fits(columns, room))
            .unwrap_or(aligned);
        Table {
            item,
            clause,
            columns,
            one_line,
            title,
            indent,
            options: *options,
            entries,
        }
    }

    fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        for (at, entry) in self.entries.iter().enumerate() {
            // Entries of several lines are parted; one-line ones stand close.
            let wanted = self.entry(entry);
            if at > 0 && wanted.len() > 1 {
                lines.push(String::new());
            }
            lines.extend(wanted);
        }
        lines
    }

    fn entry(&self, entry: &Entry<'m>) -> Vec<String> {
        let message = entry.message;
        let items = entry.items();
        let many = width_of(&items) > self.item;
        let item = match many {
            true if entry.others.is_empty() => String::new(),
            true => format!("{} items", entry.others.len() + 1),
            false => items.clone(),
        };
        let clause = message.clause.as_deref().unwrap_or("");
        let head = format!("{}  {}", pad(&item, self.item), pad(clause, self.clause));
        let head = if self.clause == 0 {
            format!("{}  ", pad(&item, self.item))
        } else {
            format!("{head}  ")
        };
        let outcome = painted(
            &pad(message.outcome.words(), OUTCOME),
            message.outcome,
            &self.options,
        );
        let mut lines = Vec::new();
        let figures = entry.figures();
        let room = self.options.width.saturating_sub(OUTCOME + width_of(&head));
        if self.one_line {
            let set = set(&self.columns, figures);
            lines.push(format!(
                "{outcome}{head}{}{GAP}{set}",
                pad(&message.title, self.title)
            ));
        } else {
            for (at, title) in wrap(&message.title, room).into_iter().enumerate() {
                match at {
                    0 => lines.push(format!("{outcome}{head}{title}")),
                    _ => lines.push(format!("{}{title}", pad("", OUTCOME + width_of(&head)))),
                }
            }
        }
        let mut below = Vec::new();
        let width = self.options.width.saturating_sub(self.indent);
        if many {
            below.extend(wrap(&items, width));
        }
        if !self.one_line && figures.iter().any(Option::is_some) {
            let set = set(&self.columns, figures);
            if width_of(set.trim_end()) <= width {
                below.push(set);
            } else {
                let pieces: Vec<String> = figures.into_iter().flatten().map(Figure::text).collect();
                below.extend(flow(&pieces, GAP, width));
            }
        }
        below.extend(flow(&said(message), DOT, width));
        below.extend(flow(&places(entry), DOT, width));
        if let Some(remedy) = &message.remedy {
            below.extend(wrap(remedy, width));
        }
        let indent = pad("", self.indent);
        lines.extend(below.into_iter().map(|line| format!("{indent}{line}")));
        lines
    }
}

/// Value, limit and margin in their columns.
fn set(columns: &[Column; 3], figures: [Option<&Figure>; 3]) -> String {
    let set: Vec<String> = columns
        .iter()
        .zip(figures)
        .filter(|(column, _)| column.width() > 0)
        .map(|(column, figure)| column.set(figure))
        .collect();
    set.join(GAP)
}

/// Why it is so, what would settle it, and what others say.
fn said(message: &Message) -> Vec<String> {
    let mut pieces = Vec::new();
    let why = message
        .why
        .clone()
        .filter(|_| message.reason != Some(Reason::NotMeasured) || message.settle.is_none());
    let settled = [why, message.places.clone(), message.settle.clone()];
    let settled: Vec<String> = settled.into_iter().flatten().collect();
    if message.reason == Some(Reason::NotMeasured) && message.settle.is_some() {
        pieces.push(format!("not measured: {}", settled.join("; ")));
    } else {
        pieces.push(settled.join("; "));
    }
    pieces.extend(
        message
            .exemption
            .as_ref()
            .map(|because| format!("other limit: {because}")),
    );
    pieces.extend(message.elsewhere.iter().cloned());
    pieces.extend(message.remarks.iter().cloned());
    pieces.extend(message.notes.iter().cloned());
    pieces.extend(message.said.iter().map(Said::short));
    pieces
}

/// Where it stands: on the item, in the record, in the rules.
fn places(entry: &Entry<'_>) -> Vec<String> {
    let message = entry.message;
    let mut pieces: Vec<String> = message.coverage.iter().cloned().collect();
    pieces.extend(message.place.iter().cloned());
    let record = safe_line(&message.record_at.short()).into_owned();
    pieces.push(match entry.others.len() {
        0 => record,
        more => format!("{record} and {more} more"),
    });
    pieces.push(format!("rule {}", safe_line(&message.rules_at.short())));
    pieces
}
