//! What an entry of `marks` asks beside numbers: pairs, what to bring, and what may be done with a mark.

use super::load_rule::Context;
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, quoted};
use crate::vocabulary::{HoldingId, Name, Part, PartId, TraitId, TraitKind, read};

/// `pairs: { where: position is side, alike: [construction] }`.
pub(super) fn pairs(
    entry: &Entry<'_>,
    part: PartId,
    context: &Context<'_>,
    faults: &mut Faults,
) -> Option<MarkPairs> {
    let mut fields = Fields::of(&entry.node, "`pairs`", Some(entry.key_span), faults)?;
    let condition = fields
        .require("where", faults)
        .and_then(|entry| context.condition(entry, part, faults));
    let described = context.vocabulary.part(part)?;
    let alike = fields
        .require("alike", faults)
        .map(|entry| alike(entry, described, faults));
    fields.finish(faults);
    Some(MarkPairs {
        condition: condition?,
        alike: alike?,
        span: entry.node.label_span(Some(entry.key_span)),
    })
}

fn alike(entry: &Entry<'_>, part: &Part, faults: &mut Faults) -> Vec<(TraitId, crate::text::Span)> {
    let items = entry.node.as_sequence().filter(|list| !list.is_empty());
    let Some(items) = items else {
        let stands = match entry.node.as_sequence() {
            Some(_) => "an empty list",
            None => entry.node.kind_in_words(),
        };
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "`alike` is a list of traits that are the same in a pair; here stands {stands}"
            ),
            "no traits",
            "alike: [construction]",
        );
        return Vec::new();
    };
    let mut found: Vec<(TraitId, crate::text::Span)> = Vec::new();
    for node in items {
        let Some(id) = alike_trait(node, part, faults) else {
            continue;
        };
        if let Some((_, first)) = found.iter().find(|(other, _)| *other == id) {
            let first = *first;
            let text = node.as_text().unwrap_or("");
            faults.fault(
                "name.twice",
                node.span,
                format!("{} is named twice", quoted(text)),
                "again here",
                "take one of the two out",
            );
            faults.also(first, "first here");
            continue;
        }
        found.push((id, node.span));
    }
    found
}

/// A trait with choices: what is the same in a pair is told by the word.
fn alike_trait(node: &Node<'_>, part: &Part, faults: &mut Faults) -> Option<TraitId> {
    let text = read::scalar(node, None, "a trait", "a name", faults)?;
    let choices = part.traits.iter().filter_map(|one| {
        let name = one.name.text.as_str();
        matches!(one.kind, TraitKind::Choice(_)).then_some((name, part.trait_named(name)?))
    });
    let other = part.trait_named(text).is_some_and(|id| {
        let one = part.traits.get(id.index());
        one.is_some_and(|one| !matches!(one.kind, TraitKind::Choice(_)))
    });
    let what = if other {
        "a trait with choices"
    } else if part.measure_named(text).is_some() || part.derived_named(text).is_some() {
        "a trait: a pair is alike in what is declared, and a limit on what is measured is a rule on a group"
    } else {
        let what = format!("a trait of {} that has choices", part.name.text);
        return read::one_of(text, node.span, &what, choices, faults);
    };
    if let Some((_, id)) = choices.clone().find(|(name, _)| *name == text) {
        return Some(id);
    }
    let words: Vec<&str> = choices.map(|(name, _)| name).collect();
    let help = match words.is_empty() {
        true => format!("{} has none", part.name.text),
        false => format!("{} has: {}", part.name.text, words.join(", ")),
    };
    faults.fault(
        "rules.alike",
        node.span,
        format!("{} is not {what}", quoted(text)),
        "pairs can't be told by it",
        help,
    );
    None
}

/// `bring: { sets: 1 }`.
pub(super) fn bring(
    entry: &Entry<'_>,
    context: &Context<'_>,
    faults: &mut Faults,
) -> Vec<MarkBring> {
    let Some(entries) = entry.node.as_mapping().filter(|list| !list.is_empty()) else {
        let stands = match entry.node.as_mapping() {
            Some(_) => "nothing",
            None => entry.node.kind_in_words(),
        };
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "`bring` is written as parts or groups, each with a number; here stands {stands}"
            ),
            "not a mapping",
            "bring: { sets: 1 }",
        );
        return Vec::new();
    };
    let vocabulary = context.vocabulary;
    let many: Vec<(&str, HoldingId)> = vocabulary
        .holdings
        .iter()
        .filter(|holding| holding.many)
        .filter_map(|holding| {
            let key = holding.key.text.as_str();
            Some((key, vocabulary.holding_named(key)?))
        })
        .collect();
    let mut found = Vec::new();
    for entry in entries {
        let what = "a name of parts or groups";
        let words = many.iter().copied();
        let holding = read::one_of(&entry.key, entry.key_span, what, words, faults);
        let number = read::count(&entry.node, Some(entry.key_span), "what to bring", faults);
        if let (Some(holding), Some(number)) = (holding, number) {
            found.push(MarkBring {
                holding,
                at_least: i64::from(number),
                span: entry.node.span,
            });
        }
    }
    found
}

/// What may be done with a mark.
#[derive(Default)]
pub(super) struct Acts {
    pub(super) exchange: Option<Exchange>,
    pub(super) after_last_mark: Option<AfterLastMark>,
    pub(super) replacement: Option<Replacement>,
    pub(super) mark_on: Option<Name>,
}

pub(super) fn acts(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Acts {
    let exchange = fields
        .take_text("exchange", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "what `exchange` can be",
                Exchange::WORDS.iter().copied(),
                faults,
            )
        });
    let after = fields.take_text("after_last_mark", faults);
    let after_last_mark = after.and_then(|(text, node)| {
        read::one_of(
            text,
            node.span,
            "what `after_last_mark` can be",
            AfterLastMark::WORDS.iter().copied(),
            faults,
        )
    });
    if let (Some(Exchange::Never), Some(AfterLastMark::ExchangeAllowed), Some((_, node))) =
        (exchange, after_last_mark, after)
    {
        faults.fault(
            "rules.marks",
            node.span,
            "`exchange` is never, and still allowed after the last mark",
            "against `exchange: never`",
            "write `after_last_mark: final`, or leave it out",
        );
    }
    let replacement = fields
        .take_text("replacement", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "what `replacement` can be",
                Replacement::WORDS.iter().copied(),
                faults,
            )
        });
    let mark_on = fields.take_text("mark_on", faults).map(|(text, node)| {
        if !read::is_name(text) {
            faults.fault(
                "name.form",
                node.span,
                format!("{} can't say what the mark is put on", quoted(text)),
                "not one word",
                "write one word with small letters, digits and _: `mark_on: steel`",
            );
        }
        Name {
            text: text.to_owned(),
            span: node.span,
        }
    });
    Acts {
        exchange,
        after_last_mark,
        replacement,
        mark_on,
    }
}
