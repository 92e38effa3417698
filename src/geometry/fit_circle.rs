//! The circle through points by least squares of the distances from it (geometric, orthogonal-distance fit).
//!
//! Minimises Σ d_i², d_i = √((x_i − a)² + (y_i − b)²) − R. Source: N. Chernov, Circular and Linear Regression
//! (2010), 4.1 to 4.6 (objective, its derivatives) and 5.9 (the start, G. Taubin 1991), from memory. Points are
//! exact numbers; their centroid is taken off exactly, and what is left is carried in double-double
//! arithmetic through Newton's method, so that an offset of any size costs no digit.
//!
//! Condition number: κ is the largest relative change of a result for a relative change of the coordinates,
//! κ = max over a, b, R of Σ_i (|∂p/∂x_i| + |∂p/∂y_i|)·ℓ/R, at least 1, with ℓ the largest coordinate from the
//! centroid; changes of the centre are taken relative to R. An arc over half an angle of φ has κ of about 4/φ.
//! The results are right to 100·κ·2⁻⁵³ relative at most. A radius of more than 2²⁴ times the largest
//! coordinate gets no answer: there the normal equations, whose condition goes with the fourth power of that
//! ratio, use up the 2⁻¹⁰⁴ of the arithmetic.

use super::fit_double::{Double, solve};
use super::fit_moments::Moments;
use super::problem::GeometryProblem;
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// A circle by orthogonal-distance least squares. Unit: that of the points.
#[derive(Clone, Debug)]
pub struct CircleFit {
    /// The exact point from which the centre is counted: the centroid of the points.
    pub origin: [Exact; 2],
    /// Centre a, b from the origin.
    pub centre: [f64; 2],
    /// Radius R.
    pub radius: f64,
    /// Condition number κ; see the head of the module's source.
    pub kappa: f64,
    /// Residual standard deviation s = √(Σd²/(n − 3)); `None` for three points.
    pub s: Option<f64>,
    /// Degrees of freedom n − 3.
    pub nu: f64,
    /// Standard uncertainty of the radius from the scatter alone: s·√Σ((∂R/∂x_i)² + (∂R/∂y_i)²).
    pub u_radius: f64,
    /// Distances of the points from the circle, outside positive.
    pub residuals: Vec<f64>,
    /// ∂a, ∂b and ∂R by x_i.
    pub by_x: Vec<[f64; 3]>,
    /// ∂a, ∂b and ∂R by y_i.
    pub by_y: Vec<[f64; 3]>,
}

impl CircleFit {
    /// The radius with the bound on its rounding.
    #[must_use]
    pub fn radius_number(&self) -> Number {
        Number::real(self.radius, self.radius * self.relative_bound())
    }

    /// The centre with the bound on its rounding, the origin added.
    #[must_use]
    pub fn centre_numbers(&self) -> [Number; 2] {
        let [x, y] = &self.origin;
        let [a, b] = self.centre;
        let bound = self.radius * self.relative_bound();
        [
            Number::Exact(x.clone()).add(&Number::real(a, bound)),
            Number::Exact(y.clone()).add(&Number::real(b, bound)),
        ]
    }

    /// One rounding to floating point, and what double-double arithmetic leaves at this condition.
    fn relative_bound(&self) -> f64 {
        f64::EPSILON * (1.0 + self.kappa * 2.0_f64.powi(-40))
    }

    /// The radius with the uncertainty of the points it was made of, in their order; the scatter is left out.
    #[must_use]
    pub fn radius_of(&self, points: &[(&Uncertain, &Uncertain)]) -> Uncertain {
        let mut terms = Vec::with_capacity(2 * points.len());
        for ((x, y), (by_x, by_y)) in points.iter().zip(self.by_x.iter().zip(&self.by_y)) {
            terms.push((*x, by_x[2]));
            terms.push((*y, by_y[2]));
        }
        Uncertain::linear(self.radius_number(), &terms)
    }
}

