//! The boat and its parts: ids, traits, work.

use super::keys::ItemKey;
use super::load::BoatHead;
use super::model::*;
use super::reader::{Reader, take};
use crate::diagnostic::safe_line;
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{
    ChoiceId, HoldingId, Part, PartId, Trait, TraitId, TraitKind, Vocabulary, read,
};

/// How an item's id is written.
const ID: &str = "an id has 1 to 16 letters, digits and . _ -";

impl<'a> Reader<'a> {
    /// A boat of which nothing is said.
    pub(super) fn empty_boat(&self, span: Span) -> Item {
        let part = self.loader.vocabulary.part(Vocabulary::BOAT);
        empty_item(None, Vocabulary::BOAT, part, span)
    }

    /// The boat itself, always the first item; its head if it has a sail number or needs none.
    pub(super) fn boat(&mut self, entry: &'a Entry<'a>, items: &mut Vec<Item>) -> Option<BoatHead> {
        let mut item = self.empty_boat(entry.key_span);
        let form = "`boat: { sail_number: T8 41 }`";
        let Some(entries) = self.mapping(&entry.node, Some(entry.key_span), "the boat", form)
        else {
            items.push(item);
            return None;
        };
        let mut head = BoatHead::default();
        let mut named = false;
        let part = self.loader.vocabulary.part(Vocabulary::BOAT);
        for entry in entries {
            match self.item_entry((entry, entries), part, &mut item) {
                Some(ItemKey::SailNumber) => {
                    named = true;
                    if let Some(text) = self.sail_number(entry) {
                        head.sail_number = text.to_owned();
                        head.sail_number_span = entry.node.span;
                    }
                }
                Some(ItemKey::Name) => head.name = self.free_text(entry).map(str::to_owned),
                Some(ItemKey::Owner) => head.owner = self.free_text(entry).map(str::to_owned),
                Some(_) | None => {}
            }
            if self.is_full() {
                break;
            }
        }
        items.push(item);
        if !named && !self.partial {
            let there = entries.iter().any(|entry| entry.key == "sail_number");
            if !there {
                self.missing(
                    "sail_number",
                    "the boat",
                    entry.node.label_span(Some(entry.key_span)),
                    "write `sail_number: T8 41`",
                );
            }
            return None;
        }
        Some(head)
    }

