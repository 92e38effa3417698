//! Where readings are taken, so that they are enough for every rule that looks at them.

use super::eval::World;
use super::interval::Interval;
use super::model::{Plan, Who};
use super::used::Used;
use crate::quantity::Unit;
use crate::rules::{Limits, Rule, RulesFile};
use crate::vocabulary::{MeasureId, PartId, ZoneId, ZoneKind};

/// The zones that a rule speaks of.
pub(super) fn zones(rule: &Rule) -> impl Iterator<Item = ZoneId> + '_ {
    let rows = match &rule.limits {
        Limits::ByZone { rows, .. } => rows.as_slice(),
        Limits::Direct(_)
        | Limits::ByTrait { .. }
        | Limits::ByTraits { .. }
        | Limits::ByLevel { .. } => &[],
    };
    let named = rule.outside.iter().chain(&rule.zone).map(|(zone, _)| *zone);
    named.chain(rows.iter().filter_map(|(zone, _)| *zone))
}

/// Whether a rule looks at places that lie in some zones.
pub(super) fn looks(rule: &Rule, inside: &[bool]) -> bool {
    let lies = |zone: &ZoneId| inside.get(zone.index()) == Some(&true);
    rule.outside.iter().all(|(zone, _)| !lies(zone))
        && rule.zone.as_ref().is_none_or(|(zone, _)| lies(zone))
}

/// Plans for the placed measures of an item: those that one rule looks at together have the same places.
pub(super) struct Planner<'a> {
    pub rules: &'a RulesFile,
    pub part: PartId,
    /// Rules that may apply to the item, each with what it looks at.
    pub asked: &'a [(&'a Rule, Vec<Used>)],
    pub world: &'a World<'a>,
    pub own: Who,
    /// The unit in which the class speaks of lengths along the item.
    pub unit: Unit,
}

