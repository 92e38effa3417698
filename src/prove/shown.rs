//! A boat that a proof found, told under common names, and whether a place does no harm on it.

use super::boat::{Boat, BoatItem, Value, Values};
use super::book::Book;
use super::common::Side;
use super::days::day_of;
use super::formula::Formula;
use super::state::{At, Cell, State};
use super::term::{TermId, Var, What, Whose};
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
        state.cell(At::of_boat(term), &book.layout)
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
        Cell::Number(number) => day_of(number)?,
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

fn told(book: &Book<'_>, term: TermId, cell: &Cell) -> Option<Value> {
    use super::term::Sort;
    let sort = book.terms.get(term).map(|term| &term.sort)?;
    Some(match (cell, sort) {
        (Cell::Number(number), Sort::Day) => Value::Day(day_of(number)?),
        (Cell::Number(number), _) => Value::Number(number.clone()),
        (Cell::Truth(yes), _) => Value::Truth(*yes),
        (Cell::Choice(choice), _) => Value::Choice(*choice),
    })
}

/// Whether a place with some values does no harm on an item, under some versions.
pub(super) fn harmless(
    book: &Book<'_>,
    state: &State,
    sides: &[Side],
    item: &BoatItem,
    place: &Values,
) -> bool {
    // No place is beyond the least or the greatest that is said of them either.
    let versions = sides.iter().map(|side| book.version(*side));
    let facts = versions
        .chain([&book.laws])
        .flat_map(|version| &version.facts);
    let mut facts = facts.filter(|fact| {
        fact.on == item.part && fact.place_of == Some(Whose::Own) && fact.only_place.is_none()
    });
    facts.all(|fact| holds(book, state, &fact.holds, item, place) != Some(false))
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
            Whose::Own if book.terms.is_placed(var.term) => place.get(&var.term).map(Cell::of),
            Whose::Own => item.values.get(&var.term).map(Cell::of),
            Whose::Boat | Whose::One(_) | Whose::Role(_) => {
                let at = state.at(var, 0, 0, &book.layout)?;
                state.cell(at, &book.layout).cloned()
            }
        }
    };
    formula.known(&cell)
}
