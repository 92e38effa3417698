//! Straightness of a blade from readings along it: the minimum-zone width in the direction of the readings.
//!
//! ISO 12780-1 takes deviations from a reference line; the minimum zone is the smallest distance, along the
//! readings, of two parallel lines that hold all of them. It is found exactly: upper and lower convex hull
//! (monotone chain), then one sweep through the hull edges in order of slope. The width as a function of the
//! slope is convex, and it is least where two contacts on one side enclose one contact on the other; those
//! three are the proof that no narrower zone exists, and they are reported. O(n log n), no floating point.
//!
//! It says how straight the stations are: a lower bound of the straightness of the blade between them.

use std::cmp::Ordering;

use super::hull::{Hulls, Points};
use super::problem::GeometryProblem;
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Uncertain};

/// A station where the zone touches the readings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contact {
    /// Place in the list of stations as given, from 0.
    pub station: usize,
    /// Position along the blade, mm.
    pub at: Exact,
    /// On the upper line of the zone, else on the lower.
    pub upper: bool,
}

/// The straightness of one line of readings. Lengths in mm.
#[derive(Clone, Debug)]
pub struct Straightness {
    /// Minimum-zone width, with the uncertainty that reaches it through its three contacts.
    pub width: Uncertain,
    /// Two contacts on one line of the zone and, between them, one on the other, in order along the blade.
    pub contacts: [Contact; 3],
    /// Slope of the zone, mm per mm.
    pub slope: Exact,
    /// Peak-to-valley width about the least-squares line.
    pub least_squares: Exact,
    /// Peak-to-valley width about the line through the two end stations.
    pub end_points: Exact,
    /// Number of stations.
    pub stations: usize,
    /// Only one flank was read: bar, thickness and bend are not told apart.
    pub one_flank: bool,
    /// What a report has to say beside the number.
    pub notices: Vec<String>,
}

/// Straightness from signed gaps to one bar: of one flank, or the bend (starboard − port)/2 of both, which
/// cancels the bar and a change of thickness.
///
/// `stations` are positions along the blade in mm, each once, in any order; each flank has one reading in mm
/// for each station.
///
/// # Errors
/// No flank; a flank with another number of readings than stations; fewer than 3 stations; a station twice.
pub fn straightness(
    stations: &[Exact],
    port: Option<&[Uncertain]>,
    starboard: Option<&[Uncertain]>,
) -> Result<Straightness, GeometryProblem> {
    for (name, flank) in [("port", port), ("starboard", starboard)] {
        if let Some(flank) = flank
            && flank.len() != stations.len()
        {
            return Err(GeometryProblem::new(
                "readings_do_not_pair",
                format!(
                    "{} but {} on the {name} flank",
                    counted(stations.len(), "station"),
                    counted(flank.len(), "reading")
                ),
                "one reading for each station, in the same order",
            ));
        }
    }
    let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
    let (readings, one_flank): (Vec<Uncertain>, bool) = match (port, starboard) {
        (Some(port), Some(starboard)) => (
            port.iter()
                .zip(starboard)
                .map(|(port, starboard)| starboard.sub(port).scale(&half))
                .collect(),
            false,
        ),
        (Some(flank), None) | (None, Some(flank)) => (flank.to_vec(), true),
        (None, None) => {
            return Err(GeometryProblem::new(
                "no_flank",
                "the line has no readings",
                "readings of port, starboard or, for a certificate, both flanks",
            ));
        }
    };
    of_line(stations, &readings, one_flank)
}

fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn of_line(
    stations: &[Exact],
    readings: &[Uncertain],
    one_flank: bool,
) -> Result<Straightness, GeometryProblem> {
    if stations.len() < 3 {
        return Err(GeometryProblem::new(
            "too_few_stations",
            format!(
                "{}: any two lie on a straight line",
                counted(stations.len(), "station")
            ),
            "at least 3 stations",
        ));
    }
    let mut notices = Vec::new();
    let order = order_along(stations, &mut notices)?;
    let (values, rounding) = exact_values(readings);
    let pick = |list: &[Exact]| -> Vec<Exact> {
        order.iter().filter_map(|&i| list.get(i).cloned()).collect()
    };
    let points = Points::new(pick(stations), pick(&values));
    let hulls = Hulls::new(&points);
    let zone = hulls.minimum_zone(&points);

    let contact = |place: usize, upper: bool| Contact {
        station: order.get(place).copied().unwrap_or(place),
        at: points.x(place).clone(),
        upper,
    };
    let contacts = [
        contact(zone.left, zone.edge_is_upper),
        contact(zone.opposite, !zone.edge_is_upper),
        contact(zone.right, zone.edge_is_upper),
    ];
    let terms = contact_terms(&contacts, readings, zone.share, zone.edge_is_upper);
    let value = if rounding == 0.0 {
        Number::Exact(zone.width.clone())
    } else {
        // Each contact can be off by the rounding of its reading; the weights add up to 2.
        Number::real(zone.width.to_f64(), 2.0 * rounding)
    };
    let mut width = Uncertain::linear(value, &terms);
    width.bound = bound_of_width(width.bound, readings);
    width.unknown |= readings.iter().any(|reading| reading.unknown);
    let u = width.combined().u;
    if width.value.to_f64() < 4.0 * u {
        notices.push(
            "the zone is narrower than four times its standard uncertainty: scatter of the readings widens \
             it, so the true bend is probably smaller"
                .to_owned(),
        );
    }
    Ok(Straightness {
        width,
        contacts,
        slope: zone.slope,
        least_squares: hulls.width_at(&points, &points.least_squares_slope()),
        end_points: hulls.width_at(&points, &points.end_point_slope()),
        stations: stations.len(),
        one_flank,
        notices,
    })
}

/// The order of the stations along the blade; a notice where it is not the given one.
fn order_along(
    stations: &[Exact],
    notices: &mut Vec<String>,
) -> Result<Vec<usize>, GeometryProblem> {
    let mut order: Vec<(usize, &Exact)> = stations.iter().enumerate().collect();
    if !stations.is_sorted() {
        order.sort_by_key(|(_, at)| *at);
        notices.push("the stations were not in order and have been sorted".to_owned());
    }
    let twin = order.windows(2).find_map(|pair| match pair {
        [(i, a), (j, b)] if a.cmp(b) == Ordering::Equal => Some((i.min(j), i.max(j), *a)),
        _ => None,
    });
    if let Some((first, second, at)) = twin {
        return Err(GeometryProblem::new(
            "station_repeated",
            format!(
                "stations {} and {} are both at {} mm",
                first + 1,
                second + 1,
                at.to_decimal(12).0
            ),
            "each position once; repeated readings of a station belong to a second series",
        ));
    }
    Ok(order.into_iter().map(|(i, _)| i).collect())
}

/// The readings as exact numbers, and the largest rounding bound where some are real.
fn exact_values(readings: &[Uncertain]) -> (Vec<Exact>, f64) {
    let mut rounding = 0.0_f64;
    let values = readings
        .iter()
        .map(|reading| match &reading.value {
            Number::Exact(exact) => exact.clone(),
            Number::Real { value, bound } => {
                rounding = rounding.max(*bound);
                Exact::from_f64_binary(*value).unwrap_or(Exact::ZERO)
            }
        })
        .collect();
    (values, rounding)
}

/// The bound of the width when readings are one-sided: three contacts prove a least width, which more deviation
/// elsewhere or outward at a contact can only widen; inward at a contact nothing is known.
fn bound_of_width(of_contacts: Option<Bound>, readings: &[Uncertain]) -> Option<Bound> {
    if readings.iter().all(|reading| reading.bound.is_none()) {
        return None;
    }
    let neither = readings
        .iter()
        .any(|reading| reading.bound == Some(Bound::Neither));
    match of_contacts {
        None | Some(Bound::AtLeast) if !neither => Some(Bound::AtLeast),
        _ => Some(Bound::Neither),
    }
}

/// Derivatives of the width by its three contact readings: width = ±(y − ((1 − t)·y_left + t·y_right)).
fn contact_terms<'a>(
    contacts: &[Contact; 3],
    readings: &'a [Uncertain],
    share: f64,
    edge_is_upper: bool,
) -> Vec<(&'a Uncertain, f64)> {
    let sign = if edge_is_upper { 1.0 } else { -1.0 };
    contacts
        .iter()
        .zip([sign * (1.0 - share), -sign, sign * share])
        .filter_map(|(contact, weight)| Some((readings.get(contact.station)?, weight)))
        .collect()
}

#[cfg(test)]
#[path = "straightness_tests.rs"]
mod tests;
