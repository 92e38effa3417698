//! Points in the plane about their centroid: offsets are taken off exactly, before any rounding.

use super::problem::GeometryProblem;
use crate::quantity::Exact;

/// Points about their centroid, with the sums of their squares and products, all exact.
pub(super) struct Moments {
    /// The centroid.
    pub centroid: [Exact; 2],
    /// The points from the centroid.
    pub from: Vec<(Exact, Exact)>,
    pub sxx: Exact,
    pub sxy: Exact,
    pub syy: Exact,
}

impl Moments {
    /// Those of `points`.
    ///
    /// # Errors
    /// Fewer points than `least`; all points at one place.
    pub fn of(
        points: &[(Exact, Exact)],
        least: usize,
        what: &str,
    ) -> Result<Moments, GeometryProblem> {
        let first = points.first().filter(|_| points.len() >= least);
        let Some((x_0, y_0)) = first else {
            return Err(GeometryProblem::new(
                "too_few_points",
                format!(
                    "{what} needs {least} points at least; {} given",
                    points.len()
                ),
                format!("{least} points or more"),
            ));
        };
        let n = i64::try_from(points.len()).unwrap_or(i64::MAX);
        let share = Exact::from_fraction(1, n).unwrap_or(Exact::ONE);
        let near: Vec<(Exact, Exact)> = points
            .iter()
            .map(|(x, y)| (x.sub(x_0), y.sub(y_0)))
            .collect();
        let mean_x = near.iter().map(|(x, _)| x).sum::<Exact>().mul(&share);
        let mean_y = near.iter().map(|(_, y)| y).sum::<Exact>().mul(&share);
        let mut found = Moments {
            centroid: [x_0.add(&mean_x), y_0.add(&mean_y)],
            from: Vec::with_capacity(points.len()),
            sxx: Exact::ZERO,
            sxy: Exact::ZERO,
            syy: Exact::ZERO,
        };
        for (x, y) in &near {
            found.sxx = found.sxx.add(&x.mul(x));
            found.sxy = found.sxy.add(&x.mul(y));
            found.syy = found.syy.add(&y.mul(y));
            found.from.push((x.sub(&mean_x), y.sub(&mean_y)));
        }
        let n = Exact::from_integer(n);
        found.sxx = found.sxx.sub(&n.mul(&mean_x).mul(&mean_x));
        found.sxy = found.sxy.sub(&n.mul(&mean_x).mul(&mean_y));
        found.syy = found.syy.sub(&n.mul(&mean_y).mul(&mean_y));
        if found.sxx.is_zero() && found.syy.is_zero() {
            return Err(GeometryProblem::new(
                "one_place",
                format!("all {} points stand at one place", points.len()),
                "points at different places",
            ));
        }
        Ok(found)
    }

    /// Sxx·Syy − Sxy²: zero where all points stand on one line, exactly.
    pub fn determinant(&self) -> Exact {
        self.sxx.mul(&self.syy).sub(&self.sxy.mul(&self.sxy))
    }
}
