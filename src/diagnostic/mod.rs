//! Messages about bad input: code, labels, help, and three printers.
//!
//! One shape, [`Diagnostic`], with optional parts. Its labels may stand in different sources, so that
//! a message about a record can point into the rules file as well. [`draw`] shows the source lines
//! with the places underlined, [`narrate`] says the same in sentences for screen readers and logs, and
//! [`to_json`] is `rimegauge-diagnostics/1`. All three print in the order of [`arrange`].

mod draw;
mod excerpt;
mod fields;
mod json;
mod model;
mod narrate;
mod near;
mod order;
mod safe;
mod schema;
mod schema_words;

pub use draw::{DrawOptions, draw};
pub use fields::{Faults, Fields, text_of};
pub use json::to_json;
pub use model::{Diagnostic, Label, Place, Severity};
pub use narrate::{narrate, summary};
pub use near::near_misses;
pub use order::arrange;
pub use safe::{safe_line, safe_text};
pub use schema::{Finding, Schema, merge};

#[cfg(test)]
mod tests;
