//! A boat while a proof looks for it: a value for every term of every item and place, and statements told from them.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::boat::Value;
use super::common::{Common, HoldingIx, PartIx};
use super::days::day_number;
use super::formula::{Formula, has};
use super::term::{Poly, TermId, Terms, Var, What, Whose};
use crate::quantity::Exact;

/// A value while it is looked for. Days and counts are whole numbers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Cell {
    Number(Exact),
    Truth(bool),
    Choice(u16),
}

impl Cell {
    /// The number, or the number of the day.
    pub fn number(&self) -> Option<Exact> {
        match self {
            Cell::Number(number) => Some(number.clone()),
            Cell::Truth(_) | Cell::Choice(_) => None,
        }
    }

    /// A value as it is told of a boat.
    pub fn of(value: &Value) -> Cell {
        match value {
            Value::Number(number) => Cell::Number(number.clone()),
            Value::Day(day) => Cell::Number(day_number(*day)),
            Value::Truth(yes) => Cell::Truth(*yes),
            Value::Choice(choice) => Cell::Choice(*choice),
        }
    }
}

/// Where each term stands among those of its part.
#[derive(Clone, Debug, Default)]
pub(super) struct Layout {
    of_term: Vec<(PartIx, usize, bool)>,
    /// Terms of each part that an item has once.
    pub once: Vec<Vec<TermId>>,
    /// Terms of each part that each place has.
    pub placed: Vec<Vec<TermId>>,
}

impl Layout {
    pub fn of(common: &Common<'_>, terms: &Terms) -> Layout {
        let mut layout = Layout {
            of_term: Vec::with_capacity(terms.len()),
            once: vec![Vec::new(); common.parts.len()],
            placed: vec![Vec::new(); common.parts.len()],
        };
        for (id, term) in terms.all() {
            let lists = if term.placed {
                &mut layout.placed
            } else {
                &mut layout.once
            };
            let at = lists.get_mut(term.part.index()).map_or(0, |list| {
                list.push(id);
                list.len() - 1
            });
            layout.of_term.push((term.part, at, term.placed));
        }
        layout
    }

    fn slot(&self, term: TermId) -> Option<(PartIx, usize, bool)> {
        self.of_term.get(usize::try_from(term.0).ok()?).copied()
    }
}

/// An item.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ItemState {
    pub part: PartIx,
    pub holding: Option<HoldingIx>,
    /// The items in its roles.
    pub roles: Vec<usize>,
    pub present: bool,
    /// Shared between boats until one of them changes it: searches go through many that are nearly the same.
    pub once: Arc<Vec<Cell>>,
    pub places: Arc<Vec<Vec<Cell>>>,
}

/// All items; the first is the boat, which has the context as well.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct State {
    pub items: Vec<ItemState>,
}

/// A value of an item, or of a place of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct At {
    pub item: usize,
    /// The place for a placed term, else 0.
    pub place: usize,
    pub term: TermId,
}

impl At {
    /// Of the boat itself, or of the context.
    pub fn of_boat(term: TermId) -> At {
        At {
            item: 0,
            place: 0,
            term,
        }
    }
}

impl State {
    /// Where a variable of a statement about an item stands. `None` where the boat lacks the item that it speaks of.
    pub fn at(&self, var: Var, item: usize, place: usize, layout: &Layout) -> Option<At> {
        let of = match var.whose {
            Whose::Own => item,
            Whose::Boat => 0,
            Whose::One(holding) => self
                .items
                .iter()
                .position(|one| one.present && one.holding == Some(holding))?,
            Whose::Role(role) => *self.items.get(item)?.roles.get(role.index())?,
        };
        let (_, _, placed) = layout.slot(var.term)?;
        Some(At {
            item: of,
            place: if placed { place } else { 0 },
            term: var.term,
        })
    }

    pub fn cell(&self, at: At, layout: &Layout) -> Option<&Cell> {
        let (_, slot, placed) = layout.slot(at.term)?;
        let item = self.items.get(at.item)?;
        if placed {
            item.places.get(at.place)?.get(slot)
        } else {
            item.once.get(slot)
        }
    }

    pub fn set(&mut self, at: At, value: Cell, layout: &Layout) {
        let Some((_, slot, placed)) = layout.slot(at.term) else {
            return;
        };
        let Some(item) = self.items.get_mut(at.item) else {
            return;
        };
        let list = if placed {
            Arc::make_mut(&mut item.places).get_mut(at.place)
        } else {
            Some(Arc::make_mut(&mut item.once))
        };
        if let Some(cell) = list.and_then(|list| list.get_mut(slot)) {
            *cell = value;
        }
    }