impl Planner<'_> {
    /// The plans for some measures.
    pub(super) fn plans(&self, measures: &[MeasureId]) -> Vec<Plan> {
        let mut groups: Vec<Vec<MeasureId>> = measures.iter().map(|one| vec![*one]).collect();
        for (rule, used) in self.asked {
            if !rule.value.yields.placed {
                continue;
            }
            let together: Vec<MeasureId> = used
                .iter()
                .filter(|(part, one)| *part == self.part && measures.contains(one))
                .map(|(_, one)| *one)
                .collect();
            let (mut joined, apart): (Vec<_>, Vec<_>) = groups
                .into_iter()
                .partition(|group| group.iter().any(|one| together.contains(one)));
            groups = apart;
            let joined: Vec<MeasureId> = joined.drain(..).flatten().collect();
            if !joined.is_empty() {
                groups.push(joined);
            }
        }
        groups.sort();
        groups.into_iter().map(|group| self.plan(group)).collect()
    }

    fn plan(&self, measures: Vec<MeasureId>) -> Plan {
        let mut about: Vec<&Rule> = self
            .asked
            .iter()
            .filter(|(_, used)| {
                used.iter()
                    .any(|(part, one)| *part == self.part && measures.contains(one))
            })
            .map(|(rule, _)| *rule)
            .collect();
        // Those that ask for most come first; what they ask for is often enough for the others.
        about.sort_by_key(|rule| {
            let places = rule.places.as_ref();
            let spaced = places.is_some_and(|one| one.spacing.is_some());
            std::cmp::Reverse((spaced, places.map_or(1, |one| one.at_least)))
        });
        let from_edge = about.iter().find_map(|rule| self.edge_distance(rule));
        let mut at: Vec<f64> = Vec::new();
        for rule in &about {
            self.more(rule, from_edge, &mut at);
        }
        if at.is_empty() {
            at.push(0.0);
        }
        at.sort_by(f64::total_cmp);
        at.dedup();
        let mut plan = Plan {
            measures,
            from_edge,
            repeats: about
                .iter()
                .filter_map(|rule| rule.places.as_ref())
                .map(|places| places.repeats)
                .max()
                .unwrap_or(1)
                .max(1),
            ..Plan::default()
        };
        for at in at {
            let inside = self.inside(at, from_edge);
            let cell = plan.cells.iter().position(|one| *one == inside);
            let cell = cell.unwrap_or_else(|| {
                plan.cells.push(inside);
                plan.cells.len() - 1
            });
            plan.at.push((at, cell));
        }
        plan
    }

    /// How far from the edge a rule has its readings taken, where it says so.
    fn edge_distance(&self, rule: &Rule) -> Option<f64> {
        let part = self.rules.vocabulary.part(self.part)?;
        zones(rule).find_map(|zone| {
            let ZoneKind::WithinOfEdge(distance) = &part.zones.get(zone.index())?.kind else {
                return None;
            };
            let left_out = rule.outside.iter().any(|(one, _)| *one == zone);
            Some(distance.to_f64() * if left_out { 2.0 } else { 0.5 })
        })
    }

    /// What a position by name can be.
    fn position(&self, name: &str) -> Option<Interval> {
        let part = self.rules.vocabulary.part(self.part)?;
        if let Some(slot) = part.measure_named(name) {
            return self
                .world
                .range(&self.own, slot, super::model::What::Value, None);
        }
        let slot = part.derived_named(name)?;
        let derived = self.rules.derived_value(self.part, slot)?;
        self.world.number(&derived.root, &self.own, None)
    }

    /// Which zones of the part a place lies in.
    fn inside(&self, at: f64, from_edge: Option<f64>) -> Vec<bool> {
        let zones = self.rules.vocabulary.part(self.part);
        let zones = zones.iter().flat_map(|part| &part.zones);
        zones
            .map(|zone| match &zone.kind {
                ZoneKind::WithinOfEdge(distance) => {
                    from_edge.is_some_and(|from| from <= distance.to_f64())
                }
                ZoneKind::Between(low, high) => at >= low.to_f64() && at <= high.to_f64(),
                ZoneKind::WithinOf { distance, of } => self.position(&of.text).is_some_and(|of| {
                    at >= of.low - distance.to_f64() && at <= of.high + distance.to_f64()
                }),
                ZoneKind::Along { from, .. } => {
                    self.position(&from.text).is_some_and(|from| at > from.high)
                }
            })
            .collect()
    }

    /// The part of an item that is there whatever its length: between the positions that it is measured by.
    fn extent(&self) -> Interval {
        let mut extent = Interval::new(-400.0, 400.0);
        let mut known = (false, false);
        let part = self.rules.vocabulary.part(self.part);
        for measure in part.iter().flat_map(|part| &part.measures) {
            let position =
                crate::vocabulary::MeasureKind::Quantity(crate::vocabulary::QuantityKind::Position);
            if measure.kind != position || measure.placed {
                continue;
            }
            if let Some(range) = self.position(&measure.name.text) {
                if range.low > 0.0 && (!known.1 || range.low < extent.high) {
                    extent.high = range.low;
                    known.1 = true;
                }
                if range.high < 0.0 && (!known.0 || range.high > extent.low) {
                    extent.low = range.high;
                    known.0 = true;
                }
            }
        }
        extent
    }

    /// Where a rule looks.
    fn region(&self, rule: &Rule) -> Interval {
        let part = self.rules.vocabulary.part(self.part);
        let kind = |zone: ZoneId| part.and_then(|part| part.zones.get(zone.index()));
        let mut region = self.extent();
        let spacing = rule.places.as_ref().and_then(|one| one.spacing.as_ref());
        if let Some(spacing) = spacing
            && let (Some(from), Some(to)) = (
                self.world.number(&spacing.from.root, &self.own, None),
                self.world.number(&spacing.to.root, &self.own, None),
            )
        {
            region = if from.high < to.low {
                Interval::new(from.high, to.low)
            } else {
                Interval::new(to.high, from.low)
            };
        }
        if let Some((zone, _)) = rule.zone {
            match kind(zone).map(|zone| &zone.kind) {
                Some(ZoneKind::Between(low, high)) => {
                    region =
                        Interval::new(region.low.max(low.to_f64()), region.high.min(high.to_f64()));
                }
                Some(ZoneKind::WithinOf { distance, of }) => {
                    if let Some(of) = self.position(&of.text) {
                        let distance = distance.to_f64();
                        region = Interval::new(of.high - distance, of.low + distance);
                    }
                }
                Some(ZoneKind::WithinOfEdge(_) | ZoneKind::Along { .. }) | None => {}
            }
        }
        for (zone, _) in &rule.outside {
            if let Some(ZoneKind::WithinOf { distance, of }) = kind(*zone).map(|zone| &zone.kind)
                && let Some(of) = self.position(&of.text)
            {
                let (below, above) = (
                    of.low - distance.to_f64() - 3.0,
                    of.high + distance.to_f64() + 3.0,
                );
                if below > region.low + region.width() / 2.0 {
                    region.high = region.high.min(below);
                } else {
                    region.low = region.low.max(above);
                }
            }
        }
        region
    }

    /// Adds the places that a rule still lacks.
    fn more(&self, rule: &Rule, from_edge: Option<f64>, at: &mut Vec<f64>) {
        let wanted = rule.places.as_ref().map_or(1, |one| one.at_least).max(1);
        let spacing = rule.places.as_ref().and_then(|one| one.spacing.as_ref());
        let region = self.region(rule);
        let counting = |at: &[f64]| {
            let all = at.iter();
            all.filter(|at| looks(rule, &self.inside(**at, from_edge)))
                .count()
        };
        let enough = usize::try_from(wanted).unwrap_or(usize::MAX);
        if let Some(spacing) = spacing {
            let gap = spacing.at_most.value.to_f64() * 0.85;
            let inner = region.wider(-(gap * 0.1).min(region.width() * 0.05));
            let between = (inner.width() / gap).ceil().max(f64::from(wanted) - 1.0);
            self.spread(inner, between, at);
        } else if counting(at) < enough {
            let inner = region.wider(-region.width() * 0.08);
            self.spread(inner, f64::from(wanted) - 1.0, at);
        }
        let part = self.rules.vocabulary.part(self.part);
        let parts = part.iter().flat_map(|part| &part.zones);
        let ends = |zone: ZoneId| match parts.clone().nth(zone.index()).map(|zone| &zone.kind) {
            Some(ZoneKind::Between(low, high)) => Some((low.to_f64(), high.to_f64())),
            Some(
                ZoneKind::WithinOfEdge(_) | ZoneKind::WithinOf { .. } | ZoneKind::Along { .. },
            )
            | None => None,
        };
        // Beside a zone that is left out there is something to look at on both sides.
        for (low, high) in rule.outside.iter().filter_map(|(zone, _)| ends(*zone)) {
            for (one, other) in [(region.low, low), (high, region.high)] {
                if one < other && counting(at) < enough.max(2) {
                    at.push(self.round((one + other) / 2.0));
                }
            }
        }
        // Each row of a table by zone is looked at.
        if let Limits::ByZone { rows, .. } = &rule.limits {
            for (low, high) in rows.iter().filter_map(|(zone, _)| ends((*zone)?)) {
                if !at.iter().any(|at| *at > low && *at < high) {
                    at.push(self.round((low + high) / 2.0));
                }
            }
            while counting(at) < enough && at.len() < 40 {
                self.spread(region.wider(-region.width() * 0.08), at.len() as f64, at);
            }
        }
    }

    /// Adds places at equal distances, both ends among them.
    fn spread(&self, region: Interval, between: f64, at: &mut Vec<f64>) {
        if between < 1.0 {
            at.push(self.round(region.low + region.width() / 2.0));
            return;
        }
        let mut number = 0.0;
        while number <= between {
            let place = self.round(region.low + region.width() * number / between);
            if !at.contains(&place) {
                at.push(place);
            }
            number += 1.0;
        }
    }

    /// A round distance that a person would mark on the item.
    fn round(&self, at: f64) -> f64 {
        let factor = self.unit.factor().to_f64();
        let step = if self.unit == Unit::IN {
            factor / 2.0
        } else {
            10.0
        };
        let round = (at / step).trunc() * step;
        let part = self.rules.vocabulary.part(self.part);
        let on_border = part.iter().flat_map(|part| &part.zones).any(|zone| {
            matches!(&zone.kind, ZoneKind::Between(low, high)
                if (low.to_f64() - round).abs() < 1e-6 || (high.to_f64() - round).abs() < 1e-6)
        });
        if on_border {
            round - step / 2.0 * round.signum()
        } else {
            round
        }
    }
}
