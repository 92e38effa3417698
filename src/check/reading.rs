//! From the readings of a record to numbers with their uncertainty and evidence.
//!
//! Sources: JCGM 100:2008, 4.2 and 4.3 (by the uncertainty room). Which reading counts as evidence at which
//! stage is the class's own rule, see [`Evidence::reason`].

use std::rc::Rc;

use super::finding::Reason;
use super::identities::{Identities, counted, ids};
use super::instruments::unsure;
use super::named::What;
use super::value::{Evidence, Known, Missing, Num, PlaceNum, Val, Why};
use crate::quantity::{Date, DateTime, Exact};
use crate::record::{
    Content, Found, Instrument, Item, Place, Reading, ReadingBound, Record, Series, Where, With,
};
use crate::uncertainty::{
    Bound, InstrumentError, Pool, Register, RoughErrors, Sample, SourceIds, Uncertain,
    mean_of_repeats, mean_of_sample,
};
use crate::vocabulary::{Measure, MeasureId, Vocabulary};
use smallvec::SmallVec;

/// Which measurer's series counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measurer {
    /// The first series.
    First,
    /// Another measurer's, counted from 0, where there is one, else the first.
    Other(usize),
}

/// What an instrument is good for, whatever is measured with it.
#[derive(Clone)]
pub struct Own {
    /// Its errors, without the floor of a method.
    errors: InstrumentError,
    /// The same at a glance.
    rough: RoughErrors,
    /// What a series lacks as evidence that was taken on the session's day at no stated time.
    untimed: Evidence,
}

/// What readings are turned into numbers with.
pub struct Readings<'r> {
    /// The record.
    pub record: &'r Record,
    /// What the class can say.
    pub vocabulary: &'r Vocabulary,
    /// The day of the check.
    pub day: Date,
    /// Identities of sources.
    pub identities: Identities,
    /// Whether a report is wanted, with the decimals in which readings were written.
    pub full: bool,
    /// What the record's instruments are good for, once they were asked for.
    pub instruments: Vec<Option<Own>>,
    /// What the sources of uncertainty are called, where a budget is asked for.
    pub register: Option<Register>,
}

