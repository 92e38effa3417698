//! A small tree of text, lists and mappings, and how it is written down: as YAML that people read, and as JSON.

use serde_json::Value as Json;

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
                    let line = one.flow();
                    if indent + 2 + line.chars().count() <= WIDTH {
                        out.push_str(&line);
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
        let line = self.flow();
        let short = indent + key + 1 + line.chars().count() <= WIDTH;
        match self {
            Document::Text(_) => {}
            // The parts of a boat stand one below the other.
            Document::Map(_) | Document::List(_) if short && !self.holds_items() => {}
            Document::Map(_) | Document::List(_) => {
                out.push('\n');
                out.push_str(&" ".repeat(indent + 2));
                self.block(indent + 2, out);
                return;
            }
        }
        out.push(' ');
        out.push_str(&line);
        out.push('\n');
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
