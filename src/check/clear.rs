//! Limits at a glance: outcomes that are clear without exact numbers, for a fleet.
//!
//! Nothing here decides otherwise than `decide` and `places` do, and nothing near a limit is decided here; see
//! [`Rough`]. What is clear carries no flag either: it is not near, and takes no benefit of doubt.

use super::answers::{Asked, said};
use super::draft::Ruling;
use super::finding::{Brief, ItemRef, Outcome, Reason, RuleRef};
use super::glance::{Glance, Run, Seen};
use super::judge::{Candidate, EXEMPT, Judge};
use super::places::{Counting, Looked, Tally};
use super::plan::{Constant, PlannedRule, side_of};
use super::value::Evidence;
use crate::record::{Item, Where};
use crate::rules::{Bound, BoundKind, Demand, Judged, Rule};
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
type Rulings = SmallVec<[Ruling; 2]>;

impl<'r> Judge<'r> {
    /// Adds the outcomes of a rule on an item, where only one row of limits can count and what it asks is clear
    /// at a glance; tells whether they were.
    pub(super) fn briefly(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        found: &mut Vec<Brief>,
    ) -> bool {
        if self.eval.glances.is_none() || (rule.names_event && self.context.level.is_none()) {
            return false;
        }
        let candidate = if rule.when.is_none() && rule.instead.is_empty() {
            self.main_row(planned, rule, item)
        } else {
            let mut candidates = self.candidates(planned, rule, at, item, &mut None);
            match (candidates.pop(), candidates.is_empty()) {
                (Some(only), true) => only,
                _ => return false,
            }
        };
        let brief = |side: Option<BoundKind>, (outcome, reason): Ruling| Brief {
            rule: RuleRef::Rule(planned.at),
            item: ItemRef::Item(at),
            side,
            outcome,
            reason,
            benefit_of_doubt: false,
            second_measurer: false,
        };
        if let Candidate::Zones(..) = candidate {
            return false;
        }
        let Candidate::Row(row, constants, _) = candidate else {
            found.extend(candidate.ruling().map(|ruling| brief(None, ruling)));
            return true;
        };
        match &row.demand {
            Demand::None => found.push(brief(None, EXEMPT)),
            demand @ (Demand::Equals(..) | Demand::Only(..) | Demand::Without(..)) => {
                let Some((asked, _)) = Asked::of(demand) else {
                    return false;
                };
                let value = self.eval.value(&rule.value.root, at);
                found.push(brief(None, said(&value, asked, self.context.purpose)));
            }
            // Which option is the nearest is left to the long way.
            Demand::Options(_) => return false,
            Demand::Bounds(_) if super::extremes::asked(rule) => return false,
            Demand::Bounds(bounds) => {
                let Some(rulings) = self.clear(rule, at, item, bounds, constants) else {
                    return false;
                };
                let sides = bounds.iter().map(|bound| Some(bound.kind));
                let briefs = sides.zip(rulings).map(|(side, ruling)| brief(side, ruling));
                found.extend(briefs);
            }
        }
        true
    }

