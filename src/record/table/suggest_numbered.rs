//! Headers with numbers: readings that were repeated, readings at places, stations, shims, steps.
//!
//! `Steel thickness 2` is another reading, `Steel thickness at -300 mm` one at a place, `Side line port 3` the third
//! station along the port flank, `Edge profile 1 forward` where the first pair of shims binds.

use super::inside;
use super::suggest_words::{parted, words};
use super::target::{firsts, is_single, part_of};
use crate::quantity::{Dimension, Quantity, Unit};
use crate::vocabulary::{HoldingId, MeasureKind, Vocabulary};

/// What a header with numbers was understood as.
pub(super) struct Numbered {
    /// What it fills.
    pub path: String,
    /// Where, as the map says it.
    pub at: Option<String>,
    /// Whether it is one of several readings, which all fill one path.
    pub repeated: bool,
    /// What a person has to look at.
    pub ask: &'static str,
}

/// Distances that headers named of one measure, so that each keeps its number.
#[derive(Default)]
pub(super) struct Distances(Vec<(String, Vec<String>)>);

impl Distances {
    /// The number of a distance among those of a measure, from 1.
    fn number(&mut self, measure: &str, at: &str) -> usize {
        let place = match self.0.iter().position(|(known, _)| known == measure) {
            Some(place) => place,
            None => {
                self.0.push((measure.to_owned(), Vec::new()));
                self.0.len() - 1
            }
        };
        let Some((_, all)) = self.0.get_mut(place) else {
            return 1;
        };
        match all.iter().position(|known| known == at) {
            Some(place) => place + 1,
            None => {
                all.push(at.to_owned());
                all.len()
            }
        }
    }
}

/// A header parted at the distance that it names: `Side line port at -400 mm` is `Side line port` and `-400 mm`.
fn distance(header: &str) -> (String, Option<String>) {
    let lower = header.to_lowercase();
    let cut = [" at ", " @ ", "@"].into_iter().find_map(|sign| {
        let start = lower.find(sign)?;
        Some((start, start + sign.len()))
    });
    let Some((name, rest)) =
        cut.and_then(|(start, end)| Some((header.get(..start)?, header.get(end..)?)))
    else {
        return (header.to_owned(), None);
    };
    // A number, with its unit or in millimetres, and what else is said behind it.
    let rest = rest.replace('\u{2212}', "-");
    let tokens: Vec<&str> = rest.split_whitespace().collect();
    for taken in [2, 1] {
        let Some((said, more)) = tokens.split_at_checked(taken) else {
            continue;
        };
        let plain = said.join(" ").replace(',', ".");
        let text = match taken {
            1 if plain.parse::<f64>().is_ok() => format!("{plain} mm"),
            _ => plain,
        };
        let length = Quantity::parse_as(&text, Dimension::LENGTH);
        if length.is_ok_and(|one| one.unit != Unit::PLAIN) {
            return (format!("{name} {}", more.join(" ")), Some(text));
        }
    }
    (header.to_owned(), None)
}

