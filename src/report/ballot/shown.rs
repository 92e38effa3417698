//! Boats that show what a change does: for each side the values, the limits and the outcomes under both versions.
//!
//! A boat that is left open is not called legal, and none that is open already is called illegal.

use super::super::compare::{Compared, figures, outcome};
use super::super::words::{self, at_stage, capital, plain_name};
use super::clauses::heading;
use super::{Part, Side};
use crate::check::Outcome;
use crate::prove::{Answer, Direction, Flip, FlipSide, FoundIn, Witness};
use crate::rules::RulesFile;

/// Findings of one boat that are told; the rest is counted.
const MOST: usize = 4;

/// Both sides, each with one boat where there is one.
pub(super) fn boats(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    let comparison = compared.comparison;
    let both = [&comparison.becomes_illegal, &comparison.becomes_legal];
    let found: Vec<&Witness> = both.into_iter().filter_map(strongest).collect();
    if found.is_empty() {
        return;
    }
    parts.push(Part::Heading(
        match found.len() {
            1 => "A boat that shows it",
            _ => "Boats that show it",
        }
        .to_owned(),
    ));
    for one in found {
        boat(compared, one, parts);
    }
}

/// What is required comes before what evidence is asked.
fn strongest(direction: &Direction) -> Option<&Witness> {
    [&direction.requirement, &direction.evidence]
        .into_iter()
        .find_map(|answer| match answer {
            Answer::Witness(all) => all.first(),
            Answer::ProvedNone | Answer::Undecided(_) => None,
        })
}

/// What becomes of a boat, as what it is.
fn what(witness: &Witness) -> &'static str {
    use Outcome::{Conforms, DoesNotConform, NotApplicable, NotDecided};
    match (witness.old_outcome, witness.new_outcome) {
        (Conforms | NotApplicable, DoesNotConform) => "A legal boat that becomes illegal",
        (Conforms | NotApplicable, NotDecided) => "A legal boat that would be left open",
        (DoesNotConform, Conforms | NotApplicable) => "An illegal boat that becomes legal",
        (DoesNotConform, NotDecided) => {
            "An illegal boat that would be left open, and so does not become legal"
        }
        (NotDecided, Conforms | NotApplicable) => "A boat that is open now and would be legal",
        (NotDecided, DoesNotConform) => "A boat that is open now and would be illegal",
        (Conforms | NotApplicable, Conforms | NotApplicable)
        | (DoesNotConform, DoesNotConform)
        | (NotDecided, NotDecided) => "A boat of which a rule says something else",
    }
}

fn boat(compared: &Compared<'_>, witness: &Witness, parts: &mut Vec<Part>) {
    parts.push(Part::Clause(what(witness).to_owned()));
    let level = match &witness.level {
        Some(level) => format!(", event level {level}"),
        None => String::new(),
    };
    parts.push(Part::Lead(format!(
        "A boat that was made up, and checked under both versions at {} on {}{level}.",
        at_stage(witness.stage),
        witness.day
    )));
    let mut sides: Vec<Side> = Vec::new();
    for flip in &witness.flips {
        let one = finding(compared, flip);
        if !sides.contains(&one) {
            sides.push(one);
        }
    }
    let more = sides.len().saturating_sub(MOST);
    sides.truncate(MOST);
    sides.push(Side::plain(
        "The whole boat".to_owned(),
        &capital(whole(witness.old_outcome)),
        &capital(whole(witness.new_outcome)),
    ));
    parts.push(Part::Sides(sides));
    let lead = "What differs from a legal boat, as lines of its record:";
    parts.push(Part::Lead(match more {
        0 => lead.to_owned(),
        1 => format!("One more finding differs. {lead}"),
        many => format!("{many} more findings differ. {lead}"),
    }));
    parts.push(Part::Copy(witness.fragment.clone()));
}

/// A boat of which nothing is asked conforms.
fn whole(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::NotApplicable => Outcome::Conforms.words(),
        Outcome::Conforms | Outcome::DoesNotConform | Outcome::NotDecided => outcome.words(),
    }
}

/// What a rule finds of an item under both versions.
pub(super) fn finding(compared: &Compared<'_>, flip: &Flip) -> Side {
    let found = |side: &'_ FlipSide| match side {
        FlipSide::Found(found) => Some(found.clone()),
        FlipSide::NotAsked | FlipSide::NoRule => None,
    };
    let mut what = match flip.rule.as_str() {
        // What it is about stands above it.
        "silence" | "equipment" => "What no rule says".to_owned(),
        rule => heading(compared, rule),
    };
    if let Some(one) = found(&flip.new).or_else(|| found(&flip.old)) {
        let item = item(compared.new, &one);
        // A title that names the only part of its kind says it already.
        if !what.ends_with(&format!(" {item}")) {
            what.push_str(&format!(", {item}"));
        }
    }
    Side::plain(what, &told(&flip.old), &told(&flip.new))
}

/// `Value 4.70 mm. Limit: at least 4.80 mm. Does not conform, short by 0.10 mm.`
fn told(side: &FlipSide) -> String {
    let found = match side {
        FlipSide::Found(found) => found,
        FlipSide::NotAsked => return "Not asked of it.".to_owned(),
        FlipSide::NoRule => return "There is no such rule.".to_owned(),
    };
    let figures = figures(found);
    let mut said = Vec::new();
    if let Some(value) = &figures.value {
        said.push(format!("Value: {}.", value.text()));
    }
    if let Some(limit) = &figures.limit {
        said.push(format!("Limit: {}.", limit.text()));
    }
    let beyond = match found.finding.outcome {
        Outcome::DoesNotConform => figures.margin,
        Outcome::Conforms | Outcome::NotDecided | Outcome::NotApplicable => None,
    };
    let beyond = beyond.map_or_else(String::new, |margin| format!(", {}", margin.text()));
    said.push(format!("{}{beyond}.", capital(&outcome(&found.finding))));
    said.join(" ")
}

/// `runner R1 at 0 mm`
fn item(rules: &RulesFile, found: &FoundIn) -> String {
    let (list, id) = match found.item.split_once('/') {
        Some((list, id)) => (list, format!(" {id}")),
        None => (found.item.as_str(), String::new()),
    };
    let holding = rules.vocabulary.holding_named(list);
    let holding = holding.and_then(|id| rules.vocabulary.holding(id));
    let part = holding.and_then(|one| rules.vocabulary.part(one.part));
    // A list of several is told by the kind of its parts, one of a kind by its own name.
    let name = match part {
        Some(part) if !id.is_empty() => plain_name(&part.name.text),
        Some(_) | None => plain_name(list),
    };
    let about = found.about.as_deref().map(plain_name);
    let about = about.map_or_else(String::new, |about| format!("{about} of "));
    let place = found.finding.place.as_ref().and_then(words::place);
    let place = place.map_or_else(String::new, |place| format!(" {place}"));
    format!("{about}{name}{id}{place}")
}
