//! The `marks` part of a rules file.

use super::load_limits::named;
use super::load_mark_terms;
use super::load_rule::{Context, heading};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, quoted};
use crate::vocabulary::{TraitKind, read};

/// The list under `marks`.
pub fn marks(entry: &Entry<'_>, context: &Context<'_>, faults: &mut Faults) -> Vec<MarkRule> {
    let Some(items) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.key_span,
            "marks is a list",
            "not a list",
            "each entry begins with `- id: …`",
        );
        return Vec::new();
    };
    items
        .iter()
        .filter_map(|node| mark(node, context, faults))
        .collect()
}

pub(super) fn mark(
    node: &Node<'_>,
    context: &Context<'_>,
    faults: &mut Faults,
) -> Option<MarkRule> {
    let mut fields = Fields::of(node, "a limit on marks", None, faults)?;
    let heading = heading(&mut fields, faults);
    let vocabulary = context.vocabulary;
    let item = fields
        .require_text("item", faults)
        .and_then(|(text, node)| {
            let many: Vec<_> = vocabulary
                .holdings
                .iter()
                .filter(|holding| holding.many)
                .filter_map(|holding| {
                    // What is marked is a part, never a group of them.
                    let part = vocabulary.part(holding.part)?;
                    (!part.is_group()).then_some(())?;
                    Some((
                        part.name.text.as_str(),
                        vocabulary.holding_named(&holding.key.text)?,
                    ))
                })
                .collect();
            read::one_of(
                text,
                node.span,
                "a part of which there can be many",
                many.into_iter(),
                faults,
            )
            .map(|item| (item, node.span))
        });
    let by = fields.take("by", faults);
    let limits = fields.take("limits", faults);
    let direct = fields.take("at_most", faults);
    let of_which = fields.take("of_which", faults);
    let pairs_entry = fields.take("pairs", faults);
    let bring_entry = fields.take("bring", faults);
    let acts = load_mark_terms::acts(&mut fields, faults);
    let span = fields.span;
    fields.finish(faults);
    let bring = bring_entry
        .map(|entry| load_mark_terms::bring(entry, context, faults))
        .unwrap_or_default();
    let (item, item_span) = item?;
    let part = vocabulary.holding(item)?.part;
    let described = vocabulary.part(part)?;
    let flag = described
        .traits
        .iter()
        .find(|one| matches!(one.kind, TraitKind::Flag))
        .and_then(|one| described.trait_named(&one.name.text));
    let Some(nominated_by) = flag else {
        faults.fault(
            "rules.marks",
            item_span,
            format!(
                "{} has no trait that nominates it",
                quoted(&described.name.text)
            ),
            "can't be told which are meant for marks",
            "give it the trait `marked: { flag: intended }`",
        );
        return None;
    };
    let limit = |entry: &Entry<'_>, faults: &mut Faults| {
        read::count(&entry.node, Some(entry.key_span), "at_most", faults).map(|number| MarkLimit {
            at_most: i64::from(number),
            span: entry.node.span,
        })
    };
    let rows_needed =
        "write `at_most: 9`, or `by: event.level` with `limits: { club: { at_most: 9 } }`";
    let limits = match (by, limits, direct) {
        (None, None, Some(direct)) => limit(direct, faults).map(MarkLimits::Direct),
        (Some(by), Some(limits), None) => {
            let text = read::scalar(&by.node, Some(by.key_span), "by", "event.level", faults)?;
            read::one_of(
                text,
                by.node.span,
                "what marks can depend on",
                std::iter::once(("event.level", ())),
                faults,
            )?;
            let levels = named(&vocabulary.event_levels);
            if levels.is_empty() {
                faults.fault(
                    "rules.by",
                    by.node.span,
                    "this file names no event levels",
                    "nothing to choose from",
                    "name them: `event: { levels: [club, regional] }`",
                );
                return None;
            }
            let mut rows = Vec::new();
            for entry in limits.node.as_mapping().unwrap_or(&[]) {
                let level = read::one_of(
                    &entry.key,
                    entry.key_span,
                    "an event level",
                    levels.iter().map(|(word, id)| (word.as_str(), *id)),
                    faults,
                );
                let Some(mut fields) =
                    Fields::of(&entry.node, "a row of limits", Some(entry.key_span), faults)
                else {
                    continue;
                };
                let found = fields
                    .require("at_most", faults)
                    .and_then(|entry| limit(entry, faults));
                fields.finish(faults);
                if let (Some(level), Some(found)) = (level, found) {
                    rows.push((level, found));
                }
            }
            if limits.node.as_mapping().is_none_or(<[_]>::is_empty) {
                faults.fault(
                    "rules.limits",
                    limits.key_span,
                    "`limits` is a table with a row for each level",
                    "no rows",
                    rows_needed,
                );
            }
            Some(MarkLimits::ByLevel {
                span: by.node.span,
                rows,
            })
        }
        _ => {
            faults.fault(
                "rules.limits",
                span,
                match &heading {
                    Some(heading) => format!(
                        "{} does not say how many may be marked",
                        quoted(&heading.id.text)
                    ),
                    None => "this entry does not say how many may be marked".to_owned(),
                },
                "",
                rows_needed,
            );
            None
        }
    };
    let mut caps = Vec::new();
    let listed = of_which.and_then(|entry| {
        let items = entry.node.as_sequence();
        if items.is_none() {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "`of_which` is a list of caps; here stands {}",
                    entry.node.kind_in_words()
                ),
                "not a list",
                "of_which: [ { where: position is steering, at_most: 3 } ]",
            );
        }
        items
    });
    for node in listed.unwrap_or(&[]) {
        let Some(mut fields) = Fields::of(node, "an entry of `of_which`", None, faults) else {
            continue;
        };
        let condition = fields
            .require("where", faults)
            .and_then(|entry| context.condition(entry, part, faults));
        let at_most = fields
            .require("at_most", faults)
            .and_then(|entry| limit(entry, faults));
        fields.finish(faults);
        if let (Some(condition), Some(limit)) = (condition, at_most) {
            caps.push(MarkCap { condition, limit });
        }
    }
    let pairs = pairs_entry.and_then(|entry| load_mark_terms::pairs(entry, part, context, faults));
    let heading = heading?;
    Some(MarkRule {
        id: heading.id,
        clause: heading.clause,
        title: heading.title,
        text: heading.text,
        text_span: heading.text_span,
        item,
        nominated_by,
        limits: limits?,
        of_which: caps,
        pairs,
        bring,
        exchange: acts.exchange,
        after_last_mark: acts.after_last_mark,
        replacement: acts.replacement,
        mark_on: acts.mark_on,
        remedy: heading.remedy,
    })
}
