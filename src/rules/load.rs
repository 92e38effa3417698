//! A rules file from text to the typed model: everything that is wrong with it, at once.

use std::collections::BTreeMap;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::load_derived;
use super::load_head::head;
use super::load_interpretations;
use super::load_marks;
use super::load_rule;
use super::load_words;
use super::model::*;
use super::schema;
use crate::diagnostic::{Diagnostic, Faults, Fields};
use crate::text::{self, Entry, Node, Source, Span, quoted};
use crate::vocabulary::{self, Name, Vocabulary, read};

/// The format line of this major version.
pub const FORMAT: &str = "rimegauge-rules/1";

/// `sha256:` and the digest of some bytes in hexadecimal.
pub fn digest(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    let mut text = String::with_capacity(71);
    text.push_str("sha256:");
    for byte in hash {
        text.push_str(&format!("{byte:02x}"));
    }
    text
}

/// Loads a rules file; `name` is what messages call it.
///
/// # Errors
/// Every fault of the text, the schema and the meaning, in the order of the file.
pub fn load(name: &str, bytes: &[u8]) -> Result<RulesFile, Vec<Diagnostic>> {
    let source =
        text::decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = text::parse_yaml(&source)
        .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
    load_tree(&source, &node, digest(bytes))
}

/// Loads a rules file that is not of this program: its JSON Schema is asked as well, and what either of them
/// finds is told at once.
///
/// # Errors
/// As [`load`].
pub fn load_by_schema(name: &str, bytes: &[u8]) -> Result<RulesFile, Vec<Diagnostic>> {
    let source =
        text::decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = text::parse_yaml(&source)
        .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
    let typed = load_tree(&source, &node, digest(bytes));
    // What the schema of rules says of another kind of file helps nobody.
    let format = node.get("format").and_then(Node::as_text);
    let of_rules = format.is_none_or(|format| format == FORMAT);
    match schema::schema_of_rules().filter(|_| of_rules) {
        Some(schema) => schema.beside(&source, &node, typed),
        None => typed,
    }
}

/// Loads a rules file from its tree; `digest` is that of its bytes.
///
/// # Errors
/// As [`load`].
pub fn load_tree(
    source: &Arc<Source>,
    node: &Node<'_>,
    digest: String,
) -> Result<RulesFile, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let file = rules_file(source, node, digest, &mut faults);
    faults.into_result(file)
}

fn rules_file(
    source: &Arc<Source>,
    node: &Node<'_>,
    digest: String,
    faults: &mut Faults,
) -> Option<RulesFile> {
    if node.is_null() {
        faults.fault(
            "file.empty",
            node.span,
            "the file is empty",
            "",
            format!("a rules file begins with `format: {FORMAT}`"),
        );
        return None;
    }
    if node.as_mapping().is_none() {
        faults.fault(
            "file.shape",
            node.label_span(None),
            format!(
                "a rules file is written as keys with values; here stands {}",
                node.kind_in_words()
            ),
            "not a mapping",
            format!("a rules file begins with `format: {FORMAT}`"),
        );
        return None;
    }
    let mut fields = Fields::of(node, "a rules file", None, faults)?;
    // Nothing that is said of another kind of file by the words of this one would help.
    format_line(&mut fields, FORMAT, faults)?;
    let head = head(&mut fields, faults);
    let events_may_change = fields.take("events_may_change", faults);
    let cautions = fields
        .take("cautions", faults)
        .map(|entry| cautions(entry, faults))
        .unwrap_or_default();
    let renamed = fields.take("renamed", faults);
    let event = fields.take("event", faults);
    let equipment = fields.require("equipment", faults);
    let rules = fields.require("rules", faults);
    let marks = fields.take("marks", faults);
    let interpretations = fields.take("interpretations", faults);
    let words = fields.take("words", faults);
    fields.finish(faults);

    let before = faults.len();
    let mut vocabulary = vocabulary::load(equipment?, event, faults);
    let sound = faults.len() == before;
    if vocabulary.parts.is_empty() {
        return None;
    }
    if let Some(entry) = renamed {
        vocabulary.renamed = vocabulary::load_renamed(entry, &vocabulary, sound, faults);
    }
    reserved_names(&vocabulary, faults);
    let derived = load_derived::load(&vocabulary, equipment?, faults);
    let context = load_rule::Context {
        vocabulary: &vocabulary,
        derived: &derived,
        sound,
    };
    // A rule that could not be read is one all the same: what names it is not at fault.
    let known: Vec<&str> = [rules, marks]
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.node.as_sequence())
        .flatten()
        .filter_map(|node| node.get("id")?.as_text())
        .collect();
    let rules = rules
        .map(|entry| load_rule::rules(entry, &context, faults))
        .unwrap_or_default();
    let marks = marks
        .map(|entry| load_marks::marks(entry, &context, faults))
        .unwrap_or_default();
    ids_used_once(&rules, &marks, faults);
    let events_may_change = events_may_change
        .map(|entry| rule_names(entry, &known, faults))
        .unwrap_or_default();
    let interpretations = interpretations
        .map(|entry| load_interpretations::interpretations(entry, &known, faults))
        .unwrap_or_default();
    if let (Some(entry), Some(head)) = (words, &head)
        && head.replaces.is_none()
    {
        faults.fault(
            "words.replaces",
            entry.key_span,
            "words are declared, and the file names no version that it replaces",
            "changed against which version?",
            "name the version before: `replaces: 3.0.0`",
        );
    }
    let words = words
        .map(|entry| load_words::words(entry, &vocabulary, faults))
        .unwrap_or_default();
    let head = head?;
    let derived = load_derived::complete(derived)?;
    Some(RulesFile {
        source: Arc::clone(source),
        digest,
        class: head.class,
        title: head.title,
        version: head.version,
        version_span: head.version_span,
        status: head.status,
        replaces: head.replaces,
        in_force_from: head.in_force_from,
        authority: head.authority,
        silence: head.silence,
        decision: head.decision,
        vocabulary,
        derived,
        rules,
        marks,
        interpretations,
        words,
        cautions,
        events_may_change,
        repealed_on: head.repealed_on,
        overlay: None,
    })
}

