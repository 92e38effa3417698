//! The quick way: remarks, and what only the long way knows, each value from a tree of its own.

use std::borrow::Cow;

use super::cursor::{Cursor, Key};
use super::model::*;
use super::quick::Quick;
use super::reader::{Reader, limits};
use crate::text::{Entry, parse_json_line};
use crate::vocabulary::Part;

impl<'s> Quick<'_, 's> {
    /// Remarks: one text or a list of them.
    pub(super) fn notes(&mut self, key: Key<'s>) -> Option<Vec<String>> {
        let start = self.cursor.clone();
        match self.plain_notes() {
            Some(notes) => Some(notes),
            None => {
                self.cursor = start.clone();
                self.notes_by_tree(key, start)
            }
        }
    }

    fn plain_notes(&mut self) -> Option<Vec<String>> {
        if self.cursor.peek()? != b'[' {
            return Some(vec![self.free_text()?.to_owned()]);
        }
        let mut found = Vec::new();
        let mut inside = self.cursor.open(b'[')?;
        while self.cursor.item(&mut inside)? {
            found.push(self.free_text()?.to_owned());
        }
        (found.len() <= limits::LIST).then_some(found)
    }

    /// An entry of an item, put into its place; nothing where anything is wrong with it.
    #[cold]
    pub(super) fn by_tree(
        &mut self,
        key: Key<'s>,
        start: Cursor<'s>,
        part: &Part,
        item: &mut Item,
    ) -> Option<()> {
        let entry = self.tree_of(key, start)?;
        let mut reader = self.reader()?;
        reader.item_entry((&entry, &[]), Some(part), item);
        let read = good(&reader);
        self.instruments = reader.instruments;
        read
    }

    #[cold]
    fn notes_by_tree(&mut self, key: Key<'s>, start: Cursor<'s>) -> Option<Vec<String>> {
        let entry = self.tree_of(key, start)?;
        let mut reader = Reader::new(self.loader, self.source, false);
        let notes = reader.notes(&entry);
        good(&reader).map(|()| notes)
    }

    /// Parts that the rules don't list.
    #[cold]
    pub(super) fn unlisted(
        &mut self,
        key: Key<'s>,
        start: Cursor<'s>,
        items: &[Item],
    ) -> Option<Vec<Unlisted>> {
        let here = self.cursor.clone();
        let entry = self.tree_of(key, start)?;
        self.cursor = here;
        let mut reader = Reader::new(self.loader, self.source, false);
        let unlisted = reader.unlisted(&entry, items);
        good(&reader).map(|()| unlisted)
    }

    /// The tree of a value under its key.
    fn tree_of(&mut self, key: Key<'s>, start: Cursor<'s>) -> Option<Entry<'s>> {
        self.cursor = start;
        let range = self.cursor.pass_over_range()?;
        let node = parse_json_line(self.source, range).ok()?;
        // A key with nothing behind it is a fault.
        (!node.is_null()).then_some(())?;
        Some(Entry {
            key: Cow::Borrowed(std::str::from_utf8(key.name).ok()?),
            key_span: key.span,
            node,
        })
    }

    /// The state of the long way after what was read so far. Nothing before the session was: its measurer has to be known.
    fn reader<'a>(&mut self) -> Option<Reader<'a>>
    where
        Self: 'a,
    {
        let mut reader = Reader::new(self.loader, self.source, false);
        reader.by = self.session_by?;
        reader.instruments = std::mem::take(&mut self.instruments);
        let seen = reader.instruments.iter();
        reader.figures = seen.map(|one| Some(one.span)).collect();
        Some(reader)
    }
}

/// Whether nothing is wrong, and every name is one of this version: what is told of others is for the whole record.
fn good(reader: &Reader<'_>) -> Option<()> {
    let known = reader.old_names.is_empty() && reader.left_out.is_empty();
    (known && reader.faults.is_empty()).then_some(())
}
