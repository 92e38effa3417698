//! Names of older versions in a record: read as what they are called now, and noted.

use super::items::choice;
use super::keys::{ItemKey, Keys, Loader, TopKey};
use super::model::OldName;
use super::reader::Reader;
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::{ChoiceId, HoldingId, PartId, Renamed, RenamedTo, Trait};

impl<'v> Loader<'v> {
    /// What an old name at the top of a record means.
    #[cold]
    fn old_top_key(&self, word: &str, partial: bool) -> Option<(&'v Renamed, TopKey)> {
        self.vocabulary.renamed.iter().find_map(|one| {
            let meant = |to: &RenamedTo| match to {
                RenamedTo::Holding(id) if self.vocabulary.is_group(*id) => Some(TopKey::Group(*id)),
                RenamedTo::Holding(id) => Some(TopKey::Holding(*id)),
                // Parts of a record name an item by its kind.
                RenamedTo::Part(kind) if partial => self.first_of(*kind).map(TopKey::One),
                RenamedTo::Part(_)
                | RenamedTo::Trait(..)
                | RenamedTo::Measure(..)
                | RenamedTo::Choice(..) => None,
            };
            let same = one.old.text == word;
            let key = same.then(|| one.to.iter().rev().find_map(meant)).flatten();
            key.map(|key| (one, key))
        })
    }

    fn first_of(&self, kind: PartId) -> Option<HoldingId> {
        let mut holdings = self.vocabulary.holdings.iter();
        let at = holdings.position(|holding| holding.part == kind)?;
        u16::try_from(at).ok().map(HoldingId)
    }

    /// What an old name in an item means.
    #[cold]
    fn old_item_key(&self, part: PartId, word: &str) -> Option<(&'v Renamed, ItemKey)> {
        let meant = |to: &RenamedTo| match to {
            RenamedTo::Trait(at, slot) if *at == part => Some(ItemKey::Trait(*slot)),
            RenamedTo::Measure(at, slot) if *at == part => Some(ItemKey::Measure(*slot)),
            RenamedTo::Trait(..)
            | RenamedTo::Measure(..)
            | RenamedTo::Part(_)
            | RenamedTo::Holding(_)
            | RenamedTo::Choice(..) => None,
        };
        let mut renamed = self.vocabulary.renamed.iter();
        renamed.find_map(|one| {
            let same = one.old_word() == word;
            let key = same.then(|| one.to.iter().find_map(meant)).flatten()?;
            // What is passed over by its name is passed over by an old one.
            let by_new_name = self.item_keys(part).get(one.new.text.as_bytes());
            let passed = by_new_name.filter(|key| *key == ItemKey::PassedOver);
            Some((one, passed.unwrap_or(key)))
        })
    }

    /// What a key at the top of a record means, by its name or an old one.
    pub(super) fn top_key(
        &self,
        keys: &Keys<'_, TopKey>,
        word: &str,
        partial: bool,
    ) -> Option<TopKey> {
        keys.get(word.as_bytes())
            .or_else(|| self.old_top_key(word, partial).map(|(_, key)| key))
    }

    /// The key of a holding by its name or an old one, as in the path of a part.
    pub(super) fn holding_word<'w>(&'w self, word: &'w str) -> &'w str {
        match self.old_top_key(word, false) {
            Some((one, _)) => &one.new.text,
            None => word,
        }
    }
}

impl<'a> Reader<'a> {
    /// Notes that a record uses an old name.
    #[cold]
    pub(super) fn note_old_name(&mut self, one: &Renamed, span: Span) {
        let known = |known: &OldName| known.old == one.old.text;
        if !self.old_names.iter().any(known) {
            self.old_names.push(OldName {
                old: one.old.text.clone(),
                new: one.new.text.clone(),
                span,
            });
        }
    }

    /// Whether a key at the top that is no name of these rules is an old one. Where the same thing stands
    /// there by another name as well, that is a fault.
    #[cold]
    pub(super) fn is_old_at_the_top(
        &mut self,
        entry: &'a Entry<'a>,
        entries: &'a [Entry<'a>],
        keys: &Keys<'_, TopKey>,
    ) -> bool {
        let loader = self.loader;
        let Some((one, key)) = loader.old_top_key(&entry.key, self.partial) else {
            return false;
        };
        self.note_old_name(one, entry.key_span);
        let same = |other: &&Entry<'a>| {
            let before = other.key_span.start < entry.key_span.start;
            let by_new_name = keys.get(other.key.as_bytes()) == Some(key);
            let by_old_name = before
                && loader
                    .old_top_key(&other.key, self.partial)
                    .map(|(_, key)| key)
                    == Some(key);
            by_new_name || by_old_name
        };
        if let Some(other) = entries.iter().find(same) {
            self.said_twice(entry, &one.new.text, other.key_span);
        }
        true
    }

    /// What a key of an item means that is no name of these rules.
    #[cold]
    pub(super) fn old_item_key(&mut self, part: PartId, entry: &Entry<'_>) -> Option<ItemKey> {
        let (one, key) = self.loader.old_item_key(part, &entry.key)?;
        self.note_old_name(one, entry.key_span);
        Some(key)
    }

    /// The choice of a word: one of the trait's, by its name or an old one, or none of them for `other`.
    pub(super) fn choice_of(
        &mut self,
        part: PartId,
        slot: crate::vocabulary::TraitId,
        declared: &Trait,
        word: &str,
        span: Span,
    ) -> Option<Option<ChoiceId>> {
        if let Some(found) = choice(declared, word) {
            return Some(found);
        }
        let loader = self.loader;
        if let Some(found) = loader.further_choice(part, slot, word) {
            return Some(found);
        }
        let (one, choice) = loader.vocabulary.renamed_choice(part, slot, word)?;
        self.note_old_name(one, span);
        Some(Some(choice))
    }

    /// One thing under two names.
    #[cold]
    pub(super) fn said_twice(&mut self, entry: &Entry<'_>, now: &str, first: Span) {
        if self.is_full() {
            return;
        }
        self.fault(
            "record.name_twice",
            entry.key_span,
            format!("{} stands here under two names", quoted(now)),
            "again here",
            format!("keep one of them; its name is {} now", quoted(now)),
        );
        self.faults.also(first, "and here");
    }
}
