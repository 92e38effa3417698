//! Quantities as text: the digits that were written, a value in a display unit, a value with its
//! uncertainty.
//!
//! Everything here rounds once, half to even (ISO 80000-1:2009, B.3, rule A), from the exact value. A
//! margin that isn't zero never prints as zero.

use std::fmt;

use super::decimal::Ties;
use super::dimension::Dimension;
use super::exact::Exact;
use super::number::Number;
use super::unit::Unit;
use super::written::Quantity;

/// A number with its unit, `4.70 mm`; a plain number has no unit and no blank.
#[must_use]
pub fn with_unit(number: &str, unit: Unit) -> String {
    let symbol = unit.symbol();
    let mut text = String::with_capacity(number.len() + 1 + symbol.len());
    text.push_str(number);
    if !symbol.is_empty() {
        text.push(' ');
        text.push_str(symbol);
    }
    text
}

/// The digits as written, with the unit.
pub(super) fn written(quantity: &Quantity) -> String {
    let number = quantity.number();
    if let Some(decimals) = quantity.decimals {
        return with_unit(&number.to_fixed(usize::from(decimals)), quantity.unit);
    }
    let sign = if number.signum() < 0 { "-" } else { "" };
    let size = number.abs();
    if let Some(minutes) = in_minutes(quantity, &size) {
        return format!("{sign}{minutes}");
    }
    let step = quantity.unit.difference_from_base(&quantity.resolution);
    let denominator = Exact::ONE.checked_div(&step).and_then(|d| d.to_i64());
    let whole = size.floor();
    let over = denominator.and_then(|d| {
        let over = size.sub(&whole).mul(&Exact::from_integer(d));
        over.is_integer().then_some(over)
    });
    let text = match (denominator, over) {
        (Some(d), Some(over)) if whole.is_zero() => format!("{sign}{over}/{d}"),
        (Some(d), Some(over)) => format!("{sign}{whole} {over}/{d}"),
        _ => format!("{sign}{size}"),
    };
    with_unit(&text, quantity.unit)
}

/// `82 deg 30 min`, when that is how the quantity was written.
fn in_minutes(quantity: &Quantity, size: &Exact) -> Option<String> {
    if quantity.unit != Unit::DEG || quantity.dimension() != Dimension::ANGLE {
        return None;
    }
    let sixty = Exact::from_integer(60);
    let step = quantity.resolution.mul(&sixty);
    let decimals = step.decimals_needed()?;
    if step != Exact::power_of_ten(-i32::try_from(decimals).ok()?) {
        return None;
    }
    let degrees = size.floor();
    let minutes = size.sub(&degrees).mul(&sixty);
    Some(format!("{degrees} deg {} min", minutes.to_fixed(decimals)))
}

/// A value in base units as the number in `unit`, rounded to so many decimals: `4.62`.
#[must_use]
pub fn fixed(value: &Exact, unit: Unit, decimals: usize) -> String {
    unit.from_base(value).to_fixed(decimals)
}

/// The same with the unit: `4.62 mm`.
#[must_use]
pub fn fixed_with_unit(value: &Exact, unit: Unit, decimals: usize) -> String {
    with_unit(&fixed(value, unit, decimals), unit)
}

/// A value in base units as decimal text in `unit`, and whether it is exact.
///
/// An exact value that ends within `decimals` has just these (`4.70`); a longer one has what it needs up
/// to 15 significant digits.
#[must_use]
pub fn number(value: &Exact, unit: Unit, decimals: Option<u8>) -> (String, bool) {
    padded(&unit.from_base(value), decimals)
}

/// A difference (a margin, an uncertainty, a step) in base units as decimal text in `unit`, and whether it
/// is exact. Zero is printed only for zero, and the sign is kept.
#[must_use]
pub fn difference(difference: &Exact, unit: Unit, decimals: Option<u8>) -> (String, bool) {
    padded(&unit.difference_from_base(difference), decimals)
}

