//! How a fleet stands as one limit moves, told: for people, in sentences, as JSON, and as a plot.
//!
//! Nothing is counted here: every number stands in [`Varied`]. What was never measured is told apart and never as
//! conforming.

mod json;
mod marks;
mod plot;
mod told;

use crate::fleet::vary::Varied;
use crate::quantity::Exact;
use crate::rules::{RulesFile, Stage};

use super::impact::set::{narrated, set};

pub use json::vary_json;
pub use plot::vary_plot;

/// What a fleet comes to as a limit moves, with how it is to be told.
#[derive(Clone, Copy, Debug)]
pub struct VariedReport<'v> {
    /// The rules whose limit moves.
    pub rules: &'v RulesFile,
    /// The numbers.
    pub varied: &'v Varied,
    /// What the fleet is checked for.
    pub purpose: Stage,
    /// The level of an event.
    pub level: Option<&'v str>,
    /// What should be known of the question, in sentences.
    pub notes: &'v [String],
    /// Limits that are written as fractions, base units, and as they are written.
    pub written: &'v [(Exact, String)],
    /// Whether boats and lines of files are named; else they are numbered.
    pub names: bool,
}

/// For people, set to a width.
pub fn vary_text(report: &VariedReport<'_>, width: usize) -> String {
    set(told::blocks(report), width)
}

/// In sentences, a line for each.
pub fn vary_plain(report: &VariedReport<'_>) -> String {
    narrated(told::blocks(report))
}
