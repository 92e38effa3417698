//! Arithmetic over values: numbers, numbers at places, counts and dates.

use std::rc::Rc;

use super::finding::Reason;
use super::reading::same_place;
use super::value::{Evidence, Missing, Num, PlaceNum, Val, Why};
use crate::expression::{Arithmetic, Comparison};
use crate::quantity::{DateSpan, Exact};
use crate::uncertainty::Uncertain;

pub(super) fn unknown<'r>(reason: Reason) -> Val<'r> {
    Val::Unknown(nothing(reason))
}

pub(super) fn nothing(reason: Reason) -> Why {
    Why {
        reason,
        missing: Missing::Nothing,
        span: None,
    }
}

/// The event's level is not given.
pub fn level_missing() -> Why {
    Why {
        reason: Reason::ContextMissing,
        missing: Missing::Level,
        span: None,
    }
}

pub(super) fn count_number(count: i64) -> Num {
    Num::certain(Uncertain::exact(Exact::from_integer(count)))
}

/// A count as a range; a constant whole number is one too.
pub(super) fn count_range(value: &Val<'_>) -> Option<(i64, i64)> {
    match value {
        Val::Count(sure, possible) => Some((*sure, *possible)),
        Val::Number(num) if num.value.parts.is_empty() && num.value.bound.is_none() => {
            let count = num.value.value.as_exact()?.to_i64()?;
            Some((count, count))
        }
        _ => None,
    }
}

/// Whether two counts are the same; `None` where one in doubt leaves it open.
pub(super) fn same_count(a: (i64, i64), b: (i64, i64)) -> Option<bool> {
    if a.1 < b.0 || b.1 < a.0 {
        return Some(false);
    }
    (a.0 == a.1 && b.0 == b.1).then_some(true)
}

pub(super) fn compare_ranges(comparison: Comparison, a: (i64, i64), b: (i64, i64)) -> Option<bool> {
    let (always, never) = match comparison {
        Comparison::Less => (a.1 < b.0, a.0 >= b.1),
        Comparison::LessOrEqual => (a.1 <= b.0, a.0 > b.1),
        Comparison::Greater => (a.0 > b.1, a.1 <= b.0),
        Comparison::GreaterOrEqual => (a.0 >= b.1, a.1 < b.0),
    };
    match (always, never) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        (false, false) => None,
    }
}

/// Applies a function to a number, or to the number at each place.
pub(super) fn map<'r>(value: Val<'r>, each: impl Fn(&Num) -> Option<Num>) -> Val<'r> {
    match value {
        Val::Number(num) => each(&num).map_or(unknown(Reason::NotMeasured), Val::from),
        Val::Places(places) => {
            let mut found = Vec::with_capacity(places.len());
            for one in places.iter() {
                let Some(num) = each(&one.num) else {
                    return unknown(Reason::NotMeasured);
                };
                found.push(PlaceNum {
                    place: one.place,
                    num,
                });
            }
            Val::Places(Rc::new(found))
        }
        Val::Unknown(why) => Val::Unknown(why),
        _ => unknown(Reason::NotMeasured),
    }
}

/// Applies a function to two numbers. Two placed values pair at equal places; an unplaced value joins
/// every place.
pub(super) fn pair<'r>(
    left: Val<'r>,
    right: Val<'r>,
    each: impl Fn(&Num, &Num) -> Option<Uncertain>,
) -> Val<'r> {
    let join = |a: &Num, b: &Num| each(a, b).map(|value| Num::of(value, a, b));
    let whole = |value: Val<'r>| match value {
        Val::Count(sure, possible) if sure == possible => Val::from(count_number(sure)),
        Val::Count(..) => unknown(Reason::ConditionUnknown),
        other => other,
    };
    match (whole(left), whole(right)) {
        (Val::Unknown(why), _) | (_, Val::Unknown(why)) => Val::Unknown(why),
        (Val::Number(a), Val::Number(b)) => {
            join(&a, &b).map_or(unknown(Reason::NotMeasured), Val::from)
        }
        (Val::Places(places), Val::Number(b)) => map(Val::Places(places), |a| join(a, &b)),
        (Val::Number(a), Val::Places(places)) => map(Val::Places(places), |b| join(&a, b)),
        (Val::Places(a), Val::Places(b)) => {
            let mut found = Vec::new();
            for one in a.iter() {
                for other in partners(one, &b) {
                    let Some(num) = join(&one.num, &other.num) else {
                        return unknown(Reason::NotMeasured);
                    };
                    // A distance from the edge that only one of them states is that of the pair.
                    let stated = one.place.from_edge.is_some() || other.place.from_edge.is_none();
                    found.push(PlaceNum {
                        place: if stated { one.place } else { other.place },
                        num,
                    });
                }
            }
            Val::Places(Rc::new(found))
        }
        _ => unknown(Reason::NotMeasured),
    }
}

