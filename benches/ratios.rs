//! Speed as ratios: each pair is measured in turns within one run, so that the load of the machine falls on
//! both. `cargo bench` prints the table and exits with 1 when a floor is missed.
//!
//! `cargo bench -- --quick` takes a tenth of the fleet; `cargo bench -- --phases` tells instead where the time
//! of the fleet check goes.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::print_stderr
)]

mod fleet;
mod table;

use std::process::ExitCode;
use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::check::fleet::{Fleet, Line};
use rimegauge::check::{Outcome, RuleRef};
use rimegauge::rules::{self, Stage};
use rimegauge::text::{Source, decode_lines};
use rimegauge::uncertainty::Coverage;

use fleet::by_hand::{self, Counts};
use table::{Row, Turns, shown, table};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| arguments.iter().any(|argument| argument == word);
    let boats = if has("--quick") { 20_000 } else { 200_000 };
    if has("--phases") {
        phases(has("--quick"));
        return ExitCode::SUCCESS;
    }
    let mut rows = Vec::new();
    rows.extend(fleet_rows(boats));
    println!("{}", table(&rows));
    ExitCode::from(u8::from(!rows.iter().all(Row::holds)))
}

/// Boats that are made, checked and forgotten together.
const SLICE: u64 = 5_000;

fn slice(first: u64, count: u64) -> Vec<u8> {
    let mut text = String::new();
    for number in first..first + count {
        fleet::generate::boat(number, &mut text);
    }
    text.into_bytes()
}

fn plan() -> Plan {
    let rules = rules::load("mere-6/1.0.0.yaml", fleet::RULES.as_bytes());
    let rules =
        rules.unwrap_or_else(|faults| panic!("{}", rimegauge::diagnostic::narrate(&faults)));
    assert_eq!(rules.rules.len(), by_hand::RULES);
    Plan::compile(Arc::new(rules))
}

fn place(outcome: Outcome) -> usize {
    match outcome {
        Outcome::DoesNotConform => 0,
        Outcome::NotDecided => 1,
        Outcome::Conforms => 2,
        Outcome::NotApplicable => 3,
    }
}

fn count(counts: &mut Counts, line: Line<'_>) {
    match line {
        Ok(line) => {
            counts.boats[place(line.outcome)] += 1;
            for one in line.findings {
                if let RuleRef::Rule(at) = one.rule {
                    counts.rules[at][place(one.outcome)] += 1;
                }
            }
        }
        Err(faults) => {
            if counts.broken == 0 {
                eprintln!("{}", rimegauge::diagnostic::narrate(&faults));
            }
            counts.broken += 1;
        }
    }
}

fn add(all: &mut Counts, more: &Counts) {
    let pairs = all.boats.iter_mut().zip(more.boats);
    pairs.for_each(|(all, more)| *all += more);
    for (all, more) in all.rules.iter_mut().zip(&more.rules) {
        all.iter_mut()
            .zip(more)
            .for_each(|(all, more)| *all += more);
    }
    all.broken += more.broken;
}

/// Whole lines in pieces of about half a megabyte, as a file is read.
fn pieces(bytes: &[u8]) -> Vec<Arc<Source>> {
    let mut found = Vec::new();
    let mut rest = bytes;
    while !rest.is_empty() {
        let most = rest.len().min(512 * 1024);
        let end = rest[..most]
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(rest.len(), |end| end + 1);
        found.push(decode_lines("fleet.jsonl", &rest[..end], 1).unwrap());
        rest = &rest[end..];
    }
    found
}

fn ours(fleet: &Fleet<'_>, bytes: &[u8]) -> Counts {
    let mut all = Counts::default();
    for source in pieces(bytes) {
        for counts in fleet.check(&source, Counts::default, count) {
            add(&mut all, &counts);
        }
    }
    all
}

