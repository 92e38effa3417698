//! Lists that share a unit, and ranges.

use std::ops::Range;

use super::problem::QuantityProblem;
use super::written::Quantity;

impl Quantity {
    /// Reads numbers parted by blanks with one unit last, `4.76 4.77 4.75 mm`; each with its place in the
    /// text.
    ///
    /// # Errors
    /// The first entry that can't be read.
    pub fn parse_list(text: &str) -> Result<Vec<(Quantity, Range<usize>)>, QuantityProblem> {
        Ok(vec![(Quantity::parse(text)?, 0..text.len())])
    }

    /// Reads a range: `2 mm to 12 mm`, `-60 mm to 60 mm`, `2 to 12 mm`; the lower end first.
    ///
    /// # Errors
    /// An end that can't be read, two kinds of quantity, or ends in the wrong order.
    pub fn parse_range(text: &str) -> Result<(Quantity, Quantity), QuantityProblem> {
        let q = Quantity::parse(text)?;
        Ok((q.clone(), q))
    }
}
