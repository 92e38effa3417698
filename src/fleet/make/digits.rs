//! In which unit and to which digit a person would write a reading.

use crate::quantity::{Dimension, Unit};
use crate::vocabulary::{Measure, MeasureKind, Part, QuantityKind, Vocabulary};

/// Steps of a decimal: 1, 2 or 5 of the last digit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Digits {
    pub unit: Unit,
    /// 1, 2 or 5.
    pub step: i64,
    /// Digits after the point.
    pub decimals: u32,
    /// A step in base units.
    pub base: f64,
}

impl Digits {
    /// The largest step that is not above one given, base units.
    pub(super) fn at_most(step: f64, unit: Unit) -> Digits {
        let factor = unit.factor().to_f64();
        let wanted = (step / factor) * 1.000_001;
        for decimals in 0..=6 {
            let power = 10_f64.powi(decimals);
            for one in [5_i64, 2, 1] {
                let size = if one == 5 {
                    5.0
                } else if one == 2 {
                    2.0
                } else {
                    1.0
                };
                if size / power <= wanted || decimals == 6 && one == 1 {
                    return Digits {
                        unit,
                        step: one,
                        decimals: decimals.unsigned_abs(),
                        base: size / power * factor,
                    };
                }
            }
        }
        Digits::whole(unit)
    }

    /// Whole numbers.
    pub(super) fn whole(unit: Unit) -> Digits {
        Digits {
            unit,
            step: 1,
            decimals: 0,
            base: unit.factor().to_f64(),
        }
    }

    /// The number of steps nearest to a value in base units.
    pub(super) fn steps(self, value: f64) -> i64 {
        let steps = (value / self.base).round().clamp(-1e15, 1e15);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a whole number that was held within bounds"
        )]
        let steps = steps as i64;
        steps
    }

    /// Writes a number of steps, without the unit.
    pub(super) fn write(self, steps: i64, out: &mut String) {
        let number = steps.saturating_mul(self.step);
        if number < 0 {
            out.push('-');
        }
        let mut digits = [b'0'; 24];
        let mut rest = number.unsigned_abs();
        let mut length = 0_usize;
        let least = usize::try_from(self.decimals).unwrap_or(0) + 1;
        for place in digits.iter_mut().rev() {
            if rest == 0 && length >= least {
                break;
            }
            *place = b'0' + u8::try_from(rest % 10).unwrap_or(0);
            rest /= 10;
            length += 1;
        }
        let from = digits.len().saturating_sub(length);
        let point = length.saturating_sub(least - 1);
        for (at, digit) in digits.iter().skip(from).enumerate() {
            if at == point && self.decimals > 0 {
                out.push('.');
            }
            out.push(char::from(*digit));
        }
    }

    /// Writes a number of steps with its unit.
    pub(super) fn write_with_unit(self, steps: i64, out: &mut String) {
        self.write(steps, out);
        self.write_unit(out);
    }

    /// Writes the unit behind a number.
    pub(super) fn write_unit(self, out: &mut String) {
        if self.unit != Unit::PLAIN {
            out.push(' ');
            out.push_str(self.unit.symbol());
        }
    }
}

/// The dimension of the readings of a measure.
pub(super) fn dimension(kind: MeasureKind) -> Dimension {
    match kind {
        MeasureKind::Quantity(kind) => kind.dimension(),
        MeasureKind::Section => Dimension::ANGLE,
        MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::LoadTest
        | MeasureKind::Outline
        | MeasureKind::YesNo => Dimension::LENGTH,
    }
}

/// The unit of lengths along an item: the first that its class speaks in.
pub(super) fn along(part: &Part) -> Unit {
    let units = part.measures.iter().filter_map(|one| one.plausible_unit);
    let mut lengths = units.filter(|unit| unit.dimension() == Dimension::LENGTH);
    lengths.next().unwrap_or(Unit::MM)
}

/// The unit of a measure's readings.
pub(super) fn unit(part: &Part, measure: &Measure) -> Unit {
    let usual = [
        along(part),
        Unit::KG,
        Unit::DEG,
        Unit::N,
        Unit::M2,
        Unit::N_PER_MM,
        Unit::DEG_C,
        Unit::HRC,
        Unit::HV,
        Unit::HBW,
        Unit::PLAIN,
    ];
    let wanted = dimension(measure.kind);
    let own = measure.plausible_unit.filter(|unit| !unit.has_offset());
    own.or_else(|| usual.into_iter().find(|unit| unit.dimension() == wanted))
        .unwrap_or(Unit::PLAIN)
}

/// The method that a measure is taken by: the first that the class names, and its expanded uncertainty, base units.
pub(super) fn method(measure: &Measure) -> Option<(&str, f64)> {
    let named = measure
        .methods
        .iter()
        .find(|one| one.id != Vocabulary::UNNAMED && one.name.text != "unnamed")?;
    Some((&named.name.text, named.expanded_uncertainty.to_f64()))
}

/// The expanded uncertainty of a reading, base units.
pub(super) fn doubt(measure: &Measure) -> f64 {
    let all = measure.methods.first();
    method(measure).map_or_else(
        || all.map_or(0.0, |one| one.expanded_uncertainty.to_f64()),
        |(_, doubt)| doubt,
    )
}

/// The digits of a measure's readings.
pub(super) fn of(part: &Part, measure: &Measure) -> Digits {
    let unit = unit(part, measure);
    if measure.kind == MeasureKind::Quantity(QuantityKind::Number) {
        return Digits::whole(unit);
    }
    let doubt = doubt(measure);
    if doubt > 0.0 {
        return Digits::at_most(doubt / 2.0, unit);
    }
    let width = measure
        .plausible
        .as_ref()
        .map_or(100.0, |(low, high)| high.sub(low).to_f64());
    Digits::at_most(width / 1000.0, unit)
}
