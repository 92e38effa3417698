//! The straight line through readings by least squares.
//!
//! Source: JCGM 100:2008, H.3 (calibration of a thermometer), with its letters: readings b_k at t_k, the line
//! b(t) = y_1 + y_2 (t − t_0), residual scatter s with n − 2 degrees of freedom. Sums are exact where the
//! readings are.

use super::problem::GeometryProblem;
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// A line by least squares. Units: those of the readings.
#[derive(Clone, Debug)]
pub struct LineFit {
    /// Intercept y_1 at t_0 (H.13a), without the scatter.
    pub y_1: Uncertain,
    /// Slope y_2 (H.13b), with the uncertainty of the readings and of their places, without the scatter.
    pub y_2: Uncertain,
    /// Residual standard deviation s (H.13f); `None` for two readings.
    pub s: Option<f64>,
    /// Standard uncertainty of the intercept from the scatter alone (H.13c), 0 for two readings.
    pub u_1: f64,
    /// Standard uncertainty of the slope from the scatter alone (H.13d), 0 for two readings.
    pub u_2: f64,
    /// Correlation coefficient of intercept and slope (H.13e).
    pub r: f64,
    /// Degrees of freedom n − 2.
    pub nu: f64,
    /// Condition number κ = √((1 + |r|)/(1 − |r|)) of the two columns scaled to unit length: 1 where t_0 is the mean
    /// place, large where it is far from the readings. Value and slope are exact where the readings are.
    pub kappa: f64,
}

/// The line through readings `b` at `t`, with the intercept at `t_0`.
///
/// # Errors
/// Fewer than two readings, another number of readings than places, all at one place.
pub fn line_fit(t: &[Uncertain], b: &[Uncertain], t_0: &Exact) -> Result<LineFit, GeometryProblem> {
    if t.len() != b.len() || t.len() < 2 {
        return Err(GeometryProblem::new(
            "too_few_readings",
            "a line needs two readings at least",
            "readings at two places or more",
        ));
    }
    let count = i64::try_from(t.len()).unwrap_or(i64::MAX);
    let n = Number::Exact(Exact::from_integer(count));
    let total = |values: &mut dyn Iterator<Item = Number>| {
        values.fold(Number::Exact(Exact::ZERO), |sum, one| sum.add(&one))
    };
    let same_place = || {
        GeometryProblem::new(
            "one_place",
            "all readings stand at one place",
            "readings at two places or more",
        )
    };
    let mean = |values: &[Uncertain]| {
        total(&mut values.iter().map(|one| one.value.clone())).checked_div(&n)
    };
    let (t_mean, b_mean) = mean(t).zip(mean(b)).ok_or_else(same_place)?;
    let from = |values: &[Uncertain], mean: &Number| -> Vec<Number> {
        values.iter().map(|one| one.value.sub(mean)).collect()
    };
    let (t_from, b_from) = (from(t, &t_mean), from(b, &b_mean));
    let square = |one: &Number| one.mul(one);
    let squares = total(&mut t_from.iter().map(square));
    let products = total(&mut t_from.iter().zip(&b_from).map(|(t, b)| t.mul(b)));
    let slope = products.checked_div(&squares).ok_or_else(same_place)?;
    let lever = t_mean.sub(&Number::Exact(t_0.clone()));
    let intercept = b_mean.sub(&slope.mul(&lever));

    let (sum, m) = (squares.to_f64(), slope.to_f64());
    let mut of_slope = Vec::with_capacity(2 * t.len());
    let mut of_intercept = Vec::with_capacity(2 * t.len());
    let share = 1.0 / n.to_f64();
    let arm = lever.to_f64();
    for (((t, b), t_off), b_off) in t.iter().zip(b).zip(&t_from).zip(&b_from) {
        let by_b = t_off.to_f64() / sum;
        let by_t = (b_off.to_f64() - 2.0 * m * t_off.to_f64()) / sum;
        of_slope.extend([(b, by_b), (t, by_t)]);
        of_intercept.extend([(b, share - arm * by_b), (t, -m * share - arm * by_t)]);
    }

    let nu = n.to_f64() - 2.0;
    let residual = |(t, b): (&Number, &Number)| square(&b.sub(&slope.mul(t)));
    let residuals = total(&mut t_from.iter().zip(&b_from).map(residual));
    let s = (nu > 0.0).then(|| (residuals.to_f64().max(0.0) / nu).sqrt());
    let scatter = s.unwrap_or(0.0);
    let about_t_0 = t.iter().map(|one| {
        let off = one.value.sub(&Number::Exact(t_0.clone())).to_f64();
        off * off
    });
    let about_t_0: f64 = about_t_0.sum();
    let sum_t = arm * n.to_f64();
    let r = -sum_t / (n.to_f64() * about_t_0).sqrt();
    // 1 − r² = Sxx/Σ(t − t_0)², which does not cancel.
    let apart = sum / about_t_0;
    Ok(LineFit {
        y_1: Uncertain::linear(intercept, &of_intercept),
        y_2: Uncertain::linear(slope, &of_slope),
        s,
        u_1: scatter * (about_t_0 / (n.to_f64() * sum)).sqrt(),
        u_2: scatter / sum.sqrt(),
        r,
        nu,
        kappa: (1.0 + r.abs()) / apart.sqrt(),
    })
}
