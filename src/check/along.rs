//! Zones along the edge: from a position of the item, over the contact with the ice, to where the edge has risen
//! to a height over the straight edge.

use super::finding::{Reason, Settle};
use super::judge::Judge;
use super::value::{Missing, Num, Val, Why};
use super::zones::Lies;
use crate::quantity::{Exact, Unit, show};
use crate::record::{Item, Where};
use crate::rules::{Limits, Rule, Stage};
use crate::uncertainty::Bound;
use crate::vocabulary::{MeasureId, Name, Part, ZoneId, ZoneKind};

/// The three things that a zone along the edge is told by.
#[derive(Clone, Copy)]
pub(super) struct Along<'v> {
    pub profile: &'v Name,
    pub from: &'v Name,
    pub to_height: &'v Exact,
}

/// The zones that a rule asks for, each once or more.
fn zones_of(rule: &Rule) -> impl Iterator<Item = ZoneId> + '_ {
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

impl<'r> Judge<'r> {
    /// How a place lies to a zone along the edge; `None` where that is not said, or where the place is nearer to
    /// the end of the zone than the end is certain.
    pub(super) fn lies_along(
        &mut self,
        along: Along<'r>,
        part: &'r Part,
        at: usize,
        place: &Where,
    ) -> Option<Lies> {
        let position = place.at.as_ref()?;
        let from = self.told_from(part, along.from, at).ok()?;
        if *position < from {
            return Some(Lies::Outside);
        }
        let end = self.end_of(along, part, at).ok()?;
        let reach = end.value.value.as_exact()?;
        let way = reach - position;
        let expanded = end.expanded(self.eval.coverage)?.U;
        let sure = way.abs() >= Exact::from_f64_shortest(expanded)?;
        let inside = || {
            if *position == from {
                Lies::Border
            } else {
                Lies::Inside
            }
        };
        match (way.signum(), end.value.bound) {
            (_, Some(Bound::Neither)) => None,
            // The end itself belongs to the zone, wherever it lies.
            (0, None | Some(Bound::AtLeast)) if sure => Some(match end.value.bound {
                None => Lies::Border,
                Some(_) => inside(),
            }),
            (1, None | Some(Bound::AtLeast)) if sure => Some(inside()),
            (-1, None | Some(Bound::AtMost)) if sure => Some(Lies::Outside),
            _ => None,
        }
    }

    /// Where a zone along the edge ends toward the toe.
    fn end_of(&mut self, along: Along<'r>, part: &'r Part, at: usize) -> Result<Num, Why> {
        let slot = part.measure_named(&along.profile.text);
        let slot = slot.ok_or(super::arithmetic::nothing(Reason::NotMeasured))?;
        let profile = match self.eval.measure(at, slot) {
            Val::Unknown(why) => return Err(why),
            profile => profile,
        };
        match self.eval.risen_to(profile, along.to_height) {
            Some(end) => fit(end),
            None => Err(self.to_measure(at, slot)),
        }
    }

    fn to_measure(&self, at: usize, slot: MeasureId) -> Why {
        let item = self.record.items.get(at);
        Why {
            reason: Reason::NotMeasured,
            missing: item.map_or(Missing::Nothing, |item| Missing::Measure(item.part, slot)),
            span: None,
        }
    }

    /// The position that a zone along the edge begins at.
    fn told_from(&mut self, part: &Part, of: &Name, at: usize) -> Result<Exact, Why> {
        let value = match (part.measure_named(&of.text), part.derived_named(&of.text)) {
            (Some(slot), _) => self.eval.measure(at, slot),
            (None, Some(slot)) => self.eval.derived_of(at, slot),
            (None, None) => return Err(super::arithmetic::nothing(Reason::NotMeasured)),
        };
        match value {
            Val::Number(num) => {
                let num = fit((*num).clone())?;
                let value = num.value.value.as_exact().cloned();
                value.ok_or(super::arithmetic::nothing(Reason::NotMeasured))
            }
            Val::Unknown(why) => Err(why),
            _ => Err(super::arithmetic::nothing(Reason::NotMeasured)),
        }
    }