impl<'r> Readings<'r> {
    /// The value of a measure of an item; `Unknown` where there is none.
    pub fn value(
        &mut self,
        item: &'r Item,
        slot: MeasureId,
        measure: &Measure,
        by: Measurer,
    ) -> Val<'r> {
        let unknown = |reason| {
            Val::Unknown(Why {
                reason,
                missing: Missing::Measure(item.part, slot),
                span: None,
            })
        };
        let Some(measured) = item.measures.get(slot.index()).and_then(Option::as_ref) else {
            return unknown(Reason::NotMeasured);
        };
        let series = match &measured.found {
            Found::Answer(answer) => {
                let named = answer.by.is_some() || self.record.measured.by.is_some();
                let evidence = if named {
                    Evidence::GOOD
                } else {
                    Evidence::NOBODY
                };
                let day = answer.day.or(self.record.measured.day);
                let evidence = evidence.and(self.age((item, slot), measure, day));
                return Val::Answer {
                    yes: answer.yes,
                    evidence,
                    span: answer.span,
                };
            }
            Found::Series(series) => series,
            Found::First(first) => {
                // What a paper says of the item when it was new is the number that stands there.
                let value = Uncertain::exact(first.reading.value.clone());
                let evidence = self.of_first_value(item, first, measure);
                return Val::from(self.number(value, &first.reading, evidence));
            }
        };
        let first = match &measured.chosen {
            Some(chosen) => series.get(chosen.series),
            None => series.iter().find(|one| !one.second),
        };
        let Some(first) = first else {
            return unknown(Reason::NotMeasured);
        };
        let chosen = match by {
            Measurer::Other(number) if measured.chosen.is_none() => series
                .iter()
                .filter(|one| one.second)
                .nth(number)
                .unwrap_or(first),
            Measurer::First | Measurer::Other(_) => first,
        };
        // What only the others have is added, the first measurer's before the later ones'.
        let others = || series.iter().filter(|one| !std::ptr::eq(*one, chosen));
        match &chosen.content {
            Content::Profile(profile) => Val::Profile(profile, chosen, item, slot),
            Content::Line(line) => Val::Line(line, chosen, item, slot),
            Content::LoadTest(test) => Val::LoadTest(test, chosen, item, slot),
            Content::Outline(outline) => Val::Outline(outline, chosen, item, slot),
            Content::Sections(_) => self.sections((item, slot), chosen, others(), measure),
            Content::Places(_) => self
                .places((item, slot), chosen, others(), measure)
                .unwrap_or_else(|| unknown(Reason::NotMeasured)),
        }
    }

    /// How many other measurers' series of a measure an item has that can disagree: none where a named person
    /// chose.
    pub fn others(item: &Item, slot: MeasureId) -> usize {
        let measured = item.measures.get(slot.index()).and_then(Option::as_ref);
        let measured = measured.filter(|measured| measured.chosen.is_none());
        match measured.map(|measured| &measured.found) {
            Some(Found::Series(series)) => series.iter().filter(|one| one.second).count(),
            Some(Found::Answer(_) | Found::First(_)) | None => 0,
        }
    }

    /// Whether anybody measured anything a second time.
    pub fn any_others(record: &Record) -> bool {
        record.items.iter().any(|item| {
            item.measures
                .iter()
                .flatten()
                .any(|measured| match &measured.found {
                    Found::Series(series) => series.iter().any(|one| one.second),
                    Found::Answer(_) | Found::First(_) => false,
                })
        })
    }

    fn places(
        &mut self,
        of: (&'r Item, MeasureId),
        chosen: &'r Series,
        others: impl Iterator<Item = &'r Series>,
        measure: &Measure,
    ) -> Option<Val<'r>> {
        let mut found = Vec::new();
        self.add_places(of, chosen, measure, &mut found);
        if !measure.placed {
            return found.into_iter().next().map(|one| Val::from(one.num));
        }
        for other in others {
            let mut more = Vec::new();
            self.add_places(of, other, measure, &mut more);
            more.retain(|one: &PlaceNum<'r>| {
                !found.iter().any(|have| same_place(have.place, one.place))
            });
            found.append(&mut more);
        }
        if found.is_empty() {
            None
        } else {
            Some(Val::Places(Rc::new(found)))
        }
    }

    fn add_places(
        &mut self,
        (item, slot): (&'r Item, MeasureId),
        series: &'r Series,
        measure: &Measure,
        found: &mut Vec<PlaceNum<'r>>,
    ) {
        let Content::Places(places) = &series.content else {
            return;
        };
        let evidence = self.evidence(series, (item, slot), measure);
        let instrument = self.errors(series, measure);
        let mut pool = Pool::new();
        let mut samples: SmallVec<[Option<Sample>; 6]> = SmallVec::with_capacity(places.len());
        for place in places {
            let sample = Sample::of(place.readings.iter().map(|one| &one.value));
            if let Some(sample) = &sample {
                pool.add_sample(sample);
            }
            samples.push(sample);
        }
        let items = &self.record.items;
        let pool_id = self.identities.of_series(items, item, slot, series);
        found.reserve(places.len());
        for ((place, sample), mean) in places.iter().zip(&samples).zip(counted(pool_id, 1)) {
            let ids = ids(series, pool_id, mean);
            let mut value = match sample {
                Some(sample) => mean_of_sample(sample, &pool, &instrument, ids),
                None => mean_of_repeats(&[], &pool, &instrument, ids),
            };
            if let (true, Some(sample)) = (self.register.is_some(), sample) {
                let what = What::placed(item, measure, &place.place);
                let means = (sample, &pool, places.len());
                self.keep_mean(
                    (series, ids),
                    means,
                    &instrument,
                    &what,
                    place.readings.first(),
                );
            }
            if series.with == With::Exact {
                // Of exact readings the scatter says nothing either.
                value.parts = Default::default();
            }
            found.push(PlaceNum {
                place: &place.place,
                num: self.place_number(place, value, evidence, measure),
            });
        }
    }

    fn place_number(
        &self,
        place: &Place,
        mut value: Uncertain,
        mut evidence: Evidence,
        measure: &Measure,
    ) -> Num {
        if place.confirmed_by.is_none()
            && place.readings.iter().any(|one| implausible(one, measure))
        {
            evidence = evidence.and(Evidence::IMPLAUSIBLE);
        }
        let bounds = place.readings.iter().filter_map(|one| one.bound);
        let bound = bounds
            .map(bound_of)
            .reduce(|a, b| if a == b { a } else { Bound::Neither });
        if bound.is_some() {
            value = value.with_bound(bound);
        }
        let readings = place.readings.iter();
        Num {
            value,
            evidence,
            span: place.span,
            unit: place.readings.first().map(|one| one.unit),
            decimals: readings.filter_map(|one| self.decimals(one)).max(),
            readings: u32::try_from(place.readings.len()).unwrap_or(u32::MAX - 1),
            note: None,
            known: Known::default(),
        }
    }

    pub(super) fn number(&self, value: Uncertain, reading: &Reading, evidence: Evidence) -> Num {
        let value = match reading.bound {
            Some(bound) => value.with_bound(Some(bound_of(bound))),
            None => value,
        };
        Num {
            value,
            evidence,
            span: reading.span,
            unit: Some(reading.unit),
            decimals: self.decimals(reading),
            readings: 1,
            note: None,
            known: Known::default(),
        }
    }

    /// The decimals in which a reading was written: `0.01 mm` has two; a fraction has none of its own.
    pub(super) fn decimals(&self, reading: &Reading) -> Option<u8> {
        if !self.full {
            return None;
        }
        let step = reading.unit.difference_from_base(&reading.resolution);
        step.decimals_needed()
            .filter(|decimals| *decimals <= 12)
            .and_then(|decimals| u8::try_from(decimals).ok())
    }

    /// One reading by itself, for structured measures: a gap, a bevel, a distance along the item; with the
    /// identity of its mean.
    pub(super) fn single(
        &mut self,
        (series, mean): (&Series, u32),
        what: What<'_>,
        reading: &Reading,
        evidence: Evidence,
    ) -> Num {
        let mut instrument = self.errors(series, what.measure);
        instrument.resolution = instrument.resolution.max(own_resolution(series, reading));
        let (one, pool) = (std::slice::from_ref(&reading.value), Pool::new());
        let ids = ids(series, mean, mean);
        if self.register.is_some()
            && let Some(sample) = Sample::of(one)
        {
            let means = (&sample, &pool, 1);
            self.keep_mean((series, ids), means, &instrument, &what, Some(reading));
        }
        let value = mean_of_repeats(one, &pool, &instrument, ids);
        self.number(value, reading, evidence)
    }

    /// A distance read off a scale beside the instrument: its last digit is all that is known of it.
    pub(super) fn scale_reading(
        &mut self,
        series: &Series,
        what: What<'_>,
        reading: &Reading,
        evidence: Evidence,
    ) -> Num {
        let instrument = match series.with {
            With::Exact => InstrumentError::default(),
            With::Unnamed | With::Instrument(_) => InstrumentError {
                resolution: reading.resolution.to_f64(),
                ..InstrumentError::default()
            },
        };
        let mean = self.identities.take();
        let ids = SourceIds {
            mean,
            pool: mean,
            instrument: mean,
            calibration: mean,
        };
        self.keep_scale(ids, &instrument, &what, reading);
        let value = mean_of_repeats(
            std::slice::from_ref(&reading.value),
            &Pool::new(),
            &instrument,
            ids,
        );
        self.number(value, reading, evidence)
    }

    /// What a series lacks as evidence, its values aside.
    pub fn evidence(
        &mut self,
        series: &Series,
        of: (&Item, MeasureId),
        measure: &Measure,
    ) -> Evidence {
        let taken = &series.taken;
        let day = taken
            .as_ref()
            .map(|time| time.date)
            .or(self.record.measured.day);
        let mut evidence = self.age(of, measure, day);
        match series.with {
            With::Exact => {}
            With::Unnamed => evidence = evidence.and(Evidence::UNNAMED),
            With::Instrument(at) => {
                if let Some(instrument) = self.record.instruments.get(at) {
                    let in_use = match taken {
                        None => self.own(at, instrument).untimed,
                        Some(_) => instrument_evidence(instrument, taken.as_ref(), day, self.day),
                    };
                    evidence = evidence.and(in_use);
                }
            }
        }
        evidence
    }

    /// The errors of what a series was taken with, with the floor of its method.
    pub(super) fn errors(&mut self, series: &Series, measure: &Measure) -> InstrumentError {
        match series.with {
            With::Exact => InstrumentError::default(),
            With::Unnamed => {
                let floor = measure.floor(Vocabulary::UNNAMED);
                InstrumentError {
                    floor: floor.map_or(0.0, Exact::to_f64),
                    unknown: floor.is_none(),
                    ..InstrumentError::default()
                }
            }
            With::Instrument(at) => match self.record.instruments.get(at) {
                Some(instrument) => {
                    let own = &self.own(at, instrument).errors;
                    let (floor, unknown) = floor_of(own, instrument, measure);
                    InstrumentError {
                        floor,
                        unknown,
                        ..own.clone()
                    }
                }
                None => InstrumentError {
                    unknown: true,
                    ..InstrumentError::default()
                },
            },
        }
    }

    /// The same at a glance; `None` where U is unknown.
    pub(super) fn rough_errors(
        &mut self,
        series: &Series,
        measure: &Measure,
    ) -> Option<RoughErrors> {
        if let With::Instrument(at) = series.with {
            let instrument = self.record.instruments.get(at)?;
            let own = self.own(at, instrument);
            let (floor, unknown) = floor_of(&own.errors, instrument, measure);
            return (!unknown).then(|| own.rough.with_floor(floor));
        }
        let errors = self.errors(series, measure);
        (!errors.unknown).then(|| RoughErrors::of(&errors))
    }

    fn own(&mut self, at: usize, instrument: &Instrument) -> &Own {
        if self.instruments.len() <= at {
            let all = self.record.instruments.len().max(at + 1);
            self.instruments.resize(all, None);
        }
        let (day, on) = (self.record.measured.day, self.day);
        let new = || {
            let errors = own_errors(instrument);
            Own {
                rough: RoughErrors::of(&errors),
                errors,
                untimed: instrument_evidence(instrument, None, day, on),
            }
        };
        match self.instruments.get_mut(at) {
            Some(known) => known.get_or_insert_with(new),
            // Made room for above.
            None => &NOTHING,
        }
    }
}

