//! The tables `good.txt` and `bad.txt`: what each expression reads to, or what is said about it.
//!
//! A case starts with `[part]`, `[part condition]` or `[part value]` and the text; `⏎` stands for a line
//! break and `␣` for a no-break space. What follows is compared to the letter. With the variable
//! `REWRITE_TABLES` set, the tables are written anew from what is read: look at every difference.

use std::fmt::Write as _;

use super::super::show;
use super::trees::shape;
use super::vocabulary::vocabulary;
use super::{Reading, read_in};

const HEAD: usize = 2;

struct Case {
    head: String,
    own: String,
    reading: Reading,
    text: String,
    expected: String,
    comments: String,
}

fn cases(table: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    let mut comments = String::new();
    for line in table.lines() {
        if line.starts_with('#') || line.is_empty() {
            comments.push_str(line);
            comments.push('\n');
        } else if let Some((head, text)) = line
            .strip_prefix('[')
            .and_then(|rest| rest.split_once("] "))
        {
            let (own, reading) = head.split_once(' ').unwrap_or((head, ""));
            let reading = match reading {
                "condition" => Reading::Condition,
                "value" => Reading::Value,
                "" => Reading::Any,
                other => panic!("no way of reading: {other}"),
            };
            cases.push(Case {
                head: line.to_owned(),
                own: own.to_owned(),
                reading,
                text: text
                    .replace('⏎', "\n")
                    .replace('␣', "\u{a0}")
                    .replace('⌫', ""),
                expected: String::new(),
                comments: std::mem::take(&mut comments),
            });
        } else {
            let case = cases.last_mut().expect("a line before the first case");
            case.expected.push_str(line);
            case.expected.push('\n');
        }
    }
    cases
}

fn good(case: &Case) -> String {
    let vocabulary = vocabulary();
    match read_in(&vocabulary, &case.own, case.reading, &case.text) {
        Ok(expression) => {
            let places = if expression.yields.placed {
                ", for each place"
            } else {
                ""
            };
            format!(
                "  {}\n  {}\n  {}{places}\n",
                show(&expression, &vocabulary),
                shape(&expression.root, expression.own, &vocabulary),
                expression.yields.kind.in_words(),
            )
        }
        Err(problems) => format!("  refused: {problems:?}\n"),
    }
}

fn bad(case: &Case) -> String {
    let vocabulary = vocabulary();
    let problems = match read_in(&vocabulary, &case.own, case.reading, &case.text) {
        Ok(expression) => return format!("  read as {}\n", show(&expression, &vocabulary)),
        Err(problems) => problems,
    };
    let mut out = String::new();
    let indent = case.head.chars().count() - case.head.split_once("] ").unwrap().1.chars().count();
    for problem in &problems {
        let range = problem.span.range();
        let before = case.text[..range.start].chars().count();
        let marks = match case.text[range].chars().count() {
            0 => "|".to_owned(),
            count => "^".repeat(count),
        };
        writeln!(out, "{:indent$}{:before$}{marks}", "", "").unwrap();
        // The codes of quantities and dates are theirs; here only what is said counts.
        let code = if problem.code.starts_with("expression.") {
            problem.code
        } else {
            "literal"
        };
        writeln!(out, "{:HEAD$}{code}: {}", "", problem.message).unwrap();
        if let Some(help) = &problem.help {
            writeln!(out, "{:HEAD$}help: {help}", "").unwrap();
        }
    }
    if problems.is_empty() {
        out.push_str("  nothing is said: it is wrong elsewhere\n");
    }
    out
}

fn run(file: &str, table: &str, found: impl Fn(&Case) -> String) {
    let cases = cases(table);
    assert!(cases.len() > 30, "the table {file} was not read");
    let mut faults = String::new();
    let mut rewritten = String::new();
    for case in &cases {
        let found = found(case);
        if found != case.expected {
            write!(
                faults,
                "{}\nexpected\n{}found\n{found}\n",
                case.head, case.expected
            )
            .unwrap();
        }
        write!(rewritten, "{}{}\n{found}", case.comments, case.head).unwrap();
    }
    if std::env::var_os("REWRITE_TABLES").is_some() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("src/expression/tests")
            .join(file);
        std::fs::write(path, rewritten).unwrap();
    }
    assert!(faults.is_empty(), "{file} differs:\n{faults}");
}

#[test]
fn good_expressions_read_to_their_trees() {
    run("good.txt", include_str!("good.txt"), good);
}

#[test]
fn bad_expressions_get_their_words() {
    run("bad.txt", include_str!("bad.txt"), bad);
}

/// Every code of the room but those that need long texts or chains has a case in the table.
#[test]
fn every_code_has_a_case() {
    let table = include_str!("bad.txt");
    for (code, _) in super::super::CODES {
        let elsewhere = [
            "expression.depth",
            "expression.length",
            "expression.size",
            "expression.too_many",
        ]
        .contains(code);
        assert!(
            elsewhere || table.contains(&format!("{code}: ")),
            "no case for {code}"
        );
    }
}
