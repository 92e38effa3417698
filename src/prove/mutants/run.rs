//! Whether the cases of a class tell a mutant from the version that it was made of.

use std::sync::Arc;

use rayon::prelude::*;

use super::super::{Answer, Comparison};
use super::edit::Mutant;
use crate::check::Plan;
use crate::check::cases::{self, CaseFile};
use crate::diagnostic::{Diagnostic, Severity};
use crate::rules::{self, RulesFile};
use crate::text::Source;

/// How many mutants are tried between two words about how far it is.
const CHUNK: usize = 32;

/// A file of cases, read once for all mutants.
pub struct CasesOfFile<'n, 's> {
    /// Its text.
    pub source: &'n Arc<Source>,
    /// Its cases.
    pub file: CaseFile<'n, 's>,
}

/// Whether a mutant means the same as the version that it was made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Proof {
    /// No record shows a difference.
    Neutral,
    /// A record shows one: a case that would tell the mutant apart, as text to be put in a file.
    Witness(String),
    /// Neither was shown, and why.
    Undecided(String),
}

impl Proof {
    /// What the first difference between a version and its mutant says of it.
    pub fn by(first: Answer) -> Proof {
        match first {
            Answer::ProvedNone => Proof::Neutral,
            Answer::Witness(found) => {
                let case = found.into_iter().next().map(|one| one.cases);
                Proof::Witness(case.unwrap_or_default())
            }
            Answer::Undecided(why) => Proof::Undecided(why.into_iter().next().unwrap_or_default()),
        }
    }

    /// What a comparison of a version with its mutant says of it. Words that changed are no part of it: no mutant
    /// changes them.
    pub fn of(comparison: &Comparison) -> Proof {
        let directions = [&comparison.becomes_illegal, &comparison.becomes_legal];
        let answers = directions.into_iter();
        let answers = answers.flat_map(|one| [&one.requirement, &one.evidence]);
        let mut open: Option<&str> = None;
        for answer in answers {
            match answer {
                Answer::ProvedNone => {}
                Answer::Witness(found) => {
                    let case = found.first().map(|one| one.cases.clone());
                    return Proof::Witness(case.unwrap_or_default());
                }
                Answer::Undecided(reasons) => {
                    open = open.or(Some(reasons.first().map_or("", String::as_str)));
                }
            }
        }
        match open {
            Some(why) => Proof::Undecided(why.to_owned()),
            None => Proof::Neutral,
        }
    }
}

/// How a survivor is asked about: the version and the mutant.
pub type Neutral<'f> = dyn Fn(&Arc<RulesFile>, &Arc<RulesFile>) -> Proof + Sync + 'f;

/// What became of a mutant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It does not load; the first message.
    Refused(String),
    /// A case comes out otherwise: its title and file.
    Killed {
        /// The case's title.
        title: String,
        /// The file that it stands in.
        file: String,
    },
    /// Every case comes out as it does under the version, but lint finds a fault that the version does not have, a text
    /// that names another number for example; the first message.
    Linted(String),
    /// Every case comes out as it does under the version, and lint finds nothing.
    Survived(Proof),
}

/// A mutant with what became of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tried {
    /// The mutant.
    pub mutant: Mutant,
    /// What became of it.
    pub fate: Fate,
}

/// Tries all mutants of a version on cases that come out as expected under it, and asks of each survivor whether it
/// means the same. `told` hears how many are done, of how many.
///
/// The order of the answers is that of the mutants, whatever the number of threads.
pub fn try_all(
    rules: &Arc<RulesFile>,
    mutants: Vec<Mutant>,
    cases: &[CasesOfFile<'_, '_>],
    neutral: &Neutral<'_>,
    told: &mut dyn FnMut(usize, usize),
) -> Vec<Tried> {
    let known: Vec<String> = faults(rules).into_iter().map(|one| one.message).collect();
    let all = mutants.len();
    let mut tried = Vec::with_capacity(all);
    for chunk in mutants.chunks(CHUNK) {
        tried.par_extend(chunk.par_iter().map(|mutant| Tried {
            mutant: mutant.clone(),
            fate: fate(rules, mutant, &known, cases, neutral),
        }));
        told(tried.len(), all);
    }
    tried
}

fn faults(rules: &RulesFile) -> Vec<Diagnostic> {
    let found = rules::lint(rules).into_iter();
    found
        .filter(|one| one.severity == Severity::Fault)
        .collect()
}

fn fate(
    rules: &Arc<RulesFile>,
    mutant: &Mutant,
    known: &[String],
    cases: &[CasesOfFile<'_, '_>],
    neutral: &Neutral<'_>,
) -> Fate {
    let text = mutant.edit.apply(rules.source.text());
    let changed = match rules::load(rules.source.name(), text.as_bytes()) {
        Ok(changed) => Arc::new(changed),
        Err(found) => {
            let message = found.into_iter().next().map(|one| one.message);
            return Fate::Refused(message.unwrap_or_default());
        }
    };
    let plan = Plan::compile(Arc::clone(&changed));
    // The cases about the changed rule come first: one of them tells most mutants apart.
    let names = |expects: &cases::Case<'_, '_>| {
        let mut ids = expects.expect.iter().map(|expected| Some(&expected.rule));
        ids.any(|id| id == mutant.rule.as_ref())
    };
    for about in [true, false] {
        for of_file in cases {
            for case in &of_file.file.cases {
                let is_asked = case.versions.matches(&rules.version) && names(case) == about;
                if is_asked && cases::comes_out_otherwise(of_file.source, case, &plan) {
                    return Fate::Killed {
                        title: case.title.clone(),
                        file: of_file.source.name().to_owned(),
                    };
                }
            }
        }
    }
    let mut fresh = faults(&changed).into_iter().map(|one| one.message);
    match fresh.find(|message| !known.contains(message)) {
        Some(message) => Fate::Linted(message),
        None => Fate::Survived(neutral(rules, &changed)),
    }
}

#[cfg(test)]
#[path = "run_tests.rs"]
mod tests;
