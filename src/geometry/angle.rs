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

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::*;
    use crate::uncertainty::{Part, PartKind};

    fn degrees(text: &str, source: u32) -> Uncertain {
        let value = Number::Exact(Exact::from_decimal(text).unwrap());
        let own = Part::new(PartKind::Resolution, source, 0, 0.3, f64::INFINITY);
        let offset = Part::new(PartKind::Calibration, 9, 0, 0.2, f64::INFINITY);
        Uncertain::new(value, [own, offset])
    }

    #[test]
    fn sum_and_difference_are_exact_and_carry_the_protractor() {
        let (port, starboard) = (degrees("40.1", 1), degrees("41", 2));
        let angle = included_angle(&port, &starboard).unwrap();
        let exact = |text: &str| Exact::from_decimal(text);
        assert_eq!(angle.value.as_exact(), exact("81.1").as_ref());
        let u = (0.3_f64 * 0.3 * 2.0 + 0.4 * 0.4).sqrt();
        assert!((angle.combined().u - u).abs() < 1e-15);
        for (a, b) in [(&port, &starboard), (&starboard, &port)] {
            let difference = bevel_difference(a, b).unwrap();
            assert_eq!(difference.value.as_exact(), exact("0.9").as_ref());
            assert!((difference.combined().u - 0.3 * 2.0_f64.sqrt()).abs() < 1e-15);
        }
    }

    #[test]
    fn a_bevel_lies_between_zero_and_a_right_angle() {
        let good = degrees("45", 1);
        assert!(included_angle(&degrees("89.999", 2), &good).is_ok());
        for bad in ["0", "-1", "90", "120"] {
            let bad = degrees(bad, 2);
            for problem in [
                included_angle(&good, &bad).unwrap_err(),
                bevel_difference(&bad, &good).unwrap_err(),
            ] {
                assert_eq!(problem.code, "bevel_out_of_range");
            }
        }
        let problem = included_angle(&good, &degrees("120", 2)).unwrap_err();
        assert_eq!(problem.message, "the starboard bevel is 120 deg");
    }
}
