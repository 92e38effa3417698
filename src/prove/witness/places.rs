//! Places enough for every rule of both versions, with values that do no harm.
//!
//! The places of a proof come first. Where the least, the greatest or the mean of a value is given, places are added
//! that make it so; then places that rules ask for: so many, so near to each other, one for each row by zone.

use super::super::boat::{Boat, Value, Values};
use super::super::common::{Common, MeasureIx, PartIx, Side};
use super::super::term::{TermId, Terms, What};
use super::complete::LegalAt;
use super::demands::{Demand, demands};
use super::over::Over;
use super::trials::round_between;
use super::worth::{Beside, Look};
use crate::expression::{Expression, Op};
use crate::quantity::Exact;
use crate::record::Face;
use crate::vocabulary::MeasureKind;

/// A place on an item.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spot {
    /// How far from the pivot.
    pub at: Exact,
    /// How far from the edge, where a zone tells by it.
    pub from_edge: Option<Exact>,
    /// Two places that are equally far from both lie on different faces.
    pub face: Option<Face>,
    /// Values of placed terms.
    pub values: Values,
}

impl Spot {
    /// The values with where it lies, as far as terms speak of that.
    pub fn told(&self, part: PartIx, terms: &Terms) -> Values {
        let mut values = self.values.clone();
        let mut tell = |what: What, number: &Option<Exact>| {
            if let (Some(id), Some(number)) = (terms.known(part, &what), number) {
                values.insert(id, Value::Number(number.clone()));
            }
        };
        tell(What::PlaceAt, &Some(self.at.clone()));
        tell(What::PlaceFromEdge, &self.from_edge);
        values
    }
}

/// Places are being found.
pub(super) struct Placing<'a, 'f> {
    pub boat: Boat,
    pub(super) common: &'a Common<'a>,
    pub(super) terms: &'a Terms,
    pub(super) legal_at: LegalAt<'f>,
    pub spots: Vec<Vec<Spot>>,
    pub beside: Beside,
}

impl<'a, 'f> Placing<'a, 'f> {
    pub fn new(
        boat: Boat,
        common: &'a Common<'a>,
        terms: &'a Terms,
        legal_at: LegalAt<'f>,
    ) -> Placing<'a, 'f> {
        let spots = boat.items.iter().map(|_| Vec::new()).collect();
        Placing {
            boat,
            common,
            terms,
            legal_at,
            spots,
            beside: Beside::new(),
        }
    }

