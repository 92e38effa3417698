//! The profile of an edge of which some numbers are given: leaves that bind where they ask, or gaps at stations where
//! its hollows are asked for.

use super::super::term::What;
use super::document::Document;
use super::number::written;
use crate::geometry::{EdgeProfile, EdgeStation};
use crate::quantity::{Dimension, Exact, Number, Unit};
use crate::uncertainty::Uncertain;

/// A leaf with where it binds.
#[derive(Clone, Debug)]
struct Leaf {
    gap: Exact,
    forward: Option<Exact>,
    aft: Option<Exact>,
}

/// An edge.
#[derive(Clone, Debug, Default)]
pub(super) struct Edge {
    /// By gap, the thinnest first.
    leaves: Vec<Leaf>,
    crown: Option<Exact>,
    hollow: Option<Exact>,
}

/// Which end a leaf binds at.
#[derive(Clone, Copy, PartialEq, Eq)]
enum At {
    Forward,
    Aft,
}

impl Leaf {
    fn end(&self, at: At) -> &Option<Exact> {
        match at {
            At::Forward => &self.forward,
            At::Aft => &self.aft,
        }
    }

    fn end_mut(&mut self, at: At) -> &mut Option<Exact> {
        match at {
            At::Forward => &mut self.forward,
            At::Aft => &mut self.aft,
        }
    }
}

fn length(value: &Exact) -> Result<Document, String> {
    written(value, Dimension::LENGTH, Unit::MM.into()).map(Document::Text)
}

impl Edge {
    /// An edge with the numbers that are given.
    ///
    /// # Errors
    /// Numbers that no edge has together.
    pub fn of(numbers: &[(What, Exact)]) -> Result<Edge, String> {
        let mut edge = Edge::default();
        for (what, number) in numbers {
            match what {
                What::Forward(_, gap) | What::AlongEnd(_, gap) => {
                    edge.binds(gap, At::Forward, number)?;
                }
                What::Aft(_, gap) => edge.binds(gap, At::Aft, number)?,
                What::GapAt(_, x) if x.signum() > 0 => edge.binds(number, At::Forward, x)?,
                What::GapAt(_, x) if x.signum() < 0 => edge.binds(number, At::Aft, &x.abs())?,
                What::GapAt(..) if number.is_zero() => {}
                What::GapAt(..) => {
                    return Err("the straight edge touches under the pivot".to_owned());
                }
                What::CrownRadius(_) => edge.crown = Some(number.clone()),
                What::Hollow(_) => edge.hollow = Some(number.clone()),
                _ => {}
            }
        }
        edge.leaves.sort_by(|a, b| a.gap.cmp(&b.gap));
        for at in [At::Forward, At::Aft] {
            edge.rises(at)?;
            edge.fill(at);
        }
        Ok(edge)
    }

    /// A leaf binds so far out.
    fn binds(&mut self, gap: &Exact, at: At, reach: &Exact) -> Result<(), String> {
        if gap.signum() <= 0 || reach.signum() < 0 {
            return Err("an edge that opens to nothing, or behind where it touches".to_owned());
        }
        let known = self.leaves.iter().position(|leaf| leaf.gap == *gap);
        let leaf = match known {
            Some(known) => self.leaves.get_mut(known),
            None => {
                self.leaves.push(Leaf {
                    gap: gap.clone(),
                    forward: None,
                    aft: None,
                });
                self.leaves.last_mut()
            }
        };
        let Some(end) = leaf.map(|leaf| leaf.end_mut(at)) else {
            return Ok(());
        };
        match end {
            Some(known) if known != reach => {
                Err("an edge that opens to one height at two places".to_owned())
            }
            Some(_) => Ok(()),
            None => {
                *end = Some(reach.clone());
                Ok(())
            }
        }
    }

    /// A thicker leaf never binds nearer.
    fn rises(&self, at: At) -> Result<(), String> {
        let known = self.leaves.iter().filter_map(|leaf| leaf.end(at).as_ref());
        let known: Vec<&Exact> = known.collect();
        if known.is_sorted() {
            Ok(())
        } else {
            Err("an edge whose gap is larger nearer to where it touches".to_owned())
        }
    }

