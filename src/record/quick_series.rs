//! The quick way: what was found of a measure.

use super::instruments::EXACT;
use super::measures::{same_measurer, short_series, wanted};
use super::model::*;
use super::places::{FACES, same_place};
use super::quick::{Quick, put};
use super::reader::{answer, limits};
use super::section_model::*;
use super::structured::repeated;
use super::values::{Allowed, Wanted};
use crate::quantity::{DateTime, Dimension};
use crate::text::Span;
use crate::vocabulary::{Measure, MeasureKind, QuantityKind};

const LENGTH: Dimension = Dimension::LENGTH;

/// The entries that every series can have, whatever it holds.
#[derive(Default)]
struct Common<'s> {
    with: Option<With>,
    by: Option<&'s str>,
    taken: Option<DateTime>,
    second: Option<bool>,
    searched: Option<&'s str>,
}

impl Common<'_> {
    fn series(self, span: Span, content: Content) -> Series {
        Series {
            span,
            with: self.with.unwrap_or(With::Unnamed),
            by: self.by.map(str::to_owned),
            taken: self.taken,
            second: self.second.unwrap_or(false),
            searched: self.searched.map(str::to_owned),
            content,
        }
    }
}

/// Whether a list of places or the like has a fair length.
fn fits<T>(list: &[T]) -> Option<()> {
    (1..=limits::LIST).contains(&list.len()).then_some(())
}

