//! Included angle of an edge from its two bevels, each measured from the middle plane of the blade.
//! The sum and the difference of the two readings: definition, no source needed.

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// A bevel in degrees, above 0 and below 90.
fn bevel(side: &str, angle: &Uncertain) -> Result<(), GeometryProblem> {
    let right_angle = Number::Exact(Exact::from_integer(90));
    let above_zero = angle.value.signum() == Some(1);
    let below_right_angle = angle.value.compare(&right_angle) == Some(std::cmp::Ordering::Less);
    if above_zero && below_right_angle {
        return Ok(());
    }
    Err(GeometryProblem::new(
        "bevel_out_of_range",
        format!("the {side} bevel is {} deg", shown(&angle.value)),
        "a bevel is the angle between one ground face and the middle plane: above 0 deg and below 90 deg, \
         so that both together stay below 180 deg",
    ))
}

/// Included angle in degrees: the sum of both bevels, each above 0 and below 90 degrees.
///
/// # Errors
/// A bevel out of range.
pub fn included_angle(
    port: &Uncertain,
    starboard: &Uncertain,
) -> Result<Uncertain, GeometryProblem> {
    bevel("port", port)?;
    bevel("starboard", starboard)?;
    Ok(port.add(starboard))
}

/// How far the two bevels differ, in degrees, never negative; each bevel above 0 and below 90 degrees.
///
/// # Errors
/// A bevel out of range.
pub fn bevel_difference(
    port: &Uncertain,
    starboard: &Uncertain,
) -> Result<Uncertain, GeometryProblem> {
    bevel("port", port)?;
    bevel("starboard", starboard)?;
    Ok(port.sub(starboard).abs())
}
