//! What a comparison of two versions came to: for people, in sentences, as JSON.
//!
//! ```text
//! Comparison (what is proved) ┐
//! both versions (what is written) ┴─► Clauses joined by rule id ─► blocks of words ─► human │ plain
//!                                                              └─► JSON
//! ```
//!
//! What is proved, what is claimed by a person and what is not known are three kinds of sentence, and each begins by
//! saying which it is.

mod flips;
mod json;
mod set;
mod told;

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
pub(super) mod tests;

use crate::prove::{
    Answer, Change, Comparison, Effect, Standing, Witness, Wording, declares_against,
};
use crate::rules::RulesFile;

use super::changes::{Changed, Differs, changes};

pub(super) use flips::{figures, outcome};
pub use json::compare_json;
pub use set::{compare_plain, compare_text};
pub(super) use told::{Block, blocks};

/// A comparison with the versions that it is of.
#[derive(Clone, Copy, Debug)]
pub struct Compared<'c> {
    /// The version as it was.
    pub old: &'c RulesFile,
    /// The version as it is to be.
    pub new: &'c RulesFile,
    /// What is proved of them.
    pub comparison: &'c Comparison,
    /// What should be known beside, in sentences.
    pub notes: &'c [String],
}

/// What is proved of a clause, with what is written in it.
pub(super) struct Clause<'c> {
    /// What is proved.
    pub change: &'c Change,
    /// What is written otherwise, in a fixed order.
    pub differs: Vec<Differs>,
}

impl Clause<'_> {
    /// Whether anything is to be said of it: it has an effect, is not known, or is written otherwise.
    pub(super) fn is_to_be_told(&self) -> bool {
        let neutral = match self.change.effect {
            Effect::Neutral => true,
            Effect::Added
            | Effect::Removed
            | Effect::Tightened
            | Effect::Relaxed
            | Effect::Both
            | Effect::Undecided => false,
        };
        !neutral
            || !self.differs.is_empty()
            || self.change.was.is_some()
            || self.change.is.is_some()
    }
}

/// All that is to be said, joined.
pub(super) struct Joined<'c> {
    /// What was compared clause by clause, in the order of the comparison.
    pub clauses: Vec<Clause<'c>>,
    /// Rules that are written otherwise, and of which the comparison says nothing.
    pub only_written: Vec<Changed>,
    /// What is written otherwise beside the rules.
    pub beside: Vec<Changed>,
}

impl<'c> Compared<'c> {
    /// What is proved, joined with what is written by the ids of rules.
    pub(super) fn joined(&self) -> Joined<'c> {
        let written = changes(self.old, self.new);
        let mut rules: Vec<(Option<String>, Changed)> = written
            .added
            .into_iter()
            .chain(written.changed)
            .map(|one| (one.rule.clone(), one))
            .collect();
        rules.extend(
            written
                .removed
                .into_iter()
                .map(|one| (self.id_of_old(&one.title), one)),
        );
        let mut clauses = Vec::new();
        for change in &self.comparison.changes {
            let found = rules
                .iter()
                .position(|(id, _)| id.as_deref() == Some(change.rule.as_str()));
            let differs = match found {
                Some(at) => rules.remove(at).1.differs,
                None => Vec::new(),
            };
            clauses.push(Clause { change, differs });
        }
        Joined {
            clauses,
            only_written: rules.into_iter().map(|(_, one)| one).collect(),
            beside: written.beside,
        }
    }

    /// Why the author of the new version says that changed words do what is claimed of them.
    pub(super) fn because(&self, one: &Wording) -> Option<&'c str> {
        let declared = declares_against(self.new, &self.old.version)
            .then(|| self.new.declared_of(&one.of))
            .flatten();
        declared.map(|one| one.because.as_str())
    }

    /// What is proved of a clause by its data, or why nothing is known of it.
    pub(super) fn proved_of_data(&self, clause: &Clause<'_>) -> Vec<String> {
        told::proved_of_data(clause)
    }

    /// The id of a rule of the old version by its number and title.
    fn id_of_old(&self, title: &str) -> Option<String> {
        let mut headings = self.old.headings();
        let own = headings.find(|(_, clause, its)| format!("{clause} {its}") == title);
        own.map(|(id, ..)| id.to_owned())
    }

    /// The witness for the step that is needed, the strongest first; nothing where no witness asks for it.
    pub(super) fn reason(&self) -> Option<&'c Witness> {
        let of = |answer: &'c Answer| match answer {
            Answer::Witness(all) => all.first(),
            Answer::ProvedNone | Answer::Undecided(_) => None,
        };
        let both = [
            &self.comparison.becomes_illegal,
            &self.comparison.becomes_legal,
        ];
        both.into_iter()
            .find_map(|one| of(&one.requirement).or(of(&one.evidence)))
    }

    /// Whether all that was asked is proved, and nothing was found.
    pub(super) fn nothing_changes(&self) -> bool {
        let both = [
            &self.comparison.becomes_illegal,
            &self.comparison.becomes_legal,
        ];
        let mut parts = both
            .into_iter()
            .flat_map(|one| [&one.requirement, &one.evidence]);
        parts.all(|one| matches!(one, Answer::ProvedNone))
    }
}

/// Whether a declared step may stand.
pub(super) fn accepted(standing: Standing) -> bool {
    match standing {
        Standing::Accepted | Standing::MoreThanNeeded => true,
        Standing::Refused | Standing::NotConfirmed => false,
    }
}

/// The word of a standing in files.
pub(super) fn standing_word(standing: Standing) -> &'static str {
    match standing {
        Standing::Accepted => "accepted",
        Standing::MoreThanNeeded => "more_than_needed",
        Standing::Refused => "refused",
        Standing::NotConfirmed => "not_confirmed",
    }
}
