//! Groups of parts that are used together, under `groups` of the boat.
//!
//! A group becomes a kind of part without traits and measures, and a holding of many: rules, counts and
//! records speak of it as of any other.

use super::load::{HEADS_OF_A_RECORD, declared, kept_by_records};
use super::model::*;
use super::read;
use crate::diagnostic::{Faults, Fields, near_misses};
use crate::text::{Entry, Span, quoted};

/// Keys that a record keeps for itself on every group, and words that stand for something else in front of a
/// point.
const NO_ROLES: [&str; 4] = ["id", "notes", "boat", "event"];

/// Reads the groups of a boat. The kinds of part and, unless `all_held` says otherwise, what the boat holds are
/// known by now.
pub(super) fn groups(
    entry: &Entry<'_>,
    vocabulary: &mut Vocabulary,
    all_held: bool,
    faults: &mut Faults,
) {
    let Some(entries) = entry.node.as_mapping() else {
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "groups is written as names, each with its roles; here stands {}",
                entry.node.kind_in_words()
            ),
            "not a mapping",
            "sets: { roles: { port: runner, starboard: runner } }",
        );
        return;
    };
    for entry in entries {
        let key = declared(&entry.key, entry.key_span, "a group", faults);
        kept_by_records(&key, &HEADS_OF_A_RECORD, faults);
        named_before(&key, vocabulary, faults);
        let Some(mut fields) = Fields::of(&entry.node, "a group", Some(entry.key_span), faults)
        else {
            continue;
        };
        let at_least_entry = fields.take("at_least", faults);
        let at_least = at_least_entry
            .and_then(|entry| read::count(&entry.node, Some(entry.key_span), "at_least", faults));
        let roles = fields
            .require("roles", faults)
            .map(|entry| roles(entry, vocabulary, all_held, faults))
            .unwrap_or_default();
        fields.finish(faults);
        let Ok(part) = u16::try_from(vocabulary.parts.len()).map(PartId) else {
            continue;
        };
        vocabulary.parts.push(Part {
            name: key.clone(),
            traits: Vec::new(),
            measures: Vec::new(),
            derived: Vec::new(),
            zones: Vec::new(),
            roles,
            alterations: Vec::new(),
        });
        vocabulary.holdings.push(Holding {
            key,
            part,
            many: true,
            at_least: at_least.unwrap_or(0),
            at_least_span: at_least_entry.map_or(entry.key_span, |entry| {
                entry.node.label_span(Some(entry.key_span))
            }),
        });
    }
}

/// A group stands beside the parts of the boat in records and rules: its name is its own.
fn named_before(key: &Name, vocabulary: &Vocabulary, faults: &mut Faults) {
    let holding = vocabulary.holding_named(&key.text);
    let holding = holding.and_then(|id| vocabulary.holding(id));
    let kind = vocabulary.part_named(&key.text);
    let kind = kind.and_then(|id| vocabulary.part(id));
    let (what, first) = match (holding, kind) {
        (Some(holding), _) => ("part of the boat", holding.key.span),
        (None, Some(kind)) => ("kind of part", kind.name.span),
        (None, None) => return,
    };
    faults.fault(
        "name.twice",
        key.span,
        format!("{} is a group and a {what}", quoted(&key.text)),
        "again here",
        "give the group another name",
    );
    faults.also(first, "first here");
}

fn roles(
    entry: &Entry<'_>,
    vocabulary: &Vocabulary,
    all_held: bool,
    faults: &mut Faults,
) -> Vec<Role> {
    const FORM: &str = "roles: { port: runner, starboard: runner }";
    let Some(entries) = entry.node.as_mapping().filter(|list| !list.is_empty()) else {
        let stands = match entry.node.as_mapping() {
            Some(_) => "nothing".to_owned(),
            None => entry.node.kind_in_words().to_owned(),
        };
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "roles is written as names, each with the kind of part that fills it; here stands {stands}"
            ),
            "no roles",
            FORM,
        );
        return Vec::new();
    };
    let mut found = Vec::new();
    for entry in entries {
        let name = declared(&entry.key, entry.key_span, "a role", faults);
        role_name(&name, vocabulary, faults);
        let Some(text) = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "a role",
            "a kind of part",
            faults,
        ) else {
            continue;
        };
        let kind = kind(text, entry.node.span, vocabulary, all_held, faults);
        found.extend(kind.map(|part| Role { name, part }));
    }
    found
}

/// In front of a point a role must not mean something else.
fn role_name(name: &Name, vocabulary: &Vocabulary, faults: &mut Faults) {
    if NO_ROLES.contains(&name.text.as_str()) {
        faults.fault(
            "name.reserved",
            name.span,
            format!("{} means something else beside roles", quoted(&name.text)),
            "can't be a role",
            "choose another name",
        );
    }
    let holding = vocabulary.holding_named(&name.text);
    if let Some(holding) = holding.and_then(|id| vocabulary.holding(id)) {
        let first = holding.key.span;
        faults.fault(
            "name.twice",
            name.span,
            format!("{} is a role and a part of the boat", quoted(&name.text)),
            "again here",
            "give the role another name",
        );
        faults.also(first, "first here");
    }
}

/// The kind of part that fills a role: one of which the boat holds many.
fn kind(
    text: &str,
    span: Span,
    vocabulary: &Vocabulary,
    all_held: bool,
    faults: &mut Faults,
) -> Option<PartId> {
    let kinds = vocabulary.parts.iter().skip(1).filter_map(|part| {
        let id = vocabulary.part_named(&part.name.text)?;
        (!part.is_group()).then_some((part.name.text.as_str(), id))
    });
    let what = "a part that equipment describes";
    let Some(id) = read::one_of(text, span, what, kinds.clone(), faults) else {
        // Kept as what was most likely meant, so that what uses it is not a fault too.
        let near = near_misses(text, kinds.clone().map(|(word, _)| word))?;
        return vocabulary.part_named(near);
    };
    let held = |many: bool| {
        let mut holdings = vocabulary.holdings.iter();
        holdings.find(|holding| holding.part == id && holding.many == many)
    };
    if held(true).is_none()
        && all_held
        && let Some(single) = held(false)
    {
        faults.fault(
            "vocabulary.role",
            span,
            format!("the boat has one {text}; a role is filled by one of many"),
            "of this there is one",
            format!(
                "take the role out: rules on the group name it directly, as in `{}.…`",
                single.key.text
            ),
        );
    }
    Some(id)
}
