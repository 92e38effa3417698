//! The crown radius of an edge: from stations by least squares, from leaves by chord and height (common
//! practice, no source; plane geometry).
//!
//! From one leaf of thickness g that binds at a distance a from the contact: R = (a² + g²)/(2g). From
//! stations: the circle of least squared distances ([`fit_circle`]) through all of them. Both agree: three
//! stations (−a, g), (0, 0), (a, g) give exactly (a² + g²)/(2g). A parabola through them would have
//! a²/(2g), shorter by g/2.

use super::fit_circle::fit_circle;
use super::flat::Shim;
use super::problem::GeometryProblem;
use super::profile::EdgeProfile;
use super::segment::{may_be_zero, positive, segment_radius};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Part, PartKind, Uncertain};

/// A crown radius.
#[derive(Clone, Debug)]
pub struct Crown {
    /// The radius R in mm; one-sided ("at least") where the edge is too flat for its readings, or leaves are.
    pub radius: Uncertain,
    /// From stations: standard deviation s of their distances from the circle, mm, n − 3 degrees of freedom.
    pub s: Option<f64>,
    /// From stations: condition number κ of the fit.
    pub kappa: Option<f64>,
    /// How it was found, for the report.
    pub note: Option<String>,
}

/// Crown radius of a circular edge that is `gap` away from the straight edge at `reach` from the contact:
/// R = (a² + g²)/(2g), in mm; the segment of chord 2a and height g.
///
/// # Errors
/// A gap or a reach that is not above 0.
pub fn crown_radius(reach: &Uncertain, gap: &Uncertain) -> Result<Uncertain, GeometryProblem> {
    positive("reach", &reach.value)?;
    positive("gap", &gap.value)?;
    segment_radius(&reach.scale(&Exact::from_integer(2)), gap)
}

/// Crown radius from leaves, each with half the way between its two ends, a = (forward + aft)/2, since a
/// straight edge that is turned moves the contact and leaves the sum: R = Σ g·(a² + g²)/(2·Σ g²), the radius
/// of least squares of a² + g² − 2Rg; one leaf gives (a² + g²)/(2g). Leaves that are one-sided count only where
/// no other one tells a number, and give a one-sided radius.
///
/// # Errors
/// No leaf; a leaf or a way that is not above 0; leaves that are open on different sides.
pub fn crown_radius_from_shims(shims: &[Shim]) -> Result<Crown, GeometryProblem> {
    for shim in shims {
        positive("gap", &shim.gap.value)?;
        for (end, reading) in [("forward", &shim.forward), ("aft", &shim.aft)] {
            if reading.value.signum() == Some(-1) {
                positive(&format!("{end} reading"), &reading.value)?;
            }
        }
        positive("way between both ends", &shim.forward.add(&shim.aft).value)?;
    }
    let spans = |wanted: Option<Bound>| -> Vec<(Uncertain, &Uncertain)> {
        shims
            .iter()
            .map(|shim| (shim.forward.add(&shim.aft), &shim.gap))
            .filter(|(span, _)| span.bound == wanted)
            .collect()
    };
    let found = [None, Some(Bound::AtLeast), Some(Bound::AtMost)]
        .into_iter()
        .map(spans)
        .find(|list| !list.is_empty())
        .ok_or_else(|| {
            GeometryProblem::new(
                "no_shims",
                "the edge profile has no leaf that tells a radius",
                "one leaf at least that binds at both ends: { gap: 0.20 mm, forward: 225 mm, aft: 225 mm }",
            )
        })?;
    let radius = of_spans(&found).ok_or_else(may_be_zero)?;
    let mut notes = Vec::new();
    if found.len() > 1 {
        notes.push(format!("by least squares of {} leaves", found.len()));
    }
    if found.len() < shims.len() {
        notes.push(format!(
            "{} leaves that do not bind at both ends left out",
            shims.len() - found.len()
        ));
    }
    Ok(Crown {
        radius,
        s: None,
        kappa: None,
        note: (!notes.is_empty()).then(|| notes.join("; ")),
    })
}

/// R = Σ g·(a² + g²)/(2·Σ g²) of leaves g over the chords 2a. It rises with every a; ∂R/∂a = g·a/Σg²,
/// ∂R/∂g = (a² + 3g² − 4Rg)/(2·Σg²).
fn of_spans(spans: &[(Uncertain, &Uncertain)]) -> Option<Uncertain> {
    let half = Number::Exact(Exact::from_fraction(1, 2)?);
    let (mut above, mut below) = (Number::ZERO, Number::ZERO);
    for (span, gap) in spans {
        let (a, g) = (span.value.mul(&half), &gap.value);
        above = above.add(&g.mul(&a.mul(&a).add(&g.mul(g))));
        below = below.add(&g.mul(g));
    }
    let radius = above.mul(&half).checked_div(&below)?;
    let (r, squares) = (radius.to_f64(), below.to_f64());
    let mut terms = Vec::with_capacity(2 * spans.len());
    for (span, gap) in spans {
        let (a, g) = (span.value.to_f64() / 2.0, gap.value.to_f64());
        let by_gap = (a * a + 3.0 * g * g - 4.0 * r * g) / (2.0 * squares);
        terms.push((span, g * a / (2.0 * squares)));
        terms.push((*gap, by_gap));
    }
    Some(Uncertain::linear(radius, &terms))
}

