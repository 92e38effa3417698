//! The traps YAML lays, and broken JSON: exact code, underlined text, message and help.
//!
//! The cases stand in `traps.txt` and `traps-json.txt`, parted by `=====`, each with its input, a line
//! `-----` and what is told. A new case is written with its input only; `RIMEGAUGE_REWRITE=1` fills
//! in and rewrites what is told, to be read before it is committed.

use std::fmt::Write;
use std::path::Path;

use super::told_all;
use crate::text::{CODES, Node, Source, TextProblem, parse_json_line, parse_yaml};

type Parse = for<'s> fn(&'s Source) -> Result<Node<'s>, Vec<TextProblem>>;

fn retell(cases: &str, name: &str, parse: Parse) -> String {
    let mut all = Vec::new();
    for case in cases.split("\n=====\n") {
        let (input, _) = case.split_once("\n-----\n").unwrap_or((case, ""));
        let source = Source::new(name, format!("{input}\n"));
        let told = match parse(&source) {
            Ok(node) => format!("reads as {}", node.to_json()),
            Err(problems) => told_all(&source, &problems),
        };
        all.push(format!("{input}\n-----\n{told}"));
    }
    let mut text = all.join("\n=====\n");
    text.push('\n');
    text
}

fn check(file: &str, cases: &str, name: &str, parse: Parse) {
    let told = retell(cases.trim_end_matches('\n'), name, parse);
    if told == cases {
        return;
    }
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("src/text/tests")
            .join(file);
        std::fs::write(path, &told).unwrap();
    }
    let mut differences = String::new();
    for (is, was) in told.split("\n=====\n").zip(cases.split("\n=====\n")) {
        if is != was {
            writeln!(differences, "told now:\n{is}\nin {file}:\n{was}\n").unwrap();
        }
    }
    panic!("{differences}");
}

#[test]
fn yaml_traps_are_told_in_plain_words() {
    check("traps.txt", include_str!("traps.txt"), "a.yaml", parse_yaml);
}

#[test]
fn broken_json_is_told_in_plain_words() {
    let parse: Parse = |source| parse_json_line(source, 0..source.text().len() - 1);
    check(
        "traps-json.txt",
        include_str!("traps-json.txt"),
        "a.jsonl",
        parse,
    );
}

#[test]
fn codes_are_listed_once_and_in_order() {
    assert!(CODES.windows(2).all(|pair| pair[0].0 < pair[1].0));
    assert!(CODES.iter().all(|(code, _)| code.starts_with("text.")));
}
