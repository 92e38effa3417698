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
        "Effect: no effect of its data.",
        "falls short of at least 4.80 mm by 0.10 mm",
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
    // Both texts whole, in the page; on paper they stand in narrow columns.
    assert!(page.contains("4.70 mm in an insert runner"), "{page}");
    assert!(page.contains("4.80 mm in an insert runner"), "{page}");
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