/// What a header says with its numbers. `rows` is the part of which each row is one; nothing where it says nothing of the
/// kind, or several things at once.
pub(super) fn numbered(
    header: &str,
    vocabulary: &Vocabulary,
    rows: Option<HoldingId>,
    distances: &mut Distances,
) -> Option<Numbered> {
    let (name, at) = distance(header);
    let all = parted(&name).words;
    let is_number = |word: &&String| word.bytes().all(|one| one.is_ascii_digit());
    let numbers: Vec<&String> = all.iter().filter(is_number).collect();
    let said: Vec<&String> = all.iter().filter(|word| !is_number(word)).collect();
    if said.is_empty() || (numbers.is_empty() && at.is_none()) {
        return None;
    }
    let mut found: Vec<(String, Vec<&'static str>, bool, String)> = Vec::new();
    for first in firsts(vocabulary).filter(|first| *first != "measured") {
        let holding = vocabulary.holding_named(first);
        let many = holding
            .and_then(|id| vocabulary.holding(id))
            .is_some_and(|one| one.many);
        if many && holding != rows {
            continue;
        }
        let Some(part) = part_of(vocabulary, holding) else {
            continue;
        };
        for measure in &part.measures {
            let own = words(&measure.name.text);
            let path = format!("{first}.{}", measure.name.text);
            if is_single(measure) {
                let repeatable =
                    matches!(measure.kind, MeasureKind::Quantity(_)) && measure.fixed_at.is_none();
                if repeatable && said_as(&said, &own, &[], first, &part.name.text) {
                    found.push((path.clone(), Vec::new(), measure.placed, path));
                }
                continue;
            }
            for steps in inside::all(measure) {
                if said_as(&said, &own, &steps, first, &part.name.text) {
                    found.push((path.clone(), steps, false, path.clone()));
                }
            }
        }
    }
    // Of names that several parts have, those of the part that a row is come first.
    if let Some(row) = rows.and_then(|id| vocabulary.holding(id)) {
        let own = format!("{}.", row.key.text);
        if found.iter().any(|(path, ..)| path.starts_with(&own)) {
            found.retain(|(path, ..)| path.starts_with(&own));
        }
    }
    // A gap at a station is one of a list of gaps, one of a pair of shims is that of its leaf.
    if found.len() > 1 {
        found.retain(|(_, steps, ..)| (steps.first() == Some(&"gaps")) == at.is_some());
    }
    let [(path, steps, placed, measure)] = found.as_slice() else {
        return None;
    };
    if steps.is_empty() {
        let ask = match (&at, placed) {
            (None, true) => "?  at: where it was taken; without it all are readings of one place",
            (Some(_), false) => return None,
            (None, false) | (Some(_), true) => "",
        };
        return Some(Numbered {
            path: path.clone(),
            at,
            repeated: true,
            ask,
        });
    }
    let levels = steps.iter().filter(|step| **step == "1").count();
    // A distance stands for the number of its station or place.
    let own = at.as_ref().map(|at| distances.number(measure, at));
    let mut given: Vec<String> = own.iter().map(usize::to_string).collect();
    given.extend(numbers.iter().map(|number| (*number).clone()));
    if given.len() != levels {
        return None;
    }
    let mut given = given.into_iter();
    let steps: Vec<String> = steps
        .iter()
        .map(|step| match *step {
            "1" => given.next().unwrap_or_default(),
            key => key.to_owned(),
        })
        .collect();
    let path = format!("{path}.{}", steps.join("."));
    Some(Numbered {
        path,
        at,
        repeated: false,
        ask: "",
    })
}

/// Whether words name a place inside a measure: its name, with or without its part in front, then the keys, of which those
/// that only name a list may be missing.
fn said_as(said: &[&String], measure: &[String], steps: &[&str], first: &str, part: &str) -> bool {
    let lists = ["shims", "places", "steps", "gaps"];
    let keys: Vec<&str> = steps.iter().copied().filter(|step| *step != "1").collect();
    let short: Vec<&str> = keys
        .iter()
        .copied()
        .filter(|key| !lists.contains(key))
        .collect();
    let single: Vec<&str> = keys
        .iter()
        .map(|key| match lists.contains(key) {
            true => key.trim_end_matches('s'),
            false => key,
        })
        .collect();
    [keys, short, single].into_iter().any(|keys| {
        if !steps.is_empty() && keys.is_empty() {
            return false;
        }
        let mut whole: Vec<String> = measure.to_vec();
        whole.extend(keys.iter().flat_map(|key| words(key)));
        let same = |said: &[&String]| said.iter().copied().eq(whole.iter());
        let before = [words(first), words(part)];
        same(said)
            || before.iter().any(|before| {
                said.len() > before.len()
                    && said.iter().copied().zip(before).all(|(a, b)| a == b)
                    && said.get(before.len()..).is_some_and(same)
            })
    })
}
