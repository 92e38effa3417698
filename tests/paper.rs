//! Certificates are printed, then read back with poppler's tools (package `poppler-utils`).
//!
//! The printed files stay in the test's folder under `target`, to be looked at.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

#[path = "paper/nightjar.rs"]
mod model;

use std::path::{Path, PathBuf};
use std::process::Command;

use model::{nightjar, with_runners};
use rimegauge::paper::certificate::{NotMeasured, SAYS, SAYS_NOT};
use rimegauge::paper::{self, Certificate, PaperProblem, Printed};

/// Prints to a file of its own; gives what was printed and where.
fn printed(name: &str, certificate: &Certificate) -> (Printed, PathBuf) {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.pdf"));
    let printed = paper::print(certificate).unwrap();
    std::fs::write(&path, &printed.pdf).unwrap();
    (printed, path)
}

fn run(tool: &str, arguments: &[&str], file: &Path) -> String {
    let out = Command::new(tool)
        .args(arguments)
        .arg(file)
        .args((tool == "pdftotext").then_some("-"))
        .output()
        .unwrap_or_else(|e| panic!("{tool} can't be run ({e}); it comes with poppler-utils"));
    assert!(out.status.success(), "{tool}: {out:?}");
    assert_eq!(String::from_utf8_lossy(&out.stderr), "", "{tool}");
    String::from_utf8(out.stdout).unwrap()
}

/// The text of each page, without its foot, and the foots.
fn pages(file: &Path) -> (Vec<String>, Vec<String>) {
    let text = run("pdftotext", &["-layout"], file);
    text.trim_end_matches('\u{c}')
        .split('\u{c}')
        .map(|page| {
            let (body, foot) = page.trim_end().rsplit_once('\n').unwrap();
            (body.trim().to_owned(), one_line(foot))
        })
        .unzip()
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Fifteen runners under twelve clauses.
fn long() -> Certificate {
    let ids: Vec<String> = (1..=15).map(|n| format!("S{n}")).collect();
    let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
    with_runners(&ids)
}

/// Every text in the model.
fn every_text(value: &serde_json::Value, texts: &mut Vec<String>) {
    match value {
        serde_json::Value::String(text) => texts.push(text.clone()),
        serde_json::Value::Array(values) => values.iter().for_each(|v| every_text(v, texts)),
        serde_json::Value::Object(fields) => fields.values().for_each(|v| every_text(v, texts)),
        serde_json::Value::Null | serde_json::Value::Bool(_) | serde_json::Value::Number(_) => {}
    }
}

#[test]
fn every_text_of_the_model_can_be_read_back() {
    for (name, certificate) in [("nightjar", nightjar()), ("fifteen", long())] {
        let (printed, file) = printed(name, &certificate);
        assert_eq!(printed.notes, Vec::<String>::new());
        let in_order = one_line(&run("pdftotext", &["-raw"], &file));
        let laid_out = run("pdftotext", &["-layout"], &file);
        let words: Vec<&str> = laid_out.split_whitespace().collect();
        let mut texts = vec![SAYS.to_owned(), SAYS_NOT.to_owned()];
        every_text(&serde_json::to_value(&certificate).unwrap(), &mut texts);
        texts.push(paper::check_code(&certificate));
        assert!(texts.len() > 200);
        for text in texts {
            assert!(
                in_order.contains(&one_line(&text)),
                "{name}: \"{text}\" is not on the paper"
            );
            for word in text.split_whitespace() {
                assert!(
                    words.iter().any(|w| w.contains(word)),
                    "{name}: \"{word}\" of \"{text}\" is not whole on the paper"
                );
            }
        }
    }
}

#[test]
fn a_finding_stands_on_one_line_with_its_item() {
    let (_, file) = printed("line", &nightjar());
    let text = run("pdftotext", &["-layout"], &file);
    let lines: Vec<String> = text.lines().map(one_line).collect();
    for line in [
        "E.3.2 Steel thickness S1 4.83 ± 0.02 mm 2.0 0.13 mm inside 5 of 5 −160 mm conforms",
        "at least 4.70 mm S2 4.83 ± 0.02 mm 2.0 0.13 mm inside 5 of 5 −160 mm conforms",
        "C.4.1 Mass of the boat boat 81.41 ± 0.10 kg 2.0 3.41 kg inside conforms",
        "mic_2 micrometer M-2207 2026-03-12 2027-03-12 08:40 5.000 → 5.00 mm 17:20 5.000 → 5.00 mm",
        "S9 runner, tee side T8 41 S9 engraved not covered: not asked for",
    ] {
        assert!(lines.iter().any(|l| l == line), "{line}\n{text}");
    }
}

#[test]
fn the_order_is_that_of_a_reader() {
    let (_, file) = printed("order", &nightjar());
    let text = one_line(&run("pdftotext", &["-raw"], &file));
    let order = [
        "Measurement certificate",
        "T8 41 · Nightjar",
        "Class rules",
        "Decision rule",
        "Hull, plank, mast",
        "This certificate says",
        "Compliance is not safety.",
        "Marks and labels",
        "Findings",
        "C.4.1",
        "E.2.1",
        "Not measured, not covered, does not apply",
        "Accepted under an earlier rule",
        "Check before",
        "Record and notes",
        "It ends when",
        "Cautions",
        "Signatures",
        "Owner: receipt",
        "Owner: agreement",
        "Stamp of the authority",
        "Check code",
    ];
    let mut from = 0;
    for words in order {
        let at = text[from..].find(words);
        assert!(at.is_some(), "\"{words}\" does not follow");
        from += at.unwrap();
    }
}

#[test]
fn the_same_model_gives_the_same_bytes_in_any_order() {
    let (one, other) = (nightjar(), long());
    let first = paper::certificate(&one).unwrap();
    let second = paper::certificate(&other).unwrap();
    assert_eq!(paper::certificate(&one).unwrap(), first);
    assert_eq!(paper::certificate(&other).unwrap(), second);
    assert_ne!(first, second);
}

/// Prints the two papers in the order that the environment says, in a process of its own.
#[test]
fn printed_by_another_process() {
    let Ok(order) = std::env::var("PAPER_TEST_ORDER") else {
        return;
    };
    for name in order.split(',') {
        let certificate = if name == "long" { long() } else { nightjar() };
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{order}-{name}.pdf"));
        std::fs::write(path, paper::certificate(&certificate).unwrap()).unwrap();
    }
}

#[test]
fn two_processes_give_the_same_bytes() {
    for order in ["long,short", "short,long"] {
        let out = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "printed_by_another_process"])
            .env("PAPER_TEST_ORDER", order)
            .output()
            .unwrap();
        assert!(out.status.success(), "{out:?}");
    }
    let read = |name: &str| {
        std::fs::read(Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.pdf"))).unwrap()
    };
    assert_eq!(read("long,short-long"), read("short,long-long"));
    assert_eq!(read("long,short-short"), read("short,long-short"));
    assert_eq!(
        read("long,short-long"),
        paper::certificate(&long()).unwrap()
    );
}

