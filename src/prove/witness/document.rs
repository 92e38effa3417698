//! A small tree of text, lists and mappings, and how it is written down: as YAML that people read, and as JSON.

use std::borrow::Cow;

use serde_json::Value as Json;

use crate::text::{Entry, Node, Scalar, Span, Style, Value};

/// What a file of ours is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Document {
    /// A scalar as it is to be read.
    Text(String),
    /// One after another.
    List(Vec<Document>),
    /// Keys in their order.
    Map(Vec<(String, Document)>),
}

/// Columns that a mapping on one line may fill.
const WIDTH: usize = 110;

impl Document {
    /// A scalar.
    pub fn text(text: impl Into<String>) -> Document {
        Document::Text(text.into())
    }

    /// `yes` or `no`.
    pub fn yes_no(yes: bool) -> Document {
        Document::text(if yes { "yes" } else { "no" })
    }

    /// A mapping.
    pub fn map<const N: usize>(entries: [(&str, Document); N]) -> Document {
        let entries = entries.into_iter();
        Document::Map(entries.map(|(key, one)| (key.to_owned(), one)).collect())
    }

    /// The entries of a mapping; none of anything else.
    pub fn entries(&self) -> &[(String, Document)] {
        match self {
            Document::Map(entries) => entries,
            Document::Text(_) | Document::List(_) => &[],
        }
    }

    /// The entries of a list; none of anything else.
    pub fn items(&self) -> &[Document] {
        match self {
            Document::List(items) => items,
            Document::Text(_) | Document::Map(_) => &[],
        }
    }

    /// What stands under a key.
    pub fn get(&self, key: &str) -> Option<&Document> {
        let mut entries = self.entries().iter();
        entries.find(|(known, _)| known == key).map(|(_, one)| one)
    }

    /// The text of a scalar.
    pub fn as_text(&self) -> Option<&str> {
        match self {
            Document::Text(text) => Some(text),
            Document::List(_) | Document::Map(_) => None,
        }
    }

    /// As JSON: every scalar as text, so that numbers keep their digits.
    pub fn json(&self) -> Json {
        match self {
            Document::Text(text) => Json::String(text.clone()),
            Document::List(items) => Json::Array(items.iter().map(Document::json).collect()),
            Document::Map(entries) => {
                let entries = entries.iter();
                Json::Object(
                    entries
                        .map(|(key, one)| (key.clone(), one.json()))
                        .collect(),
                )
            }
        }
    }

    /// As the tree that its text would be read as, without the text: what is loaded of it is the same, and there are no
    /// places in it that a message could point at.
    pub fn node(&self) -> Node<'_> {
        let nowhere = Span::at(0);
        let value = match self {
            Document::Text(text) => Value::Scalar(Scalar {
                text: Cow::Borrowed(text),
                style: Style::Quoted,
            }),
            Document::List(items) => Value::Sequence(items.iter().map(Document::node).collect()),
            Document::Map(entries) => {
                let each = entries.iter().map(|(key, one)| Entry {
                    key: Cow::Borrowed(key.as_str()),
                    key_span: nowhere,
                    node: one.node(),
                });
                Value::Mapping(each.collect())
            }
        };
        Node::new(value, nowhere)
    }

    /// Writes it so that two that differ are written differently, and quickly: each text behind its length.
    pub fn write_key(&self, out: &mut Vec<u8>) {
        let sized = |kind: u8, size: usize, out: &mut Vec<u8>| {
            out.push(kind);
            out.extend_from_slice(&size.to_le_bytes());
        };
        match self {
            Document::Text(text) => {
                sized(b't', text.len(), out);
                out.extend_from_slice(text.as_bytes());
            }
            Document::List(items) => {
                sized(b'l', items.len(), out);
                items.iter().for_each(|one| one.write_key(out));
            }
            Document::Map(entries) => {
                sized(b'm', entries.len(), out);
                for (key, one) in entries {
                    sized(b't', key.len(), out);
                    out.extend_from_slice(key.as_bytes());
                    one.write_key(out);
                }
            }
        }
    }

    /// As a YAML file: a mapping with each key on a line of its own, and what fits on one line below it.
    pub fn yaml(&self) -> String {
        let mut out = String::new();
        self.block(0, &mut out);
        out
    }

    fn block(&self, indent: usize, out: &mut String) {
        match self {
            Document::Map(entries) if !entries.is_empty() => {
                for (at, (key, one)) in entries.iter().enumerate() {
                    if at > 0 {
                        out.push_str(&" ".repeat(indent));
                    }
                    out.push_str(&scalar(key));
                    out.push(':');
                    one.beside(indent, key.chars().count() + 1, out);
                }
            }
            Document::List(items) if !items.is_empty() => {
                for (at, one) in items.iter().enumerate() {
                    if at > 0 {
                        out.push_str(&" ".repeat(indent));
                    }
                    out.push_str("- ");
                    if one.fits(WIDTH.checked_sub(indent + 2)) {
                        out.push_str(&one.flow());
                        out.push('\n');
                    } else {
                        one.block(indent + 2, out);
                    }
                }
            }
            Document::Map(_) | Document::List(_) | Document::Text(_) => {
                out.push_str(&self.flow());
                out.push('\n');
            }
        }
    }

    /// Behind a key that ends in some column: on its line where it fits, else below it.
    fn beside(&self, indent: usize, key: usize, out: &mut String) {
        match self {
            Document::Text(_) => {}
            // The parts of a boat stand one below the other.
            Document::Map(_) | Document::List(_)
                if !self.holds_items() && self.fits(WIDTH.checked_sub(indent + key + 1)) => {}
            Document::Map(_) | Document::List(_) => {
                out.push('\n');
                out.push_str(&" ".repeat(indent + 2));
                self.block(indent + 2, out);
                return;
            }
        }
        out.push(' ');
        out.push_str(&self.flow());
        out.push('\n');
    }

    /// Whether it fits on one line with so many columns left; looks no further than they reach.
    fn fits(&self, columns: Option<usize>) -> bool {
        columns.and_then(|columns| self.left(columns)).is_some()
    }

    /// How many columns are left behind it on one line; nothing where it needs more.
    fn left(&self, columns: usize) -> Option<usize> {
        match self {
            Document::Text(text) => columns.checked_sub(scalar(text).chars().count()),
            Document::List(items) => {
                // `[ ` and ` ]`, `, ` between; of nothing `[]`.
                let signs = (2 * items.len() + 2).max(2);
                let columns = columns.checked_sub(signs);
                items.iter().try_fold(columns?, |left, one| one.left(left))
            }
            Document::Map(entries) => {
                let signs = (2 * entries.len() + 2).max(2);
                let columns = columns.checked_sub(signs);
                entries.iter().try_fold(columns?, |left, (key, one)| {
                    let left = left.checked_sub(scalar(key).chars().count() + 2)?;
                    one.left(left)
                })
            }
        }
    }

    fn holds_items(&self) -> bool {
        self.items().iter().any(|one| one.get("id").is_some())
    }

    /// On one line.
    pub fn flow(&self) -> String {
        match self {
            Document::Text(text) => scalar(text),
            Document::List(items) if items.is_empty() => "[]".to_owned(),
            Document::List(items) => {
                let items: Vec<String> = items.iter().map(Document::flow).collect();
                format!("[ {} ]", items.join(", "))
            }
            Document::Map(entries) if entries.is_empty() => "{}".to_owned(),
            Document::Map(entries) => {
                let each = entries.iter();
                let each = each.map(|(key, one)| format!("{}: {}", scalar(key), one.flow()));
                format!("{{ {} }}", each.collect::<Vec<_>>().join(", "))
            }
        }
    }
}

