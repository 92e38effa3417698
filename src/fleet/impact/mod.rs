//! Fleet impact: every record under two versions, parsed once, counted in flat memory.

mod model;

pub use model::*;
