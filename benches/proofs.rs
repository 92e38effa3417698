//! How long a question of a comparison takes: is there a boat that is legal under one version of the rules and breaks
//! this clause of the other? A class of two hundred rules on nine runners, against one with a fifth of them changed;
//! every clause of each version is a question.
//!
//! `cargo bench --bench proofs` prints times and ratios and exits with 1 when a floor is missed. Each time is the least of
//! a few tries, since other work of the machine can only add to it. Floors are ratios within one run: against the
//! loading of the class, a fixed piece of work, and against an SMT solver on the same questions where one
//! is installed (`RIMEGAUGE_Z3`, as for the tests). A question here ends with the boat that differs least, in round
//! numbers; the solver's ends with the word whether there is one.
//!
//! `--ours` leaves the solver out, `--all` puts every question to it and not every third; `--once` asks each question
//! once and prints nothing else, to be profiled; `--worst` names the questions that take more than 10 ms, as they come;
//! `--slowest` names the ten that took longest with what they cost, `--only=N` asks question N a hundred times.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::print_stderr
)]

mod proofs_of;
#[allow(dead_code)]
mod table;

use std::process::ExitCode;
use std::time::{Duration, Instant};

use rimegauge::prove::{Proved, Questions};
use rimegauge::rules::{self, RulesFile};

use proofs_of::class::{self, RULES};
use proofs_of::solver::{Formulas, Solver, program};
use table::{Row, shown, table};

/// How often each question is asked.
const TRIES: usize = 3;
/// One question in so many is put to the solver: every kind of rule, changed and not, is among them.
const STEP: usize = 3;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| arguments.iter().any(|argument| argument == word);
    let [old, new] = [false, true].map(loaded);
    let began = Instant::now();
    let questions = Questions::of(&old, &new);
    let prepared = began.elapsed();
    if has("--once") {
        for at in 0..questions.len() {
            std::hint::black_box(questions.answer(at));
        }
        return ExitCode::SUCCESS;
    }
    if let Some(only) = arguments.iter().find_map(|one| one.strip_prefix("--only=")) {
        let only = only.parse().unwrap();
        for _ in 0..100 {
            std::hint::black_box(questions.answer(only));
        }
        println!(
            "{:?} {:?}",
            questions.about(only),
            questions.answer_with_work(only)
        );
        return ExitCode::SUCCESS;
    }
    if has("--worst") {
        println!("prepared in {}", shown(prepared));
    }
    let mut all = Vec::new();
    let mut yardstick = Duration::MAX;
    for at in 0..questions.len() {
        let (mut least, mut answer) = (Duration::MAX, None);
        for _ in 0..TRIES {
            let start = Instant::now();
            answer = std::hint::black_box(questions.answer(at));
            least = least.min(start.elapsed());
            // What takes long is little disturbed.
            if least > Duration::from_millis(200) {
                break;
            }
        }
        if has("--worst") && least > Duration::from_millis(10) {
            let (legal, clause) = questions.about(at).unwrap();
            println!("  {} {legal:?} {clause:?} {answer:?}", shown(least));
        }
        if at % 20 == 0 {
            yardstick = yardstick.min(fixed_work());
        }
        all.push((at, answer.unwrap(), least));
    }
    let count = |wanted: fn(&Proved) -> bool| all.iter().filter(|one| wanted(&one.1)).count();
    println!(
        "{} questions about {RULES} rules on nine runners: {} with a boat, {} proved to have none, {} undecided; \
         prepared in {}",
        all.len(),
        count(|one| matches!(one, Proved::Some(_))),
        count(|one| matches!(one, Proved::None)),
        count(|one| matches!(one, Proved::Unknown(_))),
        shown(prepared)
    );
    if has("--slowest") {
        let mut slowest: Vec<_> = all.iter().collect();
        slowest.sort_by_key(|one| std::cmp::Reverse(one.2));
        for (at, answer, took) in slowest.into_iter().take(10) {
            let (legal, clause) = questions.about(*at).unwrap();
            let work = questions.answer_with_work(*at).unwrap().1;
            println!(
                "  {} question {at} {legal:?} {clause:?} {answer:?} {work:?}",
                shown(*took)
            );
        }
    }
    let times: Vec<Duration> = all.iter().map(|one| one.2).collect();
    println!("ours:   {}", spread(&times));
    let mut rows = vec![Row {
        name: "a question that takes longest of a hundred, against a fixed piece of work",
        ours: shown(percentile(&times, 99)),
        theirs: shown(yardstick),
        ratio: percentile(&times, 99).as_secs_f64() / yardstick.as_secs_f64(),
        // 20 ms where the class loads in 1.5 ms.
        floor: 13.0,
        aim: None,
        small: true,
    }];
    if !has("--ours") {
        rows.extend(beside_the_solver(
            &old,
            &new,
            &questions,
            &all,
            has("--all"),
        ));
    }
    println!("{}", table(&rows));
    ExitCode::from(u8::from(!rows.iter().all(Row::holds)))
}