fn fleet_rows(boats: u64) -> Vec<Row> {
    let plan = plan();
    let fleet = Fleet::new(&plan, Stage::Certification, None, None);
    let coverage = Coverage::ninety_five();
    let pool = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
    };
    let (one, two) = (pool(1), pool(2));
    let mut against = Turns::none();
    let mut cores = Turns::none();
    let (mut all, mut by_hand, mut by_two) =
        (Counts::default(), Counts::default(), Counts::default());
    let mut bytes = 0;
    for round in 0..boats / SLICE {
        let text = slice(round * SLICE, SLICE);
        bytes += text.len();
        let round = round as usize;
        against.add(
            round,
            || add(&mut all, &one.install(|| ours(&fleet, &text))),
            || add(&mut by_hand, &by_hand::check(&text, &coverage)),
        );
        let mut again = Counts::default();
        cores.add(
            round,
            || add(&mut by_two, &two.install(|| ours(&fleet, &text))),
            || add(&mut again, &one.install(|| ours(&fleet, &text))),
        );
    }
    assert_eq!(all, by_hand, "the outcomes differ");
    assert_eq!(all, by_two, "two threads come to other outcomes than one");
    println!(
        "{boats} boats, {:.1} kB each; boats {:?}",
        bytes as f64 / boats as f64 / 1e3,
        all.boats
    );
    for (at, rule) in all.rules.iter().enumerate() {
        println!("  {:<16} {rule:?}", plan.rules().rules[at].id.text);
    }
    let each = |time: std::time::Duration| format!("{} a boat", shown(time / SLICE as u32));
    vec![
        Row {
            name: "fleet, one core, against hand-written",
            ours: each(against.ours()),
            theirs: each(against.theirs()),
            ratio: against.speed(),
            floor: 0.5,
            aim: Some(0.9),
            small: false,
        },
        Row {
            name: "fleet, two cores against one",
            ours: each(cores.ours()),
            theirs: each(cores.theirs()),
            ratio: cores.speed(),
            floor: 1.5,
            aim: None,
            small: false,
        },
    ]
}

/// Where the time of a fleet check goes, on one core: each line through all steps, as the check does it.
fn phases(short: bool) {
    let plan = plan();
    let loader = rimegauge::record::Loader::new(&plan.rules().vocabulary);
    let boats = if short { 40 } else { 2_000 };
    let text = slice(0, boats);
    let day = rimegauge::quantity::DateSpan::parse("2026-11-21")
        .unwrap()
        .first;
    let context = rimegauge::check::Context {
        purpose: Stage::Certification,
        day,
        level: None,
        detail: rimegauge::check::Detail::Outcomes,
    };
    let coverage = Coverage::ninety_five();
    let mut best = [std::time::Duration::MAX; 5];
    for _ in 0..if short { 1 } else { 9 } {
        let mut spent = [std::time::Duration::ZERO; 5];
        let mut lap = std::time::Instant::now();
        let mut next = |at: usize| {
            let now = std::time::Instant::now();
            spent[at] += now - lap;
            lap = now;
        };
        let sources = pieces(&text);
        next(0);
        let mut found = Vec::new();
        for source in &sources {
            for line in 0..source.line_count() {
                let range = source.line_span_of(line).range();
                next(0);
                let node = rimegauge::text::parse_json_line(source, range).unwrap();
                if node.is_null() {
                    continue;
                }
                next(1);
                let record = loader.load(source, &node).unwrap();
                next(2);
                found.clear();
                std::hint::black_box(plan.outcomes(&record, &context, &mut found));
                next(3);
                drop(record);
                next(2);
                drop(node);
                next(1);
            }
        }
        std::hint::black_box(by_hand::check(&text, &coverage));
        next(4);
        for (best, spent) in best.iter_mut().zip(spent) {
            *best = (*best).min(spent);
        }
    }
    for (name, time) in ["decode", "parse", "load", "check", "all by hand"]
        .into_iter()
        .zip(best)
    {
        println!("{name:<12} {} a boat", shown(time / boats as u32));
    }
}
