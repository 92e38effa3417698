//! The quick way: instruments, the boat and its parts.

use super::cursor::Key;
use super::instruments::{can_be_kind, can_name, unsaid, usual_factor};
use super::items::{choice, empty_item, is_id, is_sail_number};
use super::keys::ItemKey;
use super::load::BoatHead;
use super::model::*;
use super::quick::{Quick, put};
use super::reader::{answer, limits};
use super::values::Allowed;
use crate::quantity::{DateSpan, Dimension, Exact, Quantity, Unit};
use crate::text::Span;
use crate::vocabulary::{HoldingId, Part, Trait, TraitKind, Vocabulary};

/// The figure of an instrument that the loader reads first gives the unit: which one that is by the order of
/// the loader, not of the line.
#[derive(Default)]
struct Figures {
    first: Option<(usize, Dimension, Unit)>,
}

// Places in the order of the loader.
const RESOLUTION: usize = 0;
const MAX_PERMISSIBLE_ERROR: usize = 1;
const REPEATABILITY: usize = 2;
const CORRECTION: usize = 3;
const EXPANDED_UNCERTAINTY: usize = 4;
/// Of the first check; each check has three figures.
const CHECKS: usize = 5;

/// What was there of an item that has no slot of its own.
#[derive(Default)]
struct Said {
    work: Option<()>,
    notes: Option<()>,
}

