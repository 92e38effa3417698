//! The functions of the language over values.

use std::rc::Rc;

use super::arithmetic::{extreme, map, pair, unknown};
use super::eval::Evaluator;
use super::finding::Reason;
use super::named::What;
use super::sections::Wanted;
use super::under_load::load_of;
use super::value::{Evidence, Missing, Num, Val, Why};
use crate::expression::{Function, Node};
use crate::geometry::GeometryProblem;
use crate::quantity::Exact;
use crate::text::Span;
use crate::uncertainty::Uncertain;
use crate::vocabulary::{MeasureId, PartId};
use smallvec::SmallVec;

impl<'r> Evaluator<'r> {
    pub(super) fn call(&mut self, function: Function, arguments: &[Node], own: usize) -> Val<'r> {
        let mut values: SmallVec<[Val<'r>; 2]> = SmallVec::new();
        for one in arguments {
            values.push(self.value(one, own));
        }
        if let Some(Val::Unknown(why)) = values.iter().find(|one| matches!(one, Val::Unknown(_))) {
            return Val::Unknown(*why);
        }
        let first = if values.is_empty() {
            return unknown(Reason::NotMeasured);
        } else {
            values.remove(0)
        };
        match function {
            Function::Abs => match first {
                Val::Count(low, high) => {
                    let (a, b) = (low.saturating_abs(), high.saturating_abs());
                    let least = if low <= 0 && high >= 0 { 0 } else { a.min(b) };
                    Val::Count(least, a.max(b))
                }
                first => map(first, |num| Some(num.with(num.value.abs()))),
            },
            Function::Min => values
                .into_iter()
                .fold(first, |a, b| pair(a, b, |a, b| Some(a.value.min(&b.value)))),
            Function::Max => values
                .into_iter()
                .fold(first, |a, b| pair(a, b, |a, b| Some(a.value.max(&b.value)))),
            Function::Lowest => extreme(first, false),
            Function::Highest => extreme(first, true),
            Function::FlatLength | Function::ForwardFlat | Function::AftFlat => {
                let gap = match values.first() {
                    Some(Val::Number(num)) => num.value.value.as_exact().cloned(),
                    _ => None,
                };
                match gap {
                    Some(gap) => self.flat(function, first, &gap),
                    None => unknown(Reason::NotMeasured),
                }
            }
            Function::GapAt => match values.first() {
                Some(Val::Number(num)) => match num.value.value.as_exact() {
                    Some(x) => self.gap_at(first, x),
                    None => unknown(Reason::NotMeasured),
                },
                _ => unknown(Reason::NotMeasured),
            },
            Function::CrownRadius => self.crown_radius(first),
            Function::Hollow => self.hollow(first),
            Function::Straightness => self.straightness(first),
            Function::IncludedAngle => self.section_angle(first, Wanted::Included),
            Function::BevelDifference => self.section_angle(first, Wanted::Difference),
            Function::Stiffness => self.stiffness(first),
            Function::DeflectionAt => match load_of(values.first()) {
                Some(load) => self.deflection_at(first, &load),
                None => unknown(Reason::NotMeasured),
            },
            Function::Area => self.area(first),
            Function::ConvertedHardness { from, to } => self.converted(first, (from, to)),
            Function::At20Degrees { tape, item } => {
                let temperature = if values.is_empty() {
                    None
                } else {
                    Some(values.remove(0))
                };
                self.at_20_degrees(first, (tape, item), temperature)
            }
        }
    }

    /// Readings that make no value: what is wrong with them is kept for the finding.
    pub(super) fn refused(
        &mut self,
        problem: GeometryProblem,
        part: PartId,
        slot: MeasureId,
        span: Span,
    ) -> Val<'r> {
        self.problems
            .push((span, format!("{}; {}", problem.message, problem.help)));
        Val::Unknown(Why {
            reason: Reason::NotMeasured,
            missing: Missing::Measure(part, slot),
            span: Some(span),
        })
    }

    pub(super) fn straightness(&mut self, line: Val<'r>) -> Val<'r> {
        let Val::Line(line, series, item, slot) = line else {
            return unknown(Reason::NotMeasured);
        };
        let Some(measure) = self
            .rules
            .vocabulary
            .part(item.part)
            .and_then(|part| part.measures.get(slot.index()))
        else {
            return unknown(Reason::NotMeasured);
        };
        let evidence = self.readings.evidence(series, (item, slot), measure);
        let stations: Vec<Exact> = line.stations.iter().map(|one| one.value.clone()).collect();
        let mut template = None;
        let mut flank = |readings: &'r Option<Vec<crate::record::Reading>>,
                         role: &'static str,
                         this: &mut Self| {
            readings.as_ref().map(|list| {
                list.iter()
                    .zip(&line.stations)
                    .map(|(one, station)| {
                        let what = What::role(item, measure, role).at(station);
                        let mean = this.readings.identities.take();
                        let num = this.readings.single((series, mean), what, one, evidence);
                        template.get_or_insert(Num {
                            span: line.span,
                            ..num.clone()
                        });
                        num.value
                    })
                    .collect::<Vec<Uncertain>>()
            })
        };
        let port = flank(&line.port, "port flank", self);
        let starboard = flank(&line.starboard, "starboard flank", self);
        let found =
            match crate::geometry::straightness(&stations, port.as_deref(), starboard.as_deref()) {
                Ok(found) => found,
                Err(problem) => return self.refused(problem, item.part, slot, line.span),
            };
        let Some(template) = template else {
            return unknown(Reason::NotMeasured);
        };
        let mut num = template.with(found.width);
        if found.one_flank && series.with != crate::record::With::Exact {
            num.evidence = num.evidence.and(Evidence::ONE_FLANK);
        }
        let at = format!(
            "minimum zone at {} places; the blade can be less straight between them",
            found.stations
        );
        let notices = std::iter::once(at).chain(found.notices);
        num.note = Some(Rc::from(notices.collect::<Vec<_>>().join("; ")));
        Val::from(num)
    }
}
