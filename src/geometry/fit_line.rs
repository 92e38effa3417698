//! The straight line through points by least squares of the distances from it (total least squares).
//!
//! Source: N. Chernov, Circular and Linear Regression (2010), 2.2 and 2.3, from memory: with the centred sums Sxx,
//! Sxy, Syy the direction φ is that of the larger eigenvalue, tan 2φ = 2Sxy/(Sxx − Syy), and the least sum of
//! squared distances is the smaller one, (Sxx·Syy − Sxy²)·2/(Sxx + Syy + √((Sxx − Syy)² + 4·Sxy²)). The sums are
//! exact, so that neither an offset nor a nearly straight row of points costs a digit.
//!
//! Condition number: κ is the change of the direction, in radians, for a relative change of the coordinates,
//! κ = Σ_i (|∂φ/∂x_i| + |∂φ/∂y_i|)·ℓ, at least 1, with ℓ the largest coordinate from the centroid. The results are
//! right to 100·κ·2⁻⁵³ at most; beyond κ = 2⁴⁶ there is no answer.

use super::fit_double::Double;
use super::fit_moments::Moments;
use super::problem::GeometryProblem;
use crate::quantity::Exact;

/// A line by orthogonal-distance least squares. Unit: that of the points.
#[derive(Clone, Debug)]
pub struct OrthogonalLine {
    /// The exact point that the line goes through: the centroid of the points.
    pub through: [Exact; 2],
    /// Unit vector along the line, toward positive x (upward where it stands straight up).
    pub direction: [f64; 2],
    /// Angle φ of the direction in radians, −π/2 to π/2.
    pub angle: f64,
    /// Condition number κ; see the head of the module's source.
    pub kappa: f64,
    /// Residual standard deviation s = √(Σd²/(n − 2)); `None` for two points.
    pub s: Option<f64>,
    /// Degrees of freedom n − 2.
    pub nu: f64,
    /// Standard uncertainty of the angle from the scatter alone, s·√Σ((∂φ/∂x_i)² + (∂φ/∂y_i)²), in radians.
    pub u_angle: f64,
    /// Distances of the points from the line, positive to the left of its direction.
    pub residuals: Vec<f64>,
    /// ∂φ/∂x_i and ∂φ/∂y_i, radians per unit.
    pub by_point: Vec<[f64; 2]>,
}

/// The line from which the points have the least sum of squared distances.
///
/// # Errors
/// Fewer than two points; all at one place; points spread alike in all directions, or so nearly that κ is beyond
/// 2⁴⁶.
pub fn fit_orthogonal_line(points: &[(Exact, Exact)]) -> Result<OrthogonalLine, GeometryProblem> {
    let moments = Moments::of(points, 2, "a line")?;
    let (difference, product) = (moments.sxx.sub(&moments.syy), moments.sxy.add(&moments.sxy));
    let square = difference.mul(&difference).add(&product.mul(&product));
    let no_direction = || {
        GeometryProblem::new(
            "no_direction",
            "the points spread alike in all directions: no line suits them better than another",
            "points that lie along a line",
        )
    };
    if square.is_zero() {
        return Err(no_direction());
    }
    let (d, n) = (Double::of(&difference), Double::of(&product));
    let spread = Double::of(&square).sqrt();
    // cos φ and sin φ by half angles; the larger of both first, so that nothing cancels.
    let two = Double::new(2.0);
    let (c, s) = if difference.signum() >= 0 {
        let c = ((spread + d) / (two * spread)).sqrt();
        (c, n / (two * spread * c))
    } else {
        let s = ((spread - d) / (two * spread)).sqrt();
        let c = n / (two * spread * s);
        if product.signum() < 0 {
            (-c, -s)
        } else {
            (c, s)
        }
    };
    let near: Vec<(Double, Double)> = moments
        .from
        .iter()
        .map(|(x, y)| (Double::of(x), Double::of(y)))
        .collect();
    let norm = Double::of(&square);
    let by_point: Vec<[f64; 2]> = near
        .iter()
        .map(|(x, y)| {
            [
                ((d * *y - n * *x) / norm).to_f64(),
                ((d * *x + n * *y) / norm).to_f64(),
            ]
        })
        .collect();
    let (mut total, mut squares, mut largest) = (0.0, 0.0, 0.0_f64);
    for ([by_x, by_y], (x, y)) in by_point.iter().zip(&near) {
        total += by_x.abs() + by_y.abs();
        squares += by_x * by_x + by_y * by_y;
        largest = largest.max(x.to_f64().abs()).max(y.to_f64().abs());
    }
    let kappa = (total * largest).max(1.0);
    if kappa > KAPPA_MOST {
        return Err(no_direction());
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of points")]
    let nu = points.len() as f64 - 2.0;
    let both = Double::of(&moments.sxx.add(&moments.syy));
    let least = two * Double::of(&moments.determinant()) / (both + spread);
    let scatter = (nu > 0.0).then(|| (least.to_f64() / nu).sqrt());
    Ok(OrthogonalLine {
        through: moments.centroid.clone(),
        direction: [c.to_f64(), s.to_f64()],
        angle: s.to_f64().atan2(c.to_f64()),
        kappa,
        s: scatter,
        nu,
        u_angle: scatter.unwrap_or(0.0) * squares.sqrt(),
        residuals: near
            .iter()
            .map(|(x, y)| (c * *y - s * *x).to_f64())
            .collect(),
        by_point,
    })
}

/// The largest condition number with which a line or a polynomial is still told: 2⁴⁶, where 100·κ·2⁻⁵³ is not far
/// from 1.
pub(super) const KAPPA_MOST: f64 = 70_368_744_177_664.0;

#[cfg(test)]
#[path = "fit_line_tests.rs"]
mod tests;
