//! Bad input: every folder of `tests/bad-input/` is a case, and comes out exactly as its `expected` says.
//!
//! A case is run by the program itself, in a copy of its folder. What a case can say stands in
//! `tests/bad-input/README.md`. `RIMEGAUGE_REWRITE=1` writes `expected` anew; `RIMEGAUGE_CASE=name` runs
//! only the cases whose names have that in them.

mod folder;
mod made;
#[cfg(target_os = "linux")]
mod memory;

use std::fs;
use std::path::Path;

use folder::{Case, Ran};

/// Fewer would mean that the folder was not found.
const LEAST: usize = 75;

#[test]
fn every_case_comes_out_as_it_says() {
    let rewrite = std::env::var_os("RIMEGAUGE_REWRITE").is_some();
    let wanted = std::env::var("RIMEGAUGE_CASE").unwrap_or_default();
    let all = folder::all();
    assert!(all.len() >= LEAST, "only {} cases are there", all.len());
    let mut wrong = Vec::new();
    for case in all.iter().filter(|case| case.name.contains(&wanted)) {
        let Some(ran) = case.run() else {
            println!(
                "{} needs what this system does not have, and is passed over",
                case.name
            );
            continue;
        };
        if let Some(words) = never(&ran) {
            wrong.push(format!("{}: {words}\n{}", case.name, ran.shown()));
        }
        let file = case.path.join("expected");
        let shown = ran.shown();
        if rewrite {
            if fs::read_to_string(&file).ok().as_ref() != Some(&shown) {
                fs::write(&file, &shown).unwrap();
            }
            continue;
        }
        let expected = fs::read_to_string(&file).unwrap_or_default();
        if expected != shown {
            wrong.push(format!(
                "{} comes out otherwise\n{}",
                case.name,
                difference(&expected, &shown)
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} cases\n\n{}",
        wrong.len(),
        wrong.join("\n\n")
    );
}

/// What no input may bring about, whatever is expected of it.
fn never(ran: &Ran) -> Option<&'static str> {
    let all = format!("{}{}", ran.output, ran.problems);
    let place = Path::new(env!("CARGO_MANIFEST_DIR"))
        .to_string_lossy()
        .into_owned();
    if all.contains("panicked") || all.contains("RUST_BACKTRACE") {
        Some("the program panicked")
    } else if ran.code.is_none() {
        Some("the program was ended from outside")
    } else if ran.code.is_some_and(|code| code > 4) {
        Some("the contract has no such exit code")
    } else if ran.code != Some(0) && all.trim().is_empty() {
        Some("nothing was said")
    } else if all.contains('\u{1b}') {
        Some("an escape code reached the terminal")
    } else if all.contains(&place) || all.contains(&ran.place) {
        Some("a path of this machine is in a message")
    } else if ran.left.iter().any(|name| name.ends_with(".part")) {
        Some("half a file was left")
    } else {
        None
    }
}

/// The lines in which two texts differ, between what they have in common at both ends.
fn difference(expected: &str, found: &str) -> String {
    const CONTEXT: usize = 2;
    let (old, new): (Vec<&str>, Vec<&str>) = (expected.lines().collect(), found.lines().collect());
    let begin = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let shorter = old.len().min(new.len()) - begin;
    let end = old
        .iter()
        .rev()
        .zip(new.iter().rev())
        .take(shorter)
        .take_while(|(a, b)| a == b)
        .count();
    let mut text = String::new();
    let mut add = |sign: char, lines: &[&str]| {
        lines
            .iter()
            .for_each(|line| text.push_str(&format!("{sign} {line}\n")))
    };
    add(' ', &old[begin.saturating_sub(CONTEXT)..begin]);
    add('-', &old[begin..old.len() - end]);
    add('+', &new[begin..new.len() - end]);
    add(
        ' ',
        &new[new.len() - end..(new.len() - end + CONTEXT).min(new.len())],
    );
    text
}

#[test]
fn a_difference_shows_the_lines_that_differ() {
    assert_eq!(
        difference("a\nb\nc\nd\n", "a\nb\nx\nd\n"),
        "  a\n  b\n- c\n+ x\n  d\n"
    );
    assert_eq!(difference("", "x\n"), "+ x\n");
    assert_eq!(difference("a\na\n", "a\n"), "  a\n- a\n");
}

#[test]
fn every_case_says_what_it_shows() {
    for case in folder::all() {
        assert!(
            !case.shows.is_empty(),
            "{}: the command file begins with `# what the case shows`",
            case.name
        );
        assert!(
            case.path.join("expected").is_file(),
            "{}: run it with RIMEGAUGE_REWRITE=1 and read the result",
            case.name
        );
    }
}

/// A case for the tests of the runner.
fn case(text: &str) -> Case {
    Case::new("name", Path::new("."), text)
}

#[test]
fn a_command_file_is_read_in_lines() {
    let case = case("# What it shows.\nfolder empty\ncheck \"a b.yaml\" --on 2026-11-21\n");
    assert_eq!(case.shows, "What it shows.");
    assert_eq!(case.setup, ["folder empty"]);
    assert_eq!(case.arguments, ["check", "a b.yaml", "--on", "2026-11-21"]);
}
