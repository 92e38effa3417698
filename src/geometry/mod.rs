//! Pure functions from readings to values: edge profile, straightness, section.
//!
//! Coordinates: x = 0 at the pivot centre, positive toward the toe; port and starboard as the runner is
//! sailed. Lengths in mm, angles in degrees. Sums, differences, products and quotients stay exact; where a
//! root enters, the result is a real number with its rounding bound and the caller is told.

mod angle;
mod flat;
mod hull;
mod problem;
mod straightness;

pub use angle::{bevel_difference, included_angle};
pub use flat::{Flat, Shim, crown_radius, flat_from_shims};
pub use problem::GeometryProblem;
pub use straightness::{Contact, Straightness, straightness};
