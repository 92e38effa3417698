//! Words of a finding that are not its numbers, in one place, so that they can be read as a whole.

use jiff::civil::Date;

use crate::check::{Finding, FoundPlace, RuleRef, Settle};
use crate::quantity::{Exact, Unit, show};
use crate::record::Face;
use crate::rules::{Caution, Effect, MarkRule, RulesFile, Stage};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::PartId;

use super::figure;

/// A declared name as words: `steel_thickness` is `steel thickness`.
pub fn plain_name(name: &str) -> String {
    name.replace('_', " ")
}

/// A version of the class rules as a reference: `tarn-8@3.1.0`.
pub fn reference(rules: &RulesFile) -> String {
    format!("{}@{}", rules.class.text, rules.version)
}

/// `checked under 3.0.0; 3.1.0 is in force from 2026-11-01: --on 2026-11-01`.
pub fn later_version(used: &semver::Version, later: &semver::Version, from: Date) -> String {
    format!("checked under {used}; {later} is in force from {from}: --on {from}")
}

/// The word of a decision rule in files and JSON.
pub fn decision_word(rule: DecisionRule) -> &'static str {
    match rule {
        DecisionRule::SimpleAcceptance => "simple_acceptance",
        DecisionRule::GuardedAcceptance => "guarded_acceptance",
        DecisionRule::GuardedRejection => "guarded_rejection",
    }
}

/// A decision rule in sentences for people; `guard` is the guard factor as text. Source: JCGM 106:2012,
/// clause 8.
pub fn decision_sentence(rule: DecisionRule, guard: &str) -> String {
    let band = match guard {
        "1" => "its expanded uncertainty U".to_owned(),
        other => format!("{other} times its expanded uncertainty U"),
    };
    match rule {
        DecisionRule::SimpleAcceptance => {
            "Simple acceptance: the value alone decides; a value on the limit belongs to the permitted range.".to_owned()
        }
        DecisionRule::GuardedAcceptance => format!(
            "Guarded acceptance: an item conforms where its value lies inside the limit by at least {band}; it does not conform where the value lies beyond the limit by more; between the two it is not decided."
        ),
        DecisionRule::GuardedRejection => format!(
            "Guarded rejection: an item does not conform only where its value lies beyond the limit by more than {band}; otherwise it conforms, and a value beyond the limit is marked."
        ),
    }
}

/// A caution in a few words, for the end of a report.
pub fn caution(caution: Caution) -> &'static str {
    match caution {
        Caution::Edges => "Edges are sharp: guards on.",
        Caution::Grinding => "Grinding: eyes, ears and lungs protected.",
        Caution::HardenedSteel => "Hardened steel can break: face shield on.",
        Caution::Ice => "This says nothing about ice or weather.",
        Caution::ComplianceIsNotSafety => "This says nothing about safety.",
    }
}

/// A face in words.
pub(super) fn face(face: Face) -> &'static str {
    match face {
        Face::Port => "port",
        Face::Starboard => "starboard",
    }
}

/// A position or distance in base units as text in the unit it was written in.
pub(super) fn distance(distance: &Exact, unit: Option<Unit>) -> String {
    let unit = unit.unwrap_or(Unit::MM);
    let (number, _) = show::number(distance, unit, None);
    show::with_unit(&number, unit)
}

