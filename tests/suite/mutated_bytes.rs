//! Spoiled bytes: whatever becomes of a file, reading it never panics, and gives what was asked for or says
//! what is wrong and where.
//!
//! Bits are turned over, bytes put in, taken out and doubled, files cut off and spliced together, always the same
//! way. `RIMEGAUGE_MUTATIONS=100000` asks for more of them, `RIMEGAUGE_SEED=7` for others.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

use rimegauge::check::cases::{self, Coverage};
use rimegauge::check::{Context, Plan};
use rimegauge::diagnostic::{Diagnostic, DrawOptions, Schema, draw, narrate, to_json};
use rimegauge::record::{self, head, read_form};
use rimegauge::rules::{self, Stage};
use rimegauge::text::{decode, decode_lines, parse_json_line, parse_yaml};

use super::shipped::{forms, tarn_8};
use super::tree::Dice;
use super::workbench::day;

/// What a file is read as.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Record,
    Lines,
    Rules,
    Cases,
    Form,
}

struct File {
    kind: Kind,
    name: String,
    bytes: Vec<u8>,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The shipped files that are small enough to be read often, and small rules.
fn files() -> Vec<File> {
    let mut files = Vec::new();
    let mut add = |kind, name: &str, bytes: Vec<u8>| {
        files.push(File {
            kind,
            name: name.to_owned(),
            bytes,
        });
    };
    let mut lines = String::new();
    for (name, text) in forms() {
        if text.len() < 16_000 {
            add(Kind::Record, &name, text.clone().into_bytes());
        }
        if text.len() < 12_000 {
            let source = decode(&name, text.as_bytes()).unwrap();
            let node = parse_yaml(&source).unwrap();
            lines.push_str(&format!("{}\n", node.to_json()));
        }
    }
    add(Kind::Lines, "fleet.jsonl", lines.into_bytes());
    let read = |name: &str| fs::read(root().join(name)).unwrap();
    for name in [
        "tests/suite/every_rule.yaml",
        "tests/rules-faults/none/rules.yaml",
        "tests/rules-faults/derived-circle/rules.yaml",
    ] {
        add(Kind::Rules, name, read(name));
    }
    for case in [
        "edge_angle",
        "marked_sails",
        "plank_thickness",
        "cloth",
        "track",
    ] {
        let name = format!("rules/tarn-8/cases/{case}.yaml");
        add(Kind::Cases, &name, read(&name));
    }
    add(Kind::Form, "forms/tarn-8.yaml", read("forms/tarn-8.yaml"));
    files
}

/// Pieces that mean something in YAML, in JSON or in our own texts.
const PIECES: &[&str] = &[
    ":",
    ": ",
    " #",
    "#",
    "[",
    "]",
    "{",
    "}",
    "{ ",
    " }",
    ",",
    "\t",
    "\n",
    "\r\n",
    "\r",
    "- ",
    "-",
    "'",
    "\"",
    "|",
    ">",
    "%",
    "@",
    "`",
    "&a ",
    "*a",
    "<<: *a\n",
    "!!str ",
    "!x ",
    "---\n",
    "...\n",
    "? ",
    "~",
    "null",
    "\\u0000",
    "\\",
    "\\x",
    "\u{feff}",
    "\u{a0}",
    "é",
    "漢",
    "\u{301}",
    "\u{202e}",
    "\0",
    "\u{1b}[31m",
    "0",
    "9",
    "1e400",
    "-",
    "+",
    ".",
    "/0",
    "3/16 in",
    " mm",
    " kg",
    "2026-02-30",
    "99999999999999999999",
    "yes",
    "true",
    "NaN",
    "0041",
    "  ",
    "\n  ",
    "\n- id: S1\n",
    "[[[[[[[[",
    "{a: {a: {a: ",
    "\"\\ud800\"",
];

fn spoil(bytes: &mut Vec<u8>, other: &[u8], dice: &mut Dice) {
    let at = dice.throw(bytes.len() + 1);
    let short = |dice: &mut Dice, from: usize, all: usize| {
        let most = [4, 40, 400][dice.throw(3)];
        (from + dice.throw(most + 1)).min(all)
    };
    match dice.throw(11) {
        0 if !bytes.is_empty() => {
            let at = at.min(bytes.len() - 1);
            bytes[at] ^= 1 << dice.throw(8);
        }
        1 if !bytes.is_empty() => {
            let at = at.min(bytes.len() - 1);
            bytes[at] = u8::try_from(dice.throw(256)).unwrap();
        }
        2..=4 => {
            let piece = PIECES[dice.throw(PIECES.len())].bytes();
            bytes.splice(at..at, piece);
        }
        5 | 6 => {
            let to = short(dice, at, bytes.len());
            bytes.drain(at..to);
        }
        7 => {
            let to = short(dice, at, bytes.len());
            let again = bytes[at..to].to_vec();
            let at = dice.throw(bytes.len() + 1);
            bytes.splice(at..at, again);
        }
        8 if dice.throw(4) == 0 => bytes.truncate(at),
        9 => {
            // A piece of another file, or all the rest of it.
            let from = dice.throw(other.len() + 1);
            let to = match dice.throw(4) {
                0 => other.len(),
                _ => short(dice, from, other.len()),
            };
            let end = short(dice, at, bytes.len());
            bytes.splice(at..end, other[from..to].iter().copied());
        }
        _ => {
            // A line to another place, or out.
            let mut lines: Vec<Vec<u8>> = bytes
                .split(|byte| *byte == b'\n')
                .map(<[u8]>::to_vec)
                .collect();
            let line = lines.remove(dice.throw(lines.len()));
            if dice.throw(2) == 0 {
                lines.insert(dice.throw(lines.len() + 1), line);
            }
            *bytes = lines.join(&b'\n');
        }
    }
}

/// What there is to read by.
struct Desk {
    plan: Arc<Plan>,
    records: Schema,
}

impl Desk {
    fn new() -> Desk {
        let plan = tarn_8().plan;
        let rules = plan.rules();
        let records = Schema::new(record::schema(&rules.vocabulary, &rules.class.text)).unwrap();
        Desk { plan, records }
    }

