//! Which rules of either version ask for places on which items, and how a place lies to their zones.

use super::super::boat::{Boat, Value};
use super::super::common::{Common, MeasureIx, PartIx, Side};
use super::super::term::{Poly, Terms, What};
use super::places::Spot;
use super::worth::{Beside, Look};
use crate::expression::{Function, Node, Op};
use crate::quantity::{Exact, Ties};
use crate::rules::{Judged, Limits, Rule, Stage, rows};
use crate::vocabulary::{MeasureKind, Name, ZoneId, ZoneKind};

/// A rule of a version that asks for places.
pub(super) struct Demand<'a> {
    pub side: Side,
    pub rule: &'a Rule,
    /// The item under judgement.
    pub judged: usize,
    /// The item that the places are on.
    pub target: usize,
    /// What is read at each place.
    pub measures: Vec<MeasureIx>,
    /// Whether the rule is known to apply.
    pub sure: bool,
    /// Whether the value is made of all places, whatever their zones.
    extremes: bool,
}

impl Demand<'_> {
    /// Whether nothing is asked where every place lies in a zone that is left out.
    pub fn may_leave_out(&self, _: Look<'_>) -> bool {
        self.rule.places.is_none() && self.rule.zone.is_none() && !self.extremes
    }
}

/// All demands on a boat.
pub(super) fn demands<'a>(common: &'a Common<'a>, boat: &Boat, terms: &Terms) -> Vec<Demand<'a>> {
    let mut found = Vec::new();
    let look = Look {
        boat,
        common,
        terms,
        beside: &Beside::new(),
    };
    for side in super::places::SIDES {
        for rule in &common.rules(side).rules {
            let event = look.boat.stage == Stage::EventInspection;
            let no_event = rule.names_event && look.boat.level.is_none() && !event;
            if !rule.checked_at.at(look.boat.stage) || no_event {
                continue;
            }
            let extremes = rule.judged == Judged::Unplaced && rule.places.is_some();
            if !rule.value.yields.placed && !extremes {
                continue;
            }
            let part = look.common.part_of(side, rule.applies_to);
            for (judged, item) in look.boat.items.iter().enumerate() {
                if Some(item.part) != part {
                    continue;
                }
                let applies = match &rule.when {
                    Some(when) => look.condition(side, &when.root, judged),
                    None => Some(true),
                };
                if applies == Some(false) {
                    continue;
                }
                let mut measures = Vec::new();
                look.placed(side, &rule.value.root, judged, !extremes, &mut measures);
                let mut targets: Vec<usize> = measures.iter().map(|(item, _)| *item).collect();
                targets.sort_unstable();
                targets.dedup();
                for target in targets {
                    let own = measures.iter().filter(|(item, _)| *item == target);
                    found.push(Demand {
                        side,
                        rule,
                        judged,
                        target,
                        measures: own.map(|(_, measure)| *measure).collect(),
                        sure: applies == Some(true) && rule.instead.is_empty(),
                        extremes,
                    });
                }
            }
        }
    }
    found
}

/// How a place lies to a zone.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Lies {
    Inside,
    Border,
    Outside,
}

impl Lies {
    fn of(order: std::cmp::Ordering) -> Lies {
        match order {
            std::cmp::Ordering::Less => Lies::Inside,
            std::cmp::Ordering::Equal => Lies::Border,
            std::cmp::Ordering::Greater => Lies::Outside,
        }
    }
}

impl<'a> Look<'a> {
    /// The measures taken at places that an expression rests on, each with the item that it is on. Of what is made of
    /// extremes only these count.
    fn placed(
        &self,
        side: Side,
        node: &Node,
        own: usize,
        counts: bool,
        found: &mut Vec<(usize, MeasureIx)>,
    ) {
        match &node.op {
            Op::Measure(scope, id) if counts => {
                let Some(item) = self.scoped(side, own, *scope) else {
                    return;
                };
                let one = self.boat.items.get(item);
                let measure = one.and_then(|one| {
                    let measure = self.common.measure_of(side, one.part, *id)?;
                    let known = self.common.part(one.part)?.measures.get(measure.index())?;
                    known.placed.then_some((item, measure))
                });
                if let Some(measure) = measure
                    && !found.contains(&measure)
                {
                    found.push(measure);
                }
            }
            Op::Derived(scope, id) => {
                let item = self.scoped(side, own, *scope);
                let derived = item.and_then(|item| {
                    let part = self.part_of(side, self.boat.items.get(item)?.part)?;
                    Some((item, self.common.rules(side).derived_value(part, *id)?))
                });
                if let Some((item, derived)) = derived {
                    self.placed(side, &derived.root, item, counts, found);
                }
            }
            // Inside, bare names are those of other items.
            Op::Count { .. } | Op::Sum { .. } => {}
            Op::Call(Function::Lowest | Function::Highest, list) => {
                for inner in list {
                    self.placed(side, inner, own, true, found);
                }
            }
            _ => {
                for child in node.children() {
                    self.placed(side, child, own, counts, found);
                }
            }
        }
    }

