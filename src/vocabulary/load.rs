//! The `equipment` and `event` parts of a rules file, loaded into a [`Vocabulary`].

use std::collections::BTreeMap;

use super::load_alterations::alterations;
use super::load_groups::groups;
use super::load_measures::measures;
use super::load_zones::zones;
use super::model::*;
use super::read;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, Span, quoted};

/// Loads a vocabulary; whatever is wrong goes to `faults` and what can be read is read.
///
/// `equipment` is the node behind the key of that name, `event` the one behind `event`, if any.
pub fn load(equipment: &Entry<'_>, event: Option<&Entry<'_>>, faults: &mut Faults) -> Vocabulary {
    let mut vocabulary = Vocabulary {
        methods: vec!["unnamed".to_owned()],
        ..Vocabulary::default()
    };
    if let Some(event) = event {
        vocabulary.event_levels = event_levels(event, faults);
    }
    let Some(entries) = equipment.node.as_mapping() else {
        faults.fault(
            "file.shape",
            equipment.node.label_span(Some(equipment.key_span)),
            format!(
                "equipment is written as parts with what they have; here stands {}",
                equipment.node.kind_in_words()
            ),
            "not a mapping",
            "begin with `boat: { parts: … }`",
        );
        return vocabulary;
    };
    let boat = entries.iter().find(|entry| entry.key == "boat");
    let Some(boat) = boat else {
        faults.fault(
            "vocabulary.no_boat",
            equipment.key_span,
            "equipment names no boat",
            "no key `boat` in it",
            "every class has a `boat` with its `parts`",
        );
        return vocabulary;
    };
    // The boat is always the first part, whatever its place in the file.
    for entry in std::iter::once(boat).chain(entries.iter().filter(|entry| entry.key != "boat")) {
        let name = declared(&entry.key, entry.key_span, "a part", faults);
        vocabulary.parts.push(Part {
            name,
            traits: Vec::new(),
            measures: Vec::new(),
            derived: Vec::new(),
            zones: Vec::new(),
            roles: Vec::new(),
            alterations: Vec::new(),
        });
    }
    let mut all_held = true;
    for (at, entry) in std::iter::once(boat)
        .chain(entries.iter().filter(|entry| entry.key != "boat"))
        .enumerate()
    {
        let Some(mut fields) = Fields::of(&entry.node, "a part", Some(entry.key_span), faults)
        else {
            continue;
        };
        if at == 0
            && let Some(parts) = fields.take("parts", faults)
        {
            all_held = holdings(parts, &mut vocabulary, faults);
        }
        if at == 0
            && let Some(entry) = fields.take("groups", faults)
        {
            groups(entry, &mut vocabulary, all_held, faults);
        }
        let traits = fields
            .take("traits", faults)
            .map(|entry| traits(entry, faults))
            .unwrap_or_default();
        let measures = fields
            .take("measures", faults)
            .map(|entry| measures(entry, &mut vocabulary.methods, faults))
            .unwrap_or_default();
        let derived = fields
            .take("derived", faults)
            .map(|entry| derived(entry, faults))
            .unwrap_or_default();
        let zones = fields
            .take("zones", faults)
            .map(|entry| zones(entry, faults))
            .unwrap_or_default();
        let alterations = fields
            .take("alterations", faults)
            .map(|entry| alterations(entry, &measures, &derived, faults))
            .unwrap_or_default();
        fields.finish(faults);
        let kept: &[&str] = if at == 0 {
            &OWN_KEYS_OF_THE_BOAT
        } else {
            &OWN_KEYS
        };
        let recorded = traits.iter().map(|one| &one.name);
        for name in recorded.chain(measures.iter().map(|one| &one.name)) {
            kept_by_records(name, kept, faults);
        }
        if let Some(part) = vocabulary.parts.get_mut(at) {
            part.traits = traits;
            part.measures = measures;
            part.derived = derived;
            part.zones = zones;
            part.alterations = alterations;
        }
    }
    for part in &vocabulary.parts {
        names_used_once(part, faults);
    }
    for part in vocabulary.parts.iter().skip(1) {
        // Where a part of the boat could not be read, it may have been the one that holds this kind.
        if !all_held {
            break;
        }
        let held = vocabulary.part_named(&part.name.text);
        if !vocabulary
            .holdings
            .iter()
            .any(|holding| Some(holding.part) == held)
        {
            faults.fault(
                "vocabulary.part_unheld",
                part.name.span,
                format!(
                    "the boat holds no part of the kind {}",
                    quoted(&part.name.text)
                ),
                "described and never used",
                "name it under boat, parts: `{ one: … }` or `{ many: … }`",
            );
        }
    }
    vocabulary
}

