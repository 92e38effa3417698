//! What a change of rules means for the number of its version: each row of the table in the design, and more.
//!
//! Source of what is expected: the definitions of "Versions of class rules mean something" in the design, ours. A file
//! under `tests/suite/versions/` holds a small rules file and entries; each entry edits it and says what is proved in
//! each direction, for what is required and for what is asked as evidence. `otherwise` tells where the answer is known
//! to be another one than the definitions ask for, and why; such an entry fails as soon as that is mended.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use rayon::prelude::*;
use rimegauge::check::cases::{self, Coverage};
use rimegauge::check::{Outcome, Plan};
use rimegauge::diagnostic::narrate;
use rimegauge::prove::witness::{Replayed, replay};
use rimegauge::prove::{Answer, Comparison, Direction, Effect, Witness, compare};
use rimegauge::rules::{self, RulesFile};
use rimegauge::text;
use serde::Deserialize;

use super::cases::root;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    base: String,
    entries: Vec<Entry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    name: String,
    /// The row of the table that it shows, where it shows one.
    row: Option<String>,
    /// Edits of both versions, what was written and what is written.
    #[serde(default)]
    both: Vec<(String, String)>,
    /// Edits of the new version.
    edit: Vec<(String, String)>,
    /// The least step.
    required: String,
    /// Whether something becomes illegal, and whether something becomes legal, as it is required.
    requirement: (String, String),
    /// The same for what is asked as evidence.
    evidence: (String, String),
    /// Words that changed: `length: undeclared`.
    #[serde(default)]
    words: Vec<String>,
    /// Why another answer comes at present.
    otherwise: Option<String>,
}

/// The rows of the table, by the words that entries name them with.
const ROWS: [&str; 26] = [
    "limit moved to another rule",
    "clause renumbered",
    "unit rewritten",
    "title",
    "remedy",
    "order",
    "plausible",
    "more places",
    "more repeats",
    "new needs_proof",
    "simple to guarded acceptance",
    "higher coverage under guarded acceptance",
    "higher guard factor under guarded acceptance",
    "simple acceptance to guarded rejection",
    "new rule on a new measure",
    "new rule on a new measure, implied",
    "new trait without a rule, optional",
    "new choice under forbids",
    "new choice under permits",
    "permits to forbids",
    "forbids to permits",
    "exemption added",
    "exemption removed",
    "exemption now with proof",
    "rename without renamed",
    "wording",
];

fn files() -> Vec<(PathBuf, File)> {
    let folder = root().join("tests/suite/versions");
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|one| one.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "yaml"))
        .collect();
    paths.sort();
    let read = |path: PathBuf| {
        let text = fs::read_to_string(&path).unwrap();
        let file = serde_yaml::from_str(&text)
            .unwrap_or_else(|problem| panic!("{}: {problem}", path.display()));
        (path, file)
    };
    paths.into_iter().map(read).collect()
}

fn load(text: &str) -> Result<Arc<RulesFile>, String> {
    let found = rules::load("rules.yaml", text.as_bytes());
    found.map(Arc::new).map_err(|found| narrate(&found))
}

fn edited(text: &str, edits: &[(String, String)]) -> Result<String, String> {
    let mut text = text.to_owned();
    for (was, is) in edits {
        if !text.contains(was) {
            return Err(format!("{was:?} is not there"));
        }
        text = text.replace(was, is);
    }
    Ok(text)
}

impl Entry {
    /// Both versions; what the new one is called says nothing of what it needs.
    fn versions(&self, base: &str) -> Result<(Arc<RulesFile>, Arc<RulesFile>), String> {
        let old = edited(base, &self.both)?;
        let new = edited(&old, &self.edit)?;
        let new = new.replace("version: 1.0.0", "version: 2.0.0\nreplaces: 1.0.0");
        Ok((load(&old)?, load(&new)?))
    }
}

fn word(answer: &Answer) -> String {
    match answer {
        Answer::ProvedNone => "none".to_owned(),
        Answer::Witness(_) => "witness".to_owned(),
        Answer::Undecided(_) => "undecided".to_owned(),
    }
}

type Parts = ((String, String), (String, String));

/// What is required, then what is asked as evidence; each illegal, then legal.
fn parts(found: &Comparison) -> Parts {
    let (illegal, legal) = (&found.becomes_illegal, &found.becomes_legal);
    (
        (word(&illegal.requirement), word(&legal.requirement)),
        (word(&illegal.evidence), word(&legal.evidence)),
    )
}

