//! The versions of a library: for people, in sentences, as JSON.

use std::fmt::Write;
use std::sync::Arc;

use jiff::civil::Date;
use serde_json::{Value, json};

use crate::diagnostic::safe_line;
use crate::quantity::add_days;
use crate::rules::{RulesFile, Status};

use super::layout::{flow, pad, width_of};

/// The days on which a version is in force: the first, and the last if another one follows.
pub type InForce = Option<(Date, Option<Date>)>;

/// When each version is in force. The latest `in_force_from` counts, on equal days the higher version; a
/// version that is not adopted, or gives way on its first day, never is.
pub fn in_force(versions: &[Arc<RulesFile>]) -> Vec<InForce> {
    let adopted = |rules: &RulesFile| rules.status == Status::Adopted;
    let of = |rules: &Arc<RulesFile>| {
        let from = rules.in_force_from;
        let others = || {
            versions.iter().filter(|other| {
                adopted(other) && other.class == rules.class && other.digest != rules.digest
            })
        };
        let gives_way =
            others().any(|other| other.in_force_from == from && other.version > rules.version);
        let next = others()
            .map(|other| other.in_force_from)
            .filter(|other| *other > from)
            .min();
        (adopted(rules) && !gives_way).then(|| (from, next.and_then(|next| add_days(next, -1))))
    };
    versions.iter().map(of).collect()
}

/// The word of a status in files and JSON.
pub(super) fn status(status: Status) -> &'static str {
    status.word()
}

/// A list for people; the version that is in force on a day is marked.
pub fn list(versions: &[Arc<RulesFile>], on: Option<Date>, width: usize) -> String {
    let days = in_force(versions);
    let widest = versions
        .iter()
        .map(|rules| width_of(&rules.version.to_string()))
        .max()
        .unwrap_or(0);
    let mut text = String::new();
    let mut last: Option<&str> = None;
    for (rules, days) in versions.iter().zip(&days) {
        if last != Some(rules.class.text.as_str()) {
            if last.is_some() {
                text.push('\n');
            }
            last = Some(&rules.class.text);
            // Writing to a string does not fail.
            let _ = writeln!(text, "{}  {}", rules.class.text, safe_line(&rules.title));
        }
        let version = pad(&rules.version.to_string(), widest);
        let status = pad(status(rules.status), 8);
        let lead = 2 + widest + 2 + 8 + 2;
        let pieces = [said(rules, days), marked(days, on)];
        for (at, line) in flow(&pieces, " · ", width.saturating_sub(lead))
            .into_iter()
            .enumerate()
        {
            let before = if at == 0 {
                format!("  {version}  {status}  ")
            } else {
                pad("", lead)
            };
            let _ = writeln!(text, "{before}{line}");
        }
    }
    text
}

/// A list in sentences.
pub fn list_plain(versions: &[Arc<RulesFile>], on: Option<Date>) -> String {
    let mut text = String::new();
    for (rules, days) in versions.iter().zip(&in_force(versions)) {
        let marked = marked(days, on);
        let marked = if marked.is_empty() {
            marked
        } else {
            format!(", {marked}")
        };
        // Writing to a string does not fail.
        let _ = writeln!(
            text,
            "{} {}, {}@{}: {}, {}{marked}.",
            safe_line(&rules.title),
            rules.version,
            rules.class.text,
            rules.version,
            status(rules.status),
            said(rules, days)
        );
    }
    text
}

/// A list for programs: `rimegauge-rules-list/1`.
pub fn list_json(versions: &[Arc<RulesFile>], on: Option<Date>) -> Value {
    let days = in_force(versions);
    let all: Vec<Value> = versions
        .iter()
        .zip(&days)
        .map(|(rules, days)| {
            json!({
                "class": rules.class.text,
                "title": rules.title,
                "version": rules.version.to_string(),
                "status": status(rules.status),
                "in_force_from": rules.in_force_from.to_string(),
                "in_force_to": days.and_then(|(_, to)| to).map(|to| to.to_string()),
                "repealed_on": rules.repealed_on.map(|day| day.to_string()),
                "in_force_on_day": on.map(|day| holds(days, day)),
                "replaces": rules.replaces.as_ref().map(ToString::to_string),
                "digest": rules.digest,
                "file": rules.source.name(),
                "rules": rules.rules.len() + rules.marks.len(),
            })
        })
        .collect();
    json!({ "format": "rimegauge-rules-list/1", "on": on.map(|day| day.to_string()), "versions": all })
}

fn holds(days: &InForce, day: Date) -> bool {
    days.is_some_and(|(from, to)| from <= day && to.is_none_or(|to| day <= to))
}

fn said(rules: &RulesFile, days: &InForce) -> String {
    match (days, rules.status) {
        (None, Status::Draft | Status::Proposed) => "not in force".to_owned(),
        (None, Status::Repealed) => match rules.repealed_on {
            Some(ended) => format!("not in force since {ended}"),
            None => "no longer in force".to_owned(),
        },
        (None, Status::Adopted) => "never in force".to_owned(),
        (Some((from, None)), _) => format!("in force from {from}"),
        (Some((from, Some(to))), _) => format!("in force {from} to {to}"),
    }
}

fn marked(days: &InForce, on: Option<Date>) -> String {
    match on {
        Some(day) if holds(days, day) => format!("counts on {day}"),
        Some(_) | None => String::new(),
    }
}
