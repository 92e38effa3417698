//! A line of JSON as a tree that tests rearrange, written again as it stood.

use super::source_of;
use crate::text::{self, Node, Style, Value};

/// A line as a tree whose scalars are written as they are.
#[derive(Clone, Debug)]
pub enum Tree {
    Bare(String),
    List(Vec<Tree>),
    Map(Vec<(String, Tree)>),
}

impl Tree {
    pub fn of(node: &Node<'_>) -> Tree {
        let written = |text: &str| serde_json::to_string(text).unwrap();
        match &node.value {
            Value::Null => Tree::Bare("null".to_owned()),
            Value::Scalar(scalar) => {
                let number = scalar.text.parse::<serde_json::Number>().is_ok();
                Tree::Bare(match scalar.style {
                    Style::Plain if number => scalar.text.to_string(),
                    Style::Plain | Style::Quoted | Style::Block => written(&scalar.text),
                })
            }
            Value::Sequence(items) => Tree::List(items.iter().map(Tree::of).collect()),
            Value::Mapping(entries) => {
                let entries = entries.iter();
                let entries = entries.map(|entry| (written(&entry.key), Tree::of(&entry.node)));
                Tree::Map(entries.collect())
            }
        }
    }

    pub fn of_line(line: &str) -> Tree {
        let source = source_of("line", line);
        Tree::of(&text::parse_json_line(&source, 0..line.len()).unwrap())
    }

    /// As one line, `blank` standing between all that can be parted.
    pub fn line(&self, blank: &str) -> String {
        match self {
            Tree::Bare(text) => text.clone(),
            Tree::List(items) => {
                let items: Vec<String> = items.iter().map(|item| item.line(blank)).collect();
                format!(
                    "[{blank}{}{blank}]",
                    items.join(&format!("{blank},{blank}"))
                )
            }
            Tree::Map(entries) => {
                let entry = |(key, item): &(String, Tree)| {
                    format!("{key}{blank}:{blank}{}", item.line(blank))
                };
                let entries: Vec<String> = entries.iter().map(entry).collect();
                format!(
                    "{{{blank}{}{blank}}}",
                    entries.join(&format!("{blank},{blank}"))
                )
            }
        }
    }

    pub fn sort(&mut self) {
        match self {
            Tree::Bare(_) => {}
            Tree::List(items) => items.iter_mut().for_each(Tree::sort),
            Tree::Map(entries) => {
                entries.sort_by(|one, two| one.0.cmp(&two.0));
                entries.iter_mut().for_each(|(_, item)| item.sort());
            }
        }
    }

    /// Leaves the first entries of every list of parts.
    pub fn shorten(&mut self, parts: usize) {
        if let Tree::Map(entries) = self {
            for (_, value) in entries {
                if let Tree::List(items) = value {
                    items.truncate(parts);
                }
            }
        }
    }

    /// How many values there are.
    pub fn size(&self) -> usize {
        1 + match self {
            Tree::Bare(_) => 0,
            Tree::List(items) => items.iter().map(Tree::size).sum(),
            Tree::Map(entries) => entries.iter().map(|(_, item)| item.size()).sum(),
        }
    }

    /// The value with this number, counted as they stand.
    pub fn at(&mut self, mut number: usize) -> &mut Tree {
        if number == 0 {
            return self;
        }
        number -= 1;
        let items: Vec<&mut Tree> = match self {
            Tree::Bare(_) => panic!("counted wrongly"),
            Tree::List(items) => items.iter_mut().collect(),
            Tree::Map(entries) => entries.iter_mut().map(|(_, item)| item).collect(),
        };
        for item in items {
            let size = item.size();
            if number < size {
                return item.at(number);
            }
            number -= size;
        }
        panic!("counted wrongly")
    }
}
