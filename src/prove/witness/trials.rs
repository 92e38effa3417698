//! What is tried as a place: positions, distances from the edge, and values that do no harm.

use super::super::boat::{Value, Values};
use super::super::common::MeasureIx;
use super::super::term::{Poly, Sort, TermId, What, Whose};
use super::demands::Demand;
use super::over::Over;
use super::places::{Placing, Spot};
use crate::quantity::{Exact, Ties};

/// Parts that an interval between two borders is cut into for places.
const PARTS: i64 = 8;

/// Combinations of values that are tried at most.
const TEMPLATES: usize = 64;

impl Placing<'_, '_> {
    /// Values with one of them changed so that a polynomial comes to a number.
    pub(super) fn adjusted(
        &self,
        item: usize,
        values: &Values,
        poly: &Poly,
        wanted: &Exact,
    ) -> Option<Values> {
        let look = self.look();
        let current = |values: &Values| look.poly(item, Some(values), poly);
        if current(values).as_ref() == Some(wanted) {
            return Some(values.clone());
        }
        let own = poly
            .vars()
            .filter(|var| var.whose == Whose::Own && self.terms.is_placed(var.term));
        for var in own {
            // The slope by two points: the polynomial is linear in what is adjusted.
            let with = |number: Exact| {
                let mut values = values.clone();
                values.insert(var.term, Value::Number(number));
                values
            };
            let (Some(at_zero), Some(at_one), Some(at_two)) = (
                current(&with(Exact::ZERO)),
                current(&with(Exact::ONE)),
                current(&with(Exact::from_integer(2))),
            ) else {
                continue;
            };
            let slope = at_one.sub(&at_zero);
            if at_two.sub(&at_one) != slope {
                continue;
            }
            let Some(number) = wanted.sub(&at_zero).checked_div(&slope) else {
                continue;
            };
            if self.can_be(var.term, &number) {
                return Some(with(number));
            }
        }
        None
    }

    pub(super) fn can_be(&self, term: TermId, number: &Exact) -> bool {
        match self.terms.get(term).map(|term| &term.sort) {
            Some(Sort::Number { low, high }) => {
                let above = low
                    .as_ref()
                    .is_none_or(|(low, closed)| number > low || (*closed && number == low));
                let below = high
                    .as_ref()
                    .is_none_or(|(high, closed)| number < high || (*closed && number == high));
                above && below
            }
            Some(Sort::Day | Sort::Count | Sort::Truth | Sort::Choice(_)) | None => true,
        }
    }

    /// Whether a place agrees with what is known over all places.
    pub(super) fn agrees(&self, item: usize, spot: &Spot, over: &[Over]) -> bool {
        let Some(part) = self.part(item) else {
            return false;
        };
        let told = spot.told(part, self.terms);
        let look = self.look();
        over.iter().all(|one| {
            let Some(value) = look.poly(item, Some(&told), one.poly()) else {
                return true;
            };
            match one {
                Over::Lowest(_, least) => value >= *least,
                Over::Highest(_, most) => value <= *most,
                Over::Mean(..) => true,
            }
        })
    }

    pub(super) fn harmless(&self, item: usize, spot: &Spot) -> bool {
        let Some(one) = self.boat.items.get(item) else {
            return false;
        };
        (self.legal_at)(one, &spot.told(one.part, self.terms))
    }

    /// Combinations of values to try at a place: those of the given places, mixtures of them, numbers that rules name.
    pub(super) fn templates(&self, item: usize, measures: &[MeasureIx]) -> Vec<Values> {
        let Some(part) = self.part(item) else {
            return Vec::new();
        };
        let mut all: Vec<Values> = Vec::new();
        for spot in self.spots(item) {
            if !all.contains(&spot.values) {
                all.push(spot.values.clone());
            }
        }
        // Each term with every value that it has somewhere.
        let mut choices: Vec<(TermId, Vec<Value>)> = Vec::new();
        let mut offer =
            |term: TermId, value: Value| match choices.iter_mut().find(|(known, _)| *known == term)
            {
                Some((_, list)) if list.contains(&value) => {}
                Some((_, list)) => list.push(value),
                None => choices.push((term, vec![value])),
            };
        for values in &all {
            for (term, value) in values {
                offer(*term, value.clone());
            }
        }
        for measure in measures {
            let number = [
                What::Measure(*measure),
                What::PortBevel(*measure),
                What::StarboardBevel(*measure),
            ];
            let known = number
                .iter()
                .filter_map(|what| self.terms.known(part, what));
            for term in known {
                let spoken = all.iter().any(|values| values.contains_key(&term));
                if !spoken {
                    for value in self.look().named(part, *measure) {
                        if self.can_be(term, &value) {
                            offer(term, Value::Number(value));
                        }
                    }
                }
            }
        }
        let mut mixed: Vec<Values> = vec![Values::new()];
        for (term, list) in &choices {
            let mut longer = Vec::new();
            for values in &mixed {
                for value in list {
                    if longer.len() < TEMPLATES {
                        let mut values = values.clone();
                        values.insert(*term, value.clone());
                        longer.push(values);
                    }
                }
            }
            mixed = longer;
        }
        for values in mixed {
            if !values.is_empty() && !all.contains(&values) {
                all.push(values);
            }
        }
        all
    }

