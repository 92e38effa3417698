//! The event: what is done at its desk.
//!
//! For now the numbers on marks alone: [`check_character`] and [`CheckedNumber`].

mod mark_number;

pub use mark_number::{CheckedNumber, NumberProblem, check_character, read_number};
