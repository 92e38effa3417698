//! Independent judges of what a change of rules does to boats: which become illegal, which legal.
//!
//! Pairs of versions of small classes are drawn by a seed (`class`, `change`). One judge makes boats and has the
//! ordinary check judge them (`boats`). The other writes both versions as formulas, straight from the definitions,
//! and asks an SMT solver that shares nothing with this program (`smt`, `z3`). Neither knows how versions are
//! compared here; what is answered here must be what they say.
//!
//! The solver is a tool of the tests: `.ci/test` installs the version that `tests/solver.txt` names. `RIMEGAUGE_Z3`
//! says where it is, and that the tests may not do without it; without that, one under `target/z3` or on the path
//! is taken, and where there is none the tests that need it say so and pass. `RIMEGAUGE_PAIRS` sets how many pairs,
//! `RIMEGAUGE_SEED` where to begin, `RIMEGAUGE_KEEP` a folder for pairs on which the judges don't agree.

pub mod boats;
pub mod change;
pub mod class;
pub mod domain;
pub mod draw;
pub mod judges;
mod shipped;
pub mod smt;
pub mod words;
pub mod z3;

use std::collections::BTreeMap;
use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::diagnostic::Severity;
use rimegauge::prove::{self, Proved};
use rimegauge::rules::{self, RulesFile};

use boats::{Grid, Judged, broken, is_plain, judged};
use change::{CHANGES, Effect, Pair, pair};
use class::class;
use domain::Boat;
use draw::Draw;
use judges::{Said, Tally, by_solver, in_parallel, laws};
use words::ClassWords;
use z3::Answer;

/// The rules of a class by chance, where they load and lint finds no fault.
pub fn sound(words: &ClassWords) -> Option<RulesFile> {
    let loaded = rules::load("small.yaml", words.text().as_bytes()).ok()?;
    let faults = rules::lint(&loaded);
    let sound = !faults.iter().any(|one| one.severity == Severity::Fault);
    sound.then_some(loaded)
}

/// A pair of versions by a seed, both sound; `None` where the draw is none.
pub fn drawn(seed: u64) -> Option<(Pair, RulesFile, RulesFile)> {
    let mut draw = Draw::new(seed);
    let words = class(&mut draw);
    let old = sound(&words)?;
    let pair = pair(&mut draw, &words);
    let new = sound(&pair.new)?;
    (!pair.changes.is_empty()).then_some((pair, old, new))
}

/// What the classes drawn have to show somewhere, each as it stands in a file.
const SHOWN: [&str; 46] = [
    "silence: permits",
    "levels:",
    "many:",
    "one: plank",
    "groups:",
    "at_least: 2 }",
    "any_of:",
    "date: proven",
    "flag: intended",
    "kind: position",
    "kind: angle",
    "kind: number",
    "kind: mass",
    "kind: yes_no",
    "kind: profile",
    "kind: section",
    "of: edge",
    "of: toe_at",
    "between:",
    "derived:",
    "when:",
    " and ",
    " or ",
    "not (",
    "is one of",
    " days)",
    "event.level is",
    "count(",
    "sum(",
    "abs(",
    "min(",
    "max(",
    "lowest(",
    "highest(",
    " / ",
    "by: [",
    "by: zone",
    "by: event.level",
    "options:",
    "only:",
    "without:",
    "until:",
    "unproven:",
    "rounded_to:",
    "bring:",
    "pairs:",
];

#[test]
fn most_draws_are_sound_pairs_and_show_everything() {
    const SEEDS: u64 = 1500;
    let mut pairs = 0;
    let mut shown = [0; SHOWN.len()];
    let mut changed: BTreeMap<&str, usize> = BTreeMap::new();
    for seed in 0..SEEDS {
        let Some((pair, _, _)) = drawn(seed) else {
            continue;
        };
        pairs += 1;
        let text = pair.old.text();
        for (count, word) in shown.iter_mut().zip(SHOWN) {
            *count += usize::from(text.contains(word));
        }
        for (name, _) in &pair.changes {
            *changed.entry(name).or_default() += 1;
        }
    }
    println!("{pairs} pairs of {SEEDS} draws; changes: {changed:?}");
    assert!(
        pairs * 100 > SEEDS * 80,
        "only {pairs} of {SEEDS} draws are sound"
    );
    for (count, word) in shown.iter().zip(SHOWN) {
        assert!(*count >= 3, "{count} classes show `{word}`");
    }
    for (name, _, _) in CHANGES {
        let count = changed.get(name).copied().unwrap_or(0);
        assert!(count >= 3, "{count} pairs: {name}");
    }
}

