//! Boats from filled forms.

use std::collections::BTreeMap;

use crate::geometry::{area_of_corners, area_of_widths};
use crate::prove::{
    Boat, BoatItem, Common, CommonKind, MeasureIx, Side, Sort, Terms, TraitIx, Value, Values, What,
};
use crate::quantity::{Date, Dimension, Exact};
use crate::record::{
    Content, EdgeAcross, EdgeReadings, Found, Item, OutlineShape, Record, TraitValue, Where,
};
use crate::rules::Stage;
use crate::uncertainty::Uncertain;

pub fn any() -> Sort {
    Sort::Number {
        low: None,
        high: None,
    }
}

fn index<T>(at: usize, of: impl Fn(u16) -> T) -> T {
    of(u16::try_from(at).unwrap())
}

/// A place of a record as one that is known by.
type Key = (Option<Exact>, Option<String>, Option<Exact>);

fn key(place: &Where) -> Key {
    let face = place.face.map(|face| format!("{face:?}"));
    (place.at.clone(), face, place.from_edge.clone())
}

/// The boat that a record of the new version speaks of. Structured measures with stations are left out.
pub fn boat_of(
    record: &Record,
    common: &Common<'_>,
    terms: &mut Terms,
    stage: Stage,
    day: Date,
) -> Boat {
    let mut items = Vec::new();
    for item in &record.items {
        items.push(item_of(item, common, terms));
    }
    Boat {
        stage,
        level: (!common.levels.is_empty()).then_some(0),
        day,
        unlisted: !record.unlisted.is_empty(),
        items,
    }
}

