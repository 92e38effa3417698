//! The plain way of a line: choices, answers and single readings alone, into lists that serve for many lines.
//!
//! It knows less than [`Loader::quick`], and makes no record: numbers are billionths of a base unit, of which each reading
//! and each limit in common use is a whole number, so that they are as exact as fractions are. A line is read once for two
//! versions of the rules. What it takes is what the loaders of both take; whatever else there is, right or wrong, it leaves
//! to them.

use std::ops::Range;

use super::cursor::Cursor;
use super::head::{FORMAT, is_class};
use super::items::{choice, is_id, is_sail_number};
use super::keys::{ItemKey, Keys, Loader, Slot, TopKey};
use super::measures::{read_alike, wanted};
use super::plain_model::*;
use super::reader::{answer, is_blank, limits};
use super::values::Allowed;
use crate::quantity::{Dimension, Plain};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, HoldingId, Measure, MeasureKind, PartId, TraitKind, Vocabulary};

/// What a key of an item means.
#[derive(Clone, Copy)]
enum Field {
    Id,
    SailNumber,
    /// Name or owner.
    FreeText(usize),
    PassedOver,
    /// A column, and what is read there.
    Choice(usize),
    Number(usize, Dimension, Allowed),
    Places(usize, Dimension, Allowed),
    Answer(usize),
}

/// What a key at the top means.
#[derive(Clone, Copy)]
enum Top {
    Format,
    Class,
    Measured,
    Boat,
    /// Parts, by the place of their kind, and whether a list fills it.
    Parts(usize, bool),
}

/// Words of a trait, with the choices that they mean.
type Words<'v> = Keys<'v, Both<ChoiceId>>;

/// Reads plain lines for one version of the rules or two.
pub struct PlainLoader<'v> {
    class: &'v str,
    top: Keys<'v, Top>,
    kinds: Vec<PlainKind>,
    fields: Vec<Keys<'v, Field>>,
    /// By kind and column.
    words: Vec<Vec<Option<Words<'v>>>>,
}

/// Half a turn in billionths of a degree.
const HALF_TURN: i64 = 180_000_000_000;

impl<'v> PlainLoader<'v> {
    /// What both loaders read alike; `older` is nothing where one serves for both versions. Keys on which they differ, or
    /// under which there is something that is not plain, are left out: lines that have them are read otherwise.
    pub fn of(
        class: &'v str,
        newer: &Loader<'v>,
        older: Option<&Loader<'v>>,
    ) -> Option<PlainLoader<'v>> {
        let older = older.unwrap_or(newer);
        let boat = Vocabulary::BOAT;
        let mut loader = PlainLoader {
            class,
            top: Keys::new(std::iter::empty()),
            kinds: Vec::new(),
            fields: Vec::new(),
            words: Vec::new(),
        };
        loader.add_kind((newer, older), (boat, boat), None)?;
        let mut top: Vec<(&'v str, Top)> = Vec::new();
        for word in newer.top.words() {
            let key = word.as_bytes();
            let meant = match (newer.top.get(key)?, older.top.get(key)) {
                (TopKey::Format, _) => Top::Format,
                (TopKey::Class, _) => Top::Class,
                (TopKey::Measured, _) => Top::Measured,
                (TopKey::Boat, _) => Top::Boat,
                (TopKey::Holding(new), Some(TopKey::Holding(old))) => {
                    let of_new = newer.vocabulary.holding(new)?;
                    let of_old = older.vocabulary.holding(old)?;
                    if of_new.many != of_old.many {
                        continue;
                    }
                    let holding = Both {
                        newer: new,
                        older: old,
                    };
                    let parts = (of_new.part, of_old.part);
                    loader.add_kind((newer, older), parts, Some(holding))?;
                    Top::Parts(loader.kinds.len() - 1, of_new.many)
                }
                (
                    TopKey::Holding(_)
                    | TopKey::Group(_)
                    | TopKey::One(_)
                    | TopKey::Instruments
                    | TopKey::Unlisted
                    | TopKey::Notes
                    | TopKey::PassedOver,
                    _,
                ) => continue,
            };
            top.push((word, meant));
        }
        loader.top = Keys::new(top.into_iter());
        Some(loader)
    }

