//! From the boat of a proof to a record and back through a check: what a proof claims is shown on a record that a
//! check judges by itself.
//!
//! [`complete`] makes the boat whole for both versions: places enough for every rule, and readings of what is measured
//! in several numbers. [`Complete::record`] writes it as a record of either version, [`replay`] checks such a record.
//! [`Complete::fragment`] says what differs from another boat, [`Complete::cases`] what a committee can keep.

mod complete;
mod demands;
mod document;
mod edge;
mod fragment;
mod number;
mod over;
mod places;
mod replay;
mod structured;
mod trials;
mod worth;
mod write;

pub use complete::{Complete, LegalAt, complete};
pub use document::Document;
pub use fragment::CaseOf;
pub use replay::{Replayed, Said, replay};

#[cfg(test)]
mod tests;