    /// What a rule on an item comes to, bound by bound, where all of them are clear at a glance.
    #[inline]
    fn clear(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        bounds: &'r [Bound],
        constants: &[Option<Constant>],
    ) -> Option<Rulings> {
        let value = self.eval.glance(&rule.value.root, at)?;
        let mut met: SmallVec<[Met; 2]> = SmallVec::new();
        for (number, bound) in bounds.iter().enumerate() {
            let limit = match constants.get(number) {
                Some(Some(constant)) => Glance::certain(constant.rough),
                Some(None) | None => self.eval.glance_number(&bound.limit.root, at)?,
            };
            met.push(Met {
                side: side_of(bound.kind),
                limit: limit.rough,
                evidence: limit.evidence,
            });
        }
        match (value, rule.judged) {
            (Seen::Number(run), _) => {
                let value = self.eval.glances.as_ref()?.number(run)?;
                let mut rulings = Rulings::new();
                for met in &met {
                    rulings.push(self.clear_of(value, met)?);
                }
                Some(rulings)
            }
            (Seen::Places(run), Judged::Mean) => self.clear_mean(rule, at, item, run, &met),
            (Seen::Places(run), Judged::WorstPlace | Judged::Unplaced) => {
                self.clear_places(rule, at, item, run, &met)
            }
            (Seen::Bevels(_), _) => None,
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
        run: Run,
        met: &[Met],
    ) -> Option<Rulings> {
        let looked = self.looked_at(rule, at, item, run)?;
        // Without a place inside, one of the others is shown.
        let lacking = self.lacking_of(rule, at, run, &looked)?;
        let places = self.eval.glances.as_ref()?.list(run);
        let mut rulings = Rulings::new();
        for met in met {
            let mut tally = Tally::default();
            let mut open = None;
            for (one, looked) in places.iter().zip(&looked) {
                // A place that is left out has no say beside one that is not.
                if *looked == Looked::Out {
                    continue;
                }
                let ruling = self.clear_of(one, met)?;
                tally.add(*looked, ruling);
                if *looked == Looked::In && ruling.0 == Outcome::NotDecided {
                    // Which of several reasons is given depends on the margins.
                    if *open.get_or_insert(ruling) != ruling {
                        return None;
                    }
                }
            }
            rulings.push(tally.outcome(lacking, || open));
        }
        Some(rulings)
    }

    fn clear_mean(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        run: Run,
        met: &[Met],
    ) -> Option<Rulings> {
        let looked = self.looked_at(rule, at, item, run)?;
        let lacking = self.lacking_of(rule, at, run, &looked)?;
        let inside = || {
            let places = self.eval.glances.iter().flat_map(|all| all.list(run));
            let inside = places.zip(&looked);
            inside.filter_map(|(one, looked)| (*looked == Looked::In).then_some(one))
        };
        let rough = Rough::mean(inside().map(|one| &one.rough))?;
        let evidence = inside().fold(Evidence::GOOD, |all, one| all.and(one.evidence));
        let mean = Glance {
            evidence,
            ..Glance::certain(rough)
        };
        let ruling = |met| Some(lacked(self.clear_of(&mean, met)?, lacking));
        met.iter().map(ruling).collect()
    }

    /// Where a rule looks, place by place.
    pub(super) fn looked_at(
        &mut self,
        rule: &Rule,
        at: usize,
        item: &Item,
        run: Run,
    ) -> Option<SmallVec<[Looked; 8]>> {
        let places = self.eval.glances.as_ref()?.list(run);
        if rule.outside.is_empty() && rule.zone.is_none() {
            return Some(places.iter().map(|_| Looked::In).collect());
        }
        // Where a zone along the edge ends is told the long way.
        if self.goes_along(rule, item) {
            return None;
        }
        let places = self.eval.glances.as_ref()?.list(run);
        let mut wheres: SmallVec<[&'r Where; 8]> = SmallVec::new();
        for one in places {
            wheres.push(one.place?);
        }
        let mut looked = SmallVec::new();
        for place in wheres {
            looked.push(self.looked(rule, at, item, place));
        }
        Some(looked)
    }

    /// What the places inside lack to be enough; `None` where there is no place inside.
    #[expect(
        clippy::option_option,
        reason = "nothing may be lacking, or nothing inside"
    )]
    fn lacking_of(
        &mut self,
        rule: &'r Rule,
        at: usize,
        run: Run,
        looked: &[Looked],
    ) -> Option<Option<Reason>> {
        let places = self.eval.glances.as_ref()?.list(run);
        let mut counting: SmallVec<[Counting<'r>; 8]> = SmallVec::new();
        for (one, looked) in places.iter().zip(looked) {
            if *looked == Looked::In {
                counting.push(Counting {
                    place: one.place?,
                    readings: one.readings,
                });
            }
        }
        if counting.is_empty() {
            return None;
        }
        let lacking = self.lacking(rule, at, &counting);
        Some(lacking.map(|(reason, _)| reason))
    }
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
