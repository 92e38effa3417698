//! Gravity where a scale stands, and what that does to a mass read off a load cell.
//!
//! Normal gravity on the ellipsoid by the closed formula g = gₑ (1 + k sin²φ) / √(1 − e² sin²φ), φ the geodetic
//! latitude. Constants of WGS 84 and GRS 80: their defining publications, as found. Height: the free-air
//! gradient −3.086e-6 s⁻² (from memory). A load cell shows a force as the mass that has this weight where it was
//! adjusted; a balance that compares with masses is not concerned.

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Part, PartKind, Uncertain};

/// A reference ellipsoid with its normal gravity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ellipsoid {
    /// World Geodetic System 1984.
    Wgs84,
    /// Geodetic Reference System 1980.
    Grs80,
}

impl Ellipsoid {
    /// gₑ in m/s², k, e².
    fn constants(self) -> (f64, f64, f64) {
        match self {
            Ellipsoid::Wgs84 => (9.780_325_335_9, 0.001_931_852_652_41, 0.006_694_379_990_14),
            Ellipsoid::Grs80 => (9.780_326_771_5, 0.001_931_851_353, 0.006_694_380_022_90),
        }
    }
}

/// m/s² per metre of height above the ellipsoid; from memory.
const GRADIENT: f64 = -3.086e-6;

/// Half width, m/s², of how far gravity at a place can be taken to lie from normal gravity: anomalies of 100 mGal.
/// Few places outside high mountains have more; from memory, no source.
pub const GRAVITY_DOUBT: f64 = 1e-3;

/// Normal gravity, m/s², on the ellipsoid at a geodetic latitude in degrees.
pub fn normal_gravity(latitude: f64, ellipsoid: Ellipsoid) -> f64 {
    let (equator, k, e2) = ellipsoid.constants();
    let sine = latitude.to_radians().sin();
    let square = sine * sine;
    equator * (1.0 + k * square) / (1.0 - e2 * square).sqrt()
}

/// Gravity, m/s², by WGS 84 at a latitude in degrees and a height in metres.
///
/// # Errors
/// A latitude beyond the poles; a height below -500 m or above 9000 m, where nobody weighs a boat.
pub fn gravity_at(latitude: f64, height: f64) -> Result<f64, GeometryProblem> {
    if !(-90.0..=90.0).contains(&latitude) {
        return Err(GeometryProblem::new(
            "latitude_out_of_range",
            format!("the latitude is {latitude} deg"),
            "a latitude lies between -90 deg and 90 deg; north and south weigh alike",
        ));
    }
    if !(-500.0..=9000.0).contains(&height) {
        return Err(GeometryProblem::new(
            "height_out_of_range",
            format!("the height is {height} m"),
            "a height above the sea from -500 m to 9000 m",
        ));
    }
    Ok(normal_gravity(latitude, Ellipsoid::Wgs84) + GRADIENT * height)
}

/// The mass that a load cell shows as `reading` where gravity is `here`, adjusted with masses where it was
/// `adjusted_at`, both m/s²: reading · g(adjusted)/g(here). `doubt` is the half width in m/s² of what each of
/// both is known to (rectangular, independent), `sources` their identities.
///
/// # Errors
/// A mass below zero.
pub fn local_mass(
    reading: &Uncertain,
    adjusted_at: f64,
    here: f64,
    (doubt, sources): (f64, [u32; 2]),
) -> Result<Uncertain, GeometryProblem> {
    if reading.value.signum() == Some(-1) {
        return Err(GeometryProblem::new(
            "mass_below_zero",
            format!("the reading is {} kg", shown(&reading.value)),
            "a mass is not below zero: set the empty scale to zero and weigh again",
        ));
    }
    let ratio = adjusted_at / here;
    // Two sines, two roots, a few products: each to some units in the last place.
    let factor = Number::real(ratio, ratio * 64.0 * f64::EPSILON);
    let value = reading.value.mul(&factor);
    let mass = value.to_f64();
    let mut found = Uncertain::linear(value, &[(reading, ratio)]);
    let u = doubt / 3.0_f64.sqrt();
    let [adjusted, local] = sources;
    let part = |source, u| Part::new(PartKind::Condition, source, 0, u, f64::INFINITY);
    if doubt > 0.0 {
        let parts = [
            part(adjusted, mass / adjusted_at * u),
            part(local, -mass / here * u),
        ];
        found = found.add(&Uncertain::new(Number::Exact(Exact::ZERO), parts));
    }
    let open: Option<Bound> = reading.bound;
    Ok(found.with_bound(open))
}

#[cfg(test)]
#[path = "gravity_tests.rs"]
mod tests;
