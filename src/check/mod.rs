//! Rules compiled to a plan, and a plan applied to a record.

mod finding;

pub use finding::*;
