//! Cases without a distance to a limit: what was read, what the new version accepts, and why.

use serde_json::{Value, json};

use super::super::parts::{Figure, Figures, Fractions};
use super::Fleet;
use super::names::Names;
use crate::check::{Finding, FoundLimit};
use crate::fleet::impact::{OtherCase, RuleImpact};

/// Items that become open that are told of a rule; JSON has more.
const MOST_OPEN: usize = 3;

/// What was read of an item.
fn read(figures: &Figures) -> Option<String> {
    figures.value.as_ref().map(Figure::text)
}

/// What the new version accepts.
fn accepted(finding: &Finding, figures: &Figures) -> Option<String> {
    let limit = figures.limit.as_ref()?.text();
    Some(match &finding.limit {
        Some(FoundLimit::Option(_)) => format!("the nearest that is listed is {limit}"),
        Some(FoundLimit::Bound { .. }) => format!("{limit} asked"),
        Some(FoundLimit::Equals(_) | FoundLimit::Only(_) | FoundLimit::Without(_)) | None => limit,
    })
}

/// A case in a sentence.
pub(super) fn case(
    fleet: &Fleet<'_>,
    names: &Names,
    rule: &RuleImpact,
    case: &OtherCase,
) -> String {
    let finding = &case.finding;
    let figures = Figures::of(finding, &Fractions::default());
    let said: Vec<String> = [
        read(&figures),
        accepted(finding, &figures),
        figures.margin.as_ref().map(Figure::text),
        finding.reason.map(|reason| reason.words().to_owned()),
    ]
    .into_iter()
    .flatten()
    .collect();
    let said = match said.is_empty() {
        true => finding.outcome.words().to_owned(),
        false => said.join(", "),
    };
    let place = match names.shown() {
        true => format!(", {}:{}", case.at.0, case.at.1),
        false => String::new(),
    };
    format!(
        "{}: {said}; under {}: {}; measured on {}{place}",
        names.both((&case.sail_number, &case.item), &rule.part),
        fleet.old,
        case.before.words(),
        case.day
    )
}

/// The lists of a rule, each with what stands before it.
pub(super) fn lists(rule: &RuleImpact) -> Vec<(&'static str, &[OtherCase])> {
    let others = match rule.others.len() {
        1 => "One that conformed or was open, and would not conform:",
        _ => "Some that conformed or were open, and would not conform, the first in the files:",
    };
    let opened = match rule.opened.len() {
        1 => "One that conformed, and would be open:",
        _ => "Some that conformed, and would be open, the first in the files:",
    };
    // What is open is counted by reason: a few show what that means.
    let few = rule.opened.get(..MOST_OPEN).unwrap_or(&rule.opened);
    let all = [(others, &rule.others[..]), (opened, few)];
    let filled = |(_, list): &(&'static str, &[OtherCase])| !list.is_empty();
    all.into_iter().filter(filled).collect()
}

/// A case for programs.
pub(super) fn json(names: &Names, rule: &RuleImpact, case: &OtherCase) -> Value {
    let finding = &case.finding;
    let figures = Figures::of(finding, &Fractions::default());
    let at = names
        .shown()
        .then(|| json!({ "file": case.at.0, "line": case.at.1 }));
    json!({
        "boat": names.boat(&case.sail_number),
        "item": names.item_of((&case.sail_number, &case.item), &rule.part),
        "source_at": at,
        "day": case.day.to_string(),
        "before": case.before.word(),
        "now": finding.outcome.word(),
        "reason": finding.reason.map(|reason| reason.word()),
        "read": read(&figures),
        "accepted": accepted(finding, &figures),
    })
}
