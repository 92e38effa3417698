//! Pure functions from readings to values: edge profile, straightness, section, load test, area.
//!
//! Coordinates: x = 0 at the pivot centre, positive toward the toe; port and starboard as the runner is
//! sailed. Lengths in mm, angles in degrees. Sums, differences, products and quotients stay exact; where a
//! root enters, the result is a real number with its rounding bound and the caller is told.

mod angle;
mod arc;
mod area;
mod crown;
mod edge_gauges;
mod edge_points;
mod fit_circle;
mod fit_double;
mod fit_line;
mod fit_linear;
mod fit_moments;
mod flat;
mod gravity;
mod hardness;
mod hollow;
mod hull;
mod line_fit;
mod load_test;
mod problem;
mod profile;
mod segment;
mod shim_gap;
mod straightness;
mod temperature;
mod zone_trial;

#[cfg(test)]
mod fit_reference;

pub use angle::{bevel_difference, included_angle};
pub use area::{MOST_CORNERS, OutlineFault, area_of_corners, area_of_widths, outline_fault};
pub use crown::{Crown, crown_radius, crown_radius_from_shims};
pub use edge_gauges::{
    GaugedAngle, SizeReading, angle_from_pins, angle_from_rollers, angle_from_sine,
    angle_from_widths,
};
pub use edge_points::{EdgePoint, EdgeSection, FaceLine, edge_from_points};
pub use fit_circle::{CircleFit, fit_circle};
pub use fit_line::{OrthogonalLine, fit_orthogonal_line};
pub use fit_linear::{LinearFit, fit_linear, fit_polynomial};
pub use flat::{Flat, Shim, flat_from_shims};
pub use gravity::{Ellipsoid, GRAVITY_DOUBT, gravity_at, local_mass, normal_gravity};
pub use hardness::{Converted, converted_hardness, minimum_thickness, range_of};
pub use hollow::{Hollow, HollowPlace, no_stations};
pub use line_fit::{LineFit, line_fit};
pub use load_test::{
    LoadPoint, deflection_at, hysteresis, hysteresis_note, standard_gravity, stiffness, weight,
};
pub use problem::GeometryProblem;
pub use profile::{EdgeProfile, EdgeStation, End};
pub use segment::{Segment, segment};
pub use shim_gap::{LeafGap, gap_from_shims, reach_of_shims};
pub use straightness::{Contact, Straightness, straightness};
pub use temperature::{
    EXPANSIONS, Expansion, at_20_degrees, linear_correction, reference_temperature,
};
pub use zone_trial::zone_width;
