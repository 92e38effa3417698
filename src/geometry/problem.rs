//! What a geometry function can't compute from, and what it would accept.

use crate::quantity::Number;

/// Input outside the domain of a function.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GeometryProblem {
    /// Stable name of the kind of problem.
    pub code: &'static str,
    /// What was read and what is wrong there.
    pub message: String,
    /// What would be accepted.
    pub help: String,
}

impl GeometryProblem {
    pub(super) fn new(
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> GeometryProblem {
        GeometryProblem {
            code,
            message: message.into(),
            help: help.into(),
        }
    }
}

/// A number for a message, to 12 digits.
pub(super) fn shown(value: &Number) -> String {
    match value {
        Number::Exact(exact) => exact.to_decimal(12).0,
        Number::Real { value, .. } => format!("{value}"),
    }
}
