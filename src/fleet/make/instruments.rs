//! The instruments of an invented measurer: one for each method of the class and each kind of quantity.

use std::fmt::Write as _;

use super::digits::{self, Digits, dimension};
use crate::quantity::{Dimension, Unit};
use crate::rules::RulesFile;
use crate::vocabulary::{MeasureKind, QuantityKind};

/// Instruments as text, cut where a day stands.
#[derive(Clone, Debug, Default)]
pub(super) struct Instruments {
    pub pieces: Vec<(String, Day)>,
    /// What stands behind the last day.
    pub end: String,
}

/// Which day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Day {
    Measured,
    Calibrated,
    Due,
}

/// What is known of an instrument.
struct Known {
    method: String,
    dimension: Dimension,
    unit: Unit,
    doubt: f64,
    middle: f64,
    counts: bool,
}

impl Instruments {
    /// The instruments of a class.
    pub(super) fn of(rules: &RulesFile) -> Instruments {
        let mut all: Vec<Known> = Vec::new();
        for part in &rules.vocabulary.parts {
            for measure in &part.measures {
                if measure.fixed_at.is_some() || measure.kind == MeasureKind::YesNo {
                    continue;
                }
                let Some((method, doubt)) = digits::method(measure) else {
                    continue;
                };
                let outline = measure.kind == MeasureKind::Outline;
                let unit = if outline {
                    Unit::MM
                } else {
                    digits::unit(part, measure)
                };
                let middle = measure
                    .plausible
                    .as_ref()
                    .map_or(10.0 * doubt, |(low, high)| {
                        (low.to_f64() + high.to_f64()) / 2.0
                    });
                let one = Known {
                    method: method.to_owned(),
                    dimension: dimension(measure.kind),
                    unit,
                    doubt,
                    middle,
                    counts: measure.kind == MeasureKind::Quantity(QuantityKind::Number),
                };
                match all.iter_mut().find(|known| known.method == one.method) {
                    // What one method does several times is done with the figures of the finest.
                    Some(known) if known.dimension == one.dimension => {
                        if one.doubt < known.doubt {
                            *known = one;
                        }
                    }
                    // An instrument has figures of one kind; where a method has several, none are said.
                    Some(known) => known.counts = true,
                    None => all.push(one),
                }
            }
        }
        let mut text = Instruments::default();
        let mut piece = "\"instruments\":{".to_owned();
        for (at, one) in all.iter().enumerate() {
            if at > 0 {
                piece.push(',');
            }
            let _ = write!(
                piece,
                "\"{0}_1\":{{\"kind\":\"{0}\",\"serial\":\"I-{1}\"",
                one.method,
                101 + at
            );
            if !one.counts && one.doubt > 0.0 && !one.unit.has_offset() {
                text.figures(one, &mut piece);
            }
            piece.push('}');
        }
        piece.push_str("},");
        text.end = piece;
        text
    }

    fn day(&mut self, piece: &mut String, day: Day) {
        self.pieces.push((std::mem::take(piece), day));
    }

    fn figures(&mut self, one: &Known, piece: &mut String) {
        let step = Digits::at_most(one.doubt / 2.0, one.unit);
        let fine = Digits::at_most(one.doubt / 10.0, one.unit);
        let quantity = |digits: Digits, value: f64| {
            let mut text = String::new();
            digits.write_with_unit(digits.steps(value).max(1), &mut text);
            text
        };
        let error = quantity(fine, one.doubt * 0.3);
        let repeats = quantity(fine, one.doubt * 0.12);
        let _ = write!(
            piece,
            ",\"resolution\":\"{}\",\"max_permissible_error\":\"{error}\",\"repeatability\":\"{repeats}\"",
            quantity(step, step.base)
        );
        let mut nothing = String::new();
        fine.write_with_unit(0, &mut nothing);
        piece.push_str(",\"calibration\":{\"day\":\"");
        self.day(piece, Day::Calibrated);
        piece.push_str("\",\"due\":\"");
        self.day(piece, Day::Due);
        let _ = write!(
            piece,
            "\",\"correction\":\"{nothing}\",\"expanded_uncertainty\":\"{}\",\"k\":2}},\"checks\":[",
            quantity(fine, one.doubt * 0.1)
        );
        let reference = quantity(step, one.middle);
        let within = quantity(step, step.base.max(one.doubt * 0.6));
        for (at, hour) in ["08:40", "17:40"].iter().enumerate() {
            if at > 0 {
                piece.push(',');
            }
            piece.push_str("{\"taken\":\"");
            self.day(piece, Day::Measured);
            let _ = write!(
                piece,
                " {hour}\",\"reference\":\"{reference}\",\"reading\":\"{reference}\",\"accept_within\":\"{within}\"}}"
            );
        }
        piece.push(']');
    }
}
