//! What a column can fill: places in a record, named by paths such as `runners.steel_thickness`.

use super::inside::{self, Inside};
use crate::diagnostic::near_misses;
use crate::quantity::Dimension;
use crate::text::quoted;
use crate::vocabulary::{
    HoldingId, Measure, MeasureId, MeasureKind, Part, PartId, QuantityKind, RoleId, TraitId,
    TraitKind, Vocabulary,
};

/// A place in a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target {
    /// `boat.sail_number`
    SailNumber,
    /// `boat.name`, `boat.owner`
    Boat(&'static str),
    /// `measured.day` and its kin.
    Measured(&'static str),
    /// Something of the boat or one of its parts.
    Item {
        /// The part of the boat; `None` is the boat itself.
        holding: Option<HoldingId>,
        /// Which of many, where the path says it; else the row does.
        id: Option<String>,
        /// What of it.
        what: What,
    },
}

/// What of an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Its id.
    Id,
    /// A trait, or what is said beside it.
    Trait(TraitId, Detail),
    /// A measure, or what is said beside it.
    Measure(MeasureId, Detail),
    /// One of several readings of a measure that belong together.
    Inside(MeasureId, Inside),
    /// The part that fills a role of a group.
    Role(RoleId),
}

/// Something beside a value: the key under which a record has it; empty for the value itself.
pub type Detail = &'static str;

/// What kind of value a place wants.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wants {
    /// A quantity; a plain number needs no unit.
    Quantity(Dimension),
    /// A mass or a force.
    Load,
    /// A plain number or count.
    Plain,
    /// One of some words.
    Word(Vec<String>),
    /// Some of some words.
    Words(Vec<String>),
    /// Yes or no.
    YesNo,
    /// A day, a month or a year.
    Date,
    /// A day.
    Day,
    /// A day, with a time or without.
    Moment,
    /// A free text.
    Text,
}

impl Wants {
    /// The words that can be said, where there is a list of them.
    pub fn words(&self) -> Vec<String> {
        match self {
            Wants::Word(words) | Wants::Words(words) => words.clone(),
            Wants::YesNo => ["yes", "no", "true", "false"].map(str::to_owned).to_vec(),
            Wants::Quantity(_)
            | Wants::Load
            | Wants::Plain
            | Wants::Date
            | Wants::Day
            | Wants::Moment
            | Wants::Text => Vec::new(),
        }
    }

    /// In words: `a length`, `yes or no`.
    pub fn in_words(&self) -> String {
        match self {
            Wants::Quantity(dimension) => dimension.in_words().into_owned(),
            Wants::Load => "a mass or a force".to_owned(),
            Wants::Plain => "a plain number".to_owned(),
            Wants::Word(words) => format!("one of: {}", words.join(", ")),
            Wants::Words(words) => format!("some of: {}", words.join(", ")),
            Wants::YesNo => "yes or no".to_owned(),
            Wants::Date => "a day, a month or a year".to_owned(),
            Wants::Day => "a day".to_owned(),
            Wants::Moment => "a day, with a time or without".to_owned(),
            Wants::Text => "a text".to_owned(),
        }
    }
}

/// What can stand beside a reading.
const OF_READINGS: [Detail; 6] = ["with", "by", "taken", "at", "from_edge", "face"];
/// What can stand beside readings that belong together.
const OF_SERIES: [Detail; 3] = ["with", "by", "taken"];
/// What can stand beside an answer.
const OF_ANSWERS: [Detail; 2] = ["by", "day"];
/// What can stand beside a first value.
const OF_FIRST: [Detail; 2] = ["day", "paper"];
/// What can stand beside a date that wants a proof.
const OF_DATES: [Detail; 3] = ["proof", "seen_by", "seen_on"];

