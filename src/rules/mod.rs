//! Class rules: model, loader, library of versions, lint of single rules.

mod library;
mod load;
mod load_derived;
mod load_rule;
mod model;

pub use library::{EMBEDDED_FORM, Library, Resolved};
pub use load::{FORMAT, digest, format_line, load, load_tree};
pub use load_rule::rows;
pub use model::*;