    fn add_kind(
        &mut self,
        (newer, older): (&Loader<'v>, &Loader<'v>),
        (new, old): (PartId, PartId),
        holding: Option<Both<HoldingId>>,
    ) -> Option<()> {
        let mut columns: Vec<Column> = Vec::new();
        let mut words: Vec<Option<Words<'v>>> = Vec::new();
        let mut fields: Vec<(&'v str, Field)> = Vec::new();
        let (new_keys, old_keys) = (newer.item_keys(new), older.item_keys(old));
        let (new_part, old_part) = (newer.vocabulary.part(new)?, older.vocabulary.part(old)?);
        let slot = |key: Option<ItemKey>| match key {
            Some(ItemKey::Trait(id)) => Some(Slot::Trait(id)),
            Some(ItemKey::Measure(id)) => Some(Slot::Measure(id)),
            _ => None,
        };
        for word in new_keys.words() {
            let key = word.as_bytes();
            let (of_new, of_old) = (new_keys.get(key)?, old_keys.get(key));
            let column = columns.len();
            let at = Both {
                newer: slot(Some(of_new)),
                older: slot(of_old),
            };
            let measure = |slot: Option<Slot>, of: &'v crate::vocabulary::Part| match slot {
                Some(Slot::Measure(id)) => of.measures.get(id.index()),
                Some(Slot::Trait(_)) | None => None,
            };
            let declared = |slot: Option<Slot>, of: &'v crate::vocabulary::Part| match slot {
                Some(Slot::Trait(id)) => of.traits.get(id.index()),
                Some(Slot::Measure(_)) | None => None,
            };
            let passed = |key: Option<ItemKey>| key == Some(ItemKey::PassedOver);
            let field = match (of_new, of_old) {
                (ItemKey::Id, Some(ItemKey::Id)) => Some(Field::Id),
                (ItemKey::SailNumber, _) => Some(Field::SailNumber),
                (ItemKey::Name, _) => Some(Field::FreeText(0)),
                (ItemKey::Owner, _) => Some(Field::FreeText(1)),
                (ItemKey::PassedOver, of_old) if passed(of_old) => Some(Field::PassedOver),
                (ItemKey::Trait(_), Some(ItemKey::Trait(_))) => {
                    let pair = declared(at.newer, new_part).zip(declared(at.older, old_part));
                    pair.and_then(|(of_new, of_old)| {
                        let TraitKind::Choice(names) = &of_new.kind else {
                            return None;
                        };
                        let TraitKind::Choice(_) = &of_old.kind else {
                            return None;
                        };
                        let both = names.iter().filter_map(|name| {
                            let newer = choice(of_new, &name.text)??;
                            let older = choice(of_old, &name.text)??;
                            Some((name.text.as_str(), Both { newer, older }))
                        });
                        words.push(Some(Keys::new(both)));
                        Some(Field::Choice(column))
                    })
                }
                (ItemKey::Measure(_), Some(ItemKey::Measure(_))) => {
                    let pair = measure(at.newer, new_part).zip(measure(at.older, old_part));
                    pair.and_then(|(of_new, of_old)| field_of(of_new, of_old, column))
                }
                (ItemKey::Measure(_), of_old) if passed(of_old) => {
                    measure(at.newer, new_part).and_then(|one| field_of(one, one, column))
                }
                (ItemKey::PassedOver, Some(ItemKey::Measure(_))) => {
                    measure(at.older, old_part).and_then(|one| field_of(one, one, column))
                }
                _ => None,
            };
            let Some(field) = field else { continue };
            fields.push((word, field));
            if matches!(
                field,
                Field::Choice(_) | Field::Number(..) | Field::Places(..) | Field::Answer(_)
            ) {
                columns.push(Column { at });
                words.resize_with(columns.len(), || None);
            }
        }
        self.kinds.push(PlainKind {
            part: Both {
                newer: new,
                older: old,
            },
            holding,
            columns,
        });
        self.fields.push(Keys::new(fields.into_iter()));
        self.words.push(words);
        Some(())
    }

    /// The kinds of items, the boat first.
    pub fn kinds(&self) -> &[PlainKind] {
        &self.kinds
    }

    /// Reads a line, `range` being the line without its end. `None` says nothing about the line but that it is read
    /// otherwise.
    pub fn read(&self, text: &str, range: Range<usize>, boat: &mut PlainBoat) -> Option<()> {
        let text = text.get(..range.end)?;
        if text.len() >= usize::try_from(u32::MAX).ok()? || range.len() > limits::VALUES {
            return None;
        }
        boat.items.clear();
        boat.values.clear();
        boat.places.clear();
        boat.held.clear();
        boat.held.resize(self.kinds.len(), false);
        boat.texts = [false; 2];
        boat.day = None;
        let mut cursor = Cursor::new(text, range.start);
        boat.begin(0, &self.kinds)?;
        let (mut format, mut class, mut measured) = (false, false, false);
        let mut inside = cursor.open(b'{')?;
        while let Some(key) = cursor.key(&mut inside)? {
            match self.top.get(key.name)? {
                Top::Format => {
                    once(&mut format)?;
                    (cursor.string()?.text == FORMAT).then_some(())?;
                }
                Top::Class => {
                    once(&mut class)?;
                    let text = cursor.string()?.text;
                    (is_class(text) && text == self.class).then_some(())?;
                }
                Top::Measured => {
                    once(&mut measured)?;
                    session(&mut cursor, boat)?;
                }
                Top::Boat => {
                    once(boat.held.first_mut()?)?;
                    boat.sail_number = 0..0;
                    self.item(&mut cursor, (0, false), 0, boat)?;
                    (!boat.sail_number.is_empty()).then_some(())?;
                }
                Top::Parts(kind, many) => {
                    once(boat.held.get_mut(kind)?)?;
                    if many {
                        self.list(&mut cursor, kind, boat)?;
                    } else {
                        let at = boat.items.len();
                        boat.begin(kind, &self.kinds)?;
                        self.item(&mut cursor, (kind, false), at, boat)?;
                    }
                }
            }
        }
        let whole = format && class && *boat.held.first()? && cursor.ended();
        (whole && boat.items.len() <= limits::ITEMS).then_some(())
    }

    fn list(&self, cursor: &mut Cursor<'_>, kind: usize, boat: &mut PlainBoat) -> Option<()> {
        let first = boat.items.len();
        let text = cursor.whole();
        let mut inside = cursor.open(b'[')?;
        while cursor.item(&mut inside)? {
            let at = boat.items.len();
            boat.begin(kind, &self.kinds)?;
            self.item(cursor, (kind, true), at, boat)?;
            let id = |item: &PlainItem| text.get(item.id.clone());
            let own = boat.items.get(at).and_then(id)?;
            (!own.is_empty()).then_some(())?;
            let mut before = boat.items.get(first..at)?.iter();
            if at >= limits::ITEMS || before.any(|other| id(other) == Some(own)) {
                return None;
            }
        }
        Some(())
    }

    fn item(
        &self,
        cursor: &mut Cursor<'_>,
        (kind, many): (usize, bool),
        at: usize,
        boat: &mut PlainBoat,
    ) -> Option<()> {
        let fields = self.fields.get(kind)?;
        let words = self.words.get(kind)?;
        let mut inside = cursor.open(b'{')?;
        while let Some(key) = cursor.key(&mut inside)? {
            let (column, value) = match fields.get(key.name)? {
                Field::PassedOver => {
                    cursor.pass_over()?;
                    continue;
                }
                Field::Id if many => {
                    let text = cursor.string()?;
                    is_id(text.text).then_some(())?;
                    let item = boat.items.get_mut(at)?;
                    item.id.is_empty().then_some(())?;
                    item.id = within(text.span);
                    continue;
                }
                Field::SailNumber => {
                    let text = cursor.string()?;
                    let good = !is_blank(text.text) && is_sail_number(text.text);
                    (good && boat.sail_number.is_empty()).then_some(())?;
                    boat.sail_number = within(text.span);
                    continue;
                }
                Field::Id => return None,
                Field::FreeText(which) => {
                    once(boat.texts.get_mut(which)?)?;
                    free_text(cursor)?;
                    continue;
                }
                Field::Choice(column) => {
                    let words = words.get(column)?.as_ref()?;
                    let both = words.get(cursor.name()?.name)?;
                    (column, PlainValue::Choice(both))
                }
                Field::Answer(column) => {
                    let yes = answer(cursor.word()?.text)?;
                    (column, PlainValue::Answer(yes))
                }
                Field::Number(column, dimension, allowed) => {
                    let number = if cursor.peek()? == b'{' {
                        single(cursor, dimension, allowed)?
                    } else {
                        number(cursor, dimension, allowed)?
                    };
                    (column, PlainValue::Number(number))
                }
                Field::Places(column, dimension, allowed) => {
                    (column, places(cursor, dimension, allowed, boat)?)
                }
            };
            let from = boat.items.get(at)?.values;
            let place = boat.values.get_mut(from + column)?;
            (*place == PlainValue::Missing).then_some(())?;
            *place = value;
        }
        Some(())
    }
}

