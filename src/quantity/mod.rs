//! Exact numbers, dimensions, units, dates, and the reading and printing of quantities.
//!
//! A number that a person wrote is held exactly, together with the unit and the digits as written, and is
//! compared exactly; floating point enters only with irrational functions and carries its rounding bound
//! with it. This room knows no class rule, no file and no clock.

pub mod date;
mod decimal;
mod dimension;
mod exact;
mod list;
mod literal;
mod near;
mod number;
mod problem;
mod quoted;
mod reader;
pub mod show;
#[cfg(test)]
mod tests;
mod unit;
mod words;
mod written;

pub use date::{Date, DatePrecision, DateSpan, DateTime, YEARS, add_days, days_between, lex_date};
pub use decimal::Ties;
pub use dimension::Dimension;
pub use exact::Exact;
pub use literal::lex_literal;
pub use near::{lookalike, mended, mended_list};
pub use number::Number;
pub use problem::QuantityProblem;
pub(crate) use quoted::{Plain, Row, billionths};
pub use unit::Unit;
pub use words::{HardnessScale, Material};
pub use written::Quantity;
