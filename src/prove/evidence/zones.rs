//! Zones whose borders moved: places that one version counts and the other does not, or judges by another row.

use super::super::common::{MeasureIx, PartIx, Side};
use super::super::formula::Formula;
use super::super::state::Cell;
use super::super::term::{Var, What, Whose};
use super::super::witness::Document;
use super::construct::{measured, places_of, spoil, told_at, tried, without_place};
use super::difference::Difference;
use super::edit::{
    Pair, Place, entry, item, list, move_readings, put, quantities, readings, same_readings, series,
};
use super::fewer::From;
use super::needs::{Need, told};
use super::search::{Found, Search};
use super::trial::{Toward, When};
use crate::check::Outcome;
use crate::quantity::{Exact, Quantity, Ties};
use crate::rules::{Limits, Rule};
use crate::vocabulary::{ZoneId, ZoneKind};

/// Places of an item that are tried, at most.
const SPOTS: usize = 12;

/// Parts into which the length of an item is cut where it is not told how far a zone reaches.
const CUTS: i64 = 16;

/// Where a place lies.
#[derive(Clone, Debug)]
pub struct Spot {
    /// Along the item.
    pub at: Exact,
    /// Over the edge; nothing where it stays as it is.
    pub from_edge: Option<Exact>,
}

/// What is read there.
#[derive(Clone, Debug)]
pub enum Read {
    /// The same as elsewhere.
    Alike,
    /// Something far too small, or far too great.
    Far(i32),
    /// A value.
    Value(Exact),
}

/// Borders of zones: along the item, and over the edge.
#[derive(Default)]
struct Borders {
    along: Vec<Exact>,
    edge: Vec<Exact>,
    /// A zone ends where it is not told.
    anywhere: bool,
}

pub type Of<'m> = (PartIx, &'m [MeasureIx]);

impl Search<'_, '_> {
    /// A place beside a border: where it is one of those that are enough, and where it is the only one that fails.
    pub(super) fn beside_borders(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let mut parts: Vec<(PartIx, Vec<MeasureIx>)> = Vec::new();
        for need in self.needs_of(difference, |one| one.needs.iter().copied().collect()) {
            let Need::Measure(part, measure) = need else {
                continue;
            };
            let own = common
                .part(part)
                .and_then(|one| one.measures.get(measure.index()));
            if own.is_none_or(|one| !one.placed) {
                continue;
            }
            match parts.iter_mut().find(|(of, _)| *of == part) {
                Some((_, all)) => all.push(measure),
                None => parts.push((part, vec![measure])),
            }
        }
        for (part, measures) in &parts {
            let of = (*part, measures.as_slice());
            for place in tried(gold, common, *part).into_iter().take(2) {
                for spots in self.spots(difference, gold, of, place) {
                    self.on_spots(difference, can, (gold, when), (of, place, &spots), found);
                    if can.iter().all(|toward| found.at(*toward).is_some()) {
                        return;
                    }
                }
            }
        }
    }

    fn on_spots(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        (of, place, spots): (Of<'_>, Place, &[Spot]),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let Some(good) = self.with_places(gold, of, place, spots, &Read::Alike) else {
            return;
        };
        let before = places_of(gold, common, of, place);
        let mut keep = places_of(&good, common, of, place);
        keep.retain(|at| !before.contains(at));
        let Some(more) = self.said_of(&good, of, place, keep.len()) else {
            return;
        };
        if self.bench.alike(&good, when) == Some(Outcome::Conforms) {
            let from = From {
                gold,
                boat: &good,
                keep: &keep,
                told: Some(&more),
            };
            self.fewer_on(of, place, can, (&from, when), found);
        }
        let mut reads = vec![Read::Far(1), Read::Far(-1)];
        reads.extend(self.limits(difference).into_iter().map(Read::Value));
        for read in &reads {
            let Some(bad) = self.with_places(gold, of, place, spots, read) else {
                continue;
            };
            let both = self.bench.outcomes(&bad, when);
            if both.is_none_or(|(was, is)| was == is) {
                continue;
            }
            // Legal under one version alone, so that nothing but a failure elsewhere makes it alike.
            for other in before.iter().take(4) {
                for direction in [1, -1] {
                    let worse = self.spoilt_at(&bad, of, place, other, direction);
                    let fails = worse.as_ref().and_then(|one| self.bench.alike(one, when));
                    let (Some(worse), Some(Outcome::DoesNotConform)) = (worse, fails) else {
                        continue;
                    };
                    let shown = without_place(&worse, common, of, place, other);
                    let told = format!(
                        "{more}; it fails there, and the place at {other} is left out, where it fails as well"
                    );
                    if self.try_one((gold, &shown), when, (&told, can), found) {
                        return;
                    }
                    break;
                }
            }
        }
    }