    fn sail_number(&mut self, entry: &'a Entry<'a>) -> Option<&'a str> {
        let text = self.free_text(entry)?;
        let span = entry.node.label_span(Some(entry.key_span));
        if !is_sail_number(text) {
            let message = format!("{} is no sail number", quoted(text));
            self.fault(
                "record.sail_number",
                span,
                message,
                "",
                "a sail number is one line of at most 40 characters that can be seen",
            );
            return None;
        }
        Some(text)
    }

    /// One part of the boat.
    pub(super) fn item(
        &mut self,
        node: &'a Node<'a>,
        key_span: Option<Span>,
        id: HoldingId,
    ) -> Option<Item> {
        let vocabulary = self.loader.vocabulary;
        let holding = vocabulary.holding(id)?;
        let part = vocabulary.part(holding.part)?;
        let Some(entries) = node.as_mapping() else {
            let form = if holding.many {
                "`- id: S1` with what was measured below it"
            } else {
                ""
            };
            self.mapping(node, key_span, &a(&part.name.text), form);
            return None;
        };
        let span = key_span.unwrap_or_else(|| node.label_span(None));
        let mut item = empty_item(Some(id), holding.part, Some(part), span);
        for entry in entries {
            let key = self.item_entry((entry, entries), Some(part), &mut item);
            if key == Some(ItemKey::Id) {
                self.item_id(entry, holding.many, part, &mut item);
            }
            if self.is_full() {
                return None;
            }
        }
        if holding.many
            && item.id.is_none()
            && !self.partial
            && !entries.iter().any(|entry| entry.key == "id")
        {
            self.missing(
                "id",
                &a(&part.name.text),
                node.label_span(key_span),
                &format!("write `id: S1`; {ID}"),
            );
        }
        Some(item)
    }

    pub(super) fn item_id(
        &mut self,
        entry: &'a Entry<'a>,
        many: bool,
        part: &Part,
        item: &mut Item,
    ) {
        if !many {
            let message = format!("{} has no key `id`", a(&part.name.text));
            self.fault(
                "file.unknown_key",
                entry.key_span,
                message,
                "not known here",
                "a boat has one of it: it needs no id",
            );
            return;
        }
        let Some(text) = self.word(entry, "an id such as S1") else {
            return;
        };
        if !is_id(text) {
            let span = entry.node.label_span(Some(entry.key_span));
            self.fault(
                "record.id",
                span,
                format!("{} is no id", quoted(text)),
                "not an id",
                ID,
            );
            return;
        }
        item.id = Some(text.to_owned());
        item.span = entry.node.span;
    }

    /// An entry of an item: what can be read by the vocabulary is put into its slot, anything else is the
    /// caller's and given back. A key with nothing behind it is a fault and nobody's.
    pub(super) fn item_entry(
        &mut self,
        (entry, entries): (&'a Entry<'a>, &'a [Entry<'a>]),
        part: Option<&'a Part>,
        item: &mut Item,
    ) -> Option<ItemKey> {
        let part = part?;
        let loader = self.loader;
        let keys = loader.item_keys(item.part);
        let known = keys.get(entry.key.as_bytes());
        let Some(key) = known.or_else(|| self.old_item_key(item.part, entry)) else {
            let passed = |word: &&str| keys.get(word.as_bytes()) != Some(ItemKey::PassedOver);
            if part.derived_named(&entry.key).is_none()
                && self.passes_over(entry, entries, keys.words().filter(passed))
            {
                return None;
            }
            self.unknown_item_key(entry, part, keys.words());
            return None;
        };
        if key == ItemKey::PassedOver {
            return None;
        }
        if entry.node.is_null() {
            self.nothing(entry, &self.the(part));
            return None;
        }
        match key {
            ItemKey::Trait(slot) => {
                let declared = part.traits.get(slot.index())?;
                let claim = self.claim(entry, (item.part, slot), declared);
                let place = item.traits.get_mut(slot.index())?;
                // A key stands once in a mapping: the other is an old name.
                if let Some(first) = place {
                    self.said_twice(entry, &declared.name.text, first.span);
                }
                *place = claim;
                None
            }
            ItemKey::Measure(slot) => {
                let measure = part.measures.get(slot.index())?;
                let measured = self.measured(entry, measure);
                let place = item.measures.get_mut(slot.index())?;
                if let Some(first) = place {
                    self.said_twice(entry, &measure.name.text, first.span);
                }
                *place = measured;
                None
            }
            ItemKey::Work => {
                item.work = self.work(entry, part);
                None
            }
            ItemKey::Notes => {
                item.notes = self.notes(entry);
                None
            }
            ItemKey::Id | ItemKey::SailNumber | ItemKey::Name | ItemKey::Owner => Some(key),
            ItemKey::PassedOver => None,
        }
    }

    #[cold]
    fn unknown_item_key<'w>(
        &mut self,
        entry: &Entry<'_>,
        part: &Part,
        known: impl Iterator<Item = &'w str> + Clone,
    ) {
        if part.derived_named(&entry.key).is_some() {
            let message = format!(
                "{} is computed from what is measured, and not written down",
                quoted(&entry.key)
            );
            let words = "computed by the rules";
            self.fault(
                "record.derived",
                entry.key_span,
                message,
                words,
                "write the readings that it is computed from",
            );
            return;
        }
        let what = self.the(part);
        self.unknown_among(entry, &what, known);
    }

    fn the(&self, part: &Part) -> String {
        let boat = self
            .loader
            .vocabulary
            .part(Vocabulary::BOAT)
            .is_some_and(|boat| boat.name == part.name);
        if boat {
            "the boat".to_owned()
        } else {
            a(&part.name.text)
        }
    }

    /// What is claimed of a trait.
    fn claim(
        &mut self,
        entry: &'a Entry<'a>,
        (kind, slot): (PartId, TraitId),
        declared: &Trait,
    ) -> Option<TraitClaim> {
        let span = entry.node.label_span(Some(entry.key_span));
        let value = match &declared.kind {
            TraitKind::Choice(_) => {
                let text = self.word(entry, "one word")?;
                match self.choice_of(kind, slot, declared, text, span) {
                    Some(choice) => TraitValue::Choice(choice),
                    None => {
                        self.unknown_choice(declared, text, span);
                        return None;
                    }
                }
            }
            TraitKind::AnyOf(_) => TraitValue::AnyOf(self.any_of(entry, (kind, slot), declared)?),
            TraitKind::Date => TraitValue::Date(self.date_claim(entry)?),
            TraitKind::Flag => TraitValue::Flag(self.yes_no(entry)?),
        };
        Some(TraitClaim { span, value })
    }

    #[cold]
    fn unknown_choice(&mut self, declared: &Trait, text: &str, span: Span) {
        let words = declared.kind.names().iter();
        let words = words.map(|choice| choice.text.as_str()).chain(["other"]);
        let what = a(&declared.name.text);
        read::one_of(
            text,
            span,
            &what,
            words.map(|word| (word, ())),
            &mut self.faults,
        );
    }

    /// Some choices: a list, or one word.
    fn any_of(
        &mut self,
        entry: &'a Entry<'a>,
        (kind, slot): (PartId, TraitId),
        declared: &Trait,
    ) -> Option<Box<[Option<ChoiceId>]>> {
        const FORM: &str = "one word, or a list of words";
        let key_span = Some(entry.key_span);
        let nodes = match entry.node.as_sequence() {
            Some(nodes) => nodes,
            None => std::slice::from_ref(&entry.node),
        };
        if nodes.is_empty() {
            let message = format!("{} names nothing", quoted(&entry.key));
            let help = "name one at least; leave the key out where nobody knows";
            self.fault(
                "file.shape",
                entry.node.label_span(key_span),
                message,
                "an empty list",
                help,
            );
            return None;
        }
        let mut found: Vec<Option<ChoiceId>> = Vec::new();
        let mut whole = true;
        for node in nodes {
            let span = node.label_span(key_span);
            let text = read::scalar(node, key_span, &quoted(&entry.key), FORM, &mut self.faults);
            let chosen = text.and_then(|text| {
                let further = || self.loader.further_choice(kind, slot, text);
                let known = choice(declared, text);
                let chosen = known.or_else(further);
                // Several words of another version can all be none of the choices.
                if known.is_none() && chosen.is_some_and(|one| found.contains(&one)) {
                    return None;
                }
                match (chosen, several(declared, text)) {
                    (Some(_), _) => {}
                    (None, Some(words)) => {
                        let message = format!("{} is several words in one", quoted(text));
                        let help = format!("write a list: {}", quoted(&format!("[{words}]")));
                        self.fault("name.unknown", span, message, "not known", &help);
                    }
                    (None, None) => self.unknown_choice(declared, text, span),
                }
                chosen
            });
            match (text, chosen) {
                (Some(text), Some(choice)) if found.contains(&choice) => {
                    let message = format!("{} is named twice", quoted(text));
                    let help = "take one of the two out";
                    self.fault("name.twice", span, message, "again here", help);
                    whole = false;
                }
                (_, Some(choice)) => found.push(choice),
                (Some(text), None) if self.loader.further_choice(kind, slot, text).is_some() => {}
                (_, None) => whole = false,
            }
        }
        whole.then(|| found.into_boxed_slice())
    }

    /// A date: `2019-11`, or a mapping that names its proof.
    fn date_claim(&mut self, entry: &'a Entry<'a>) -> Option<DateClaim> {
        const WHAT: &str = "a date with its proof";
        let Some(entries) = entry.node.as_mapping() else {
            let date = self.date_span(entry)?;
            return Some(DateClaim {
                date,
                proof: None,
                seen: None,
            });
        };
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT; "date" => date, "proof" => proof, "seen_by" => seen_by, "seen_on" => seen_on);
        let date = self
            .require(
                date,
                "date",
                WHAT,
                entries,
                span,
                "write `{ date: 2019-11, proof: invoice 17 }`",
            )
            .and_then(|entry| self.date_span(entry));
        let proof_text = proof
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        let seen_on_day = seen_on.and_then(|entry| self.day(entry));
        let seen = seen_by
            .and_then(|entry| self.free_text(entry))
            .map(|by| (by.to_owned(), seen_on_day));
        if let (None, Some(entry)) = (seen_by, seen_on) {
            let message = "a proof was seen on a day, and it is not said by whom";
            self.fault(
                "record.seen",
                entry.key_span,
                message,
                "no `seen_by` beside it",
                "write `seen_by: AB, seen_on: 2026-11-20`",
            );
        }
        if let (None, Some(entry)) = (proof, seen_by) {
            let message = "somebody saw a proof, and it is not said which";
            self.fault(
                "record.seen",
                entry.key_span,
                message,
                "no `proof` beside it",
                "write `proof: invoice 17`",
            );
        }
        Some(DateClaim {
            date: date?,
            proof: proof_text,
            seen,
        })
    }

    /// Work done on an item.
    fn work(&mut self, entry: &'a Entry<'a>, part: &Part) -> Vec<Work> {
        const WHAT: &str = "a piece of work";
        const FORM: &str = "`work: [ { day: 2026-10-03, did: sharpened } ]`";
        let mut found = Vec::new();
        let Some(nodes) = self.list(entry, "a list of what was done", FORM) else {
            return found;
        };
        for node in nodes {
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT; "day" => day, "did" => did);
            let day = self
                .require(day, "day", WHAT, entries, span, FORM)
                .and_then(|entry| self.day(entry));
            let done = self.require(did, "did", WHAT, entries, span, FORM).and_then(|entry| {
                let text = self.word(entry, "one word such as sharpened")?;
                if !read::is_name(text) {
                    let message = format!("{} can't name what was done", quoted(text));
                    let help = "one word of small letters, digits and _, such as `sharpened`; remarks go to `notes`";
                    self.fault("name.form", entry.node.label_span(Some(entry.key_span)), message, "not a name", help);
                    return None;
                }
                if part.alterations.is_empty() {
                    return Some((text, None));
                }
                // What work does to a part is only known of the kinds that the class names.
                let words = part.alterations.iter().map(|one| one.name.text.as_str());
                let words = words.map(|word| (word, ()));
                let span = entry.node.label_span(Some(entry.key_span));
                let what = format!("work that the class knows on {}", a(&part.name.text));
                read::one_of(text, span, &what, words, &mut self.faults)?;
                Some((text, part.alteration_named(text)))
            });
            if let (Some(day), Some((did, alteration))) = (day, done) {
                found.push(Work {
                    day,
                    did: did.to_owned(),
                    alteration,
                    span,
                });
            }
        }
        found
    }
}