impl EdgeProfile {
    /// The crown radius over all stations: the circle of least squared distances. `source` is the identity of
    /// the stations' scatter about it, which counts beside the readings' own uncertainty, with n − 3 degrees
    /// of freedom; `None` leaves it out, for readings that are exact by declaration.
    ///
    /// Where the curvature is not clear of zero (less than twice its standard uncertainty) the radius is at
    /// least the reciprocal of the largest curvature in that doubt.
    ///
    /// # Errors
    /// An edge that is straight or hollow over its stations.
    pub fn crown_radius(&self, source: Option<u32>) -> Result<Crown, GeometryProblem> {
        let curvature = self.curvature();
        let (k, doubt) = (curvature.value.to_f64(), 2.0 * curvature.combined().u);
        if k <= doubt {
            return self.nearly_straight(&curvature, k + doubt);
        }
        let points: Vec<(Exact, Exact)> = self
            .at
            .iter()
            .cloned()
            .zip(self.gap.iter().cloned())
            .collect();
        let fit = match fit_circle(&points) {
            Ok(fit) => fit,
            // So flat that no circle can be told from a line: it is at least as flat as its curvature.
            Err(problem) if problem.code == "ill_conditioned" => {
                return self.nearly_straight(&curvature, k + doubt);
            }
            Err(problem) => return Err(problem),
        };
        let read: Vec<(&Uncertain, &Uncertain)> =
            self.read.iter().map(|one| (&one.at, &one.gap)).collect();
        let mut radius = fit.radius_of(&read);
        if let Some(source) = source.filter(|_| fit.u_radius > 0.0) {
            let kind = PartKind::Repeatability;
            let part = Part::new(kind, source, source, fit.u_radius, fit.nu);
            radius = radius.add(&Uncertain::new(Number::ZERO, [part]));
        }
        let scatter = fit.s.map_or_else(String::new, |s| {
            format!(", which scatter about it by {s:.4} mm")
        });
        Ok(Crown {
            radius,
            s: fit.s,
            kappa: Some(fit.kappa),
            note: Some(self.with_notices(&format!(
                "radius of the least-squares circle through {} stations{scatter}",
                points.len()
            ))),
        })
    }

    /// Twice the square's coefficient of the least-squares parabola through all stations, 1/mm.
    fn curvature(&self) -> Uncertain {
        let middle = |list: &[f64]| {
            #[expect(clippy::cast_precision_loss, reason = "a number of stations")]
            let n = list.len() as f64;
            list.iter().sum::<f64>() / n
        };
        let at: Vec<f64> = self.at.iter().map(Exact::to_f64).collect();
        let mean = middle(&at);
        let from: Vec<f64> = at.iter().map(|x| x - mean).collect();
        let power = |k: i32| from.iter().map(|x| x.powi(k)).sum::<f64>();
        let (second, third) = (power(2), power(3));
        #[expect(clippy::cast_precision_loss, reason = "a number of stations")]
        let level = second / from.len() as f64;
        // The square less what a line makes of it: orthogonal to both.
        let beyond: Vec<f64> = from
            .iter()
            .map(|x| x * x - third / second * x - level)
            .collect();
        let norm: f64 = beyond.iter().map(|one| one * one).sum();
        let mut terms = Vec::with_capacity(2 * beyond.len());
        let mut value = 0.0;
        for (place, one) in beyond.iter().enumerate() {
            let weight = 2.0 * one / norm;
            let (Some(gap), Some(read)) = (self.gap.get(place), self.read.get(place)) else {
                continue;
            };
            value += weight * gap.to_f64();
            terms.push((&read.gap, weight));
            terms.push((&read.at, -weight * self.rise(place)));
        }
        Uncertain::linear(Number::real(value, 0.0), &terms)
    }

    /// An edge whose curvature is not clear of zero, `most` at most.
    fn nearly_straight(&self, curvature: &Uncertain, most: f64) -> Result<Crown, GeometryProblem> {
        if curvature.value.to_f64() <= 0.0 {
            return Err(GeometryProblem::new(
                "edge_not_crowned",
                format!(
                    "the edge is straight or hollow over its {} stations: it has no crown radius",
                    self.at.len()
                ),
                "an edge that rises toward both ends",
            ));
        }
        let mut radius = Uncertain::certain(Number::real(most.recip(), 0.0));
        radius.unknown = curvature.unknown;
        Ok(Crown {
            radius: radius.with_bound(Some(Bound::AtLeast)),
            s: None,
            kappa: None,
            note: Some(self.with_notices(
                "the readings do not tell the curvature from none: a lower limit at twice its standard \
                 uncertainty",
            )),
        })
    }

    /// What has to be said of the stations, and what was done with them.
    fn with_notices(&self, done: &str) -> String {
        let notices = self.notices().iter().map(String::as_str);
        notices.chain([done]).collect::<Vec<_>>().join("; ")
    }
}

#[cfg(test)]
#[path = "crown_tests.rs"]
mod tests;
