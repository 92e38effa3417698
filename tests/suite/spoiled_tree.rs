//! A file as a tree that can be spoiled: keys left out and misspelt, values of another kind, texts that are
//! nearly right, nested junk, branches that belong elsewhere.

use proptest::prelude::*;
use rimegauge::text::{Node, Style, Value};

type Entries = Vec<(String, Tree)>;

/// A file as a tree that can be spoiled; texts remember whether they stood in quotes.
#[derive(Clone, PartialEq)]
pub enum Tree {
    Null,
    Plain(String),
    Quoted(String),
    List(Vec<Tree>),
    Map(Entries),
}

impl std::fmt::Debug for Tree {
    /// As a file, so that a counterexample can be read and tried.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.to_file())
    }
}

impl Tree {
    pub fn of(node: &Node<'_>) -> Tree {
        match &node.value {
            Value::Null => Tree::Null,
            Value::Scalar(scalar) => match scalar.style {
                Style::Plain => Tree::Plain(scalar.text.to_string()),
                Style::Quoted | Style::Block => Tree::Quoted(scalar.text.to_string()),
            },
            Value::Sequence(items) => Tree::List(items.iter().map(Tree::of).collect()),
            Value::Mapping(entries) => {
                let entries = entries.iter();
                let entries = entries.map(|entry| (entry.key.to_string(), Tree::of(&entry.node)));
                Tree::Map(entries.collect())
            }
        }
    }

    /// In flow style, a line for each entry.
    pub fn to_file(&self) -> String {
        let mut file = String::new();
        self.write(&mut file);
        file.push('\n');
        file
    }

    fn write(&self, file: &mut String) {
        match self {
            Tree::Null => file.push('~'),
            Tree::Plain(text) if stands_plain(text) => file.push_str(text),
            Tree::Plain(text) | Tree::Quoted(text) => quote(text, file),
            Tree::List(items) => {
                file.push('[');
                for (at, item) in items.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ",\n " });
                    item.write(file);
                }
                file.push(']');
            }
            Tree::Map(entries) => {
                file.push('{');
                for (at, (key, item)) in entries.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ",\n " });
                    match stands_plain(key) {
                        true => file.push_str(key),
                        false => quote(key, file),
                    }
                    file.push_str(": ");
                    item.write(file);
                }
                file.push('}');
            }
        }
    }

    pub fn size(&self) -> usize {
        1 + match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => 0,
            Tree::List(items) => items.iter().map(Tree::size).sum(),
            Tree::Map(entries) => entries.iter().map(|(_, item)| item.size()).sum(),
        }
    }

    /// The node of a number, counted from the root down.
    pub fn nth(&mut self, mut at: usize) -> &mut Tree {
        if at == 0 {
            return self;
        }
        at -= 1;
        let children: Vec<&mut Tree> = match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => panic!("counted by size"),
            Tree::List(items) => items.iter_mut().collect(),
            Tree::Map(entries) => entries.iter_mut().map(|(_, item)| item).collect(),
        };
        for child in children {
            let size = child.size();
            if at < size {
                return child.nth(at);
            }
            at -= size;
        }
        panic!("counted by size")
    }

    fn keys(&self, found: &mut Vec<String>) {
        match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => {}
            Tree::List(items) => items.iter().for_each(|item| item.keys(found)),
            Tree::Map(entries) => entries.iter().for_each(|(key, item)| {
                found.push(key.clone());
                item.keys(found);
            }),
        }
    }
}

fn stands_plain(text: &str) -> bool {
    !text.is_empty()
        && !text.starts_with([' ', '-', '?', '.'])
        && !text.ends_with(' ')
        && !text.contains(|letter: char| {
            letter.is_control() || ",[]{}#:&*!|>'\"%@`\\\u{a0}\u{feff}".contains(letter)
        })
        || text.strip_prefix('-').is_some_and(|rest| {
            rest.starts_with(|letter: char| letter.is_ascii_digit()) && stands_plain(rest)
        })
}

fn quote(text: &str, file: &mut String) {
    file.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => file.extend(['\\', letter]),
            '\n' => file.push_str("\\n"),
            '\t' => file.push_str("\\t"),
            _ => file.push(letter),
        }
    }
    file.push('"');
}

