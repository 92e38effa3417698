//! What a record of a class can say: parts, traits, measures, zones.

mod load;
mod load_alterations;
mod load_groups;
mod load_measures;
mod load_renamed;
mod load_special;
mod load_zones;
mod model;
pub mod read;
mod renamed;

pub use load::{load, reference};
pub use load_renamed::load_renamed;
pub use load_zones::ELSEWHERE;
pub use model::*;
pub use renamed::{Renamed, RenamedTo};
