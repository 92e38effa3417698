//! A written record, checked as every record is.

use crate::check::cases::id_of;
use crate::check::{Context, Finding, ItemRef, Outcome, Plan, Reason, RuleRef};
use crate::diagnostic::Diagnostic;
use crate::quantity::Date;
use crate::record::{self, Record};
use crate::rules::{RulesFile, Stage};
use crate::text::{decode, parse_yaml};
use crate::vocabulary::ChoiceId;

/// What a check says of a record.
#[derive(Clone, Debug)]
pub struct Replayed {
    /// The worst outcome of all findings; what does not apply conforms, and so does a record of which nothing is asked.
    pub outcome: Outcome,
    /// All findings.
    pub findings: Vec<Said>,
}

/// A finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// The id of the rule.
    pub rule: String,
    /// Which rule.
    pub of: RuleRef,
    /// Which item.
    pub item: ItemRef,
    /// What comes of it.
    pub outcome: Outcome,
    /// Why.
    pub reason: Option<Reason>,
}

impl Replayed {
    /// What findings come to.
    pub(super) fn of(
        rules: &RulesFile,
        found: impl Iterator<Item = (RuleRef, ItemRef, Outcome, Option<Reason>)>,
    ) -> Replayed {
        let findings: Vec<Said> = found
            .map(|(of, item, outcome, reason)| Said {
                rule: id_of(rules, of).to_owned(),
                of,
                item,
                outcome,
                reason,
            })
            .collect();
        let worst = findings.iter().map(|one| match one.outcome {
            Outcome::NotApplicable => Outcome::Conforms,
            other => other,
        });
        Replayed {
            outcome: worst.min().unwrap_or(Outcome::Conforms),
            findings,
        }
    }

    /// Whether the boat is legal.
    pub fn is_legal(&self) -> bool {
        self.outcome == Outcome::Conforms
    }

    /// The ids of the rules that the boat is not legal by, each once, worst outcomes first.
    pub fn against(&self) -> Vec<&str> {
        let mut ids: Vec<&str> = Vec::new();
        for outcome in [Outcome::DoesNotConform, Outcome::NotDecided] {
            for said in self.findings.iter().filter(|one| one.outcome == outcome) {
                if !ids.contains(&said.rule.as_str()) {
                    ids.push(&said.rule);
                }
            }
        }
        ids
    }

    /// The worst outcome of one rule with its reason; `None` where it is not asked.
    pub fn of_rule(&self, id: &str) -> Option<(Outcome, Option<Reason>)> {
        let own = self.findings.iter().filter(|one| one.rule == id);
        let worst = own.min_by_key(|one| one.outcome)?;
        Some((worst.outcome, worst.reason))
    }
}

/// Checks the text of a record as a record of a version.
///
/// # Errors
/// What is wrong with the text.
pub fn replay(
    text: &str,
    plan: &Plan,
    when: (Stage, Option<ChoiceId>, Date),
) -> Result<Replayed, Vec<Diagnostic>> {
    let (record, context) = loaded(text, plan, when)?;
    let mut found = Vec::new();
    plan.outcomes(&record, &context, &mut found);
    let each = found
        .into_iter()
        .map(|one| (one.rule, one.item, one.outcome, one.reason));
    Ok(Replayed::of(plan.rules(), each))
}

/// The same with the record and all that a report says of it.
///
/// # Errors
/// What is wrong with the text.
pub fn checked(
    text: &str,
    plan: &Plan,
    when: (Stage, Option<ChoiceId>, Date),
) -> Result<(Record, Vec<Finding>), Vec<Diagnostic>> {
    let (record, context) = loaded(text, plan, when)?;
    let findings = plan.check(&record, &context).findings;
    Ok((record, findings))
}

fn loaded(
    text: &str,
    plan: &Plan,
    (stage, level, day): (Stage, Option<ChoiceId>, Date),
) -> Result<(Record, Context), Vec<Diagnostic>> {
    let name = "witness.yaml";
    let source = decode(name, text.as_bytes())
        .map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = parse_yaml(&source).map_err(|found| Diagnostic::from_problems(found, &source))?;
    let record = record::load(&source, &node, &plan.rules().vocabulary)?;
    let context = Context {
        purpose: stage,
        day,
        level,
    };
    Ok((record, context))
}