impl<'s> Quick<'_, 's> {
    pub(super) fn measured(&mut self, key_span: Span, measure: &Measure) -> Option<Measured> {
        let mapping = self.cursor.peek()? == b'{';
        let series = match measure.kind {
            MeasureKind::YesNo if mapping => return self.answer(key_span),
            MeasureKind::YesNo => {
                let (yes, span) = self.yes_no()?;
                let answer = Answer {
                    yes,
                    by: None,
                    day: None,
                    span,
                };
                return Some(Measured {
                    span,
                    found: Found::Answer(answer),
                    chosen: None,
                });
            }
            // What stands when new, and what is rare, goes the long way.
            MeasureKind::Quantity(_) if measure.fixed_at.is_some() => return None,
            MeasureKind::Quantity(kind) if !mapping => {
                let wanted = wanted(measure, kind);
                let reading = self.reading(wanted.dimension, wanted.allowed)?;
                return Some(Measured {
                    span: reading.span,
                    found: Found::Series(vec![short_series(reading)]),
                    chosen: None,
                });
            }
            _ if self.cursor.first_key_is("series") => self.several(measure)?,
            _ => vec![self.series(measure)?],
        };
        Some(Measured {
            span: key_span,
            found: Found::Series(series),
            chosen: None,
        })
    }

    /// A measurer's series and the second measurers', under the key `series` alone.
    fn several(&mut self, measure: &Measure) -> Option<Vec<Series>> {
        let mut found: Vec<Series> = Vec::new();
        let mut inside = self.cursor.open(b'{')?;
        self.cursor.key(&mut inside)??;
        let mut list = self.cursor.open(b'[')?;
        while self.cursor.item(&mut list)? {
            let series = self.series(measure)?;
            match found.first() {
                // The session's measurer has to be known.
                Some(first) if same_measurer(first, &series, self.session_by?) => return None,
                first if series.second != first.is_some() => return None,
                _ => found.push(series),
            }
        }
        fits(&found)?;
        self.cursor.key(&mut inside)?.is_none().then_some(found)
    }

    fn series(&mut self, measure: &Measure) -> Option<Series> {
        match measure.kind {
            MeasureKind::Quantity(kind) => self.series_of_quantity(measure, kind),
            MeasureKind::Profile => self.profile(),
            MeasureKind::Line => self.line(),
            MeasureKind::Section => self.section(measure.placed),
            MeasureKind::LoadTest | MeasureKind::Outline | MeasureKind::YesNo => None,
        }
    }

    fn yes_no(&mut self) -> Option<(bool, Span)> {
        let word = self.cursor.word()?;
        Some((answer(word.text)?, word.span))
    }

    fn answer(&mut self, key_span: Span) -> Option<Measured> {
        let (mut answer, mut by, mut day) = (None, None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"answer" => put(&mut answer, self.yes_no())?,
                b"by" => put(&mut by, self.free_text())?,
                b"day" => put(&mut day, self.day())?,
                _ => return None,
            }
        }
        let (yes, span) = answer?;
        Some(Measured {
            span: key_span,
            found: Found::Answer(Answer {
                yes,
                by: by.map(str::to_owned),
                day,
                span,
            }),
            chosen: None,
        })
    }

    /// An entry that every series can have.
    fn common(&mut self, key: &[u8], dimension: Dimension, common: &mut Common<'s>) -> Option<()> {
        match key {
            b"with" => put(&mut common.with, self.with(dimension)),
            b"taken" => put(&mut common.taken, self.moment()),
            b"by" => put(&mut common.by, self.free_text()),
            b"second" => put(&mut common.second, self.yes_no().map(|(yes, _)| yes)),
            b"searched" => put(&mut common.searched, self.free_text()),
            _ => None,
        }
    }

    /// The instrument a series names, which stands before it in the line.
    fn with(&mut self, dimension: Dimension) -> Option<With> {
        let word = self.cursor.name()?.name;
        if word == EXACT.as_bytes() {
            return Some(With::Exact);
        }
        let mut all = self.instruments.iter().enumerate();
        let (slot, instrument) = all.find(|(_, one)| one.key.as_bytes() == word)?;
        let good = instrument.dimension.is_none_or(|known| known == dimension);
        good.then_some(With::Instrument(slot))
    }

    fn series_of_quantity(&mut self, measure: &Measure, kind: QuantityKind) -> Option<Series> {
        let wanted = wanted(measure, kind);
        let mut common = Common::default();
        let mut places = None;
        let mut inside = self.cursor.open(b'{')?;
        if self.cursor.key_is(&mut inside, b"\"with\":") {
            common.with = Some(self.with(wanted.dimension)?);
        }
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"places" if measure.placed => put(&mut places, self.places(wanted))?,
                b"readings" if !measure.placed => {
                    let read = self.readings(wanted.dimension, wanted.allowed);
                    let place = read.map(|read| vec![place(Where::default(), read)]);
                    put(&mut places, place)?;
                }
                other => self.common(other, wanted.dimension, &mut common)?,
            }
        }
        let content = Content::Places(places?);
        Some(common.series(self.cursor.span(&inside), content))
    }

    fn places(&mut self, wanted: Wanted<'_>) -> Option<Vec<Place>> {
        let mut found: Vec<Place> = Vec::new();
        let mut list = self.cursor.open(b'[')?;
        while self.cursor.item(&mut list)? {
            let mut at = Where::default();
            let mut readings = None;
            let mut inside = self.cursor.open(b'{')?;
            if self.cursor.key_is(&mut inside, b"\"at\":") {
                self.at(&mut at)?;
            }
            if self.cursor.key_is(&mut inside, b"\"readings\":") {
                readings = Some(self.readings(wanted.dimension, wanted.allowed)?);
            }
            while let Some(key) = self.cursor.key(&mut inside)? {
                match key.name {
                    b"at" => self.at(&mut at)?,
                    b"readings" => put(
                        &mut readings,
                        self.readings(wanted.dimension, wanted.allowed),
                    )?,
                    b"from_edge" => {
                        let read = self.quantity(LENGTH, Allowed::FromZero);
                        put(&mut at.from_edge, read.map(|(quantity, _)| quantity.value))?;
                    }
                    b"face" => {
                        let word = self.cursor.name()?.name;
                        let face = FACES
                            .into_iter()
                            .find(|(known, _)| known.as_bytes() == word);
                        put(&mut at.face, face.map(|(_, face)| face))?;
                    }
                    _ => return None,
                }
            }
            if found.iter().any(|other| same_place(&other.place, &at)) {
                return None;
            }
            found.push(place(at, readings?));
        }
        fits(&found)?;
        Some(found)
    }

    fn at(&mut self, place: &mut Where) -> Option<()> {
        let (quantity, _) = self.quantity(LENGTH, Allowed::Any)?;
        put(&mut place.at, Some(quantity.value))?;
        place.unit = Some(quantity.unit);
        Some(())
    }

    fn profile(&mut self) -> Option<Series> {
        let mut common = Common::default();
        let (mut contact, mut shims) = (None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"contact" => put(&mut contact, self.reading(LENGTH, Allowed::Any))?,
                b"shims" => put(&mut shims, self.shims())?,
                other => self.common(other, LENGTH, &mut common)?,
            }
        }
        let span = self.cursor.span(&inside);
        let profile = Profile {
            contact,
            // Gaps at stations go the long way.
            edge: EdgeReadings::Shims(shims?),
            span,
        };
        Some(common.series(span, Content::Profile(profile)))
    }

    fn shims(&mut self) -> Option<Vec<ShimReading>> {
        let mut found = Vec::new();
        let mut list = self.cursor.open(b'[')?;
        while self.cursor.item(&mut list)? {
            let (mut gap, mut forward, mut aft) = (None, None, None);
            let mut inside = self.cursor.open(b'{')?;
            while let Some(key) = self.cursor.key(&mut inside)? {
                match key.name {
                    b"gap" => put(&mut gap, self.reading(LENGTH, Allowed::AboveZero))?,
                    b"forward" => put(&mut forward, self.reading(LENGTH, Allowed::FromZero))?,
                    b"aft" => put(&mut aft, self.reading(LENGTH, Allowed::FromZero))?,
                    _ => return None,
                }
            }
            found.push(ShimReading {
                gap: gap?,
                forward: forward?,
                aft: aft?,
            });
        }
        fits(&found)?;
        Some(found)
    }

    fn line(&mut self) -> Option<Series> {
        let mut common = Common::default();
        let (mut stations, mut port, mut starboard) = (None, None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            let slot = match key.name {
                b"stations" => &mut stations,
                b"port" => &mut port,
                b"starboard" => &mut starboard,
                other => {
                    self.common(other, LENGTH, &mut common)?;
                    continue;
                }
            };
            let read = self.readings(LENGTH, Allowed::Any);
            put(slot, read.map(|(readings, _)| readings))?;
        }
        let stations = stations?;
        let as_many = |flank: &Option<Vec<Reading>>| {
            let count = flank.as_ref().map(Vec::len);
            count.is_none_or(|count| count == stations.len())
        };
        let flanked = port.is_some() || starboard.is_some();
        if stations.len() < 3
            || repeated(stations.iter().map(|station| &station.value)).is_some()
            || !(flanked && as_many(&port) && as_many(&starboard))
        {
            return None;
        }
        let span = self.cursor.span(&inside);
        let line = Line {
            stations,
            port,
            starboard,
            span,
        };
        Some(common.series(span, Content::Line(line)))
    }

    fn section(&mut self, placed: bool) -> Option<Series> {
        let mut common = Common::default();
        let mut sections = None;
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match key.name {
                b"places" if placed => put(&mut sections, self.section_places())?,
                b"bevels" => {
                    let section = self.bevels();
                    put(&mut sections, section.map(|section| vec![section]))?;
                }
                other => self.common(other, Dimension::ANGLE, &mut common)?,
            }
        }
        let content = Content::Sections(sections?);
        Some(common.series(self.cursor.span(&inside), content))
    }

    fn section_places(&mut self) -> Option<Vec<SectionPlace>> {
        let mut found: Vec<SectionPlace> = Vec::new();
        let mut list = self.cursor.open(b'[')?;
        while self.cursor.item(&mut list)? {
            let mut at = Where::default();
            let mut bevels = None;
            let mut inside = self.cursor.open(b'{')?;
            while let Some(key) = self.cursor.key(&mut inside)? {
                match key.name {
                    b"at" => self.at(&mut at)?,
                    b"bevels" => put(&mut bevels, self.bevels())?,
                    _ => return None,
                }
            }
            if found.iter().any(|other| same_place(&other.place, &at)) {
                return None;
            }
            let section = SectionPlace {
                place: at,
                ..bevels?
            };
            found.push(section);
        }
        fits(&found)?;
        Some(found)
    }

    /// Bevels; a section that was read in another way goes the long way.
    fn bevels(&mut self) -> Option<SectionPlace> {
        let (mut port, mut starboard) = (None, None);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            let slot = match key.name {
                b"port" => &mut port,
                b"starboard" => &mut starboard,
                _ => return None,
            };
            put(slot, self.reading(Dimension::ANGLE, Allowed::HalfTurn))?;
        }
        Some(SectionPlace {
            place: Where::default(),
            edge: EdgeAcross::Bevels {
                port: port?,
                starboard: starboard?,
            },
            span: self.cursor.span(&inside),
        })
    }
}

/// A place with its readings, none of them void.
fn place(place: Where, (readings, span): (Vec<Reading>, Span)) -> Place {
    Place {
        place,
        readings,
        void: Vec::new(),
        confirmed_by: None,
        span,
    }
}
