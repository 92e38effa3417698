//! Headers as words: what stands in them beside a unit, and which names they are or come near.

use super::target::{firsts, is_single};
use crate::quantity::Unit;
use crate::vocabulary::{HoldingId, Part, Vocabulary};

/// A header parted into what it names and the unit in it.
pub(super) struct Header {
    /// The words in small letters.
    pub words: Vec<String>,
    /// The unit, as it is written there, and as it was understood.
    pub unit: Option<(String, Option<Unit>)>,
}

/// `Steel thickness [mm]`, `Thickness (mm)`, `Mass, kg`, `length mm`.
pub(super) fn parted(header: &str) -> Header {
    let text = header.trim();
    let (name, unit) = match text.rfind(['[', '(']) {
        Some(open) if text.ends_with([']', ')']) => {
            let inside = text.get(open + 1..text.len() - 1).unwrap_or("").trim();
            let known = unit_of(inside);
            // Brackets hold a unit, or words that belong to the name.
            match (known, text.get(open..open + 1)) {
                (Some(_), _) | (None, Some("[")) => (
                    text.get(..open).unwrap_or(text),
                    Some((inside.to_owned(), known)),
                ),
                (None, _) => (text, None),
            }
        }
        _ => match text.rsplit_once([',', ' ', '/']) {
            Some((before, last))
                if unit_of(last.trim()).is_some()
                    && !last.trim().is_empty()
                    && !words(before).is_empty() =>
            {
                (before, Some((last.trim().to_owned(), unit_of(last.trim()))))
            }
            _ => (text, None),
        },
    };
    Header {
        words: words(name),
        unit,
    }
}

/// The unit that a header names for its readings; that of the distance at which they were taken is none.
pub(super) fn unit_of_readings(header: &str) -> Option<(String, Option<Unit>)> {
    let lower = header.to_lowercase();
    let placed = lower.contains(" at ") || lower.contains('@');
    match placed && !header.contains(['[', '(']) {
        true => None,
        false => parted(header).unit,
    }
}

/// The unit that a header says otherwise than a map does. One without brackets counts as that of the readings only where no
/// number stands before it and it is a unit of the same kind: `load 20 kg` is no unit of a length.
pub(super) fn other_unit(header: &str, of_map: Unit) -> Option<Unit> {
    let (written, unit) = unit_of_readings(header)?;
    let unit = unit.filter(|unit| *unit != of_map)?;
    let bracketed = header.trim_end().ends_with([']', ')']);
    let before = header.trim().strip_suffix(written.as_str()).unwrap_or("");
    let counted = before
        .trim_end()
        .ends_with(|one: char| one.is_ascii_digit());
    (bracketed || !counted && unit.dimension() == of_map.dimension()).then_some(unit)
}

/// A unit as headers write it.
fn unit_of(text: &str) -> Option<Unit> {
    let text = text.trim().trim_end_matches('.');
    let other = match text {
        "°" | "degrees" => "deg",
        "°C" | "C" => "degC",
        "\"" | "inch" | "inches" => "in",
        "m²" | "sqm" => "m2",
        _ => text,
    };
    Unit::from_symbol(other).filter(|unit| *unit != Unit::PLAIN)
}

/// The words of a text in small letters; a change to a capital begins a word.
pub(super) fn words(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut last_small = false;
    for letter in text.chars() {
        if !letter.is_alphanumeric() {
            found.push(String::new());
            last_small = false;
            continue;
        }
        if letter.is_uppercase() && last_small || found.is_empty() {
            found.push(String::new());
        }
        last_small = letter.is_lowercase();
        if let Some(word) = found.last_mut() {
            word.extend(letter.to_lowercase());
        }
    }
    found.retain(|word| !word.is_empty());
    found
}

