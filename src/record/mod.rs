//! Measured records and forms: model, loader, schema.

mod model;

pub use model::*;
