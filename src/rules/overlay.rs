//! An overlay: what one event changes of the rules of a class, and what its jury ruled.

use std::sync::Arc;

use jiff::civil::Date;

use super::model::RulesFile;
use crate::text::{Source, Span};
use crate::vocabulary::Name;

/// An overlay that was laid over a version of class rules. The limits it changes stand in the rules
/// themselves, with spans that [`RulesFile::place`] leads to the overlay's own text.
#[derive(Clone, Debug)]
pub struct Overlay {
    /// The text it was read from.
    pub source: Arc<Source>,
    /// `sha256:` and 64 hexadecimal digits over the bytes of the file.
    pub digest: String,
    /// The event: `harrowmere-2026`.
    pub event: Name,
    /// What it changes, in the order of the file.
    pub changes: Vec<Change>,
    /// What was ruled for this event, in the order of the file.
    pub rulings: Vec<Ruling>,
}

/// One limit that an event changes.
#[derive(Clone, Debug)]
pub struct Change {
    /// The id of the rule.
    pub rule: Name,
    /// The row of its table, or the condition of its cap, as it is written there.
    pub row: Option<String>,
    /// The limit in words as the class has it: `at most 9`.
    pub was: String,
    /// The limit in words at the event: `at most 8`.
    pub now: String,
    /// Where the event says so: `notice of race 9.3`.
    pub document: String,
    /// The day of that document.
    pub dated: Date,
    /// Where the change stands in the overlay's text.
    pub span: Span,
}

/// A ruling for one event.
#[derive(Clone, Debug)]
pub struct Ruling {
    /// Its id.
    pub id: Name,
    /// Ids of rules that it is about.
    pub about: Vec<Name>,
    /// Who ruled.
    pub by: String,
    /// How long it counts.
    pub until: RulingUntil,
    /// Its text.
    pub text: String,
}

/// How long a ruling counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RulingUntil {
    /// Until the event is over: whenever the overlay is laid over the rules.
    EndOfEvent,
    /// Until a day, that day included.
    Day(Date),
}

impl Ruling {
    /// Whether it counts on a day.
    pub fn stands(&self, day: Date) -> bool {
        match self.until {
            RulingUntil::EndOfEvent => true,
            RulingUntil::Day(until) => day <= until,
        }
    }

    /// Whether it is about a rule.
    pub fn is_about(&self, rule: &str) -> bool {
        self.about.iter().any(|name| name.text == rule)
    }
}

impl RulesFile {
    /// The text that a span of these rules stands in, and the span within it. The text of an overlay begins
    /// one byte behind the end of the rules' own, so that one pair of numbers serves for both.
    pub fn place(&self, span: Span) -> (&Arc<Source>, Span) {
        match &self.overlay {
            Some(overlay) if span.start >= self.overlay_begins() => {
                let begins = self.overlay_begins();
                let within = Span {
                    start: span.start - begins,
                    end: span.end.saturating_sub(begins),
                };
                (&overlay.source, within)
            }
            Some(_) | None => (&self.source, span),
        }
    }

    /// The number from which on spans are those of an overlay.
    pub(super) fn overlay_begins(&self) -> u32 {
        u32::try_from(self.source.text().len())
            .unwrap_or(u32::MAX)
            .saturating_add(1)
    }

    /// The rulings of the event that count on a day.
    pub fn rulings(&self, day: Date) -> impl Iterator<Item = &Ruling> {
        self.overlay
            .iter()
            .flat_map(|overlay| &overlay.rulings)
            .filter(move |one| one.stands(day))
    }
}