/// Texts that are nearly right somewhere.
const TEXTS: &[&str] = &[
    "",
    " ",
    "abc",
    "Abc",
    "a b",
    "0",
    "1",
    "-1",
    "5",
    "7.5",
    "1e3",
    "0x10",
    "0041",
    "1_000",
    "true",
    "false",
    "yes",
    "no",
    "null",
    "other",
    "exact",
    "unnamed",
    "none",
    "mean",
    "conforms",
    "4.70",
    "4.70 mm",
    "-4.70 mm",
    "+4.70 mm",
    "4.70mm",
    "4,70 mm",
    ".5 mm",
    "5. mm",
    "4.70  mm",
    " 4.70 mm ",
    "4.70 kg",
    "4.70 mm 5 mm",
    "4.7 4.8 mm",
    "3/16 in",
    "1 3/16 in",
    "3/0 in",
    "0 mm",
    "95 %",
    "95",
    "100 deg",
    "82 deg 30 min",
    "58 HRC",
    "-6 degC",
    "28.4 kg",
    "365 days",
    "4.70\u{a0}mm",
    "４.70 mm",
    "12 N/mm",
    "4.70 mm/mm",
    "2 mm to 12 mm",
    "12 mm to 2 mm",
    "2026-11-21",
    "2026-11",
    "2026",
    "1700",
    "2026-13-01",
    "2026-11-21 09:05",
    "2026-11-21 9:05",
    "26-11-21",
    "3.1.0",
    "3.1",
    ">=3.0.0",
    "S1",
    "a-very-long-name-of-an-item",
    "runner",
    "runners",
    "runners/S1",
    "edge",
    "toe_at",
    "toe_at - heel_at",
    "event.level",
    "construction is insert",
    "steel_thickness",
    "port",
    "tarn-8",
    "T8 41",
    "a\nb",
    "a\tb",
    "é",
    "999999999999999999999",
    "0.000000000000000000001 mm",
    "1999",
    "12345678901234567",
];

/// Spoils one place of a tree: `what` is the kind of slip, `which` chooses among its forms.
pub fn spoil(tree: &mut Tree, place: usize, what: usize, which: usize) {
    let other = {
        let size = tree.size();
        tree.nth(which % size).clone()
    };
    let mut keys = Vec::new();
    tree.keys(&mut keys);
    let size = tree.size();
    let node = tree.nth(place % size);
    match (what % 9, &mut *node) {
        // A key, or an item, that is left out.
        (0, Tree::Map(entries)) if !entries.is_empty() => {
            entries.remove(which % entries.len());
        }
        (0, Tree::List(items)) if !items.is_empty() => {
            items.remove(which % items.len());
        }
        // A key that is misspelt, or that belongs elsewhere.
        (1, Tree::Map(entries)) if !entries.is_empty() => {
            let at = which % entries.len();
            let key = &mut entries[at].0;
            *key = match which / 7 % 6 {
                0 => format!("{key}s"),
                1 => key.chars().skip(1).collect(),
                2 => key.to_uppercase(),
                3 => format!("{key} "),
                4 => keys[which / 42 % keys.len()].clone(),
                _ => TEXTS[which / 42 % TEXTS.len()].to_owned(),
            };
        }
        // A key too many.
        (2, Tree::Map(entries)) => {
            let key = match which % 2 {
                0 => keys.get(which / 2 % keys.len().max(1)).cloned(),
                _ => None,
            };
            entries.push((key.unwrap_or_else(|| "colour".to_owned()), other));
        }
        // An item that is there twice, or that belongs elsewhere.
        (2, Tree::List(items)) => {
            let again = items.get(which / 2 % items.len().max(1)).cloned();
            items.push(match which % 2 {
                0 => again.unwrap_or(other),
                _ => other,
            });
        }
        // A text that is nearly right.
        (3 | 4, Tree::Plain(_) | Tree::Quoted(_) | Tree::Null) => {
            let text = TEXTS[which / 3 % TEXTS.len()].to_owned();
            *node = match which % 3 {
                0 => Tree::Quoted(text),
                _ => Tree::Plain(text),
            };
        }
        // A text with a letter too many or too few.
        (5, Tree::Plain(text) | Tree::Quoted(text)) => {
            let mut letters: Vec<char> = text.chars().collect();
            let at = which / 4 % (letters.len() + 1);
            match which % 4 {
                0 if at < letters.len() => {
                    letters.remove(at);
                }
                1 => letters.insert(at, ' '),
                2 => letters.insert(at, '9'),
                _ => letters.insert(at, 'x'),
            }
            *text = letters.into_iter().collect();
        }
        // Another kind of value.
        (6 | 7, _) => {
            let old = node.clone();
            *node = match which % 10 {
                0 => Tree::Null,
                1 => Tree::List(Vec::new()),
                2 => Tree::Map(Vec::new()),
                3 => Tree::List(vec![old]),
                4 => Tree::Map(vec![("a".to_owned(), old)]),
                5 => Tree::List(vec![old.clone(), old]),
                6 => Tree::Plain("7".to_owned()),
                7 => Tree::Plain("true".to_owned()),
                8 => Tree::List(vec![Tree::Null]),
                _ => Tree::Plain(TEXTS[which / 10 % TEXTS.len()].to_owned()),
            };
        }
        // A branch of another place.
        _ => *node = other,
    }
}

