//! Interpretations: rulings on what rules mean, with their scope and their life.

use jiff::civil::Date;

use super::model::RulesFile;
use crate::vocabulary::Name;

/// A ruling on what a rule means.
#[derive(Clone, Debug)]
pub struct Interpretation {
    /// Its id, which stays the same from version to version.
    pub id: Name,
    /// Ids of rules that it is about.
    pub about: Vec<Name>,
    /// The day it was issued.
    pub issued: Date,
    /// Where it counts.
    pub scope: Scope,
    /// The last day on which it counts, where that was said when it was issued.
    pub until: Option<Date>,
    /// What became of it.
    pub status: InterpretationStatus,
    /// What it does to what is legal.
    pub effect: Effect,
    /// Ids of the rules whose limits or conditions were changed with it.
    pub changed: Vec<Name>,
    /// Its text.
    pub text: String,
}

/// Where an interpretation counts.
#[derive(Clone, Debug, PartialEq)]
pub enum Scope {
    /// Everywhere, for as long as it stands.
    Permanent,
    /// At one event, by its name: `harrowmere-2026`.
    Event(Name),
}

/// What became of an interpretation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum InterpretationStatus {
    /// It stands.
    InForce,
    /// The text of the rules took it in.
    Absorbed {
        /// The clause that says it now.
        clause: String,
        /// The version whose text says it first.
        version: semver::Version,
    },
    /// It was taken back.
    Withdrawn {
        /// The first day on which it no longer counts.
        ended: Date,
    },
    /// Its time is over.
    Expired {
        /// The last day on which it counted.
        ended: Date,
    },
}

impl InterpretationStatus {
    /// The word in files: `in_force`.
    pub fn word(&self) -> &'static str {
        match self {
            InterpretationStatus::InForce => "in_force",
            InterpretationStatus::Absorbed { .. } => "absorbed",
            InterpretationStatus::Withdrawn { .. } => "withdrawn",
            InterpretationStatus::Expired { .. } => "expired",
        }
    }
}

/// What an interpretation does to what is legal, as its authors declare it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// It says what was meant, and nothing becomes legal or illegal.
    None,
    /// Something becomes legal.
    Relaxed,
    /// Something becomes illegal.
    Tightened,
    /// Something becomes legal, and something illegal.
    Both,
}

impl Effect {
    /// Every effect with its word in files.
    pub const WORDS: [(&'static str, Effect); 4] = [
        ("none", Effect::None),
        ("relaxed", Effect::Relaxed),
        ("tightened", Effect::Tightened),
        ("both", Effect::Both),
    ];

    /// The word in files: `relaxed`.
    pub fn word(self) -> &'static str {
        match self {
            Effect::None => "none",
            Effect::Relaxed => "relaxed",
            Effect::Tightened => "tightened",
            Effect::Both => "both",
        }
    }
}

impl Interpretation {
    /// Whether it counts on a day, at an event or, without one, away from events.
    pub fn stands(&self, day: Date, event: Option<&str>) -> bool {
        let here = match &self.scope {
            Scope::Permanent => true,
            Scope::Event(name) => event == Some(name.text.as_str()),
        };
        let not_ended = match &self.status {
            InterpretationStatus::InForce => true,
            // The text says it now.
            InterpretationStatus::Absorbed { .. } => false,
            InterpretationStatus::Withdrawn { ended } => day < *ended,
            InterpretationStatus::Expired { ended } => day <= *ended,
        };
        here && not_ended && self.issued <= day && self.until.is_none_or(|until| day <= until)
    }

    /// Whether it is about a rule.
    pub fn is_about(&self, rule: &str) -> bool {
        self.about.iter().any(|name| name.text == rule)
    }
}

impl RulesFile {
    /// The interpretations that count on a day, in the order of the file. Those of one event count where an
    /// overlay says that the check is for it.
    pub fn standing(&self, day: Date) -> impl Iterator<Item = &Interpretation> {
        let event = self
            .overlay
            .as_deref()
            .map(|overlay| overlay.event.text.as_str());
        self.interpretations
            .iter()
            .filter(move |one| one.stands(day, event))
    }
}

/// Interpretations that drop out: in force in the old version, and neither named in the new one nor in the
/// list of what became of them. In the order of the old file.
pub fn dropped_out<'o>(old: &'o RulesFile, new: &RulesFile) -> Vec<&'o Interpretation> {
    let said = |one: &Interpretation| {
        new.interpretations
            .iter()
            .any(|other| other.id.text == one.id.text)
    };
    old.interpretations
        .iter()
        .filter(|one| one.status == InterpretationStatus::InForce && !said(one))
        .collect()
}
