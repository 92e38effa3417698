//! The tree: values with the bytes they were written with.

use std::borrow::Cow;
use std::ops::Range;

use super::source::Span;

/// What stands at a place in the tree.
#[derive(Clone, Debug, PartialEq)]
pub enum Value<'s> {
    /// Nothing: an empty plain value, `~` or `null`.
    Null,
    /// A text, number, date or word, as written.
    Scalar(Scalar<'s>),
    /// A list.
    Sequence(Vec<Node<'s>>),
    /// A mapping, in the order of the file; keys are unique.
    Mapping(Vec<Entry<'s>>),
}

/// A text with the way it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scalar<'s> {
    /// The text after quotes, escapes and folding; digits as written.
    pub text: Cow<'s, str>,
    /// How it was written.
    pub style: Style,
}

/// How a scalar was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Style {
    /// Without quotes; also JSON numbers, `true` and `false`.
    Plain,
    /// In single or double quotes; also JSON strings.
    Quoted,
    /// After `|` or `>`.
    Block,
}

/// A value with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node<'s> {
    /// The value.
    pub value: Value<'s>,
    /// The bytes of the value: quotes included, anchor and tag not. For a block collection from its
    /// first key or dash to the end of its last value; use [`Node::label_span`] to underline.
    pub span: Span,
    /// The alias (`*name`) that put this value here; its `span` is then the definition's.
    pub used_at: Option<Span>,
    /// Whether the value stands on one line, so that its span can be underlined whole.
    pub one_line: bool,
    /// Whether a scalar's text stands in the source letter for letter, without escapes or folds.
    pub verbatim: bool,
}

/// A key of a mapping with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry<'s> {
    /// The key's text.
    pub key: Cow<'s, str>,
    /// The bytes of the key, quotes included.
    pub key_span: Span,
    /// The value.
    pub node: Node<'s>,
}

/// What a pointer leads to.
#[derive(Clone, Copy, Debug)]
pub struct Found<'t, 's> {
    /// The entry, if the last step was a key.
    pub entry: Option<&'t Entry<'s>>,
    /// The value.
    pub node: &'t Node<'s>,
    /// The key nearest to the value: its own, or for an item of a list that of the list.
    pub key_span: Option<Span>,
    /// The last alias passed on the way, the value's own included.
    pub used_at: Option<Span>,
}

impl Found<'_, '_> {
    /// What to underline for this place, see [`Node::label_span`].
    pub fn label_span(&self) -> Span {
        self.node.label_span(self.key_span)
    }
}

impl<'s> Node<'s> {
    /// A value at a place, on one line.
    pub fn new(value: Value<'s>, span: Span) -> Node<'s> {
        Node {
            value,
            span,
            used_at: None,
            one_line: true,
            verbatim: false,
        }
    }

    /// The value under a key; nothing if this is no mapping or has no such key.
    pub fn get(&self, key: &str) -> Option<&Node<'s>> {
        self.entry(key).map(|entry| &entry.node)
    }

