//! A record from its tree to typed data: everything that is wrong with it, at once.

use std::sync::Arc;

use super::head::{FORMAT, class_of, format_line, root};
use super::keys::{Keys, Loader, TopKey};
use super::model::*;
use super::reader::{Reader, limits, take};
use super::values::{Allowed, Wanted};
use crate::diagnostic::Diagnostic;
use crate::quantity::Dimension;
use crate::text::{Entry, Node, Source, Span, quoted};
use crate::vocabulary::{HoldingId, Vocabulary, read};

/// Loads a record by a vocabulary. For many records make one [`Loader`].
///
/// # Errors
/// Every fault, in the order in which it was found; after [`limits::FAULTS`] reading stops.
pub fn load(
    source: &Arc<Source>,
    node: &Node<'_>,
    vocabulary: &Vocabulary,
) -> Result<Record, Vec<Diagnostic>> {
    Loader::new(vocabulary).load(source, node)
}

/// Loads a part of a record, as a case gives it: without format, class and sail number. A part of the boat
/// can be named by its kind (`runner: { … }`), and ids may be absent.
///
/// # Errors
/// As [`load`].
pub fn load_fragment(
    source: &Arc<Source>,
    node: &Node<'_>,
    vocabulary: &Vocabulary,
) -> Result<Record, Vec<Diagnostic>> {
    Loader::new(vocabulary).load_fragment(source, node)
}

impl Loader<'_> {
    /// Loads a record. Refuses at least what its JSON Schema refuses, so that a fleet needs no schema check.
    ///
    /// # Errors
    /// As [`load`].
    pub fn load(&self, source: &Arc<Source>, node: &Node<'_>) -> Result<Record, Vec<Diagnostic>> {
        let mut reader = Reader::new(self, source, false);
        let record = reader.whole(node);
        reader.finish(record)
    }

    /// Loads a part of a record, see [`load_fragment`].
    ///
    /// # Errors
    /// As [`load`].
    pub fn load_fragment(
        &self,
        source: &Arc<Source>,
        node: &Node<'_>,
    ) -> Result<Record, Vec<Diagnostic>> {
        let mut reader = Reader::new(self, source, true);
        let record = reader.part(node);
        reader.finish(record)
    }
}

/// The named entries at the top of a record.
#[derive(Default)]
struct Top<'n> {
    boat: Option<&'n Entry<'n>>,
    measured: Option<&'n Entry<'n>>,
    instruments: Option<&'n Entry<'n>>,
    unlisted: Option<&'n Entry<'n>>,
    notes: Option<&'n Entry<'n>>,
}

impl<'a> Reader<'a> {
    fn finish(mut self, record: Option<Record>) -> Result<Record, Vec<Diagnostic>> {
        if self.is_full() {
            let message = format!("reading stopped after {} faults", limits::FAULTS);
            let diagnostic = Diagnostic::fault("record.too_many_faults", message);
            self.faults
                .push(diagnostic.help("mend these and check again"));
        }
        self.faults.into_result(record)
    }

    fn whole(&mut self, node: &'a Node<'a>) -> Option<Record> {
        let entries = root(node, FORMAT, "a record", &mut self.faults)?;
        let format = format_line(entries, node, FORMAT, "a record", &mut self.faults);
        class_of(entries, node, "a record", &mut self.faults);
        format?;
        let loader = self.loader;
        self.record(node, entries, &loader.top, "a record")
    }

    fn part(&mut self, node: &'a Node<'a>) -> Option<Record> {
        let entries = self.mapping(
            node,
            None,
            "a part of a record",
            "{ runner: { construction: insert } }",
        )?;
        let loader = self.loader;
        self.record(node, entries, &loader.partial, "a part of a record")
    }

