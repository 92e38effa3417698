//! Rules compiled to a plan, and a plan applied to a record.

pub mod cases;
mod decide;
mod eval;
mod finding;
mod judge;
mod plan;
mod reading;
mod value;

pub use finding::*;
pub use plan::{Context, Detail, Plan, exact_constant, verdict_of};