    /// Where leaves bind of which it is not given: between their neighbours.
    fn fill(&mut self, at: At) {
        let reaches: Vec<Option<Exact>> = self
            .leaves
            .iter()
            .map(|leaf| leaf.end(at).clone())
            .collect();
        let gaps: Vec<Exact> = self.leaves.iter().map(|leaf| leaf.gap.clone()).collect();
        let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
        let other = match at {
            At::Forward => At::Aft,
            At::Aft => At::Forward,
        };
        let mut inner: Option<(Exact, Exact)> = None;
        for (number, leaf) in self.leaves.iter_mut().enumerate() {
            if let Some(known) = leaf.end(at) {
                inner = Some((leaf.gap.clone(), known.clone()));
                continue;
            }
            let later = reaches.iter().zip(&gaps).skip(number);
            let outer = later
                .filter_map(|(reach, gap)| Some((gap.clone(), reach.clone()?)))
                .next();
            let like = leaf.end(other).clone();
            let reach = match (&inner, outer) {
                (Some((low, near)), Some((high, far))) => {
                    let share = leaf.gap.sub(low).checked_div(&high.sub(low));
                    near.add(&far.sub(near).mul(&share.unwrap_or(half.clone())))
                }
                (None, Some((high, far))) => {
                    let share = leaf.gap.checked_div(&high).unwrap_or(half.clone());
                    like.filter(|like| *like < far).unwrap_or(far.mul(&share))
                }
                (Some((_, near)), None) => {
                    let ten = Exact::from_integer(10);
                    like.filter(|like| like > near).unwrap_or(near.add(&ten))
                }
                (None, None) => like.unwrap_or(Exact::from_integer(100)),
            };
            inner = Some((leaf.gap.clone(), reach.clone()));
            *leaf.end_mut(at) = Some(reach);
        }
    }

    /// How it was read.
    pub fn document(&self) -> Result<Vec<(String, Document)>, String> {
        if let Some(hollow) = &self.hollow {
            if self.crown.is_some() {
                return Err("no stations make a hollow beside a crown radius".to_owned());
            }
            return self.stations(hollow);
        }
        let mut leaves = self.leaves.clone();
        if let Some(radius) = &self.crown {
            if !leaves.is_empty() {
                return Err("no leaves make a crown radius beside a flat".to_owned());
            }
            leaves.push(round(radius)?);
        }
        let mut shims = Vec::new();
        for leaf in &leaves {
            let (Some(forward), Some(aft)) = (&leaf.forward, &leaf.aft) else {
                continue;
            };
            shims.push(Document::map([
                ("gap", length(&leaf.gap)?),
                ("forward", length(forward)?),
                ("aft", length(aft)?),
            ]));
        }
        Ok(vec![
            ("contact".to_owned(), length(&contact(&leaves)?)?),
            ("shims".to_owned(), Document::List(shims)),
        ])
    }

    /// Gaps at stations: where leaves would bind, and beyond them a concave place as deep as is asked.
    fn stations(&self, hollow: &Exact) -> Result<Vec<(String, Document)>, String> {
        let hundred = Exact::from_integer(100);
        let mut points: Vec<(Exact, Exact)> = vec![(Exact::ZERO, Exact::ZERO)];
        let mut nearest: Option<(Exact, Exact)> = None;
        for leaf in &self.leaves {
            let (Some(forward), Some(aft)) = (&leaf.forward, &leaf.aft) else {
                continue;
            };
            let far = if forward > aft { forward } else { aft };
            let near = if forward > aft { aft } else { forward };
            nearest.get_or_insert((
                near.clone(),
                leaf.gap.mul(near).checked_div(far).unwrap_or(Exact::ZERO),
            ));
            points.push((forward.clone(), leaf.gap.clone()));
            points.push((aft.neg(), leaf.gap.clone()));
        }
        if self.leaves.is_empty() {
            points.push((hundred.clone(), Exact::ONE));
            points.push((hundred.neg(), Exact::ONE));
        } else if let Some((near, gap)) = nearest {
            // Beside the contact alike on both sides, so that the straight edge lies level.
            let beside = near.mul(&Exact::from_fraction(1, 4).unwrap_or(Exact::ONE));
            let low = gap.mul(&Exact::from_fraction(1, 8).unwrap_or(Exact::ONE));
            points.push((beside.clone(), low.clone()));
            points.push((beside.neg(), low));
        }
        points.sort();
        if hollow.signum() > 0 {
            // Beyond all else the edge goes on as steeply as anywhere, with one station raised.
            let slopes = points.windows(2).filter_map(|pair| match pair {
                [(a, low), (b, high)] => high.sub(low).checked_div(&b.sub(a)),
                _ => None,
            });
            let steep = slopes.max().unwrap_or(Exact::ONE).add(&Exact::ONE);
            let Some((last, height)) = points.last().cloned() else {
                return Err("an edge without a station".to_owned());
            };
            let beyond = |times: i64| {
                let way = hundred.mul(&Exact::from_integer(times));
                (last.add(&way), height.add(&steep.mul(&way)))
            };
            let (raised, end) = (beyond(1), beyond(2));
            points.push((raised.0, raised.1.add(hollow)));
            points.push(end);
        }
        self.holds(&points, hollow)?;
        let list = |values: Vec<&Exact>| -> Result<Document, String> {
            let each: Result<Vec<Document>, String> = values.into_iter().map(length).collect();
            Ok(Document::List(each?))
        };
        Ok(vec![
            (
                "stations".to_owned(),
                list(points.iter().map(|(at, _)| at).collect())?,
            ),
            (
                "gaps".to_owned(),
                list(points.iter().map(|(_, gap)| gap).collect())?,
            ),
        ])
    }