/// Reads the `format` line of a file.
///
/// Nothing where the file says that it has another format; a file that says none is read as this one.
pub fn format_line(fields: &mut Fields<'_, '_>, format: &str, faults: &mut Faults) -> Option<()> {
    let Some((text, node)) = fields.require_text("format", faults) else {
        return Some(());
    };
    if text != format {
        let (message, help) = match (kind_of(text), kind_of(format)) {
            (Some(is), Some(asked)) if is != asked => (
                format!("this file is {is}; {asked} is asked here"),
                format!("name a file that begins with `format: {format}`"),
            ),
            _ => (
                format!(
                    "this program reads {}; the file says {}",
                    quoted(format),
                    quoted(text)
                ),
                format!("write `format: {format}`"),
            ),
        };
        faults.fault("file.format", node.span, message, "another format", help);
        return None;
    }
    Some(())
}

/// The kind of file that a format line of this program says, in words.
fn kind_of(format: &str) -> Option<&'static str> {
    let kinds = [
        ("rimegauge-rules/", "a rules file"),
        ("rimegauge-overlay/", "an overlay of an event"),
        ("rimegauge-record/", "a record"),
        ("rimegauge-form/", "a form"),
        ("rimegauge-cases/", "a file of cases"),
    ];
    let kind = kinds.iter().find(|(begins, _)| format.starts_with(begins));
    kind.map(|(_, words)| *words)
}

fn cautions(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Caution> {
    items(entry, faults)
        .iter()
        .filter_map(|node| {
            let text = read::scalar(node, None, "a caution", "a name", faults)?;
            read::one_of(
                text,
                node.span,
                "a caution",
                Caution::WORDS.into_iter(),
                faults,
            )
        })
        .collect()
}

pub(super) fn items<'n, 's>(entry: &'n Entry<'s>, faults: &mut Faults) -> &'n [Node<'s>] {
    match entry.node.as_sequence() {
        Some(items) => items,
        None => {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{} is a list; here stands {}",
                    quoted(&entry.key),
                    entry.node.kind_in_words()
                ),
                "not a list",
                format!("{}: [ … ]", entry.key),
            );
            &[]
        }
    }
}

pub(super) fn rule_names(entry: &Entry<'_>, known: &[&str], faults: &mut Faults) -> Vec<Name> {
    items(entry, faults)
        .iter()
        .filter_map(|node| {
            let text = read::scalar(node, None, "a rule", "the id of a rule", faults)?;
            read::one_of(
                text,
                node.span,
                "the id of a rule",
                known.iter().map(|id| (*id, ())),
                faults,
            )?;
            Some(Name {
                text: text.to_owned(),
                span: node.span,
            })
        })
        .collect()
}

fn ids_used_once(rules: &[Rule], marks: &[MarkRule], faults: &mut Faults) {
    let mut seen: BTreeMap<&str, Span> = BTreeMap::new();
    for id in rules
        .iter()
        .map(|rule| &rule.id)
        .chain(marks.iter().map(|mark| &mark.id))
    {
        if matches!(id.text.as_str(), "equipment" | "silence") {
            faults.fault(
                "name.reserved",
                id.span,
                format!("{} is kept for findings of the program", quoted(&id.text)),
                "",
                "give the rule another id",
            );
        }
        if let Some(first) = seen.get(id.text.as_str()) {
            faults.fault(
                "name.twice",
                id.span,
                format!("two rules have the id {}", quoted(&id.text)),
                "again here",
                "a rule's id is its own, and stays for ever",
            );
            faults.also(*first, "first here");
        } else {
            seen.insert(&id.text, id.span);
        }
    }
}

/// Words of the expression language can't name what expressions speak of.
fn reserved_names(vocabulary: &Vocabulary, faults: &mut Faults) {
    let names = vocabulary
        .parts
        .iter()
        .flat_map(|part| {
            part.traits
                .iter()
                .flat_map(|one| std::iter::once(&one.name).chain(one.kind.names()))
                .chain(part.measures.iter().map(|one| &one.name))
                .chain(part.derived.iter().map(|one| &one.name))
                .chain(part.roles.iter().map(|role| &role.name))
        })
        .chain(vocabulary.holdings.iter().map(|holding| &holding.key))
        .chain(&vocabulary.event_levels);
    for name in names {
        if let Some(why) = crate::expression::reserved(&name.text) {
            faults.fault(
                "name.reserved",
                name.span,
                format!("{} is {why}", quoted(&name.text)),
                "can't be a name here",
                "choose another name",
            );
        }
    }
}
