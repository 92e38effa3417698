//! A boat that a proof found, told under common names, and whether a place does no harm on it.

use super::boat::{Boat, BoatItem, Value, Values};
use super::book::Book;
use super::common::Side;
use super::formula::Formula;
use super::state::{Cell, State};
use super::term::{TermId, Var, What, Whose};
use crate::quantity::{Date, Exact, add_days};
use crate::rules::Stage;

/// The boat of a state, with the items that are there. Those of a group are told by their new places.
pub(super) fn boat(book: &Book<'_>, state: &State) -> Option<Boat> {
    let mut new_place: Vec<Option<usize>> = Vec::new();
    let mut count = 0;
    for item in &state.items {
        new_place.push(item.present.then(|| {
            count += 1;
            count - 1
        }));
    }
    let context = |what: &What| {
        let term = book.terms.known(super::common::PartIx(0), what)?;
        let at = super::state::At {
            item: 0,
            place: 0,
            term,
        };
        state.cell(at, &book.layout)
    };
    let stage = match context(&What::Stage)? {
        Cell::Choice(at) => *Stage::ALL.get(usize::from(*at))?,
        Cell::Number(_) | Cell::Truth(_) => return None,
    };
    let level = match context(&What::Level)? {
        Cell::Choice(at) if usize::from(*at) < book.common.levels.len() => Some(*at),
        Cell::Choice(_) | Cell::Number(_) | Cell::Truth(_) => None,
    };
    let day = match context(&What::Day)? {
        Cell::Number(number) => date(number)?,
        Cell::Choice(_) | Cell::Truth(_) => return None,
    };
    let unlisted = matches!(context(&What::Unlisted), Some(Cell::Truth(true)));
    let mut items = Vec::new();
    for item in state.items.iter().filter(|item| item.present) {
        let none = Vec::new();
        let once = book.layout.once.get(item.part.index()).unwrap_or(&none);
        let placed = book.layout.placed.get(item.part.index()).unwrap_or(&none);
        let values = |terms: &[TermId], cells: &[Cell]| -> Values {
            let each = terms
                .iter()
                .zip(cells)
                .filter_map(|(term, cell)| Some((*term, told(book, *term, cell)?)));
            each.collect()
        };
        let roles: Option<Vec<usize>> = item
            .roles
            .iter()
            .map(|at| new_place.get(*at).copied().flatten())
            .collect();
        items.push(BoatItem {
            part: item.part,
            holding: item.holding,
            roles: roles?,
            values: values(once, &item.once),
            places: item
                .places
                .iter()
                .map(|cells| values(placed, cells))
                .collect(),
        });
    }
    Some(Boat {
        stage,
        level,
        day,
        unlisted,
        items,
    })
}

fn date(number: &Exact) -> Option<Date> {
    add_days(jiff::civil::date(1970, 1, 1), number.to_i64()?)
}

fn told(book: &Book<'_>, term: TermId, cell: &Cell) -> Option<Value> {
    use super::term::Sort;
    let sort = book.terms.get(term).map(|term| &term.sort)?;
    Some(match (cell, sort) {
        (Cell::Number(number), Sort::Day) => Value::Day(date(number)?),
        (Cell::Number(number), _) => Value::Number(number.clone()),
        (Cell::Truth(yes), _) => Value::Truth(*yes),
        (Cell::Choice(choice), _) => Value::Choice(*choice),
    })
}

fn untold(value: &Value) -> Cell {
    match value {
        Value::Number(number) => Cell::Number(number.clone()),
        Value::Day(day) => Cell::Number(Exact::from_integer(crate::quantity::days_between(
            jiff::civil::date(1970, 1, 1),
            *day,
        ))),
        Value::Truth(yes) => Cell::Truth(*yes),
        Value::Choice(choice) => Cell::Choice(*choice),
    }
}

/// Whether a place with some values does no harm on an item, under some versions.
pub(super) fn harmless(
    book: &Book<'_>,
    state: &State,
    sides: &[Side],
    item: &BoatItem,
    place: &Values,
) -> bool {
    sides.iter().all(|side| {
        let facts = book.version(*side).facts.iter();
        let mut facts = facts.filter(|fact| {
            fact.on == item.part && fact.place_of == Some(Whose::Own) && fact.only_place.is_none()
        });
        facts.all(|fact| holds(book, state, &fact.holds, item, place) != Some(false))
    }) && {
        // No place is beyond the least or the greatest that is said of them.
        let laws = book.laws.facts.iter();
        let mut laws = laws.filter(|fact| {
            fact.on == item.part && fact.place_of == Some(Whose::Own) && fact.only_place.is_none()
        });
        laws.all(|fact| holds(book, state, &fact.holds, item, place) != Some(false))
    }
}

/// Whether a statement holds at a place; nothing where the place does not say.
fn holds(
    book: &Book<'_>,
    state: &State,
    formula: &Formula,
    item: &BoatItem,
    place: &Values,
) -> Option<bool> {
    let cell = |var: Var| -> Option<Cell> {
        match var.whose {
            Whose::Own if book.terms.is_placed(var.term) => place.get(&var.term).map(untold),
            Whose::Own => item.values.get(&var.term).map(untold),
            Whose::Boat | Whose::One(_) | Whose::Role(_) => {
                let at = state.at(var, 0, 0, &book.layout)?;
                state.cell(at, &book.layout).cloned()
            }
        }
    };
    match formula {
        Formula::False => Some(false),
        Formula::True => Some(true),
        Formula::Truth(var, yes) => match cell(*var)? {
            Cell::Truth(found) => Some(found == *yes),
            Cell::Number(_) | Cell::Choice(_) => None,
        },
        Formula::Among(var, values) => match cell(*var)? {
            Cell::Choice(choice) => Some(values >> u32::from(choice).min(127) & 1 == 1),
            Cell::Number(_) | Cell::Truth(_) => None,
        },
        Formula::Sign(constraint) => {
            let mut sum = constraint.poly.constant.clone();
            for (monomial, c) in &constraint.poly.terms {
                let mut product = c.clone();
                for var in monomial {
                    match cell(*var)? {
                        Cell::Number(number) => product = product.mul(&number),
                        Cell::Truth(_) | Cell::Choice(_) => return None,
                    }
                }
                sum = sum.add(&product);
            }
            let sign = sum.signum();
            Some(if constraint.strict {
                sign > 0
            } else {
                sign >= 0
            })
        }
        Formula::All(list) => {
            let mut known = Some(true);
            for one in list.iter() {
                match holds(book, state, one, item, place) {
                    Some(false) => return Some(false),
                    Some(true) => {}
                    None => known = None,
                }
            }
            known
        }
        Formula::Any(list) => {
            let mut known = Some(false);
            for one in list.iter() {
                match holds(book, state, one, item, place) {
                    Some(true) => return Some(true),
                    Some(false) => {}
                    None => known = None,
                }
            }
            known
        }
    }
}
