//! Zones: whether a place lies in one, and limits that go by them.

use super::decide::{Decided, Met, found_limit};
use super::draft::{Draft, Drafts};
use super::finding::{ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::Judge;
use super::places::{Looked, LookedAt, counted, found_place, ratio};
use super::plan::PlannedRule;
use super::value::{PlaceNum, Val, Why};
use crate::quantity::{Exact, Number};
use crate::record::{Item, Where};
use crate::rules::{Bound, ByStage, LimitRow, Rule, Stage};
use crate::vocabulary::{Name, Part, ZoneId, ZoneKind};
use smallvec::SmallVec;

/// A row of a table by zone; the one without a zone is `elsewhere`.
pub(super) type ZoneRow = (Option<ZoneId>, LimitRow);

/// How a place lies to a zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lies {
    /// Inside, and not on the border.
    Inside,
    /// On the border, which belongs to the zone.
    Border,
    /// Outside.
    Outside,
}

impl Lies {
    /// At a distance from the middle of a zone that reaches so far.
    fn within(distance: &Exact, reach: &Exact) -> Lies {
        match distance.cmp(reach) {
            std::cmp::Ordering::Less => Lies::Inside,
            std::cmp::Ordering::Equal => Lies::Border,
            std::cmp::Ordering::Greater => Lies::Outside,
        }
    }

    /// Between two closed borders.
    pub(super) fn between(at: &Exact, low: &Exact, high: &Exact) -> Lies {
        if at < low || at > high {
            Lies::Outside
        } else if at == low || at == high {
            Lies::Border
        } else {
            Lies::Inside
        }
    }
}

/// A row on one side: what it comes to on the item, or why that can't be said; `None` without a bound there.
type SideOfRow<'r> = Option<(&'r Bound, Result<Met<'r>, Why>)>;

/// A place against the rows that it meets, by the worst of them, and which that is.
type AgainstRows = Option<(usize, Decided)>;