/// `at -300 mm, port face, 12 mm from the edge`; nothing for a value without a place.
pub(super) fn place(place: &FoundPlace) -> Option<String> {
    let at = place
        .at
        .as_ref()
        .map(|at| format!("at {}", distance(at, place.unit)));
    let face = place.face.map(|side| format!("{} face", face(side)));
    let edge = place
        .from_edge
        .as_ref()
        .map(|edge| format!("{} from the edge", distance(edge, place.unit)));
    let parts: Vec<String> = [at, face, edge].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// What would settle an open finding, as advice: `U of 0.4 deg or less would decide`.
pub(super) fn settle(
    finding: &Finding,
    settle: &Settle,
    part: Option<PartId>,
    rules: &RulesFile,
) -> String {
    let more = |count: u32, what: &str| {
        let s = if count == 1 { "" } else { "s" };
        format!("{count} more {what}{s}")
    };
    match settle {
        Settle::SmallerUncertainty { at_most, unit } => {
            let Some(number) = figure::enough_uncertainty(*at_most, *unit) else {
                return "no uncertainty would decide".to_owned();
            };
            let quantity = show::with_unit(&number, *unit);
            // On the far side of a limit, U has to be smaller than the margin, not equal to it.
            let beyond = finding
                .margin
                .as_ref()
                .and_then(crate::quantity::Number::signum)
                == Some(-1);
            if beyond {
                format!("U below {quantity} would decide")
            } else {
                format!("U of {quantity} or less would decide")
            }
        }
        Settle::Measure(name) => match (finding.rule, question(name, part, rules)) {
            (RuleRef::Equipment(_) | RuleRef::Bring(..), _) => {
                format!("add {} to the record", plain_name(name))
            }
            (_, Some(ask)) => format!("look and answer: {ask}"),
            (_, None) => format!("measure {}", plain_name(name)),
        },
        Settle::Fill(role) => format!("say which part is {}", plain_name(role)),
        Settle::MorePlaces(count) => format!("measure at {}", more(*count, "place")),
        Settle::CloserPlaces => match spacing(finding, rules) {
            Some(gap) => {
                format!("measure at places no further apart than {gap}, and that near to each end")
            }
            None => "measure at places nearer to each other".to_owned(),
        },
        Settle::MoreRepeats(count) => format!("take {} at each place", more(*count, "reading")),
        Settle::StatePlace => "state where the place is and how far from the edge".to_owned(),
        Settle::Declare(name) => format!("declare {}", plain_name(name)),
        Settle::ShowProof(name) => format!("show the proof of the date in {}", plain_name(name)),
        Settle::MeasureAgain(why)
            if finding.reason.is_some_and(|reason| reason.words() == *why) =>
        {
            "measure again".to_owned()
        }
        Settle::MeasureAgain(why) => format!("measure again {why}"),
        Settle::Confirm => "a named person confirms the reading or takes another".to_owned(),
        Settle::Look => "a named person looks and answers".to_owned(),
        Settle::NameInstrument => "name the instrument".to_owned(),
        Settle::StateUncertainty => "state the errors of the instrument".to_owned(),
        Settle::GiveLevel => {
            let levels: Vec<&str> = rules
                .vocabulary
                .event_levels
                .iter()
                .map(|level| level.text.as_str())
                .collect();
            format!("give the level of the event: --level {}", either(&levels))
        }
        Settle::ReachFurther => "a reading that reaches further".to_owned(),
        Settle::Authority => "the class authority says whether it is allowed".to_owned(),
        Settle::BothFlanks => "read both flanks against one bar".to_owned(),
        Settle::AsAsked => "measure again as the class asks".to_owned(),
        Settle::NamePaper => "name the paper that says it".to_owned(),
    }
}

/// The question of a measure that is a look.
fn question<'r>(name: &str, part: Option<PartId>, rules: &'r RulesFile) -> Option<&'r str> {
    let part = rules.vocabulary.part(part?)?;
    let measure = part.measures.get(part.measure_named(name)?.index())?;
    measure.ask.as_deref()
}

fn spacing(finding: &Finding, rules: &RulesFile) -> Option<String> {
    match finding.rule {
        RuleRef::Rule(at) => {
            let spacing = rules.rule(at)?.places.as_ref()?.spacing.as_ref()?;
            Some(spacing.at_most.as_written())
        }
        RuleRef::Marks(..)
        | RuleRef::Pairs(_)
        | RuleRef::Bring(..)
        | RuleRef::Equipment(_)
        | RuleRef::Role(..)
        | RuleRef::Silence(_)
        | RuleRef::Unlisted(_) => None,
    }
}

/// That marked items come in pairs: `in pairs of one construction`.
pub(super) fn pairs(marks: &MarkRule, rules: &RulesFile) -> String {
    let part = rules.vocabulary.holding(marks.item);
    let part = part.and_then(|holding| rules.vocabulary.part(holding.part));
    let alike = marks.pairs.iter().flat_map(|pairs| &pairs.alike);
    let names = alike.filter_map(|(id, _)| Some(&part?.traits.get(id.index())?.name.text));
    let names: Vec<String> = names.map(|name| plain_name(name)).collect();
    format!("in pairs of one {}", names.join(" and "))
}

/// What a boat must bring: `at least 1 of sets`.
pub(super) fn bring(marks: &MarkRule, entry: usize, rules: &RulesFile) -> String {
    let Some(bring) = marks.bring.get(entry) else {
        return "what to bring".to_owned();
    };
    let holding = rules.vocabulary.holding(bring.holding);
    let key = holding.map_or("parts", |holding| holding.key.text.as_str());
    format!("at least {} of {}", bring.at_least, plain_name(key))
}

/// `club, regional or continental`.
pub(super) fn either(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

/// What the other stages say where they say something else: `at event inspection: conforms`.
pub(super) fn elsewhere(finding: &Finding, purpose: Stage) -> Vec<String> {
    Stage::ALL
        .into_iter()
        .filter(|stage| *stage != purpose)
        .filter_map(|stage| {
            let outcome = (*finding.by_purpose.at(stage))?;
            (outcome != finding.outcome)
                .then(|| format!("at {}: {}", at_stage(stage), outcome.words()))
        })
        .collect()
}

pub(super) fn at_stage(stage: Stage) -> &'static str {
    match stage {
        Stage::SelfCheck => "the self-check",
        Stage::Certification => "certification",
        Stage::EventInspection => "event inspection",
    }
}

/// A text with a capital letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

/// What words are claimed to do beyond the data.
pub(super) fn claimed(effect: Effect) -> &'static str {
    match effect {
        Effect::None => "nothing becomes legal or illegal",
        Effect::Relaxed => "something becomes legal",
        Effect::Tightened => "something becomes illegal",
        Effect::Both => "something becomes legal and something illegal",
    }
}