#[test]
fn every_page_says_whose_it_is_and_which() {
    let certificate = long();
    let (printed, file) = printed("foot", &certificate);
    let (bodies, foots) = pages(&file);
    assert_eq!(bodies.len(), printed.pages);
    assert!((5..=7).contains(&printed.pages), "{} pages", printed.pages);
    for (n, foot) in foots.iter().enumerate() {
        assert_eq!(
            *foot,
            format!(
                "T8 41 · Nightjar · certificate HW-0117 · measured 2026-11-21 · {} page {} of {}",
                paper::check_code(&certificate),
                n + 1,
                printed.pages
            )
        );
    }
    assert_eq!(paper::print(&nightjar()).unwrap().pages, 4);
}

#[test]
fn no_page_ends_with_a_heading_and_each_begins_with_one() {
    let headings = [
        "Items",
        "Findings",
        "Not measured, not covered, does not apply",
        "Accepted under an earlier rule",
        "Instruments",
        "Record and notes",
        "Validity and cautions",
        "Signatures",
        "It ends when",
    ];
    // The end of a page meets every part of the certificate as the runners grow in number.
    for count in 1..=20 {
        let ids: Vec<String> = (1..=count).map(|n| format!("S{n}")).collect();
        let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
        let (_, file) = printed("headings", &with_runners(&ids));
        for body in pages(&file).0 {
            let last = one_line(body.lines().last().unwrap());
            assert!(
                !headings.contains(&last.as_str()),
                "{count} runners: {last}"
            );
            assert!(
                !last.starts_with("Clause ") && !last.ends_with("continued"),
                "{count} runners: {last}"
            );
            let parts = [
                "C Boat as a whole",
                "D Hull and plank",
                "E Runners",
                "G Sails",
            ];
            assert!(!parts.contains(&last.as_str()), "{count} runners: {last}");
        }
    }
}

