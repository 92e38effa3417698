//! How a rule judges places, and at which stages it is asked.

use super::load_rule::Context;
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{Expression, Type};
use crate::quantity::Dimension;
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::{PartId, read};

pub(super) fn judged(
    context: &Context<'_>,
    entry: Option<&Entry<'_>>,
    value: &Expression,
    value_span: Span,
    faults: &mut Faults,
) -> Judged {
    let said = entry.and_then(|entry| {
        let text = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "judged",
            "a word",
            faults,
        )?;
        let words = [("worst_place", Judged::WorstPlace), ("mean", Judged::Mean)];
        read::one_of(
            text,
            entry.node.span,
            "a way to judge places",
            words.into_iter(),
            faults,
        )
    });
    match (value.yields.placed, said, entry) {
        (true, Some(judged), _) => judged,
        (true, None, None) => {
            faults.fault(
                "rules.judged",
                value_span,
                format!(
                    "{} is taken at places, and the rule does not say how they are judged",
                    quoted(&value.text)
                ),
                "a placed value",
                "add `judged: worst_place` or `judged: mean`",
            );
            Judged::WorstPlace
        }
        (true, None, Some(_)) => Judged::WorstPlace,
        (false, _, Some(_)) if !context.sound => Judged::Unplaced,
        (false, _, Some(entry)) => {
            faults.fault(
                "rules.unplaced",
                entry.key_span,
                format!(
                    "{} is one value, not one for each place",
                    quoted(&value.text)
                ),
                "nothing to choose",
                "take `judged` out",
            );
            Judged::Unplaced
        }
        (false, _, None) => Judged::Unplaced,
    }
}

pub(super) fn places(
    entry: &Entry<'_>,
    context: &Context<'_>,
    part: PartId,
    faults: &mut Faults,
) -> Option<Places> {
    let mut fields = Fields::of(&entry.node, "places", Some(entry.key_span), faults)?;
    let at_least_entry = fields.take("at_least", faults);
    let at_least = at_least_entry
        .map(|entry| read::count(&entry.node, Some(entry.key_span), "at_least", faults));
    let repeats = fields
        .take("repeats", faults)
        .map(|entry| read::count(&entry.node, Some(entry.key_span), "repeats", faults));
    if let Some((text, node)) = fields.take_text("combine", faults) {
        read::one_of(
            text,
            node.span,
            "a way to combine repeats",
            std::iter::once(("mean", ())),
            faults,
        );
    }
    let spaced = fields.take("spaced_at_most", faults);
    let from = fields.take("from", faults);
    let to = fields.take("to", faults);
    let span = fields.span;
    fields.finish(faults);
    let spacing = match (spaced, from, to) {
        (None, None, None) => None,
        (Some(spaced), Some(from), Some(to)) => {
            let at_most = read::quantity(
                &spaced.node,
                Some(spaced.key_span),
                "spaced_at_most",
                Dimension::LENGTH,
                faults,
            );
            let mut end = |entry: &Entry<'_>| {
                let end = context.value(&entry.node, part, faults)?;
                let fits =
                    end.yields.kind == Type::Quantity(Dimension::LENGTH) && !end.yields.placed;
                if !fits {
                    faults.fault(
                        "rules.places",
                        entry.node.span,
                        format!("{} is no single position along the item", quoted(&end.text)),
                        "",
                        "a position such as `heel_at`, or a distance",
                    );
                }
                fits.then_some(end)
            };
            let from = end(from);
            let to = end(to);
            match (at_most, from, to) {
                (Some(at_most), Some(from), Some(to)) => Some(Spacing { at_most, from, to }),
                _ => None,
            }
        }
        _ => {
            faults.fault(
                "rules.places",
                span,
                "`spaced_at_most`, `from` and `to` stand together",
                "",
                "places: { at_least: 5, spaced_at_most: 150 mm, from: heel_at, to: toe_at }",
            );
            None
        }
    };
    Some(Places {
        at_least: at_least.flatten().unwrap_or(1).max(1),
        span: at_least_entry.map_or(span, |entry| entry.node.span),
        spacing,
        repeats: repeats.flatten().unwrap_or(1).max(1),
    })
}

pub(super) fn checked_at(entry: &Entry<'_>, faults: &mut Faults) -> ByStage<bool> {
    let mut found = ByStage {
        self_check: false,
        certification: false,
        event_inspection: false,
    };
    let items = entry.node.as_sequence().unwrap_or(&[]);
    if items.is_empty() {
        faults.fault(
            "rules.checked_at",
            entry.key_span,
            "`checked_at` is a list of stages",
            "",
            "checked_at: [certification, event_inspection]",
        );
    }
    for node in items {
        let Some(text) = read::scalar(node, None, "a stage", "a name", faults) else {
            continue;
        };
        let words = Stage::ALL.into_iter().map(|stage| (stage.word(), stage));
        match read::one_of(text, node.span, "a stage", words, faults) {
            Some(Stage::SelfCheck) => found.self_check = true,
            Some(Stage::Certification) => found.certification = true,
            Some(Stage::EventInspection) => found.event_inspection = true,
            None => {}
        }
    }
    found
}