/// An instrument of which nothing is known.
static NOTHING: Own = Own {
    errors: InstrumentError {
        resolution: 0.0,
        max_permissible_error: 0.0,
        repeatability: None,
        calibration: 0.0,
        correction: Exact::ZERO,
        floor: 0.0,
        unknown: true,
    },
    rough: RoughErrors::NONE,
    untimed: Evidence::GOOD,
};

pub(super) fn own_resolution(series: &Series, reading: &Reading) -> f64 {
    match series.with {
        With::Exact => 0.0,
        With::Unnamed | With::Instrument(_) => reading.resolution.to_f64(),
    }
}

/// The errors of an instrument whatever is measured with it; `unknown` where nothing is known of them.
fn own_errors(instrument: &Instrument) -> InstrumentError {
    let number = |value: &Option<Exact>| value.as_ref().map(Exact::to_f64);
    let calibration = instrument.calibration.as_ref();
    let calibration_u = calibration
        .and_then(|calibration| {
            let expanded = calibration.expanded_uncertainty.as_ref()?.to_f64();
            Some(expanded / calibration.k.to_f64())
        })
        .unwrap_or(0.0);
    InstrumentError {
        resolution: number(&instrument.resolution).unwrap_or(0.0),
        max_permissible_error: number(&instrument.max_permissible_error).unwrap_or(0.0),
        repeatability: number(&instrument.repeatability),
        calibration: calibration_u,
        correction: calibration.map_or(Exact::ZERO, |calibration| calibration.correction.clone()),
        floor: 0.0,
        unknown: instrument.resolution.is_none()
            && instrument.max_permissible_error.is_none()
            && instrument.repeatability.is_none()
            && calibration_u == 0.0,
    }
}

