//! What a record of a class can say: parts, traits, measures, zones.

mod model;

pub use model::*;