    /// What a polynomial comes to.
    pub fn poly(&self, poly: &Poly, item: usize, place: usize, layout: &Layout) -> Option<Exact> {
        let mut sum = poly.constant.clone();
        for (monomial, c) in &poly.terms {
            let mut product = c.clone();
            for var in monomial {
                match self.cell(self.at(*var, item, place, layout)?, layout)? {
                    Cell::Number(value) => product = product.mul(value),
                    Cell::Truth(_) | Cell::Choice(_) => return None,
                }
            }
            sum = sum.add(&product);
        }
        Some(sum)
    }

    /// Whether a statement holds of an item at a place. What speaks of an item that the boat lacks does not hold.
    pub fn holds(&self, formula: &Formula, item: usize, place: usize, layout: &Layout) -> bool {
        match formula {
            Formula::False => false,
            Formula::True => true,
            Formula::Sign(constraint) => {
                let value = self.poly(&constraint.poly, item, place, layout);
                value.is_some_and(|value| constraint.is_met_by(&value))
            }
            Formula::Truth(var, yes) => {
                let at = self.at(*var, item, place, layout);
                matches!(at.and_then(|at| self.cell(at, layout)), Some(Cell::Truth(found)) if found == yes)
            }
            Formula::Among(var, values) => {
                let at = self.at(*var, item, place, layout);
                match at.and_then(|at| self.cell(at, layout)) {
                    Some(Cell::Choice(found)) => has(*values, *found),
                    _ => false,
                }
            }
            Formula::All(list) => list.iter().all(|one| self.holds(one, item, place, layout)),
            Formula::Any(list) => list.iter().any(|one| self.holds(one, item, place, layout)),
        }
    }

    /// Has counts and sums follow from the items.
    pub fn settle(&mut self, book: &super::book::Book<'_>) {
        self.settle_of(book, &BTreeSet::new(), true);
    }

    /// Has those counts and sums follow from the items that rest on some terms, or all where other items are there.
    pub fn settle_of(
        &mut self,
        book: &super::book::Book<'_>,
        changed: &BTreeSet<TermId>,
        other_items: bool,
    ) {
        for (term, rests_on) in book.derived.iter().zip(&book.rests_on) {
            if !other_items && rests_on.is_disjoint(changed) {
                continue;
            }
            let value = book
                .what(*term)
                .and_then(|what| self.derived(what, 0, &book.layout));
            if let Some(value) = value {
                self.set(At::of_boat(*term), value, &book.layout);
            }
        }
    }

    /// The items of a holding that are there.
    pub fn of_holding(&self, holding: HoldingIx) -> impl Iterator<Item = usize> + '_ {
        let items = self.items.iter().enumerate();
        items
            .filter(move |(_, one)| one.present && one.holding == Some(holding))
            .map(|(at, _)| at)
    }

    /// What follows from the rest: counts, sums, the least and greatest of places.
    pub fn derived(&self, what: &What, item: usize, layout: &Layout) -> Option<Cell> {
        let holds = |condition: &Formula, at: usize| self.holds(condition, at, 0, layout);
        let counted = |holding: &HoldingIx, condition: &Formula| {
            i64::try_from(
                self.of_holding(*holding)
                    .filter(|at| holds(condition, *at))
                    .count(),
            )
            .unwrap_or(i64::MAX)
        };
        match what {
            What::Count(holding, condition) => Some(Cell::Number(Exact::from_integer(counted(
                holding, condition,
            )))),
            What::Odd(holding, condition) => {
                Some(Cell::Truth(counted(holding, condition) % 2 == 1))
            }
            What::Sum(holding, pieces) => {
                let mut sum = Exact::ZERO;
                for at in self.of_holding(*holding) {
                    if let Some((_, poly)) = pieces.iter().find(|(when, _)| holds(when, at)) {
                        sum = sum.add(&self.poly(poly, at, 0, layout)?);
                    }
                }
                Some(Cell::Number(sum))
            }
            What::Lowest(poly) | What::Highest(poly) => {
                let places = 0..self.items.get(item)?.places.len();
                let mut values = Vec::new();
                for place in places {
                    values.push(self.poly(poly, item, place, layout)?);
                }
                let found = if matches!(what, What::Lowest(_)) {
                    values.into_iter().min()
                } else {
                    values.into_iter().max()
                };
                found.map(Cell::Number)
            }
            What::Stage
            | What::Level
            | What::Day
            | What::Unlisted
            | What::Trait(_)
            | What::Listed(..)
            | What::Measure(_)
            | What::PortBevel(_)
            | What::StarboardBevel(_)
            | What::Forward(..)
            | What::Aft(..)
            | What::GapAt(..)
            | What::CrownRadius(_)
            | What::Hollow(_)
            | What::Straightness(_)
            | What::Stiffness(_)
            | What::Sinks(..)
            | What::Area(_)
            | What::AlongEnd(..)
            | What::Mean(..)
            | What::LeftOut(..)
            | What::Converted(..)
            | What::At20(..)
            | What::Opaque(_)
            | What::PlaceAt
            | What::PlaceFromEdge => None,
        }
    }
}
