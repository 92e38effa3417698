//! Independent judges of what is proved about two versions of rules.

pub mod boats;
pub mod change;
pub mod class;
pub mod domain;
pub mod draw;
pub mod smt;
pub mod words;
pub mod z3;

use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::diagnostic::Severity;
use rimegauge::rules::{self, RulesFile};

use change::{Pair, pair};
use class::class;
use draw::Draw;
use words::ClassWords;

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


/// The path of the solver, from the environment or beside the tests.
fn solver() -> Option<String> {
    std::env::var("RIMEGAUGE_Z3").ok()
}

#[test]
fn solver_and_check_agree() {
    use boats::{Grid, Judged, judged, broken};
    use z3::{Answer, Solver};
    let Some(program) = solver() else { return };
    let mut solver = Solver::start(&program).unwrap();
    let from: u64 = std::env::var("FROM").ok().and_then(|t| t.parse().ok()).unwrap_or(0);
    let n: u64 = std::env::var("COUNT").ok().and_then(|t| t.parse().ok()).unwrap_or(100);
    let (mut none, mut some, mut unknown, mut unreal, mut pairs) = (0, 0, 0, 0, 0);
    let mut found_by_chance = 0;
    let mut wrong = 0;
    let mut t_z3 = std::time::Duration::ZERO;
    let mut slow = Vec::new();
    for seed in from..from + n {
        let Some((pair, old, new)) = drawn(seed) else { continue };
        pairs += 1;
        let question = smt::question(&old, &new);
        let plans = [Plan::compile(Arc::new(old.clone())), Plan::compile(Arc::new(new.clone()))];
        let both = |boat: &domain::Boat| [0, 1].map(|at| judged(&plans[at], &question.domain, &question.views[at], boat));
        let mut answers = Vec::new();
        for (a, b) in [(0, 1), (1, 0)] {
            let refuted = smt::not(&question.legal[b]);
            let begin = std::time::Instant::now();
            let answer = solver.ask(&question.domain, &question.text, &[&question.legal[a], &refuted]);
            let took = begin.elapsed();
            t_z3 += took;
            if took.as_millis() > 300 { slow.push((seed, took.as_millis())); }
            match &answer {
                Answer::None => none += 1,
                Answer::Unknown => unknown += 1,
                Answer::Some(None) => { some += 1; unreal += 1; }
                Answer::Some(Some(boat)) => {
                    some += 1;
                    let says = both(boat);
                    if says[a] != Judged::Legal || says[b] == Judged::Legal {
                        wrong += 1;
                        if wrong <= 3 {
                            println!("seed {seed} {a}->{b}: solver's boat is {says:?} {:?}\n{:?} {:?}\n{:?}\n{:?}\n{}\n=====\n{}", pair.changes, broken(&plans[a], &question.domain, &question.views[a], boat), broken(&plans[b], &question.domain, &question.views[b], boat), boat, question.domain, pair.old.text(), pair.new.text());
                        }
                    }
                }
            }
            answers.push(answer);
        }
        if pair.effect() != change::Effect::Any && answers.iter().any(|one| matches!(one, Answer::Some(_))) {
            wrong += 1;
            println!("seed {seed}: neutral pair differs {:?}\n{answers:?}\n{}\n=====\n{}", pair.changes, pair.old.text(), pair.new.text());
        }
        let grid = Grid::of(&old, &new, &question.domain);
        let mut draw = Draw::new(seed + 1_000_000);
        let mut last = None;
        for round in 0..120 {
            let boat = match &last {
                Some(boat) if round % 3 != 0 => grid.beside(&mut draw, boat),
                _ => grid.boat(&mut draw),
            };
            let Some(boat) = boat else { continue };
            let says = both(&boat);
            if says.contains(&Judged::Legal) { last = Some(boat.clone()); }
            for (at, (a, b)) in [(0, 1), (1, 0)].into_iter().enumerate() {
                if says[a] == Judged::Legal && says[b] == Judged::Illegal {
                    found_by_chance += 1;
                    if answers[at] == Answer::None {
                        wrong += 1;
                        if wrong <= 3 {
                            println!("seed {seed} {a}->{b}: solver says none {:?}\n{:?}\n{:?}\n{:?}\n{}\n=====\n{}", pair.changes, broken(&plans[b], &question.domain, &question.views[b], &boat), boat, question.domain, pair.old.text(), pair.new.text());
                        }
                    }
                }
            }
        }
    }
    println!("{pairs} pairs: none {none}, some {some} ({unreal} without a boat), unknown {unknown}; by chance {found_by_chance}; wrong {wrong}; {t_z3:?} {slow:?}");
    assert_eq!(wrong, 0);
    panic!("see");
}

