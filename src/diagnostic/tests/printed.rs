//! The exact text of each printer. `RIMEGAUGE_REWRITE=1` rewrites the references, to be read before
//! they are committed.

use std::path::Path;

use serde_json::json;

use super::{at, hard_ones, record};
use crate::diagnostic::{Diagnostic, DrawOptions, draw, narrate, summary, to_json};

fn refer(file: &str, reference: &str, now: &str) {
    if now == reference {
        return;
    }
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("src/diagnostic/tests")
            .join(file);
        std::fs::write(path, now).unwrap();
    }
    let same = now
        .lines()
        .zip(reference.lines())
        .take_while(|(now, was)| now == was)
        .count();
    panic!(
        "{file} differs from line {} on:\n{}",
        same + 1,
        now.lines()
            .skip(same)
            .take(12)
            .collect::<Vec<_>>()
            .join("\n")
    );
}

#[test]
fn drawn() {
    refer(
        "drawn.txt",
        include_str!("drawn.txt"),
        &draw(&hard_ones(), DrawOptions::default()),
    );
}

#[test]
fn drawn_narrow_without_box_characters() {
    let options = DrawOptions {
        width: 60,
        colour: false,
        unicode: false,
    };
    let drawn = draw(&hard_ones(), options);
    refer("drawn-ascii.txt", include_str!("drawn-ascii.txt"), &drawn);
}

#[test]
fn narrated() {
    refer(
        "narrated.txt",
        include_str!("narrated.txt"),
        &narrate(&hard_ones()),
    );
}

#[test]
fn colour_only_colours() {
    let plain = draw(&hard_ones(), DrawOptions::default());
    assert!(!plain.contains('\u{1b}'));
    let coloured = draw(
        &hard_ones(),
        DrawOptions {
            colour: true,
            ..DrawOptions::default()
        },
    );
    assert!(coloured.contains("\u{1b}[31m"));
    let mut bare = String::new();
    let mut parts = coloured.split('\u{1b}');
    bare.push_str(parts.next().unwrap());
    for part in parts {
        bare.push_str(part.split_once('m').expect("only colours").1);
    }
    let lines = |text: &str| -> Vec<String> {
        text.lines()
            .map(|line| line.trim_end().to_string())
            .collect()
    };
    assert_eq!(lines(&bare), lines(&plain));
}

#[test]
fn as_json() {
    let record = record();
    let diagnostic = Diagnostic::fault("check.limit", "too thin")
        .label(&record, at(&record, "4.62 mm"), "short by 0.08 mm")
        .clause("D.3.2");
    assert_eq!(
        to_json(&[diagnostic]),
        json!({
            "format": "rimegauge-diagnostics/1",
            "diagnostics": [ {
                "code": "check.limit",
                "severity": "fault",
                "message": "too thin",
                "labels": [ {
                    "file": "nightjar.yaml", "line": 3, "column": 32, "end_line": 3, "end_column": 39,
                    "words": "short by 0.08 mm"
                } ],
                "help": null,
                "clause": "D.3.2"
            } ]
        })
    );
    assert_eq!(to_json(&[])["diagnostics"], json!([]));
}

#[test]
fn counted() {
    assert_eq!(summary(&[]), "");
    assert_eq!(summary(&[Diagnostic::fault("a.b", "c")]), "1 fault");
    assert_eq!(summary(&hard_ones()), "8 faults, 2 notices");
}

#[test]
fn both_places_of_two_sources_are_named() {
    let drawn = draw(&hard_ones()[..1], DrawOptions::default());
    assert!(drawn.contains("[nightjar.yaml:3:32]"), "{drawn}");
    assert!(drawn.contains("[tarn-8/3.1.0.yaml:3:13]"), "{drawn}");
}
