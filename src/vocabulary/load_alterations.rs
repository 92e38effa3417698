//! The `alterations` of a part: what work does to its identity, its papers and its readings.

use super::load::{declared, mapping};
use super::model::*;
use super::read;
use crate::diagnostic::{Faults, Fields, near_misses};
use crate::text::{Entry, Span, quoted};

/// Reads the block of a part whose measures and derived values are known.
pub(super) fn alterations(
    entry: &Entry<'_>,
    measures: &[Measure],
    derived: &[Derived],
    faults: &mut Faults,
) -> Vec<Alteration> {
    let mut found: Vec<Alteration> = Vec::new();
    let entries = mapping(entry, "alterations", faults);
    if entries.is_empty() && entry.node.as_mapping().is_some() {
        faults.fault(
            "file.shape",
            entry.key_span,
            "`alterations` names nothing",
            "an empty mapping",
            "name one kind of work at least, or leave the key out: then a record says in any word what was done",
        );
    }
    for entry in entries {
        let name = declared(&entry.key, entry.key_span, "a kind of work", faults);
        let Some(mut fields) =
            Fields::of(&entry.node, "a kind of work", Some(entry.key_span), faults)
        else {
            continue;
        };
        let new_item = fields.take("new_item", faults);
        let again = fields.take("measure_again", faults);
        let ends = fields.take("ends_certificate", faults);
        fields.finish(faults);
        let mut answer = |entry: Option<&Entry<'_>>, key: &str| {
            entry.is_some_and(|entry| {
                let key_span = Some(entry.key_span);
                read::yes_no(&entry.node, key_span, key, faults).unwrap_or(false)
            })
        };
        let new_item = answer(new_item, "new_item");
        let ends_certificate = answer(ends, "ends_certificate");
        let measure_again = again
            .map(|entry| measured_again(entry, measures, derived, faults))
            .unwrap_or_default();
        found.push(Alteration {
            name,
            new_item,
            measure_again,
            ends_certificate,
        });
    }
    found
}

fn measured_again(
    entry: &Entry<'_>,
    measures: &[Measure],
    derived: &[Derived],
    faults: &mut Faults,
) -> Vec<MeasureId> {
    let Some(items) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "`measure_again` is a list of measures; here stands {}",
                entry.node.kind_in_words()
            ),
            "not a list",
            "measure_again: [pivot_height, edge_profile]",
        );
        return Vec::new();
    };
    let mut found: Vec<(MeasureId, Span)> = Vec::new();
    for item in items {
        let Some(word) = read::scalar(item, None, "a measure", "a name", faults) else {
            continue;
        };
        let at = measures.iter().position(|one| one.name.text == word);
        let slot = at.and_then(|at| Some((measures.get(at)?, u16::try_from(at).ok()?)));
        let Some((measure, slot)) = slot else {
            not_a_measure(word, item.span, measures, derived, faults);
            continue;
        };
        if measure.fixed_at.is_some() {
            faults.fault(
                "vocabulary.alteration",
                item.span,
                format!(
                    "{} is fixed for good and never measured again",
                    quoted(word)
                ),
                "a first value",
                "work that makes a new item says so: `new_item: yes`",
            );
            continue;
        }
        let slot = MeasureId(slot);
        if let Some((_, first)) = found.iter().find(|(other, _)| *other == slot) {
            let first = *first;
            faults.fault(
                "name.twice",
                item.span,
                format!("{} is named twice", quoted(word)),
                "again here",
                "take one of the two out",
            );
            faults.also(first, "first here");
            continue;
        }
        found.push((slot, item.span));
    }
    found.into_iter().map(|(slot, _)| slot).collect()
}

fn not_a_measure(
    word: &str,
    span: Span,
    measures: &[Measure],
    derived: &[Derived],
    faults: &mut Faults,
) {
    let computed = derived.iter().any(|one| one.name.text == word);
    let names = || measures.iter().map(|one| one.name.text.as_str());
    let help = if computed {
        "name the measures that it is computed from".to_owned()
    } else if let Some(near) = near_misses(word, names()) {
        format!("did you mean {}?", quoted(near))
    } else {
        format!("measures are: {}", names().collect::<Vec<_>>().join(", "))
    };
    let message = if computed {
        format!("{} is computed, not measured", quoted(word))
    } else {
        format!("{} is no measure of this part", quoted(word))
    };
    faults.fault(
        "vocabulary.alteration",
        span,
        message,
        "not a measure",
        help,
    );
}
