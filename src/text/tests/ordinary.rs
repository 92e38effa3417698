//! What is read directly against the parser of the whole language: the same tree, or left to it.

use std::path::{Path, PathBuf};

use crate::text::yaml::parse_whole;
use crate::text::{Source, ordinary};

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            walk(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "yaml") {
            found.push(path);
        }
    }
}

/// All YAML of the project and the traps: name and text.
fn texts() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = Vec::new();
    for folder in ["rules", "forms", "tests"] {
        walk(&root.join(folder), &mut paths);
    }
    paths.sort();
    let name = |path: &Path| path.strip_prefix(root).unwrap().display().to_string();
    let mut texts: Vec<(String, String)> = paths
        .iter()
        .filter_map(|path| Some((name(path), std::fs::read_to_string(path).ok()?)))
        .collect();
    let traps = include_str!("traps.txt").split("\n=====\n");
    texts.extend(traps.enumerate().map(|(at, case)| {
        let (input, _) = case.split_once("\n-----\n").unwrap();
        (format!("trap {at}"), format!("{input}\n"))
    }));
    texts.extend(
        SMALL
            .iter()
            .map(|text| ((*text).to_owned(), (*text).to_owned())),
    );
    texts
}

/// Corners of what is read directly, and of what lies just beyond.
const SMALL: &[&str] = &[
    "a: b",
    "a: b # c\n",
    "a: b#c\n",
    "a:\n  - b\n  - c: d\n    e: [f, { g: h }]\n",
    "a:\n- b\n- c\nd: e\n",
    "  a: b\n  c: d\n",
    "a: { b: c,\n     d: e }\nf: g\n",
    "a: [b,\n# c\n  d]\n",
    "a: [ b, # c\n  # d\n  e ]\n",
    "a: >-\n  b\n  c\n\nd: e\n",
    "a: >\n  b\n\n\nc: d\n",
    "a: |\n  b\n  c\nd:\n  - >-\n    e\n  - f\n",
    "- a: >-\n    b\n  c: d\n",
    "- a: >-\n    b\n- c\n",
    "a: >-\n  b\n  # c\nd: e\n",
    "a: >-\n  b\n# c\nd: e\n",
    "a: |\n  b\n  ",
    "a: |\n  b\n   ",
    "a:\n- >-\n  b\n",
    "a: |\n  b",
    "a: \"b\" # c\nd: 'e'\nf: ''\n",
    "a: \"b\\n\"\n",
    "a: 'b''c'\n",
    "a: null\n",
    "a:\nb: c\n",
    "a: [08:53, -6 mm, .5]\n",
    "a: -1 # b\n",
    "a: b\n  c\n",
    "a: b\n\n# c\n\n",
    "a: [b]\nc: {}\nd: []\n",
    "a: [max(b, c)]\n",
    "a: b\na: c\n",
    "é: b\n",
    "a: é °C\n",
    "a: \u{85}b\n",
];

fn agree(name: &str, text: &str) -> bool {
    let source = Source::new(name, text);
    let Some(direct) = ordinary::read(&source) else {
        return false;
    };
    match parse_whole(&source) {
        Ok(whole) => assert_eq!(direct, whole, "{name}:\n{text}"),
        Err(problems) => panic!("{name} is refused: {problems:?}\n{text}"),
    }
    true
}

#[test]
fn the_same_tree_is_read_directly() {
    let mut direct = 0;
    for (name, text) in texts() {
        let read = agree(&name, &text);
        direct += usize::from(read);
        let shipped = name.starts_with("rules/") || name.starts_with("forms/");
        assert!(read || !shipped, "{name} is not read directly");
    }
    assert!(direct > 100, "{direct}");
}

/// Numbers that come by chance and are the same in each run (splitmix64).
struct Chance(u64);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % end as u64) as usize
    }
}

/// Pieces of some lines of the texts, changed by chance. `RIMEGAUGE_ROUNDS` asks for more of them.
#[test]
fn changed_texts_are_read_alike() {
    const PUT_IN: &[&str] = &[
        " ", "  ", "\n", "\n\n", "\n  ", "\t", ":", ": ", "#", " #", ",", ", ", "-", "- ", "[",
        "]", "{", "}", "[]", "{ a: b }", "\"", "'", "''", "\\", ">", "|", ">-\n", "&a ", "*a", "!",
        "?", "? ", "%", "@", "`", "~", "null", "<<", "---\n", "...\n", "a", "0", "a: b\n", "- a\n",
        "é", "\u{a0}", "\u{2028}", "\u{feff}", "\r\n", "=", "(", ")", "/", ".",
    ];
    let rounds = std::env::var("RIMEGAUGE_ROUNDS");
    let rounds = rounds.map_or(30_000, |rounds| rounds.parse().unwrap());
    let texts = texts();
    let mut chance = Chance(rounds as u64);
    let mut direct = 0;
    for _ in 0..rounds {
        let (name, text) = &texts[chance.below(texts.len())];
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let first = chance.below(lines.len().max(1));
        let count = 1 + chance.below(12);
        let mut text: String = lines.iter().skip(first).take(count).copied().collect();
        for _ in 0..1 + chance.below(3) {
            let mut places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            places.push(text.len());
            let mut place = || places[chance.below(places.len())];
            let (at, end) = (place(), place());
            match chance.below(8) {
                0 | 1 if at < text.len() => drop(text.remove(at)),
                2 => text.replace_range(at.min(end)..at.max(end), ""),
                _ => text.insert_str(at, PUT_IN[chance.below(PUT_IN.len())]),
            }
        }
        direct += usize::from(agree(name, &text));
    }
    assert!(direct > rounds / 20, "{direct} of {rounds}");
}
