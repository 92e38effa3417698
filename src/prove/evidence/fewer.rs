//! Places and readings left out, one after another.

use super::super::common::{MeasureIx, PartIx, Side};
use super::construct::{Change, places_of, tried, without_place};
use super::difference::Difference;
use super::edit::{Pair, Place};
use super::needs::{Demand, Need};
use super::search::{Found, Search};
use super::trial::{Toward, When};
use crate::check::Outcome;

/// Places that are left out one after another, at most.
const FEWER: usize = 24;

/// A boat that places are taken from.
pub struct From<'a> {
    /// What it was made of, for what is told of it.
    pub gold: &'a Pair,
    /// Its records.
    pub boat: &'a Pair,
    /// The places that stay.
    pub keep: &'a [String],
    /// What was done to it, in words.
    pub told: Option<&'a str>,
}

impl<'a> From<'a> {
    /// A boat as it is.
    pub fn gold(gold: &'a Pair) -> From<'a> {
        From {
            gold,
            boat: gold,
            keep: &[],
            told: None,
        }
    }
}

impl Search<'_, '_> {
    /// Places left out one by one, as long as the version that asks for less is content.
    pub(super) fn fewer(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let needs = self.needs_of(difference, |one| one.needs.iter().copied().collect());
        let mut lists: Vec<(PartIx, Vec<MeasureIx>)> = Vec::new();
        for need in needs {
            if let Need::Measure(part, measure) = need
                && common
                    .part(part)
                    .and_then(|one| one.measures.get(measure.index()))
                    .is_some_and(|one| one.placed)
            {
                lists.push((part, vec![measure]));
            }
        }
        // What is taken at the same places is left out together as well.
        let mut parts: Vec<PartIx> = lists.iter().map(|(part, _)| *part).collect();
        parts.dedup();
        for part in parts {
            let all = lists.iter().filter(|(of, _)| *of == part);
            let all: Vec<MeasureIx> = all.flat_map(|(_, list)| list.clone()).collect();
            if all.len() > 1 {
                lists.push((part, all));
            }
        }
        for (part, measures) in &lists {
            for place in tried(gold, common, *part).into_iter().take(2) {
                let of = (*part, measures.as_slice());
                self.fewer_on(of, place, can, (&From::gold(gold), when), found);
                if can.iter().all(|toward| found.at(*toward).is_some()) {
                    return;
                }
            }
        }
    }

    /// Places left out on one item.
    pub(super) fn fewer_on(
        &self,
        of: (PartIx, &[MeasureIx]),
        place: Place,
        can: &[Toward],
        (from, when): (&From<'_>, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let name = common.part(of.0).map_or("", |one| one.name.as_str());
        let mut left = from.boat.clone();
        for gone in 1..=FEWER {
            let mut kept = None;
            for spot in places_of(&left, common, of, place) {
                let shown = without_place(&left, common, of, place, &spot);
                if shown == left || from.keep.contains(&spot) {
                    continue;
                }
                let places = if gone == 1 { "place" } else { "places" };
                let mut told = format!("{gone} {places} fewer on the {}", name.replace('_', " "));
                if let Some(more) = from.told {
                    told.push_str("; ");
                    told.push_str(more);
                }
                if self.try_one((from.gold, &shown), when, (&told, can), found) {
                    return;
                }
                let both = self.bench.outcomes(&shown, when);
                if kept.is_none() && both == Some((Outcome::Conforms, Outcome::Conforms)) {
                    kept = Some(shown);
                }
            }
            match kept {
                Some(shown) => left = shown,
                None => break,
            }
        }
    }

    pub(super) fn fewer_readings(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let repeats = |demand: Option<&Demand<'_>>| {
            let places = demand.and_then(|one| one.rule?.places.as_ref());
            places.map_or(1, |one| one.repeats.max(1))
        };
        let both = [
            repeats(self.demand(Side::Old, difference)),
            repeats(self.demand(Side::New, difference)),
        ];
        let least = both.into_iter().min().unwrap_or(1);
        let Ok(count) = usize::try_from(least) else {
            return;
        };
        for need in self.needs_of(difference, |one| one.needs.iter().copied().collect()) {
            let Need::Measure(part, measure) = need else {
                continue;
            };
            for place in tried(gold, common, part) {
                let change = Change::FewerReadings((part, measure), place, count);
                let Some(shown) = change.made(gold, common, when.day) else {
                    continue;
                };
                let told = change.told(common);
                if self.try_one((gold, &shown), when, (&told, can), found) {
                    return;
                }
            }
        }
    }
}
