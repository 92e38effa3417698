//! The profile of a runner's edge from gaps at stations: flats, and the gap at a place (common practice, no
//! source; plane geometry).
//!
//! The straight edge is the supporting line of the lower convex hull that touches under the pivot. Where the
//! pivot stands at a corner of the hull, its slope is that of the parabola through the corner and its two
//! neighbours on the hull, which always lies between the slopes of the two sides; where it stands between two
//! corners, the line is the side through both. The line is one and the same for every gap, so that a larger
//! gap never makes a flat shorter. Between stations the edge is taken along the chord.
//!
//! Sensitivity: U(a) = U(g) over the slope of the edge against the line at the crossing. A chord over a
//! distance h reads a convex edge short by about h²/(8a) at a flat of a: what a chord leaves open counts as a
//! part of the uncertainty, t(1 − t)·h²/(2a) at the share t of the chord (rectangular).

#![expect(
    clippy::indexing_slicing,
    reason = "places come from loops over the same stations; the property tests sweep them"
)]

use super::flat::Flat;
use super::hull::{Hulls, Points};
use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Part, PartKind, Uncertain};

/// The gap between the edge and some straight edge at a station. Lengths in mm.
#[derive(Clone, Debug)]
pub struct EdgeStation {
    /// From the pivot centre, positive toward the toe.
    pub at: Uncertain,
    /// The gap there.
    pub gap: Uncertain,
}

/// An edge by stations against the straight edge that touches it under the pivot.
#[derive(Clone, Debug)]
pub struct EdgeProfile {
    pub(super) at: Vec<Exact>,
    pub(super) gap: Vec<Exact>,
    pub(super) read: Vec<EdgeStation>,
    /// The stations at the corners of the lower hull, from heel to toe.
    pub(super) hull: Vec<usize>,
    line: Line,
    notices: Vec<String>,
    /// Said where the stations were not in order.
    pub(super) sorted: Option<String>,
}

/// The straight edge.
#[derive(Clone, Debug)]
enum Line {
    /// It touches at one station, the one under the pivot, between its neighbours on the hull.
    Corner {
        before: usize,
        corner: usize,
        behind: usize,
    },
    /// It touches at two stations with the pivot between them.
    Side { left: usize, right: usize },
}

/// Whether an end lies toward the toe or toward the heel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Toward the toe.
    Forward,
    /// Toward the heel.
    Aft,
}

impl End {
    fn word(self) -> &'static str {
        match self {
            End::Forward => "forward",
            End::Aft => "aft",
        }
    }
}

impl EdgeProfile {
    /// The profile from its stations, in any order.
    ///
    /// # Errors
    /// Fewer than three stations, one twice, or none on one side of the pivot.
    pub fn new(stations: &[EdgeStation]) -> Result<EdgeProfile, GeometryProblem> {
        if stations.len() < 3 {
            return Err(GeometryProblem::new(
                "too_few_stations",
                format!(
                    "{} station{}: a profile needs three",
                    stations.len(),
                    if stations.len() == 1 { "" } else { "s" }
                ),
                "read the gap under the pivot and on both sides of it",
            ));
        }
        let mut all: Vec<(Exact, Exact, EdgeStation)> = Vec::with_capacity(stations.len());
        for station in stations {
            let (at, gap) = (exact(&station.at.value), exact(&station.gap.value));
            all.push((at, gap, station.clone()));
        }
        let mut sorted = None;
        if !all.is_sorted_by(|a, b| a.0 <= b.0) {
            all.sort_by(|a, b| a.0.cmp(&b.0));
            sorted = Some("the stations were not in order and have been sorted".to_owned());
        }
        if let Some([twin, _]) = all.windows(2).find_map(|pair| match pair {
            [a, b] if a.0 == b.0 => Some([a, b]),
            _ => None,
        }) {
            return Err(GeometryProblem::new(
                "station_repeated",
                format!("two stations are at {} mm", twin.0.to_decimal(12).0),
                "each position once; repeated readings of a station belong to a second series",
            ));
        }
        let mut at = Vec::with_capacity(all.len());
        let mut gap = Vec::with_capacity(all.len());
        let mut read = Vec::with_capacity(all.len());
        for (x, y, station) in all {
            at.push(x);
            gap.push(y);
            read.push(station);
        }
        let last = at.len() - 1;
        if at[0].signum() >= 0 || at[last].signum() <= 0 {
            return Err(GeometryProblem::new(
                "pivot_not_between",
                format!(
                    "the stations from {} mm to {} mm do not lie on both sides of the pivot",
                    at[0].to_decimal(12).0,
                    at[last].to_decimal(12).0
                ),
                "stations are signed distances from the pivot, positive toward the toe",
            ));
        }
        let points = Points::new(at.clone(), gap.clone());
        let hulls = Hulls::new(&points);
        let hull = hulls.lower().to_vec();
        let lower = hull.as_slice();
        // The pivot lies between the first and the last vertex, so there is one at or beyond it.
        let beyond = lower
            .iter()
            .position(|&vertex| at[vertex].signum() >= 0)
            .unwrap_or(lower.len() - 1)
            .max(1);
        let line = if at[lower[beyond]].is_zero() && beyond + 1 < lower.len() {
            Line::Corner {
                before: lower[beyond - 1],
                corner: lower[beyond],
                behind: lower[beyond + 1],
            }
        } else {
            Line::Side {
                left: lower[beyond - 1],
                right: lower[beyond],
            }
        };
        let mut profile = EdgeProfile {
            at,
            gap,
            read,
            hull,
            line,
            notices: sorted.iter().cloned().collect(),
            sorted,
        };
        profile.notices.extend(profile.on_the_contact());
        Ok(profile)
    }