pub(super) fn declared(word: &str, span: Span, what: &str, faults: &mut Faults) -> Name {
    if !read::is_name(word) {
        faults.fault(
            "name.form",
            span,
            format!("{} can't name {what}", quoted(word)),
            "not a name",
            "a name has small letters, digits and _, and begins with a letter",
        );
    }
    Name {
        text: word.to_owned(),
        span,
    }
}

fn event_levels(event: &Entry<'_>, faults: &mut Faults) -> Vec<Name> {
    let Some(mut fields) = Fields::of(&event.node, "event", Some(event.key_span), faults) else {
        return Vec::new();
    };
    let levels = fields
        .take("levels", faults)
        .map(|entry| names(entry, "an event level", faults));
    fields.finish(faults);
    levels.unwrap_or_default()
}

/// A list of distinct names.
fn names(entry: &Entry<'_>, what: &str, faults: &mut Faults) -> Vec<Name> {
    let Some(items) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "{} is a list of names; here stands {}",
                quoted(&entry.key),
                entry.node.kind_in_words()
            ),
            "not a list",
            format!("{}: [one_name, another_name]", entry.key),
        );
        return Vec::new();
    };
    let mut found: Vec<Name> = Vec::new();
    for item in items {
        let Some(text) = read::scalar(item, None, what, "a name", faults) else {
            continue;
        };
        let name = declared(text, item.span, what, faults);
        if let Some(first) = found.iter().find(|other| other.text == name.text) {
            let first = first.span;
            faults.fault(
                "name.twice",
                name.span,
                format!("{} is named twice", quoted(text)),
                "again here",
                "take one of the two out",
            );
            faults.also(first, "first here");
        } else {
            found.push(name);
        }
    }
    if items.is_empty() {
        faults.fault(
            "file.shape",
            entry.key_span,
            format!("{} names nothing", quoted(&entry.key)),
            "an empty list",
            "name one at least, or leave the key out",
        );
    }
    found
}

/// Reads what the boat holds; whether every entry could be read.
fn holdings(parts: &Entry<'_>, vocabulary: &mut Vocabulary, faults: &mut Faults) -> bool {
    let Some(entries) = parts.node.as_mapping() else {
        faults.fault(
            "file.shape",
            parts.node.label_span(Some(parts.key_span)),
            "parts is written as keys, each with `one` or `many`",
            "not a mapping",
            "runners: { many: runner, at_least: 3 }",
        );
        return false;
    };
    for entry in entries {
        let key = declared(&entry.key, entry.key_span, "a part of the boat", faults);
        kept_by_records(&key, &HEADS_OF_A_RECORD, faults);
        let Some(mut fields) = Fields::of(
            &entry.node,
            "a part of the boat",
            Some(entry.key_span),
            faults,
        ) else {
            continue;
        };
        let one = fields.take_text("one", faults);
        let many = fields.take_text("many", faults);
        let at_least_entry = fields.take("at_least", faults);
        let at_least = at_least_entry
            .and_then(|entry| read::count(&entry.node, Some(entry.key_span), "at_least", faults));
        let span = fields.span;
        fields.finish(faults);
        let (word, many) = match (one, many) {
            (Some(word), None) => (word, false),
            (None, Some(word)) => (word, true),
            (Some(_), Some(_)) | (None, None) => {
                faults.fault(
                    "vocabulary.holding",
                    span,
                    format!(
                        "{} needs `one` or `many`, and just one of them",
                        quoted(&entry.key)
                    ),
                    "",
                    "hull: { one: hull } or runners: { many: runner }",
                );
                continue;
            }
        };
        let kinds: Vec<(String, PartId)> = vocabulary
            .parts
            .iter()
            .skip(1)
            .filter_map(|part| {
                vocabulary
                    .part_named(&part.name.text)
                    .map(|id| (part.name.text.clone(), id))
            })
            .collect();
        let words = kinds.iter().map(|(word, id)| (word.as_str(), *id));
        let Some(part) = read::one_of(
            word.0,
            word.1.span,
            "a part that equipment describes",
            words,
            faults,
        ) else {
            continue;
        };
        vocabulary.holdings.push(Holding {
            key,
            part,
            many,
            at_least: at_least.unwrap_or(u32::from(!many)),
            at_least_span: at_least_entry.map_or(entry.key_span, |entry| {
                entry.node.label_span(Some(entry.key_span))
            }),
        });
    }
    vocabulary.holdings.len() == entries.len()
}

/// Keys at the top of a record that no part of the boat can have.
pub(super) const HEADS_OF_A_RECORD: [&str; 7] = [
    "format",
    "class",
    "boat",
    "measured",
    "instruments",
    "unlisted",
    "notes",
];

/// Keys that a record keeps for itself on every item, and on the boat.
pub(super) const OWN_KEYS: [&str; 3] = ["id", "work", "notes"];
pub(super) const OWN_KEYS_OF_THE_BOAT: [&str; 5] =
    ["sail_number", "name", "owner", "work", "notes"];

