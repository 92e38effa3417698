//! What the sources of uncertainty in a record are called, for budgets: kept while readings become numbers, and
//! only where a budget is asked for.

use super::reading::Readings;
use crate::quantity::{Exact, Unit, show};
use crate::record::{Face, Instrument, Item, Reading, Series, Where, With};
use crate::uncertainty::{
    Distribution, InstrumentError, MeanWords, PartKind, Pool, Sample, Source, SourceIds, Stated,
};
use crate::vocabulary::{Measure, Vocabulary};

/// What a reading is a reading of.
#[derive(Clone, Copy)]
pub(super) struct What<'w> {
    /// The item.
    pub item: &'w Item,
    /// The measure.
    pub measure: &'w Measure,
    /// What of it, where a measure has several kinds of readings: `gap`, `leaf`; else empty.
    pub role: &'static str,
    /// Where along the item: as it was read, or by its place.
    pub at: At<'w>,
}

/// Where a reading was taken.
#[derive(Clone, Copy)]
pub(super) enum At<'w> {
    /// Not said, or there is but one place.
    Nowhere,
    /// At a distance that was read.
    Read(&'w Reading),
    /// At a place.
    Place(&'w Where),
}

impl<'w> What<'w> {
    /// A reading at a place.
    pub fn placed(item: &'w Item, measure: &'w Measure, place: &'w Where) -> What<'w> {
        What {
            item,
            measure,
            role: "",
            at: At::Place(place),
        }
    }

    /// A kind of reading, at no place that matters.
    pub fn role(item: &'w Item, measure: &'w Measure, role: &'static str) -> What<'w> {
        What {
            item,
            measure,
            role,
            at: At::Nowhere,
        }
    }

    /// The same at a distance.
    pub fn at(self, at: &'w Reading) -> What<'w> {
        What {
            at: At::Read(at),
            ..self
        }
    }
}

impl Readings<'_> {
    /// Keeps the sources of a mean of readings at one place, where a budget is asked for.
    pub(super) fn keep_mean(
        &mut self,
        (series, ids): (&Series, SourceIds),
        (sample, pool, places): (&Sample, &Pool, usize),
        errors: &InstrumentError,
        what: &What<'_>,
        first: Option<&Reading>,
    ) {
        if self.register.is_none() {
            return;
        }
        let instrument = match series.with {
            With::Instrument(at) => self.record.instruments.get(at),
            With::Unnamed | With::Exact => None,
        };
        let calibration = instrument.and_then(|one| one.calibration.as_ref());
        let calibration = calibration.and_then(|one| {
            let expanded = one.expanded_uncertainty.as_ref()?.to_f64();
            Some((expanded, one.k.to_f64()))
        });
        let what = self.words(what);
        let method = self.method_words(instrument);
        let instrument = instrument_words(instrument);
        let words = MeanWords {
            what: &what,
            instrument: &instrument,
            method: &method,
            calibration,
            unit: first.map_or(Unit::PLAIN, |one| one.unit),
            decimals: first.and_then(|one| self.decimals(one)),
            places,
        };
        if let Some(register) = &mut self.register {
            register.mean(ids, sample, pool, errors, &words);
        }
    }

    /// Keeps what a scale leaves open that was read beside the instrument.
    pub(super) fn keep_scale(
        &mut self,
        ids: SourceIds,
        errors: &InstrumentError,
        what: &What<'_>,
        reading: &Reading,
    ) {
        if self.register.is_none() {
            return;
        }
        let words = MeanWords {
            what: &self.words(what),
            instrument: "the scale",
            method: "",
            calibration: None,
            unit: reading.unit,
            decimals: self.decimals(reading),
            places: 1,
        };
        let sample = Sample::of(std::slice::from_ref(&reading.value));
        if let (Some(register), Some(sample)) = (&mut self.register, sample) {
            register.mean(ids, &sample, &Pool::new(), errors, &words);
        }
    }

    /// Keeps a source whose share is computed together with the result.
    pub(super) fn keep_computed(
        &mut self,
        kind: PartKind,
        id: u32,
        what: &What<'_>,
        words: &str,
        distribution: Distribution,
    ) {
        if self.register.is_none() {
            return;
        }
        let name = format!("{}, {words}", self.words(what));
        if let Some(register) = &mut self.register {
            let source = Source::new(name, Unit::PLAIN, Stated::InResult, distribution);
            register.add(kind, id, source);
        }
    }

    /// `steel thickness of S1 at -300 mm, port face`
    fn words(&self, what: &What<'_>) -> String {
        let measure = plain_name(&what.measure.name.text);
        let mut words = format!("{measure} of {}", item_name(what.item, self.vocabulary));
        if !what.role.is_empty() {
            words.push_str(", ");
            words.push_str(what.role);
        }
        match what.at {
            At::Nowhere => {}
            At::Read(reading) => {
                let decimals = self.decimals(reading);
                let number = show::number(&reading.value, reading.unit, decimals).0;
                words.push_str(" at ");
                words.push_str(&show::with_unit(&number, reading.unit));
            }
            At::Place(place) => {
                let unit = place.unit.unwrap_or(Unit::MM);
                let distance =
                    |value: &Exact| show::with_unit(&show::number(value, unit, None).0, unit);
                if let Some(at) = &place.at {
                    words.push_str(&format!(" at {}", distance(at)));
                }
                match place.face {
                    Some(Face::Port) => words.push_str(", port face"),
                    Some(Face::Starboard) => words.push_str(", starboard face"),
                    None => {}
                }
                if let Some(edge) = &place.from_edge {
                    words.push_str(&format!(", {} from the edge", distance(edge)));
                }
            }
        }
        words
    }

    /// The method whose floor counts.
    fn method_words(&self, instrument: Option<&Instrument>) -> String {
        match instrument {
            Some(instrument) => plain_name(&instrument.kind),
            None => "unnamed".to_owned(),
        }
    }
}

/// `micrometer mic_2`; one whose key says its kind is named once.
fn instrument_words(instrument: Option<&Instrument>) -> String {
    match instrument {
        None => "an instrument without a name".to_owned(),
        Some(one) if one.kind.is_empty() || one.key.contains(&one.kind) => one.key.clone(),
        Some(one) => format!("{} {}", plain_name(&one.kind), one.key),
    }
}

fn item_name(item: &Item, vocabulary: &Vocabulary) -> String {
    match (&item.id, item.holding.and_then(|id| vocabulary.holding(id))) {
        (Some(id), _) => id.clone(),
        (None, Some(holding)) => plain_name(&holding.key.text),
        (None, None) => "boat".to_owned(),
    }
}

/// A name as people read it.
fn plain_name(name: &str) -> String {
    name.replace('_', " ")
}
