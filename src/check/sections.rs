//! Sections across the edge: from bevels, points, a sine bar, pins, rollers or widths to angles.

use std::rc::Rc;

use super::arithmetic::unknown;
use super::eval::Evaluator;
use super::finding::Reason;
use super::identities::{counted, ids, section_means};
use super::named::What;
use super::reading::{Readings, own_resolution, same_place};
use super::value::{Evidence, Num, PlaceNum, SectionAngles, SectionNum, Val};
use crate::geometry::{
    self, EdgePoint, GaugedAngle, GeometryProblem, SizeReading, bevel_difference, included_angle,
};
use crate::quantity::{Number, Unit};
use crate::record::{
    Content, EdgeAcross, EdgePoints, Item, Reading, SectionPlace, Series, SineBar, SizedReading,
    With,
};
use crate::uncertainty::{
    InstrumentError, Part, PartKind, Pool, SourceIds, Uncertain, mean_of_repeats,
};
use crate::vocabulary::{Measure, MeasureId};

/// What is asked of a section.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    /// Both bevels together.
    Included,
    /// How far they differ.
    Difference,
}

/// What all sections of a series share.
struct Shared<'r, 'm> {
    item: &'r Item,
    series: &'r Series,
    measure: &'m Measure,
    evidence: Evidence,
    /// Errors of the instrument in the readings' own kind of quantity.
    errors: InstrumentError,
    /// The method's floor of a bevel, in degrees.
    floor: f64,
}

impl<'r> Readings<'r> {
    pub(super) fn sections(
        &mut self,
        (item, slot): (&'r Item, MeasureId),
        chosen: &'r Series,
        others: impl Iterator<Item = &'r Series>,
        measure: &Measure,
    ) -> Val<'r> {
        let mut found: Vec<SectionNum<'r>> = Vec::new();
        for series in std::iter::once(chosen).chain(others) {
            let Content::Sections(places) = &series.content else {
                continue;
            };
            let evidence = self.evidence(series, (item, slot), measure);
            let items = &self.record.items;
            let mut first = self.identities.of_series(items, item, slot, series);
            let errors = self.errors(series, measure);
            let shared = Shared {
                item,
                series,
                measure,
                evidence,
                floor: errors.floor,
                errors: InstrumentError {
                    floor: 0.0,
                    ..errors
                },
            };
            for place in places {
                let own = first;
                let means = u32::try_from(section_means(place)).unwrap_or(u32::MAX);
                first = first.wrapping_add(means);
                let known = |have: &SectionNum<'_>| same_place(have.place, &place.place);
                if !found.iter().any(known) {
                    found.push(SectionNum {
                        place: &place.place,
                        span: place.span,
                        angles: self.across(&shared, place, own),
                    });
                }
            }
        }
        Val::Sections(Rc::new(found), (item.part, slot), measure.placed)
    }

    fn across(
        &mut self,
        shared: &Shared<'r, '_>,
        place: &'r SectionPlace,
        first: u32,
    ) -> SectionAngles {
        let mut ids = counted(first, 1);
        let angles = match &place.edge {
            EdgeAcross::Bevels { port, starboard } => {
                let mut one = |role, reading| {
                    let mean = ids.next().unwrap_or(first);
                    let what = What {
                        role,
                        ..What::placed(shared.item, shared.measure, &place.place)
                    };
                    self.single((shared.series, mean), what, reading, shared.evidence)
                };
                let both = (one("port bevel", port), one("starboard bevel", starboard));
                return SectionAngles::Bevels(Box::new(both));
            }
            EdgeAcross::Points(points) => self.by_points(shared, points, place, &mut ids),
            EdgeAcross::Sine(bar) => self.by_sine(shared, bar, place, &mut ids),
            EdgeAcross::Pins(list) => self.by_sizes(
                shared,
                (list, true),
                place,
                &mut ids,
                geometry::angle_from_pins,
            ),
            EdgeAcross::Rollers(list) => self.by_sizes(
                shared,
                (list, true),
                place,
                &mut ids,
                geometry::angle_from_rollers,
            ),
            EdgeAcross::Widths(list) => self.by_sizes(
                shared,
                (list, false),
                place,
                &mut ids,
                geometry::angle_from_widths,
            ),
        };
        angles.unwrap_or_else(SectionAngles::Refused)
    }

