//! Limits at a glance: outcomes that are clear without exact numbers, for a fleet.
//!
//! Nothing here decides otherwise than `decide` and `places` do, and nothing near a limit is decided here; see
//! [`Rough`]. What is clear carries no flag either: it is not near, and takes no benefit of doubt.

use super::draft::Ruling;
use super::finding::{Outcome, Reason};
use super::glance::{Glance, Seen};
use super::judge::Judge;
use super::places::{Counting, Looked, place_outcome};
use super::plan::side_of;
use super::value::Evidence;
use crate::quantity::Number;
use crate::record::Item;
use crate::rules::{Bound, Judged, Rule};
use crate::uncertainty::{Rough, Side};
use smallvec::SmallVec;

/// A bound with what it comes to at a glance.
#[derive(Clone, Copy)]
struct Met {
    side: Side,
    limit: Rough,
    /// What a measured limit lacks as evidence.
    evidence: Evidence,
}

/// The outcomes of the bounds of a row, one after another.
pub(super) type Rulings = SmallVec<[Ruling; 2]>;

impl<'r> Judge<'r> {
    /// What a rule on an item comes to, bound by bound, where all of them are clear at a glance.
    pub(super) fn clear(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        bounds: &'r [Bound],
        constants: &[Option<Number>],
    ) -> Option<Rulings> {
        self.eval.glances.as_ref()?;
        let value = self.eval.glance(&rule.value.root, at)?;
        let mut met: SmallVec<[Met; 2]> = SmallVec::new();
        for (number, bound) in bounds.iter().enumerate() {
            let limit = match constants.get(number) {
                Some(Some(Number::Exact(exact))) => Glance::certain(Rough::exact(exact)),
                Some(Some(Number::Real { .. })) => return None,
                Some(None) | None => self.eval.glance_number(&bound.limit.root, at)?,
            };
            met.push(Met {
                side: side_of(bound.kind),
                limit: limit.rough,
                evidence: limit.evidence,
            });
        }
        match (value, rule.judged) {
            (Seen::Number(value), _) => met.iter().map(|met| self.clear_of(&value, met)).collect(),
            (Seen::Places(from, to), Judged::Mean) => {
                self.clear_mean(rule, at, item, (from, to), &met)
            }
            (Seen::Places(from, to), Judged::WorstPlace | Judged::Unplaced) => {
                self.clear_places(rule, at, item, (from, to), &met)
            }
            (Seen::Bevels(..), _) => None,
        }
    }

    /// One number against one bound.
    fn clear_of(&self, value: &Glance<'_>, met: &Met) -> Option<Ruling> {
        let inside = value
            .rough
            .clearly_inside(met.side, &met.limit, self.plan.guard_factor)?;
        let evidence = value.evidence.and(met.evidence);
        Some(match (evidence.reason(self.context.purpose), inside) {
            (Some(reason), _) => (Outcome::NotDecided, Some(reason)),
            (None, true) => (Outcome::Conforms, None),
            (None, false) => (Outcome::DoesNotConform, None),
        })
    }

    fn clear_places(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        (from, to): (usize, usize),
        met: &[Met],
    ) -> Option<Rulings> {
        let (places, looked) = self.looked_at(rule, at, item, (from, to))?;
        let inside = places.iter().zip(&looked);
        let inside = inside.filter(|(_, looked)| **looked == Looked::In);
        let counting: SmallVec<[Counting<'_>; 8]> = inside
            .map(|(one, _)| counting(one))
            .collect::<Option<_>>()?;
        // Without a place inside, one of the others is shown.
        if counting.is_empty() {
            return None;
        }
        let lacking = self.lacking(rule, at, &counting);
        let lacking = lacking.map(|(reason, _)| reason);
        let mut rulings = Rulings::new();
        for met in met {
            let mut each: SmallVec<[(Looked, Ruling); 8]> = SmallVec::new();
            for (one, looked) in places.iter().zip(&looked) {
                // A place that is left out has no say beside one that is not.
                if *looked != Looked::Out {
                    each.push((*looked, self.clear_of(one, met)?));
                }
            }
            let is_open = |(looked, ruling): &&(Looked, Ruling)| {
                *looked == Looked::In && ruling.0 == Outcome::NotDecided
            };
            let mut open = each.iter().filter(is_open).map(|(_, ruling)| *ruling);
            let first = open.next();
            // Which of several reasons is given depends on the margins.
            if open.any(|ruling| Some(ruling) != first) {
                return None;
            }
            rulings.push(place_outcome(each.iter().copied(), lacking, || first));
        }
        Some(rulings)
    }

    fn clear_mean(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        (from, to): (usize, usize),
        met: &[Met],
    ) -> Option<Rulings> {
        let (places, looked) = self.looked_at(rule, at, item, (from, to))?;
        let inside = || {
            let inside = places.iter().zip(&looked);
            let inside = inside.filter(|(_, looked)| **looked == Looked::In);
            inside.map(|(one, _)| one)
        };
        let counting: SmallVec<[Counting<'_>; 8]> =
            inside().map(counting).collect::<Option<_>>()?;
        let lacking = self.lacking(rule, at, &counting);
        let rough = Rough::mean(inside().map(|one| &one.rough))?;
        let evidence = inside().fold(Evidence::GOOD, |all, one| all.and(one.evidence));
        let mean = Glance {
            evidence,
            ..Glance::certain(rough)
        };
        let mut rulings = Rulings::new();
        for met in met {
            let ruling = self.clear_of(&mean, met)?;
            rulings.push(lacked(ruling, lacking.as_ref().map(|(reason, _)| *reason)));
        }
        Some(rulings)
    }

    /// Numbers at places with where a rule looks.
    #[expect(clippy::type_complexity, reason = "two lists side by side")]
    fn looked_at(
        &mut self,
        rule: &Rule,
        at: usize,
        item: &Item,
        (from, to): (usize, usize),
    ) -> Option<(SmallVec<[Glance<'r>; 6]>, SmallVec<[Looked; 8]>)> {
        let places = self.eval.glances.as_ref()?.list(from, to);
        let places: SmallVec<[Glance<'r>; 6]> = places.iter().copied().collect();
        let looked = places
            .iter()
            .map(|one| Some(self.looked(rule, at, item, one.place?)))
            .collect::<Option<_>>()?;
        Some((places, looked))
    }
}

fn counting<'p>(one: &Glance<'p>) -> Option<Counting<'p>> {
    Some(Counting {
        place: one.place?,
        readings: one.readings,
    })
}

/// What is said of a mean whose places lack something.
pub(super) fn lacked(ruling: Ruling, lacking: Option<Reason>) -> Ruling {
    match (lacking, ruling.0) {
        (Some(reason), Outcome::Conforms | Outcome::DoesNotConform) => {
            (Outcome::NotDecided, Some(reason))
        }
        _ => ruling,
    }
}
