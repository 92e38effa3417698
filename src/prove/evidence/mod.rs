//! The evidence part of a comparison: what is asked as proof, and how doubt is treated, with the requirement held
//! equal.
//!
//! Outcomes are ordered: does not conform, not decided, conforms. Something becomes illegal by evidence where a record
//! of a boat that is legal under both versions, or under neither, comes out worse under the new one; it becomes legal
//! where one comes out better. What differs is told from the two files ([`differences`]); whether it shows is told by
//! records made for it and checked under both versions. A difference that shows on none of them, and for which there is
//! no reason why it could not, leaves its direction undecided.

mod band;
mod bases;
mod construct;
mod dates;
mod difference;
mod doubt;
mod edit;
mod fewer;
mod follows;
mod gold;
mod implied;
mod matters;
mod needs;
mod otherwise;
mod proof;
mod search;
mod trial;
mod uneven;
mod wishes;
mod zones;

pub use difference::{Difference, Kind};
pub use edit::Pair;
pub use gold::{Gold, GoldBoat, Wish};
pub use needs::Need;
pub(in crate::prove) use proof::evidence_by_proof;

use super::common::Common;
use super::comparison::{Answer, Witness};
use super::legal::Clause;
use super::progress::Progress;
use super::term::Terms;
use crate::check::Plan;
use difference::{differences, matched};
use search::Search;
use trial::Bench;

/// The two versions of a comparison, as rules and as statements.
pub struct Versions<'a, 'r> {
    /// What both speak of.
    pub common: &'a Common<'r>,
    /// The terms of their statements.
    pub terms: &'a Terms,
    /// The statements of the old version.
    pub old: &'r [Clause],
    /// The statements of the new version.
    pub new: &'r [Clause],
    /// The old version, ready to check records.
    pub old_plan: &'a Plan,
    /// The new version, ready to check records.
    pub new_plan: &'a Plan,
}

/// The evidence part of a comparison.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// Whether something becomes illegal by what is asked as evidence.
    pub becomes_illegal: Answer,
    /// Whether something becomes legal by it.
    pub becomes_legal: Answer,
    /// Difference by difference.
    pub differences: Vec<Answered>,
}

/// A difference with what it does.
#[derive(Clone, Debug)]
pub struct Answered {
    /// The difference.
    pub difference: Difference,
    /// Whether something becomes illegal by it.
    pub becomes_illegal: Answer,
    /// Whether something becomes legal by it.
    pub becomes_legal: Answer,
}

/// Compares what two versions ask as evidence.
pub fn evidence(versions: &Versions<'_, '_>, gold: &mut dyn Gold) -> Evidence {
    evidence_telling(versions, gold, &mut |_| {})
}

/// The same; `told` hears how far it is.
fn evidence_telling(
    versions: &Versions<'_, '_>,
    gold: &mut dyn Gold,
    told: &mut dyn FnMut(Progress),
) -> Evidence {
    let matched = matched(versions.common, versions.old, versions.new);
    let found = differences(versions.common, &matched);
    let search = Search {
        bench: Bench {
            common: versions.common,
            terms: versions.terms,
            old: versions.old_plan,
            new: versions.new_plan,
            known: Default::default(),
        },
        matched: &matched,
    };
    let all_of_them = found.len();
    let answered: Vec<Answered> = found
        .into_iter()
        .enumerate()
        .map(|(done, difference)| {
            told(Progress::Evidence {
                done,
                all: all_of_them,
            });
            let (becomes_illegal, becomes_legal) = search.answers(&difference, gold);
            Answered {
                difference,
                becomes_illegal,
                becomes_legal,
            }
        })
        .collect();
    Evidence {
        becomes_illegal: all(answered.iter().map(|one| &one.becomes_illegal)),
        becomes_legal: all(answered.iter().map(|one| &one.becomes_legal)),
        differences: answered,
    }
}

/// The strongest of several answers: witnesses, then reasons for which it is not known.
fn all<'a>(answers: impl Iterator<Item = &'a Answer>) -> Answer {
    let mut witnesses: Vec<Witness> = Vec::new();
    let mut reasons: Vec<String> = Vec::new();
    for one in answers {
        match one {
            Answer::ProvedNone => {}
            Answer::Witness(list) => witnesses.extend(list.iter().cloned()),
            Answer::Undecided(list) => reasons.extend(list.iter().cloned()),
        }
    }
    if !witnesses.is_empty() {
        Answer::Witness(witnesses)
    } else if !reasons.is_empty() {
        Answer::Undecided(reasons)
    } else {
        Answer::ProvedNone
    }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests;