    fn by_points(
        &mut self,
        shared: &Shared<'r, '_>,
        points: &EdgePoints,
        place: &SectionPlace,
        ids: &mut impl Iterator<Item = u32>,
    ) -> Result<SectionAngles, GeometryProblem> {
        let mut face = |points: &[[Reading; 2]]| -> Vec<EdgePoint> {
            let one = |[x, y]: &[Reading; 2]| EdgePoint {
                x: shared.length(x, ids.next(), false),
                y: shared.length(y, ids.next(), false),
            };
            points.iter().map(one).collect()
        };
        let (port, starboard) = (face(&points.port), face(&points.starboard));
        let radius = points
            .edge_radius
            .as_ref()
            .map_or(Number::ZERO, |radius| Number::Exact(radius.value.clone()));
        let scatter = shared.scatter(ids).zip(shared.scatter(ids));
        let scatter = scatter.map(|(port, starboard)| [port, starboard]);
        let found = geometry::edge_from_points(&port, &starboard, &radius, scatter)?;
        let mut template = shared.template(self, place, points.port.first().map(|[x, _]| x));
        template.note = joined(&found.notices);
        let floors = ids.next().zip(ids.next());
        let (Some((port, starboard)), true) = (floors, shared.floor > 0.0) else {
            let difference = template.with(found.difference);
            let both = (template.with(found.included), Some(difference));
            return Ok(SectionAngles::Angle(Box::new(both)));
        };
        let port = shared.floored(found.port.half_angle, port, 1.0);
        let starboard = shared.floored(found.starboard.half_angle, starboard, 1.0);
        let difference = template.with(port.sub(&starboard).abs());
        let both = (template.with(port.add(&starboard)), Some(difference));
        Ok(SectionAngles::Angle(Box::new(both)))
    }

    fn by_sine(
        &mut self,
        shared: &Shared<'r, '_>,
        bar: &SineBar,
        place: &SectionPlace,
        ids: &mut impl Iterator<Item = u32>,
    ) -> Result<SectionAngles, GeometryProblem> {
        let length = shared.length(&bar.length, ids.next(), true);
        let template = shared.template(self, place, Some(&bar.port));
        let mut bevel = |reading: &Reading, face: &str| {
            let height = shared.length(reading, ids.next(), false);
            let found = geometry::angle_from_sine(&height, &length)
                .map_err(|problem| of_face(problem, face))?;
            let mut num = template.with(shared.floored_next(found.angle, ids, 1.0));
            num.note = joined(&found.notices);
            Ok(num)
        };
        let both = (
            bevel(&bar.port, "port")?,
            bevel(&bar.starboard, "starboard")?,
        );
        Ok(SectionAngles::Bevels(Box::new(both)))
    }

    fn by_sizes(
        &mut self,
        shared: &Shared<'r, '_>,
        (list, gauges): (&[SizedReading], bool),
        place: &SectionPlace,
        ids: &mut impl Iterator<Item = u32>,
        angle: fn(&[SizeReading], Option<u32>) -> Result<GaugedAngle, GeometryProblem>,
    ) -> Result<SectionAngles, GeometryProblem> {
        let one = |one: &SizedReading| SizeReading {
            size: shared.length(&one.size, ids.next(), gauges),
            reading: shared.length(&one.reading, ids.next(), false),
        };
        let sizes: Vec<SizeReading> = list.iter().map(one).collect();
        let found = angle(&sizes, shared.scatter(ids))?;
        let mut num = shared.template(self, place, list.first().map(|one| &one.reading));
        // One angle for both bevels: what a bevel is known to, it is known to twice.
        num.value = shared.floored_next(found.angle, ids, 2.0);
        num.note = joined(&found.notices);
        Ok(SectionAngles::Angle(Box::new((num, None))))
    }
}

impl Shared<'_, '_> {
    /// One length as read; the last digit of a gauge's size tells nothing beside an instrument with figures.
    fn length(&self, reading: &Reading, mean: Option<u32>, gauge: bool) -> Uncertain {
        let mean = mean.unwrap_or(0);
        let mut errors = self.errors.clone();
        let figured = matches!(self.series.with, With::Instrument(_)) && !errors.unknown;
        if !(gauge && figured) {
            errors.resolution = errors.resolution.max(own_resolution(self.series, reading));
        }
        let ids: SourceIds = ids(self.series, mean, mean);
        let value = mean_of_repeats(
            std::slice::from_ref(&reading.value),
            &Pool::new(),
            &errors,
            ids,
        );
        let bound = reading.bound.map(super::reading::bound_of);
        value.with_bound(bound)
    }

    /// The identity of what a scatter adds; none for readings that are exact by declaration.
    fn scatter(&self, ids: &mut impl Iterator<Item = u32>) -> Option<u32> {
        let id = ids.next();
        id.filter(|_| self.series.with != With::Exact)
    }