impl<'r> Judge<'r> {
    /// A placed value against rows by zone: a place meets the row of every zone that it lies in, and has to
    /// meet all of them. A finding for each side.
    pub(super) fn zones(
        &mut self,
        planned: &'r PlannedRule,
        (rule, at, item): (&'r Rule, usize, &'r Item),
        rows: &'r [ZoneRow],
        drafts: &mut Drafts,
    ) {
        let value = self.eval.value(&rule.value.root, at);
        let places = match &value {
            Val::Places(places) => std::rc::Rc::clone(places),
            Val::Unknown(why) => {
                let mut draft = self.open(planned, rule, at, *why);
                draft.limit_at = rows.first().map_or(rule.id.span, |(_, row)| row.span);
                drafts.push(draft);
                return;
            }
            // The loader lets no other kind of value go by zones.
            _ => {
                let why = super::arithmetic::nothing(Reason::NotMeasured);
                drafts.push(self.open(planned, rule, at, why));
                return;
            }
        };
        let meets: Vec<Vec<Option<bool>>> = places
            .iter()
            .map(|place| self.rows_met(rows, at, item, place.place))
            .collect();
        for lower in [true, false] {
            let mut side: Vec<SideOfRow<'r>> = Vec::with_capacity(rows.len());
            for (number, (_, row)) in rows.iter().enumerate() {
                side.push(self.side_of_row(planned, (number, row), (lower, at), &value));
            }
            if let Some(first) = side.iter().flatten().map(|(bound, _)| *bound).next() {
                let mut draft =
                    self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), first.span);
                draft.side = Some(first.kind);
                drafts.push(self.zone_side(
                    (rule, at, item),
                    (rows, &side),
                    (&places, &meets),
                    draft,
                ));
            }
        }
    }

    /// The bound of a row on a side.
    fn side_of_row(
        &mut self,
        planned: &'r PlannedRule,
        (number, row): (usize, &'r LimitRow),
        (lower, at): (bool, usize),
        value: &Val<'r>,
    ) -> SideOfRow<'r> {
        let mut bounds = row.demand.bounds().iter().enumerate();
        let (position, bound) = bounds.find(|(_, bound)| bound.kind.is_lower() == lower)?;
        let constants = planned.constants.get(number);
        let constant = constants.and_then(|list| list.get(position)?.as_ref());
        let constant = constant.map(|one| &one.number);
        Some((bound, self.met(at, value, (bound, constant))))
    }

    /// Which rows a place meets; `None` where that is not said.
    fn rows_met(
        &mut self,
        rows: &[ZoneRow],
        at: usize,
        item: &Item,
        place: &Where,
    ) -> Vec<Option<bool>> {
        let lies: Vec<Option<Lies>> = rows
            .iter()
            .map(|(zone, _)| zone.and_then(|zone| self.lies(zone, at, item, place)))
            .collect();
        // Elsewhere is closed too: a place on the border of a zone meets both rows.
        let zones = || {
            rows.iter()
                .zip(&lies)
                .filter(|((zone, _), _)| zone.is_some())
        };
        let elsewhere = if zones().any(|(_, lies)| *lies == Some(Lies::Inside)) {
            Some(false)
        } else if zones().any(|(_, lies)| lies.is_none()) {
            None
        } else {
            Some(true)
        };
        let met = rows.iter().zip(&lies).map(|((zone, _), lies)| match zone {
            Some(_) => lies.map(|lies| lies != Lies::Outside),
            None => elsewhere,
        });
        met.collect()
    }

    /// One side of all rows.
    fn zone_side(
        &mut self,
        (rule, at, item): (&'r Rule, usize, &'r Item),
        (rows, side): (&'r [ZoneRow], &[SideOfRow<'r>]),
        (places, meets): (&[PlaceNum<'r>], &[Vec<Option<bool>>]),
        mut draft: Draft,
    ) -> Draft {
        let mut looked: SmallVec<[LookedAt; 8]> = SmallVec::new();
        let mut shown_rows: SmallVec<[usize; 8]> = SmallVec::new();
        let mut counting: SmallVec<[usize; 8]> = SmallVec::new();
        let mut out: SmallVec<[usize; 8]> = SmallVec::new();
        let mut reached = vec![false; rows.len()];
        for (number, (place, meets)) in places.iter().zip(meets).enumerate() {
            let mut add = |looked_at: Looked, (row, decided): (usize, Decided)| {
                looked.push((number, looked_at, decided));
                shown_rows.push(row);
            };
            let sure = self.against(place, side, meets, Some(true));
            let unsure = self.against(place, side, meets, None);
            match self.looked(rule, at, item, place.place) {
                Looked::Out => out.push(number),
                Looked::Unstated => {
                    let both = [sure, unsure].into_iter().flatten();
                    both.for_each(|one| add(Looked::Unstated, one));
                }
                Looked::In => {
                    if meets.contains(&Some(true)) {
                        counting.push(number);
                        for (reached, meets) in reached.iter_mut().zip(meets) {
                            *reached |= *meets == Some(true);
                        }
                    } else if !meets.contains(&None) {
                        out.push(number);
                    }
                    if let Some(one) = sure {
                        add(Looked::In, one);
                    }
                    if let Some(one) = unsure {
                        add(Looked::Unstated, one);
                    }
                }
            }
        }
        // Each row is asked: one that no place meets is open, however many places there are elsewhere.
        let open = |(side, reached): (&SideOfRow<'r>, &bool)| side.is_some() && !reached;
        let unreached = side.iter().zip(&reached).position(open);
        let unstated = looked.iter().any(|(_, at, _)| *at == Looked::Unstated);
        let untold = unstated.then(|| self.untold(rule, at)).flatten();
        let lacking = untold
            .or_else(|| self.lacking(rule, at, &counted(places, &counting)))
            .or_else(|| unreached.map(|_| (Reason::TooFewPlaces, Some(Settle::MorePlaces(1)))));
        let unit = side
            .iter()
            .flatten()
            .find_map(|(_, met)| met.as_ref().ok())
            .map(|met| met.unit)
            .unwrap_or(crate::quantity::Unit::PLAIN);
        self.tell_places(&mut draft, rule, counting.len(), |told| {
            let out = out.iter().filter_map(|number| places.get(*number));
            told.extend(out.map(|one| found_place(one.place, unit)));
        });
        let place = |number: usize| places.get(number).map(|one| (one.place, &one.num));
        let shown = self.conclude(&mut draft, &looked, &lacking, &place, (unit, at, rule));
        let row = shown.and_then(|shown| shown_rows.get(shown).copied());
        if let Some(Some((bound, met))) = row.and_then(|row| side.get(row)) {
            draft.limit_at = bound.span;
            if let Ok(met) = met {
                draft.tell(|told| told.limit = Some(found_limit(bound, met)));
            }
        }
        let few = (Outcome::NotDecided, Some(Reason::TooFewPlaces));
        if let Some(number) = unreached
            && *draft.rulings.at(self.context.purpose) == few
        {
            let name = self.zone_name(item, rows.get(number));
            draft.tell(|told| told.notes.push(format!("no place is read {name}")));
        }
        self.keep(&mut draft, looked, lacking, unit, places);
        draft
    }

    /// A place against those rows of one side that it is said to meet, or may meet.
    fn against(
        &self,
        place: &PlaceNum<'r>,
        side: &[SideOfRow<'r>],
        meets: &[Option<bool>],
        wanted: Option<bool>,
    ) -> AgainstRows {
        let mut found: Vec<(usize, Decided)> = Vec::new();
        for (number, (row, meets)) in side.iter().zip(meets).enumerate() {
            if let (Some((_, met)), true) = (row, *meets == wanted) {
                found.push((
                    number,
                    match met {
                        Ok(met) => self.decided(&place.num, met),
                        Err(why) => undecided(why.reason),
                    },
                ));
            }
        }
        self.worst_of(found)
    }

    /// Several decisions about one thing, of which the worst counts: the one to show, with the rulings and the
    /// flags of all.
    pub(super) fn worst_of<T>(&self, list: Vec<(T, Decided)>) -> Option<(T, Decided)> {
        let worst_at = |stage: Stage| {
            let key = |(_, one): &&(T, Decided)| (one.rulings.at(stage).0, Nearness(ratio(one)));
            let at = list.iter().min_by(|a, b| key(a).cmp(&key(b)));
            at.map(|(_, one)| *one.rulings.at(stage))
        };
        let open = (Outcome::NotDecided, None);
        let rulings = ByStage::of(|stage| worst_at(stage).unwrap_or(open));
        let near = list.iter().any(|(_, one)| one.near);
        let purpose = self.context.purpose;
        let benefit = |(_, one): &(T, Decided)| one.benefit_of_doubt;
        let benefit_of_doubt =
            rulings.at(purpose).0 == Outcome::Conforms && list.iter().any(benefit);
        let key = |one: &Decided| (one.rulings.at(purpose).0, Nearness(ratio(one)));
        let (which, shown) = list
            .into_iter()
            .min_by(|(_, a), (_, b)| key(a).cmp(&key(b)))?;
        Some((
            which,
            Decided {
                rulings,
                near,
                benefit_of_doubt,
                ..shown
            },
        ))
    }

    fn zone_name(&self, item: &Item, row: Option<&ZoneRow>) -> String {
        let zones = self
            .rules
            .vocabulary
            .part(item.part)
            .map(|part| &part.zones);
        let zone = |id: ZoneId| zones.and_then(|zones| zones.get(id.index()));
        match row.and_then(|(id, _)| *id).and_then(zone) {
            Some(zone) => format!("in the zone {}", zone.name.text.replace('_', " ")),
            None => "elsewhere".to_owned(),
        }
    }

    /// Whether a place lies in a zone, borders included; `None` where that is not said.
    pub(super) fn in_zone(
        &mut self,
        zone: ZoneId,
        at: usize,
        item: &Item,
        place: &Where,
    ) -> Option<bool> {
        self.lies(zone, at, item, place)
            .map(|lies| lies != Lies::Outside)
    }

    /// How a place lies to a zone; `None` where that is not said.
    fn lies(&mut self, zone: ZoneId, at: usize, item: &Item, place: &Where) -> Option<Lies> {
        let rules = self.rules;
        let part = rules.vocabulary.part(item.part)?;
        match &part.zones.get(zone.index())?.kind {
            ZoneKind::WithinOfEdge(distance) => {
                let from_edge = place.from_edge.as_ref()?;
                Some(Lies::within(from_edge, distance))
            }
            ZoneKind::Between(low, high) => Some(Lies::between(place.at.as_ref()?, low, high)),
            ZoneKind::WithinOf { distance, of } => {
                let position = place.at.as_ref()?;
                let border = self.position(part, of, at)?;
                Some(Lies::within(&(position - &border).abs(), distance))
            }
            kind @ ZoneKind::Along { .. } => {
                let along = super::along::along(kind)?;
                self.lies_along(along, part, at, place)
            }
        }
    }

    /// A position along an item that a zone is told from.
    fn position(&mut self, part: &Part, of: &Name, at: usize) -> Option<Exact> {
        let border = match (part.measure_named(&of.text), part.derived_named(&of.text)) {
            (Some(slot), _) => self.eval.measure(at, slot),
            (None, Some(slot)) => self.eval.derived_of(at, slot),
            (None, None) => return None,
        };
        match border {
            Val::Number(num) if num.evidence.reason(Stage::SelfCheck).is_none() => {
                num.value.value.as_exact().cloned()
            }
            _ => None,
        }
    }
}

/// What can't be decided, for a reason of its own.
pub(super) fn undecided(reason: Reason) -> Decided {
    Decided {
        rulings: ByStage::of(|_| (Outcome::NotDecided, Some(reason))),
        expanded: None,
        margin: Number::ZERO,
        benefit_of_doubt: false,
        near: false,
        settle_u: None,
        decided_on: None,
    }
}

/// A size that orders.
#[derive(Clone, Copy, PartialEq)]
pub(super) struct Nearness(pub f64);

impl Eq for Nearness {}

impl PartialOrd for Nearness {
    fn partial_cmp(&self, other: &Nearness) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Nearness {
    fn cmp(&self, other: &Nearness) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}