    /// What has to be said of where the straight edge touches.
    fn on_the_contact(&self) -> Option<String> {
        let Line::Side { left, right } = self.line else {
            return None;
        };
        let shown = |place: usize| self.at[place].to_decimal(12).0;
        let (from, to) = (shown(left), shown(right));
        let Some(place) = self.hollow_between(left, right) else {
            return Some(if right == left + 1 {
                format!(
                    "no station under the pivot: the straight edge touches at {from} mm and {to} mm"
                )
            } else {
                format!("the edge lies on the straight edge from {from} mm to {to} mm")
            });
        };
        let depth = place.shown_depth();
        Some(if place.is_clear() {
            format!(
                "hollow under the pivot: the edge rocks on {from} mm and {to} mm and stands {depth} mm off \
                 between them"
            )
        } else {
            format!(
                "the straight edge touches at {from} mm and {to} mm; between them the edge stands {depth} mm \
                 off, within the uncertainty of the readings"
            )
        })
    }

    /// Height of the straight edge at `x`.
    fn line_at(&self, x: &Exact) -> Exact {
        let side = |left: usize, right: usize| {
            let run = self.at[right].sub(&self.at[left]);
            let rise = self.gap[right].sub(&self.gap[left]);
            // Two stations differ.
            rise.checked_div(&run).unwrap_or(Exact::ZERO)
        };
        match self.line {
            Line::Side { left, right } => {
                let slope = side(left, right);
                self.gap[left].add(&slope.mul(&x.sub(&self.at[left])))
            }
            Line::Corner {
                before,
                corner,
                behind,
            } => {
                let back = self.at[corner].sub(&self.at[before]);
                let front = self.at[behind].sub(&self.at[corner]);
                let slope = side(before, corner)
                    .mul(&front)
                    .add(&side(corner, behind).mul(&back));
                let slope = slope.checked_div(&back.add(&front));
                self.gap[corner].add(&slope.unwrap_or(Exact::ZERO).mul(x))
            }
        }
    }

    /// How much each station's gap lifts the straight edge at `x`.
    fn line_weights(&self, x: f64) -> [(usize, f64); 3] {
        match self.line {
            Line::Side { left, right } => {
                let (from, to) = (self.at[left].to_f64(), self.at[right].to_f64());
                let share = (x - from) / (to - from);
                [(left, 1.0 - share), (right, share), (right, 0.0)]
            }
            Line::Corner {
                before,
                corner,
                behind,
            } => {
                let back = self.at[corner].sub(&self.at[before]).to_f64();
                let front = self.at[behind].sub(&self.at[corner]).to_f64();
                let both = back + front;
                let (a, b) = (-front / (back * both), back / (front * both));
                [
                    (before, x * a),
                    (corner, 1.0 - x * (a + b)),
                    (behind, x * b),
                ]
            }
        }
    }

    /// How far a station stands over the straight edge.
    fn height(&self, place: usize) -> Exact {
        self.gap[place].sub(&self.line_at(&self.at[place]))
    }

