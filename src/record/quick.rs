//! The quick way of a line of JSON to a record, without a tree between them.
//!
//! It knows the common forms and every rule of the loader. A rare form in the place of a single value is read from a tree of
//! that value alone. Whatever else there is, right or wrong, it leaves to [`parse_json_line`](crate::text::parse_json_line) and [`Loader::load`], which tell what is wrong:
//! a record that comes this way is the one that comes that way, to the last span.

use std::ops::Range;
use std::sync::Arc;

use super::cursor::{Cursor, Text};
use super::head::{FORMAT, is_class};
use super::items::empty_item;
use super::keys::{Loader, TopKey};
use super::load::BoatHead;
use super::model::*;
use super::quick_groups::put_group;
use super::reader::{is_blank, limits};
use super::values::{Allowed, reading_of};
use crate::quantity::{Date, DateSpan, DateTime, Dimension, Quantity, Row};
use crate::text::{self, Source, Span};
use crate::vocabulary::Vocabulary;

/// Longest line that is read this way, bytes. Whatever is counted takes at least a byte, so that such a line
/// can't hold too much of anything but what is looked at here.
const LONGEST: usize = limits::VALUES;

const _: () = assert!(LONGEST <= text::limits::NODES && LONGEST <= text::limits::LINE_BYTES);

/// A record that was read the quick way.
#[derive(Debug)]
pub struct QuickRecord<'s> {
    /// The record.
    pub record: Record,
    /// The class that it names; whether it is that of the loader's rules is the caller's to see.
    pub class: &'s str,
}

impl Loader<'_> {
    /// Reads the record of one line, `range` being the line without its end. `None` says nothing about the
    /// line but that it goes the long way.
    pub fn quick<'s>(
        &self,
        source: &'s Arc<Source>,
        range: Range<usize>,
    ) -> Option<QuickRecord<'s>> {
        let text = source.text().get(..range.end)?;
        if u32::try_from(text.len()).is_err() || text.get(range.clone())?.len() > LONGEST {
            return None;
        }
        let mut quick = Quick {
            loader: self,
            source,
            cursor: Cursor::new(text, range.start),
            instruments: Vec::new(),
            session_by: None,
            last_taken: None,
            row: Row::new(),
        };
        quick.record()
    }
}

/// The state of reading one line.
pub(super) struct Quick<'l, 's> {
    pub loader: &'l Loader<'l>,
    pub source: &'s Arc<Source>,
    pub cursor: Cursor<'s>,
    pub instruments: Vec<Instrument>,
    /// The session's measurer, once the session was read.
    pub session_by: Option<Option<&'s str>>,
    last_taken: Option<(&'s str, DateTime)>,
    row: Row,
}

/// A part of the boat that was passed over: what it is, its key, where its value begins.
type Passed<'s> = (TopKey, Span, Cursor<'s>);

/// The boat and its parts, as far as they were read.
struct Parts {
    boat: Option<BoatHead>,
    /// Holdings that were there, bit by bit.
    held: u64,
    items: Vec<Item>,
}

/// Fills the slot of a key; nothing if the key was there before.
#[inline]
pub(super) fn put<T>(slot: &mut Option<T>, value: Option<T>) -> Option<()> {
    if slot.is_some() {
        return None;
    }
    *slot = Some(value?);
    Some(())
}

