//! The `measures` of a part.

use super::load::{declared, mapping};
use super::load_special::{Special, no_setup};
use super::model::*;
use super::read;
use crate::diagnostic::{Faults, Fields, near_misses};
use crate::text::{Entry, Span, quoted};

pub(super) fn measures(
    entry: &Entry<'_>,
    words: &mut Vec<String>,
    faults: &mut Faults,
) -> Vec<Measure> {
    let mut found = Vec::new();
    for entry in mapping(entry, "measures", faults) {
        let name = declared(&entry.key, entry.key_span, "a measure", faults);
        if let Some(word) = entry.node.as_text() {
            if let Some(kind) = kind_of(word, entry.node.span, faults) {
                match kind {
                    MeasureKind::YesNo => no_question(&name, faults),
                    MeasureKind::LoadTest => no_setup(&name, name.span, "span", faults),
                    MeasureKind::Quantity(_)
                    | MeasureKind::Profile
                    | MeasureKind::Line
                    | MeasureKind::Section
                    | MeasureKind::Outline => {}
                }
                found.push(plain_measure(name, kind));
            }
            continue;
        }
        let Some(mut fields) = Fields::of(&entry.node, "a measure", Some(entry.key_span), faults)
        else {
            continue;
        };
        let kind = fields
            .require_text("kind", faults)
            .and_then(|(word, node)| kind_of(word, node.span, faults));
        let placed = fields.take("placed", faults);
        let plausible = fields.take("plausible", faults);
        let methods = fields.take("methods", faults);
        let fresh_for = fields.take("fresh_for", faults);
        let ask = fields.take_text("ask", faults);
        let special = Special {
            fixed_at: fields.take("fixed_at", faults),
            span: fields.take("span", faults),
            supports: fields.take("supports", faults),
        };
        fields.finish(faults);
        let Some(kind) = kind else { continue };
        let mut measure = plain_measure(name, kind);
        measure.ask = ask.map(|(text, _)| text.to_owned());
        if let Some(entry) = placed {
            measure.placed =
                read::yes_no(&entry.node, Some(entry.key_span), "placed", faults).unwrap_or(false);
            if measure.placed
                && matches!(
                    kind,
                    MeasureKind::YesNo
                        | MeasureKind::Profile
                        | MeasureKind::Line
                        | MeasureKind::LoadTest
                        | MeasureKind::Outline
                )
            {
                faults.fault(
                    "vocabulary.placed",
                    entry.key_span,
                    format!(
                        "{} is one look, profile, line, test or outline of the whole, not taken at places",
                        quoted(&measure.name.text)
                    ),
                    "",
                    "take `placed` out; quantities and sections are taken at places",
                );
                measure.placed = false;
            }
        }
        if let Some(entry) = plausible {
            match kind {
                MeasureKind::Quantity(quantity) => {
                    let range = read::range(
                        &entry.node,
                        Some(entry.key_span),
                        "plausible",
                        quantity.dimension(),
                        faults,
                    );
                    if let Some((low, high)) = range {
                        measure.plausible_unit = Some(high.unit);
                        measure.plausible = Some((low.value, high.value));
                    }
                }
                MeasureKind::YesNo
                | MeasureKind::Profile
                | MeasureKind::Line
                | MeasureKind::Section
                | MeasureKind::LoadTest
                | MeasureKind::Outline => {
                    faults.fault(
                        "vocabulary.plausible",
                        entry.key_span,
                        "only quantities have a plausible range",
                        "",
                        "take `plausible` out",
                    );
                }
            }
        }
        if let Some(entry) = methods {
            measure.methods = methods_of(entry, kind, words, faults);
        }
        if let Some(entry) = fresh_for {
            measure.fresh_for_days =
                read::days(&entry.node, Some(entry.key_span), "fresh_for", faults);
        }
        if matches!(kind, MeasureKind::YesNo) && measure.ask.is_none() {
            no_question(&measure.name, faults);
        }
        special.read(&mut measure, &[placed, methods, fresh_for], faults);
        found.push(measure);
    }
    found
}

