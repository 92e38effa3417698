//! Measurement uncertainty after the GUM, coverage factors and decision rules.

mod coverage;

pub use coverage::{Coverage, central_share, exact_factor};
