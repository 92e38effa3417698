//! Mutants of rules: a version with one place of its text changed, and whether a case of the class tells it from the
//! version. What no case tells apart is not kept by the cases: either nothing that a record can say shows the
//! difference, or a case is missing.
//!
//! A mutant is an edit of the text of the rules file, made where the typed model says that something stands; it is
//! loaded like any other rules file. Source of the method: R. A. DeMillo, R. J. Lipton, F. G. Sayward, "Hints on Test
//! Data Selection: Help for the Practicing Programmer", Computer 11(4), 1978, with one change for each mutant (from
//! memory).

mod edit;
mod expressions;
mod head;
mod kind;
mod marks;
mod rules;
mod run;
mod sample;
mod step;

pub use edit::{Edit, LeftOut, Mutant};
pub use kind::Kind;
pub use run::{CasesOfFile, Fate, Neutral, Proof, Tried, try_all};
pub use sample::{MOST, SEED, sample};

use edit::Maker;

use crate::rules::RulesFile;
use crate::text::parse_yaml;

/// The mutants of a version, in the order of its text, and what could not be mutated.
#[derive(Clone, Debug, Default)]
pub struct Mutants {
    /// The mutants.
    pub list: Vec<Mutant>,
    /// Places of which none were made, with the reason.
    pub left_out: Vec<LeftOut>,
}

/// Makes every mutant of a version. What an event changes of it is not mutated.
pub fn mutants(rules: &RulesFile) -> Mutants {
    let mut maker = Maker::new(rules);
    if let Ok(node) = parse_yaml(&rules.source) {
        head::mutate(&mut maker, &node);
        rules::mutate(&mut maker, &node);
        marks::mutate(&mut maker, &node);
    }
    maker.finish()
}