impl<'s> Quick<'_, 's> {
    pub(super) fn boat(&mut self, key_span: Span, items: &mut [Item]) -> Option<BoatHead> {
        let part = self.loader.vocabulary.part(Vocabulary::BOAT)?;
        let mut item = empty_item(None, Vocabulary::BOAT, Some(part), key_span);
        let (mut sail_number, mut name, mut owner) = (None, None, None);
        let mut said = Said::default();
        let keys = self.loader.item_keys(Vocabulary::BOAT);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match keys.get(key.name)? {
                ItemKey::SailNumber => {
                    let text = self.placed_text();
                    put(
                        &mut sail_number,
                        text.filter(|text| is_sail_number(text.text)),
                    )?;
                }
                ItemKey::Name => put(&mut name, self.free_text())?,
                ItemKey::Owner => put(&mut owner, self.free_text())?,
                other => self.entry(other, key, part, &mut item, &mut said)?,
            }
        }
        *items.first_mut()? = item;
        let sail_number = sail_number?;
        Some(BoatHead {
            sail_number: sail_number.text.to_owned(),
            sail_number_span: sail_number.span,
            name: name.map(str::to_owned),
            owner: owner.map(str::to_owned),
        })
    }

    /// Parts of the boat under the key of their holding.
    pub(super) fn holding(
        &mut self,
        id: HoldingId,
        key_span: Span,
        items: &mut Vec<Item>,
    ) -> Option<()> {
        let many = self.loader.vocabulary.holding(id)?.many;
        if !many {
            let item = self.item(id, Some(key_span))?;
            items.push(item);
            return (items.len() <= limits::ITEMS).then_some(());
        }
        let first = items.len();
        let mut inside = self.cursor.open(b'[')?;
        while self.cursor.item(&mut inside)? {
            let item = self.item(id, None)?;
            item.id.as_ref()?;
            let twice = items.iter().skip(first).any(|other| other.id == item.id);
            if twice || items.len() >= limits::ITEMS {
                return None;
            }
            items.push(item);
        }
        Some(())
    }

    /// One part of the boat: with the key of its holding, or else with an id.
    fn item(&mut self, id: HoldingId, key_span: Option<Span>) -> Option<Item> {
        let vocabulary = self.loader.vocabulary;
        let kind = vocabulary.holding(id)?.part;
        let part = vocabulary.part(kind)?;
        let span = key_span.unwrap_or_default();
        let mut item = empty_item(Some(id), kind, Some(part), span);
        let mut said = Said::default();
        let keys = self.loader.item_keys(kind);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match keys.get(key.name)? {
                ItemKey::Id if key_span.is_none() => {
                    let text = self.cursor.string()?;
                    let id = is_id(text.text).then(|| text.text.to_owned());
                    put(&mut item.id, id)?;
                    item.span = text.span;
                }
                other => self.entry(other, key, part, &mut item, &mut said)?,
            }
        }
        Some(item)
    }

    /// An entry of an item, other than those that only some items have.
    fn entry(
        &mut self,
        what: ItemKey,
        key: Key<'s>,
        part: &Part,
        item: &mut Item,
        said: &mut Said,
    ) -> Option<()> {
        let start = self.cursor.clone();
        match what {
            ItemKey::Trait(slot) => match self.claim(part.traits.get(slot.index())?) {
                Some(claim) => put(item.traits.get_mut(slot.index())?, Some(claim)),
                None => self.by_tree(key, start, part, item),
            },
            ItemKey::Measure(slot) => {
                match self.measured(key.span, part.measures.get(slot.index())?) {
                    Some(measured) => put(item.measures.get_mut(slot.index())?, Some(measured)),
                    None => self.by_tree(key, start, part, item),
                }
            }
            ItemKey::Work => {
                put(&mut said.work, Some(()))?;
                self.by_tree(key, start, part, item)
            }
            ItemKey::Notes => {
                put(&mut said.notes, Some(()))?;
                item.notes = self.notes(key)?;
                Some(())
            }
            ItemKey::Id | ItemKey::SailNumber | ItemKey::Name | ItemKey::Owner => None,
            ItemKey::PassedOver => self.cursor.pass_over(),
        }
    }

    fn claim(&mut self, declared: &Trait) -> Option<TraitClaim> {
        let (value, span) = match &declared.kind {
            TraitKind::Choice(_) => {
                let word = self.cursor.string()?;
                let choice = choice(declared, word.text)?;
                (TraitValue::Choice(choice), word.span)
            }
            TraitKind::AnyOf(_) => self.any_of(declared)?,
            TraitKind::Flag => {
                let word = self.cursor.word()?;
                (TraitValue::Flag(answer(word.text)?), word.span)
            }
            TraitKind::Date => {
                let (claim, span) = self.date_claim()?;
                (TraitValue::Date(claim), span)
            }
        };
        Some(TraitClaim { span, value })
    }

    /// Some choices: a list, or one word.
    fn any_of(&mut self, declared: &Trait) -> Option<(TraitValue, Span)> {
        if self.cursor.peek()? != b'[' {
            let word = self.cursor.string()?;
            let choices = Box::new([choice(declared, word.text)?]);
            return Some((TraitValue::AnyOf(choices), word.span));
        }
        let mut found = Vec::new();
        let mut inside = self.cursor.open(b'[')?;
        while self.cursor.item(&mut inside)? {
            let choice = choice(declared, self.cursor.string()?.text)?;
            if found.contains(&choice) {
                return None;
            }
            found.push(choice);
        }
        let span = self.cursor.span(&inside);
        let found = found.into_boxed_slice();
        (!found.is_empty()).then_some((TraitValue::AnyOf(found), span))
    }

    fn date_claim(&mut self) -> Option<(DateClaim, Span)> {
        // A year alone can be written as a number.
        if self.cursor.peek()? != b'{' {
            let text = self.cursor.scalar()?;
            let claim = DateClaim {
                date: DateSpan::parse(text.text).ok()?,
                proof: None,
                seen: None,
            };
            return Some((claim, text.span));
        }
        let (mut date, mut proof, mut seen_by, mut seen_on) = (None, None, None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"date" => {
                    let text = self.cursor.scalar()?.text;
                    put(&mut date, DateSpan::parse(text).ok())?;
                }
                b"proof" => put(&mut proof, self.free_text())?,
                b"seen_by" => put(&mut seen_by, self.free_text())?,
                b"seen_on" => put(&mut seen_on, self.day())?,
                _ => return None,
            }
        }
        // Somebody saw it on a day, and saw something.
        if seen_on.is_some() && seen_by.is_none() || seen_by.is_some() && proof.is_none() {
            return None;
        }
        let claim = DateClaim {
            date: date?,
            proof: proof.map(str::to_owned),
            seen: seen_by.map(|by| (by.to_owned(), seen_on)),
        };
        Some((claim, self.cursor.span(&inside)))
    }

    // Instruments.

    pub(super) fn all_instruments(&mut self) -> Option<()> {
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            let name = std::str::from_utf8(key.name).ok()?;
            let twice = self.instruments.iter().any(|other| other.key == name);
            if twice || self.instruments.len() >= limits::INSTRUMENTS || !can_name(name) {
                return None;
            }
            let mut found = unsaid(name, key.span);
            self.instrument(&mut found)?;
            self.instruments.push(found);
        }
        Some(())
    }

    fn instrument(&mut self, found: &mut Instrument) -> Option<()> {
        let mut figures = Figures::default();
        let (mut kind, mut checks) = (None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"kind" => put(&mut kind, Some(self.cursor.string()?.text))?,
                b"serial" => put(&mut found.serial, self.free_text().map(str::to_owned))?,
                b"study" => put(&mut found.study, self.free_text().map(str::to_owned))?,
                b"resolution" => put(
                    &mut found.resolution,
                    self.figure(RESOLUTION, Allowed::AboveZero, &mut figures),
                )?,
                b"max_permissible_error" => put(
                    &mut found.max_permissible_error,
                    self.figure(MAX_PERMISSIBLE_ERROR, Allowed::FromZero, &mut figures),
                )?,
                b"repeatability" => put(
                    &mut found.repeatability,
                    self.figure(REPEATABILITY, Allowed::FromZero, &mut figures),
                )?,
                b"calibration" => put(&mut found.calibration, self.calibration(&mut figures))?,
                b"checks" => put(&mut checks, self.checks(&mut figures))?,
                _ => return None,
            }
        }
        let vocabulary = self.loader.vocabulary;
        let kind = kind.filter(|word| can_be_kind(word, vocabulary))?;
        kind.clone_into(&mut found.kind);
        found.method = vocabulary.method_named(kind);
        found.checks = checks.unwrap_or_default();
        found.dimension = figures.first.map(|(_, dimension, _)| dimension);
        found.unit = figures.first.map(|(_, _, unit)| unit);
        Some(())
    }

    fn figure(&mut self, place: usize, allowed: Allowed, figures: &mut Figures) -> Option<Exact> {
        self.figure_quantity(place, allowed, figures)
            .map(|quantity| quantity.difference())
    }

    /// A figure of an instrument: all of one instrument are of one kind of quantity.
    fn figure_quantity(
        &mut self,
        place: usize,
        allowed: Allowed,
        figures: &mut Figures,
    ) -> Option<Quantity> {
        let known = figures.first.map(|(_, dimension, _)| dimension);
        let (quantity, _) = self.quantity_of(known)?;
        if figures.first.is_none_or(|(first, _, _)| place < first) {
            figures.first = Some((place, quantity.dimension(), quantity.unit));
        }
        allowed.holds(&quantity.difference()).then_some(quantity)
    }

    fn calibration(&mut self, figures: &mut Figures) -> Option<Calibration> {
        let (mut day, mut due, mut correction) = (None, None, None);
        let (mut expanded_uncertainty, mut k) = (None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"day" => put(&mut day, self.day())?,
                b"due" => {
                    let text = self.cursor.string()?;
                    let day = DateSpan::parse(text.text).ok()?.as_day();
                    put(&mut due, day.map(|day| (day, text.span)))?;
                }
                b"correction" => put(
                    &mut correction,
                    self.figure(CORRECTION, Allowed::Any, figures),
                )?,
                b"expanded_uncertainty" => put(
                    &mut expanded_uncertainty,
                    self.figure(EXPANDED_UNCERTAINTY, Allowed::FromZero, figures),
                )?,
                b"k" => {
                    let read = self.quantity(Dimension::RATIO, Allowed::AboveZero);
                    let (quantity, _) = read.filter(|(read, _)| read.unit == Unit::PLAIN)?;
                    put(&mut k, Some(quantity.value))?;
                }
                _ => return None,
            }
        }
        let ends = due.map(|(day, _)| day);
        // It ends after it begins, and an uncertainty has its factor.
        let backward = day.zip(ends).is_some_and(|(done, ends)| ends < done);
        if backward || expanded_uncertainty.is_some() && k.is_none() {
            return None;
        }
        Some(Calibration {
            day,
            due: ends,
            due_span: due.map_or_else(|| self.cursor.span(&inside), |(_, span)| span),
            correction: correction.unwrap_or(Exact::ZERO),
            expanded_uncertainty,
            k: k.unwrap_or_else(usual_factor),
        })
    }

    fn checks(&mut self, figures: &mut Figures) -> Option<Vec<FieldCheck>> {
        let mut found = Vec::new();
        let mut list = self.cursor.open(b'[')?;
        while self.cursor.item(&mut list)? {
            let place = CHECKS + 3 * found.len();
            let (mut taken, mut reference, mut reading, mut accept_within) =
                (None, None, None, None);
            let mut inside = self.cursor.open(b'{')?;
            while let Some(key) = self.cursor.key(&mut inside)? {
                match key.name {
                    b"taken" => put(&mut taken, self.moment())?,
                    b"reference" => put(
                        &mut reference,
                        self.figure_quantity(place, Allowed::Any, figures),
                    )?,
                    b"reading" => put(
                        &mut reading,
                        self.figure_quantity(place + 1, Allowed::Any, figures),
                    )?,
                    b"accept_within" => put(
                        &mut accept_within,
                        self.figure(place + 2, Allowed::FromZero, figures),
                    )?,
                    _ => return None,
                }
            }
            found.push(FieldCheck {
                taken: taken?,
                reference: reference?.value,
                reading: reading?.value,
                accept_within: accept_within?,
                span: self.cursor.span(&inside),
            });
        }
        (found.len() <= limits::LIST).then_some(found)
    }
}