    fn along_of(&self, zone: ZoneId, at: usize) -> Option<(&'r Part, Along<'r>)> {
        let item = self.record.items.get(at)?;
        let part = self.rules.vocabulary.part(item.part)?;
        along(&part.zones.get(zone.index())?.kind).map(|along| (part, along))
    }

    /// Whether a rule asks for a zone along the edge.
    pub(super) fn goes_along(&self, rule: &Rule, item: &Item) -> bool {
        let part = self.rules.vocabulary.part(item.part);
        let kind = |zone: ZoneId| part?.zones.get(zone.index()).map(|one| &one.kind);
        zones_of(rule)
            .filter_map(kind)
            .any(|kind| along(kind).is_some())
    }

    /// Why it can't be said where a zone of a rule begins or ends on an item, with what would settle it: nothing
    /// of that is measured, or nothing can rest on it.
    pub(super) fn untold(&mut self, rule: &'r Rule, at: usize) -> Option<(Reason, Option<Settle>)> {
        for zone in zones_of(rule) {
            let Some((part, along)) = self.along_of(zone, at) else {
                continue;
            };
            let begins = self.told_from(part, along.from, at).map(drop);
            let ends = begins.and_then(|()| self.end_of(along, part, at).map(drop));
            if let Err(why) = ends {
                return Some((why.reason, self.settle_of(&why)));
            }
        }
        None
    }

    /// Tells where the zones along the edge end on an item, for a report; and their profiles as measures that the
    /// rule asks for.
    pub(super) fn ends_told(
        &mut self,
        rule: &'r Rule,
        at: usize,
        asked: &mut Vec<(usize, MeasureId)>,
    ) -> Vec<String> {
        let mut said = Vec::new();
        for zone in zones_of(rule) {
            let Some((part, along)) = self.along_of(zone, at) else {
                continue;
            };
            if let Some(slot) = part.measure_named(&along.profile.text)
                && !asked.contains(&(at, slot))
            {
                asked.push((at, slot));
            }
            let Ok(end) = self.end_of(along, part, at) else {
                continue;
            };
            let name = part
                .zones
                .get(zone.index())
                .map_or("", |one| &one.name.text);
            let unit = end.unit.unwrap_or(Unit::MM);
            let length = |value: f64| {
                let exact = Exact::from_f64_shortest(value).unwrap_or(Exact::ZERO);
                show::with_unit(&show::number(&exact, unit, Some(1)).0, unit)
            };
            let how = match end.value.bound {
                None => "ends at",
                Some(Bound::AtLeast) => "reaches at least to",
                Some(Bound::AtMost) => "ends at the latest at",
                Some(Bound::Neither) => continue,
            };
            let doubt = end.expanded(self.eval.coverage).map(|known| known.U);
            let doubt = match doubt {
                Some(u) if u > 0.0 => format!(", U {}", length(u)),
                Some(_) => String::new(),
                None => ", U unknown".to_owned(),
            };
            let words = format!(
                "zone {}: {how} {}{doubt}",
                name.replace('_', " "),
                length(end.value.value.to_f64())
            );
            if !said.contains(&words) {
                said.push(words);
            }
        }
        said
    }
}

/// The zone as one along the edge, if it is one.
pub(super) fn along(kind: &ZoneKind) -> Option<Along<'_>> {
    match kind {
        ZoneKind::Along {
            profile,
            from,
            to_height,
        } => Some(Along {
            profile,
            from,
            to_height,
        }),
        ZoneKind::WithinOfEdge(_) | ZoneKind::WithinOf { .. } | ZoneKind::Between(..) => None,
    }
}

/// A number that something can rest on at home already.
fn fit(num: Num) -> Result<Num, Why> {
    match num.evidence.reason(Stage::SelfCheck) {
        None => Ok(num),
        Some(reason) => Err(Why {
            reason,
            missing: Missing::Evidence(num.evidence),
            span: Some(num.span),
        }),
    }
}
