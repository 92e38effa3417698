//! The head of a rules file: class, version, day, authority, who carries the doubt.

use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::quantity::{Date, Dimension, Exact, Unit};
use crate::text::{Entry, Span, quoted};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::{Name, read};

pub(super) fn decision(entry: &Entry<'_>, faults: &mut Faults) -> Option<DecisionPolicy> {
    let mut fields = Fields::of(&entry.node, "decision", Some(entry.key_span), faults)?;
    let coverage = fields
        .require("coverage_probability", faults)
        .and_then(|entry| {
            let quantity = read::quantity(
                &entry.node,
                Some(entry.key_span),
                "coverage_probability",
                Dimension::RATIO,
                faults,
            )?;
            let least = Exact::from_fraction(1, 2)?;
            let most = Exact::from_fraction(9999, 10_000)?;
            let good = quantity.value >= least && quantity.value <= most;
            if !good {
                // A share of the hundred is most likely meant where the sign is missing.
                let hundredth = Exact::from_fraction(1, 100)?;
                let share = quantity.value.mul(&hundredth);
                let help = if quantity.unit == Unit::PLAIN && share >= least && share <= most {
                    format!("write `{quantity} %`")
                } else {
                    "95 % is usual".to_owned()
                };
                faults.fault(
                    "decision.coverage",
                    entry.node.span,
                    format!(
                        "a coverage probability lies from 50 % to 99.99 %; {} was read",
                        quoted(entry.node.as_text().unwrap_or(""))
                    ),
                    "",
                    help,
                );
            }
            good.then_some(quantity.value)
        });
    let guard = match fields.take("guard_factor", faults) {
        None => Some(Exact::ONE),
        Some(entry) => read::quantity(
            &entry.node,
            Some(entry.key_span),
            "guard_factor",
            Dimension::RATIO,
            faults,
        )
        .and_then(|quantity| {
            let good = quantity.value >= Exact::ZERO && quantity.value <= Exact::from_integer(10);
            if !good {
                faults.fault(
                    "decision.guard",
                    entry.node.span,
                    "a guard factor lies from 0 to 10",
                    "",
                    "1 guards by the whole expanded uncertainty",
                );
            }
            good.then_some(quantity.value)
        }),
    };
    let mut rule = |key: &'static str, faults: &mut Faults| {
        let (text, node) = fields.require_text(key, faults)?;
        let words = [
            ("simple_acceptance", DecisionRule::SimpleAcceptance),
            ("guarded_acceptance", DecisionRule::GuardedAcceptance),
            ("guarded_rejection", DecisionRule::GuardedRejection),
        ];
        read::one_of(
            text,
            node.span,
            "a decision rule",
            words.into_iter(),
            faults,
        )
    };
    let self_check = rule("self_check", faults);
    let certification = rule("certification", faults);
    let event_inspection = rule("event_inspection", faults);
    fields.finish(faults);
    Some(DecisionPolicy {
        coverage_probability: coverage?,
        guard_factor: guard?,
        rules: ByStage {
            self_check: self_check?,
            certification: certification?,
            event_inspection: event_inspection?,
        },
    })
}

pub(super) fn read_version(text: &str, span: Span, faults: &mut Faults) -> Option<semver::Version> {
    match semver::Version::parse(text) {
        Ok(version) => Some(version),
        Err(_) => {
            let parts: Vec<&str> = text.split('.').collect();
            let numeric = parts
                .iter()
                .all(|part| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit()));
            let help = match (numeric, parts.as_slice()) {
                (true, [major, minor]) => format!("write {major}.{minor}.0"),
                (true, [major]) => format!("write {major}.0.0"),
                _ => "a version is three numbers: 3.1.0".to_owned(),
            };
            faults.fault(
                "rules.version",
                span,
                format!("{} is not a version", quoted(text)),
                "three numbers are needed",
                help,
            );
            None
        }
    }
}

/// Reads the `class` of a file.
pub fn class(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Name> {
    let (text, node) = fields.require_text("class", faults)?;
    let letter = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
    let good = !text.is_empty() && text.len() <= 64 && text.bytes().all(letter);
    if !good {
        faults.fault(
            "name.form",
            node.span,
            format!("{} can't name a class", quoted(text)),
            "",
            "a class is written with small letters, digits and -",
        );
    }
    good.then(|| Name {
        text: text.to_owned(),
        span: node.span,
    })
}

pub(super) fn head(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Head> {
    let class = class(fields, faults);
    let title = fields.require_text("title", faults);
    let version = fields
        .require_text("version", faults)
        .and_then(|(text, node)| {
            read_version(text, node.span, faults).map(|found| (found, node.span))
        });
    let status = fields
        .require_text("status", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "a status of rules",
                Status::WORDS.into_iter(),
                faults,
            )
        });
    let replaces = fields
        .take_text("replaces", faults)
        .and_then(|(text, node)| read_version(text, node.span, faults));
    let in_force_from = fields
        .require("in_force_from", faults)
        .and_then(|entry| read::day(&entry.node, Some(entry.key_span), "in_force_from", faults));
    let repealed = fields.take("repealed_on", faults);
    let repealed_on = repealed
        .and_then(|entry| read::day(&entry.node, Some(entry.key_span), "repealed_on", faults));
    if let (Some(entry), Some(status)) = (repealed, status)
        && status != Status::Repealed
    {
        faults.fault(
            "rules.status",
            entry.key_span,
            format!("a day of repeal stands beside `status: {}`", status.word()),
            "only repealed rules have one",
            "write `status: repealed`, or take the day out",
        );
    }
    if let (Some(entry), Some(ended), Some(from)) = (repealed, repealed_on, in_force_from)
        && ended < from
    {
        faults.fault(
            "rules.day_order",
            entry.node.span,
            format!("repealed on {ended}, before these rules were in force, on {from}"),
            "",
            "mend one of the two days",
        );
    }
    let authority = fields.require_text("authority", faults);
    let silence = fields
        .require_text("silence", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "what silence can mean",
                [("forbids", Silence::Forbids), ("permits", Silence::Permits)].into_iter(),
                faults,
            )
        });
    let decision = fields
        .require("decision", faults)
        .and_then(|entry| decision(entry, faults));
    let (version, version_span) = version?;
    if let Some(replaces) = &replaces
        && *replaces >= version
    {
        faults.fault(
            "rules.replaces",
            version_span,
            format!("version {version} does not come after {replaces}, which it replaces"),
            "",
            "give this version a higher number, or name an older one under `replaces`",
        );
    }
    Some(Head {
        class: class?,
        title: title?.0.to_owned(),
        version,
        version_span,
        status: status?,
        replaces,
        in_force_from: in_force_from?,
        repealed_on,
        authority: authority?.0.to_owned(),
        silence: silence?,
        decision: decision?,
    })
}

pub(super) struct Head {
    pub(super) class: Name,
    pub(super) title: String,
    pub(super) version: semver::Version,
    pub(super) version_span: Span,
    pub(super) status: Status,
    pub(super) replaces: Option<semver::Version>,
    pub(super) in_force_from: Date,
    pub(super) repealed_on: Option<Date>,
    pub(super) authority: String,
    pub(super) silence: Silence,
    pub(super) decision: DecisionPolicy,
}
