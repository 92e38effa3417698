//! rimegauge: class rules of racing ice yachts checked against measured records.
//!
//! The rooms stand in layers; a room imports only from rooms below it. `DEVELOPERS.md` walks through
//! them and `tests/tidy.rs` enforces the order.

pub mod text;

pub mod quantity;

pub mod diagnostic;
pub mod uncertainty;

pub mod expression;
pub mod geometry;
pub mod vocabulary;

pub mod record;
pub mod rules;

pub mod boundary;
pub mod check;

pub mod event;
pub mod fleet;
pub mod prove;

pub mod paper;
pub mod report;

pub mod app;

pub mod cli;
