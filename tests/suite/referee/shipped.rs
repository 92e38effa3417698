//! The shipped versions put to the solver: neighbours of each class clause by clause, and changed copies of every version
//! beside it. What is proved of them must be what the solver says.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use rimegauge::prove::mutants::{Mutant, mutants, sample};
use rimegauge::prove::{ClauseOf, Common, Proved, Questions, Side};
use rimegauge::quantity::Quantity;
use rimegauge::rules::{self, RulesFile};

use super::by_proof;
use super::domain::Domain;
use super::judges::{Said, Tally, by_solver, program};
use super::smt::{Version, and, frame, not, number, question};
use super::z3::{Answer, Solver};
use crate::suite::cases::root;

/// Versions that follow one another.
const NEIGHBOURS: [(&str, &str); 4] = [
    ("tarn-8/2.4.0", "tarn-8/3.0.0"),
    ("tarn-8/3.0.0", "tarn-8/3.1.0"),
    ("tarn-8/3.1.0", "tarn-8/4.0.0"),
    ("ghyll-2/1.0.0", "ghyll-2/2.0.0"),
];

/// Of so many questions the solver may give up one: it has a time for each, and machines are slow at times. Nothing of
/// the shipped versions is left out of the formulas.
const GIVEN_UP_ONE_IN: usize = 20;

/// How many changed copies are put to it: each takes seconds, most of them the solver's.
const MUTANTS: usize = 30;

fn shipped(path: &str) -> RulesFile {
    let bytes = std::fs::read(root().join(format!("rules/{path}.yaml"))).unwrap();
    rules::load(path, &bytes).unwrap_or_else(|faults| panic!("{path}: {faults:?}"))
}

/// Both versions as formulas, and what each clause of them asks.
struct ByClause {
    text: String,
    legal: [String; 2],
    met: [BTreeMap<ClauseOf, String>; 2],
}

fn place(side: Side) -> usize {
    usize::from(side == Side::New)
}

impl ByClause {
    fn of(old: &RulesFile, new: &RulesFile, asked: &[(Side, ClauseOf)]) -> ByClause {
        let common = Common::of(old, new);
        let (domain, old_view, new_view) = Domain::of(old, new);
        let mut text = frame(&domain);
        let mut legal = Vec::new();
        let mut met = [BTreeMap::new(), BTreeMap::new()];
        for (side, rules, view, mark) in [
            (Side::Old, old, &old_view, "o"),
            (Side::New, new, &new_view, "w"),
        ] {
            let mut version = Version::new(rules, &domain, view, mark);
            let (own, enough) = version.legal();
            legal.push(own);
            for (of, clause) in asked {
                if *of != side {
                    continue;
                }
                let all = match clause {
                    ClauseOf::Rule(at) => version.met(&rules.rules[*at]),
                    ClauseOf::Marks(at) => {
                        let mut all = Vec::new();
                        version.mark(*at, &mut all);
                        and(all)
                    }
                    ClauseOf::Equipment(ix) => {
                        let id = common.holding(*ix).unwrap().at.at(side).unwrap();
                        version.has_enough(id)
                    }
                    ClauseOf::Silence(part, slot) => {
                        let part = common.part(*part).unwrap();
                        let id = part.traits[slot.index()].at.at(side).unwrap();
                        version.spoken_of_all(part.at.at(side).unwrap(), id)
                    }
                    ClauseOf::Unlisted => not("unlisted"),
                };
                met[place(side)].insert(*clause, all);
            }
            text.push_str(&version.text);
            text.push_str(&format!("(assert {enough})\n"));
        }
        ByClause {
            text,
            legal: legal.try_into().unwrap(),
            met,
        }
    }
}

fn name(rules: &RulesFile, clause: ClauseOf) -> String {
    match clause {
        ClauseOf::Rule(at) => rules.rules[at].id.text.clone(),
        ClauseOf::Marks(at) => rules.marks[at].id.text.clone(),
        other => format!("{other:?}"),
    }
}

