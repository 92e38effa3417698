//! How a value is measured, and when a rule is checked, in words.

use crate::expression::Op;
use crate::rules::{Rule, Stage};

use super::phrase::Phrase;
use super::value::Speaker;

/// `It is measured at 5 places or more, neighbours and ends at most 150 mm apart from the heel to the toe, with 3
/// readings or more at each, whose mean counts`
pub(super) fn places(speaker: &Speaker<'_>, rule: &Rule) -> Option<Phrase> {
    let places = rule.places.as_ref()?;
    let count = |count: u32, one: &str, many: &str| {
        Phrase::of_number(count.to_string())
            .words(format!(" {} or more", if count == 1 { one } else { many }))
    };
    let mut said = Phrase::of("it is measured at ").then(count(places.at_least, "place", "places"));
    if let Some(spacing) = &places.spacing {
        let end = |expression: &crate::expression::Expression| match &expression.root.op {
            Op::Measure(scope, id) => speaker
                .measure(*scope, id.index())
                .map(|measure| Phrase::of(speaker.place(&measure.name.text))),
            _ => None,
        };
        let end = |expression: &crate::expression::Expression| {
            end(expression).unwrap_or_else(|| speaker.value(&expression.root))
        };
        said = said
            .words(", with gaps of at most ")
            .number(spacing.at_most.as_written())
            .words(" from ")
            .then(end(&spacing.from))
            .words(" to ")
            .then(end(&spacing.to));
    }
    if places.repeats > 1 {
        said = said
            .words(", with ")
            .then(count(places.repeats, "reading", "readings"))
            .words(" at each, whose mean counts");
    }
    Some(said)
}

/// `It is checked at self-check and certification`
pub(super) fn stages(rule: &Rule) -> Option<Phrase> {
    let asked: Vec<Phrase> = Stage::ALL
        .into_iter()
        .filter(|stage| *rule.checked_at.at(*stage))
        .map(|stage| Phrase::of(stage.words()))
        .collect();
    if asked.len() < Stage::ALL.len() {
        return Some(
            Phrase::of("it is checked at ")
                .then(Phrase::listed(asked, "and"))
                .words(" only"),
        );
    }
    rule.names_event.then(|| {
        Phrase::of("before an event it is checked only if the level of the event is given")
    })
}
