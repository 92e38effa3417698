//! Changed rules: each change stands where it says, a weak set of cases lets changes through and they are named, and
//! the cases of the shipped classes let none through but those that are known to mean nothing.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::check::cases::{self, Coverage};
use rimegauge::diagnostic::narrate;
use rimegauge::prove::mutants::{
    CasesOfFile, Fate, Kind, Mutant, Proof, Tried, mutants, sample, try_all,
};
use rimegauge::report::surviving;
use rimegauge::rules::{self, BoundKind, RulesFile};
use rimegauge::text::{self, Source};

use super::cases::{files, name_of, root};
use super::sentences::shipped;

/// The answer where nothing compares meanings.
fn undecided(_: &Arc<RulesFile>, _: &Arc<RulesFile>) -> Proof {
    Proof::Undecided("nothing has compared what the two mean".to_owned())
}

/// How many mutants of each shipped version are tried here; `rimegauge rules cases rules/tarn-8 --mutants` tries all.
const TRIED: usize = 60;

fn small() -> RulesFile {
    let path = root().join("tests/data/mutants/rules.yaml");
    rules::load("rules.yaml", &fs::read(path).unwrap())
        .unwrap_or_else(|found| panic!("{}", narrate(&found)))
}

/// Tries mutants on the cases of some files.
fn tried(rules: &RulesFile, list: Vec<Mutant>, paths: &[impl AsRef<Path>]) -> Vec<Tried> {
    let sources: Vec<Arc<Source>> = paths
        .iter()
        .map(|path| {
            let path = path.as_ref();
            text::decode(&name_of(path), &fs::read(path).unwrap()).unwrap()
        })
        .collect();
    let nodes: Vec<_> = sources
        .iter()
        .map(|source| text::parse_yaml(source).unwrap())
        .collect();
    let of_class: Vec<CasesOfFile<'_, '_>> = sources
        .iter()
        .zip(&nodes)
        .map(|(source, node)| CasesOfFile {
            source,
            file: cases::load(source, node).unwrap_or_else(|found| panic!("{}", narrate(&found))),
        })
        .collect();
    // What comes out otherwise under the version itself tells nothing of its mutants.
    let plan = Plan::compile(Arc::new(rules.clone()));
    for one in &of_class {
        let results = cases::run(one.source, &one.file, &plan, &mut Coverage::default());
        let results = results.unwrap_or_else(|found| panic!("{}", narrate(&found)));
        assert!(
            results.iter().all(|result| result.wrong.is_empty()),
            "{results:?}"
        );
    }
    try_all(
        &Arc::new(rules.clone()),
        list,
        &of_class,
        &undecided,
        &mut |_, _| {},
    )
}

fn line(rules: &RulesFile, one: &Tried) -> String {
    let at = rules.source.line_column(one.mutant.edit.span.start);
    let fate = match &one.fate {
        Fate::Refused(_) => "refused",
        Fate::Killed { .. } => "killed",
        Fate::Linted(_) => "lint",
        Fate::Survived(_) => "survives",
    };
    format!(
        "{at} {} {}: {} ({fate})\n",
        one.mutant.kind.word(),
        one.mutant.rule.as_deref().unwrap_or("-"),
        one.mutant.words(&rules.source)
    )
}

/// The whole list of a small version under a weak set of cases, as it stood when a person last read it:
/// `tests/data/mutants/expected.txt`. `RIMEGAUGE_REWRITE=1` writes it anew.
#[test]
fn every_change_of_a_small_version_is_listed_with_what_becomes_of_it() {
    let rules = small();
    let list = mutants(&rules).list;
    let kinds: BTreeSet<Kind> = list.iter().map(|one| one.kind).collect();
    let missing: Vec<_> = Kind::ALL
        .iter()
        .filter(|kind| !kinds.contains(kind))
        .collect();
    assert!(missing.is_empty(), "kinds without a mutant: {missing:?}");
    let cases = [root().join("tests/data/mutants/cases.yaml")];
    let found: String = tried(&rules, list, &cases)
        .iter()
        .map(|one| line(&rules, one))
        .collect();
    let path = root().join("tests/data/mutants/expected.txt");
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        fs::write(&path, &found).unwrap();
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        found == expected,
        "read them, then RIMEGAUGE_REWRITE=1:\n{found}"
    );
}

/// A limit that no case touches can be moved without notice, and the message points at it.
#[test]
fn a_survivor_is_named_with_its_place() {
    let rules = small();
    let cases = [root().join("tests/data/mutants/cases.yaml")];
    let tried = tried(&rules, mutants(&rules).list, &cases);
    let told = surviving(&rules, &tried);
    let limit = told
        .iter()
        .find(|one| {
            one.message == "blade_thickness: no case notices this change: 5/16 in becomes 9/32 in"
        })
        .expect("the limit of a plate is not on the list");
    let label = limit.primary().unwrap();
    assert_eq!(rules.source.slice(label.span), "5/16 in");
    // What a case does touch is not on the list.
    let nose = told.iter().find(|one| one.message.starts_with("nose:"));
    assert!(nose.is_none(), "{nose:?}");
}

