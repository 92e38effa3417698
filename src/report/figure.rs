//! Numbers rounded for people.
//!
//! U has two significant digits; a value has the decimals of its U, or those it was written with where
//! these are more (JCGM 100:2008, 7.2.6). A margin that is not zero never prints as zero.

use crate::quantity::{Exact, Number, Unit, show};

/// Digits after the point beyond which an exact number without uncertainty is rounded.
const MOST_DECIMALS: usize = 6;

/// A value as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Rounded {
    /// The number: `4.620`.
    pub number: String,
    /// U: `0.020`; nothing when it is zero or unknown.
    pub uncertainty: Option<String>,
    /// Digits after the point of the number.
    pub decimals: usize,
}

/// The nearest exact number, for printing; `None` when nothing is known of it.
pub(super) fn printable(number: &Number) -> Option<Exact> {
    match number {
        Number::Exact(exact) => Some(exact.clone()),
        Number::Real { value, bound } if bound.is_finite() => Exact::from_f64_shortest(*value),
        Number::Real { .. } => None,
    }
}

/// A value in base units with its U, in a unit. `written` are the decimals it was written with in that unit.
pub(super) fn value(
    number: &Number,
    expanded: Option<f64>,
    unit: Unit,
    written: Option<u8>,
) -> Rounded {
    let Some(exact) = printable(number) else {
        return Rounded {
            number: "not known".to_owned(),
            uncertainty: None,
            decimals: 0,
        };
    };
    let number = unit.from_base(&exact);
    let written = written.map(usize::from);
    let uncertainty = expanded
        .filter(|u| *u > 0.0)
        .and_then(|u| show::uncertain(number_zero(), u, unit, None).uncertainty)
        .filter(|text| text != "0");
    if let Some(uncertainty) = uncertainty {
        let decimals = decimals_of(&uncertainty);
        let more = written.filter(|written| *written > decimals && ends_within(&number, *written));
        let decimals = more.unwrap_or(decimals);
        // Above ten the two digits of U end left of the point; the value is then rounded to tens as well.
        let number = if decimals == 0 {
            rounded_like(&number, &uncertainty)
        } else {
            number
        };
        return Rounded {
            number: number.to_fixed(decimals),
            uncertainty: Some(uncertainty),
            decimals,
        };
    }
    let decimals = enough(&number, written.unwrap_or(0));
    Rounded {
        number: number.to_fixed(decimals),
        uncertainty: None,
        decimals,
    }
}

/// A limit in base units, in its unit, with the decimals it was written with.
pub(super) fn limit(number: &Number, unit: Unit, written: Option<u8>) -> Rounded {
    value(number, None, unit, written)
}

/// The size of a margin in base units, in a unit: exact where `decimals` of the value or of the limit are
/// enough, else rounded to those of the value, and never zero unless it is.
pub(super) fn margin(margin: &Number, unit: Unit, value_decimals: usize, least: usize) -> String {
    let Some(exact) = printable(margin) else {
        return "not known".to_owned();
    };
    let size = exact.abs();
    let number = unit.difference_from_base(&size);
    let decimals = match number.decimals_needed() {
        Some(needed) if needed <= value_decimals.max(least) => needed.max(least),
        _ => value_decimals.max(least),
    };
    show::margin(&size, unit, decimals)
}

/// A difference in base units rounded down to two significant digits, in a unit: an uncertainty that is
/// enough.
pub(super) fn enough_uncertainty(at_most: f64, unit: Unit) -> Option<String> {
    let number = unit.difference_from_base(&Exact::from_f64_shortest(at_most)?);
    if number.signum() <= 0 {
        return None;
    }
    let step = Exact::power_of_ten(number.leading_exponent() - 1);
    let steps = number.checked_div(&step)?.floor();
    Some(steps.mul(&step).to_decimal(2).0)
}

/// Digits after the point of a printed number.
pub(super) fn decimals_of(text: &str) -> usize {
    text.split_once('.')
        .map_or(0, |(_, decimals)| decimals.len())
}

fn number_zero() -> &'static Number {
    static ZERO: Number = Number::Exact(Exact::ZERO);
    &ZERO
}

fn ends_within(number: &Exact, decimals: usize) -> bool {
    number
        .decimals_needed()
        .is_some_and(|needed| needed <= decimals)
}

/// A number rounded to the last significant digit of a U of ten or more: 4213 beside 25 stays, beside 250
/// it is 4210.
fn rounded_like(number: &Exact, uncertainty: &str) -> Exact {
    let zeros = uncertainty.len().saturating_sub(2);
    let step = Exact::power_of_ten(i32::try_from(zeros).unwrap_or(0));
    number.round_to_multiple(&step, crate::quantity::Ties::Even)
}

/// Decimals that print an exact number, at least those it was written with.
fn enough(number: &Exact, written: usize) -> usize {
    match number.decimals_needed() {
        Some(needed) if needed <= MOST_DECIMALS.max(written) => needed.max(written),
        _ => {
            // Seven significant digits of a number that does not end.
            let kept = 6 - number.leading_exponent();
            usize::try_from(kept).unwrap_or(0).max(written)
        }
    }
}