    /// Reads a file and goes on with what is read; what is wrong with it.
    fn read(&self, kind: Kind, name: &str, bytes: &[u8]) -> Result<(), Vec<Diagnostic>> {
        let rules = self.plan.rules();
        match kind {
            Kind::Rules => {
                let rules = rules::load_by_schema(name, bytes)?;
                printed(&rules::lint(&rules), name);
                let plan = Plan::compile(Arc::new(rules));
                assert!(!plan.rules().class.text.is_empty());
                Ok(())
            }
            Kind::Form => read_form(
                name,
                bytes,
                &rules.vocabulary,
                &rules.class.text,
                &rules.version,
            )
            .map(|_| ()),
            Kind::Record => {
                let source = decode(name, bytes)
                    .map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
                let node = parse_yaml(&source)
                    .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
                self.record(&source, &node, true)
            }
            Kind::Lines => {
                let source = decode_lines(name, bytes, 1)
                    .map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
                let mut wrong = Vec::new();
                for line in 0..source.line_count() {
                    let range = source.line_span_of(line).range();
                    if source.text()[range.clone()].trim().is_empty() {
                        continue;
                    }
                    let read = parse_json_line(&source, range)
                        .map_err(|problems| Diagnostic::from_problems(problems, &source))
                        .and_then(|node| self.record(&source, &node, false));
                    if let Err(found) = read {
                        assert!(!found.is_empty(), "a line is refused without a word");
                        wrong.extend(found);
                    }
                }
                if wrong.is_empty() { Ok(()) } else { Err(wrong) }
            }
            Kind::Cases => {
                let source = decode(name, bytes)
                    .map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
                let node = parse_yaml(&source)
                    .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
                let schema = rules::schema_of_cases().unwrap();
                let typed = cases::load(&source, &node);
                let file = schema.beside(&source, &node, typed)?;
                let mut coverage = Coverage::default();
                let results = cases::run(&source, &file, &self.plan, &mut coverage)?;
                for result in results {
                    printed(&result.wrong, name);
                }
                Ok(())
            }
        }
    }