/// A stronger set kills more, and what is proved neutral is no longer told.
#[test]
fn a_case_more_kills_and_a_proof_sets_aside() {
    let rules = small();
    let weak = root().join("tests/data/mutants/cases.yaml");
    let strong = root().join("tests/data/mutants/one-more.yaml");
    let list = mutants(&rules).list;
    let killed = |tried: &[Tried]| {
        let is_killed = |one: &&Tried| matches!(one.fate, Fate::Killed { .. });
        tried.iter().filter(is_killed).count()
    };
    let few = tried(&rules, list.clone(), &[&weak]);
    let more = tried(&rules, list.clone(), &[&weak, &strong]);
    assert!(
        killed(&more) > killed(&few),
        "{} of {}",
        killed(&more),
        killed(&few)
    );
    let known = |_: &Arc<RulesFile>, _: &Arc<RulesFile>| Proof::Neutral;
    let proved = try_all(&Arc::new(rules.clone()), list, &[], &known, &mut |_, _| {});
    assert!(surviving(&rules, &proved).is_empty());
    let survivors = |tried: &[Tried]| surviving(&rules, tried).len();
    assert!(survivors(&few) > survivors(&more));
}

/// Each change is made where the file says what its kind speaks of, and is another text each time.
#[test]
fn changes_of_the_shipped_versions_stand_where_they_belong() {
    for (_, rules) in shipped() {
        let made = mutants(&rules);
        assert_eq!(made.left_out, Vec::new(), "{}", rules.version);
        assert!(made.list.len() > 300, "only {} mutants", made.list.len());
        let text = rules.source.text();
        let mut seen = BTreeSet::new();
        for one in &made.list {
            let was = rules.source.slice(one.edit.span);
            let told = format!("{} {:?} {was:?}", rules.version, one);
            assert_ne!(was, one.edit.with, "{told}");
            assert_eq!(was.len(), one.edit.span.len(), "{told}");
            assert!(seen.insert(one.edit.apply(text)), "twice: {told}");
            let fits = match one.kind {
                Kind::Limit | Kind::Constant | Kind::Border | Kind::Size | Kind::Tolerance => {
                    was.contains(|c: char| c.is_ascii_digit())
                }
                Kind::Strictness => BoundKind::ALL.iter().any(|kind| kind.word() == was),
                Kind::Comparison => ["<", "<=", ">", ">="].contains(&was),
                Kind::Junction => ["and", "or"].contains(&was),
                Kind::Date => was.starts_with("20"),
                Kind::Silence => ["forbids", "permits"].contains(&was),
                Kind::Judged => ["worst_place", "mean"].contains(&was),
                Kind::Unproven => was == "unproven: main_limit",
                Kind::Until => was.contains("until: 20"),
                Kind::Stage => was.starts_with('[') && was.ends_with(']'),
                Kind::Marks | Kind::Places | Kind::Repeats | Kind::Parts => {
                    was.parse::<u32>().is_ok()
                }
                Kind::Unit
                | Kind::Negation
                | Kind::Arithmetic
                | Kind::Function
                | Kind::Condition
                | Kind::Exemption
                | Kind::Spacing
                | Kind::Zone
                | Kind::Equals
                | Kind::Choice
                | Kind::Row
                | Kind::Side
                | Kind::OptionRow
                | Kind::Rounding
                | Kind::MarkTerm
                | Kind::Alike
                // Of many forms.
                | Kind::Decision => true,
            };
            assert!(fits, "{told}");
        }
        assert_eq!(mutants(&rules).list, made.list, "not the same list twice");
    }
}

/// A sample keeps the order, is the same each time, and another one with another seed.
#[test]
fn a_sample_is_fixed_by_its_seed() {
    let list = mutants(&small()).list;
    let one = sample(list.clone(), 50, 7);
    assert_eq!(one.len(), 50);
    assert_eq!(sample(list.clone(), 50, 7), one);
    assert_ne!(sample(list.clone(), 50, 8), one);
    let mut rest = list.iter();
    assert!(one.iter().all(|taken| rest.any(|all| all == taken)));
    assert_eq!(sample(list.clone(), list.len(), 7), list);
}

/// The shipped cases let no change through but those of `tests/data/mutants/neutral.txt`, which nothing that a record
/// says can show.
#[test]
fn the_shipped_cases_notice_changes() {
    let neutral = fs::read_to_string(root().join("tests/data/mutants/neutral.txt")).unwrap();
    let neutral: BTreeSet<&str> = neutral
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .collect();
    let told = |rules: &RulesFile, mutant: &Mutant| {
        let at = rules.source.line_column(mutant.edit.span.start).line as usize;
        let line = rules.source.text().lines().nth(at - 1).unwrap_or("");
        format!(
            "{} {} {}: {} in `{}`",
            rules.class.text,
            rules.version,
            mutant.rule.as_deref().unwrap_or("-"),
            mutant.words(&rules.source),
            line.trim()
        )
    };
    let mut through = Vec::new();
    let mut unknown = neutral.clone();
    for (_, rules) in shipped() {
        let list = mutants(&rules).list;
        for one in &list {
            unknown.remove(told(&rules, one).as_str());
        }
        let folder = format!("rules/{}/cases", rules.class.text);
        let tried = tried(&rules, sample(list, TRIED, 1), &files(&folder, "yaml"));
        let survivors = tried
            .iter()
            .filter(|one| matches!(one.fate, Fate::Survived(_)))
            .map(|one| told(&rules, &one.mutant));
        through.extend(survivors.filter(|told| !neutral.contains(told.as_str())));
    }
    assert!(unknown.is_empty(), "no such changes: {unknown:?}");
    assert!(through.is_empty(), "{}", through.join("\n"));
}