    /// Distances from the edge to try.
    pub(super) fn edges(&self, item: usize) -> Vec<Option<Exact>> {
        let borders = self.look().edge_borders(item);
        if borders.is_empty() {
            return vec![None];
        }
        let two = Exact::from_integer(2);
        let given = self
            .spots(item)
            .iter()
            .filter_map(|spot| spot.from_edge.clone());
        let made = borders.iter().flat_map(|border| {
            [
                Some(border.mul(&two)),
                border.checked_div(&two),
                Some(border.clone()),
            ]
        });
        let mut all: Vec<Option<Exact>> = Vec::new();
        for one in given.map(Some).chain(made.filter(Option::is_some)) {
            if !all.contains(&one) {
                all.push(one);
            }
        }
        all
    }

    /// Positions to try, those that lie well inside what borders part before the borders themselves.
    pub(super) fn positions(&self, item: usize) -> Vec<Exact> {
        let mut borders = self.look().borders(item);
        borders.extend(self.spots(item).iter().map(|spot| spot.at.clone()));
        borders.push(Exact::ZERO);
        borders.sort();
        borders.dedup();
        let wide = Exact::from_integer(80);
        if let (Some(first), Some(last)) = (borders.first().cloned(), borders.last().cloned()) {
            borders.insert(0, first.sub(&wide));
            borders.push(last.add(&wide));
        }
        let mut inner = Vec::new();
        // Middles first, then finer ones.
        let mut parts = 2;
        while parts <= PARTS {
            for pair in borders.windows(2) {
                let [low, high] = pair else { continue };
                let run = high.sub(low);
                for part in (1..parts).step_by(2) {
                    let share = Exact::from_fraction(part, parts).unwrap_or(Exact::ZERO);
                    inner.push(round_between(&low.add(&run.mul(&share)), low, high));
                }
            }
            parts *= 2;
        }
        inner.extend(borders);
        let mut seen: Vec<Exact> = Vec::with_capacity(inner.len());
        for one in inner {
            if !seen.contains(&one) {
                seen.push(one);
            }
        }
        seen
    }

    /// A place that a demand looks at, at a position.
    pub(super) fn try_at(
        &self,
        demand: Option<&Demand<'_>>,
        item: usize,
        at: &Exact,
        templates: &[Values],
        over: &[Over],
    ) -> Option<Spot> {
        // Places that pair with each other lie at one position: each has its own.
        if self.spots(item).iter().any(|other| other.at == *at) {
            return None;
        }
        for from_edge in self.edges(item) {
            let mut spot = Spot {
                at: at.clone(),
                from_edge,
                face: None,
                values: Values::new(),
            };
            if demand.is_some_and(|demand| !self.look().looks(demand, &spot)) {
                continue;
            }
            for values in templates {
                spot.values = values.clone();
                let first = self.toward_means(item, &spot, over);
                let tried = first.into_iter().chain([spot.clone()]);
                let mut fine =
                    tried.filter(|one| self.agrees(item, one, over) && self.harmless(item, one));
                if let Some(spot) = fine.next() {
                    return Some(spot);
                }
            }
        }
        None
    }

    /// The same place with the values that the means over its regions ask.
    pub(super) fn toward_means(&self, item: usize, spot: &Spot, over: &[Over]) -> Option<Spot> {
        let part = self.part(item)?;
        let mut changed: Option<Spot> = None;
        for one in over {
            let Over::Mean(poly, region, mean) = one else {
                continue;
            };
            let now = changed.as_ref().unwrap_or(spot);
            let told = now.told(part, self.terms);
            if self.look().holds(item, Some(&told), region) != Some(true) {
                continue;
            }
            let values = self.adjusted(item, &now.values, poly, mean)?;
            changed = Some(Spot {
                values,
                ..now.clone()
            });
        }
        changed
    }
}

/// A whole number near a position, where one lies between two borders, else the position.
pub(super) fn round_between(at: &Exact, low: &Exact, high: &Exact) -> Exact {
    let whole = at.round_to_integer(Ties::Even);
    if whole > *low && whole < *high {
        whole
    } else {
        at.clone()
    }
}