    /// What is told of places that were added, the last of them by name.
    fn said_of(
        &self,
        pair: &Pair,
        (part, measures): Of<'_>,
        place: Place,
        count: usize,
    ) -> Option<String> {
        let common = self.bench.common;
        let mut copy = pair.clone();
        let slot = *measures.first()?;
        let one = measured(&mut copy.new, common, Side::New, ((part, slot), place))?;
        let last = list(entry(series(one)?, "places")?)?.last()?;
        let at = told_at(last)?;
        let edge = last.get("from_edge").and_then(Document::as_text);
        let edge = edge.map_or(String::new(), |edge| format!(", {edge} from the edge"));
        let name = told(Need::Measure(part, slot), common);
        Some(if count == 1 {
            format!("{name} is read at {at}{edge} too, beside a border that moved")
        } else {
            format!("{name} is read at {count} places more, beside a border that moved")
        })
    }

    /// The limits of a rule that judges one measure as it is read.
    pub(super) fn limits(&self, difference: &Difference) -> Vec<Exact> {
        let rules = Side::BOTH.map(|side| self.demand(side, difference).and_then(|one| one.rule));
        let mut found: Vec<Exact> = Vec::new();
        for rule in rules.into_iter().flatten() {
            if !matches!(rule.value.root.op, crate::expression::Op::Measure(..)) {
                continue;
            }
            let rows = crate::rules::rows(&rule.limits, &[]);
            let bounds = rows.flat_map(|row| row.demand.bounds());
            found.extend(bounds.filter_map(|bound| bound.exact_limit()));
        }
        found.sort();
        found.dedup();
        found
    }

    /// Places beside borders, as far as it is known those that differ: each alone, then many at once, as near to each
    /// other as places are on the boat.
    fn spots(
        &self,
        difference: &Difference,
        gold: &Pair,
        of: Of<'_>,
        place: Place,
    ) -> Vec<Vec<Spot>> {
        let mut borders = Borders::default();
        for side in Side::BOTH {
            if let Some(rule) = self.demand(side, difference).and_then(|one| one.rule) {
                self.borders(side, rule, (gold, place), &mut borders);
            }
        }
        let taken = self.positions(gold, of, place);
        let (Some(first), Some(last)) = (taken.iter().min(), taken.iter().max()) else {
            return Vec::new();
        };
        if borders.anywhere {
            let length = last.sub(first);
            for cut in 0..=CUTS {
                let share = Exact::from_fraction(cut, CUTS).unwrap_or(Exact::ZERO);
                borders.along.push(first.add(&length.mul(&share)));
            }
        }
        let free = |at: &Exact| !taken.contains(at);
        let mut along: Vec<Exact> = between(&borders.along).into_iter().filter(free).collect();
        if along.is_empty() {
            // Over the edge alone: anywhere else along it.
            let near = between(&taken);
            along.extend(near.into_iter().filter(free));
        }
        let edge: Vec<Option<Exact>> = match borders.edge.as_slice() {
            [] => vec![None],
            edge => between(edge)
                .into_iter()
                .filter(|one| one.signum() > 0)
                .map(Some)
                .collect(),
        };
        let differ = |along: &[Exact], from_edge: &Option<Exact>| -> Vec<Spot> {
            let spots = along.iter().map(|at| Spot {
                at: at.clone(),
                from_edge: from_edge.clone(),
            });
            let known = |spot: &Spot| self.differ_at(difference, (gold, place), spot);
            spots.filter(|spot| known(spot) != Some(false)).collect()
        };
        let all: Vec<Spot> = edge.iter().flat_map(|edge| differ(&along, edge)).collect();
        // Few of each, so that no border goes without.
        let step = all.len().div_ceil(SPOTS).max(1);
        let few: Vec<Spot> = all.into_iter().step_by(step).collect();
        let mut found: Vec<Vec<Spot>> = few.iter().map(|spot| vec![spot.clone()]).collect();
        // What one place does not show many do rather than another one.
        let rest = found.split_off(found.len().min(2));
        found.push(few);
        // Beside each place that there is.
        let length = last.sub(first).checked_div(&Exact::from_integer(500));
        let length = length.filter(|length| !length.is_zero());
        if let Some(length) = length {
            let aside = Exact::power_of_ten(length.leading_exponent());
            let near: Vec<Exact> = taken.iter().map(|at| at.add(&aside)).collect();
            found.extend(edge.iter().map(|edge| differ(&near, edge)));
        }
        found.extend(rest);
        found.retain(|spots| !spots.is_empty());
        found
    }

