//! Boats written down and checked: what is written is what was meant.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::unreachable,
    clippy::indexing_slicing
)]

mod boats;
mod chain;
mod made;
mod shipped;
