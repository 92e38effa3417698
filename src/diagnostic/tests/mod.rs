//! Tests of the room.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod any;
mod order;
mod printed;

use std::sync::Arc;

use super::Diagnostic;
use crate::text::{Source, Span, decode, parse_yaml};

/// The place of the first occurrence of some words.
fn at(source: &Source, words: &str) -> Span {
    let start = source.text().find(words).expect(words);
    Span::new(start, start + words.len())
}

fn record() -> Arc<Source> {
    let text = "boat: Kärki\r\nrunners:\r\n\t- { id: S1, näme: é漢字, steel: 4.62 mm }\r\n  - x\r\n\r\n\
                \r\n\r\nlast: one";
    Source::new("nightjar.yaml", text)
}

/// Messages that between them have all that is hard to print.
fn hard_ones() -> Vec<Diagnostic> {
    let record = record();
    let rules = Source::new(
        "tarn-8/3.1.0.yaml",
        "a: 1\nlimits:\n  insert: { at_least: 4.70 mm }\nb: 2\n",
    );
    let filler = |letter: &str| letter.repeat(500_000);
    let long = Source::new_at(
        "fleet.jsonl",
        format!(
            "{{\"a\": \"{}\", \"steel\": 4.62, \"b\": \"{}\", \"c\": 7}}\n{{}}\n",
            filler("x"),
            filler("y")
        ),
        41,
    );
    let hostile = Source::new("ev\u{1b}il.yaml", "a: \"\u{1b}[31m\u{202e}abc\u{7}\" end\n");
    let mut all = vec![
        Diagnostic::fault(
            "check.limit",
            "the steel of S1 is thinner than the limit for insert runners: 4.62 mm, at least 4.70 mm",
        )
        .label(&record, at(&record, "4.62 mm"), "short by 0.08 mm")
        .label(&rules, at(&rules, "at_least: 4.70 mm"), "the limit")
        .label(&record, at(&record, "S1"), "this runner")
        .label(&record, at(&record, "last"), "")
        .help("Steel can't be added; use another runner.")
        .clause("D.3.2"),
        Diagnostic::notice("quantity.unit", "a number without a unit")
            .label(&long, at(&long, "4.62"), "a length needs a unit")
            .label(&long, at(&long, "7}"), "here too"),
        Diagnostic::fault("record.line", "a place that is a whole long line").label(
            &long,
            Span::new(0, long.text().len()),
            "all of it",
        ),
        Diagnostic::fault("text.control", "bad \u{1b}[31m thing\nin two lines")
            .label(&hostile, at(&hostile, "abc"), "wor\u{1b}ds")
            .help("first line\nsecond line\u{9b}"),
        Diagnostic::fault("record.end", "the file ends early").label(
            &record,
            Span::at(record.text().len()),
            "ends here",
        ),
        Diagnostic::notice("app.day", "no day is given").help("give one: --on 2026-11-21"),
        Diagnostic::fault("record.block", "a place over many lines").label(
            &record,
            Span::new(0, 40),
            "the first line only",
        ),
        Diagnostic::undecoded(decode("b.yaml", b"\xff\xfe").expect_err("UTF-16"), "b.yaml"),
    ];
    let trap = Source::new("trap.yaml", "a: {b: max(a, b)}\na: 2");
    all.extend(Diagnostic::from_problems(
        parse_yaml(&trap).expect_err("a trap"),
        &trap,
    ));
    all
}
