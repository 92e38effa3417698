//! A quantity as somebody wrote it: exact value, unit, and the digits that were written.

use super::dimension::Dimension;
use super::exact::Exact;
use super::literal;
use super::problem::QuantityProblem;
use super::show;
use super::unit::Unit;

/// A quantity as somebody wrote it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Quantity {
    /// In base units (mm, kg, s, K, deg).
    pub value: Exact,
    /// As written.
    pub unit: Unit,
    /// The step of the last written digit in base units: 0.01 mm for `4.70 mm`, 1/16 in for `3/16 in`.
    pub resolution: Exact,
    /// Digits after the point; `None` when written as a fraction, or in degrees and minutes.
    pub decimals: Option<u8>,
}

impl Quantity {
    /// A quantity of `number` in `unit`, as if written with this many decimals.
    #[must_use]
    pub fn of(number: &Exact, unit: Unit, decimals: u8) -> Quantity {
        let step = Exact::power_of_ten(-i32::from(decimals));
        Quantity {
            value: unit.to_base(number),
            unit,
            resolution: step.mul(&unit.factor()),
            decimals: Some(decimals),
        }
    }

    /// The dimension of the unit.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// The number in front of the unit as written: 4.70 for `4.70 mm`.
    #[must_use]
    pub fn number(&self) -> Exact {
        self.unit.from_base(&self.value)
    }

    /// The value read as a difference, in base units: `0.5 degC` as an uncertainty is 0.5 K, not 273.65 K.
    /// Every other unit gives the value itself.
    #[must_use]
    pub fn difference(&self) -> Exact {
        if self.unit.has_offset() {
            self.number().mul(&self.unit.factor())
        } else {
            self.value.clone()
        }
    }

    /// Reads a whole text as one quantity: `4.70 mm`, `1 3/16 in`, `82 deg 30 min`, `0.5`.
    ///
    /// # Errors
    /// Everything else, with what was read, what is wrong and what would be accepted.
    #[inline]
    pub fn parse(text: &str) -> Result<Quantity, QuantityProblem> {
        match literal::quick(text.as_bytes()) {
            Some(quantity) => Ok(quantity),
            None => literal::whole(text, None),
        }
    }

    /// Reads a whole text as one quantity of this dimension.
    ///
    /// # Errors
    /// As [`Quantity::parse`]; a number without a unit and a quantity of another kind are told from each
    /// other, and both messages name the units that would do.
    #[inline]
    pub fn parse_as(text: &str, expected: Dimension) -> Result<Quantity, QuantityProblem> {
        match literal::quick(text.as_bytes()) {
            Some(quantity) if quantity.dimension() == expected => Ok(quantity),
            _ => literal::whole(text, Some(expected)),
        }
    }

    /// The quantity in the digits it was written in: `4.70 mm`, `1 3/16 in`, `82 deg 30 min`.
    #[must_use]
    pub fn as_written(&self) -> String {
        show::written(self)
    }
}

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.as_written())
    }
}
