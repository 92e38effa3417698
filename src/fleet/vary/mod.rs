//! How many of a fleet conform as one limit moves.
//!
//! Each item is asked once where its outcome turns; everything else is counting: how items and boats stand with any
//! limit follows from where they turn.

mod column;
mod limit;
mod question;
mod varied;

pub use column::{Base, Column, Columns, Counts, MOST_COLUMNS, Stands};
pub use limit::{MovedLimit, limits_of};
pub use question::{Asked, Question, VaryTally};
pub use varied::{Point, TurnPoint, Varied, steps, varied};