/// Every clause of one version that the boats of the other one are asked, with what is proved.
fn proved(questions: &Questions<'_>) -> BTreeMap<(Side, ClauseOf), Said> {
    let mut all: BTreeMap<(Side, ClauseOf), Said> = BTreeMap::new();
    for at in 0..questions.len() {
        let (legal, clause) = questions.about(at).unwrap();
        let said = match questions.answer(at).unwrap() {
            Proved::None => Said::None,
            Proved::Some(_) => Said::Some,
            Proved::Unknown(why) => Said::Open(why.join("; ")),
        };
        let known = all.entry((legal, clause)).or_insert(Said::None);
        // A clause of several statements is broken where one of them is.
        match (&known, &said) {
            (Said::Some, _) | (_, Said::None) => {}
            (Said::None | Said::Open(_), _) => *known = said,
        }
    }
    all
}

/// Two neighbours clause by clause; what the judges disagree on, in words. `spoil` changes the formulas.
fn neighbours(
    (was, is): (&str, &str),
    solver: &mut Solver,
    tally: &mut Tally,
    spoil: &dyn Fn(&str) -> String,
) -> Vec<String> {
    let (old, new) = (shipped(was), shipped(is));
    let told = format!("{was} to {is}");
    let every = |_: &str| true;
    clause_by_clause(&told, (&old, &new), solver, tally, (&every, spoil))
}

/// Which clauses are asked, by the ids of their rules, and how the formulas are changed.
type How<'h> = (&'h dyn Fn(&str) -> bool, &'h dyn Fn(&str) -> String);

/// Two versions clause by clause: those that are wanted, and all of which a boat is proved to become illegal or legal.
fn clause_by_clause(
    told: &str,
    (old, new): (&RulesFile, &RulesFile),
    solver: &mut Solver,
    tally: &mut Tally,
    (wanted, spoil): How<'_>,
) -> Vec<String> {
    let questions = Questions::of(old, new);
    let mut proved = proved(&questions);
    let of = |legal: Side| match legal {
        Side::Old => new,
        Side::New => old,
    };
    proved
        .retain(|(legal, clause), said| *said != Said::None || wanted(&name(of(*legal), *clause)));
    let asked: Vec<(Side, ClauseOf)> = proved
        .keys()
        .map(|(legal, clause)| (legal.other(), *clause))
        .collect();
    let formulas = ByClause::of(old, new, &asked);
    let text = spoil(&formulas.text);
    let mut wrong = Vec::new();
    for legal in Side::BOTH {
        let own = &formulas.legal[place(legal)];
        let mut asked = proved
            .iter()
            .filter(|((side, _), _)| *side == legal)
            .peekable();
        if asked.peek().is_none() {
            continue;
        }
        solver.begin(&format!("{text}(assert {own})\n"));
        for ((_, clause), said) in asked {
            let met = &formulas.met[place(legal.other())][clause];
            let answer = solver.can(&not(met));
            let told = format!(
                "{told}, legal under {legal:?}, {}",
                name(of(legal), *clause)
            );
            judge(&told, said, answer, tally, &mut wrong);
        }
    }
    wrong
}

/// Holds what is proved to what the solver says.
fn judge(
    told: &str,
    said: &Said,
    answer: Option<bool>,
    tally: &mut Tally,
    wrong: &mut Vec<String>,
) {
    match (said, answer) {
        (Said::None, Some(false)) => tally.add("none by both", 1),
        (Said::Some, Some(true)) => tally.add("a boat by both", 1),
        (Said::Open(why), _) => wrong.push(format!("{told}: undecided, {why}")),
        (_, None) => {
            println!("given up: {told}, proved {said:?}");
            tally.add("given up by the solver", 1);
        }
        (Said::None | Said::Some, Some(_)) => {
            wrong.push(format!("{told}: proved {said:?}, by the solver {answer:?}"));
        }
    }
}

fn is_judged(tally: &Tally, wrong: &[String]) {
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let both = tally.get("none by both") + tally.get("a boat by both");
    let given_up = tally.get("given up by the solver");
    assert!(
        given_up * GIVEN_UP_ONE_IN <= both,
        "the solver gave up too often: {tally:?}"
    );
}