fn item_of(item: &Item, common: &Common<'_>, terms: &mut Terms) -> BoatItem {
    let side = Side::New;
    let part = common.part_of(side, item.part).unwrap();
    let known = common.part(part).unwrap();
    let mut values = Values::new();
    for (at, one) in known.traits.iter().enumerate() {
        let slot = index(at, TraitIx);
        let Some(claim) = one
            .at
            .at(side)
            .and_then(|id| item.traits[id.index()].as_ref())
        else {
            continue;
        };
        let choices = one.kind.choices();
        let place = |id: Option<crate::vocabulary::ChoiceId>| {
            let found = choices
                .iter()
                .position(|one| id.is_some() && one.at.at(side) == id);
            found.unwrap_or(choices.len())
        };
        match (&claim.value, &one.kind) {
            (TraitValue::Choice(id), CommonKind::Choice(_)) => {
                let sort = Sort::Choice(u16::try_from(choices.len() + 1).unwrap());
                let term = terms.intern(part, What::Trait(slot), sort, false);
                values.insert(term, Value::Choice(u16::try_from(place(*id)).unwrap()));
            }
            (TraitValue::AnyOf(ids), _) => {
                for at in 0..=choices.len() {
                    let what = index(at, |at| What::Listed(slot, at));
                    let term = terms.intern(part, what, Sort::Truth, false);
                    let named = ids.iter().any(|id| place(*id) == at);
                    values.insert(term, Value::Truth(named));
                }
            }
            (TraitValue::Date(claim), _) => {
                let day = claim.date.as_day().unwrap_or(Date::constant(2011, 6, 1));
                let term = terms.intern(part, What::Trait(slot), Sort::Day, false);
                values.insert(term, Value::Day(day));
            }
            (TraitValue::Flag(yes), _) => {
                let term = terms.intern(part, What::Trait(slot), Sort::Truth, false);
                values.insert(term, Value::Truth(*yes));
            }
            (TraitValue::Choice(_), _) => unreachable!(),
        }
    }
    let mut places: BTreeMap<Key, Values> = BTreeMap::new();
    let mut order: Vec<Key> = Vec::new();
    for (at, one) in known.measures.iter().enumerate() {
        let slot = index(at, MeasureIx);
        let Some(measured) = one
            .at
            .at(side)
            .and_then(|id| item.measures[id.index()].as_ref())
        else {
            continue;
        };
        let mut put = |what: What, value: Value, place: Option<&Where>, terms: &mut Terms| {
            let sort = match &value {
                Value::Truth(_) => Sort::Truth,
                _ => any(),
            };
            let term = terms.intern(part, what, sort, one.placed);
            match place.filter(|_| one.placed) {
                None => {
                    values.insert(term, value);
                }
                Some(place) => {
                    let key = key(place);
                    if !order.contains(&key) {
                        order.push(key.clone());
                    }
                    places.entry(key).or_default().insert(term, value);
                }
            }
        };
        let series = match &measured.found {
            Found::Answer(answer) => {
                put(What::Measure(slot), Value::Truth(answer.yes), None, terms);
                continue;
            }
            Found::First(first) => {
                let value = Value::Number(first.reading.value.clone());
                put(What::Measure(slot), value, None, terms);
                continue;
            }
            Found::Series(series) => &series[0],
        };
        let number = |value: &Exact| Value::Number(value.clone());
        match &series.content {
            Content::Places(list) => {
                for place in list {
                    let value = number(&place.readings[0].value);
                    put(What::Measure(slot), value, Some(&place.place), terms);
                }
            }
            Content::Sections(list) => {
                for place in list {
                    if let EdgeAcross::Bevels { port, starboard } = &place.edge {
                        let (port, starboard) = (number(&port.value), number(&starboard.value));
                        put(What::PortBevel(slot), port, Some(&place.place), terms);
                        put(
                            What::StarboardBevel(slot),
                            starboard,
                            Some(&place.place),
                            terms,
                        );
                    }
                }
            }
            Content::Profile(profile) => {
                if let EdgeReadings::Shims(shims) = &profile.edge {
                    for shim in shims {
                        let gap = shim.gap.value.clone();
                        let forward = number(&shim.forward.value);
                        put(What::Forward(slot, gap.clone()), forward, None, terms);
                        put(What::Aft(slot, gap), number(&shim.aft.value), None, terms);
                    }
                }
            }
            Content::Line(line) => {
                let first = &line.port.as_ref().unwrap()[line.stations.len() / 2].value;
                put(What::Straightness(slot), number(&first.abs()), None, terms);
            }
            Content::LoadTest(test) => {
                for step in test.steps.iter().filter(|step| !step.load.value.is_zero()) {
                    let force = step.load.unit.dimension() == Dimension::FORCE;
                    let what = What::Sinks(slot, step.load.value.clone(), force);
                    put(what, number(&step.sinks.value), None, terms);
                }
            }
            Content::Outline(outline) => {
                let exact = |one: &Exact| Uncertain::exact(one.clone());
                let area = match &outline.shape {
                    OutlineShape::Widths { spacing, widths } => {
                        let widths: Vec<_> = widths.iter().map(|one| exact(&one.value)).collect();
                        area_of_widths(&exact(&spacing.value), &widths)
                    }
                    OutlineShape::Corners(corners) => {
                        let corners: Vec<_> = corners
                            .iter()
                            .map(|[x, y]| [exact(&x.value), exact(&y.value)])
                            .collect();
                        area_of_corners(&corners)
                    }
                };
                let area = area.unwrap().value.as_exact().unwrap().clone();
                put(What::Area(slot), Value::Number(area), None, terms);
            }
        }
    }
    let at_term = terms.intern(part, What::PlaceAt, any(), true);
    let edge_term = terms.intern(part, What::PlaceFromEdge, any(), true);
    let places = order.into_iter().map(|key| {
        let mut values = places.remove(&key).unwrap();
        if let Some(at) = key.0 {
            values.insert(at_term, Value::Number(at));
        }
        if let Some(edge) = key.2 {
            values.insert(edge_term, Value::Number(edge));
        }
        values
    });
    let places = places.collect();
    let roles = item.members.as_ref().map_or(Vec::new(), |members| {
        members.roles.iter().map(|one| one.unwrap().item).collect()
    });
    BoatItem {
        part,
        holding: item.holding.and_then(|id| common.holding_of(side, id)),
        roles,
        values,
        places,
    }
}