    pub(super) fn look(&self) -> Look<'_> {
        Look {
            boat: &self.boat,
            common: self.common,
            terms: self.terms,
            beside: &self.beside,
        }
    }

    pub(super) fn spots(&self, item: usize) -> &[Spot] {
        self.spots.get(item).map_or(&[], Vec::as_slice)
    }

    pub(super) fn part(&self, item: usize) -> Option<PartIx> {
        self.boat.items.get(item).map(|one| one.part)
    }

    /// Places for all items.
    pub fn place_all(&mut self) -> Result<(), String> {
        for item in 0..self.boat.items.len() {
            self.given(item)?;
        }
        let asked = demands(self.common, &self.boat, self.terms);
        for demand in &asked {
            self.ends(demand);
        }
        for item in 0..self.boat.items.len() {
            let over = self.over(item);
            self.extremes(item, &over)?;
            for demand in asked.iter().filter(|one| one.target == item) {
                self.meet(demand, &over)?;
            }
            self.means(item, &over)?;
            self.come_out(item, &over)?;
        }
        Ok(())
    }

    /// The places of the proof, each somewhere.
    pub(super) fn given(&mut self, item: usize) -> Result<(), String> {
        let Some(one) = self.boat.items.get(item) else {
            return Ok(());
        };
        let part = one.part;
        let at_term = self.terms.known(part, &What::PlaceAt);
        let edge_term = self.terms.known(part, &What::PlaceFromEdge);
        let edges = self.look().edge_borders(item);
        let number = |values: &Values, term: Option<TermId>| match values.get(&term?) {
            Some(Value::Number(number)) => Some(number.clone()),
            Some(Value::Day(_) | Value::Truth(_) | Value::Choice(_)) | None => None,
        };
        let two = Exact::from_integer(2);
        let mut found: Vec<Spot> = Vec::new();
        for place in &one.places {
            let mut values = place.clone();
            for term in [at_term, edge_term].into_iter().flatten() {
                values.remove(&term);
            }
            // Where nothing is said of it, it lies far from every edge.
            let far = edges.iter().max().map(|border| border.mul(&two));
            let from_edge = number(place, edge_term).or(far);
            let from_edge = from_edge.filter(|_| !edges.is_empty());
            let at = number(place, at_term).unwrap_or_else(|| {
                let taken = |at: &Exact| found.iter().any(|spot| spot.at == *at);
                let free = (0..).map(|step| Exact::from_integer(step * 100));
                free.take(found.len() + 1)
                    .find(|at| !taken(at))
                    .unwrap_or(Exact::ZERO)
            });
            // One that says the same twice is there once.
            let twin =
                |spot: &Spot| spot.at == at && spot.from_edge == from_edge && spot.values == values;
            if found.iter().any(twin) {
                continue;
            }
            let mut spot = Spot {
                at,
                from_edge,
                face: None,
                values,
            };
            let look = self.look();
            let taken = |at: &Exact| found.iter().any(|other| other.at == *at);
            if taken(&spot.at) {
                // Beside it, where it lies to all zones alike, else on another face.
                match look.alike(item, &spot).into_iter().find(|at| !taken(at)) {
                    Some(beside) => spot.at = beside,
                    None => {
                        let faces = [None, Some(Face::Port), Some(Face::Starboard)];
                        let free = |face: &Option<Face>| {
                            let same = |other: &Spot| other.at == spot.at && other.face == *face;
                            !found.iter().any(same)
                        };
                        let words = "more than three places are asked for at one point of an item";
                        spot.face = faces.into_iter().find(free).ok_or(words)?;
                    }
                }
            }
            found.push(spot);
        }
        if let Some(spots) = self.spots.get_mut(item) {
            *spots = found;
        }
        Ok(())
    }

    /// Chooses the ends between which places have to be near to each other, where nothing else rests on them.
    pub(super) fn ends(&mut self, demand: &Demand<'_>) {
        let places = demand.rule.places.as_ref();
        let Some(spacing) = places.and_then(|places| places.spacing.as_ref()) else {
            return;
        };
        let free = |this: &Self, end: &Expression| {
            let Op::Measure(scope, id) = &end.root.op else {
                return None;
            };
            let look = this.look();
            let item = look.scoped(demand.side, demand.judged, *scope)?;
            let part = this.part(item)?;
            let measure = this.common.measure_of(demand.side, part, *id)?;
            let kind = this.common.part(part)?.measures.get(measure.index())?;
            let number = matches!(kind.kind, MeasureKind::Quantity(_)) && !kind.placed;
            (number && look.measure(item, measure).is_none()).then_some((item, measure))
        };
        let ats = || self.spots(demand.target).iter().map(|spot| &spot.at);
        let (least, most) = (ats().min().cloned(), ats().max().cloned());
        let hundred = Exact::from_integer(100);
        let from = free(self, &spacing.from);
        if let Some(key) = from {
            let to = self
                .look()
                .expression(demand.side, &spacing.to.root, demand.judged);
            let near = to.map(|to| to.sub(&spacing.at_most.value));
            let at = near.or(least).unwrap_or_else(|| hundred.clone());
            self.beside.insert(key, at);
        }
        if let Some(key) = free(self, &spacing.to) {
            let from = self
                .look()
                .expression(demand.side, &spacing.from.root, demand.judged);
            let near = from.map(|from| from.add(&spacing.at_most.value));
            let at = near.or(most).unwrap_or(hundred);
            self.beside.insert(key, at);
        }
    }

    pub(super) fn add(&mut self, item: usize, spot: Spot) {
        if let Some(spots) = self.spots.get_mut(item) {
            spots.push(spot);
        }
    }

    /// Adds places until a rule has enough.
    pub(super) fn meet(&mut self, demand: &Demand<'_>, over: &[Over]) -> Result<(), String> {
        let item = demand.target;
        // Of what no term speaks a proof knows nothing; the check will say so.
        let spoken = |measure: &MeasureIx| {
            let part = self.part(item);
            let whats = [What::Measure(*measure), What::PortBevel(*measure)];
            let mut known = whats.iter().map(|what| self.terms.known(part?, what));
            known.any(|term| term.is_some())
        };
        if !demand.measures.iter().all(spoken) {
            return Ok(());
        }
        let mut templates = self.templates(item, &demand.measures);
        templates.retain(|values| self.reads(self.part(item), values, demand));
        let counts = |this: &Self| this.counting(demand).len();
        let least = demand
            .rule
            .places
            .as_ref()
            .map_or(1, |places| places.at_least);
        let least = usize::try_from(least.max(1)).unwrap_or(usize::MAX);
        let fail = |what: &str| {
            let id = &demand.rule.id.text;
            if demand.sure {
                Err(format!("no places were found that {id} asks for: {what}"))
            } else {
                Ok(())
            }
        };
        if demand.may_leave_out(self.look()) && counts(self) == 0 && !self.spots(item).is_empty() {
            return Ok(());
        }
        // One in each row by zone.
        for row in self.look().rows_to_reach(demand) {
            let reached = |this: &Self| {
                let mut counting = this.counting(demand).into_iter();
                counting.any(|spot| this.look().meets_row(demand, row, spot) == Some(true))
            };
            if reached(self) {
                continue;
            }
            let positions = self.positions(item);
            let found = positions.iter().find_map(|at| {
                let spot = self.try_at(Some(demand), item, at, &templates, over)?;
                let meets = self.look().meets_row(demand, row, &spot) == Some(true);
                meets.then_some(spot)
            });
            match found {
                Some(spot) => self.add(item, spot),
                None => return fail("one for each zone"),
            }
        }
        if self.spaced(demand, &templates, over).is_none() {
            return fail("near enough to each other");
        }
        if counts(self) < least {
            for at in self.positions(item) {
                if counts(self) >= least {
                    break;
                }
                if let Some(spot) = self.try_at(Some(demand), item, &at, &templates, over) {
                    self.add(item, spot);
                }
            }
        }
        // As many more on lines at other distances, where the positions are used up.
        let mut step = 0;
        while counts(self) < least {
            step += 1;
            let Some(last) = self.spots(item).iter().map(|spot| &spot.at).max().cloned() else {
                return fail("somewhere");
            };
            let mut found = None;
            for at in self
                .positions(item)
                .iter()
                .chain([&last.add(&Exact::from_integer(step))])
            {
                found = self.try_at(Some(demand), item, at, &templates, over);
                if found.is_some() {
                    break;
                }
            }
            match found {
                Some(spot) => self.add(item, spot),
                None => return fail("so many of them"),
            }
        }
        Ok(())
    }

    /// The places that count for a demand.
    pub(super) fn counting(&self, demand: &Demand<'_>) -> Vec<&Spot> {
        let look = self.look();
        let part = self.part(demand.target);
        let all = self.spots(demand.target).iter();
        let all = all.filter(|spot| look.looks(demand, spot));
        all.filter(|spot| self.reads(part, &spot.values, demand))
            .collect()
    }

    /// Whether all is read at a place that a demand rests on.
    pub(super) fn reads(&self, part: Option<PartIx>, values: &Values, demand: &Demand<'_>) -> bool {
        let has = |measure: &MeasureIx| {
            let whats = [What::Measure(*measure), What::PortBevel(*measure)];
            whats.iter().any(|what| {
                let term = part.and_then(|part| self.terms.known(part, what));
                term.is_some_and(|term| values.contains_key(&term))
            })
        };
        demand.measures.iter().all(has)
    }

    /// Closes gaps that are too wide.
    pub(super) fn spaced(
        &mut self,
        demand: &Demand<'_>,
        templates: &[Values],
        over: &[Over],
    ) -> Option<()> {
        let places = demand.rule.places.as_ref();
        let Some(spacing) = places.and_then(|places| places.spacing.as_ref()) else {
            return Some(());
        };
        let most = &spacing.at_most.value;
        let look = self.look();
        let from = look.expression(demand.side, &spacing.from.root, demand.judged)?;
        let to = look.expression(demand.side, &spacing.to.root, demand.judged)?;
        let (low, high) = if from <= to { (from, to) } else { (to, from) };
        loop {
            let mut at: Vec<Exact> = self
                .counting(demand)
                .iter()
                .map(|spot| spot.at.clone())
                .collect();
            at.extend([low.clone(), high.clone()]);
            at.sort();
            let gap = at.windows(2).find_map(|pair| match pair {
                [a, b] if b.sub(a) > *most && *a >= low && *b <= high => {
                    Some((a.clone(), b.clone()))
                }
                _ => None,
            });
            let Some((a, b)) = gap else {
                return Some(());
            };
            // As far on as may be, evenly where nothing hinders.
            let steps = b.sub(&a).checked_div(most)?.floor().add(&Exact::ONE);
            let even = a.add(&b.sub(&a).checked_div(&steps)?);
            let farthest = a.add(most);
            let mut tried = vec![round_between(&even, &a, &b), even, farthest.clone()];
            let mut nearer = self.look().borders(demand.target);
            nearer.extend(self.look().borders(demand.judged));
            let inside = |at: &Exact| *at > a && *at <= farthest && *at < b;
            nearer.retain(inside);
            nearer.sort();
            let half = Exact::from_fraction(1, 2)?;
            let mut edge = farthest.clone();
            for border in nearer.into_iter().rev() {
                let middle = border.add(&edge).mul(&half);
                let beside = border.sub(&Exact::ONE);
                tried.extend([middle, border.clone(), beside]);
                edge = border;
            }
            tried.push(a.add(&edge).mul(&half));
            let mut tried = tried.into_iter().filter(inside);
            let spot = tried
                .find_map(|at| self.try_at(Some(demand), demand.target, &at, templates, over))?;
            self.add(demand.target, spot);
        }
    }
}

/// The sides in the order in which their rules are asked.
pub(super) const SIDES: [Side; 2] = Side::BOTH;