    /// The chord over `x`: its stations and the share of it that lies behind `x`.
    fn chord(&self, x: &Exact) -> Option<(usize, usize, Exact)> {
        let behind = self.at.iter().position(|at| at >= x)?;
        if self.at[behind] == *x {
            return Some((behind, behind, Exact::ZERO));
        }
        let before = behind.checked_sub(1)?;
        let run = self.at[behind].sub(&self.at[before]);
        let share = x.sub(&self.at[before]).checked_div(&run)?;
        Some((before, behind, share))
    }

    /// How far the edge stands over the straight edge at `x`, inside the stations.
    fn height_at(&self, (before, behind, share): &(usize, usize, Exact)) -> Exact {
        let low = self.height(*before);
        low.add(&self.height(*behind).sub(&low).mul(share))
    }

    /// The doubt about the height on a chord at `x`, as a value with `parts` alone, and the slope of the chord
    /// against the straight edge.
    fn doubt(
        &self,
        x: f64,
        (before, behind, share): &(usize, usize, Exact),
        value: Number,
        factor: f64,
    ) -> Uncertain {
        let share = share.to_f64();
        let mut weights: Vec<(usize, f64)> = vec![(*before, 1.0 - share), (*behind, share)];
        for (place, weight) in self.line_weights(x) {
            weights.push((place, -weight));
        }
        let slope = self.slope((*before, *behind));
        let mut terms: Vec<(&Uncertain, f64)> = Vec::with_capacity(weights.len() * 2);
        for (place, weight) in weights {
            let station = &self.read[place];
            terms.push((&station.gap, weight * factor));
            // A station that stands beside where it is said reads the gap of a neighbour.
            let there = if place == *before || place == *behind {
                slope
            } else {
                self.rise(place)
            };
            terms.push((&station.at, -weight * there * factor));
        }
        Uncertain::linear(value, &terms)
    }

    /// How steep the edge runs against the straight edge at a station, taken as round.
    pub(super) fn rise(&self, place: usize) -> f64 {
        let at = self.at[place].to_f64();
        if at == 0.0 {
            0.0
        } else {
            2.0 * self.height(place).to_f64() / at
        }
    }

    /// The slope of a chord against the straight edge; at one station that of the chord on the pivot's side.
    fn slope(&self, (before, behind): (usize, usize)) -> f64 {
        let (before, behind) = if before != behind {
            (before, behind)
        } else if self.at[before].signum() > 0 {
            (before - 1, behind)
        } else {
            (before, (behind + 1).min(self.at.len() - 1))
        };
        let run = self.at[behind].sub(&self.at[before]).to_f64();
        self.height(behind).sub(&self.height(before)).to_f64() / run
    }

    /// What chords leave open of a height `height` at `x`, mm: of the chord there, and of the straight edge
    /// where no station stands under the pivot.
    fn left_open(&self, x: f64, chord: &(usize, usize, Exact), height: f64) -> f64 {
        if x == 0.0 {
            return 0.0;
        }
        let sagitta = |from: &Exact, to: &Exact, share: f64| {
            let run = to.sub(from).to_f64();
            share * (1.0 - share) * run * run * height.abs() / (x * x)
        };
        let (before, behind, share) = chord;
        let here = sagitta(&self.at[*before], &self.at[*behind], share.to_f64());
        let line = match self.line {
            Line::Side { left, right } if right == left + 1 => {
                let run = self.at[right].sub(&self.at[left]).to_f64();
                sagitta(
                    &self.at[left],
                    &self.at[right],
                    -self.at[left].to_f64() / run,
                )
            }
            Line::Side { .. } | Line::Corner { .. } => 0.0,
        };
        here.hypot(line)
    }