/// A name that a record keeps for itself could never be recorded.
pub(super) fn kept_by_records(name: &Name, kept: &[&str], faults: &mut Faults) {
    if kept.contains(&name.text.as_str()) {
        faults.fault(
            "name.reserved",
            name.span,
            format!(
                "{} means something else in every record",
                quoted(&name.text)
            ),
            "can't be a name here",
            "choose another name",
        );
    }
}

/// A list of choices; the silent `other` is not named.
fn choices(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Name> {
    let choices = names(entry, "a choice", faults);
    if let Some(other) = choices.iter().find(|choice| choice.text == "other") {
        faults.fault(
            "vocabulary.other",
            other.span,
            "`other` is there without being named",
            "take it out",
            "every list of choices has the silent extra value `other`",
        );
    }
    choices
}

fn traits(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Trait> {
    let mut found = Vec::new();
    for entry in mapping(entry, "traits", faults) {
        let name = declared(&entry.key, entry.key_span, "a trait", faults);
        if entry.node.as_sequence().is_some() {
            found.push(Trait {
                name,
                kind: TraitKind::Choice(choices(entry, faults)),
                optional: false,
            });
            continue;
        }
        let form = "write a list of choices, `{ any_of: [wood, glass] }`, `{ date: proven }` or `{ flag: intended }`";
        if entry.node.as_text().is_some() {
            faults.fault(
                "vocabulary.trait",
                entry.node.span,
                format!("{} does not say what it can be", quoted(&entry.key)),
                "not a trait",
                form,
            );
            continue;
        }
        let Some(mut fields) = Fields::of(&entry.node, "a trait", Some(entry.key_span), faults)
        else {
            continue;
        };
        let any_of = fields.take("any_of", faults);
        let date = fields.take_text("date", faults);
        let flag = fields.take_text("flag", faults);
        let span = fields.span;
        fields.finish(faults);
        let kind = match (any_of, date, flag) {
            (Some(entry), None, None) => Some((TraitKind::AnyOf(choices(entry, faults)), false)),
            (None, Some((word, node)), None) => read::one_of(
                word,
                node.span,
                "a way to hold a date",
                [("proven", TraitKind::Date)].iter().map(|(w, _)| (*w, ())),
                faults,
            )
            .map(|()| (TraitKind::Date, false)),
            (None, None, Some((word, node))) => read::one_of(
                word,
                node.span,
                "a kind of flag",
                std::iter::once(("intended", ())),
                faults,
            )
            .map(|()| (TraitKind::Flag, true)),
            _ => {
                faults.fault(
                    "vocabulary.trait",
                    span,
                    format!("{} does not say what it can be", quoted(&entry.key)),
                    "",
                    form,
                );
                None
            }
        };
        if let Some((kind, optional)) = kind {
            found.push(Trait {
                name,
                kind,
                optional,
            });
        }
    }
    found
}

pub(super) fn mapping<'n, 's>(
    entry: &'n Entry<'s>,
    what: &str,
    faults: &mut Faults,
) -> &'n [Entry<'s>] {
    match entry.node.as_mapping() {
        Some(entries) => entries,
        None => {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{what} is written as names with what they are; here stands {}",
                    entry.node.kind_in_words()
                ),
                "not a mapping",
                "write one `name: …` for each",
            );
            &[]
        }
    }
}

fn derived(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Derived> {
    let mut found = Vec::new();
    for entry in mapping(entry, "derived", faults) {
        let name = declared(&entry.key, entry.key_span, "a derived value", faults);
        if let Some(text) = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "a derived value",
            "an expression",
            faults,
        ) {
            found.push(Derived {
                name,
                text: text.to_owned(),
                span: entry.node.span,
            });
        }
    }
    found
}

/// A name means one thing on a part, whether trait, measure or derived value.
fn names_used_once(part: &Part, faults: &mut Faults) {
    let mut seen: BTreeMap<&str, Span> = BTreeMap::new();
    let names = part
        .traits
        .iter()
        .map(|one| &one.name)
        .chain(part.measures.iter().map(|one| &one.name))
        .chain(part.derived.iter().map(|one| &one.name));
    for name in names {
        if let Some(first) = seen.get(name.text.as_str()) {
            faults.fault(
                "name.twice",
                name.span,
                format!(
                    "{} means two things on {}",
                    quoted(&name.text),
                    quoted(&part.name.text)
                ),
                "again here",
                "a trait, a measure and a derived value of one part need names of their own",
            );
            faults.also(*first, "first here");
        } else {
            seen.insert(&name.text, name.span);
        }
    }
}

/// The scalar of a node as text, for names that refer to something declared.
pub fn reference<'n>(
    node: &'n Node<'_>,
    key_span: Option<Span>,
    what: &str,
    faults: &mut Faults,
) -> Option<(&'n str, Span)> {
    read::scalar(node, key_span, what, "a name", faults).map(|text| (text, node.span))
}