/// A scalar, in quotes unless it means the same without them wherever it stands.
fn scalar(text: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || " ./_-".contains(letter);
    let begins = |letter: char| letter.is_ascii_alphanumeric();
    // A number below zero begins with its sign.
    let number =
        text.starts_with('-') && text.chars().nth(1).is_some_and(|one| one.is_ascii_digit());
    let fine = text.chars().all(plain)
        && (text.chars().next().is_some_and(begins) || number)
        && !text.ends_with(' ')
        && !matches!(text, "null" | "Null" | "NULL");
    if fine {
        return text.to_owned();
    }
    let mut quoted = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            other => quoted.push(other),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
mod tests {
    use super::*;
    use crate::text::{decode, parse_yaml};

    /// What a tree says, without where it stands and how it was written.
    fn said(node: &Node<'_>) -> Document {
        match &node.value {
            Value::Null => panic!("nothing is never written"),
            Value::Scalar(scalar) => Document::text(scalar.text.as_ref()),
            Value::Sequence(items) => Document::List(items.iter().map(said).collect()),
            Value::Mapping(entries) => {
                let each = entries.iter();
                Document::Map(
                    each.map(|one| (one.key.to_string(), said(&one.node)))
                        .collect(),
                )
            }
        }
    }

    fn some() -> Vec<Document> {
        let text = |text: &str| Document::text(text);
        let long = "a word ".repeat(30);
        let texts = [
            "", "null", "-1.5 mm", "- x", "a: b", " x ", "\"\\\n\t", "yes", "1e3", "# no", &long,
        ];
        let list = Document::List(texts.iter().map(|one| text(one)).collect());
        let empty = Document::map([
            ("none", Document::List(Vec::new())),
            ("nobody", Document::Map(Vec::new())),
        ]);
        let item = Document::map([
            ("id", text("s1")),
            ("built", text("2011-03")),
            ("notes", list.clone()),
        ]);
        vec![
            Document::map([("list", list), ("empty", empty)]),
            Document::map([("runners", Document::List(vec![item.clone(), item]))]),
        ]
    }

    #[test]
    fn the_tree_is_what_its_text_is_read_as() {
        for one in some() {
            let source = decode("one.yaml", one.yaml().as_bytes()).unwrap();
            assert_eq!(said(&parse_yaml(&source).unwrap()), one, "{}", one.yaml());
            assert_eq!(said(&one.node()), one);
        }
    }

    /// What differs in a text alone, in a border between texts or in a kind has another key.
    #[test]
    fn what_differs_has_another_key() {
        let text = |text: &str| Document::text(text);
        let list = |words: &[&str]| Document::List(words.iter().map(|one| text(one)).collect());
        let all = [
            text("ab"),
            text("a"),
            list(&["ab"]),
            list(&["a", "b"]),
            list(&["a", "", "b"]),
            Document::map([("a", text("b"))]),
            Document::map([("ab", text(""))]),
            Document::List(vec![list(&["a"]), text("b")]),
            Document::List(vec![list(&["a", "b"])]),
        ];
        let keys = all.each_ref().map(|one| {
            let mut key = Vec::new();
            one.write_key(&mut key);
            key
        });
        for (at, key) in keys.iter().enumerate() {
            let same = keys.iter().filter(|other| *other == key);
            assert_eq!(same.count(), 1, "{:?}", all.get(at));
        }
    }
}