fn padded(number: &Exact, decimals: Option<u8>) -> (String, bool) {
    if let (Some(wanted), Some(needed)) = (decimals.map(usize::from), number.decimals_needed())
        && needed <= wanted
    {
        return (number.to_fixed(wanted), true);
    }
    number.to_decimal(15)
}

/// A difference in base units as a number in `unit` with so many decimals, and more where it would
/// otherwise print as zero without being zero: 0.0004 mm to two decimals is `0.0004`.
#[must_use]
pub fn margin(difference: &Exact, unit: Unit, decimals: usize) -> String {
    let number = unit.difference_from_base(difference);
    let text = number.to_fixed(decimals);
    let says_zero = !text.bytes().any(|b| matches!(b, b'1'..=b'9'));
    if says_zero && !number.is_zero() {
        number.to_decimal(1).0
    } else {
        text
    }
}

/// The same with the unit: `-0.08 mm`.
#[must_use]
pub fn margin_with_unit(difference: &Exact, unit: Unit, decimals: usize) -> String {
    with_unit(&margin(difference, unit, decimals), unit)
}

/// Stands for the value of a number of which nothing is known.
const NOT_KNOWN: &str = "not known";

/// A value and its expanded uncertainty as they are printed together.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Uncertain {
    /// The value, to the decimals of the uncertainty: `4.620`; `not known` when the number has no bound.
    pub value: String,
    /// The uncertainty to two significant digits, `0.020`; `0` when there is none; `None` when unknown.
    pub uncertainty: Option<String>,
    /// The unit of both.
    pub unit: Unit,
}

impl fmt::Display for Uncertain {
    /// `4.620 ± 0.020 mm`; an uncertainty of zero is left out.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match self.uncertainty.as_deref() {
            None if self.value == NOT_KNOWN => return f.write_str(NOT_KNOWN),
            None => {
                let value = with_unit(&self.value, self.unit);
                return write!(f, "{value}, uncertainty not known");
            }
            Some("0") => self.value.clone(),
            Some(uncertainty) => format!("{} ± {uncertainty}", self.value),
        };
        f.write_str(&with_unit(&text, self.unit))
    }
}

/// A value and its expanded uncertainty, both in base units, in a display unit: the uncertainty to two
/// significant digits, the value to the same decimal place (JCGM 100:2008, 7.2.6).
///
/// Without uncertainty the value has the decimals it needs, at least `decimals`, at most 15 digits. An
/// uncertainty that isn't a number, or is negative, is unknown.
#[must_use]
pub fn uncertain(value: &Number, uncertainty: f64, unit: Unit, decimals: Option<u8>) -> Uncertain {
    let value = match value {
        Number::Exact(exact) => Some(exact.clone()),
        Number::Real { value, bound } if bound.is_finite() => Exact::from_f64_shortest(*value),
        Number::Real { .. } => None,
    };
    let Some(value) = value else {
        return Uncertain {
            value: NOT_KNOWN.to_owned(),
            uncertainty: None,
            unit,
        };
    };
    let number = unit.from_base(&value);
    let known = Exact::from_f64_shortest(uncertainty).filter(|u| u.signum() >= 0);
    let Some(spread) = known else {
        return Uncertain {
            value: padded(&number, decimals).0,
            uncertainty: None,
            unit,
        };
    };
    if spread.is_zero() {
        let value = padded(&number, decimals).0;
        return Uncertain {
            value,
            uncertainty: Some("0".to_owned()),
            unit,
        };
    }
    let spread = unit.difference_from_base(&spread);
    let place = |e: &Exact| e.leading_exponent() - 1;
    let step = Exact::power_of_ten(place(&spread));
    let mut rounded = spread.round_to_multiple(&step, Ties::Even);
    // 0.0996 rounds to 0.10, whose two digits end one place earlier.
    let step = Exact::power_of_ten(place(&rounded));
    rounded = rounded.round_to_multiple(&step, Ties::Even);
    let decimals = usize::try_from(-place(&rounded)).unwrap_or(0);
    Uncertain {
        value: number
            .round_to_multiple(&step, Ties::Even)
            .to_fixed(decimals),
        uncertainty: Some(rounded.to_fixed(decimals)),
        unit,
    }
}