#[test]
fn no_row_splits() {
    let mut certificate = nightjar();
    certificate.not_measured = (0..60)
        .map(|n| NotMeasured {
            clause: format!("X.{n}"),
            title: format!("first{n}first"),
            items: "S1".to_owned(),
            how: "not measured".to_owned(),
            why: format!(
                "{}last{n}last",
                "the readings of this place were void, ".repeat(4)
            ),
        })
        .collect();
    let (printed, file) = printed("rows", &certificate);
    assert!(printed.pages > 7);
    let bodies = pages(&file).0;
    for n in 0..60 {
        let page_of = |word: String| bodies.iter().position(|body| body.contains(&word)).unwrap();
        assert_eq!(
            page_of(format!("first{n}first")),
            page_of(format!("last{n}last"))
        );
    }
}

#[test]
fn names_of_europe_are_printed_as_they_are_written() {
    let mut certificate = nightjar();
    let names = [
        "Grażyna Wójcik-Żółć",
        "Тарас Ґонтаренко",
        "Åse Öberg",
        "Jõgi Külli Šnore",
        "Þórður Æsir",
        "Νίκη Ωραία",
        "ěščřžýáíé ďťň",
    ];
    certificate.notes = names.iter().map(ToString::to_string).collect();
    certificate.boat.owner = names[0].to_owned();
    // Written with a combining accent, printed with the composed letter.
    certificate.document.measurer = "A. Zoe\u{308}".to_owned();
    let (printed, file) = printed("names", &certificate);
    assert_eq!(printed.notes, Vec::<String>::new());
    let text = one_line(&run("pdftotext", &["-raw"], &file));
    for name in names {
        assert!(text.contains(name), "{name}");
    }
    assert!(text.contains("A. Zoë"));
}

#[test]
fn a_script_that_the_fonts_lack_is_named_and_does_not_stop_the_paper() {
    let mut certificate = nightjar();
    certificate.boat.owner = "王 芳".to_owned();
    certificate.boat.name = "Night\u{202e}jar".to_owned();
    let (printed, file) = printed("script", &certificate);
    assert_eq!(printed.notes.len(), 1);
    for sign in ["U+738B", "U+82B3", "U+202E"] {
        assert!(printed.notes[0].contains(sign), "{}", printed.notes[0]);
    }
    let text = one_line(&run("pdftotext", &["-raw"], &file));
    assert!(text.contains("[U+738B] [U+82B3]"));
    assert!(text.contains("T8 41 · Night[U+202E]jar"));
    assert!(text.contains(&printed.notes[0]));
}

#[test]
fn the_file_says_what_it_is() {
    let (printed, file) = printed("about", &nightjar());
    let info = one_line(&run("pdfinfo", &["-isodates"], &file));
    for said in [
        "Title: Measurement certificate HW-0117 · T8 41",
        "Creator: rimegauge 0.1.0",
        "CreationDate: 2026-11-21",
        "ModDate: 2026-11-22",
        "Page size: 595.276 x 841.89 pts (A4)",
        "PDF version: 1.7",
    ] {
        assert!(info.contains(said), "{said}\n{info}");
    }
    let fonts = run("pdffonts", &[], &file);
    let faces: Vec<&str> = fonts.lines().skip(2).collect();
    assert_eq!(faces.len(), 2);
    for face in faces {
        assert!(
            face.contains("+Lato-") && face.contains("yes yes yes"),
            "{face}"
        );
    }
    let read = lopdf::Document::load_mem(&printed.pdf).unwrap();
    let language = read.catalog().unwrap().get(b"Lang").unwrap();
    assert_eq!(language.as_str().unwrap(), b"en");
    assert!(printed.pdf.len() < 60_000, "{} bytes", printed.pdf.len());
}