/// One point as the circle sees it.
struct Ray {
    cos: Double,
    sin: Double,
    distance: Double,
    residual: Double,
}

/// Centre and radius.
type Circle = [Double; 3];

fn rays(points: &[(Double, Double)], [a, b, radius]: &Circle) -> Vec<Ray> {
    points
        .iter()
        .map(|(x, y)| {
            let (dx, dy) = (*x - *a, *y - *b);
            let distance = (dx.square() + dy.square()).sqrt();
            let (cos, sin) = if distance.to_f64() > 0.0 {
                (dx / distance, dy / distance)
            } else {
                (Double::new(1.0), Double::ZERO)
            };
            Ray {
                cos,
                sin,
                distance,
                residual: distance - *radius,
            }
        })
        .collect()
}

fn sum_of_squares(rays: &[Ray]) -> Double {
    rays.iter().map(|ray| ray.residual.square()).sum()
}

/// The gradient of half the sum of squares by a, b, R.
fn gradient(rays: &[Ray]) -> Circle {
    let total = |of: &dyn Fn(&Ray) -> Double| -rays.iter().map(of).sum::<Double>();
    [
        total(&|ray| ray.residual * ray.cos),
        total(&|ray| ray.residual * ray.sin),
        total(&|ray| ray.residual),
    ]
}

/// The second derivatives of one ray by its point: d·(turn of the ray) added to the squares.
fn bends(ray: &Ray, weight: f64) -> [Double; 3] {
    let turn = if ray.distance.to_f64() > 0.0 {
        Double::new(weight) * ray.residual / ray.distance
    } else {
        Double::ZERO
    };
    let (c, s) = (ray.cos, ray.sin);
    [
        c.square() + turn * s.square(),
        c * s - turn * c * s,
        s.square() + turn * c.square(),
    ]
}

/// The Hessian of half the sum of squares; with `weight` 0 that of Gauss and Newton.
fn hessian(rays: &[Ray], weight: f64) -> [Circle; 3] {
    let mut found = [[Double::ZERO; 3]; 3];
    let [first, second, third] = &mut found;
    for ray in rays {
        let [xx, xy, yy] = bends(ray, weight);
        let add = |row: &mut Circle, more: Circle| {
            for (own, more) in row.iter_mut().zip(more) {
                *own = *own + more;
            }
        };
        add(first, [xx, xy, ray.cos]);
        add(second, [xy, yy, ray.sin]);
        add(third, [ray.cos, ray.sin, Double::new(1.0)]);
    }
    found
}

/// Whether a symmetric matrix is positive definite, by its leading minors, the last row first.
fn is_definite([[a, b, c], [_, d, e], [_, _, f]]: &[Circle; 3]) -> bool {
    let (a, b, d) = (*a - *c * *c / *f, *b - *c * *e / *f, *d - *e * *e / *f);
    f.to_f64() > 0.0 && a.to_f64() > 0.0 && (d - b * b / a).to_f64() > 0.0
}