/// Reads a path. `rows` is the part of which each row of the table is one.
///
/// # Errors
/// What is wrong, and what would be accepted.
pub fn parse(
    vocabulary: &Vocabulary,
    path: &str,
    rows: Option<HoldingId>,
) -> Result<Target, (String, String)> {
    let mut steps = path.split('.').map(str::trim);
    let (first, second) = (steps.next().unwrap_or(""), steps.next());
    let rest: Vec<&str> = steps.collect();
    let no = |help: String| {
        (
            format!("{} names nothing that a record can say", quoted(path)),
            help,
        )
    };
    let Some(second) = second.filter(|second| !second.is_empty()) else {
        return Err(no(format!(
            "write the part and what of it, with a point between: {}",
            examples(vocabulary, rows).join(", ")
        )));
    };
    match (first, second, rest.as_slice()) {
        ("boat", "sail_number", []) => return Ok(Target::SailNumber),
        ("boat", "name", []) => return Ok(Target::Boat("name")),
        ("boat", "owner", []) => return Ok(Target::Boat("owner")),
        ("measured", key, []) => {
            let keys = ["day", "by", "place", "temperature"];
            return match keys.into_iter().find(|known| *known == key) {
                Some(key) => Ok(Target::Measured(key)),
                None => Err(no(format!("`measured` has: {}", keys.join(", ")))),
            };
        }
        _ => {}
    }
    let (holding, part) = if first == "boat" {
        (None, Vocabulary::BOAT)
    } else {
        let of = |id: HoldingId| vocabulary.holding(id).map(|one| (Some(id), one.part));
        let found = vocabulary.holding_named(first).and_then(of);
        match found {
            Some(found) => found,
            None => {
                let keys: Vec<&str> = firsts(vocabulary).collect();
                let help = match near_misses(first, keys.iter().copied()) {
                    Some(near) => format!("did you mean {}?", quoted(near)),
                    None => format!("a path begins with one of: {}", keys.join(", ")),
                };
                return Err(no(help));
            }
        }
    };
    let many = holding
        .and_then(|id| vocabulary.holding(id))
        .is_some_and(|one| one.many);
    let kind = vocabulary.part(part).ok_or_else(|| no(String::new()))?;
    let known = |word: &str| {
        word == "id"
            || kind.trait_named(word).is_some()
            || kind.measure_named(word).is_some()
            || kind.role_named(word).is_some()
    };
    let (id, key, rest) = match (many, known(second), rest.as_slice()) {
        (true, false, [key, rest @ ..]) if is_id(second) => (Some(second.to_owned()), *key, rest),
        (_, _, rest) => (None, second, rest),
    };
    if many && id.is_none() && holding != rows {
        let help = format!(
            "write `rows: {first}` where each row is one of them, or name one: {first}.S1.{key}"
        );
        return Err((
            format!("{} does not say which of the {first}", quoted(path)),
            help,
        ));
    }
    let what = what(kind, part, key, rest, many).map_err(no)?;
    Ok(Target::Item { holding, id, what })
}

fn what(kind: &Part, part: PartId, key: &str, rest: &[&str], many: bool) -> Result<What, String> {
    if key == "id" && many && rest.is_empty() {
        return Ok(What::Id);
    }
    if let (Some(role), []) = (kind.role_named(key), rest) {
        return Ok(What::Role(role));
    }
    if let Some(id) = kind.measure_named(key)
        && let Some(measure) = kind.measures.get(id.index())
        && !is_single(measure)
    {
        // What is said of the whole series stands beside it, as beside other readings.
        let whole = OF_SERIES.into_iter().find(|known| rest == [*known]);
        return match whole {
            Some(detail) => Ok(What::Measure(id, detail)),
            None => inside::parse(measure, rest).map(|found| What::Inside(id, found)),
        };
    }
    let detail = match rest {
        [] => None,
        [only] => Some(*only),
        [_, more, ..] => {
            return Err(format!(
                "nothing stands below {}: take `.{more}` out",
                quoted(key)
            ));
        }
    };
    let beside = |allowed: &[Detail]| -> Result<Detail, String> {
        match detail {
            None => Ok(""),
            Some(word) => allowed
                .iter()
                .copied()
                .find(|known| *known == word)
                .ok_or_else(|| {
                    if allowed.is_empty() {
                        format!("nothing stands beside {}", quoted(key))
                    } else {
                        format!("beside {} can stand: {}", quoted(key), allowed.join(", "))
                    }
                }),
        }
    };
    if let Some(id) = kind.trait_named(key) {
        let dated = kind
            .traits
            .get(id.index())
            .is_some_and(|one| matches!(one.kind, TraitKind::Date));
        return Ok(What::Trait(
            id,
            beside(if dated { &OF_DATES } else { &[] })?,
        ));
    }
    if let Some(id) = kind.measure_named(key)
        && let Some(measure) = kind.measures.get(id.index())
    {
        return match measure.kind {
            MeasureKind::Quantity(_) if measure.fixed_at.is_some() => {
                Ok(What::Measure(id, beside(&OF_FIRST)?))
            }
            MeasureKind::Quantity(_) => {
                let found = beside(&OF_READINGS)?;
                if matches!(found, "at" | "from_edge" | "face") && !measure.placed {
                    return Err(format!(
                        "{} is one value of the whole, not taken at places",
                        quoted(key)
                    ));
                }
                Ok(What::Measure(id, found))
            }
            MeasureKind::YesNo => Ok(What::Measure(id, beside(&OF_ANSWERS)?)),
            MeasureKind::Profile
            | MeasureKind::Line
            | MeasureKind::Section
            | MeasureKind::LoadTest
            | MeasureKind::Outline => Err(String::new()),
        };
    }
    if kind.derived_named(key).is_some() {
        return Err(format!(
            "{} is computed from what is measured: fill what it is computed from",
            quoted(key)
        ));
    }
    let names: Vec<&str> = keys_of(kind, part, many).collect();
    Err(match near_misses(key, names.iter().copied()) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None => format!(
            "of {} a column can fill: {}",
            quoted(&kind.name.text),
            names.join(", ")
        ),
    })
}