    /// Whether the versions differ in where they look, as far as the place and what else is read tell.
    fn differ_at(
        &self,
        difference: &Difference,
        (gold, place): (&Pair, Place),
        spot: &Spot,
    ) -> Option<bool> {
        let value = |var: Var| {
            if var.whose != Whose::Own {
                return None;
            }
            let term = self.bench.terms.get(var.term)?;
            let number = match &term.what {
                What::PlaceAt => spot.at.clone(),
                What::PlaceFromEdge => spot.from_edge.clone()?,
                What::Measure(slot) => self.read_once(gold, (term.part, *slot), place)?,
                _ => return None,
            };
            Some(Cell::Number(number))
        };
        let zones = Side::BOTH.map(|side| {
            let clause = self.demand(side, difference).and_then(|one| one.clause);
            clause.map_or(&[][..], |clause| clause.zones.as_slice())
        });
        let known = |list: &[Formula]| -> Option<Vec<bool>> {
            list.iter().map(|one| one.known(&value)).collect()
        };
        let [was, is] = zones;
        Some(known(was)? != known(is)?)
    }

    fn borders(&self, side: Side, rule: &Rule, (gold, place): (&Pair, Place), found: &mut Borders) {
        let mut zones: Vec<ZoneId> = rule.outside.iter().map(|(zone, _)| *zone).collect();
        zones.extend(rule.zone.map(|(zone, _)| zone));
        if let Limits::ByZone { rows, .. } = &rule.limits {
            zones.extend(rows.iter().filter_map(|(zone, _)| *zone));
        }
        let common = self.bench.common;
        let Some(own) = common.rules(side).vocabulary.part(rule.applies_to) else {
            return;
        };
        let position = |name: &str| {
            let part = common.part_of(side, rule.applies_to)?;
            let slot = common.measure_of(side, part, own.measure_named(name)?)?;
            self.read_once(gold, (part, slot), place)
        };
        for zone in zones {
            let Some(zone) = own.zones.get(zone.index()) else {
                continue;
            };
            match &zone.kind {
                ZoneKind::WithinOfEdge(distance) => found.edge.push(distance.clone()),
                ZoneKind::Between(low, high) => found.along.extend([low.clone(), high.clone()]),
                ZoneKind::WithinOf { distance, of } => match position(&of.text) {
                    Some(of) => found.along.extend([of.sub(distance), of.add(distance)]),
                    None => found.anywhere = true,
                },
                ZoneKind::Along { from, .. } => {
                    found.along.extend(position(&from.text));
                    found.anywhere = true;
                }
            }
        }
    }

    /// The first reading of a measure.
    fn read_once(&self, pair: &Pair, measure: (PartIx, MeasureIx), place: Place) -> Option<Exact> {
        let mut copy = pair.clone();
        let one = measured(
            &mut copy.new,
            self.bench.common,
            Side::New,
            (measure, place),
        )?;
        let all = readings(series(one)?);
        quantities(all.first()?)
            .first()
            .map(|one| one.value.clone())
    }

    /// Where along an item it was measured.
    pub(super) fn positions(&self, pair: &Pair, of: Of<'_>, place: Place) -> Vec<Exact> {
        let told = places_of(pair, self.bench.common, of, place);
        let each = told.iter().filter_map(|at| Quantity::parse(at).ok());
        each.map(|one| one.value).collect()
    }

