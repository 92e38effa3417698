//! Concave places of an edge: where it rocks on two points (common practice, no source; plane geometry).
//!
//! Between two neighbouring corners of the lower hull the edge stands off the line through both: a hollow as
//! deep as its station farthest from that line, square to the straight edge. A hollow between two stations is
//! not seen. Uncertainty: the depth is the gap of one station less a share of two others', so its derivatives
//! by the gaps are 1, −(1 − t) and −t.

#![expect(
    clippy::indexing_slicing,
    reason = "places come from the hull and from loops over the same stations"
)]

use super::problem::GeometryProblem;
use super::profile::EdgeProfile;
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// One concave place. Lengths in mm, from the pivot centre, positive toward the toe.
#[derive(Clone, Debug)]
pub struct HollowPlace {
    /// The station farthest from the line through both contacts.
    pub at: Exact,
    /// The two stations on which the edge rocks, from heel to toe.
    pub contacts: [Exact; 2],
    /// How far the edge stands off the line through them there.
    pub depth: Uncertain,
}

impl HollowPlace {
    /// Whether the depth is more than twice its standard uncertainty, so that it is not taken for noise.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.depth.value.to_f64() > 2.0 * self.depth.combined().u
    }

    pub(super) fn shown_depth(&self) -> String {
        match &self.depth.value {
            Number::Exact(exact) => exact.to_decimal(3).0,
            Number::Real { value, .. } => format!("{value:.3}"),
        }
    }
}

/// The concave places of an edge.
#[derive(Clone, Debug)]
pub struct Hollow {
    /// Depth of the deepest place, mm; 0 where there is none, with the uncertainty by which there could be one.
    pub depth: Uncertain,
    /// All concave places, the deepest first; those that are no clearer than their noise as well.
    pub places: Vec<HollowPlace>,
    /// What has to be said beside the depth: the clear places, the number of stations.
    pub notices: Vec<String>,
}

/// What leaves can't tell.
#[must_use]
pub fn no_stations() -> GeometryProblem {
    GeometryProblem::new(
        "no_stations",
        "leaves that bind tell nothing of a hollow",
        "gaps at stations along the edge: `stations` with `gaps`",
    )
}

impl EdgeProfile {
    /// The concave places along all stations.
    ///
    /// Without any, the depth is 0 with what is left of the doubt of the station that could soonest be one:
    /// one that lies c below the line through its neighbours with a standard uncertainty u is hollow by at
    /// most 2u − c at k = 2, so u − c/2 counts.
    #[must_use]
    pub fn hollow(&self) -> Hollow {
        let sides = self.hull.windows(2);
        let mut places: Vec<HollowPlace> = sides
            .filter_map(|side| self.hollow_between(side[0], side[1]))
            .collect();
        places.sort_by(|a, b| {
            let (a, b) = (&a.depth.value, &b.depth.value);
            b.compare(a).unwrap_or(std::cmp::Ordering::Equal)
        });
        let mut notices: Vec<String> = self.sorted.iter().cloned().collect();
        for place in places.iter().filter(|place| place.is_clear()) {
            let [from, to] = &place.contacts;
            notices.push(format!(
                "hollow of {} mm at {} mm: the edge rocks on {} mm and {} mm",
                place.shown_depth(),
                place.at.to_decimal(12).0,
                from.to_decimal(12).0,
                to.to_decimal(12).0
            ));
        }
        notices.push(format!(
            "as far as {} stations show it; a hollow between two of them is not seen",
            self.at.len()
        ));
        let depth = match places.first() {
            Some(deepest) => deepest.depth.clone(),
            None => self.no_hollow(),
        };
        Hollow {
            depth,
            places,
            notices,
        }
    }

    /// The hollow over one side of the hull; `None` where no station stands off it.
    pub(super) fn hollow_between(&self, left: usize, right: usize) -> Option<HollowPlace> {
        let height = |place: usize| self.over(left, place, right).0;
        let deepest = (left + 1..right).max_by(|&a, &b| height(a).cmp(&height(b)))?;
        let (depth, share) = self.over(left, deepest, right);
        (depth.signum() > 0).then(|| HollowPlace {
            at: self.at[deepest].clone(),
            contacts: [self.at[left].clone(), self.at[right].clone()],
            depth: self.stands_off([left, deepest, right], depth, share, 1.0),
        })
    }

    /// How far a station stands over the line through two others, and its share of the way between them.
    fn over(&self, left: usize, place: usize, right: usize) -> (Exact, Exact) {
        let run = self.at[right].sub(&self.at[left]);
        let way = self.at[place].sub(&self.at[left]);
        let share = way.checked_div(&run).unwrap_or(Exact::ZERO);
        let rise = self.gap[right].sub(&self.gap[left]).mul(&share);
        let line = self.gap[left].add(&rise);
        (self.gap[place].sub(&line), share)
    }

    /// A depth with `factor` of its doubt.
    fn stands_off(
        &self,
        [left, place, right]: [usize; 3],
        depth: Exact,
        share: Exact,
        factor: f64,
    ) -> Uncertain {
        let t = share.to_f64();
        let weights = [(place, 1.0), (left, t - 1.0), (right, -t)];
        let mut terms = Vec::with_capacity(6);
        for (station, weight) in weights {
            let read = &self.read[station];
            terms.push((&read.gap, factor * weight));
            // A station that stands beside where it is said reads the gap of a neighbour.
            terms.push((&read.at, -factor * weight * self.rise(station)));
        }
        Uncertain::linear(Number::Exact(depth), &terms)
    }

    /// A depth of 0, with what could be there in spite of it.
    fn no_hollow(&self) -> Uncertain {
        let mut best = (0.0, Uncertain::exact(Exact::ZERO));
        for place in 1..self.at.len().saturating_sub(1) {
            let (over, share) = self.over(place - 1, place, place + 1);
            let below = -over.to_f64();
            let three = [place - 1, place, place + 1];
            let full = self.stands_off(three, Exact::ZERO, share.clone(), 1.0);
            let u = full.combined().u;
            let reach = 2.0 * u - below;
            if reach > best.0 {
                let factor = reach / (2.0 * u);
                best = (reach, self.stands_off(three, Exact::ZERO, share, factor));
            }
        }
        let mut depth = best.1;
        depth.unknown = self.read.iter().any(|station| station.gap.unknown);
        depth
    }
}

#[cfg(test)]
#[path = "hollow_tests.rs"]
mod tests;