/// An item of which nothing is said, with a slot for each trait and measure of its kind.
pub(super) fn empty_item(
    holding: Option<HoldingId>,
    id: PartId,
    part: Option<&Part>,
    span: Span,
) -> Item {
    fn slots<T>(count: Option<usize>) -> Vec<Option<T>> {
        let mut slots = Vec::new();
        slots.resize_with(count.unwrap_or(0), || None);
        slots
    }
    Item {
        holding,
        part: id,
        id: None,
        span,
        traits: slots(part.map(|part| part.traits.len())),
        measures: slots(part.map(|part| part.measures.len())),
        work: Vec::new(),
        notes: Vec::new(),
        members: None,
    }
}

/// The choice of a word: one of the trait's, or none of them for `other`.
pub(super) fn choice(declared: &Trait, word: &str) -> Option<Option<ChoiceId>> {
    let other = (word == "other").then_some(None);
    other.or_else(|| declared.choice_named(word).map(Some))
}

/// The choices in a text such as `wood and glass`, parted as in a list; `None` where it names anything else, or one
/// alone.
fn several(declared: &Trait, text: &str) -> Option<String> {
    let letter = |letter: char| letter.is_ascii_alphanumeric() || letter == '_';
    let words = text.split(|other: char| !letter(other));
    let words = words.filter(|word| !matches!(*word, "" | "and" | "with"));
    let words: Vec<&str> = words.collect();
    let known = words.iter().all(|word| choice(declared, word).is_some());
    (known && words.len() > 1).then(|| words.join(", "))
}

/// Whether a text that says something can be a sail number.
pub(super) fn is_sail_number(text: &str) -> bool {
    text.chars().count() <= 40 && safe_line(text) == text
}

/// Whether a text can be the id of an item.
pub(super) fn is_id(text: &str) -> bool {
    let letter = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'_' | b'-');
    !text.is_empty() && text.len() <= 16 && text.bytes().all(letter)
}

/// A name with its article: `a runner`, `an edge`.
pub(super) fn a(name: &str) -> String {
    let vowel = name.starts_with(['a', 'e', 'i', 'o', 'u']);
    format!("{} {name}", if vowel { "an" } else { "a" })
}
