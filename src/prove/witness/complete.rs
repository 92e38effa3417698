//! A proof's boat made whole: with places enough for every rule of both versions, and with readings of what a proof
//! knows only what is made of it.

use super::super::boat::{Boat, BoatItem, Value, Values};
use super::super::common::Common;
use super::super::term::{Terms, What, Whose};
use super::places::{Placing, Spot};
use super::worth::{Beside, Look};
use crate::geometry::converted_hardness;
use crate::quantity::{Exact, HardnessScale, Number};
use crate::uncertainty::Uncertain;

/// Whether a place with some values does no harm on an item, under the versions that matter.
pub type LegalAt<'f> = &'f dyn Fn(&BoatItem, &Values) -> bool;

/// A boat that can be written down as a record of either version.
#[derive(Clone, Debug)]
pub struct Complete<'a> {
    pub(super) boat: Boat,
    pub(super) common: &'a Common<'a>,
    pub(super) terms: &'a Terms,
    /// Places by item.
    pub(super) spots: Vec<Vec<Spot>>,
    /// Numbers that no term speaks of, on which the number of places rests.
    pub(super) beside: Beside,
    /// Whether a length is brought to 20 degrees by the temperature of the session.
    pub(super) at_20_degrees: bool,
}

impl Complete<'_> {
    pub(super) fn look(&self) -> Look<'_> {
        Look {
            boat: &self.boat,
            common: self.common,
            terms: self.terms,
            beside: &self.beside,
        }
    }

    /// The boat, with every place that was added.
    pub fn boat(&self) -> &Boat {
        &self.boat
    }
}

/// Makes a boat whole for both versions. Places that are added have values that `legal_at` allows.
///
/// # Errors
/// Why there can't be such a record, in words: places that can't be reached, a mean that no places make, a converted
/// value that no reading has.
pub fn complete<'a>(
    boat: &Boat,
    common: &'a Common<'a>,
    terms: &'a Terms,
    legal_at: LegalAt<'_>,
) -> Result<Complete<'a>, String> {
    let mut boat = boat.clone();
    let at_20_degrees = inputs(&mut boat, common, terms)?;
    let mut placing = Placing::new(boat, common, terms, legal_at);
    placing.place_all()?;
    let Placing {
        mut boat,
        spots,
        beside,
        ..
    } = placing;
    for (at, spots) in spots.iter().enumerate() {
        if let Some(item) = boat.items.get_mut(at) {
            let part = item.part;
            item.places = spots.iter().map(|spot| spot.told(part, terms)).collect();
        }
    }
    Ok(Complete {
        boat,
        common,
        terms,
        spots,
        beside,
        at_20_degrees,
    })
}

/// Chooses readings of which converted values come, and tells whether the session's temperature is needed. It is 20
/// degrees, so that a length is what it reads.
fn inputs(boat: &mut Boat, common: &Common<'_>, terms: &Terms) -> Result<bool, String> {
    let mut at_20_degrees = false;
    let beside = Beside::new();
    for own in 0..boat.items.len() {
        let Some(item) = boat.items.get(own) else {
            continue;
        };
        let part = item.part;
        for place in std::iter::once(None).chain((0..item.places.len()).map(Some)) {
            for (id, term) in terms.all().filter(|(_, term)| term.part == part) {
                let given = |boat: &Boat| {
                    let item = boat.items.get(own)?;
                    match place {
                        None => item.values.get(&id).cloned(),
                        Some(place) => item.places.get(place)?.get(&id).cloned(),
                    }
                };
                let Some(Value::Number(wanted)) = given(boat) else {
                    continue;
                };
                let (poly, wanted) = match &term.what {
                    What::Converted(from, to, poly) => {
                        let read = unconverted(*from, *to, &wanted).ok_or_else(|| {
                            format!("no hardness in {from:?} converts to {wanted} in {to:?}")
                        })?;
                        (poly, read)
                    }
                    What::At20(_, _, poly, temperature) => {
                        match temperature {
                            None => at_20_degrees = true,
                            Some(_) => {
                                return Err(
                                    "a length is brought to 20 degrees by a measured temperature"
                                        .to_owned(),
                                );
                            }
                        }
                        (poly, wanted)
                    }
                    _ => continue,
                };
                let look = Look {
                    boat,
                    common,
                    terms,
                    beside: &beside,
                };
                let values = place.and_then(|place| boat.items.get(own)?.places.get(place));
                if look.poly(own, values, poly).as_ref() == Some(&wanted) {
                    continue;
                }
                // The reading follows from the value, where the value is made of one reading.
                let [(monomial, coefficient)] = poly.terms.as_slice() else {
                    return Err("a converted value is made of several readings".to_owned());
                };
                let (Some(var), Some(read)) = (
                    monomial.first().filter(|_| monomial.len() == 1),
                    wanted.sub(&poly.constant).checked_div(coefficient),
                ) else {
                    return Err("a converted value is made of several readings".to_owned());
                };
                let placed = terms.is_placed(var.term) && var.whose == Whose::Own;
                let at = look.item(own, var.whose);
                let Some(item) = at.and_then(|at| boat.items.get_mut(at)) else {
                    continue;
                };
                let values = match place.filter(|_| placed) {
                    Some(place) => item.places.get_mut(place),
                    None => Some(&mut item.values),
                };
                if let Some(values) = values {
                    values.insert(var.term, Value::Number(read));
                }
            }
        }
    }
    Ok(at_20_degrees)
}

/// A hardness that the published table converts to another one: a row of it, or between two rows in proportion.
fn unconverted(from: HardnessScale, to: HardnessScale, wanted: &Exact) -> Option<Exact> {
    let (low, high) = crate::geometry::range_of(from, to);
    let convert = |value: &Exact| {
        let read = Uncertain::exact(value.clone());
        let found = converted_hardness(&read, from, to, 0).ok()?;
        match found.value.value {
            Number::Exact(found) => Some(found),
            Number::Real { .. } => None,
        }
    };
    let mut before: Option<(Exact, Exact)> = None;
    for row in low..=high {
        let read = Exact::from_integer(row);
        let Some(found) = convert(&read) else {
            continue;
        };
        if found == *wanted {
            return Some(read);
        }
        if let Some((lower, other)) = before
            && (other < *wanted) == (*wanted < found)
        {
            let way = wanted.sub(&other).checked_div(&found.sub(&other))?;
            let between = lower.add(&read.sub(&lower).mul(&way));
            if convert(&between).as_ref() == Some(wanted) {
                return Some(between);
            }
        }
        before = Some((read, found));
    }
    None
}