    /// The placed measures of an item in a polynomial.
    pub fn measures_in(&self, item: usize, poly: &Poly) -> Vec<MeasureIx> {
        let mut found = Vec::new();
        for var in poly.vars() {
            let term = self.terms.get(var.term).filter(|term| term.placed);
            let of = self.item(item, var.whose) == Some(item);
            let measure = term.filter(|_| of).and_then(|term| match &term.what {
                What::Measure(ix) | What::PortBevel(ix) | What::StarboardBevel(ix) => Some(*ix),
                _ => None,
            });
            if let Some(measure) = measure
                && !found.contains(&measure)
            {
                found.push(measure);
            }
        }
        found
    }

    /// Numbers that rules of either version name as limits of what a measure is in, and between them: values to try.
    pub fn named(&self, part: PartIx, measure: MeasureIx) -> Vec<Exact> {
        let mut found: Vec<Exact> = Vec::new();
        for side in super::places::SIDES {
            for rule in &self.common.rules(side).rules {
                if self.common.part_of(side, rule.applies_to) != Some(part) {
                    continue;
                }
                let mut about = false;
                let own = |id| self.common.measure_of(side, part, id) == Some(measure);
                let vocabulary = &self.common.rules(side).vocabulary;
                let mut visit =
                    |_, node: &Node| about |= matches!(node.op, Op::Measure(_, id) if own(id));
                rule.value
                    .root
                    .visit(rule.applies_to, vocabulary, &mut visit);
                if !about && !matches!(rule.value.root.op, Op::Derived(..)) {
                    continue;
                }
                let bounds = rows(&rule.limits, &rule.instead).flat_map(|row| row.demand.bounds());
                found.extend(bounds.filter_map(|bound| bound.limit.root.constant()));
            }
        }
        found.sort();
        found.dedup();
        let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
        let between: Vec<Exact> = found
            .windows(2)
            .filter_map(|pair| match pair {
                [a, b] => Some(a.add(b).mul(&half)),
                _ => None,
            })
            .collect();
        let beyond = [
            found.first().map(|one| one.mul(&half)),
            found.last().map(|one| one.add(one)),
        ];
        found.extend(between);
        found.extend(beyond.into_iter().flatten());
        found
    }