    fn record(
        &self,
        source: &Arc<rimegauge::text::Source>,
        node: &rimegauge::text::Node<'_>,
        by_schema: bool,
    ) -> Result<(), Vec<Diagnostic>> {
        let first = head(source, node)?;
        let typed = record::load(source, node, &self.plan.rules().vocabulary);
        let record = match by_schema {
            true => self.records.beside(source, node, typed)?,
            false => typed?,
        };
        for purpose in Stage::ALL {
            let context = Context {
                purpose,
                day: first.day.map_or(day("2026-11-25"), |(day, _)| day),
                level: None,
            };
            let verdict = self.plan.check(&record, &context);
            assert!(!verdict.findings.is_empty(), "nothing was found");
        }
        Ok(())
    }
}

/// A message can be printed, and its places lie in their sources.
fn printed(found: &[Diagnostic], name: &str) {
    for one in found {
        assert!(!one.message.trim().is_empty(), "{one:?}");
        for label in &one.labels {
            let text = label.source.text();
            assert!(
                text.get(label.span.range()).is_some(),
                "{:?} of {one:?}",
                label.span
            );
        }
        let whole = one.labels.is_empty() && WITHOUT_A_PLACE.contains(&one.code);
        assert!(whole || !one.labels.is_empty(), "{name}: no place: {one:?}");
    }
    let options = DrawOptions {
        width: 80,
        colour: false,
        unicode: true,
    };
    assert!(found.is_empty() || !draw(found, options).is_empty());
    assert!(found.is_empty() || !narrate(found).is_empty());
    assert!(to_json(found)["diagnostics"].is_array());
}

/// What is said of a whole file.
const WITHOUT_A_PLACE: &[&str] = &["record.too_many_faults"];

fn asked(name: &str, number: usize) -> usize {
    let asked = std::env::var(name).ok();
    asked.and_then(|text| text.parse().ok()).unwrap_or(number)
}

#[test]
fn spoiled_bytes_never_panic_and_are_told() {
    let (number, seed) = (
        asked("RIMEGAUGE_MUTATIONS", 2000),
        asked("RIMEGAUGE_SEED", 1),
    );
    let files = files();
    let desk = Desk::new();
    let (mut good, mut bad) = (0_usize, 0_usize);
    for round in 0..number {
        let mut dice = Dice::new((seed as u64) << 32 | round as u64);
        // The generator's first throws resemble each other for neighbouring seeds.
        (0..8).for_each(|_| _ = dice.throw(2));
        let file = &files[dice.throw(files.len())];
        let other = &files[dice.throw(files.len())];
        let mut bytes = file.bytes.clone();
        for _ in 0..[1, 1, 2, 4][dice.throw(4)] {
            spoil(&mut bytes, &other.bytes, &mut dice);
        }
        let read = catch_unwind(AssertUnwindSafe(|| {
            let read = desk.read(file.kind, &file.name, &bytes);
            if let Err(found) = &read {
                assert!(!found.is_empty(), "refused without a word");
                printed(found, &file.name);
            }
            read.is_ok()
        }));
        match read {
            Ok(true) => good += 1,
            Ok(false) => bad += 1,
            Err(_) => {
                let text = String::from_utf8_lossy(&bytes);
                panic!(
                    "{}, RIMEGAUGE_SEED={seed}, round {round}:\n{text}",
                    file.name
                );
            }
        }
    }
    // Both come about, or the test tries nothing.
    assert!(
        good * 20 > number && bad * 20 > number,
        "{good} good, {bad} bad"
    );
}