    /// Whether the stations tell what is asked.
    fn holds(&self, points: &[(Exact, Exact)], hollow: &Exact) -> Result<(), String> {
        let stations: Vec<EdgeStation> = points
            .iter()
            .map(|(at, gap)| EdgeStation {
                at: Uncertain::exact(at.clone()),
                gap: Uncertain::exact(gap.clone()),
            })
            .collect();
        let fail = |_| "no stations make a hollow beside the other numbers of the edge".to_owned();
        let edge = EdgeProfile::new(&stations).map_err(fail)?;
        let is = |found: &Number, wanted: &Exact| found.as_exact() == Some(wanted);
        let mut all = is(&edge.hollow().depth.value, hollow);
        for leaf in &self.leaves {
            let flat = edge.flat(&leaf.gap, None).map_err(fail)?;
            let (Some(forward), Some(aft)) = (&leaf.forward, &leaf.aft) else {
                continue;
            };
            all &= is(&flat.forward.value, forward) && is(&flat.aft.value, aft);
        }
        all.then_some(())
            .ok_or("no stations make a hollow beside the other numbers of the edge".to_owned())
    }
}

/// Where the straight edge touches: under the pivot, or where leaves bind on both sides of it that reach to the pivot.
fn contact(leaves: &[Leaf]) -> Result<Exact, String> {
    let nearest = |at: At| leaves.iter().filter_map(|leaf| leaf.end(at).clone()).min();
    let (Some(forward), Some(aft)) = (nearest(At::Forward), nearest(At::Aft)) else {
        return Ok(Exact::ZERO);
    };
    let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
    match (forward.signum() > 0, aft.signum() > 0) {
        (true, true) => Ok(Exact::ZERO),
        (true, false) => Ok(forward.mul(&half)),
        (false, true) => Ok(aft.mul(&half).neg()),
        (false, false) => Err("an edge that touches nothing but the pivot has no flat".to_owned()),
    }
}

/// A leaf under a round edge of a radius R: at the gap 2R/(k² + 1) it binds 2Rk/(k² + 1) from the contact, so that
/// a² + g² = 2Rg, all of them fractions.
fn round(radius: &Exact) -> Result<Leaf, String> {
    let fail = "no leaf makes a crown radius that is not above zero";
    if radius.signum() <= 0 {
        return Err(fail.to_owned());
    }
    let near = Exact::from_integer(200);
    let times = radius.add(radius).checked_div(&near).ok_or(fail)?.floor();
    let times = times.max(Exact::ONE);
    // Numbers that can be written: those whose denominators are short.
    for way in 0..400 {
        for times in [
            times.add(&Exact::from_integer(way)),
            times.sub(&Exact::from_integer(way)),
        ] {
            if times < Exact::ONE {
                continue;
            }
            let below = times.mul(&times).add(&Exact::ONE);
            let gap = radius.add(radius).checked_div(&below).ok_or(fail)?;
            let reach = gap.mul(&times);
            if length(&gap).is_ok() && length(&reach).is_ok() {
                return Ok(Leaf {
                    gap,
                    forward: Some(reach.clone()),
                    aft: Some(reach),
                });
            }
        }
    }
    Err("no leaf that can be written makes the crown radius".to_owned())
}
