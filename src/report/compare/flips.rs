//! Why a boat comes out otherwise: value, limit and margin of the findings that differ, as the checks found them.

use serde_json::{Value, json};

use super::super::json::{FoundJson, found_json};
use super::super::parts::{Figure, Figures, Fractions};
use super::super::words;
use super::Compared;
use crate::check::{Finding, Outcome};
use crate::diagnostic::safe_line;
use crate::prove::{Flip, FlipSide, FoundIn, Side, Witness};

/// No sentence tells of more findings; programs are told of all.
const MOST_TOLD: usize = 3;

/// What a witness shows, with the findings that differ: `legal under 3.1.0; under 4.0.0 it is not: steel_thickness
/// E.3.2: 4.70 mm on runners/R1 falls short of at least 4.80 mm by 0.10 mm (under 3.1.0: at least 4.70 mm, conforms)`.
pub(in crate::report) fn why(witness: &Witness, compared: &Compared<'_>) -> String {
    let mut all: Vec<String> = Vec::new();
    for flip in &witness.flips {
        let told = sentence(flip, compared);
        if !all.contains(&told) {
            all.push(told);
        }
    }
    if all.is_empty() {
        return witness.why.clone();
    }
    let more = all.len().saturating_sub(MOST_TOLD);
    all.truncate(MOST_TOLD);
    if more > 0 {
        all.push(format!("and {more} more"));
    }
    format!("{}: {}", witness.why, all.join("; "))
}

/// One finding under both versions.
pub(super) fn sentence(flip: &Flip, compared: &Compared<'_>) -> String {
    let better = match flip.worse {
        Side::Old => Side::New,
        Side::New => Side::Old,
    };
    let version = match better {
        Side::Old => &compared.old.version,
        Side::New => &compared.new.version,
    };
    let (head, body, value) = match flip.at(flip.worse) {
        FlipSide::Found(found) => {
            let clause = found.clause.as_ref();
            let clause = clause.map_or(String::new(), |clause| format!(" {clause}"));
            let figures = figures(found);
            let body = worse(found, &figures);
            (format!("{}{clause}", flip.rule), body, figures.value)
        }
        FlipSide::NotAsked | FlipSide::NoRule => (flip.rule.clone(), String::new(), None),
    };
    let there = match flip.at(better) {
        FlipSide::Found(found) => {
            format!("under {version}: {}", other(found, value.as_ref()))
        }
        FlipSide::NotAsked => format!("not asked under {version}"),
        FlipSide::NoRule => format!("no such rule under {version}"),
    };
    safe_line(&format!("{head}: {body} ({there})")).into_owned()
}

/// Value, limit and margin of what was found.
pub(in crate::report) fn figures(found: &FoundIn) -> Figures {
    let told = found.limit_as_written.as_ref();
    let limit = told.filter(|written| written.decimals.is_none()).cloned();
    Figures::of(&found.finding, &Fractions { limit, value: None })
}

/// `4.70 mm on runners/R1 falls short of at least 4.80 mm by 0.10 mm`
fn worse(found: &FoundIn, figures: &Figures) -> String {
    let finding = &found.finding;
    let about = found.about.as_deref().map(words::plain_name);
    let value = figures.value.as_ref().map(|value| match &about {
        Some(about) => format!("{about} {}", value.text()),
        None => value.text(),
    });
    let limit = figures.limit.as_ref().map(Figure::text);
    let mut place = format!("on {}", found.item);
    if let Some(at) = finding.place.as_ref().and_then(words::place) {
        place.push_str(&format!(" {at}"));
    }
    let short = figures.margin.as_ref();
    let beyond = short.and_then(|margin| {
        let verb = match margin.before.as_str() {
            "short by" => "falls short of",
            "over by" => "exceeds",
            "on the limit" => "is not",
            _ => return None,
        };
        let by = Figure::new("", margin.number.clone(), margin.after.clone()).text();
        Some((verb, by))
    });
    match (finding.outcome, value, limit, beyond) {
        (Outcome::DoesNotConform, Some(value), Some(limit), Some((verb, by))) if !by.is_empty() => {
            format!("{value} {place} {verb} {limit} by {by}")
        }
        (Outcome::DoesNotConform, Some(value), Some(limit), Some((verb, _))) => {
            format!("{value} {place} {verb} {limit}")
        }
        (_, Some(value), Some(limit), _) => {
            format!("{value} {place}, {limit}, {}", outcome(finding))
        }
        (_, Some(value), None, _) => format!("{value} {place}, {}", outcome(finding)),
        (_, None, Some(limit), _) => format!("{place}, {limit}, {}", outcome(finding)),
        (_, None, None, _) => format!("{place}, {}", outcome(finding)),
    }
}

/// `at least 4.70 mm, conforms`; the value as well, where it is another one.
fn other(found: &FoundIn, value: Option<&Figure>) -> String {
    let figures = figures(found);
    let own = figures.value.filter(|own| Some(own) != value);
    let parts = [own, figures.limit].into_iter().flatten();
    let mut parts: Vec<String> = parts.map(|one| one.text()).collect();
    parts.push(outcome(&found.finding));
    parts.join(", ")
}

/// The outcome in words, with its reason.
pub(in crate::report) fn outcome(finding: &Finding) -> String {
    match finding.reason {
        Some(reason) => format!("{}: {}", finding.outcome.words(), reason.words()),
        None => finding.outcome.words().to_owned(),
    }
}

/// All findings that differ, for programs.
pub(super) fn flips_json(witness: &Witness, compared: &Compared<'_>) -> Vec<Value> {
    let each = witness.flips.iter().map(|flip| {
        json!({
            "rule": flip.rule,
            "old": side_json(&flip.old),
            "new": side_json(&flip.new),
            "says": sentence(flip, compared),
        })
    });
    each.collect()
}

fn side_json(side: &FlipSide) -> Value {
    match side {
        FlipSide::Found(found) => {
            let told = found_json(&found.finding, figures(found).limit_as_written);
            let FoundJson {
                value,
                limit,
                margin,
                place,
            } = told;
            json!({
                "asked": true,
                "clause": found.clause,
                "item": found.item,
                "outcome": found.finding.outcome.word(),
                "reason": found.finding.reason.map(crate::check::Reason::word),
                "value": value,
                "limit": limit,
                "margin": margin,
                "place": place,
            })
        }
        FlipSide::NotAsked => json!({ "asked": false }),
        FlipSide::NoRule => json!({ "asked": false, "no_rule": true }),
    }
}
