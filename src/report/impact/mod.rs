//! What a change of rules does to a fleet, told: for people, in sentences, as JSON, and as a page with plots.
//!
//! ```text
//! Impact (numbers) ─► Names (who is named, and how) ─► blocks of words ─► human │ plain │ page
//!                                                   ├─► JSON
//!                                                   └─► plots (SVG) ─► page
//! ```
//!
//! Nothing is decided and nothing counted here: every number stands in the impact. What was never measured is told apart
//! and never as conforming.

mod bins;
pub(super) mod count;
pub(super) mod json;
mod limit;
pub(super) mod names;
mod others;
pub(super) mod page;
pub(super) mod plots;
pub(super) mod said;
pub(super) mod set;
pub(super) mod svg;
pub(super) mod told;

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests;

use semver::Version;

use crate::fleet::impact::Impact;
use crate::quantity::Date;
use crate::rules::Stage;

pub use count::{listed, several};
pub use json::impact_json;
pub use page::compare_page;
pub use said::why_unusable;
pub use set::{impact_plain, impact_text};
pub use told::Table;

/// What a change does to a fleet, with how it is to be told.
#[derive(Clone, Copy, Debug)]
pub struct Fleet<'f> {
    /// The numbers.
    pub impact: &'f Impact,
    /// The version as it was.
    pub old: &'f Version,
    /// The version as it is to be.
    pub new: &'f Version,
    /// From which day on each of them counts.
    pub in_force_from: (Date, Date),
    /// What the fleet is checked for.
    pub purpose: Stage,
    /// The level of an event.
    pub level: Option<&'f str>,
    /// Whether boats, items and lines of files are named; else they are numbered.
    pub names: bool,
}