fn swapped(((a, b), (c, d)): Parts) -> Parts {
    ((b, a), (d, c))
}

fn words(found: &Comparison) -> Vec<String> {
    let each = found.words.iter().map(|one| {
        let claim = one.claim.as_ref();
        let claim = claim.map_or("undeclared", |(effect, _)| effect.word());
        format!("{}: {claim}", one.of)
    });
    each.collect()
}

/// What is said of an answer that was not expected.
fn told(found: &Comparison) -> String {
    let answer = |name: &str, answer: &Answer| match answer {
        Answer::ProvedNone => String::new(),
        Answer::Undecided(why) => format!("\n  {name}: undecided: {}", why.join("; ")),
        Answer::Witness(list) => {
            let each = list.iter().map(|one| {
                format!(
                    "\n  {name}: {} -> {}: {}\n{}",
                    one.old_outcome.word(),
                    one.new_outcome.word(),
                    one.why,
                    one.fragment
                )
            });
            each.collect()
        }
    };
    [
        answer("illegal, requirement", &found.becomes_illegal.requirement),
        answer("legal, requirement", &found.becomes_legal.requirement),
        answer("illegal, evidence", &found.becomes_illegal.evidence),
        answer("legal, evidence", &found.becomes_legal.evidence),
    ]
    .concat()
}

fn is_silent(found: &Comparison) -> bool {
    let none = |one: &Direction| {
        matches!(one.requirement, Answer::ProvedNone) && matches!(one.evidence, Answer::ProvedNone)
    };
    none(&found.becomes_illegal)
        && none(&found.becomes_legal)
        && found.words.is_empty()
        && found.required.word() == "patch"
        && found
            .changes
            .iter()
            .all(|one| one.effect == Effect::Neutral)
}

/// Replays the records of a witness by the ordinary check, and tries its cases.
fn shows(witness: &Witness, (old, new): (&Arc<RulesFile>, &Arc<RulesFile>)) -> Result<(), String> {
    let again = |rules: &Arc<RulesFile>, record: &str| -> Result<Replayed, String> {
        let plan = Plan::compile(Arc::clone(rules));
        let levels = &rules.vocabulary.event_levels;
        let level = witness.level.as_ref();
        let level = level.and_then(|name| rules.vocabulary.event_level_named(name));
        if witness.level.is_some() && level.is_none() && !levels.is_empty() {
            return Err(format!("no level {:?} in {}", witness.level, rules.version));
        }
        replay(record, &plan, (witness.stage, level, witness.day))
            .map_err(|found| format!("{}\n{record}", narrate(&found)))
    };
    let was = again(old, &witness.old_record)?;
    let is = again(new, &witness.new_record)?;
    if (was.outcome, is.outcome) != (witness.old_outcome, witness.new_outcome) {
        return Err(format!("comes out {:?} and {:?}", was.outcome, is.outcome));
    }
    let source = text::decode("fragment.yaml", witness.fragment.as_bytes());
    let source = source.map_err(|found| format!("{found:?}"))?;
    text::parse_yaml(&source).map_err(|found| format!("{found:?}\n{}", witness.fragment))?;
    if witness.fragment.trim().is_empty() || witness.rules.is_empty() {
        return Err("says nothing of what differs".to_owned());
    }
    if !witness.cases.is_empty() {
        let source = text::decode("cases.yaml", witness.cases.as_bytes());
        let source = source.map_err(|found| format!("{found:?}"))?;
        let node = text::parse_yaml(&source).map_err(|found| format!("{found:?}"))?;
        let file = cases::load(&source, &node).map_err(|found| narrate(&found))?;
        for rules in [old, new] {
            let plan = Plan::compile(Arc::clone(rules));
            let results = cases::run(&source, &file, &plan, &mut Coverage::default())
                .map_err(|found| narrate(&found))?;
            let wrong = results.iter().filter(|one| !one.wrong.is_empty());
            if let Some(one) = wrong.into_iter().next() {
                return Err(format!("{:?}\n{}", one.wrong, witness.cases));
            }
        }
    }
    Ok(())
}

