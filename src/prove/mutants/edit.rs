//! Edits of the text of a rules file, and the mutants that they make.

use super::Mutants;
use super::kind::Kind;
use super::step::{other_unit, steps};
use crate::rules::RulesFile;
use crate::text::{Entry, Node, Source, Span, Value};

/// One change of a text: what stands at a place is replaced.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Edit {
    /// The bytes that are replaced.
    pub span: Span,
    /// What stands there instead; empty where something is taken out.
    pub with: String,
}

impl Edit {
    /// The text with the change made.
    pub fn apply(&self, text: &str) -> String {
        let (start, end) = (self.span.start as usize, self.span.end as usize);
        let before = text.get(..start).unwrap_or("");
        let after = text.get(end..).unwrap_or("");
        format!("{before}{}{after}", self.with)
    }
}

/// A version with one change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mutant {
    /// What kind of change it is.
    pub kind: Kind,
    /// The id of the rule whose text is changed; nothing where it is the head or the equipment.
    pub rule: Option<String>,
    /// The change.
    pub edit: Edit,
}

impl Mutant {
    /// The change in words, on one line: `4.70 mm becomes 4.69 mm`.
    pub fn words(&self, source: &Source) -> String {
        let line = |text: &str| {
            let words: Vec<&str> = text.split_whitespace().collect();
            words.join(" ").trim_matches(',').trim().to_owned()
        };
        let was = line(source.slice(self.edit.span));
        match line(&self.edit.with).as_str() {
            "" => format!("{was} taken out"),
            is if was.is_empty() => format!("{is} put in"),
            is => format!("{was} becomes {is}"),
        }
    }
}

/// A place of which no mutant was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The place.
    pub span: Span,
    /// Why.
    pub why: &'static str,
}

/// Collects the mutants of one version.
pub(super) struct Maker<'r> {
    /// The version.
    pub rules: &'r RulesFile,
    /// The id of the rule that is being mutated.
    pub rule: Option<String>,
    made: Mutants,
}

impl<'r> Maker<'r> {
    pub(super) fn new(rules: &'r RulesFile) -> Maker<'r> {
        Maker {
            rules,
            rule: None,
            made: Mutants::default(),
        }
    }

    /// The text of a place.
    pub(super) fn slice(&self, span: Span) -> &'r str {
        self.rules.source.slice(span)
    }

    /// One mutant; none where nothing would change.
    pub(super) fn add(&mut self, kind: Kind, span: Span, with: impl Into<String>) {
        let with = with.into();
        if self.slice(span) != with {
            self.made.list.push(Mutant {
                kind,
                rule: self.rule.clone(),
                edit: Edit { span, with },
            });
        }
    }

    /// A place of which no mutant is made.
    pub(super) fn leave_out(&mut self, span: Span, why: &'static str) {
        self.made.left_out.push(LeftOut { span, why });
    }

    /// Mutants of a written number: by its last digit, and with another unit.
    pub(super) fn number(&mut self, kind: Kind, span: Span) {
        let text = self.slice(span);
        for stepped in steps(text) {
            self.add(kind, span, stepped);
        }
        if let Some(other) = other_unit(text) {
            self.add(Kind::Unit, span, other);
        }
    }

    /// The number under a key, if it stands there in one piece.
    pub(super) fn number_of(&mut self, kind: Kind, entry: &Entry<'_>) {
        if let Some(span) = plain(&entry.node) {
            self.number(kind, span);
        }
    }

    /// A mutant without an entry of a mapping.
    pub(super) fn drop_entry(&mut self, kind: Kind, mapping: &Node<'_>, key: &str) {
        let Some(entries) = mapping.as_mapping() else {
            return;
        };
        let Some(at) = entries.iter().position(|entry| entry.key == key) else {
            return;
        };
        let spans = entries
            .iter()
            .map(|entry| entry.key_span.join(entry.node.span));
        let aliased = entries
            .iter()
            .any(|entry| entry.node.used_at.is_some() || entry.node.is_null());
        let spans: Vec<Span> = spans.collect();
        if let (false, Some(span)) = (aliased, self.without(mapping, &spans, at)) {
            self.add(kind, span, "");
        }
    }

    /// A mutant without an item of a list; where it is the only one, without the list.
    pub(super) fn drop_item(&mut self, kind: Kind, mapping: &Node<'_>, key: &str, at: usize) {
        let Some(list) = mapping.get(key) else { return };
        let Some(items) = list.as_sequence() else {
            return;
        };
        if items.len() < 2 {
            self.drop_entry(kind, mapping, key);
            return;
        }
        let aliased = items.iter().any(|item| item.used_at.is_some());
        let spans: Vec<Span> = items.iter().map(|item| item.span).collect();
        if let (false, Some(span)) = (aliased, self.without(list, &spans, at)) {
            self.add(kind, span, "");
        }
    }

    /// What to take out of a collection so that one of its pieces is gone.
    fn without(&self, node: &Node<'_>, pieces: &[Span], at: usize) -> Option<Span> {
        let own = *pieces.get(at)?;
        let opened = self.slice(node.span).starts_with(['{', '[']);
        if opened {
            let next = pieces.get(at + 1);
            let before = at.checked_sub(1).and_then(|at| pieces.get(at));
            return Some(match (next, before) {
                (Some(next), _) => Span::new(own.start as usize, next.start as usize),
                (None, Some(before)) => Span::new(before.end as usize, own.end as usize),
                (None, None) => own,
            });
        }
        if matches!(node.value, Value::Mapping(_)) {
            return Some(own);
        }
        let text = self.rules.source.text().get(..own.start as usize)?;
        let dash = text.trim_end().strip_suffix('-')?;
        Some(Span::new(dash.len(), own.end as usize))
    }

    /// The mutants, in the order of the text.
    pub(super) fn finish(mut self) -> Mutants {
        // What is written once and used twice is mutated once.
        self.made
            .list
            .sort_by(|one, other| (&one.edit, one.kind).cmp(&(&other.edit, other.kind)));
        self.made.list.dedup_by(|one, other| one.edit == other.edit);
        self.made
    }
}

/// The place of a text that stands on one line, letter for letter, and was not put there by an alias.
pub(super) fn plain(node: &Node<'_>) -> Option<Span> {
    let scalar = node.as_scalar()?;
    let whole = node.verbatim && node.one_line && node.used_at.is_none();
    whole.then(|| node.text_span(0..scalar.text.len()))
}