pub type Slip = (usize, usize, usize);

/// Mostly one slip: after several a refusal may be for another one.
pub fn slips() -> impl Strategy<Value = Vec<Slip>> {
    let slip = || (any::<u32>(), 0usize..9, any::<u32>());
    let one = prop::collection::vec(slip(), 1);
    let some = prop::collection::vec(slip(), 2..4);
    prop_oneof![4 => one, 1 => some].prop_map(|slips| {
        let wide = |(place, what, which): (u32, usize, u32)| (place as usize, what, which as usize);
        slips.into_iter().map(wide).collect()
    })
}

/// All that is tried at every place of a tree, one at a time: every text, values of other kinds, keys left out,
/// misspelt and too many.
pub fn spoiled_everywhere(tree: &Tree, first: usize) -> Vec<Tree> {
    let entry = |key: &str, value: Tree| Tree::Map(vec![(key.to_owned(), value)]);
    let length = || Tree::Plain("4.7 mm".to_owned());
    let kinds = [
        Tree::Null,
        Tree::List(Vec::new()),
        Tree::Map(Vec::new()),
        Tree::List(vec![Tree::Null]),
        Tree::List(vec![length()]),
        entry("a", Tree::Null),
        entry("more_than", length()),
    ];
    let plain = TEXTS.iter().map(|text| Tree::Plain((*text).to_owned()));
    let in_quotes = [
        "", "5", "-1", "7.5", "1e3", "2026", "1999", "true", "false", "null",
    ]
    .map(|text| Tree::Quoted(text.to_owned()));
    let values: Vec<Tree> = plain.chain(in_quotes).chain(kinds).collect();
    let mut found = Vec::new();
    let mut with = |place: usize, change: &dyn Fn(&mut Tree)| {
        let mut tree = tree.clone();
        change(tree.nth(place));
        found.push(tree);
    };
    for place in first..tree.size() {
        for value in &values {
            with(place, &|node| *node = value.clone());
        }
    }
    for place in 0..tree.size() {
        let mut whole = tree.clone();
        let Tree::Map(entries) = whole.nth(place) else {
            continue;
        };
        let change = |node: &mut Tree, change: &dyn Fn(&mut Entries)| {
            if let Tree::Map(entries) = node {
                change(entries);
            }
        };
        for at in 0..entries.len() {
            with(place, &|node| {
                change(node, &|entries| drop(entries.remove(at)))
            });
            for key in ["colour", "Colour", "", "1"] {
                with(place, &|node| {
                    change(node, &|entries| entries[at].0 = key.to_owned())
                });
            }
        }
        with(place, &|node| {
            change(node, &|entries| {
                entries.push(("colour".to_owned(), length()))
            });
        });
    }
    found
}
