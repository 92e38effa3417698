//! What a record of a class can say: parts, traits, measures, zones.

mod load;
mod load_measures;
mod model;
pub mod read;

pub use load::{load, reference};
pub use model::*;
