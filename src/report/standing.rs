//! What stands beside the rules on a day: whether they are in force, what an event changes, how they were
//! interpreted.

use jiff::civil::Date;

use crate::diagnostic::safe_line;
use crate::rules::{RulesFile, Status};

/// An interpretation or ruling that is told beside the findings of a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// `interpretation` of the class, or `ruling` at the event.
    pub kind: &'static str,
    /// Its id.
    pub id: String,
    /// Who ruled; nothing for an interpretation, which is the authority's.
    pub by: Option<String>,
    /// Its text, on one line.
    pub text: String,
}

impl Said {
    /// `see interpretation i_2026_1`, whose text stands with the rules; a ruling has it beside the finding, since
    /// it stands nowhere else: `ruling r1 by jury: …`.
    pub fn short(&self) -> String {
        match self.by {
            Some(_) => self.words(),
            None => format!("see {} {}", self.kind, self.id),
        }
    }

    /// `interpretation i_2026_1: Paint is not steel.`, `ruling r1 by jury: …`; without a full stop at the end.
    pub fn words(&self) -> String {
        let by = self
            .by
            .as_ref()
            .map_or(String::new(), |by| format!(" by {by}"));
        let text = self.text.trim_end_matches('.');
        format!("{} {}{by}: {text}", self.kind, self.id)
    }
}

/// What stands on a day about a rule: interpretations of the class, then rulings at the event.
pub fn said_about(rules: &RulesFile, rule: &str, day: Date) -> Vec<Said> {
    let line = |text: &str| {
        let text: Vec<&str> = text.split_whitespace().collect();
        safe_line(&text.join(" ")).into_owned()
    };
    let interpretations = rules
        .standing(day)
        .filter(|one| one.is_about(rule))
        .map(|one| Said {
            kind: "interpretation",
            id: line(&one.id.text),
            by: None,
            text: line(&one.text),
        });
    let rulings = rules
        .rulings(day)
        .filter(|one| one.is_about(rule))
        .map(|one| Said {
            kind: "ruling",
            id: line(&one.id.text),
            by: Some(line(&one.by)),
            text: line(&one.text),
        });
    interpretations.chain(rulings).collect()
}

/// That rules are not in force on a day, and why; nothing of those that are, or that a later version followed.
pub fn not_in_force(rules: &RulesFile, day: Date) -> Option<String> {
    let version = &rules.version;
    Some(match rules.status {
        Status::Draft => format!("NOT IN FORCE: version {version} is a draft"),
        Status::Proposed => format!("NOT IN FORCE: version {version} is proposed, not adopted"),
        Status::Repealed => match rules.repealed_on {
            Some(ended) => format!("NOT IN FORCE: version {version} was repealed on {ended}"),
            None => format!("NOT IN FORCE: version {version} was repealed"),
        },
        Status::Adopted if rules.in_force_from > day => {
            before_its_day(version, rules.in_force_from, day)
        }
        Status::Adopted => return None,
    })
}

/// That a version does not count yet on a day.
pub(super) fn before_its_day(version: &semver::Version, from: Date, day: Date) -> String {
    format!("NOT IN FORCE on {day}: version {version} counts from {from}")
}

/// What there is to know of the rules whatever the record: that they are not in force, what an event changes.
pub(super) fn rules_notes(rules: &RulesFile, day: Date) -> Vec<String> {
    let mut notes: Vec<String> = not_in_force(rules, day).into_iter().collect();
    if let Some(overlay) = &rules.overlay {
        notes.push(format!(
            "with the overlay of {}, {}",
            overlay.event.text, overlay.digest
        ));
        notes.extend(event_changes(rules));
    }
    notes
}

/// `C.5.1 Marked runners, continental: at most 8 in place of at most 9, by notice of race 9.3 of 2026-10-01`,
/// for each limit that an event changes.
pub fn event_changes(rules: &RulesFile) -> Vec<String> {
    let headings: Vec<_> = rules
        .rules
        .iter()
        .map(|rule| (&rule.id, &rule.clause, &rule.title))
        .chain(
            rules
                .marks
                .iter()
                .map(|mark| (&mark.id, &mark.clause, &mark.title)),
        )
        .collect();
    let changes = rules.overlay.iter().flat_map(|overlay| &overlay.changes);
    changes
        .map(|change| {
            let heading = headings
                .iter()
                .find(|(id, ..)| **id == change.rule)
                .map_or(change.rule.text.clone(), |(_, clause, title)| {
                    format!("{} {title}", clause.text)
                });
            let row = change
                .row
                .as_ref()
                .map_or(String::new(), |row| format!(", {row}"));
            let words = format!(
                "{heading}{row}: {} in place of {}, by {} of {}",
                change.now, change.was, change.document, change.dated
            );
            safe_line(&words).into_owned()
        })
        .collect()
}
