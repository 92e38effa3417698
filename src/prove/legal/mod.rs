//! A version of class rules as statements: what has to hold of every item of a boat, so that the boat is legal.
//!
//! The requirement part of architecture: everything is measured, at places enough, without uncertainty, and every
//! day and answer is proven. Stage, level and day of the check are variables like any other.

mod clause;
mod condition;
mod domain;
mod function;
mod laws;
mod limit;
mod marks;
mod value;

pub use clause::{Clause, ClauseOf, Exemption, Legal, legal};
pub use laws::laws;

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests;
