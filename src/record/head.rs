//! The head of a record or form: format, class, day.

use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Faults};
use crate::quantity::Date;
use crate::text::{Entry, Node, Source, Span, quoted};
use crate::vocabulary::read;

/// The format line of this major version.
pub const FORMAT: &str = "rimegauge-record/1";

/// What has to be known of a record before the rules of its class can be found. Texts are those of the file.
#[derive(Clone, Debug)]
pub struct Head<'n> {
    /// The class: `tarn-8`.
    pub class: &'n str,
    /// Where the class stands.
    pub class_span: Span,
    /// The day of measuring, `measured.day`, with its place.
    pub day: Option<(Date, Span)>,
    /// What is wrong with that day, if it is there and can't be read. [`load`] says the same again, so that
    /// this is for callers that have no day from elsewhere.
    pub day_faults: Vec<Diagnostic>,
    /// The sail number with its place, if it is there.
    pub sail_number: Option<(&'n str, Span)>,
}

/// Reads the head of a record: format, class, day and sail number.
///
/// # Errors
/// A root that is no mapping, another format, a class that is missing or can't name one.
pub fn head<'n>(source: &Arc<Source>, node: &'n Node<'n>) -> Result<Head<'n>, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let found = head_of(source, node, &mut faults);
    faults.into_result(found)
}

impl Head<'_> {
    /// That no day is known for a check of the record.
    pub fn no_day(&self, source: &Arc<Source>) -> Diagnostic {
        Diagnostic::fault(
            "record.no_day",
            "the record does not say on which day it was measured",
        )
        .label(
            source,
            self.class_span,
            "the rules of this class change from day to day",
        )
        .help("write `measured: { day: 2026-11-21 }`, or give the day with --on")
    }

    /// That it is of another class than that of some rules.
    pub fn other_class(&self, source: &Arc<Source>, rules: &str) -> Diagnostic {
        let message = format!(
            "the record is of the class {}, the rules are those of {}",
            quoted(self.class),
            quoted(rules)
        );
        Diagnostic::fault("record.other_class", message).label(
            source,
            self.class_span,
            "this class",
        )
    }
}

/// The day on which a record of a class is checked: what `on` makes of its day of measuring.
///
/// # Errors
/// What is wrong with its head, another class, no day.
pub fn day_of_check(
    source: &Arc<Source>,
    node: &Node<'_>,
    class: &str,
    on: impl FnOnce(Option<Date>) -> Option<Date>,
) -> Result<Date, Vec<Diagnostic>> {
    let mut head = head(source, node)?;
    if head.class != class {
        return Err(vec![head.other_class(source, class)]);
    }
    match on(head.day.map(|(day, _)| day)) {
        Some(day) => Ok(day),
        None if !head.day_faults.is_empty() => Err(std::mem::take(&mut head.day_faults)),
        None => Err(vec![head.no_day(source)]),
    }
}

fn head_of<'n>(source: &Arc<Source>, node: &'n Node<'n>, faults: &mut Faults) -> Option<Head<'n>> {
    let entries = root(node, FORMAT, "a record", faults)?;
    let format = format_line(entries, node, FORMAT, "a record", faults);
    let class = class_of(entries, node, "a record", faults);
    format?;
    let (class, class_span) = class?;
    let mut day_faults = Faults::new(source);
    let day = node
        .get("measured")
        .and_then(|measured| measured.entry("day"))
        .and_then(|entry| {
            let day = read::day(&entry.node, Some(entry.key_span), "`day`", &mut day_faults)?;
            Some((day, entry.node.span))
        });
    let sail_number = node.get("boat").and_then(|boat| boat.get("sail_number"));
    let sail_number = sail_number.and_then(|node| node.as_text().map(|text| (text, node.span)));
    Some(Head {
        class,
        class_span,
        day,
        day_faults: day_faults.into_found(),
        sail_number,
    })
}

/// The entries at the root of a file.
pub(super) fn root<'n>(
    node: &'n Node<'n>,
    format: &str,
    what: &str,
    faults: &mut Faults,
) -> Option<&'n [Entry<'n>]> {
    let help = format!("{what} begins with `format: {format}`");
    if node.is_null() {
        faults.fault(
            "file.empty",
            node.span,
            "the file is empty",
            "nothing here",
            help,
        );
        return None;
    }
    let entries = node.as_mapping();
    if entries.is_none() {
        let message = format!(
            "{what} is written as keys with values; here stands {}",
            node.kind_in_words()
        );
        faults.fault(
            "file.shape",
            node.label_span(None),
            message,
            "not a mapping",
            help,
        );
    }
    entries
}

/// The format line; nothing if it is another format.
pub(super) fn format_line(
    entries: &[Entry<'_>],
    node: &Node<'_>,
    format: &str,
    what: &str,
    faults: &mut Faults,
) -> Option<()> {
    let help = format!("write `format: {format}`");
    let Some(entry) = entries.iter().find(|entry| entry.key == "format") else {
        let message = format!("{what} needs the key `format`");
        faults.fault(
            "file.missing_key",
            node.label_span(None),
            message,
            "no `format` here",
            help,
        );
        return None;
    };
    let text = entry.node.as_text().unwrap_or("");
    if text == format {
        return Some(());
    }
    let span = entry.node.label_span(Some(entry.key_span));
    let same_name = text.split_once('/').zip(format.split_once('/'));
    let message = match same_name {
        Some(((name, major), (ours, _))) if name == ours => {
            format!(
                "{what} of the format {} was read; this program knows {}",
                quoted(major),
                quoted(format)
            )
        }
        Some(_) | None if text.is_empty() => "the format is not said".to_owned(),
        Some(_) | None => format!("{} is not the format of {what}", quoted(text)),
    };
    faults.fault("file.format", span, message, "another format", help);
    None
}

/// The class a file belongs to.
pub(super) fn class_of<'n>(
    entries: &'n [Entry<'n>],
    node: &Node<'_>,
    what: &str,
    faults: &mut Faults,
) -> Option<(&'n str, Span)> {
    let Some(entry) = entries.iter().find(|entry| entry.key == "class") else {
        let message = format!("{what} needs the key `class`");
        faults.fault(
            "file.missing_key",
            node.label_span(None),
            message,
            "no `class` here",
            "write `class: tarn-8`",
        );
        return None;
    };
    let text = read::scalar(
        &entry.node,
        Some(entry.key_span),
        "`class`",
        "the name of a class",
        faults,
    )?;
    if !is_class(text) {
        let message = format!("{} can't name a class", quoted(text));
        let rule = "a class is written with small letters, digits and -";
        let words: Vec<String> = text
            .split(|c: char| !c.is_ascii_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_ascii_lowercase)
            .collect();
        let near = words.join("-");
        let help = if near.is_empty() || near.len() > 64 {
            rule.to_owned()
        } else {
            format!("{rule}: {near}")
        };
        faults.fault(
            "name.form",
            entry.node.label_span(Some(entry.key_span)),
            message,
            "not a class",
            help,
        );
        return None;
    }
    Some((text, entry.node.span))
}

/// Whether a text can name a class.
pub(super) fn is_class(text: &str) -> bool {
    let letter = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
    !text.is_empty() && text.len() <= 64 && text.bytes().all(letter)
}
