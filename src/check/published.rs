//! The functions that look something up in a published table, over values: hardness on another scale, lengths
//! at 20 °C.

use std::cell::RefCell;
use std::rc::Rc;

use super::arithmetic::{map, pair, unknown};
use super::eval::Evaluator;
use super::finding::Reason;
use super::value::{Missing, Num, PlaceNum, Val, Why};
use crate::geometry::{self, Expansion, GeometryProblem};
use crate::quantity::{HardnessScale, Material, Number, Unit, show};
use crate::text::Span;
use crate::uncertainty::{Distribution, Part, PartKind, Source, Stated, Uncertain};

/// Half width, in kelvin, of how far the air of the session can be from the temperature of tape and item:
/// common practice, no source. Tape and item lie side by side for half an hour before they are read.
const AIR_TO_ITEM: f64 = 2.0;

impl<'r> Evaluator<'r> {
    /// `converted_hardness(hardness, scale)`.
    pub(super) fn converted(
        &mut self,
        value: Val<'r>,
        (from, to): (HardnessScale, HardnessScale),
    ) -> Val<'r> {
        self.each_number(value, |this, num| {
            let source = this.readings.identities.take();
            let found = geometry::converted_hardness(&num.value, from, to, source)?;
            let mut note = format!(
                "converted from {} by ASTM E140: an indication, not a measurement on this scale",
                from.unit().symbol()
            );
            if found.bracketed {
                note.push_str(
                    "; the table has this Brinell value in brackets, beyond the normal range",
                );
            }
            let mut made = num.with(found.value);
            made.unit = Some(to.unit());
            made.decimals = None;
            Ok(said(made, note))
        })
    }

    /// `at_20_degrees(length, tape, item)`, with a temperature or that of the session.
    pub(super) fn at_20_degrees(
        &mut self,
        length: Val<'r>,
        (tape, item): (Material, Material),
        temperature: Option<Val<'r>>,
    ) -> Val<'r> {
        match temperature {
            None => {
                let Some((value, unit)) = &self.record.measured.temperature else {
                    return Val::Unknown(Why {
                        reason: Reason::NotMeasured,
                        missing: Missing::Temperature,
                        span: None,
                    });
                };
                let shown = show::number(value, *unit, None).0;
                let shown = show::with_unit(&shown, *unit);
                let u = AIR_TO_ITEM / 3.0_f64.sqrt();
                let part = Part::new(PartKind::Condition, 0, 0, u, f64::INFINITY);
                if let Some(register) = &mut self.readings.register {
                    let words = "temperature of tape and item, from the air of the session";
                    let (half, law) = (Stated::HalfWidth(AIR_TO_ITEM), Distribution::Rectangular);
                    let source = Source::new(words, Unit::K, half, law);
                    register.add(PartKind::Condition, 0, source);
                }
                let value = Uncertain::new(Number::Exact(value.clone()), [part]);
                let note = format!(
                    "at 20 degC (ISO 1): {} read with {} at {shown}, the air of the session taken for both to \
                     within {AIR_TO_ITEM} K",
                    title(item),
                    title(tape),
                );
                self.each_number(length, |_, num| {
                    let found = geometry::at_20_degrees(&num.value, Some(tape), item, &value);
                    Ok(said(num.with(found?), note.clone()))
                })
            }
            Some(temperature) => self.corrected(length, (tape, item), temperature),
        }
    }

    /// A length corrected by a measured temperature; values of several places pair by place.
    fn corrected(
        &mut self,
        length: Val<'r>,
        (tape, item): (Material, Material),
        temperature: Val<'r>,
    ) -> Val<'r> {
        let fault = RefCell::new(None);
        let found = pair(
            length,
            temperature,
            |length, at| match geometry::at_20_degrees(&length.value, Some(tape), item, &at.value) {
                Ok(found) => Some(found),
                Err(problem) => {
                    fault.replace(Some((at.span, problem)));
                    None
                }
            },
        );
        if let Some((span, problem)) = fault.into_inner() {
            return self.outside(span, &problem);
        }
        let note = format!(
            "at 20 degC (ISO 1): {} read with {} at the temperature that was measured",
            title(item),
            title(tape)
        );
        map(found, |num| Some(said(num.clone(), note.clone())))
    }

    /// Makes a number of each; what can't be made is told where it stands.
    fn each_number(
        &mut self,
        value: Val<'r>,
        mut make: impl FnMut(&mut Self, &Num) -> Result<Num, GeometryProblem>,
    ) -> Val<'r> {
        match value {
            Val::Number(num) => match make(self, &num) {
                Ok(made) => Val::from(made),
                Err(problem) => self.outside(num.span, &problem),
            },
            Val::Places(places) => {
                let mut found = Vec::with_capacity(places.len());
                for one in places.iter() {
                    match make(self, &one.num) {
                        Ok(num) => found.push(PlaceNum {
                            place: one.place,
                            num,
                        }),
                        Err(problem) => return self.outside(one.num.span, &problem),
                    }
                }
                Val::Places(Rc::new(found))
            }
            Val::Unknown(why) => Val::Unknown(why),
            Val::Count(..)
            | Val::Choice(..)
            | Val::AnyOf(..)
            | Val::Level(_)
            | Val::Date(_)
            | Val::Answer { .. }
            | Val::Truth(_)
            | Val::Profile(..)
            | Val::Line(..)
            | Val::LoadTest(..)
            | Val::Outline(..)
            | Val::Sections(..) => unknown(Reason::NotMeasured),
        }
    }

    fn outside(&mut self, span: Span, problem: &GeometryProblem) -> Val<'r> {
        self.problems
            .push((span, format!("{}; {}", problem.message, problem.help)));
        Val::Unknown(Why {
            reason: Reason::NotMeasured,
            missing: Missing::Nothing,
            span: Some(span),
        })
    }
}

/// A number with one more thing to be said beside it.
fn said(mut num: Num, note: String) -> Num {
    num.note = Some(match num.note.take() {
        Some(before) => Rc::from(format!("{before}; {note}")),
        None => Rc::from(note),
    });
    num
}

fn title(material: Material) -> &'static str {
    Expansion::of(material).map_or(material.word(), |one| one.title)
}
