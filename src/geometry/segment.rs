//! Circular segments: radius, angle, arc and area from chord and height (plane geometry; c chord, h height,
//! r = (c² + 4h²)/(8h)).

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// A segment of a circle. Lengths in the unit of chord and height.
#[derive(Clone, Debug)]
pub struct Segment {
    /// r = (c² + 4h²)/(8h), exact where chord and height are.
    pub radius: Number,
    /// Central angle in degrees, 4·atan(2h/c).
    pub angle: Number,
    /// Length of the arc.
    pub arc: Number,
    /// Area between arc and chord.
    pub area: Number,
}

/// Radius of the circle with a segment of `height` over `chord`: (c² + 4h²)/(8h), with the uncertainty of both.
///
/// # Errors
/// A chord or a height that is not above 0, or that is one-sided and may be 0.
pub fn segment_radius(chord: &Uncertain, height: &Uncertain) -> Result<Uncertain, GeometryProblem> {
    positive("chord", &chord.value)?;
    positive("height", &height.value)?;
    let whole = |n: i64| Exact::from_integer(n);
    let squares = chord.mul(chord).add(&height.mul(height).scale(&whole(4)));
    squares
        .div(&height.scale(&whole(8)))
        .ok_or_else(may_be_zero)
}

pub(super) fn positive(name: &str, value: &Number) -> Result<(), GeometryProblem> {
    if value.signum() == Some(1) {
        return Ok(());
    }
    Err(GeometryProblem::new(
        "radius_needs_lengths",
        format!("the {name} is {} mm", shown(value)),
        "a length above 0 mm",
    ))
}

pub(super) fn may_be_zero() -> GeometryProblem {
    GeometryProblem::new(
        "radius_needs_lengths",
        "the gap is one-sided and may be 0 mm",
        "the thickness of the leaf, above 0 mm",
    )
}

/// The segment of a circle over a chord.
///
/// # Errors
/// A chord or a height that is not above 0.
pub fn segment(chord: &Exact, height: &Exact) -> Result<Segment, GeometryProblem> {
    let (c, h) = (
        Uncertain::exact(chord.clone()),
        Uncertain::exact(height.clone()),
    );
    let radius = segment_radius(&c, &h)?.value;
    let ratio = height
        .add(height)
        .checked_div(chord)
        .map(|ratio| Number::Exact(ratio).atan());
    let quarter = ratio.unwrap_or(Number::ZERO);
    let angle = quarter.mul(&Number::Exact(Exact::from_integer(4)));
    let degree = Number::real(std::f64::consts::PI / 180.0, 4e-18);
    let turn = angle.mul(&degree);
    let arc = radius.mul(&turn);
    let area = radius
        .mul(&radius)
        .mul(&beyond_sine(&turn))
        .mul(&Number::Exact(
            Exact::from_fraction(1, 2).unwrap_or(Exact::ONE),
        ));
    Ok(Segment {
        radius,
        angle,
        arc,
        area,
    })
}

/// θ − sin θ of an angle in radians, by its series where the difference would lose digits.
fn beyond_sine(turn: &Number) -> Number {
    let theta = turn.to_f64();
    if theta > 1.0 {
        let degrees = turn.mul(&Number::real(180.0 / std::f64::consts::PI, 1e-14));
        return turn.sub(&degrees.sin());
    }
    // θ³/6·(1 − θ²/20·(1 − θ²/42·(1 − …))): terms fall by θ²/20 at least.
    let square = theta * theta;
    let mut factor = 1.0;
    for step in (1..=12_u8).rev() {
        let k = 2.0 * f64::from(step);
        factor = 1.0 - square / ((k + 2.0) * (k + 3.0)) * factor;
    }
    let value = theta * square / 6.0 * factor;
    let off = 3.0 * turn.bound() / theta;
    Number::real(value, value * (off + 8.0 * f64::EPSILON))
}

#[cfg(test)]
#[path = "segment_tests.rs"]
mod tests;