/// The floor of an instrument's method for a measure, 0 if none, and whether U is unknown: of an instrument of
/// which nothing is known, without a floor and without a study.
fn floor_of(own: &InstrumentError, instrument: &Instrument, measure: &Measure) -> (f64, bool) {
    let floor = if instrument.study.is_some() {
        None
    } else {
        instrument
            .method
            .and_then(|method| measure.floor(method))
            .or_else(|| measure.floor(Vocabulary::UNNAMED))
    };
    let unknown = floor.is_none()
        && (own.unknown || (instrument.study.is_none() && !measure.methods.is_empty()));
    (floor.map_or(0.0, Exact::to_f64), unknown)
}

pub(super) fn instrument_evidence(
    instrument: &Instrument,
    taken: Option<&DateTime>,
    day: Option<Date>,
    on: Date,
) -> Evidence {
    let mut evidence = Evidence::GOOD;
    // A reading without a day was taken at the day of the check, as far as anybody can tell.
    if let Some(due) = instrument.calibration.as_ref().and_then(|one| one.due)
        && day.unwrap_or(on) > due
    {
        evidence = evidence.and(Evidence::OUT_OF_DATE);
    }
    if !instrument.checks.is_empty() {
        let at = taken.cloned().or(day.map(DateTime::day));
        if unsure(instrument, at.as_ref()).is_some() {
            evidence = evidence.and(Evidence::CHECK_FAILED);
        }
    }
    evidence
}

/// Whether a reading lies outside what is plausible of a measure.
pub(super) fn implausible(reading: &Reading, measure: &Measure) -> bool {
    let plausible = measure.plausible.as_ref();
    plausible.is_some_and(|(low, high)| reading.value < *low || reading.value > *high)
}

pub(super) fn bound_of(bound: ReadingBound) -> Bound {
    match bound {
        ReadingBound::MoreThan => Bound::AtLeast,
        ReadingBound::LessThan => Bound::AtMost,
    }
}

/// Two series speak of one place when position, face and distance from the edge are the same.
pub fn same_place(a: &Where, b: &Where) -> bool {
    a.at == b.at && a.face == b.face && a.from_edge == b.from_edge
}
