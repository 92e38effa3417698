//! What is known over all places of an item: the least of a value, the greatest, the mean.

use super::super::boat::{Value, Values};
use super::super::formula::Formula;
use super::super::term::{Poly, What};
use super::places::{Placing, Spot};
use crate::quantity::Exact;

/// What is known of a value over all places of an item.
#[derive(Clone)]
pub(super) enum Over {
    Lowest(Poly, Exact),
    Highest(Poly, Exact),
    Mean(Poly, Formula, Exact),
}

impl Over {
    pub(super) fn poly(&self) -> &Poly {
        match self {
            Over::Lowest(poly, _) | Over::Highest(poly, _) | Over::Mean(poly, ..) => poly,
        }
    }
}

/// Places that are added at most to bring a mean about.
const FOR_MEAN: usize = 24;

impl Placing<'_, '_> {
    /// What is known of values over all places of an item.
    pub(super) fn over(&self, item: usize) -> Vec<Over> {
        let Some(one) = self.boat.items.get(item) else {
            return Vec::new();
        };
        let each = one.values.iter().filter_map(|(id, value)| {
            let Value::Number(number) = value else {
                return None;
            };
            match &self.terms.get(*id)?.what {
                What::Lowest(poly) => Some(Over::Lowest(poly.clone(), number.clone())),
                What::Highest(poly) => Some(Over::Highest(poly.clone(), number.clone())),
                What::Mean(poly, region) => {
                    Some(Over::Mean(poly.clone(), region.clone(), number.clone()))
                }
                _ => None,
            }
        });
        each.collect()
    }

    /// A place for each least and greatest value that none has yet.
    pub(super) fn extremes(&mut self, item: usize, over: &[Over]) -> Result<(), String> {
        for one in over {
            let (poly, wanted, word) = match one {
                Over::Lowest(poly, wanted) => (poly, wanted, "lowest"),
                Over::Highest(poly, wanted) => (poly, wanted, "highest"),
                Over::Mean(..) => continue,
            };
            if self.comes_to(item, poly, wanted) {
                continue;
            }
            let measures = self.look().measures_in(item, poly);
            let templates: Vec<Values> = self
                .templates(item, &measures)
                .iter()
                .chain([&Values::new()])
                .filter_map(|values| self.adjusted(item, values, poly, wanted))
                .collect();
            let positions = self.positions(item);
            let mut found = positions
                .iter()
                .filter_map(|at| self.try_at(None, item, at, &templates, over));
            let mut found = found.find(|spot| {
                let part = self.part(item);
                let told = part.map(|part| spot.told(part, self.terms));
                self.look().poly(item, told.as_ref(), poly).as_ref() == Some(wanted)
            });
            match found.take() {
                Some(spot) => self.add(item, spot),
                None => {
                    return Err(format!(
                        "no place has the {word} value {wanted} without harm"
                    ));
                }
            }
        }
        Ok(())
    }

    pub(super) fn comes_to(&self, item: usize, poly: &Poly, wanted: &Exact) -> bool {
        let Some(part) = self.part(item) else {
            return false;
        };
        self.spots(item).iter().any(|spot| {
            let told = spot.told(part, self.terms);
            self.look().poly(item, Some(&told), poly).as_ref() == Some(wanted)
        })
    }

    /// Brings means about by the values of places that were added.
    pub(super) fn means(&mut self, item: usize, over: &[Over]) -> Result<(), String> {
        let given = self.boat.items.get(item).map_or(0, |one| one.places.len());
        let given = given.min(self.spots(item).len());
        for one in over {
            let Over::Mean(poly, region, mean) = one else {
                continue;
            };
            let mut more = 0;
            loop {
                let (sum, own, free) = self.region(item, poly, region, given);
                if own + free.len() > 0 && self.mean_of(item, poly, region).as_ref() == Some(mean) {
                    break;
                }
                if !free.is_empty()
                    && let Some(values) =
                        self.balanced(item, (poly, mean), (&sum, own), &free, over)
                {
                    let spots = self
                        .spots
                        .get_mut(item)
                        .map_or(&mut [][..], Vec::as_mut_slice);
                    for (at, values) in free.iter().zip(values) {
                        if let Some(spot) = spots.get_mut(*at) {
                            spot.values = values;
                        }
                    }
                    break;
                }
                more += 1;
                let spot = (more <= FOR_MEAN)
                    .then(|| self.one_in(item, region, poly, over))
                    .flatten();
                match spot {
                    Some(spot) => self.add(item, spot),
                    None => return Err(format!("no places have the mean {mean} without harm")),
                }
            }
        }
        Ok(())
    }