/// Both judges on one pair; what they disagree on, in words.
fn solver_and_check(seed: u64, solver: &mut z3::Solver, tally: &mut Tally) -> Vec<String> {
    solver_and_check_with(seed, solver, tally, &|line| line.to_owned())
}

/// The same with every definition of the formulas spoiled.
fn solver_and_check_with(
    seed: u64,
    solver: &mut z3::Solver,
    tally: &mut Tally,
    spoil: &dyn Fn(&str) -> String,
) -> Vec<String> {
    let Some((pair, old, new)) = drawn(seed) else {
        return Vec::new();
    };
    tally.add("pairs", 1);
    let mut question = smt::question(&old, &new);
    let lines = question.text.lines().map(|line| {
        if line.starts_with("(define-fun ") {
            spoil(line)
        } else {
            line.to_owned()
        }
    });
    question.text = lines.map(|line| line + "\n").collect();
    let (domain, views) = (&question.domain, &question.views);
    let plans = [&old, &new].map(|rules| Plan::compile(Arc::new(rules.clone())));
    let says = |boat: &Boat| [0, 1].map(|at| judged(&plans[at], domain, &views[at], boat));
    let told = |boat: &Boat| {
        let why = [0, 1].map(|at| broken(&plans[at], domain, &views[at], boat));
        format!("{:?}\nbreaks {why:?}\n{boat:?}", pair.changes)
    };
    let mut wrong = Vec::new();
    let answers = by_solver(&question, solver);
    for (way, answer) in answers.iter().enumerate() {
        let (from, to) = (way, 1 - way);
        match answer {
            Answer::None => tally.add("none", 1),
            Answer::Unknown => tally.add("given up", 1),
            Answer::Some(None) => tally.add("boat of numbers that are no fractions", 1),
            Answer::Some(Some(boat)) => {
                tally.add("boats", 1);
                let says = says(boat);
                if says[from] != Judged::Legal || says[to] == Judged::Legal {
                    wrong.push(format!("the solver's boat is {says:?} {}", told(boat)));
                }
            }
        }
    }
    let some = |answer: &Answer| matches!(answer, Answer::Some(_));
    if pair.effect() != Effect::Any && answers.iter().any(some) {
        wrong.push(format!(
            "a neutral change is none: {:?} {answers:?}",
            pair.changes
        ));
    }
    let grid = Grid::of(&old, &new, domain);
    let every = grid.every(20_000);
    let complete = every.is_some() && is_plain(&old) && is_plain(&new);
    let mut draw = Draw::new(seed.wrapping_add(1_000_000));
    let boats = every.unwrap_or_else(|| {
        by_chance(&grid, &mut draw, 100, &|boat| {
            says(boat).contains(&Judged::Legal)
        })
    });
    let mut found = [false; 2];
    for boat in &boats {
        let says = says(boat);
        for way in [0, 1] {
            if says[way] == Judged::Legal && says[1 - way] == Judged::Illegal {
                if answers[way] == Answer::None && !found[way] {
                    wrong.push(format!("the solver finds none, there is {}", told(boat)));
                }
                found[way] = true;
            }
        }
    }
    tally.add(
        "found on the grid",
        found.iter().filter(|one| **one).count(),
    );
    if complete {
        tally.add("complete grids", 1);
        for way in [0, 1] {
            // What is only open under the other version is no boat of the grid, and the solver may know of one.
            let open = boats.iter().any(|boat| {
                let says = says(boat);
                says[way] == Judged::Legal && says[1 - way] == Judged::Open
            });
            if some(&answers[way]) && !found[way] && !open {
                wrong.push(format!("no boat of a complete grid: {:?}", answers[way]));
            }
        }
    }
    wrong
}

/// Boats by chance, those beside legal ones first.
fn by_chance(
    grid: &Grid,
    draw: &mut Draw,
    count: usize,
    legal: &dyn Fn(&Boat) -> bool,
) -> Vec<Boat> {
    let mut all: Vec<Boat> = Vec::new();
    let mut last: Option<Boat> = None;
    for round in 0..count {
        let boat = match &last {
            Some(boat) if round % 3 != 0 => grid.beside(draw, boat),
            _ => grid.boat(draw),
        };
        if let Some(boat) = boat {
            if legal(&boat) {
                last = Some(boat.clone());
            }
            all.push(boat);
        }
    }
    all
}

#[test]
fn the_solver_and_the_check_agree() {
    in_parallel("the solver and the check", 200, &solver_and_check);
}

