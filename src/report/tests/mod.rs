//! The printers on findings made by hand, with the exact text.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod figures;
mod formats;
mod sample;