    /// Where the edge first stands `gap` over the straight edge on the way from the pivot to an end: a length,
    /// never negative. Where the stations end before, it is at least the way to the last one.
    ///
    /// `source` is the identity of what chords leave open; `None` leaves it out, for readings that are exact
    /// by declaration.
    ///
    /// # Errors
    /// A gap that is not above 0, or that the edge reaches under the pivot already.
    pub fn crossing(
        &self,
        end: End,
        gap: &Exact,
        source: Option<u32>,
    ) -> Result<Uncertain, GeometryProblem> {
        if gap.signum() <= 0 {
            return Err(GeometryProblem::new(
                "gap_not_positive",
                format!("the flat is asked at a gap of {} mm", gap.to_decimal(12).0),
                "a gap above 0 mm, for example flat_length(edge_profile, 0.20 mm)",
            ));
        }
        let under = self
            .chord(&Exact::ZERO)
            .map_or(Exact::ZERO, |chord| self.height_at(&chord));
        if under >= *gap {
            return Err(GeometryProblem::new(
                "hollow_under_pivot",
                format!(
                    "the edge stands {} mm off under the pivot, no less than the gap of {} mm",
                    under.to_decimal(3).0,
                    gap.to_decimal(12).0
                ),
                "an edge that touches under its pivot",
            ));
        }
        let count = self.at.len();
        // Chords from the pivot outward, the inner end first.
        let chords: Vec<(usize, usize)> = match end {
            End::Forward => (1..count)
                .filter(|&outer| self.at[outer].signum() > 0)
                .map(|outer| (outer - 1, outer))
                .collect(),
            End::Aft => (0..count - 1)
                .rev()
                .filter(|&outer| self.at[outer].signum() < 0)
                .map(|outer| (outer + 1, outer))
                .collect(),
        };
        for &(inner, outer) in &chords {
            let (low, high) = (self.height(inner), self.height(outer));
            if high < *gap {
                continue;
            }
            // At the pivot the chord was lower than the gap, at its outer end it isn't: it rises.
            let share = gap.sub(&low).checked_div(&high.sub(&low));
            let share = share.unwrap_or(Exact::ONE);
            let run = self.at[outer].sub(&self.at[inner]);
            let x = self.at[inner].add(&run.mul(&share));
            let chord = if inner < outer {
                (inner, outer, share)
            } else {
                (outer, inner, Exact::ONE.sub(&share))
            };
            return Ok(self.length(&x, &chord, gap, source));
        }
        // Chords are never none: there are stations on both sides.
        let (inner, outer) = chords.last().copied().unwrap_or((0, 0));
        Ok(self.at_least((inner, outer), gap))
    }

    /// Where no station stands under the pivot: how far from it the straight edge may touch, with its sign, and the
    /// way between the stations beside it; mm. The straight edge is then the chord between them, which is parallel
    /// to a round edge under its own middle; what one end of a flat gains by that the other loses.
    fn beside(&self) -> Option<[f64; 2]> {
        match self.line {
            Line::Side { left, right } if right == left + 1 => {
                let (from, to) = (self.at[left].to_f64(), self.at[right].to_f64());
                Some([(from + to) / 2.0, to - from])
            }
            Line::Side { .. } | Line::Corner { .. } => None,
        }
    }

    /// The length to a crossing at `x`.
    fn length(
        &self,
        x: &Exact,
        chord: &(usize, usize, Exact),
        gap: &Exact,
        source: Option<u32>,
    ) -> Uncertain {
        let at = x.to_f64();
        let slope = self.slope((chord.0, chord.1));
        // |x| shrinks where the edge stands higher.
        let factor = -at.signum() / slope;
        let value = Number::Exact(x.abs());
        let found = self.doubt(at, chord, value, factor);
        let open = self.left_open(at, chord, gap.to_f64()) / slope.abs();
        with_open(found, open, source)
    }

    /// The stations end at `outer` before the gap is reached.
    fn at_least(&self, (inner, outer): (usize, usize), gap: &Exact) -> Uncertain {
        let x = &self.at[outer];
        let last = &self.read[outer];
        let value = Number::Exact(x.abs());
        let sign = f64::from(x.signum());
        let chord = (outer, outer, Exact::ZERO);
        let height = self.height(outer);
        let doubt = self.doubt(x.to_f64(), &chord, value.clone(), 1.0);
        let far = gap.sub(&height).to_f64() > 3.0 * doubt.combined().u;
        let found = if far {
            Uncertain {
                unknown: doubt.unknown,
                ..Uncertain::linear(value, &[(&last.at, sign)])
            }
        } else {
            // As near to the gap as that, the crossing may lie inside the last station.
            let chord_slope = self.slope((inner.min(outer), inner.max(outer))).abs();
            let mean_slope = height.to_f64().abs() / x.to_f64().abs();
            let slope = if chord_slope > 0.0 {
                chord_slope
            } else {
                mean_slope
            };
            let factor = if slope > 0.0 { slope.recip() } else { 0.0 };
            self.doubt(x.to_f64(), &chord, value, factor)
        };
        found.with_bound(Some(Bound::AtLeast))
    }

