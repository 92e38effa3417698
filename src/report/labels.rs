//! What the items of a record are called.

use std::collections::BTreeMap;

use crate::check::ItemRef;
use crate::record::Record;
use crate::rules::RulesFile;

/// The names of the items of one record, and what is known of its text.
#[derive(Clone, Debug)]
pub struct Labels {
    /// By place in the record: short (`S1`) and whole (`runners/S1`).
    items: Vec<(String, String)>,
    /// By holding: its key.
    holdings: Vec<String>,
    /// Whether the lines of the record are ASCII.
    pub(super) record_ascii: bool,
    /// Whether the rules are ASCII.
    pub(super) rules_ascii: bool,
}

impl Labels {
    /// The names of the items of a record under its rules.
    pub fn of(record: &Record, rules: &RulesFile) -> Labels {
        let vocabulary = &rules.vocabulary;
        let whole: Vec<String> = record
            .items
            .iter()
            .map(|item| item.path(vocabulary))
            .collect();
        let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
        for item in &record.items {
            if let Some(id) = &item.id {
                *seen.entry(id.as_str()).or_default() += 1;
            }
        }
        let items = record
            .items
            .iter()
            .zip(whole)
            .map(|(item, whole)| {
                let alone = |id: &&String| {
                    seen.get(id.as_str()) == Some(&1) && vocabulary.holding_named(id).is_none()
                };
                let short = item.id.as_ref().filter(alone).cloned();
                (short.unwrap_or_else(|| whole.clone()), whole)
            })
            .collect();
        let holdings = vocabulary
            .holdings
            .iter()
            .map(|holding| holding.key.text.clone())
            .collect();
        let source = &record.source;
        let lines = source
            .line_span(record.span.start)
            .join(source.line_span(record.span.end));
        Labels {
            items,
            holdings,
            record_ascii: source.slice(lines.join(record.span)).is_ascii(),
            rules_ascii: rules.source.text().is_ascii(),
        }
    }

    /// The short name: `S1`, `hull`, `boat`; the whole one where two items share an id.
    pub fn short(&self, item: ItemRef) -> &str {
        match item {
            ItemRef::Item(at) => self.items.get(at).map_or("item", |(short, _)| short),
            ItemRef::Holding(id) => self
                .holdings
                .get(id.index())
                .map_or("parts", String::as_str),
        }
    }

    /// The whole name: `runners/S1`, `hull`, `boat`.
    pub fn whole(&self, item: ItemRef) -> &str {
        match item {
            ItemRef::Item(at) => self.items.get(at).map_or("item", |(_, whole)| whole),
            ItemRef::Holding(_) => self.short(item),
        }
    }

    /// Short and whole names in the order of the record.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.items
            .iter()
            .map(|(short, whole)| (short.as_str(), whole.as_str()))
    }
}