    /// The boat with some places more, behind the others.
    pub(super) fn with_places(
        &self,
        pair: &Pair,
        (part, measures): Of<'_>,
        place: Place,
        spots: &[Spot],
        read: &Read,
    ) -> Option<Pair> {
        let common = self.bench.common;
        let mut changed = pair.clone();
        let mut any = false;
        for side in Side::BOTH {
            for slot in measures {
                let document = changed.at_mut(side);
                let said = measured(document, common, side, ((part, *slot), place));
                let places = said.and_then(series).and_then(|one| entry(one, "places"));
                let Some(places) = places.and_then(list) else {
                    continue;
                };
                let kind = common.part(part)?.measures.get(slot.index())?.kind;
                let like = places.first()?.clone();
                for spot in spots {
                    let mut added = like.clone();
                    set_length(&mut added, "at", &spot.at)?;
                    if let Some(from_edge) = &spot.from_edge
                        && set_length(&mut added, "from_edge", from_edge).is_none()
                    {
                        // A section says nothing of the edge.
                        continue;
                    }
                    match read {
                        Read::Alike => {}
                        Read::Far(direction) => added = far(added, kind, *direction)?,
                        Read::Value(value) => {
                            move_readings(entry(&mut added, "readings")?, value);
                        }
                    }
                    places.push(added);
                    any = true;
                }
            }
        }
        any.then_some(changed)
    }

    /// The boat with the values of one place far beyond any limit.
    fn spoilt_at(
        &self,
        pair: &Pair,
        (part, measures): Of<'_>,
        place: Place,
        at: &str,
        direction: i32,
    ) -> Option<Pair> {
        let common = self.bench.common;
        let mut changed = pair.clone();
        for side in Side::BOTH {
            for slot in measures {
                let kind = common.part(part)?.measures.get(slot.index())?.kind;
                let document = changed.at_mut(side);
                item(document, common, side, place)?;
                let said = measured(document, common, side, ((part, *slot), place));
                let places = said.and_then(series).and_then(|one| entry(one, "places"));
                for one in places.and_then(list).into_iter().flatten() {
                    if told_at(one) == Some(at) {
                        *one = far(one.clone(), kind, direction)?;
                    }
                }
            }
        }
        Some(changed)
    }
}

/// A place with its values far beyond any limit.
fn far(place: Document, kind: crate::vocabulary::MeasureKind, direction: i32) -> Option<Document> {
    let mut alone = Document::map([("places", Document::List(vec![place]))]);
    spoil(&mut alone, kind, direction)?;
    let places = list(entry(&mut alone, "places")?)?;
    places.pop()
}

/// Another length under a key of a place, in the unit that stands there.
fn set_length(place: &mut Document, key: &str, value: &Exact) -> Option<()> {
    let unit = Quantity::parse(place.get(key)?.as_text()?).ok()?.unit;
    put(place, key, same_readings(value, unit, 1));
    Some(())
}

/// Numbers between each two neighbours, and one on either side of all.
pub fn between(borders: &[Exact]) -> Vec<Exact> {
    let mut sorted = borders.to_vec();
    sorted.sort();
    sorted.dedup();
    let (Some(first), Some(last)) = (sorted.first().cloned(), sorted.last().cloned()) else {
        return Vec::new();
    };
    let span = last.sub(&first);
    // One border alone: as far again, or a little.
    let little = Exact::from_fraction(1, 100).unwrap_or(Exact::ONE);
    let span = if span.is_zero() {
        last.abs().max(little)
    } else {
        span
    };
    let beyond = span
        .checked_div(&Exact::from_integer(2))
        .unwrap_or(Exact::ONE);
    sorted.insert(0, first.sub(&beyond));
    sorted.push(last.add(&beyond));
    let pairs = sorted.windows(2).filter_map(|pair| match pair {
        [low, high] => {
            let width = high.sub(low);
            let middle = low.add(&width.checked_div(&Exact::from_integer(2))?);
            let step = width.checked_div(&Exact::from_integer(10))?;
            if step.is_zero() {
                return None;
            }
            let step = Exact::power_of_ten(step.leading_exponent());
            Some(middle.round_to_multiple(&step, Ties::Even))
        }
        _ => None,
    });
    pairs.collect()
}