/// The places of another value that pair with a place: itself, else the same one, else all at the same position
/// and face. A place without a position pairs with itself alone, since nobody says where it is.
fn partners<'v, 'r>(one: &PlaceNum<'r>, others: &'v [PlaceNum<'r>]) -> Vec<&'v PlaceNum<'r>> {
    let itself = |other: &&PlaceNum<'_>| std::ptr::eq(one.place, other.place);
    if let Some(own) = others.iter().find(itself) {
        return vec![own];
    }
    if one.place.at.is_none() {
        return Vec::new();
    }
    let same = |other: &&PlaceNum<'_>| same_place(one.place, other.place);
    if let Some(same) = others.iter().find(same) {
        return vec![same];
    }
    let beside = |other: &&PlaceNum<'_>| {
        one.place.at == other.place.at && one.place.face == other.place.face
    };
    others.iter().filter(beside).collect()
}

pub(super) fn arithmetic<'r>(operation: Arithmetic, left: Val<'r>, right: Val<'r>) -> Val<'r> {
    if let (Val::Count(a, b), Val::Count(c, d)) = (&left, &right) {
        match operation {
            Arithmetic::Add => return Val::Count(a.saturating_add(*c), b.saturating_add(*d)),
            Arithmetic::Subtract => return Val::Count(a.saturating_sub(*d), b.saturating_sub(*c)),
            Arithmetic::Multiply | Arithmetic::Divide => {}
        }
    }
    match (operation, left, right) {
        (Arithmetic::Add, Val::Date(date), Val::Number(num)) => shift(&date, &num, 1),
        (Arithmetic::Subtract, Val::Date(date), Val::Number(num)) => shift(&date, &num, -1),
        (operation, left, right) => pair(left, right, |a, b| match operation {
            Arithmetic::Add => Some(a.value.add(&b.value)),
            Arithmetic::Subtract => Some(a.value.sub(&b.value)),
            Arithmetic::Multiply => Some(a.value.mul(&b.value)),
            Arithmetic::Divide => a.value.div(&b.value),
        }),
    }
}

/// A date some whole days later or earlier.
pub(super) fn shift<'r>(date: &DateSpan, num: &Num, sign: i64) -> Val<'r> {
    let days = num
        .value
        .value
        .as_exact()
        .and_then(|time| time.checked_div(&Exact::from_integer(86_400)));
    let shifted = days
        .and_then(|days| days.to_i64())
        .and_then(|days| date.add_days(sign * days));
    shifted.map_or(unknown(Reason::ConditionUnknown), Val::Date)
}

pub(super) fn extreme<'r>(value: Val<'r>, highest: bool) -> Val<'r> {
    match value {
        Val::Places(places) => {
            let mut best: Option<&PlaceNum<'r>> = None;
            for one in places.iter() {
                let beats = best.is_none_or(|best| {
                    match one.num.value.value.compare(&best.num.value.value) {
                        Some(order) if highest => order.is_gt(),
                        Some(order) => order.is_lt(),
                        None => false,
                    }
                });
                if beats {
                    best = Some(one);
                }
            }
            let evidence = places
                .iter()
                .fold(Evidence::GOOD, |all, one| all.and(one.num.evidence));
            match best {
                Some(best) => Val::from(Num {
                    evidence,
                    ..best.num.clone()
                }),
                None => unknown(Reason::NotMeasured),
            }
        }
        other => other,
    }
}