    fn record(
        &mut self,
        node: &'a Node<'a>,
        entries: &'a [Entry<'a>],
        keys: &Keys<'_, TopKey>,
        what: &str,
    ) -> Option<Record> {
        let mut top = Top::default();
        for entry in entries {
            let slot = match keys.get(entry.key.as_bytes()) {
                Some(TopKey::Format | TopKey::Class | TopKey::PassedOver) => continue,
                Some(TopKey::Boat) => &mut top.boat,
                Some(TopKey::Measured) => &mut top.measured,
                Some(TopKey::Instruments) => &mut top.instruments,
                Some(TopKey::Unlisted) => &mut top.unlisted,
                Some(TopKey::Notes) => &mut top.notes,
                // Read below, when the instruments are known.
                Some(TopKey::Holding(_) | TopKey::One(_) | TopKey::Group(_)) => continue,
                None => {
                    if !self.is_old_at_the_top(entry, entries, keys)
                        && !self.passes_over(entry, entries, keys.words())
                    {
                        self.unknown_among(entry, what, keys.words());
                    }
                    continue;
                }
            };
            if entry.node.is_null() {
                self.nothing(entry, what);
            } else {
                *slot = Some(entry);
            }
            if self.is_full() {
                return None;
            }
        }
        let measured = top
            .measured
            .map(|entry| self.session(entry))
            .unwrap_or_default();
        if let Some(entry) = top.instruments {
            self.read_instruments(entry);
        }
        let mut items = Vec::new();
        let boat = match top.boat {
            Some(entry) => self.boat(entry, &mut items),
            None => {
                items.push(self.empty_boat(node.label_span(None)));
                if !self.partial && !entries.iter().any(|entry| entry.key == "boat") {
                    let help = "write `boat: { sail_number: T8 41 }`";
                    self.missing("boat", what, node.label_span(None), help);
                }
                None
            }
        };
        for entry in entries {
            if self.is_full() {
                return None;
            }
            match self.loader.top_key(keys, &entry.key, self.partial) {
                Some(TopKey::Holding(_) | TopKey::One(_) | TopKey::Group(_))
                    if entry.node.is_null() =>
                {
                    self.nothing(entry, what);
                }
                Some(TopKey::Holding(holding)) => self.holding(entry, holding, &mut items),
                Some(TopKey::One(holding)) => self.one_of_many(entry, holding, &mut items),
                Some(_) | None => {}
            }
        }
        let whole = !self.lost_parts(entries, keys, &items);
        for entry in entries {
            if let Some(TopKey::Group(id)) = self.loader.top_key(keys, &entry.key, self.partial)
                && !entry.node.is_null()
            {
                self.groups(entry, id, whole, &mut items);
            }
            if self.is_full() {
                return None;
            }
        }
        let unlisted = top
            .unlisted
            .map(|entry| self.unlisted(entry, &items))
            .unwrap_or_default();
        let notes = top.notes.map(|entry| self.notes(entry)).unwrap_or_default();
        let boat = match boat {
            Some(boat) => boat,
            None if self.partial => BoatHead::default(),
            None => return None,
        };
        Some(Record {
            source: Arc::clone(self.source),
            span: node.span,
            sail_number: boat.sail_number,
            sail_number_span: boat.sail_number_span,
            boat_name: boat.name,
            owner: boat.owner,
            measured,
            instruments: Arc::new(std::mem::take(&mut self.instruments)),
            items,
            unlisted,
            notes,
            old_names: std::mem::take(&mut self.old_names),
            left_out: std::mem::take(&mut self.left_out),
        })
    }

    /// Whether a part of the boat could not be read, or has no id: a group may name it.
    fn lost_parts(&self, entries: &[Entry<'_>], keys: &Keys<'_, TopKey>, items: &[Item]) -> bool {
        let vocabulary = self.loader.vocabulary;
        entries.iter().any(|entry| {
            let (id, wanted) = match self.loader.top_key(keys, &entry.key, self.partial) {
                Some(TopKey::Holding(id)) => (id, entry.node.as_sequence().map(<[_]>::len)),
                Some(TopKey::One(id)) => (id, entry.node.as_mapping().map(|_| 1)),
                Some(_) | None => return false,
            };
            let many = vocabulary.holding(id).is_some_and(|holding| holding.many);
            let named = |item: &&Item| item.holding == Some(id) && item.id.is_some();
            many && wanted.is_none_or(|wanted| items.iter().filter(named).count() < wanted)
        })
    }

    fn session(&mut self, entry: &'a Entry<'a>) -> Session {
        const WHAT: &str = "`measured`";
        const FORM: &str = "`measured: { day: 2026-11-21, by: AB }`";
        let mut session = Session::default();
        let Some(entries) = self.mapping(&entry.node, Some(entry.key_span), WHAT, FORM) else {
            return session;
        };
        take!(self, entries, WHAT; "day" => day, "by" => by, "place" => place, "temperature" => temperature);
        session.day = day.and_then(|entry| self.day(entry));
        self.by = by.and_then(|entry| self.free_text(entry));
        session.by = self.by.map(str::to_owned);
        session.place = place
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        session.temperature = temperature.and_then(|entry| {
            let wanted = Wanted::new("temperature", Dimension::TEMPERATURE, Allowed::FromZero);
            let quantity = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
            Some((quantity.value, quantity.unit))
        });
        session
    }

    /// Parts of the boat under the key of their holding.
    fn holding(&mut self, entry: &'a Entry<'a>, id: HoldingId, items: &mut Vec<Item>) {
        let vocabulary = self.loader.vocabulary;
        let Some(holding) = vocabulary.holding(id) else {
            return;
        };
        if !holding.many {
            if let Some(item) = self.item(&entry.node, Some(entry.key_span), id) {
                self.add(item, items);
            }
            return;
        }
        let Some(nodes) = entry.node.as_sequence() else {
            let key = &entry.key;
            let kind = vocabulary
                .part(holding.part)
                .map_or("", |part| part.name.text.as_str());
            self.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{} is a list, one entry for each {kind}; here stands {}",
                    quoted(key),
                    entry.node.kind_in_words()
                ),
                "not a list",
                "begin each entry with `- id: …`",
            );
            return;
        };
        items.reserve(nodes.len().min(limits::ITEMS));
        for node in nodes {
            if self.is_full() {
                return;
            }
            let Some(item) = self.item(node, None, id) else {
                continue;
            };
            if !self.add(item, items) {
                return;
            }
        }
    }

    /// One part named by its kind, in a part of a record.
    fn one_of_many(&mut self, entry: &'a Entry<'a>, id: HoldingId, items: &mut Vec<Item>) {
        if let Some(item) = self.item(&entry.node, Some(entry.key_span), id) {
            self.add(item, items);
        }
    }

    /// Adds an item; false when there are too many. Its id must be its own; in a part of a record one that
    /// is absent is made: `r1` for the first runner.
    pub(super) fn add(&mut self, mut item: Item, items: &mut Vec<Item>) -> bool {
        if items.len() >= limits::ITEMS {
            let message = format!("a record has at most {} parts", limits::ITEMS);
            self.fault(
                "record.too_many",
                item.span,
                message,
                "the limit is passed here",
                "",
            );
            return false;
        }
        let vocabulary = self.loader.vocabulary;
        let many = item
            .holding
            .and_then(|id| vocabulary.holding(id))
            .is_some_and(|holding| holding.many);
        if many && item.id.is_none() && self.partial {
            let letter = vocabulary
                .part(item.part)
                .and_then(|part| part.name.text.chars().next())
                .unwrap_or('p');
            let free = |id: &String| {
                !items
                    .iter()
                    .any(|other| other.holding == item.holding && other.id.as_ref() == Some(id))
            };
            item.id = (1..=limits::ITEMS + 1)
                .map(|number| format!("{letter}{number}"))
                .find(free);
        }
        // A missing id was told before.
        let comparable = !many || item.id.is_some();
        let same = items
            .iter()
            .find(|other| comparable && other.holding == item.holding && other.id == item.id);
        if let Some(first) = same.map(|first| first.span) {
            self.twice(&item, first);
        }
        items.push(item);
        true
    }

    #[cold]
    fn twice(&mut self, item: &Item, first: Span) {
        let (message, help) = match &item.id {
            Some(id) => (
                format!("the id {} is given twice", quoted(id)),
                "ids are unique within one list",
            ),
            None => ("a part of which there is one is given twice".to_owned(), ""),
        };
        if !self.is_full() {
            self.fault("record.id_twice", item.span, message, "again here", help);
            self.faults.also(first, "first here");
        }
    }

    pub(super) fn unlisted(&mut self, entry: &'a Entry<'a>, items: &[Item]) -> Vec<Unlisted> {
        const WHAT: &str = "an unlisted part";
        const FORM: &str =
            "`- { part: runners/S1, what: heated grip, seen_by: AB, day: 2026-11-21 }`";
        let mut found = Vec::new();
        let Some(nodes) = self.list(entry, "a list of parts that the rules don't name", FORM)
        else {
            return found;
        };
        for node in nodes {
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT; "part" => part, "what" => what, "seen_by" => seen_by, "day" => day);
            let item = self
                .require(part, "part", WHAT, entries, span, FORM)
                .and_then(|entry| self.item_named(entry, items));
            let what = self
                .require(what, "what", WHAT, entries, span, FORM)
                .and_then(|entry| self.free_text(entry));
            let seen_by = seen_by.and_then(|entry| self.free_text(entry));
            let day = day.and_then(|entry| self.day(entry));
            if let (Some(item), Some(what)) = (item, what) {
                let span = part.map_or(span, |entry| entry.node.span);
                found.push(Unlisted {
                    item,
                    what: what.to_owned(),
                    seen_by: seen_by.map(str::to_owned),
                    day,
                    span,
                });
            }
        }
        found
    }

    /// The item of a path: `boat`, `hull`, `runners/S1`.
    fn item_named(&mut self, entry: &'a Entry<'a>, items: &[Item]) -> Option<usize> {
        let text = self.word(entry, "a part such as runners/S1")?;
        let vocabulary = self.loader.vocabulary;
        // A group is no part: what is on it is on one of the parts in it.
        let parts = items.iter().filter(|item| item.members.is_none());
        let named = |text: &str| {
            items
                .iter()
                .position(|item| item.members.is_none() && item.path(vocabulary) == text)
        };
        let mut found = named(text);
        if found.is_none()
            && let Some((holding, id)) = text.split_once('/')
        {
            found = named(&format!("{}/{id}", self.loader.holding_word(holding)));
        }
        // What is on a part that was passed over is passed over with it.
        let holding = text.split('/').next().unwrap_or(text);
        if self.loader.unknown && self.left_out.iter().any(|key| key == holding) {
            return None;
        }
        if found.is_none() && !self.is_full() {
            let paths: Vec<String> = parts.map(|item| item.path(vocabulary)).collect();
            let words = paths.iter().map(|path| (path.as_str(), ()));
            let what = "a part of this boat";
            read::one_of(
                text,
                entry.node.label_span(Some(entry.key_span)),
                what,
                words,
                &mut self.faults,
            );
        }
        found
    }

    /// Remarks: one text or a list of them.
    pub(super) fn notes(&mut self, entry: &'a Entry<'a>) -> Vec<String> {
        let Some(nodes) = entry.node.as_sequence() else {
            return self
                .free_text(entry)
                .map(|text| vec![text.to_owned()])
                .unwrap_or_default();
        };
        if !self.fits(nodes.len(), &entry.key, entry.key_span) {
            return Vec::new();
        }
        let texts = nodes
            .iter()
            .filter_map(|node| self.free_text_in(node, Some(entry.key_span), &entry.key));
        texts.map(str::to_owned).collect()
    }
}

/// What only the boat itself has.
#[derive(Default)]
pub(super) struct BoatHead {
    pub sail_number: String,
    pub sail_number_span: Span,
    pub name: Option<String>,
    pub owner: Option<String>,
}