/// What a column can fill of a part.
fn keys_of(kind: &Part, part: PartId, many: bool) -> impl Iterator<Item = &str> {
    let boat: &[&str] = if part == Vocabulary::BOAT {
        &["sail_number", "name", "owner"]
    } else {
        &[]
    };
    let id: &[&str] = if many { &["id"] } else { &[] };
    let traits = kind.traits.iter().map(|one| one.name.text.as_str());
    let measures = kind.measures.iter().map(|one| one.name.text.as_str());
    let roles = kind.roles.iter().map(|one| one.name.text.as_str());
    let own = boat.iter().chain(id).copied();
    own.chain(traits).chain(measures).chain(roles)
}

/// Whether a measure is one value, which a cell can hold.
pub fn is_single(measure: &Measure) -> bool {
    match measure.kind {
        MeasureKind::Quantity(_) | MeasureKind::YesNo => true,
        MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => false,
    }
}

/// With what a path can begin.
pub fn firsts(vocabulary: &Vocabulary) -> impl Iterator<Item = &str> {
    let holdings = vocabulary.holdings.iter();
    ["boat", "measured"]
        .into_iter()
        .chain(holdings.map(|one| one.key.text.as_str()))
}

fn examples(vocabulary: &Vocabulary, rows: Option<HoldingId>) -> Vec<String> {
    let mut found = vec!["boat.sail_number".to_owned()];
    if let Some(holding) = rows.and_then(|id| vocabulary.holding(id))
        && let Some(part) = vocabulary.part(holding.part)
        && let Some(measure) = part.measures.iter().find(|one| is_single(one))
    {
        found.push(format!("{}.{}", holding.key.text, measure.name.text));
    }
    found
}

/// Whether a text can be the id of a part.
pub fn is_id(text: &str) -> bool {
    (1..=16).contains(&text.len())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'_' | b'-'))
}

impl Target {
    /// What kind of value the place wants.
    pub fn wants(&self, vocabulary: &Vocabulary) -> Wants {
        match self {
            Target::SailNumber | Target::Boat(_) => Wants::Text,
            Target::Measured("day") => Wants::Day,
            Target::Measured("temperature") => Wants::Quantity(Dimension::TEMPERATURE),
            Target::Measured(_) => Wants::Text,
            Target::Item { holding, what, .. } => {
                let part = part_of(vocabulary, *holding);
                part.map_or(Wants::Text, |part| wants(part, *what))
            }
        }
    }
}

/// The kind of part in a holding; the boat's own without one.
pub fn part_of(vocabulary: &Vocabulary, holding: Option<HoldingId>) -> Option<&Part> {
    match holding {
        None => vocabulary.part(Vocabulary::BOAT),
        Some(id) => vocabulary
            .holding(id)
            .and_then(|one| vocabulary.part(one.part)),
    }
}

fn wants(part: &Part, what: What) -> Wants {
    match what {
        What::Id | What::Role(_) => Wants::Text,
        What::Inside(id, place) => match part.measures.get(id.index()) {
            Some(measure) => place.wants(measure),
            None => Wants::Text,
        },
        What::Trait(_, "proof" | "seen_by") => Wants::Text,
        What::Trait(_, "seen_on") => Wants::Day,
        What::Trait(id, _) => {
            let Some(one) = part.traits.get(id.index()) else {
                return Wants::Text;
            };
            let words = || {
                let names = one.kind.names().iter().map(|name| name.text.clone());
                names.chain(["other".to_owned()]).collect()
            };
            match one.kind {
                TraitKind::Choice(_) => Wants::Word(words()),
                TraitKind::AnyOf(_) => Wants::Words(words()),
                TraitKind::Date => Wants::Date,
                TraitKind::Flag => Wants::YesNo,
            }
        }
        What::Measure(_, "with" | "by" | "paper") => Wants::Text,
        What::Measure(_, "taken") => Wants::Moment,
        What::Measure(_, "day") => Wants::Day,
        What::Measure(_, "at" | "from_edge") => Wants::Quantity(Dimension::LENGTH),
        What::Measure(_, "face") => Wants::Word(vec!["port".to_owned(), "starboard".to_owned()]),
        What::Measure(id, _) => match part.measures.get(id.index()).map(|one| one.kind) {
            Some(MeasureKind::YesNo) => Wants::YesNo,
            Some(MeasureKind::Quantity(QuantityKind::Number)) => Wants::Plain,
            Some(MeasureKind::Quantity(kind)) => Wants::Quantity(kind.dimension()),
            Some(
                MeasureKind::Profile
                | MeasureKind::Line
                | MeasureKind::Section
                | MeasureKind::LoadTest
                | MeasureKind::Outline,
            )
            | None => Wants::Text,
        },
    }
}