fn loaded(new: bool) -> RulesFile {
    let text = class::text(new);
    match rules::load("mere-9.yaml", text.as_bytes()) {
        Ok(rules) => rules,
        Err(faults) => panic!("the class does not load: {faults:?}"),
    }
}

/// A piece of work that does not change with proofs: reading the rules of the class.
fn fixed_work() -> Duration {
    let text = class::text(false);
    let start = Instant::now();
    std::hint::black_box(rules::load("mere-9.yaml", text.as_bytes())).unwrap();
    start.elapsed()
}

/// The same questions put to the solver.
fn beside_the_solver(
    old: &RulesFile,
    new: &RulesFile,
    questions: &Questions<'_>,
    ours: &[(usize, Proved, Duration)],
    all: bool,
) -> Option<Row> {
    let Some(program) = program() else {
        println!("solver: none is installed (see tests/solver.txt); not compared with one");
        return None;
    };
    let formulas = Formulas::of(old, new);
    let mut solver = Solver::start(&program);
    let (mut theirs, mut own) = (Vec::new(), Vec::new());
    let (mut differ, mut gave_up) = (0, 0);
    let mut under = None;
    let step = if all { 1 } else { STEP };
    for (at, answer, took) in ours.iter().step_by(step) {
        let (legal, clause) = questions.about(*at).unwrap();
        if under != Some(legal) {
            solver.begin(&formulas, legal);
            under = Some(legal);
        }
        let mut least: Option<(String, Duration)> = None;
        for _ in 0..TRIES {
            let Some(one) = solver.ask(&formulas, legal.other(), clause) else {
                break;
            };
            let long = one.1 > Duration::from_millis(50);
            if least.as_ref().is_none_or(|least| one.1 < least.1) {
                least = Some(one);
            }
            // What takes long is little disturbed.
            if long {
                break;
            }
        }
        let Some((said, least)) = least else {
            continue;
        };
        match (said.as_str(), answer) {
            ("sat", Proved::Some(_)) | ("unsat", Proved::None) => {}
            ("unknown" | "timeout", _) => gave_up += 1,
            _ => {
                println!(
                    "  differs: {clause:?} of {:?}: {said}, {answer:?}",
                    legal.other()
                );
                differ += 1;
            }
        }
        theirs.push(least);
        own.push(*took);
    }
    println!("solver: {}", spread(&theirs));
    println!(
        "        on {} questions; {gave_up} given up by the solver, {differ} answers differ",
        theirs.len()
    );
    let (ours, theirs) = (percentile(&own, 99), percentile(&theirs, 99));
    Some(Row {
        name: "the same, against the solver's check-sat",
        ours: shown(ours),
        theirs: shown(theirs),
        ratio: ours.as_secs_f64() / theirs.as_secs_f64(),
        floor: 1.0,
        aim: None,
        small: true,
    })
}

/// The time that so many of a hundred don't exceed (nearest rank).
fn percentile(times: &[Duration], of_hundred: usize) -> Duration {
    let mut sorted = times.to_vec();
    sorted.sort();
    sorted[(sorted.len() * of_hundred).div_ceil(100).max(1) - 1]
}

fn spread(times: &[Duration]) -> String {
    let at = |of_hundred| shown(percentile(times, of_hundred));
    let sum: Duration = times.iter().sum();
    format!(
        "half within {}, 99 of a hundred within {}, all within {}, together {}",
        at(50),
        at(99),
        at(100),
        shown(sum)
    )
}