/// The field of a measure that both versions read alike.
fn field_of(newer: &Measure, older: &Measure, column: usize) -> Option<Field> {
    if !read_alike(newer, older) || newer.fixed_at.is_some() {
        return None;
    }
    match newer.kind {
        MeasureKind::YesNo => Some(Field::Answer(column)),
        MeasureKind::Quantity(kind) => {
            let allowed = wanted(newer, kind).allowed;
            let dimension = kind.dimension();
            // Degrees have a zero of their own.
            if dimension == Dimension::TEMPERATURE {
                return None;
            }
            Some(match newer.placed {
                true => Field::Places(column, dimension, allowed),
                false => Field::Number(column, dimension, allowed),
            })
        }
        MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => None,
    }
}

/// Notes that something is there; nothing if it was before.
fn once(there: &mut bool) -> Option<()> {
    (!std::mem::replace(there, true)).then_some(())
}

/// What stands between the quotes of a string.
fn within(span: Span) -> Range<usize> {
    let range = span.range();
    range.start + 1..range.end.saturating_sub(1)
}

fn session(cursor: &mut Cursor<'_>, boat: &mut PlainBoat) -> Option<()> {
    let (mut day, mut by, mut place) = (false, false, false);
    let mut inside = cursor.open(b'{')?;
    while let Some(key) = cursor.key(&mut inside)? {
        match key.name {
            b"day" => {
                once(&mut day)?;
                let text = cursor.string()?.text;
                boat.day = Some(boat.day_of(text)?);
            }
            b"by" => {
                once(&mut by)?;
                free_text(cursor)?;
            }
            b"place" => {
                once(&mut place)?;
                free_text(cursor)?;
            }
            _ => return None,
        }
    }
    Some(())
}

