//! Class rules: model, loader, library of versions, lint of single rules.

mod model;

pub use model::*;
