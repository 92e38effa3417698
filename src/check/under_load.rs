//! The functions of load tests and outlines over values.

use std::rc::Rc;

use super::arithmetic::unknown;
use super::eval::Evaluator;
use super::finding::Reason;
use super::named::What;
use super::value::{Evidence, Num, Val};
use crate::geometry::{self, LoadPoint};
use crate::quantity::{Dimension, Exact, Unit};
use crate::record::{Item, OutlineShape, Reading, Series, With};
use crate::uncertainty::{Distribution, PartKind, Uncertain};
use crate::vocabulary::{Measure, MeasureId};

/// What a report says where a mass was taken as a force.
const GRAVITY: &str = "masses count as forces at standard gravity, 9.80665 m/s2 (3rd CGPM, 1901)";

impl<'r> Evaluator<'r> {
    fn measure_of(&self, item: &Item, slot: MeasureId) -> Option<&'r Measure> {
        let part = self.rules.vocabulary.part(item.part)?;
        part.measures.get(slot.index())
    }

    /// The steps of a test, with the number of their first deflection; evidence and notes are the caller's.
    fn load_points(
        &mut self,
        test: &'r crate::record::LoadTest,
        series: &'r Series,
        (item, slot): (&'r Item, MeasureId),
    ) -> Option<(Vec<LoadPoint>, Num)> {
        let measure = self.measure_of(item, slot)?;
        let mut evidence = self.readings.evidence(series, (item, slot), measure);
        let exact = series.with == With::Exact;
        if let Some(asked) = &measure.setup
            && !super::age::set_up_otherwise(test, asked, exact).is_empty()
        {
            evidence = evidence.and(Evidence::SET_UP);
        }
        let mut template = None;
        let mut points = Vec::with_capacity(test.steps.len());
        for step in &test.steps {
            let load = {
                let what = What::role(item, measure, "load");
                self.readings
                    .scale_reading(series, what, &step.load, evidence)
            };
            let mean = self.readings.identities.take();
            let sinks = (series, mean);
            let sinks = {
                let what = What::role(item, measure, "how far it sinks under").at(&step.load);
                self.readings.single(sinks, what, &step.sinks, evidence)
            };
            template.get_or_insert(Num {
                span: test.span,
                decimals: None,
                ..sinks.clone()
            });
            points.push(LoadPoint {
                load: if is_mass(&step.load) {
                    geometry::weight(&load.value)
                } else {
                    load.value
                },
                sinks: sinks.value,
            });
        }
        Some((points, template?))
    }

    /// The slope of load over deflection.
    pub(super) fn stiffness(&mut self, value: Val<'r>) -> Val<'r> {
        let Val::LoadTest(test, series, item, slot) = value else {
            return unknown(Reason::NotMeasured);
        };
        let Some((points, template)) = self.load_points(test, series, (item, slot)) else {
            return unknown(Reason::NotMeasured);
        };
        let scatter = (series.with != With::Exact).then(|| self.readings.identities.take());
        if let (Some(id), Some(measure)) = (scatter, self.measure_of(item, slot)) {
            let what = What::role(item, measure, "");
            let (kind, law) = (PartKind::Repeatability, Distribution::StudentT);
            self.readings.keep_computed(
                kind,
                id,
                &what,
                "scatter of the steps about the line",
                law,
            );
        }
        match geometry::stiffness(&points, scatter) {
            Ok(found) => {
                let mut num = template.with(found);
                num.unit = Some(Unit::N_PER_MM);
                let mass = test.steps.iter().any(|step| is_mass(&step.load));
                let steps = points.len();
                num.note = self.readings.full.then(|| {
                    let slope =
                        format!("slope by least squares over {steps} steps (JCGM 100, H.3)");
                    let gravity = mass.then(|| GRAVITY.to_owned());
                    said(std::iter::once(slope).chain(gravity), &points)
                });
                Val::from(num)
            }
            Err(problem) => self.refused(problem, item.part, slot, test.span),
        }
    }

    /// How far the item sinks under a load: a mass or a force, in base units.
    pub(super) fn deflection_at(&mut self, value: Val<'r>, asked: &Num) -> Val<'r> {
        let (Val::LoadTest(test, series, item, slot), Some(load)) =
            (value, asked.value.value.as_exact())
        else {
            return unknown(Reason::NotMeasured);
        };
        let Some((points, template)) = self.load_points(test, series, (item, slot)) else {
            return unknown(Reason::NotMeasured);
        };
        let mass = asked.unit.map(Unit::dimension) == Some(Dimension::MASS);
        let force = if mass {
            load.mul(&geometry::standard_gravity())
        } else {
            load.clone()
        };
        match geometry::deflection_at(&points, &force) {
            Ok(found) => {
                let mixed = test.steps.iter().any(|step| is_mass(&step.load) != mass);
                let bound = found.bound.is_some();
                let read = points
                    .iter()
                    .any(|one| one.load.value.as_exact() == Some(&force));
                let mut num = template.with(found);
                num.note = self.readings.full.then(|| {
                    let between =
                        (!read && !bound).then(|| "in proportion between two steps".to_owned());
                    let gravity = mixed.then(|| GRAVITY.to_owned());
                    said(between.into_iter().chain(gravity), &points)
                });
                num.note = num.note.filter(|note| !note.is_empty());
                Val::from(num)
            }
            Err(problem) => self.refused(problem, item.part, slot, test.span),
        }
    }

    /// The area inside an outline.
    pub(super) fn area(&mut self, value: Val<'r>) -> Val<'r> {
        let Val::Outline(outline, series, item, slot) = value else {
            return unknown(Reason::NotMeasured);
        };
        let Some(measure) = self.measure_of(item, slot) else {
            return unknown(Reason::NotMeasured);
        };
        let evidence = self.readings.evidence(series, (item, slot), measure);
        let mut template: Option<Num> = None;
        let mut single = |reading: &'r Reading, role: &'static str, this: &mut Self| -> Uncertain {
            let mean = this.readings.identities.take();
            let num = this.readings.single(
                (series, mean),
                What::role(item, measure, role),
                reading,
                evidence,
            );
            template.get_or_insert(num.clone());
            num.value
        };
        let (found, note) = match &outline.shape {
            OutlineShape::Corners(corners) => {
                let corners: Vec<[Uncertain; 2]> = corners
                    .iter()
                    .map(|[x, y]| {
                        [
                            single(x, "x of a corner", self),
                            single(y, "y of a corner", self),
                        ]
                    })
                    .collect();
                (geometry::area_of_corners(&corners), None)
            }
            OutlineShape::Widths { spacing, widths } => {
                let read: Vec<Uncertain> = widths
                    .iter()
                    .map(|one| single(one, "a width", self))
                    .collect();
                let spacing = {
                    let what = What::role(item, measure, "spacing of the widths");
                    self.readings
                        .scale_reading(series, what, spacing, evidence)
                        .value
                };
                let strips = widths.len().saturating_sub(1);
                let note = format!("by Simpson's rule over {strips} strips");
                (geometry::area_of_widths(&spacing, &read), Some(note))
            }
        };
        let Some(template) = template else {
            return unknown(Reason::NotMeasured);
        };
        match found {
            Ok(found) => Val::from(Num {
                span: outline.span,
                unit: Some(Unit::M2),
                decimals: None,
                note: note.filter(|_| self.readings.full).map(Rc::from),
                ..template.with(found)
            }),
            Err(problem) => self.refused(problem, item.part, slot, outline.span),
        }
    }
}

fn is_mass(load: &Reading) -> bool {
    load.unit.dimension() == Dimension::MASS
}

/// What is said beside a value of a test, hysteresis last.
fn said(words: impl Iterator<Item = String>, points: &[LoadPoint]) -> Rc<str> {
    let all = words.chain(geometry::hysteresis_note(points));
    Rc::from(all.collect::<Vec<_>>().join("; "))
}

/// The load of a `deflection_at` as it was written.
pub(super) fn load_of(value: Option<&Val<'_>>) -> Option<Num> {
    match value {
        Some(Val::Number(num)) if num.value.value.as_exact().is_some_and(is_load) => {
            Some((**num).clone())
        }
        _ => None,
    }
}

fn is_load(value: &Exact) -> bool {
    value.signum() >= 0
}
