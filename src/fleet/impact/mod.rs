//! Fleet impact: every record under two versions, parsed once, counted in flat memory.
//!
//! The new version is asked only for the rules that are not written as in the old one. Near a limit of those a value is
//! told exactly, far from it roughly: bins and counts need no more.

mod before;
mod heads;
mod model;
mod pair;
mod plain;
mod quick;
mod same;
mod tally;
mod weigh;

pub use heads::row_names;
pub use model::*;
pub use pair::{Asked, Pair, Scratch};
pub use quick::{PlainLook, PlainScratch};
pub use tally::{BoatAt, Tally, WORST};
