//! Invented boats of any class, made of nothing but its rules file and a number.
//!
//! [`Maker::new`] reads a class once: which choices each part may have, which readings its rules want of it and where,
//! and in which ranges all its numbers may lie so that every rule is kept (`book`, `fit`). [`Maker::boat`] then draws a
//! boat by its number and writes it as one line of JSON. The same rules, settings and number give the same bytes, whatever
//! was made before; choices are made in whole numbers.
//!
//! The boats are invented, for demos and benchmarks, and say nothing of any real fleet. Each record says so.

mod ask;
mod boats;
mod book;
mod digits;
mod eval;
mod fit;
mod instruments;
mod interval;
mod lever;
mod model;
mod places;
mod random;
mod settings;
mod sheet;
mod used;
mod write;

pub use settings::{Settings, SettingsFault, Share};
pub use write::Maker;

#[cfg(test)]
mod tests;