/// Faults in the formulas, each as what stands there and what would.
const FAULTS: [(&str, &str, &str); 8] = [
    ("a limit is strict", "(<= m_", "(< m_"),
    ("a limit is not strict", "(> m_", "(>= m_"),
    ("an exemption ends a day early", "(> day ", "(>= day "),
    (
        "the border of a zone lies outside",
        " at_1_0_0) (<= at_1_0_0 ",
        " at_1_0_0) (< at_1_0_0 ",
    ),
    (
        "a rule is asked at another stage",
        "(= stage 1)",
        "(= stage 0)",
    ),
    ("a level is another one", "(= level 1)", "(= level 0)"),
    ("one item is counted twice", "1.0 0.0)", "2.0 0.0)"),
    ("a choice is another one", "(= t_1_0_0 2)", "(= t_1_0_0 1)"),
];

#[test]
fn a_fault_in_the_formulas_is_seen() {
    let Some(program) = judges::program() else {
        println!(
            "faults of the formulas: not tried, no solver is installed (see tests/solver.txt)"
        );
        return;
    };
    let mut solver = z3::Solver::start(&program).unwrap();
    for (what, there, instead) in FAULTS {
        let spoil = |line: &str| line.replace(there, instead);
        let seen = (0..1500).find(|seed| {
            // Most formulas don't have it: those are not asked.
            let has = |line: &str| line.starts_with("(define-fun ") && line.contains(there);
            let touched = drawn(*seed)
                .is_some_and(|(_, old, new)| smt::question(&old, &new).text.lines().any(has));
            if !touched {
                return false;
            }
            let mut tally = Tally::default();
            !solver_and_check_with(*seed, &mut solver, &mut tally, &spoil).is_empty()
        });
        println!("{what}: seen at draw {seen:?}");
        assert!(seen.is_some(), "not seen: {what}");
    }
}

#[test]
fn laws_hold_of_the_solver() {
    in_parallel("laws of the solver", 40, &|seed, solver, tally| {
        let mut compare = |old: &RulesFile, new: &RulesFile| {
            let question = smt::question(old, new);
            by_solver(&question, solver).map(|answer| Said::of(&answer))
        };
        laws(seed, &mut compare, tally)
    });
}

/// What is proved of a pair of versions, without the witnesses.
fn by_proof(old: &RulesFile, new: &RulesFile) -> [Said; 2] {
    let found = prove::requirement(old, new);
    [found.becomes_illegal, found.becomes_legal].map(|one| match one {
        Proved::None => Said::None,
        Proved::Some(_) => Said::Some,
        Proved::Unknown(why) => Said::Open(why.join("; ")),
    })
}

/// What is proved of a pair, and what the solver says of it.
fn proof_and_solver(seed: u64, solver: &mut z3::Solver, tally: &mut Tally) -> Vec<String> {
    let Some((pair, old, new)) = drawn(seed) else {
        return Vec::new();
    };
    tally.add("pairs", 1);
    let question = smt::question(&old, &new);
    let answers = by_solver(&question, solver);
    let proved = by_proof(&old, &new);
    let mut wrong = Vec::new();
    for (way, (proved, answer)) in proved.iter().zip(&answers).enumerate() {
        let what = ["becomes illegal", "becomes legal"][way];
        match (proved, Said::of(answer)) {
            (Said::None, Said::None) => tally.add("none by both", 1),
            (Said::Some, Said::Some) => tally.add("a boat by both", 1),
            (Said::Open(why), said) => {
                tally.add(&format!("undecided, by the solver {said:?}"), 1);
                // Only what is divided by something measured may be too hard.
                if ![&pair.old, &pair.new]
                    .iter()
                    .any(|one| one.text().contains(" / "))
                {
                    wrong.push(format!("{what}: undecided, {why} {:?}", pair.changes));
                }
            }
            (_, Said::Open(_)) => tally.add("given up by the solver", 1),
            (Said::None | Said::Some, _) => {
                wrong.push(format!(
                    "{what}: proved {proved:?}, by the solver {answer:?} {:?}",
                    pair.changes
                ));
            }
        }
    }
    if pair.effect() != Effect::Any && proved.contains(&Said::Some) {
        wrong.push(format!(
            "a neutral change is none: {proved:?} {:?}",
            pair.changes
        ));
    }
    wrong
}

#[test]
fn what_is_proved_the_solver_says_too() {
    in_parallel("what is proved and the solver", 2000, &proof_and_solver);
}

#[test]
fn laws_hold_of_what_is_proved() {
    in_parallel("laws of what is proved", 300, &|seed, _, tally| {
        laws(seed, &mut by_proof, tally)
    });
}
