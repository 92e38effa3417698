//! The integration tests: one binary, a module for each thing that is tested from outside.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout
)]

mod cli;

mod suite {
    pub mod cases;
    pub mod tidy;
}