    /// The entry of a key; nothing if this is no mapping or has no such key.
    pub fn entry(&self, key: &str) -> Option<&Entry<'s>> {
        self.as_mapping()?.iter().find(|entry| entry.key == key)
    }

    /// The scalar, if it is one.
    pub fn as_scalar(&self) -> Option<&Scalar<'s>> {
        match &self.value {
            Value::Scalar(scalar) => Some(scalar),
            Value::Null | Value::Sequence(_) | Value::Mapping(_) => None,
        }
    }

    /// The scalar's text, if it is one.
    pub fn as_text(&self) -> Option<&str> {
        self.as_scalar().map(|scalar| scalar.text.as_ref())
    }

    /// The entries, if it is a mapping.
    pub fn as_mapping(&self) -> Option<&[Entry<'s>]> {
        match &self.value {
            Value::Mapping(entries) => Some(entries),
            Value::Null | Value::Scalar(_) | Value::Sequence(_) => None,
        }
    }

    /// The items, if it is a list.
    pub fn as_sequence(&self) -> Option<&[Node<'s>]> {
        match &self.value {
            Value::Sequence(items) => Some(items),
            Value::Null | Value::Scalar(_) | Value::Mapping(_) => None,
        }
    }

    /// Whether nothing stands here.
    pub fn is_null(&self) -> bool {
        matches!(self.value, Value::Null)
    }

    /// The kind of value in the words of a message.
    pub fn kind_in_words(&self) -> &'static str {
        match self.value {
            Value::Null => "nothing",
            Value::Scalar(_) => "text",
            Value::Sequence(_) => "a list",
            Value::Mapping(_) => "a mapping",
        }
    }

    /// What to underline for this value: its own bytes if they stand on one line, else its key, else
    /// its first key or item. Never a whole block, and never an empty place when a key is known.
    pub fn label_span(&self, key_span: Option<Span>) -> Span {
        if self.one_line && !self.span.is_empty() {
            return self.span;
        }
        if let Some(key_span) = key_span {
            return key_span;
        }
        match &self.value {
            Value::Null | Value::Scalar(_) => self.span,
            Value::Sequence(items) => items
                .first()
                .map_or(Span::at(self.span.start as usize), |item| {
                    item.label_span(None)
                }),
            Value::Mapping(entries) => entries
                .first()
                .map_or(Span::at(self.span.start as usize), |entry| entry.key_span),
        }
    }

    /// The place in the source of a part of a scalar's text, `part` being bytes of the text. Exact
    /// where the text stands in the source as it is; else, with escapes or over several lines, the
    /// whole value.
    pub fn text_span(&self, part: Range<usize>) -> Span {
        let Value::Scalar(scalar) = &self.value else {
            return self.label_span(None);
        };
        if !self.verbatim {
            return self.label_span(None);
        }
        let quote = match scalar.style {
            Style::Plain | Style::Block => 0,
            Style::Quoted => 1,
        };
        let inner = self.span.sub(quote..quote + scalar.text.len());
        inner.sub(part)
    }

    /// The tree as a JSON value, for schema checks: plain scalars that follow JSON's grammar of
    /// numbers become numbers, plain `true` and `false` become booleans, every other scalar is a
    /// string (`0041`, `yes`, `2026-11-21`, `1_000`, a quoted `"7"`).
    pub fn to_json(&self) -> serde_json::Value {
        match &self.value {
            Value::Null => serde_json::Value::Null,
            Value::Scalar(scalar) => scalar.to_json(),
            Value::Sequence(items) => {
                serde_json::Value::Array(items.iter().map(Node::to_json).collect())
            }
            Value::Mapping(entries) => serde_json::Value::Object(
                entries
                    .iter()
                    .map(|entry| (entry.key.to_string(), entry.node.to_json()))
                    .collect(),
            ),
        }
    }

    /// Follows a JSON Pointer (RFC 6901) from here; the empty pointer is this node itself.
    pub fn lookup(&self, pointer: &str) -> Option<Found<'_, 's>> {
        let mut found = Found {
            entry: None,
            node: self,
            key_span: None,
            used_at: self.used_at,
        };
        if pointer.is_empty() {
            return Some(found);
        }
        for step in pointer.strip_prefix('/')?.split('/') {
            match &found.node.value {
                Value::Mapping(_) => {
                    let key = step.replace("~1", "/").replace("~0", "~");
                    let entry = found.node.entry(&key)?;
                    found.entry = Some(entry);
                    found.key_span = Some(entry.key_span);
                    found.node = &entry.node;
                }
                Value::Sequence(items) => {
                    if step.len() > 1 && step.starts_with('0') || step.starts_with('+') {
                        return None;
                    }
                    found.entry = None;
                    found.node = items.get(step.parse::<usize>().ok()?)?;
                }
                Value::Null | Value::Scalar(_) => return None,
            }
            found.used_at = found.node.used_at.or(found.used_at);
        }
        Some(found)
    }
}

impl Scalar<'_> {
    fn to_json(&self) -> serde_json::Value {
        let text = || serde_json::Value::String(self.text.to_string());
        match self.style {
            Style::Quoted | Style::Block => text(),
            Style::Plain => match self.text.as_ref() {
                "true" => serde_json::Value::Bool(true),
                "false" => serde_json::Value::Bool(false),
                plain => plain
                    .parse::<serde_json::Number>()
                    .map_or_else(|_| text(), serde_json::Value::Number),
            },
        }
    }
}
