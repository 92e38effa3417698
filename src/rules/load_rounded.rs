//! `rounded_to` beside a limit, and the lists under `only` and `without`.

use super::load_limits::{RowReader, choices};
use super::model::*;
use crate::diagnostic::Faults;
use crate::expression::{Expression, Type};
use crate::quantity::{Dimension, Quantity};
use crate::text::{Entry, quoted};
use crate::vocabulary::{ChoiceId, read};

const STEP: &str = "write the step that values are rounded to, as in `rounded_to: 0.1 mm`";

impl RowReader<'_> {
    /// The step behind `rounded_to`.
    pub(super) fn step(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Quantity> {
        let Type::Quantity(dimension) = self.value.yields.kind else {
            faults.fault(
                "rules.rounded_to",
                entry.key_span,
                format!(
                    "{} is {}, which is never rounded",
                    quoted(&self.value.text),
                    self.value.yields.kind.in_words()
                ),
                "",
                "only what is measured is rounded; take `rounded_to` out",
            );
            return None;
        };
        if dimension == Dimension::TEMPERATURE {
            faults.fault(
                "rules.rounded_to",
                entry.key_span,
                "a temperature is not rounded before it is compared",
                "",
                "write the limit itself, such as `at_least: -10 degC`",
            );
            return None;
        }
        let key_span = Some(entry.key_span);
        let step = read::quantity(&entry.node, key_span, "rounded_to", dimension, faults)?;
        if step.value.signum() > 0 {
            return Some(step);
        }
        faults.fault(
            "rules.rounded_to",
            entry.node.span,
            format!("{} is no step", quoted(&step.as_written())),
            "not above zero",
            STEP,
        );
        None
    }

    /// The choices behind `only` or `without`.
    pub(super) fn listed(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Vec<ChoiceId>> {
        let (Type::Choice(part, id) | Type::AnyOf(part, id)) = self.value.yields.kind else {
            faults.fault(
                "rules.limits",
                entry.key_span,
                format!(
                    "{} is {}; `{}` lists choices of a trait",
                    quoted(&self.value.text),
                    self.value.yields.kind.in_words(),
                    entry.key
                ),
                "nothing to choose from",
                "a trait with choices, `construction: [plate, insert]`, or a list trait, `body_material: { any_of: [wood, glass] }`, has them",
            );
            return None;
        };
        let choices = choices(self.context.vocabulary, part, id);
        let example = choices.first().map_or("wood", |(word, _)| word.as_str());
        let form = format!("{}: [{example}]", entry.key);
        let Some(nodes) = entry.node.as_sequence() else {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!("`{}` is a list of choices", entry.key),
                "not a list",
                form,
            );
            return None;
        };
        if nodes.is_empty() {
            faults.fault(
                "rules.limits",
                entry.key_span,
                format!("`{}` names nothing", entry.key),
                "an empty list",
                form,
            );
            return None;
        }
        let mut found: Vec<ChoiceId> = Vec::new();
        let mut whole = true;
        for node in nodes {
            let text = read::scalar(node, None, "a choice", "a word", faults);
            let choice = text.and_then(|text| {
                if text == "other" {
                    faults.fault(
                        "rules.limits",
                        node.span,
                        "`other` is what the rules do not know, and can't be listed",
                        "take it out",
                        "name what is meant as a choice of the trait",
                    );
                    return None;
                }
                read::one_of(
                    text,
                    node.span,
                    &format!("a choice of {}", quoted(&self.value.text)),
                    choices.iter().map(|(word, id)| (word.as_str(), *id)),
                    faults,
                )
            });
            match choice {
                Some(choice) if found.contains(&choice) => {
                    whole = false;
                    faults.fault(
                        "name.twice",
                        node.span,
                        format!("{} is named twice", quoted(text.unwrap_or_default())),
                        "again here",
                        "take one of the two out",
                    );
                }
                Some(choice) => found.push(choice),
                None => whole = false,
            }
        }
        whole.then_some(found)
    }
}

/// The exact limit that a limit on rounded values comes to.
pub(super) fn rounded(
    kind: BoundKind,
    limit: &Expression,
    step: &Quantity,
    entry: &Entry<'_>,
    faults: &mut Faults,
) -> Option<Rounded> {
    let Some(value) = limit.root.constant() else {
        faults.fault(
            "rules.rounded_to",
            entry.node.span,
            "a computed limit is not rounded to",
            "no written number",
            "`rounded_to` stands beside a number, as in `at_least: 4.7 mm, rounded_to: 0.1 mm`",
        );
        return None;
    };
    let found = Rounded::new(kind, &value, step.clone());
    if found.is_none() {
        faults.fault(
            "rules.rounded_to",
            entry.node.span,
            format!(
                "the limit {} is no multiple of {}, so that no rounded value can lie on it",
                quoted(&limit.text),
                step.as_written()
            ),
            "between two steps",
            "write a limit that a rounded value can have, or another step",
        );
    }
    found
}