/// Words for what every record has, by the path that they stand for.
const COMMON: [(&str, &[&str]); 7] = [
    (
        "boat.sail_number",
        &[
            "sail",
            "sail number",
            "sail no",
            "sail nr",
            "sailnumber",
            "boat number",
            "sail num",
        ],
    ),
    (
        "boat.name",
        &[
            "name",
            "boat",
            "boat name",
            "yacht",
            "yacht name",
            "name of boat",
        ],
    ),
    ("boat.owner", &["owner", "sailor", "skipper", "helm"]),
    (
        "measured.day",
        &[
            "day",
            "date",
            "measured",
            "measured on",
            "date measured",
            "day measured",
            "day of measuring",
            "measuring day",
            "measurement date",
        ],
    ),
    ("measured.by", &["measurer", "measured by", "by"]),
    (
        "measured.place",
        &["place", "where", "venue", "measured at"],
    ),
    (
        "measured.temperature",
        &["temperature", "air temperature", "temp"],
    ),
];

/// A place that a header may name.
pub(super) struct Candidate {
    pub path: String,
    /// Ways to say it, in words.
    pub ways: Vec<Vec<String>>,
    /// The holding whose items it is of, where there are many of it.
    pub many: Option<HoldingId>,
}

/// Everything that a column can fill. `rows` is the part of which each row is one; `titles` are other words for names.
pub(super) fn candidates(
    vocabulary: &Vocabulary,
    rows: Option<HoldingId>,
    titles: &[(&str, &str)],
) -> Vec<Candidate> {
    let mut found: Vec<Candidate> = COMMON
        .iter()
        .map(|(path, ways)| Candidate {
            path: (*path).to_owned(),
            ways: ways.iter().map(|way| words(way)).collect(),
            many: None,
        })
        .collect();
    for first in firsts(vocabulary) {
        if first == "measured" {
            continue;
        }
        let holding = vocabulary.holding_named(first);
        let many = holding.filter(|id| vocabulary.holding(*id).is_some_and(|one| one.many));
        let part = super::target::part_of(vocabulary, holding);
        let Some(part) = part else {
            continue;
        };
        if many.is_some() && many == rows {
            let mut ways = vec![words(first), words(&part.name.text)];
            for end in ["id", "no", "nr", "number"] {
                ways.push(vec![part.name.text.clone(), end.to_owned()]);
            }
            ways.push(vec!["id".to_owned()]);
            ways.push(vec!["item".to_owned()]);
            found.push(Candidate {
                path: format!("{first}.id"),
                ways,
                many,
            });
        }
        for name in names(part) {
            let own = words(name);
            let mut ways = vec![own.clone()];
            // With the part in front, or behind: `hull length`, `length of hull`.
            for part_word in [part.name.text.as_str(), first] {
                let mut before = words(part_word);
                before.extend(own.clone());
                ways.push(before);
                let mut behind = own.clone();
                behind.push("of".to_owned());
                behind.extend(words(part_word));
                ways.push(behind);
            }
            let title = titles
                .iter()
                .find(|(id, _)| *id == name)
                .map(|(_, title)| words(title));
            ways.extend(title);
            found.push(Candidate {
                path: format!("{first}.{name}"),
                ways,
                many,
            });
        }
    }
    found
}

/// The names of what a cell can fill of a part.
fn names(part: &Part) -> impl Iterator<Item = &str> {
    let traits = part.traits.iter().map(|one| one.name.text.as_str());
    let measures = part
        .measures
        .iter()
        .filter(|one| is_single(one))
        .map(|one| one.name.text.as_str());
    let roles = part.roles.iter().map(|one| one.name.text.as_str());
    traits.chain(measures).chain(roles)
}

/// How well a header fits a candidate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fit {
    /// It is one of its names.
    Same,
    /// It shares words with it, or is spelt nearly like it.
    Near,
}

pub(super) fn fit(header: &[String], candidate: &Candidate) -> Option<Fit> {
    if header.is_empty() {
        return None;
    }
    if candidate.ways.iter().any(|way| way == header) {
        return Some(Fit::Same);
    }
    let joined = header.join("_");
    let near = candidate.ways.iter().any(|way| {
        let shared = way
            .iter()
            .filter(|word| word.len() > 2 && header.contains(word))
            .count();
        let all_of_it = shared > 0 && (shared == way.len() || shared == header.len());
        all_of_it || crate::diagnostic::near_misses(&joined, [way.join("_").as_str()]).is_some()
    });
    near.then_some(Fit::Near)
}