/// A text that says anything.
fn free_text(cursor: &mut Cursor<'_>) -> Option<()> {
    let text = cursor.string()?.text;
    (text.len() <= limits::TEXT && !is_blank(text)).then_some(())
}

/// One reading in quotes.
#[inline]
fn number(cursor: &mut Cursor<'_>, dimension: Dimension, allowed: Allowed) -> Option<i64> {
    let (read, length) = Plain::before_quote(cursor.quoted()?)?;
    (read.unit().dimension() == dimension).then_some(())?;
    let number = read.billionths()?;
    let good = match allowed {
        Allowed::Any => true,
        Allowed::AboveZero => number > 0,
        Allowed::FromZero => number >= 0,
        Allowed::HalfTurn => (0..=HALF_TURN).contains(&number),
    };
    good.then_some(())?;
    cursor.pass_quoted(length);
    Some(number)
}

/// A series of one reading without an instrument.
fn single(cursor: &mut Cursor<'_>, dimension: Dimension, allowed: Allowed) -> Option<i64> {
    let mut inside = cursor.open(b'{')?;
    if cursor.key(&mut inside)??.name != b"readings" {
        return None;
    }
    let found = number(cursor, dimension, allowed)?;
    cursor.key(&mut inside)?.is_none().then_some(found)
}

/// A series of places without an instrument, each with one reading.
fn places(
    cursor: &mut Cursor<'_>,
    dimension: Dimension,
    allowed: Allowed,
    boat: &mut PlainBoat,
) -> Option<PlainValue> {
    let from = u32::try_from(boat.places.len()).ok()?;
    boat.wheres.clear();
    let mut inside = cursor.open(b'{')?;
    if cursor.key(&mut inside)??.name != b"places" {
        return None;
    }
    let mut list = cursor.open(b'[')?;
    while cursor.item(&mut list)? {
        let mut place = cursor.open(b'{')?;
        let mut at = None;
        if cursor.key_is(&mut place, b"\"at\":") {
            at = Some(number(cursor, Dimension::LENGTH, Allowed::Any)?);
        }
        if !cursor.key_is(&mut place, b"\"readings\":") {
            return None;
        }
        let read = number(cursor, dimension, allowed)?;
        cursor.key(&mut place)?.is_none().then_some(())?;
        // Two readings of one place are for others to judge.
        if boat.wheres.contains(&at) || boat.wheres.len() >= limits::LIST {
            return None;
        }
        boat.wheres.push(at);
        boat.places.push(read);
    }
    cursor.key(&mut inside)?.is_none().then_some(())?;
    let to = u32::try_from(boat.places.len()).ok()?;
    (to > from).then_some(PlainValue::Places(from, to))
}
