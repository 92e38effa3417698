//! A record with its verdict, and all that a printer needs to say about it.

use std::borrow::Cow;
use std::sync::Arc;

use jiff::civil::Date;

use crate::check::{ItemRef, Outcome, Verdict};
use crate::diagnostic::safe_line;
use crate::record::Record;
use crate::rules::{RulesFile, Silence, Stage, digest};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::ChoiceId;

use super::labels::Labels;
use super::{record_notes, standing, words};

/// A record, the rules it was checked under, and the verdict.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The record.
    pub record: Record,
    /// The rules.
    pub rules: Arc<RulesFile>,
    /// A later adopted version and its first day, if the library holds one.
    pub later: Option<(semver::Version, Date)>,
    /// What the check was for.
    pub purpose: Stage,
    /// The day of the check.
    pub day: Date,
    /// The level of the event, if one was given.
    pub level: Option<ChoiceId>,
    /// `sha256:` and the digest of the bytes of the record's file; `None` for a line of many, whose digest
    /// is that of the line.
    pub digest: Option<String>,
    /// What was found.
    pub verdict: Verdict,
}

impl Checked {
    /// The digest of the record: of its file, or of its line in a file of many.
    pub fn digest(&self) -> Cow<'_, str> {
        match &self.digest {
            Some(digest) => Cow::Borrowed(digest),
            None => Cow::Owned(digest(
                self.record.source.slice(self.record.span).as_bytes(),
            )),
        }
    }

    /// The decision rule of the purpose.
    pub fn decision_rule(&self) -> DecisionRule {
        *self.rules.decision.rules.at(self.purpose)
    }

    /// The level of the event by name.
    pub fn level_name(&self) -> Option<&str> {
        let names = &self.rules.vocabulary.event_levels;
        names
            .get(self.level?.index())
            .map(|name| name.text.as_str())
    }

    /// Remarks that belong to no single finding: on the rules, on this check, on the names in the record.
    pub fn notes(&self) -> Vec<String> {
        let mut notes = self.rules_notes();
        notes.extend(self.record_notes());
        notes.extend(self.work_notes());
        notes
    }

    /// Remarks on this check and on the names in the record, without those on the rules.
    pub fn record_notes(&self) -> Vec<String> {
        let own = self.own_notes().into_iter();
        own.chain(self.old_names()).collect()
    }

    /// What work did to the parts and their papers.
    pub(super) fn work_notes(&self) -> Vec<String> {
        record_notes::all_work(self)
    }

    /// Remarks on the rules, the same for every record under them on a day.
    pub(super) fn rules_notes(&self) -> Vec<String> {
        standing::rules_notes(&self.rules, self.day)
    }

    /// Names of older versions that the record uses: `an old name: runner.thickness is steel_thickness now`.
    pub(super) fn old_names(&self) -> Option<String> {
        let old_names = &self.record.old_names;
        let named: Vec<String> = old_names
            .iter()
            .map(|name| format!("{} is {} now", name.old, name.new))
            .collect();
        let what = match named.len() {
            0 => return None,
            1 => "an old name",
            _ => "old names",
        };
        Some(format!("{what}: {}", named.join(", ")))
    }

    /// Remarks on this check.
    pub(super) fn own_notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if let Some((version, day)) = &self.later {
            notes.push(words::later_version(&self.rules.version, version, *day));
        }
        if let Some(reason) = self.verdict.reason {
            notes.push(reason.words().to_owned());
        }
        notes.extend(self.unlisted());
        notes.extend(record_notes::later_days(self));
        notes
    }

    /// Parts that open rules don't name: allowed, and noted. Under closed ones each is a finding.
    fn unlisted(&self) -> Vec<String> {
        let permitted = self.rules.silence == Silence::Permits;
        if self.record.unlisted.is_empty() || !permitted {
            return Vec::new();
        }
        let labels = Labels::of(&self.record, &self.rules);
        let all = self.record.unlisted.iter();
        all.map(|part| {
            let item = labels.whole(ItemRef::Item(part.item));
            let words = format!("{} on {item} is not named by the rules", part.what);
            safe_line(&words).into_owned()
        })
        .collect()
    }

    /// How many findings there are of each outcome.
    pub fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        for finding in &self.verdict.findings {
            counts.add(finding.outcome);
        }
        counts
    }
}

/// How many there are of each outcome.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// That conform.
    pub conform: usize,
    /// That do not.
    pub do_not: usize,
    /// That are open.
    pub open: usize,
    /// That do not apply.
    pub not_applicable: usize,
}

impl Counts {
    /// One more of an outcome.
    pub fn add(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::DoesNotConform => self.do_not += 1,
            Outcome::NotDecided => self.open += 1,
            Outcome::Conforms => self.conform += 1,
            Outcome::NotApplicable => self.not_applicable += 1,
        }
    }

    /// All of them.
    pub fn total(&self) -> usize {
        self.conform + self.do_not + self.open + self.not_applicable
    }

    /// The pieces of the line of counts: `38 conform`, `1 does not`, `2 open`, `11 don't apply`.
    pub fn pieces(&self) -> Vec<String> {
        let piece = |count: usize, one: &str, many: &str| match count {
            0 => None,
            1 => Some(format!("1 {one}")),
            count => Some(format!("{count} {many}")),
        };
        let all = [
            piece(self.conform, "conforms", "conform").or_else(|| Some("0 conform".to_owned())),
            piece(self.do_not, "does not", "do not"),
            piece(self.open, "open", "open"),
            piece(self.not_applicable, "doesn't apply", "don't apply"),
        ];
        all.into_iter().flatten().collect()
    }
}
