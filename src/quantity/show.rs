//! Quantities as text: the digits that were written, a value in a display unit, a value with its
//! uncertainty.

use super::written::Quantity;

/// The digits as written, with the unit.
pub(super) fn written(quantity: &Quantity) -> String {
    let number = quantity
        .number()
        .to_fixed(usize::from(quantity.decimals.unwrap_or(0)));
    format!("{number} {}", quantity.unit)
}