#[test]
fn the_check_code_follows_every_word() {
    let code = paper::check_code(&nightjar());
    assert_eq!(code.len(), 19);
    assert_eq!(code, paper::check_code(&nightjar()));
    let mut other = nightjar();
    other.parts[2].findings[3].value = "4.84 ± 0.02 mm".to_owned();
    assert_ne!(code, paper::check_code(&other));
    let mut other = nightjar();
    other.document.replaces = None;
    assert_ne!(code, paper::check_code(&other));
}

#[test]
fn what_is_not_known_is_left_out_or_said() {
    let mut certificate = nightjar();
    certificate.document.issued_on = None;
    certificate.document.replaces = None;
    certificate.document.temperature = None;
    certificate.boat.built = None;
    certificate.boat.built_proof = None;
    certificate.grandfathered.clear();
    certificate.not_measured.clear();
    let (_, file) = printed("unknown", &certificate);
    let text = one_line(&run("pdftotext", &["-layout"], &file));
    assert!(text.contains("not stated"));
    for absent in [
        "Air temperature",
        "Accepted under",
        "Not measured, not covered",
    ] {
        assert!(!text.contains(absent), "{absent}");
    }
    assert!(run("pdfinfo", &["-isodates"], &file).contains("2026-11-21"));
}

#[test]
fn an_empty_certificate_is_still_a_paper() {
    let mut certificate = Certificate::default();
    certificate.document.measured_on = "2026-11-21".to_owned();
    let (printed, file) = printed("empty", &certificate);
    assert_eq!(printed.pages, 1);
    assert!(one_line(&run("pdftotext", &["-raw"], &file)).contains(SAYS_NOT));
}

#[test]
fn long_words_and_numbers_stay_on_the_paper() {
    let mut certificate = nightjar();
    certificate.document.number = "HW-2026-0117-second-copy-of-the-committee".to_owned();
    certificate.boat.name = "Nightjar ".repeat(30);
    certificate.items[0].id = "a".repeat(60);
    let (printed, file) = printed("words", &certificate);
    let bounds = run("pdftotext", &["-bbox"], &file);
    let mut seen = 0;
    for line in bounds.lines().filter(|line| line.contains("<word ")) {
        let right: f64 = line
            .split("xMax=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        let bottom: f64 = line
            .split("yMax=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        assert!(right < 595.3 - 50.0 && bottom < 841.9 - 48.0, "{line}");
        seen += 1;
    }
    assert!(seen > 500);
    assert!(printed.pages >= 4);
}

#[test]
fn a_day_that_is_no_date_and_a_row_without_end_are_problems() {
    let mut certificate = nightjar();
    certificate.document.measured_on = "2026-02-30".to_owned();
    let problem = paper::certificate(&certificate).unwrap_err();
    assert_eq!(
        problem.to_string(),
        "the day of measurement is \"2026-02-30\", which is no date; a date looks like 2026-11-21"
    );
    // Far longer than any name, so that it fills the face and would fill the foot.
    let mut certificate = nightjar();
    certificate.boat.name = "Nightjar ".repeat(2000);
    assert!(matches!(
        paper::certificate(&certificate),
        Err(PaperProblem::TooTall { part }) if part.starts_with("T8 41 · Nightjar")
    ));
    let mut certificate = nightjar();
    certificate.not_measured[0].why = "void ".repeat(4000);
    assert!(matches!(
        paper::certificate(&certificate),
        Err(PaperProblem::TooTall { part }) if part == "E.8.1"
    ));
}

/// The longest name that an item can have stays in one piece in every row, and so does a value of many digits.
#[test]
fn long_names_of_items_and_long_values_break_no_row() {
    let id = "S1-hard_ice.2026";
    let mut certificate = with_runners(&[id, "S2"]);
    for part in &mut certificate.parts {
        for finding in &mut part.findings {
            if finding.value.contains("mm") {
                finding.value = "104.500 ± 0.060 mm".to_owned();
            }
        }
    }
    let (_, file) = printed("long-names", &certificate);
    let text = run("pdftotext", &["-layout"], &file);
    let rows = certificate
        .parts
        .iter()
        .flat_map(|part| &part.findings)
        .filter(|finding| finding.item == id)
        .count();
    assert!(rows > 5);
    let whole = text.lines().filter(|line| line.contains(id)).count();
    assert!(whole >= rows, "{whole} of {rows}\n{text}");
    for line in text.lines().filter(|line| line.contains("104.500")) {
        assert!(line.contains("104.500 ± 0.060 mm"), "{line}");
    }
}