impl<'s> Quick<'_, 's> {
    fn record(&mut self) -> Option<QuickRecord<'s>> {
        let (mut format, mut class, mut measured) = (None, None, None);
        let (mut instruments, mut notes, mut unlisted) = (None, None, None);
        let mut parts = Parts {
            boat: None,
            held: 0,
            // The boat is the first of them, wherever it stands.
            items: vec![empty_item(None, Vocabulary::BOAT, None, Span::default())],
        };
        let mut later = Vec::new();
        let mut groups = Vec::new();
        let loader = self.loader;
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match loader.top.get(key.name)? {
                TopKey::Format => {
                    let text = self.cursor.string()?.text;
                    put(&mut format, (text == FORMAT).then_some(()))?;
                }
                TopKey::Class => {
                    let text = self.cursor.string()?.text;
                    put(&mut class, Some(text).filter(|text| is_class(text)))?;
                }
                TopKey::Measured => put(&mut measured, self.session())?,
                TopKey::Instruments => {
                    put(&mut instruments, self.all_instruments())?;
                    self.read_later(&mut later, &mut parts)?;
                }
                TopKey::PassedOver => self.cursor.pass_over()?,
                TopKey::Notes => put(&mut notes, self.notes(key))?,
                // It names parts, and is read last.
                TopKey::Unlisted => {
                    put(&mut unlisted, Some((key, self.cursor.clone())))?;
                    self.cursor.pass_over()?;
                }
                // The series of a part name instruments: they are read first.
                // Groups name parts: they are read last.
                TopKey::Group(id) => {
                    put_group(&mut groups, id, self.cursor.clone())?;
                    self.cursor.skip()?;
                }
                what @ (TopKey::Boat | TopKey::Holding(_)) if instruments.is_none() => {
                    later.push((what, key.span, self.cursor.clone()));
                    self.cursor.skip()?;
                }
                what => self.part(what, key.span, &mut parts)?,
            }
        }
        self.read_later(&mut later, &mut parts)?;
        if !groups.is_empty() {
            self.read_groups(&groups, &mut parts.items)?;
        }
        let unlisted = match unlisted {
            Some((key, start)) => self.unlisted(key, start, &parts.items)?,
            None => Vec::new(),
        };
        let span = self.cursor.span(&inside);
        format?;
        if !self.cursor.ended() {
            return None;
        }
        let boat = parts.boat?;
        let record = Record {
            source: Arc::clone(self.source),
            span,
            sail_number: boat.sail_number,
            sail_number_span: boat.sail_number_span,
            boat_name: boat.name,
            owner: boat.owner,
            measured: measured.unwrap_or_default(),
            instruments: Arc::new(std::mem::take(&mut self.instruments)),
            items: parts.items,
            unlisted,
            notes: notes.unwrap_or_default(),
            old_names: Vec::new(),
            left_out: Vec::new(),
        };
        Some(QuickRecord {
            record,
            class: class?,
        })
    }

    /// Parts of the boat that were passed over, from where they stand. What is read there ends where passing
    /// over it ended: at the bracket that closes the first one.
    fn read_later(&mut self, later: &mut Vec<Passed<'s>>, parts: &mut Parts) -> Option<()> {
        let here = self.cursor.clone();
        for (what, key_span, start) in later.drain(..) {
            self.cursor = start;
            self.part(what, key_span, parts)?;
        }
        self.cursor = here;
        Some(())
    }

    /// The boat, or what is under the key of a holding.
    fn part(&mut self, what: TopKey, key_span: Span, parts: &mut Parts) -> Option<()> {
        match what {
            TopKey::Boat => put(&mut parts.boat, self.boat(key_span, &mut parts.items)),
            TopKey::Holding(id) => {
                let bit = 1_u64.checked_shl(u32::try_from(id.index()).ok()?)?;
                if parts.held & bit != 0 {
                    return None;
                }
                parts.held |= bit;
                self.holding(id, key_span, &mut parts.items)
            }
            TopKey::Format
            | TopKey::Class
            | TopKey::Measured
            | TopKey::Instruments
            | TopKey::Unlisted
            | TopKey::Notes
            | TopKey::Group(_)
            | TopKey::One(_)
            | TopKey::PassedOver => None,
        }
    }

    fn session(&mut self) -> Option<Session> {
        let mut session = Session::default();
        let mut by = None;
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"day" => put(&mut session.day, self.day())?,
                b"by" => put(&mut by, self.free_text())?,
                b"place" => put(&mut session.place, self.free_text().map(str::to_owned))?,
                b"temperature" => {
                    let read = self.quantity(Dimension::TEMPERATURE, Allowed::FromZero);
                    let read = read.map(|(quantity, _)| (quantity.value, quantity.unit));
                    put(&mut session.temperature, read)?;
                }
                _ => return None,
            }
        }
        session.by = by.map(str::to_owned);
        self.session_by = Some(by);
        Some(session)
    }

    // Single values.

    pub fn free_text(&mut self) -> Option<&'s str> {
        self.placed_text().map(|text| text.text)
    }

    pub fn placed_text(&mut self) -> Option<Text<'s>> {
        let text = self.cursor.string()?;
        (text.text.len() <= limits::TEXT && !is_blank(text.text)).then_some(text)
    }

    pub fn day(&mut self) -> Option<Date> {
        DateSpan::parse(self.cursor.string()?.text).ok()?.as_day()
    }

    pub fn moment(&mut self) -> Option<DateTime> {
        let text = self.cursor.string()?.text;
        if let Some((last, time)) = self.last_taken
            && last == text
        {
            return Some(time);
        }
        let time = DateTime::parse(text).ok()?;
        self.last_taken = Some((text, time));
        Some(time)
    }

    pub fn quantity(&mut self, dimension: Dimension, allowed: Allowed) -> Option<(Quantity, Span)> {
        let (quantity, span) = self.quantity_of(Some(dimension))?;
        let good = allowed.holds(&quantity.value);
        good.then_some((quantity, span))
    }

    /// A quantity of this dimension, or of any.
    pub fn quantity_of(&mut self, dimension: Option<Dimension>) -> Option<(Quantity, Span)> {
        if let Some(rest) = self.cursor.quoted()
            && let Some((quantity, length)) = Quantity::before_quote(rest)
        {
            let fits = dimension.is_none_or(|dimension| dimension == quantity.dimension());
            return fits.then(|| (quantity, self.cursor.pass_quoted(length)));
        }
        let scalar = self.cursor.scalar()?;
        let quantity = match dimension {
            Some(dimension) => Quantity::parse_as(scalar.text, dimension),
            None => Quantity::parse(scalar.text),
        };
        Some((quantity.ok()?, scalar.span))
    }

    pub fn reading(&mut self, dimension: Dimension, allowed: Allowed) -> Option<Reading> {
        let (quantity, span) = self.quantity(dimension, allowed)?;
        Some(reading_of(quantity, None, span))
    }

    /// Readings that belong together, and where all of them stand.
    pub fn readings(
        &mut self,
        dimension: Dimension,
        allowed: Allowed,
    ) -> Option<(Vec<Reading>, Span)> {
        if self.cursor.peek()? == b'[' {
            return self.list_of_readings(dimension, allowed);
        }
        if let Some(rest) = self.cursor.quoted() {
            if let Some((quantity, length)) = Quantity::before_quote(rest) {
                let good = quantity.dimension() == dimension && allowed.holds(&quantity.value);
                let span = self.cursor.pass_quoted(length);
                return good.then(|| (vec![reading_of(quantity, None, span)], span));
            }
            if let Some(length) = self.row.read_before_quote(rest) {
                let span = self.cursor.pass_quoted(length);
                return self.row_of_readings(span, dimension, allowed);
            }
        }
        let scalar = self.cursor.scalar()?;
        let (text, span) = (scalar.text, scalar.span);
        let blanks = text.bytes().filter(u8::is_ascii_whitespace).count();
        if blanks <= 1 {
            let quantity = Quantity::parse_as(text, dimension).ok()?;
            let good = allowed.holds(&quantity.value);
            return good.then(|| (vec![reading_of(quantity, None, span)], span));
        }
        if blanks > limits::LIST {
            return None;
        }
        // Behind the opening quote: no number holds a blank.
        let first = span.start as usize + 1;
        let list = Quantity::parse_list_with(text, Some(dimension), |quantity, range| {
            let at = Span::new(first + range.start, first + range.end);
            reading_of(quantity, None, at)
        });
        let list = list.ok()?;
        let good = list.iter().all(|reading| allowed.holds(&reading.value));
        good.then_some((list, span))
    }

    /// The readings of the row that was read, which stands at `span`, quotes included.
    fn row_of_readings(
        &self,
        span: Span,
        dimension: Dimension,
        allowed: Allowed,
    ) -> Option<(Vec<Reading>, Span)> {
        let count = self.row.len();
        // One reading stands where its text does, and is read otherwise.
        if !(2..=limits::LIST).contains(&count) || self.row.unit().dimension() != dimension {
            return None;
        }
        let first = span.start as usize + 1;
        let mut found = Vec::with_capacity(count);
        for read in self.row.quantities() {
            let (quantity, range) = read?;
            if !allowed.holds(&quantity.value) {
                return None;
            }
            let at = Span::new(first + range.start, first + range.end);
            found.push(reading_of(quantity, None, at));
        }
        Some((found, span))
    }

    fn list_of_readings(
        &mut self,
        dimension: Dimension,
        allowed: Allowed,
    ) -> Option<(Vec<Reading>, Span)> {
        let mut found = Vec::new();
        let mut inside = self.cursor.open(b'[')?;
        while self.cursor.item(&mut inside)? {
            found.push(self.reading(dimension, allowed)?);
        }
        let fits = (1..=limits::LIST).contains(&found.len());
        fits.then(|| (found, self.cursor.span(&inside)))
    }
}
