//! Class rules: model, loader, library of versions, lint of single rules.

mod changed_words;
mod embedded_cases;
mod interpretation;
mod library;
mod limits;
mod lint;
mod load;
mod load_derived;
mod load_head;
mod load_interpretations;
mod load_limits;
mod load_mark_terms;
mod load_marks;
mod load_options;
mod load_overlay;
mod load_overlay_target;
mod load_places;
mod load_rounded;
mod load_rule;
mod load_tables;
mod load_words;
mod mark_model;
mod model;
mod overlay;
mod schema;
mod schema_limits;
mod schema_overlay;

pub use changed_words::{ChangedWords, DeclaredWords, WordsOf, changed_words};
pub use embedded_cases::{EMBEDDED_CASES, cases_of};
pub use interpretation::{Effect, Interpretation, InterpretationStatus, Scope, dropped_out};
pub use library::{EMBEDDED_FORMS, Library, Resolved};
pub use lint::{ends_of_values, lint, lint_beside, part_without_a_case, without_a_case};
pub use load::{FORMAT, digest, format_line, load, load_by_schema, load_tree};
pub use load_head::class;
pub use load_overlay::{LaidOver, OVERLAY_FORMAT, OverlayFor, lay_over, overlay_for};
pub use load_rule::rows;
pub use model::*;
pub use overlay::{Change, Overlay, Ruling, RulingUntil};
pub use schema::{cases_schema, rules_schema, schema_of_cases, schema_of_rules};
pub use schema_overlay::{overlay_schema, schema_of_overlays};

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests;
