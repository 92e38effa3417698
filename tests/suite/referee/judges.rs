//! How the judges are asked, and what must hold between their answers.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use rimegauge::rules::RulesFile;

use super::change::{Effect, pair};
use super::draw::Draw;
use super::smt::{Question, not};
use super::z3::{Answer, Solver};
use super::{drawn, sound};

/// Whether there is a boat that is legal under one version and not under the other.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    None,
    Some,
    /// Not decided, with why.
    Open(String),
}

impl Said {
    pub fn of(answer: &Answer) -> Said {
        match answer {
            Answer::None => Said::None,
            Answer::Some(_) => Said::Some,
            Answer::Unknown => Said::Open("the solver gave up".to_owned()),
        }
    }
}

/// What the solver says: which boats become illegal, which legal.
pub fn by_solver(question: &Question, solver: &mut Solver) -> [Answer; 2] {
    solver.begin(&question.text);
    [(0, 1), (1, 0)].map(|(from, to)| {
        let refused = not(&question.legal[to]);
        solver.ask(&question.domain, &[&question.legal[from], &refused])
    })
}

/// What was counted, by name.
#[derive(Debug, Default)]
pub struct Tally(BTreeMap<String, usize>);

impl Tally {
    pub fn add(&mut self, name: &str, count: usize) {
        *self.0.entry(name.to_owned()).or_default() += count;
    }

    /// Adds another count.
    pub fn join(&mut self, other: &Tally) {
        other
            .0
            .iter()
            .for_each(|(name, count)| self.add(name, *count));
    }

    pub fn get(&self, name: &str) -> usize {
        self.0.get(name).copied().unwrap_or(0)
    }
}

fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok().and_then(|text| text.parse().ok())
}

/// The solver, where there is one: the one that is named has to be there.
pub fn program() -> Option<PathBuf> {
    let works = |path: &Path| {
        let ran = std::process::Command::new(path).arg("-version").output();
        ran.is_ok_and(|output| output.status.success())
    };
    if let Some(path) = std::env::var_os("RIMEGAUGE_Z3") {
        let path = PathBuf::from(path);
        assert!(
            works(&path),
            "RIMEGAUGE_Z3 names {}, which does not run",
            path.display()
        );
        return Some(path);
    }
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/z3/bin/z3");
    [beside, PathBuf::from("z3")]
        .into_iter()
        .find(|path| works(path))
}

/// Judges pairs, so many of them, in two threads with a solver each; fails where anything is said to be wrong.
pub fn in_parallel(
    title: &str,
    pairs: u64,
    judge: &(dyn Fn(u64, &mut Solver, &mut Tally) -> Vec<String> + Sync),
) -> Option<Tally> {
    let Some(program) = program() else {
        println!("{title}: not judged, no solver is installed (see tests/solver.txt)");
        return None;
    };
    let pairs = number("RIMEGAUGE_PAIRS").unwrap_or(pairs);
    let begin = number("RIMEGAUGE_SEED").unwrap_or(0);
    let next = AtomicU64::new(begin);
    let all: Mutex<Tally> = Mutex::default();
    let wrong: Mutex<Vec<(u64, String)>> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut solver = Solver::start(&program).unwrap();
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    let done = all.lock().unwrap().get("pairs");
                    if u64::try_from(done).unwrap() >= pairs || seed > begin + 5 * pairs + 50 {
                        break;
                    }
                    let mut tally = Tally::default();
                    let found = judge(seed, &mut solver, &mut tally);
                    let mut all = all.lock().unwrap();
                    all.join(&tally);
                    drop(all);
                    let found = found.into_iter().map(|one| (seed, one));
                    wrong.lock().unwrap().extend(found);
                }
            });
        }
    });
    let (all, mut wrong) = (all.into_inner().unwrap(), wrong.into_inner().unwrap());
    wrong.sort();
    println!("{title}: {:?}, {} wrong", all.0, wrong.len());
    for (seed, what) in &wrong {
        keep(*seed, what);
    }
    let shown: Vec<String> = wrong
        .iter()
        .take(3)
        .map(|(seed, what)| format!("draw {seed}: {what}\n{}", texts(*seed)))
        .collect();
    assert!(
        wrong.is_empty(),
        "{} wrong\n{}",
        wrong.len(),
        shown.join("\n")
    );
    let count = all.get("pairs");
    assert!(u64::try_from(count).unwrap() >= pairs, "only {count} pairs");
    Some(all)
}

fn texts(seed: u64) -> String {
    drawn(seed).map_or(String::new(), |(pair, _, _)| {
        format!(
            "{}\n---- against ----\n{}",
            pair.old.text(),
            pair.new.text()
        )
    })
}

/// Keeps a pair on which the judges don't agree, where a folder for it is named.
fn keep(seed: u64, what: &str) {
    let (Some(folder), Some((pair, _, _))) = (std::env::var_os("RIMEGAUGE_KEEP"), drawn(seed))
    else {
        return;
    };
    let folder = PathBuf::from(folder).join(format!("draw-{seed}"));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("old.yaml"), pair.old.text()).unwrap();
    std::fs::write(folder.join("new.yaml"), pair.new.text()).unwrap();
    std::fs::write(folder.join("why.txt"), what).unwrap();
}

/// Laws of any comparison: a version against itself reports nothing, swapping the sides swaps the answers, and
/// what is neutral twice is neutral. What breaks them, in words.
pub fn laws(
    seed: u64,
    compare: &mut dyn FnMut(&RulesFile, &RulesFile) -> [Said; 2],
    tally: &mut Tally,
) -> Vec<String> {
    let Some((one, old, new)) = drawn(seed) else {
        return Vec::new();
    };
    tally.add("pairs", 1);
    let mut wrong = Vec::new();
    let nothing = [Said::None, Said::None];
    for rules in [&old, &new] {
        let itself = compare(rules, rules);
        if itself != nothing {
            wrong.push(format!("against itself: {itself:?}"));
        }
    }
    let there = compare(&old, &new);
    let [illegal, legal] = compare(&new, &old);
    let open = |said: &Said| matches!(said, Said::Open(_));
    let same = |a: &Said, b: &Said| a == b || (open(a) && open(b));
    if !same(&there[0], &legal) || !same(&there[1], &illegal) {
        wrong.push(format!("swapped: {there:?}, {:?}", [illegal, legal]));
    }
    // A third version, by a change of the second that is made to change no boat.
    let mut draw = Draw::new(seed.wrapping_add(2_000_000));
    for _ in 0..20 {
        let mut next = pair(&mut draw, &one.new);
        // Names of the first version are not those of the third where the second renamed them.
        if next.effect() == Effect::Any
            || next.changes.is_empty()
            || next.new.renamed != one.new.renamed
        {
            continue;
        }
        next.new.version = "1.2.0";
        let Some(last) = sound(&next.new) else {
            continue;
        };
        let then = compare(&new, &last);
        let whole = compare(&old, &last);
        if then != nothing {
            wrong.push(format!("neutral and yet {then:?}: {:?}", next.changes));
        }
        for way in [0, 1] {
            if !open(&there[way]) && !open(&whole[way]) && there[way] != whole[way] {
                wrong.push(format!(
                    "{there:?} and then nothing, and together {whole:?}: {:?}",
                    next.changes
                ));
            }
        }
        tally.add("chains", 1);
        break;
    }
    wrong
}
