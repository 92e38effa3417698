//! Places for a measure that is taken at several: where the rule looks, and near enough to each other.

use super::solve::Solver;
use super::world::{Frame, Var, What, World};
use crate::expression::{Node, Op};
use crate::quantity::{Exact, Ties};
use crate::rules::Rule;
use crate::vocabulary::{ZoneId, ZoneKind};

/// Where the readings of a case are taken.
#[derive(Clone, Debug)]
pub(super) struct Stations {
    /// Distances from the pivot, base units.
    pub at: Vec<Exact>,
    /// Distance from the edge, where a zone asks for it.
    pub from_edge: Option<Exact>,
    /// Readings at each place.
    pub repeats: u32,
    /// Which of them has the value that a case aims at, where the others differ.
    pub worst: usize,
}

/// Which rows of a table by zone a place has to meet: those of its zones, borders included, and that of elsewhere
/// unless it lies inside a zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lies {
    Inside,
    Border,
    Outside,
}

/// No more intervals are tried.
const MOST: i64 = 60;

impl Solver<'_> {
    /// The world with the numbers that places rest on.
    pub fn with_ends(&self, rule: &Rule, frame: Frame, world: &World) -> Option<World> {
        let mut world = world.clone();
        let spacing = rule
            .places
            .as_ref()
            .and_then(|places| places.spacing.as_ref());
        if let Some(spacing) = spacing {
            world = self.settle(&spacing.from.root, frame, &world)?;
            world = self.settle(&spacing.to.root, frame, &world)?;
        }
        for zone in zones(rule) {
            if let Some(of) = self.border(rule, zone) {
                world = self.settle(&of, frame, &world)?;
            }
        }
        Some(world)
    }

    /// The position that a zone is measured from, as an expression.
    fn border(&self, rule: &Rule, zone: ZoneId) -> Option<Node> {
        let part = self.rules.vocabulary.part(rule.applies_to)?;
        let ZoneKind::WithinOf { of, .. } = &part.zones.get(zone.index())?.kind else {
            return None;
        };
        let own = Frame::of(rule.applies_to).own;
        let op = match (part.measure_named(&of.text), part.derived_named(&of.text)) {
            (Some(slot), _) => Op::Measure(own, slot),
            (None, Some(slot)) => Op::Derived(own, slot),
            (None, None) => return None,
        };
        Some(Node { span: of.span, op })
    }

    /// Whether a place lies in a zone.
    fn inside(
        &self,
        rule: &Rule,
        zone: ZoneId,
        world: &World,
        at: &Exact,
        from_edge: &Exact,
    ) -> Option<bool> {
        let part = self.rules.vocabulary.part(rule.applies_to)?;
        Some(match &part.zones.get(zone.index())?.kind {
            ZoneKind::WithinOfEdge(distance) => from_edge <= distance,
            ZoneKind::Between(low, high) => at >= low && at <= high,
            // No profile is made for a case.
            ZoneKind::Along { .. } => return None,
            ZoneKind::WithinOf { distance, .. } => {
                let border = self.border(rule, zone)?;
                let border = self.value(&border, Frame::of(rule.applies_to), world)?;
                at.sub(&border).abs() <= *distance
            }
        })
    }

    /// Places that are enough for a rule, in a world that has the numbers they rest on.
    pub fn stations(&self, rule: &Rule, frame: Frame, world: &World) -> Option<Stations> {
        let asked = rule.places.as_ref();
        let least = i64::from(asked.map_or(1, |places| places.at_least).max(1));
        let spacing = asked.and_then(|places| places.spacing.as_ref());
        let part = self.rules.vocabulary.part(rule.applies_to)?;
        let kind = |zone: ZoneId| part.zones.get(zone.index()).map(|zone| &zone.kind);
        let mut range = (Exact::from_integer(-100), Exact::from_integer(100));
        if let Some(spacing) = spacing {
            let from = self.value(&spacing.from.root, frame, world)?;
            let to = self.value(&spacing.to.root, frame, world)?;
            range = if from <= to { (from, to) } else { (to, from) };
        }
        if let Some((zone, _)) = rule.zone {
            match kind(zone)? {
                ZoneKind::Between(low, high) => range = (low.clone(), high.clone()),
                ZoneKind::WithinOf { distance, .. } => {
                    let border = self.border(rule, zone)?;
                    let border = self.value(&border, frame, world)?;
                    range = (border.sub(distance), border.add(distance));
                }
                ZoneKind::WithinOfEdge(_) => {}
                ZoneKind::Along { .. } => return None,
            }
        }
        // Behind and before what is left out there is something to look at.
        if rule.zone.is_none() && spacing.is_none() {
            for (zone, _) in &rule.outside {
                if let ZoneKind::Between(low, high) = kind(*zone)? {
                    let width = high.sub(low);
                    range.0 = range.0.min(low.sub(&width));
                    range.1 = range.1.max(high.add(&width));
                }
            }
        }
        let edge = zones(rule).find_map(|zone| match kind(zone) {
            Some(ZoneKind::WithinOfEdge(distance)) => Some(distance.clone()),
            Some(ZoneKind::WithinOf { .. } | ZoneKind::Between(..) | ZoneKind::Along { .. })
            | None => None,
        });
        let two = Exact::from_integer(2);
        let from_edge = edge.and_then(|edge| match rule.zone.and_then(|(zone, _)| kind(zone)) {
            Some(ZoneKind::WithinOfEdge(_)) => edge.checked_div(&two),
            _ => Some(edge.mul(&two)),
        });
        let far = from_edge.clone().unwrap_or(Exact::ZERO);
        let looked_at = |at: &Exact| {
            let out = rule.outside.iter();
            let out = out.map(|(zone, _)| self.inside(rule, *zone, world, at, &far));
            let only = rule
                .zone
                .map(|(zone, _)| self.inside(rule, zone, world, at, &far));
            out.into_iter().all(|one| one == Some(false))
                && only.is_none_or(|one| one == Some(true))
        };
        for parts in least.max(2)..=MOST {
            let step = range.1.sub(&range.0).mul(&Exact::from_fraction(1, parts)?);
            let all = (0..=parts).map(|number| {
                let at = range.0.add(&step.mul(&Exact::from_integer(number)));
                at.round_to_integer(Ties::Even)
            });
            let mut at: Vec<Exact> = all.filter(|at| looked_at(at)).collect();
            at.dedup();
            let near = spacing.is_none_or(|spacing| {
                let ends = [range.0.clone()].into_iter().chain(at.iter().cloned());
                let ends: Vec<Exact> = ends.chain([range.1.clone()]).collect();
                ends.windows(2).all(|pair| match pair {
                    [one, next] => next.sub(one) <= spacing.at_most.value,
                    _ => true,
                })
            });
            if near && i64::try_from(at.len()).is_ok_and(|count| count >= least) {
                let repeats = asked.map_or(1, |places| places.repeats).max(1);
                return Some(Stations {
                    worst: at.len() / 2,
                    at,
                    from_edge,
                    repeats,
                });
            }
        }
        None
    }

    /// Places for a table by zone: one inside each zone, one on its border, and one in none; the worst of them the
    /// first that lies so to a zone, or in none.
    pub fn stations_of_zones(
        &self,
        rule: &Rule,
        zones: &[ZoneId],
        (wanted, lies): (Option<ZoneId>, Lies),
    ) -> Option<Stations> {
        if rule.zone.is_some() || !rule.outside.is_empty() {
            return None;
        }
        let places = rule.places.as_ref();
        if places.is_some_and(|places| places.spacing.is_some()) {
            return None;
        }
        let part = self.rules.vocabulary.part(rule.applies_to)?;
        let ends = zones.iter().map(|zone| {
            let zone = part.zones.get(zone.index())?;
            match &zone.kind {
                ZoneKind::Between(low, high) => Some((low, high)),
                ZoneKind::WithinOfEdge(_) | ZoneKind::WithinOf { .. } | ZoneKind::Along { .. } => {
                    None
                }
            }
        });
        let ends: Vec<(&Exact, &Exact)> = ends.collect::<Option<_>>()?;
        let two = Exact::from_integer(2);
        let mut at: Vec<Exact> = Vec::new();
        for (low, high) in &ends {
            let middle = low.add(high).checked_div(&two)?;
            let width = high.sub(low);
            at.extend([
                low.sub(&width),
                (*low).clone(),
                middle,
                (*high).clone(),
                high.add(&width),
            ]);
        }
        let side = |(low, high): &(&Exact, &Exact), at: &Exact| {
            if at == *low || at == *high {
                Lies::Border
            } else if at > *low && at < *high {
                Lies::Inside
            } else {
                Lies::Outside
            }
        };
        at.sort();
        at.dedup();
        let most = at.last().cloned()?;
        let least = places.map_or(1, |places| places.at_least).max(1);
        // More places are added where none of the zones reaches.
        for more in 1..=least {
            at.push(most.add(&Exact::from_integer(i64::from(more) * 10)));
        }
        let worst = at.iter().position(|at| {
            let mut each = zones.iter().zip(&ends);
            match wanted {
                Some(wanted) => each.all(|(zone, ends)| {
                    let found = side(ends, at);
                    if *zone == wanted {
                        found == lies
                    } else {
                        found == Lies::Outside
                    }
                }),
                None => each.all(|(_, ends)| side(ends, at) == Lies::Outside),
            }
        })?;
        Some(Stations {
            at,
            from_edge: None,
            repeats: places.map_or(1, |places| places.repeats).max(1),
            worst,
        })
    }

    /// Whether a number is taken at places.
    pub fn is_placed(&self, var: &Var) -> bool {
        let placeable = match var.what {
            What::Value | What::Port | What::Starboard => true,
            What::Forward(_)
            | What::Aft(_)
            | What::Bend
            | What::Least
            | What::Greatest
            | What::Sinks(..)
            | What::Stiffness
            | What::Area => false,
        };
        placeable && self.measure(var).is_some_and(|measure| measure.placed)
    }
}

fn zones(rule: &Rule) -> impl Iterator<Item = ZoneId> + '_ {
    rule.outside.iter().chain(&rule.zone).map(|(zone, _)| *zone)
}