fn no_question(name: &Name, faults: &mut Faults) {
    faults.fault(
        "vocabulary.ask",
        name.span,
        format!("{} has no question", quoted(&name.text)),
        "",
        format!("write `{}: {{ kind: yes_no, ask: \"…?\" }}`", name.text),
    );
}

pub(super) fn plain_measure(name: Name, kind: MeasureKind) -> Measure {
    Measure {
        name,
        kind,
        placed: false,
        plausible: None,
        plausible_unit: None,
        methods: Vec::new(),
        fresh_for_days: None,
        ask: None,
        setup: None,
        fixed_at: None,
    }
}

pub(super) fn methods_of(
    entry: &Entry<'_>,
    kind: MeasureKind,
    words: &mut Vec<String>,
    faults: &mut Faults,
) -> Vec<Method> {
    use crate::quantity::Dimension;
    // The floor is that of a single reading: of a gap for profiles and lines, of a bevel for sections, of a
    // deflection for load tests, of a width or a coordinate for outlines.
    let dimension = match kind {
        MeasureKind::Quantity(quantity) => quantity.dimension(),
        MeasureKind::Profile | MeasureKind::Line | MeasureKind::LoadTest | MeasureKind::Outline => {
            Dimension::LENGTH
        }
        MeasureKind::Section => Dimension::ANGLE,
        MeasureKind::YesNo => {
            faults.fault(
                "vocabulary.methods",
                entry.key_span,
                "a yes_no measure has no methods",
                "",
                "take `methods` out",
            );
            return Vec::new();
        }
    };
    let mut found = Vec::new();
    for entry in mapping(entry, "methods", faults) {
        let name = declared(&entry.key, entry.key_span, "a method", faults);
        let Some(mut fields) = Fields::of(&entry.node, "a method", Some(entry.key_span), faults)
        else {
            continue;
        };
        let floor = fields
            .require("expanded_uncertainty", faults)
            .and_then(|entry| {
                read::quantity(
                    &entry.node,
                    Some(entry.key_span),
                    "expanded_uncertainty",
                    dimension,
                    faults,
                )
                .map(|quantity| (quantity, entry.node.span))
            });
        fields.finish(faults);
        let Some((floor, span)) = floor else { continue };
        if floor.value.signum() < 0 {
            faults.fault(
                "quantity.negative",
                span,
                "an uncertainty is never below zero",
                "",
                "write it without the sign",
            );
            continue;
        }
        let at = words
            .iter()
            .position(|word| *word == name.text)
            .unwrap_or_else(|| {
                words.push(name.text.clone());
                words.len() - 1
            });
        let Ok(id) = u16::try_from(at).map(MethodId) else {
            continue;
        };
        found.push(Method {
            name,
            id,
            expanded_uncertainty: floor.value,
        });
    }
    found
}

pub(super) fn kind_of(word: &str, span: Span, faults: &mut Faults) -> Option<MeasureKind> {
    let structured = [
        ("yes_no", MeasureKind::YesNo),
        ("profile", MeasureKind::Profile),
        ("line", MeasureKind::Line),
        ("section", MeasureKind::Section),
        ("load_test", MeasureKind::LoadTest),
        ("outline", MeasureKind::Outline),
    ];
    let words = QuantityKind::WORDS
        .iter()
        .map(|(word, kind)| (*word, MeasureKind::Quantity(*kind)))
        .chain(structured);
    let found = read::one_of(word, span, "a kind of measure", words.clone(), faults);
    // The measure is kept as what was most likely meant, so that what uses it is not a fault too.
    found.or_else(|| {
        let near = near_misses(word, words.clone().map(|(word, _)| word))?;
        words
            .clone()
            .find(|(word, _)| *word == near)
            .map(|(_, kind)| kind)
    })
}