    /// A number that stands where the section stands, without decimals of its own.
    fn template(
        &self,
        readings: &Readings<'_>,
        place: &SectionPlace,
        like: Option<&Reading>,
    ) -> Num {
        let zero = Uncertain::certain(Number::ZERO);
        let mut num = match like {
            Some(reading) => readings.number(zero, reading, self.evidence),
            None => Num::certain(zero),
        };
        num.span = place.span;
        num.unit = Some(Unit::DEG);
        num.decimals = None;
        num
    }

    fn floored_next(
        &self,
        angle: Uncertain,
        ids: &mut impl Iterator<Item = u32>,
        bevels: f64,
    ) -> Uncertain {
        match ids.next() {
            Some(source) => self.floored(angle, source, bevels),
            None => angle,
        }
    }

    /// An angle with the method's floor of so many bevels: what the lengths tell may be less than what the class
    /// grants the method, never more.
    fn floored(&self, angle: Uncertain, source: u32, bevels: f64) -> Uncertain {
        if self.floor <= 0.0 {
            return angle;
        }
        let of = ids(self.series, source, source);
        let calibrations: Vec<Part> = angle
            .parts
            .to_vec()
            .into_iter()
            .filter(|part| part.kind == PartKind::Calibration)
            .collect();
        let all = angle.combined().u;
        let offset = Uncertain::new(Number::ZERO, calibrations).combined().u;
        let own = (all * all - offset * offset).max(0.0).sqrt();
        let floor = Part::method_floor(source, of.calibration, bevels * self.floor, own, offset);
        let bound = angle.bound;
        let sum = angle.add(&Uncertain::new(Number::ZERO, [floor]));
        Uncertain {
            value: angle.value,
            ..sum
        }
        .with_bound(bound)
    }
}

fn joined(notices: &[String]) -> Option<Rc<str>> {
    (!notices.is_empty()).then(|| Rc::from(notices.join("; ")))
}

fn of_face(problem: GeometryProblem, face: &str) -> GeometryProblem {
    GeometryProblem {
        message: format!("{face}: {}", problem.message),
        ..problem
    }
}

impl<'r> Evaluator<'r> {
    /// `included_angle` and `bevel_difference`.
    pub(super) fn section_angle(&mut self, value: Val<'r>, wanted: Wanted) -> Val<'r> {
        let Val::Sections(sections, (part, slot), placed) = value else {
            return match value {
                Val::Unknown(why) => Val::Unknown(why),
                _ => unknown(Reason::NotMeasured),
            };
        };
        let mut found: Vec<PlaceNum<'r>> = Vec::with_capacity(sections.len());
        let mut untold = None;
        for section in sections.iter() {
            match angle(&section.angles, wanted) {
                Ok(Some(num)) => found.push(PlaceNum {
                    place: section.place,
                    num,
                }),
                Ok(None) => untold = untold.or(Some(section.span)),
                Err(problem) => return self.refused(problem, part, slot, section.span),
            }
        }
        // Beside places that tell it, those that don't are places too few.
        if let (true, Some(span)) = (found.is_empty(), untold) {
            return self.refused(both_together(), part, slot, span);
        }
        if !placed {
            return found
                .into_iter()
                .next()
                .map_or(unknown(Reason::NotMeasured), |one| Val::from(one.num));
        }
        Val::Places(Rc::new(found))
    }
}

/// The angle that is asked of a section; `None` where both bevels were read together.
fn angle(angles: &SectionAngles, wanted: Wanted) -> Result<Option<Num>, GeometryProblem> {
    match angles {
        SectionAngles::Bevels(both) => {
            let (port, starboard) = both.as_ref();
            let make = match wanted {
                Wanted::Included => included_angle,
                Wanted::Difference => bevel_difference,
            };
            let value = make(&port.value, &starboard.value)?;
            Ok(Some(Num::of(value, port, starboard)))
        }
        SectionAngles::Angle(both) => {
            let (included, difference) = both.as_ref();
            Ok(match wanted {
                Wanted::Included => Some(included.clone()),
                Wanted::Difference => difference.clone(),
            })
        }
        SectionAngles::Refused(problem) => Err(problem.clone()),
    }
}

fn both_together() -> GeometryProblem {
    GeometryProblem {
        code: "both_bevels_together",
        message: "pins, rollers and widths tell both bevels together, not how far they differ"
            .to_owned(),
        help: "read `bevels`, `sine` or `points`".to_owned(),
    }
}
