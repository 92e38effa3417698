//! Readings that differ from place to place: what the worst of them shows and their mean does not.

use super::super::common::{MeasureIx, PartIx, Side};
use super::construct::{measured, places_of, told_at, tried};
use super::difference::Difference;
use super::edit::{Pair, Place, entry, list, move_readings, series};
use super::needs::{Need, told};
use super::search::{Found, Search};
use super::trial::{Toward, When};
use super::zones::{Of, Read, Spot, between};
use crate::check::Outcome;
use crate::quantity::Exact;

impl Search<'_, '_> {
    /// One place a little beyond a limit and the others well inside; on the boat another place lies far beyond it, so
    /// that it fails either way.
    pub(super) fn uneven(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        for need in self.needs_of(difference, |one| one.needs.iter().copied().collect()) {
            let Need::Measure(part, measure) = need else {
                continue;
            };
            let of = (part, &[measure][..]);
            for place in tried(gold, common, part).into_iter().take(2) {
                let taken = self.positions(gold, of, place);
                let free = between(&taken).into_iter().find(|at| !taken.contains(at));
                let Some(at) = free else { continue };
                let spot = [Spot {
                    at,
                    from_edge: None,
                }];
                for limit in self.limits(difference) {
                    for inward in [1, -1] {
                        let Some((read, far)) = self.spread((gold, of, place), &limit, inward)
                        else {
                            continue;
                        };
                        let far = Read::Value(far);
                        let Some(whole) = self.with_places(&read, of, place, &spot, &far) else {
                            continue;
                        };
                        if self.bench.alike(&whole, when) != Some(Outcome::DoesNotConform) {
                            continue;
                        }
                        let name = told(Need::Measure(part, measure), common);
                        let words = format!(
                            "{name} lies beyond its limit at one place and well inside at the others; where it lies far beyond it is not read"
                        );
                        if self.try_one((gold, &read), when, (&words, can), found) {
                            return;
                        }
                    }
                }
            }
        }
    }

    /// The first place beyond a limit, the others inside by more than all that, and a value far beyond.
    fn spread(
        &self,
        (gold, of, place): (&Pair, Of<'_>, Place),
        limit: &Exact,
        inward: i64,
    ) -> Option<(Pair, Exact)> {
        let spots = places_of(gold, self.bench.common, of, place);
        let step = limit.abs().checked_div(&Exact::from_integer(100))?;
        let inward = step.mul(&Exact::from_integer(inward));
        let (first, rest) = spots.split_first()?;
        if rest.is_empty() || step.is_zero() {
            return None;
        }
        let mut read = gold.clone();
        self.set_at(&mut read, of, place, first, &limit.sub(&inward));
        for one in rest {
            let inside = limit.add(&inward.mul(&Exact::from_integer(2)));
            self.set_at(&mut read, of, place, one, &inside);
        }
        let far = limit.sub(&inward.mul(&Exact::from_integer(90)));
        Some((read, far))
    }

    fn set_at(
        &self,
        pair: &mut Pair,
        (part, measures): Of<'_>,
        place: Place,
        at: &str,
        value: &Exact,
    ) {
        let common = self.bench.common;
        let own =
            |side: Side, slot: MeasureIx| -> (Side, (PartIx, MeasureIx)) { (side, (part, slot)) };
        let each = Side::BOTH.into_iter();
        let each = each.flat_map(|side| measures.iter().map(move |slot| own(side, *slot)));
        for (side, measure) in each {
            let said = measured(pair.at_mut(side), common, side, (measure, place));
            let places = said.and_then(series).and_then(|one| entry(one, "places"));
            for one in places.and_then(list).into_iter().flatten() {
                if told_at(one) == Some(at)
                    && let Some(readings) = entry(one, "readings")
                {
                    move_readings(readings, value);
                }
            }
        }
    }
}