/// What is not as it has to be with the witnesses of a comparison.
fn unsound(found: &Comparison, versions: (&Arc<RulesFile>, &Arc<RulesFile>)) -> Vec<String> {
    let legal = |one: Outcome| matches!(one, Outcome::Conforms | Outcome::NotApplicable);
    let mut wrong = Vec::new();
    let mut look = |name: &str, answer: &Answer, right: &dyn Fn(&Witness) -> bool| {
        let Answer::Witness(list) = answer else {
            return;
        };
        if list.is_empty() {
            wrong.push(format!("{name}: a witness without a boat"));
        }
        for witness in list {
            if !right(witness) {
                wrong.push(format!("{name}: {} goes the other way", witness.why));
            }
            if let Err(why) = shows(witness, versions) {
                wrong.push(format!("{name}: {}: {why}", witness.why));
            }
        }
    };
    look("illegal", &found.becomes_illegal.requirement, &|one| {
        legal(one.old_outcome) && !legal(one.new_outcome)
    });
    look("legal", &found.becomes_legal.requirement, &|one| {
        !legal(one.old_outcome) && legal(one.new_outcome)
    });
    look(
        "illegal evidence",
        &found.becomes_illegal.evidence,
        &|one| one.new_outcome < one.old_outcome,
    );
    look("legal evidence", &found.becomes_legal.evidence, &|one| {
        one.old_outcome < one.new_outcome
    });
    wrong
}

/// What is wrong with an entry; nothing where all is as it says.
fn tried(entry: &Entry, base: &str) -> Vec<String> {
    let (old, new) = match entry.versions(base) {
        Ok(versions) => versions,
        Err(why) => return vec![why],
    };
    let found = compare(&old, &new);
    let mut wrong = Vec::new();
    let expected = (entry.requirement.clone(), entry.evidence.clone());
    let got = parts(&found);
    let as_said = got == expected && found.required.word() == entry.required;
    if as_said == entry.otherwise.is_some() {
        wrong.push(format!(
            "{} {got:?}, expected {} {expected:?}{}",
            found.required.word(),
            entry.required,
            told(&found)
        ));
    }
    // Only what is asked as evidence may be otherwise.
    if entry.otherwise.is_some() && got.0 != entry.requirement {
        wrong.push(format!("required {:?}{}", got.0, told(&found)));
    }
    if words(&found) != entry.words {
        wrong.push(format!("words {:?}", words(&found)));
    }
    wrong.extend(unsound(&found, (&old, &new)));
    let back = compare(&new, &old);
    if parts(&back) != swapped(got) {
        wrong.push(format!("backwards {:?}{}", parts(&back), told(&back)));
    }
    let there = unsound(&back, (&new, &old));
    wrong.extend(there.into_iter().map(|one| format!("backwards: {one}")));
    for rules in [&old, &new] {
        let itself = compare(rules, rules);
        if !is_silent(&itself) {
            wrong.push(format!("{} against itself{}", rules.version, told(&itself)));
        }
    }
    wrong
}

/// `RIMEGAUGE_ROW=words` tries the entries whose names hold these words.
#[test]
fn each_change_needs_the_step_that_is_said() {
    let only = std::env::var("RIMEGAUGE_ROW").ok();
    let files = files();
    let all: Vec<(String, &str, &Entry)> = files
        .iter()
        .flat_map(|(path, file)| {
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            file.entries
                .iter()
                .map(move |entry| (name.clone(), file.base.as_str(), entry))
        })
        .filter(|(name, _, entry)| {
            let whole = format!("{name}: {}", entry.name);
            only.as_ref()
                .is_none_or(|only| whole.contains(only.as_str()))
        })
        .collect();
    let wrong: Vec<String> = all
        .par_iter()
        .flat_map_iter(|(name, base, entry)| {
            let wrong = tried(entry, base);
            wrong
                .into_iter()
                .map(move |one| format!("{name}: {}: {one}", entry.name))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn each_row_of_the_table_has_an_entry() {
    let files = files();
    let entries = || files.iter().flat_map(|(_, file)| &file.entries);
    for row in ROWS {
        let shown = entries().any(|entry| entry.row.as_deref() == Some(row));
        assert!(shown, "no entry shows {row:?}");
    }
    for entry in entries() {
        if let Some(row) = &entry.row {
            assert!(ROWS.contains(&row.as_str()), "{}: {row:?}", entry.name);
        }
    }
    let mut names: Vec<&str> = entries().map(|entry| entry.name.as_str()).collect();
    names.sort_unstable();
    let twice = names.windows(2).find(|pair| pair[0] == pair[1]);
    assert_eq!(twice, None);
}
