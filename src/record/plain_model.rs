//! What is read of plain lines: lists that serve for many of them.

use std::ops::Range;

use super::keys::Slot;
use crate::quantity::{Date, DateSpan};
use crate::vocabulary::{ChoiceId, HoldingId, PartId};

/// One thing for the newer version and one for the older one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Both<T> {
    /// Of the newer version, or of the only one.
    pub newer: T,
    /// Of the older version.
    pub older: T,
}

/// What was read under a key of an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlainValue {
    /// Nothing.
    Missing,
    /// A number.
    Number(i64),
    /// Numbers at places: from where to where in [`PlainBoat::places`].
    Places(u32, u32),
    /// Yes or no.
    Answer(bool),
    /// A choice of a trait.
    Choice(Both<ChoiceId>),
}

/// Something that is read of items of a kind.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// What it is in either version.
    pub at: Both<Option<Slot>>,
}

/// The boat, or a kind of part in a holding.
#[derive(Debug)]
pub struct PlainKind {
    /// The part in either version.
    pub part: Both<PartId>,
    /// Which holding it fills; nothing for the boat.
    pub holding: Option<Both<HoldingId>>,
    /// What is read of its items.
    pub columns: Vec<Column>,
}

/// An item that was read.
#[derive(Clone, Debug)]
pub struct PlainItem {
    /// Its place in [`PlainLoader::kinds`].
    pub kind: usize,
    /// Where its id stands in the text, without quotes; empty where it has none.
    pub id: Range<usize>,
    /// Where its values begin in [`PlainBoat::values`].
    pub values: usize,
}

/// A boat that was read. Used again for the next one.
#[derive(Debug, Default)]
pub struct PlainBoat {
    /// Where the sail number stands in the text, without quotes.
    pub sail_number: Range<usize>,
    /// The day of measuring.
    pub day: Option<Date>,
    /// The boat first, then its parts in the order of the record.
    pub items: Vec<PlainItem>,
    /// The values of the items, column by column.
    pub values: Vec<PlainValue>,
    /// Numbers at places.
    pub places: Vec<i64>,
    /// Which kinds were there.
    pub(super) held: Vec<bool>,
    /// Whether name and owner were there.
    pub(super) texts: [bool; 2],
    /// Where the places of one measure lie.
    pub(super) wheres: Vec<Option<i64>>,
    last_day: Option<([u8; 10], Date)>,
}

impl PlainBoat {
    /// One item more of a kind, of which nothing is known yet.
    pub(super) fn begin(&mut self, kind: usize, kinds: &[PlainKind]) -> Option<()> {
        let values = self.values.len();
        let columns = kinds.get(kind)?.columns.len();
        self.values.resize(values + columns, PlainValue::Missing);
        self.items.push(PlainItem {
            kind,
            id: 0..0,
            values,
        });
        Some(())
    }

    /// The day of a text, most often that of the line before.
    pub(super) fn day_of(&mut self, text: &str) -> Option<Date> {
        let bytes: Option<[u8; 10]> = text.as_bytes().try_into().ok();
        if let (Some((last, day)), Some(bytes)) = (self.last_day, bytes)
            && last == bytes
        {
            return Some(day);
        }
        let day = DateSpan::parse(text).ok()?.as_day()?;
        self.last_day = bytes.map(|bytes| (bytes, day));
        Some(day)
    }
}