#[test]
fn every_clause_of_neighbours_is_what_the_solver_says() {
    let Some(program) = program() else {
        println!("neighbours: not judged, no solver is installed (see tests/solver.txt)");
        return;
    };
    let mut solver = Solver::start(&program).unwrap();
    let (mut tally, mut wrong) = (Tally::default(), Vec::new());
    for pair in NEIGHBOURS {
        let found = neighbours(pair, &mut solver, &mut tally, &str::to_owned);
        wrong.extend(found);
    }
    println!("neighbours: {tally:?}");
    is_judged(&tally, &wrong);
}

#[test]
fn a_fault_in_the_formulas_of_shipped_versions_is_seen() {
    let Some(program) = program() else {
        println!("faults of neighbours: not tried, no solver is installed (see tests/solver.txt)");
        return;
    };
    let mut solver = Solver::start(&program).unwrap();
    let mut tally = Tally::default();
    // The least crown of a plank goes from 30 mm to 25 mm; here it does not.
    let [was, is] = ["30 mm", "25 mm"].map(|text| {
        let value = Quantity::parse(text).unwrap().value;
        format!(" {})", number(&value))
    });
    let spoil = |text: &str| {
        assert!(text.contains(&is), "the limit is not there");
        text.replace(&is, &was)
    };
    let wrong = neighbours(NEIGHBOURS[1], &mut solver, &mut tally, &spoil);
    assert!(
        wrong.iter().any(|one| one.contains("plank_crown")),
        "not seen: {wrong:?}"
    );
}

/// Changed copies of the shipped versions that load, each with the version it is of.
fn changed() -> Vec<(usize, Mutant)> {
    let versions = versions();
    let each = MUTANTS / versions.len();
    let all = versions.iter().enumerate();
    all.flat_map(|(at, rules)| {
        let list = sample(mutants(rules).list, each, 20);
        list.into_iter().map(move |mutant| (at, mutant))
    })
    .collect()
}

fn versions() -> Vec<RulesFile> {
    let mut all: Vec<&str> = NEIGHBOURS.iter().flat_map(|(a, b)| [*a, *b]).collect();
    all.dedup();
    all.into_iter().map(shipped).collect()
}

#[test]
fn changed_copies_are_what_the_solver_says() {
    let Some(program) = program() else {
        println!("changed copies: not judged, no solver is installed (see tests/solver.txt)");
        return;
    };
    let versions = versions();
    let list = changed();
    let next = AtomicUsize::new(0);
    let tally: Mutex<Tally> = Mutex::default();
    let wrong: Mutex<Vec<String>> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut solver = Solver::start(&program).unwrap();
                while let Some((at, mutant)) = list.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let rules = &versions[*at];
                    let text = mutant.edit.apply(rules.source.text());
                    let told = format!(
                        "{} {}: {:?} {}",
                        rules.version,
                        mutant.rule.as_deref().unwrap_or("-"),
                        mutant.kind,
                        mutant.words(&rules.source)
                    );
                    let Ok(changed) = rules::load("changed.yaml", text.as_bytes()) else {
                        tally.lock().unwrap().add("refused", 1);
                        continue;
                    };
                    let mut own = Tally::default();
                    let mut found = Vec::new();
                    if let Some(id) = &mutant.rule {
                        // Every other clause stands in both.
                        let wanted = |name: &str| name == id;
                        let how: How<'_> = (&wanted, &str::to_owned);
                        let both = (rules, &changed);
                        found = clause_by_clause(&told, both, &mut solver, &mut own, how);
                    } else {
                        let proved = by_proof(rules, &changed);
                        let answers = by_solver(&question(rules, &changed), &mut solver);
                        for (proved, answer) in proved.iter().zip(&answers) {
                            let answer = match answer {
                                Answer::None => Some(false),
                                Answer::Some(_) => Some(true),
                                Answer::Unknown => None,
                            };
                            judge(&told, proved, answer, &mut own, &mut found);
                        }
                    }
                    tally.lock().unwrap().join(&own);
                    wrong.lock().unwrap().extend(found);
                }
            });
        }
    });
    let wrong = wrong.into_inner().unwrap();
    let tally = tally.into_inner().unwrap();
    println!("changed copies: {tally:?}");
    is_judged(&tally, &wrong);
}