/// Taubin's circle, the start.
fn start(points: &[(Double, Double)]) -> Option<Circle> {
    let [mut xx, mut yy, mut xy, mut xz, mut yz, mut zz] = [Double::ZERO; 6];
    for (x, y) in points {
        let z = x.square() + y.square();
        xx = xx + x.square();
        yy = yy + y.square();
        xy = xy + *x * *y;
        xz = xz + *x * z;
        yz = yz + *y * z;
        zz = zz + z.square();
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of points")]
    let n = Double::new(points.len() as f64);
    let [xx, yy, xy, xz, yz, zz] = [xx / n, yy / n, xy / n, xz / n, yz / n, zz / n];
    let z = xx + yy;
    let spread = zz - z.square();
    let product = xx * yy - xy.square();
    let times = |factor: f64, value: Double| Double::new(factor) * value;
    let a_3 = times(4.0, z);
    let a_2 = -times(3.0, z.square()) - zz;
    let a_1 = spread * z + times(4.0, product * z) - xz.square() - yz.square();
    let a_0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - spread * product;
    let mut root = Double::ZERO;
    for _ in 0..60 {
        let value = a_0 + root * (a_1 + root * (a_2 + root * a_3));
        let slope = a_1 + root * (times(2.0, a_2) + times(3.0, root * a_3));
        if slope.to_f64() == 0.0 {
            break;
        }
        let step = value / slope;
        if !step.is_finite() {
            break;
        }
        root = root - step;
        if step.to_f64().abs() <= 1e-30 * root.to_f64().abs() {
            break;
        }
    }
    let under = times(2.0, root.square() - root * z + product);
    let a = (xz * (yy - root) - yz * xy) / under;
    let b = (yz * (xx - root) - xz * xy) / under;
    let radius = (a.square() + b.square() + z).sqrt();
    [a, b, radius]
        .iter()
        .all(|one| one.is_finite())
        .then_some([a, b, radius])
}

/// Newton's method with the whole Hessian where it is definite, Gauss and Newton's otherwise; steps that
/// raise the sum are halved.
fn descend(points: &[(Double, Double)], mut circle: Circle) -> Option<Circle> {
    let mut last_steps = 0;
    for _ in 0..400 {
        let seen = rays(points, &circle);
        let (slope, full) = (gradient(&seen), hessian(&seen, 1.0));
        let step = if is_definite(&full) {
            solve(&full, &slope)?
        } else {
            solve(&hessian(&seen, 0.0), &slope)?
        };
        let size = step
            .iter()
            .fold(0.0, |most: f64, one| most.max(one.to_f64().abs()))
            / circle[2].to_f64();
        let moved = |share: f64| {
            let mut next = circle;
            for (own, step) in next.iter_mut().zip(&step) {
                *own = *own - Double::new(share) * *step;
            }
            next
        };
        if size < 1e-14 {
            circle = moved(1.0);
            last_steps += 1;
            if last_steps == 3 {
                return Some(circle);
            }
            continue;
        }
        let before = sum_of_squares(&seen);
        let mut share = 1.0;
        while share > 1e-12 {
            let next = moved(share);
            let after = sum_of_squares(&rays(points, &next));
            let lower = (after - before).to_f64() <= 0.0 || size * share < 1e-9;
            if next[2].to_f64() > 0.0 && after.is_finite() && lower {
                circle = next;
                break;
            }
            share /= 2.0;
        }
        if share <= 1e-12 {
            return None;
        }
    }
    None
}

/// The circle from which the points have the least sum of squared distances.
///
/// # Errors
/// Fewer than three points; all at one place; all on one line; points that no circle suits better than a
/// line; an arc so flat that κ is beyond 2⁴⁶.
pub fn fit_circle(points: &[(Exact, Exact)]) -> Result<CircleFit, GeometryProblem> {
    let moments = Moments::of(points, 3, "a circle")?;
    if moments.determinant().is_zero() {
        return Err(GeometryProblem::new(
            "points_on_a_line",
            format!("all {} points stand on one line", points.len()),
            "points on an arc: a line has no radius",
        ));
    }
    let near: Vec<(Double, Double)> = moments
        .from
        .iter()
        .map(|(x, y)| (Double::of(x), Double::of(y)))
        .collect();
    let no_circle = || {
        GeometryProblem::new(
            "no_best_circle",
            "no circle suits the points better than a straight line does",
            "points on an arc that rises clearly over their scatter",
        )
    };
    let too_flat = || {
        GeometryProblem::new(
            "ill_conditioned",
            "the arc is too flat for its radius: more than 16 million times the reach of its points",
            "points over a longer arc",
        )
    };
    let spread = largest(&near);
    let is_flat = |circle: &Circle| circle[2].to_f64() > FLATTEST * spread;
    let start = start(&near)
        .filter(|start| !is_flat(start))
        .ok_or_else(too_flat)?;
    let circle = descend(&near, start).ok_or_else(no_circle)?;
    if is_flat(&circle) {
        return Err(too_flat());
    }
    let seen = rays(&near, &circle);
    let full = hessian(&seen, 1.0);
    if !is_definite(&full) || sum_of_squares(&seen).to_f64() > off_the_line(&moments) {
        return Err(no_circle());
    }
    with_derivatives(&moments, &near, &circle, &seen, &full).ok_or_else(no_circle)
}

/// The largest radius that is told, in units of the largest coordinate from the centroid: 2²⁴.
const FLATTEST: f64 = 16_777_216.0;

/// The largest coordinate.
fn largest(points: &[(Double, Double)]) -> f64 {
    points.iter().fold(0.0, |most: f64, (x, y)| {
        most.max(x.to_f64().abs()).max(y.to_f64().abs())
    })
}

/// The least sum of squared distances from a line: 2·(Sxx·Syy − Sxy²)/(Sxx + Syy + √((Sxx − Syy)² + 4·Sxy²)).
fn off_the_line(moments: &Moments) -> f64 {
    let (xx, yy, xy) = (
        moments.sxx.to_f64(),
        moments.syy.to_f64(),
        moments.sxy.to_f64(),
    );
    2.0 * moments.determinant().to_f64() / (xx + yy + (xx - yy).hypot(2.0 * xy))
}

/// The results with their derivatives: ∂p = −H⁻¹·∂(gradient), both with the residuals' part.
fn with_derivatives(
    moments: &Moments,
    near: &[(Double, Double)],
    circle: &Circle,
    seen: &[Ray],
    full: &[Circle; 3],
) -> Option<CircleFit> {
    let (one, zero) = (Double::new(1.0), Double::ZERO);
    let inverse = [
        solve(full, &[one, zero, zero])?,
        solve(full, &[zero, one, zero])?,
        solve(full, &[zero, zero, one])?,
    ];
    let times = |vector: Circle| -> [f64; 3] {
        let mut found = [0.0; 3];
        for (slot, row) in found.iter_mut().zip(&inverse) {
            let product: Double = row.iter().zip(vector).map(|(a, b)| *a * b).sum();
            *slot = product.to_f64();
        }
        found
    };
    let (mut by_x, mut by_y) = (
        Vec::with_capacity(near.len()),
        Vec::with_capacity(near.len()),
    );
    let (mut totals, mut squares) = ([0.0_f64; 3], 0.0);
    for ray in seen {
        let [xx, xy, yy] = bends(ray, 1.0);
        let (x, y) = (times([xx, xy, ray.cos]), times([xy, yy, ray.sin]));
        for ((total, x), y) in totals.iter_mut().zip(x).zip(y) {
            *total += x.abs() + y.abs();
        }
        squares += x[2] * x[2] + y[2] * y[2];
        by_x.push(x);
        by_y.push(y);
    }
    let spread = largest(near);
    let [a, b, radius] = circle.map(Double::to_f64);
    let worst = totals.iter().fold(0.0, |most: f64, one| most.max(*one));
    #[expect(clippy::cast_precision_loss, reason = "a number of points")]
    let nu = near.len() as f64 - 3.0;
    let s = (nu > 0.0).then(|| (sum_of_squares(seen).to_f64() / nu).sqrt());
    Some(CircleFit {
        origin: moments.centroid.clone(),
        centre: [a, b],
        radius,
        kappa: (worst * spread / radius).max(1.0),
        s,
        nu,
        u_radius: s.unwrap_or(0.0) * squares.sqrt(),
        residuals: seen.iter().map(|ray| ray.residual.to_f64()).collect(),
        by_x,
        by_y,
    })
}

#[cfg(test)]
#[path = "fit_circle_tests.rs"]
mod tests;
