//! `compare --ballot`: the sheet that is voted on, as a paper and as a page.

use std::path::Path;
use std::process::Command;

use super::{Ran, command, folder, ran, root};

const OLD: &str = "tests/data/proposal/adopted.yaml";
const NEW: &str = "tests/data/proposal/proposed.yaml";
const FLEET: &str = "tests/data/proposal/fleet.jsonl";

fn compare(folder: &Path, more: &[&str]) -> Ran {
    let (old, new) = (root().join(OLD), root().join(NEW));
    let mut arguments = vec!["compare", old.to_str().unwrap(), new.to_str().unwrap()];
    arguments.extend(more);
    ran(command(&arguments).current_dir(folder).output().unwrap())
}

/// What a reader of the paper gets, lines joined.
fn words_of(paper: &Path) -> String {
    let told = Command::new("pdftotext")
        .arg("-layout")
        .arg(paper)
        .arg("-")
        .output()
        .unwrap();
    assert!(told.status.success());
    let text = String::from_utf8(told.stdout).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn sheets() -> tempfile::TempDir {
    let dir = folder();
    let fleet = root().join(FLEET);
    let more = [
        "--fleet",
        fleet.to_str().unwrap(),
        "--names",
        "--ballot",
        "ballot.pdf",
        "--ballot",
        "ballot.html",
    ];
    let told = compare(dir.path(), &more);
    told.exits(1);
    assert!(told.out.contains("Written: ballot.pdf"), "{}", told.out);
    dir
}

#[test]
fn paper_and_page_say_the_same_and_name_nobody() {
    let dir = sheets();
    let paper = words_of(&dir.path().join("ballot.pdf"));
    let page = std::fs::read_to_string(dir.path().join("ballot.html")).unwrap();
    for words in [
        "Ballot sheet",
        "change from 3.1.0 to 3.2.0",
        "Now (3.1.0)",
        "Proposed (3.2.0)",
        "Limit for insert",
        "Effect: tighter.",
        "Effect: none. Proved: by its data nothing becomes illegal or legal.",
        "Claimed by Technical Committee, not proved: by the words nothing becomes legal or illegal.",
        "A legal boat that becomes illegal",
        "The whole boat",
        "What E.3.2 Steel thickness asks for was never measured on 1 of 357 items.",
        "What the changed words do",
        "never measured",
        "60 boats in 60 records",
        "A major step is needed, and minor is declared",
        "steel_thickness:",
        "For the change",
        "Against the change",
        "Majority that the class asks for",
        "nothing on this sheet says that a boat is safe",
    ] {
        assert!(paper.contains(words), "paper: {words}\n{paper}");
        assert!(page.contains(words), "page: {words}");
    }
    // Both texts whole, in the page; on paper they stand in narrow columns. What differs is set apart, and not by colour.
    for (figure, words) in [
        ("4.70", "4.70</b> mm in an insert runner"),
        ("4.80", "4.80</b> mm in an insert runner"),
    ] {
        let marked = format!("<b class=\"differs\">{words}");
        assert!(page.contains(&marked), "{figure}\n{page}");
    }
    assert!(page.contains(".differs { font-weight: 700; text-decoration: underline;"));
    assert!(paper.contains("bold and underlined"), "{paper}");
    // Value, limit and outcome under both versions.
    for words in [
        "E.3.2 Steel thickness, runner R1 at 0 mm",
        "Value: 4.70 mm. Limit: at least 4.70 mm. Conforms.",
        "Value: 4.70 mm. Limit: at least 4.80 mm. Does not conform, short by 0.10 mm.",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    // What is claimed of words has its own heading, before the version.
    let at = |words: &str| paper.find(words).unwrap();
    assert!(at("What the changed words do") < at("The version that it needs"));
    let version = &paper[at("The version that it needs")..at("For and against")];
    assert!(!version.contains("claim"), "{version}");
    for sheet in [&paper, &page] {
        assert!(!sheet.contains("T8 "), "a sail number is told");
        assert!(!sheet.contains(".jsonl"), "a file is told");
    }
    for foreign in ["href=\"http", "<script", "url(http", "@import", "src="] {
        assert!(!page.contains(foreign), "{foreign}");
    }
}

#[test]
fn the_same_question_gives_the_same_bytes() {
    let (one, other) = (sheets(), sheets());
    for name in ["ballot.pdf", "ballot.html"] {
        let read = |dir: &tempfile::TempDir| std::fs::read(dir.path().join(name)).unwrap();
        assert_eq!(read(&one), read(&other), "{name}");
    }
}

#[test]
fn without_a_fleet_the_sheet_says_so() {
    let dir = folder();
    let told = compare(dir.path(), &["--ballot", "ballot.pdf", "--format", "json"]);
    told.exits(1);
    assert_eq!(told.json()["ballot_files"][0], "ballot.pdf");
    let paper = words_of(&dir.path().join("ballot.pdf"));
    assert!(
        paper.contains("No measured boats were looked at for this sheet."),
        "{paper}"
    );
}

/// A pair of versions of a shipped class, as a paper and as a page.
fn shipped(old: &str, new: &str) -> (tempfile::TempDir, String) {
    let dir = folder();
    let mut told = command(&[
        "compare",
        old,
        new,
        "--ballot",
        "ballot.pdf",
        "--ballot",
        "ballot.html",
    ]);
    ran(told.current_dir(dir.path()).output().unwrap()).exits(0);
    let page = std::fs::read_to_string(dir.path().join("ballot.html")).unwrap();
    (dir, page)
}

#[test]
fn both_sides_are_shown_and_a_boat_that_is_left_open_is_not_called_legal() {
    let (dir, page) = shipped("tarn-8@3.1.0", "tarn-8@4.0.0");
    for words in [
        "Boats that show it",
        "A legal boat that becomes illegal",
        "C.4.4 List of correctors, boat",
        "There is no such rule.",
        "Value: 0.9 kg. Limit: at most 0.10 kg. Does not conform, over by 0.80 kg.",
        "An illegal boat that would be left open, and so does not become legal",
        "E.5.1 Flat at 0.20 mm, runner R1",
        "Value: 1280 mm. Limit: at most 600 mm. Does not conform, over by 680 mm.",
        "Value: 1280 mm. Limit: at most 600 mm. Not decided: the reading is too old, or its day is not known.",
        "Nothing that is not legal now becomes legal by what is required: that is proved.",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    assert!(!page.contains("An illegal boat that becomes legal"));
    pages_hold_together(&dir.path().join("ballot.pdf"));
}

#[test]
fn a_boat_that_becomes_legal_is_shown_as_one() {
    let (dir, page) = shipped("tarn-8@3.0.0", "tarn-8@3.1.0");
    for words in [
        "A boat that shows it",
        "An illegal boat that becomes legal",
        "D.6.1 Mass of the hull",
        "Value: 35.0 kg. Limit: at least 24.0 kg. Conforms.",
        "By what evidence is asked, a record that does not conform now would be left open, which makes nothing legal.",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    pages_hold_together(&dir.path().join("ballot.pdf"));
}

/// No page ends with a heading, or with a sentence that leads to what stands on the next page.
fn pages_hold_together(paper: &Path) {
    let told = Command::new("pdftotext")
        .arg("-layout")
        .arg(paper)
        .arg("-")
        .output()
        .unwrap();
    let text = String::from_utf8(told.stdout).unwrap();
    let pages: Vec<&str> = text
        .split('\u{c}')
        .filter(|page| !page.is_empty())
        .collect();
    for (at, page) in pages.iter().enumerate() {
        let lines: Vec<&str> = page
            .lines()
            .map(str::trim)
            .filter(|line| !line.is_empty())
            .collect();
        let (foot, body) = lines.split_last().unwrap();
        assert!(
            foot.ends_with(&format!("page {} of {}", at + 1, pages.len())),
            "{foot}"
        );
        let last = body.last().unwrap();
        for words in [
            "of its record:",
            "What the change does",
            "Clause by clause",
            "What the changed words do",
            "not proved:",
            "Whom it hits",
            "Boats that show it",
            "A boat that shows it",
            "The version that it needs",
            "For and against",
            "The two files",
        ] {
            assert!(!last.ends_with(words), "page {} ends with {last}", at + 1);
        }
        assert!(
            !last.starts_with("Now ("),
            "page {} ends with heads",
            at + 1
        );
    }
}

/// A sheet for a version that counts already does not call it proposed.
#[test]
fn a_version_that_is_adopted_is_not_called_proposed() {
    let dir = super::folder();
    let arguments = [
        "compare",
        "tarn-8@3.0.0",
        "tarn-8@3.1.0",
        "--ballot",
        "b.html",
    ];
    let run = super::command(&arguments).current_dir(dir.path()).output();
    super::ran(run.unwrap());
    let page = std::fs::read_to_string(dir.path().join("b.html")).unwrap();
    assert!(page.contains("Adopted (3.1.0)") && page.contains("Before (3.0.0)"));
    assert!(!page.contains("Proposed ("), "{page}");
}