    /// The sum and number of given places in a region, and which of the places that were added lie there.
    pub(super) fn region(
        &self,
        item: usize,
        poly: &Poly,
        region: &Formula,
        given: usize,
    ) -> (Exact, usize, Vec<usize>) {
        let (mut sum, mut own, mut free) = (Exact::ZERO, 0, Vec::new());
        let Some(part) = self.part(item) else {
            return (sum, own, free);
        };
        for (at, spot) in self.spots(item).iter().enumerate() {
            let told = spot.told(part, self.terms);
            let look = self.look();
            let value = look.poly(item, Some(&told), poly);
            match value.filter(|_| look.holds(item, Some(&told), region) == Some(true)) {
                Some(value) if at < given => {
                    sum = sum.add(&value);
                    own += 1;
                }
                Some(_) => free.push(at),
                None => {}
            }
        }
        (sum, own, free)
    }

    pub(super) fn mean_of(&self, item: usize, poly: &Poly, region: &Formula) -> Option<Exact> {
        let (sum, count, _) = self.region(item, poly, region, usize::MAX);
        sum.checked_div(&Exact::from_integer(i64::try_from(count).ok()?))
    }

    /// Values for the free places with which the mean comes out, all alike.
    pub(super) fn balanced(
        &self,
        item: usize,
        (poly, mean): (&Poly, &Exact),
        (sum, own): (&Exact, usize),
        free: &[usize],
        over: &[Over],
    ) -> Option<Vec<Values>> {
        let all = Exact::from_integer(i64::try_from(own + free.len()).ok()?);
        let count = Exact::from_integer(i64::try_from(free.len()).ok()?);
        let each = mean.mul(&all).sub(sum).checked_div(&count)?;
        let changed = free.iter().map(|at| {
            let spot = self.spots(item).get(*at)?;
            let values = self.adjusted(item, &spot.values, poly, &each)?;
            let spot = Spot {
                values,
                ..spot.clone()
            };
            let fine = self.agrees(item, &spot, over) && self.harmless(item, &spot);
            fine.then_some(spot.values)
        });
        changed.collect()
    }

    /// One more place in a region.
    pub(super) fn one_in(
        &self,
        item: usize,
        region: &Formula,
        poly: &Poly,
        over: &[Over],
    ) -> Option<Spot> {
        let part = self.part(item)?;
        let measures = self.look().measures_in(item, poly);
        let templates = self.templates(item, &measures);
        self.positions(item).iter().find_map(|at| {
            let spot = self.try_at(None, item, at, &templates, over)?;
            let told = spot.told(part, self.terms);
            let inside = self.look().holds(item, Some(&told), region) == Some(true);
            inside.then_some(spot)
        })
    }

    /// All that is known over the places has come about.
    pub(super) fn come_out(&self, item: usize, over: &[Over]) -> Result<(), String> {
        let Some(part) = self.part(item) else {
            return Ok(());
        };
        for one in over {
            let values = || {
                self.spots(item).iter().filter_map(|spot| {
                    let told = spot.told(part, self.terms);
                    self.look().poly(item, Some(&told), one.poly())
                })
            };
            let (found, wanted, word) = match one {
                Over::Lowest(_, wanted) => (values().min(), wanted, "lowest value"),
                Over::Highest(_, wanted) => (values().max(), wanted, "highest value"),
                Over::Mean(poly, region, wanted) => {
                    (self.mean_of(item, poly, region), wanted, "mean")
                }
            };
            if found.as_ref() != Some(wanted) {
                return Err(format!("no places were found with the {word} {wanted}"));
            }
        }
        Ok(())
    }
}