    /// The flat at `gap`, lengths in mm. `sources` are the identities of what chords leave open forward and
    /// aft.
    ///
    /// # Errors
    /// Those of [`EdgeProfile::crossing`].
    pub fn flat(&self, gap: &Exact, sources: Option<[u32; 2]>) -> Result<Flat, GeometryProblem> {
        let source = |which: usize| sources.and_then(|both| both.get(which).copied());
        let mut forward = self.crossing(End::Forward, gap, source(0))?;
        let mut aft = self.crossing(End::Aft, gap, source(1))?;
        if let (Some([first, second]), Some([turn, run])) = (sources, self.beside()) {
            // The chord lies h²/(8R) over the edge that it touches, which both ends lose: h²/(8a) each.
            let lost = |end: &Uncertain| run * run / (8.0 * end.value.to_f64());
            let both = [lost(&forward), lost(&aft)];
            forward = doubted(doubted(forward, first, turn), second, both[0]);
            aft = doubted(doubted(aft, first, -turn), second, both[1]);
        }
        let mut notes = self.notices.clone();
        for (end, found) in [(End::Forward, &forward), (End::Aft, &aft)] {
            if found.bound.is_some() {
                notes.push(format!(
                    "{} the readings end at {} mm, before the gap of {} mm",
                    end.word(),
                    shown(&found.value),
                    gap.to_decimal(12).0
                ));
            }
        }
        let total = forward.add(&aft);
        Ok(Flat {
            forward,
            aft,
            total,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
        })
    }

    /// How far the edge stands over the straight edge at `x` from the pivot, positive toward the toe.
    ///
    /// # Errors
    /// Stations that end before `x`.
    pub fn gap_at(&self, x: &Exact, source: Option<u32>) -> Result<Uncertain, GeometryProblem> {
        let Some(chord) = self.chord(x) else {
            let last = self.at.len() - 1;
            return Err(GeometryProblem::new(
                "beyond_stations",
                format!(
                    "the stations from {} mm to {} mm end before {} mm",
                    self.at[0].to_decimal(12).0,
                    self.at[last].to_decimal(12).0,
                    x.to_decimal(12).0
                ),
                "read the gap there, or beyond",
            ));
        };
        let height = self.height_at(&chord);
        let at = x.to_f64();
        let open = self.left_open(at, &chord, height.to_f64());
        let found = self.doubt(at, &chord, Number::Exact(height), 1.0);
        Ok(with_open(found, open, source))
    }

    /// The stations from heel to toe, each with how far it stands over the straight edge; lengths in mm.
    pub fn heights(&self) -> Vec<(Exact, Exact)> {
        let places = 0..self.at.len();
        places
            .map(|place| (self.at[place].clone(), self.height(place)))
            .collect()
    }

    /// What has to be said beside a value.
    pub fn notices(&self) -> &[String] {
        &self.notices
    }
}

/// A length with a doubt about the straight edge, a half width with its sign; one-sided ones stay as they are.
fn doubted(found: Uncertain, source: u32, half: f64) -> Uncertain {
    if found.bound.is_some() || half == 0.0 {
        return found;
    }
    let u = half / 3.0_f64.sqrt();
    let part = Part::new(PartKind::Condition, source, source, u, f64::INFINITY);
    found.add(&Uncertain::new(Number::Exact(Exact::ZERO), [part]))
}

/// A value with what chords leave open of it, a half width.
fn with_open(found: Uncertain, open: f64, source: Option<u32>) -> Uncertain {
    let Some(source) = source.filter(|_| open > 0.0) else {
        return found;
    };
    let u = open / 3.0_f64.sqrt();
    let part = Part::new(PartKind::Resolution, source, source, u, f64::INFINITY);
    found.add(&Uncertain::new(Number::Exact(Exact::ZERO), [part]))
}

/// A reading as an exact number; a computed one by its binary digits.
fn exact(value: &Number) -> Exact {
    match value {
        Number::Exact(exact) => exact.clone(),
        Number::Real { value, .. } => Exact::from_f64_binary(*value).unwrap_or(Exact::ZERO),
    }
}

#[cfg(test)]
#[path = "profile_tests.rs"]
mod tests;
