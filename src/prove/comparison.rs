//! What a comparison of two versions comes to.

use semver::Version;

use super::flip::Flip;
use crate::check::Outcome;
use crate::quantity::Date;
use crate::rules::Stage;

/// Everything that is known of a change from one version to another.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The version as it was.
    pub old: Version,
    /// The version as it is to be.
    pub new: Version,
    /// Whether some legal boat of the old version is not legal under the new one.
    pub becomes_illegal: Direction,
    /// Whether some boat becomes legal.
    pub becomes_legal: Direction,
    /// Clause by clause, in the order of the new file, then what only the old one has.
    pub changes: Vec<Change>,
    /// What words say and no program can decide.
    pub words: Vec<Wording>,
    /// The least version step that the change demands; what is undecided is not counted.
    pub required: Bump,
    /// The step from the old version to the new one; nothing where it goes backwards or nowhere.
    pub declared: Option<Bump>,
    /// Up to how many items of a kind a proof reaches, by holding; empty where no rule counts.
    pub reach: Vec<(String, u32)>,
}

/// One direction of a comparison.
#[derive(Clone, Debug)]
pub struct Direction {
    /// What is required: everything measured, without doubt, proofs given.
    pub requirement: Answer,
    /// What evidence is asked for, and who carries the doubt.
    pub evidence: Answer,
}

/// An answer that is proved, or none.
#[derive(Clone, Debug)]
pub enum Answer {
    /// There is no such boat.
    ProvedNone,
    /// Here is one; others may be listed behind it.
    Witness(Vec<Witness>),
    /// It is not known, for these reasons, in words.
    Undecided(Vec<String>),
}

/// The strongest of several answers: a witness, then what is undecided.
impl Direction {
    /// The word of the whole direction.
    pub fn word(&self) -> &'static str {
        let parts = [&self.requirement, &self.evidence];
        if parts.iter().any(|one| matches!(one, Answer::Witness(_))) {
            "witness"
        } else if parts.iter().any(|one| matches!(one, Answer::Undecided(_))) {
            "undecided"
        } else {
            "proved_none"
        }
    }
}

impl Answer {
    /// The word in files.
    pub fn word(&self) -> &'static str {
        match self {
            Answer::ProvedNone => "proved_none",
            Answer::Witness(_) => "witness",
            Answer::Undecided(_) => "undecided",
        }
    }

    /// Whether it is a witness.
    pub fn is_witness(&self) -> bool {
        matches!(self, Answer::Witness(_))
    }
}

/// A boat that shows a change, replayed through a check under both versions.
#[derive(Clone, Debug)]
pub struct Witness {
    /// What differs from a legal boat, as YAML of a record.
    pub fragment: String,
    /// The same for JSON.
    pub fragment_json: serde_json::Value,
    /// The whole record under the names of the old version.
    pub old_record: String,
    /// The whole record under the names of the new version.
    pub new_record: String,
    /// The stage at which it is checked.
    pub stage: Stage,
    /// The level of the event, if one matters.
    pub level: Option<String>,
    /// The day of the check.
    pub day: Date,
    /// What comes out under the old version.
    pub old_outcome: Outcome,
    /// What comes out under the new version.
    pub new_outcome: Outcome,
    /// Ids of the rules by which the two differ.
    pub rules: Vec<String>,
    /// In words what it shows: `legal under 3.1.0; under 4.0.0 it is not`. By what is said by `flips`.
    pub why: String,
    /// The findings that differ, as the checks of both records found them.
    pub flips: Vec<Flip>,
    /// Cases for both versions, to be pasted into a file of cases.
    pub cases: String,
}

/// A change of one clause.
#[derive(Clone, Debug)]
pub struct Change {
    /// The id of the rule; `equipment`, `silence`, or a word for what is no rule.
    pub rule: String,
    /// Clause number and title, for people.
    pub title: String,
    /// What it does to what is legal, both parts together.
    pub effect: Effect,
    /// What was written, as far as it differs.
    pub was: Option<String>,
    /// What is written now.
    pub is: Option<String>,
    /// For whom, where it is not for all: `runners: construction insert`.
    pub for_whom: Vec<String>,
    /// What it does in words, with the proof or the reason why nothing is known.
    pub says: Vec<String>,
    /// The witness that something becomes illegal by it.
    pub illegal: Option<Witness>,
    /// The witness that something becomes legal by it.
    pub legal: Option<Witness>,
}

/// What a changed clause does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// It is new.
    Added,
    /// It is gone.
    Removed,
    /// Something becomes illegal.
    Tightened,
    /// Something becomes legal.
    Relaxed,
    /// Both.
    Both,
    /// Neither, and that is proved.
    Neutral,
    /// It is not known.
    Undecided,
}

impl Effect {
    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Effect::Added => "added",
            Effect::Removed => "removed",
            Effect::Tightened => "tightened",
            Effect::Relaxed => "relaxed",
            Effect::Both => "both",
            Effect::Neutral => "neutral",
            Effect::Undecided => "undecided",
        }
    }
}

/// Words that changed, and what their authors say they do.
#[derive(Clone, Debug)]
pub struct Wording {
    /// What they belong to: `steel_thickness`, or the id of an interpretation.
    pub of: String,
    /// What changed: `text`, `interpretation`, `question`.
    pub what: String,
    /// What was written.
    pub was: Option<String>,
    /// What is written now.
    pub is: Option<String>,
    /// What it is claimed to do, and by whom; nothing where nobody says.
    pub claim: Option<(crate::rules::Effect, String)>,
}

/// A step from one version to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bump {
    /// Nothing becomes legal or illegal.
    Patch,
    /// Something becomes legal, and nothing illegal.
    Minor,
    /// Something becomes illegal.
    Major,
}

impl Bump {
    /// The word in files.
    pub fn word(self) -> &'static str {
        match self {
            Bump::Patch => "patch",
            Bump::Minor => "minor",
            Bump::Major => "major",
        }
    }

    /// The step between two versions; nothing where it does not go forward.
    pub fn between(old: &Version, new: &Version) -> Option<Bump> {
        if new <= old {
            return None;
        }
        Some(if new.major != old.major {
            Bump::Major
        } else if new.minor != old.minor {
            Bump::Minor
        } else {
            Bump::Patch
        })
    }
}

/// Whether a declared step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It is what is needed.
    Accepted,
    /// It is more than what is needed.
    MoreThanNeeded,
    /// It is less than what is proved to be needed.
    Refused,
    /// Something is undecided, so that it can't be said whether it is enough.
    NotConfirmed,
}

impl Comparison {
    /// Whether anything that matters is undecided, words without a claim included.
    pub fn undecided(&self) -> bool {
        let directions = [&self.becomes_illegal, &self.becomes_legal];
        let parts = directions
            .iter()
            .flat_map(|one| [&one.requirement, &one.evidence]);
        parts.clone().any(|one| matches!(one, Answer::Undecided(_)))
            || self.words.iter().any(|one| one.claim.is_none())
    }

    /// What becomes of the declared step. A witness against it refuses it, whatever else is undecided; major needs no
    /// proof beyond.
    pub fn standing(&self) -> Standing {
        match self.declared {
            None => Standing::Refused,
            Some(declared) if declared < self.required => Standing::Refused,
            Some(Bump::Major) if self.required == Bump::Major => Standing::Accepted,
            Some(Bump::Major) if self.undecided() => Standing::Accepted,
            Some(_) if self.undecided() => Standing::NotConfirmed,
            Some(declared) if declared > self.required => Standing::MoreThanNeeded,
            Some(_) => Standing::Accepted,
        }
    }
}