    fn zone(&self, side: Side, item: usize, zone: ZoneId) -> Option<&'a ZoneKind> {
        let part = self.part_of(side, self.boat.items.get(item)?.part)?;
        let part = self.common.rules(side).vocabulary.part(part)?;
        part.zones.get(zone.index()).map(|zone| &zone.kind)
    }

    /// A position along an item, by its name in a version.
    fn position(&self, side: Side, item: usize, of: &Name) -> Option<Exact> {
        let one = self.boat.items.get(item)?.part;
        let id = self.part_of(side, one)?;
        let part = self.common.rules(side).vocabulary.part(id)?;
        if let Some(id) = part.measure_named(&of.text) {
            return self.measure(item, self.common.measure_of(side, one, id)?);
        }
        let derived = part.derived_named(&of.text)?;
        let derived = self.common.rules(side).derived_value(id, derived)?;
        self.expression(side, &derived.root, item)
    }

    /// Where a zone along the edge begins and ends.
    fn along(
        &self,
        side: Side,
        item: usize,
        (profile, from, height): (&Name, &Name, &Exact),
    ) -> Option<(Exact, Exact)> {
        let part = self.boat.items.get(item)?.part;
        let vocabulary = &self.common.rules(side).vocabulary;
        let id = vocabulary
            .part(self.part_of(side, part)?)?
            .measure_named(&profile.text)?;
        let measure = self.common.measure_of(side, part, id)?;
        let number = |what: What| match self.own(item, &what)? {
            Value::Number(number) => Some(number.clone()),
            _ => None,
        };
        let end = number(What::AlongEnd(measure, height.clone()))
            .or_else(|| number(What::Forward(measure, height.clone())))?;
        Some((self.position(side, item, from)?, end))
    }

    fn lies(&self, side: Side, item: usize, zone: ZoneId, spot: &Spot) -> Option<Lies> {
        let between = |low: &Exact, high: &Exact| {
            if spot.at < *low || spot.at > *high {
                Lies::Outside
            } else if spot.at == *low || spot.at == *high {
                Lies::Border
            } else {
                Lies::Inside
            }
        };
        Some(match self.zone(side, item, zone)? {
            ZoneKind::WithinOfEdge(distance) => Lies::of(spot.from_edge.as_ref()?.cmp(distance)),
            ZoneKind::Between(low, high) => between(low, high),
            ZoneKind::WithinOf { distance, of } => {
                let border = self.position(side, item, of)?;
                Lies::of(spot.at.sub(&border).abs().cmp(distance))
            }
            ZoneKind::Along {
                profile,
                from,
                to_height,
            } => {
                let (from, end) = self.along(side, item, (profile, from, to_height))?;
                between(&from, &end)
            }
        })
    }

    /// Positions beside that of a place at which it lies to all zones of the item as it does.
    pub fn alike(&self, item: usize, spot: &Spot) -> Vec<Exact> {
        let borders = self.borders(item);
        let wide = Exact::from_integer(40);
        let below = borders.iter().filter(|border| **border < spot.at).max();
        let above = borders.iter().filter(|border| **border > spot.at).min();
        let below = below.map_or(wide.clone(), |border| spot.at.sub(border));
        let above = above.map_or(wide, |border| border.sub(&spot.at));
        let mut found = Vec::new();
        for step in 1..=16 {
            let share = Exact::from_fraction(step, 18).unwrap_or(Exact::ZERO);
            found.push(spot.at.add(&above.mul(&share)));
            found.push(spot.at.sub(&below.mul(&share)));
        }
        let own = self.lie(item, spot);
        // Inside is no more than the border asks for.
        let inner = |lies: &Option<Lies>| match lies {
            Some(Lies::Border) => Some(Lies::Inside),
            other => *other,
        };
        let roughly: Vec<Option<Lies>> = own.iter().map(inner).collect();
        let moved = |at: &Exact| {
            self.lie(
                item,
                &Spot {
                    at: at.clone(),
                    ..spot.clone()
                },
            )
        };
        // Whole numbers first.
        let whole = found.iter().map(|at| at.round_to_integer(Ties::Even));
        let all: Vec<Exact> = whole.chain(found.iter().cloned()).collect();
        let same = all.iter().filter(|at| moved(at) == own);
        let near = all.iter().filter(|at| {
            let lies = moved(at);
            lies != own && lies.iter().map(inner).eq(roughly.iter().copied())
        });
        same.chain(near).cloned().collect()
    }

    /// How a place lies to every zone of either version.
    fn lie(&self, item: usize, spot: &Spot) -> Vec<Option<Lies>> {
        let sides = super::places::SIDES.into_iter();
        let each = sides.flat_map(|side| {
            let count = self.zones(item).filter(|(of, _)| *of == side).count();
            let count = u16::try_from(count).unwrap_or(u16::MAX);
            (0..count).map(move |zone| self.lies(side, item, ZoneId(zone), spot))
        });
        each.collect()
    }

    /// Whether a rule looks at a place.
    pub fn looks(&self, demand: &Demand<'_>, spot: &Spot) -> bool {
        if demand.extremes {
            return true;
        }
        let spot = &self.stated(demand, spot);
        let lies = |zone: ZoneId| self.lies(demand.side, demand.judged, zone, spot);
        let mut outside = demand.rule.outside.iter();
        let kept = outside.all(|(zone, _)| lies(*zone) == Some(Lies::Outside));
        let only = demand.rule.zone;
        kept && only.is_none_or(|(zone, _)| lies(zone).is_some_and(|lies| lies != Lies::Outside))
    }

    /// A place as the readings of a demand state it: a section says nothing of the edge.
    fn stated(&self, demand: &Demand<'_>, spot: &Spot) -> Spot {
        let part = self.boat.items.get(demand.target).map(|one| one.part);
        let part = part.and_then(|part| self.common.part(part));
        let section = |measure: &MeasureIx| {
            let measure = part.and_then(|part| part.measures.get(measure.index()));
            measure.is_some_and(|one| one.kind == MeasureKind::Section)
        };
        let sections = !demand.measures.is_empty() && demand.measures.iter().all(section);
        Spot {
            from_edge: spot.from_edge.clone().filter(|_| !sections),
            ..spot.clone()
        }
    }

    /// The rows by zone of which each has to be met by a place: those with bounds.
    pub fn rows_to_reach(&self, demand: &Demand<'_>) -> Vec<Option<ZoneId>> {
        match &demand.rule.limits {
            Limits::ByZone { rows, .. } => {
                let asked = rows
                    .iter()
                    .filter(|(_, row)| !row.demand.bounds().is_empty());
                asked.map(|(zone, _)| *zone).collect()
            }
            Limits::Direct(_)
            | Limits::ByTrait { .. }
            | Limits::ByTraits { .. }
            | Limits::ByLevel { .. } => Vec::new(),
        }
    }

    /// Whether a place meets a row by zone; none is that of elsewhere.
    pub fn meets_row(&self, demand: &Demand<'_>, row: Option<ZoneId>, spot: &Spot) -> Option<bool> {
        let spot = &self.stated(demand, spot);
        let lies = |zone: ZoneId| self.lies(demand.side, demand.judged, zone, spot);
        match row {
            Some(zone) => Some(lies(zone)? != Lies::Outside),
            None => {
                let Limits::ByZone { rows, .. } = &demand.rule.limits else {
                    return None;
                };
                let mut elsewhere = true;
                for zone in rows.iter().filter_map(|(zone, _)| *zone) {
                    elsewhere &= lies(zone)? != Lies::Inside;
                }
                Some(elsewhere)
            }
        }
    }

    fn zones(&self, item: usize) -> impl Iterator<Item = (Side, &'a ZoneKind)> + use<'a> {
        let look = *self;
        super::places::SIDES.into_iter().flat_map(move |side| {
            let part = look
                .boat
                .items
                .get(item)
                .and_then(|one| look.part_of(side, one.part));
            let part = part.and_then(|part| look.common.rules(side).vocabulary.part(part));
            let zones = part.map_or(&[][..], |part| part.zones.as_slice());
            zones.iter().map(move |zone| (side, &zone.kind))
        })
    }

    /// Distances from the edge at which zones of an item end.
    pub fn edge_borders(&self, item: usize) -> Vec<Exact> {
        let distance = |(_, kind): (Side, &ZoneKind)| match kind {
            ZoneKind::WithinOfEdge(distance) => Some(distance.clone()),
            ZoneKind::WithinOf { .. } | ZoneKind::Between(..) | ZoneKind::Along { .. } => None,
        };
        self.zones(item).filter_map(distance).collect()
    }

    /// Positions at which zones of an item begin or end, and the ends of ranges that places are asked in.
    pub fn borders(&self, item: usize) -> Vec<Exact> {
        let mut found = Vec::new();
        for (side, kind) in self.zones(item) {
            match kind {
                ZoneKind::WithinOfEdge(_) => {}
                ZoneKind::Between(low, high) => found.extend([low.clone(), high.clone()]),
                ZoneKind::WithinOf { distance, of } => {
                    if let Some(border) = self.position(side, item, of) {
                        found.extend([border.sub(distance), border.add(distance)]);
                    }
                }
                ZoneKind::Along {
                    profile,
                    from,
                    to_height,
                } => {
                    if let Some((from, end)) = self.along(side, item, (profile, from, to_height)) {
                        found.extend([from, end]);
                    }
                }
            }
        }
        for side in super::places::SIDES {
            let part = self.boat.items.get(item).map(|one| one.part);
            for rule in &self.common.rules(side).rules {
                if self.common.part_of(side, rule.applies_to) != part {
                    continue;
                }
                let spacing = rule
                    .places
                    .as_ref()
                    .and_then(|places| places.spacing.as_ref());
                let ends = spacing.map(|spacing| [&spacing.from, &spacing.to]);
                for end in ends.into_iter().flatten() {
                    found.extend(self.expression(side, &end.root, item));
                }
            }
        }
        found
    }

    /// The most readings that a rule of either version asks at each place of a kind of part.
    pub fn repeats(&self, part: PartIx) -> u32 {
        let sides = super::places::SIDES.into_iter();
        let asked = sides.flat_map(|side| {
            let rules = self.common.rules(side).rules.iter();
            rules.filter_map(move |rule| {
                let part_of_rule = self.common.part_of(side, rule.applies_to)?;
                let own = part_of_rule == part;
                let group = self.common.part(part_of_rule)?;
                let member = group.roles.iter().any(|role| role.part == part);
                (own || member).then_some(rule.places.as_ref()?.repeats)
            })
        });
        asked.max().unwrap_or(1).max(1)
    }
}
