//! A boat to begin from: legal under both versions where there is one, and as ordinary as the vocabularies tell.

use std::sync::Arc;

use super::book::Book;
use super::common::{CommonKind, HoldingIx, PartIx, Side};
use super::days::day_number;
use super::near::rounded;
use super::search::{Found, Search, Under};
use super::state::{Cell, ItemState, State};
use super::term::{Sort, TermId, Var, What};
use crate::quantity::{Exact, Ties};
use crate::rules::Stage;

/// A boat to begin from, and under which versions it is legal.
#[derive(Clone)]
pub(super) struct Start {
    pub state: State,
    pub legal: Under,
}

impl Start {
    /// Whether it is legal under both versions.
    pub fn is_for_both(&self) -> bool {
        self.legal.old && self.legal.new
    }
}

/// The boat to begin from. `Err` where no boat is legal under a version that is asked for, or none is found.
pub(super) fn start(book: &Book<'_>, wanted: Under) -> Result<Start, Found> {
    let guess = guess(book);
    let mut state = legal(book, &guess, wanted, None)?;
    // Items that may be there are as legal as those that are.
    for at in 0..state.items.len() {
        let Some(item) = state.items.get(at) else {
            continue;
        };
        if item.present {
            continue;
        }
        let alike = state
            .items
            .iter()
            .find(|one| one.present && one.holding == item.holding);
        let cells = match alike {
            Some(alike) => Some((alike.once.clone(), alike.places.clone())),
            // Of its kind there is none: one boat is looked for that has it.
            None => match state
                .items
                .iter()
                .take(at)
                .find(|one| one.holding == item.holding)
            {
                Some(first) => Some((first.once.clone(), first.places.clone())),
                None => legal(book, &state, wanted, Some(at)).ok().and_then(|with| {
                    with.items
                        .get(at)
                        .map(|one| (one.once.clone(), one.places.clone()))
                }),
            },
        };
        if let (Some((once, places)), Some(item)) = (cells, state.items.get_mut(at)) {
            item.once = once;
            item.places = places;
        }
    }
    Ok(Start {
        state,
        legal: wanted,
    })
}

/// A legal boat near to one that need not be, with round numbers.
fn legal(
    book: &Book<'_>,
    guess: &State,
    wanted: Under,
    with: Option<usize>,
) -> Result<State, Found> {
    let mut search = Search::new(book, guess, wanted, true);
    if let Some(item) = with {
        search.has(item);
    }
    let found = match search.find(&[]) {
        Found::Boat(state) => *state,
        other => return Err(other),
    };
    Ok(rounded(&mut search, found))
}

/// A boat of which nothing is known to be legal: every part once, lists as long as they must be, and behind them items
/// that may be there.
pub(super) fn guess(book: &Book<'_>) -> State {
    let common = &book.common;
    let mut items: Vec<ItemState> = vec![item(book, PartIx(0), None)];
    let holdings = || {
        (0..common.holdings.len())
            .filter_map(|at| u16::try_from(at).ok())
            .map(HoldingIx)
    };
    let is_group = |ix: HoldingIx| {
        let part = common.holding(ix).and_then(|one| common.part(one.part));
        part.is_some_and(|part| !part.roles.is_empty())
    };
    let least = |ix: HoldingIx| {
        let sides = Side::BOTH.into_iter().filter_map(|side| {
            let id = common.holding(ix)?.at.at(side)?;
            common.rules(side).vocabulary.holding(id)
        });
        sides
            .map(|one| usize::try_from(one.at_least).unwrap_or(0))
            .max()
            .unwrap_or(0)
    };
    // Every group needs parts of its own in its roles.
    let mut needed: Vec<usize> = common.holdings.iter().map(|_| 0).collect();
    for ix in holdings() {
        let Some(one) = common.holding(ix) else {
            continue;
        };
        let count = if one.many { least(ix) } else { 1 };
        if let Some(needed) = needed.get_mut(ix.index()) {
            *needed = (*needed).max(count);
        }
        if !is_group(ix) {
            continue;
        }
        let roles = common.part(one.part).map_or(&[][..], |part| &part.roles);
        for other in holdings() {
            let part = common.holding(other).map(|other| other.part);
            let filling = roles.iter().filter(|role| Some(role.part) == part).count();
            if let Some(needed) = needed.get_mut(other.index())
                && common.holding(other).is_some_and(|one| one.many)
            {
                *needed = (*needed).max(filling * count.min(1));
            }
        }
    }
    // However few there must be, a group can have a part of its own in each role.
    let filling = |ix: HoldingIx| {
        let part = common.holding(ix).map(|one| one.part);
        let groups = common.parts.iter();
        let each = groups.map(|group| {
            group
                .roles
                .iter()
                .filter(|role| Some(role.part) == part)
                .count()
        });
        each.max().unwrap_or(0)
    };
    for present in [true, false] {
        for group in [false, true] {
            for ix in holdings().filter(|ix| is_group(*ix) == group) {
                let Some(one) = common.holding(ix) else {
                    continue;
                };
                let base = needed.get(ix.index()).copied().unwrap_or(0);
                let reach = book.reach.get(ix.index()).copied().unwrap_or(0);
                let count = if present {
                    base
                } else {
                    reach.max(base + usize::from(one.many)).max(if one.many {
                        filling(ix)
                    } else {
                        0
                    }) - base
                };
                // Where groups are counted, who fills which roles makes a difference: many ways are open to them.
                let ways = if group && !present && reach > 1 {
                    filled(book, one.part, &items)
                } else {
                    Vec::new()
                };
                let all = count.max(ways.len());
                for number in 0..all {
                    let mut new = item(book, one.part, Some(ix));
                    new.present = present;
                    if group {
                        match ways
                            .get(number)
                            .cloned()
                            .or_else(|| roles(book, one.part, &items))
                        {
                            Some(roles) => new.roles = roles,
                            None => continue,
                        }
                    }
                    items.push(new);
                }
            }
        }
    }
    let mut state = State { items };
    state.settle(book);
    state
}

/// Items for the roles of a group, each another one.
fn roles(book: &Book<'_>, group: PartIx, items: &[ItemState]) -> Option<Vec<usize>> {
    let mut taken: Vec<usize> = Vec::new();
    for role in &book.common.part(group)?.roles {
        let fits = |(at, one): &(usize, &ItemState)| one.part == role.part && !taken.contains(at);
        let found = items.iter().enumerate().find(fits)?;
        taken.push(found.0);
    }
    Some(taken)
}

/// No more ways to fill a group are looked at.
const MOST_WAYS: usize = 24;

/// Ways to fill the roles of a group, each role by another item, over so many items of each part as there are roles
/// and two more.
fn filled(book: &Book<'_>, group: PartIx, items: &[ItemState]) -> Vec<Vec<usize>> {
    let roles = book.common.part(group).map_or(&[][..], |part| &part.roles);
    let mut ways: Vec<Vec<usize>> = vec![Vec::new()];
    for role in roles {
        let own = items
            .iter()
            .enumerate()
            .filter(|(_, one)| one.part == role.part);
        let own: Vec<usize> = own.map(|(at, _)| at).take(roles.len() + 2).collect();
        let mut next = Vec::new();
        for way in &ways {
            for item in own.iter().filter(|item| !way.contains(item)) {
                let longer: Vec<usize> = way.iter().copied().chain([*item]).collect();
                next.push(longer);
            }
        }
        ways = next;
    }
    ways.truncate(MOST_WAYS);
    ways
}

fn item(book: &Book<'_>, part: PartIx, holding: Option<HoldingIx>) -> ItemState {
    let cells = |list: &[Vec<TermId>]| -> Vec<Cell> {
        let terms = list.get(part.index()).map_or(&[][..], Vec::as_slice);
        terms.iter().map(|term| ordinary(book, *term)).collect()
    };
    let places = book.places.get(part.index()).copied().unwrap_or(0);
    ItemState {
        part,
        holding,
        roles: Vec::new(),
        present: true,
        once: Arc::new(cells(&book.layout.once)),
        places: Arc::new((0..places).map(|_| cells(&book.layout.placed)).collect()),
    }
}

/// An ordinary value of a term, before any rule is asked.
fn ordinary(book: &Book<'_>, id: TermId) -> Cell {
    let Some(term) = book.terms.get(id) else {
        return Cell::Truth(false);
    };
    match (&term.what, &term.sort) {
        (What::Stage, _) => Cell::Choice(u16::try_from(Stage::Certification.index()).unwrap_or(0)),
        (What::Level, Sort::Choice(all)) => Cell::Choice(all.saturating_sub(1)),
        (What::Measure(_), Sort::Truth) => Cell::Truth(true),
        (What::Trait(slot), Sort::Choice(_)) => {
            // The first that both versions know.
            let one = book
                .common
                .part(term.part)
                .and_then(|part| part.traits.get(slot.index()));
            let choices = one.map_or(&[][..], |one| match &one.kind {
                CommonKind::Choice(list) => list,
                CommonKind::AnyOf(_) | CommonKind::Date | CommonKind::Flag => &[][..],
            });
            let known = choices
                .iter()
                .position(|choice| choice.at.old.is_some() && choice.at.new.is_some());
            Cell::Choice(known.and_then(|at| u16::try_from(at).ok()).unwrap_or(0))
        }
        (_, Sort::Choice(_)) => Cell::Choice(0),
        // A list names its first choice.
        (What::Listed(_, choice), Sort::Truth) => Cell::Truth(*choice == 0),
        (_, Sort::Truth) => Cell::Truth(false),
        (_, Sort::Count) => Cell::Number(Exact::ZERO),
        (what, Sort::Day) => {
            let day = if matches!(what, What::Day) {
                book.from
            } else {
                jiff::civil::date(book.from.year().saturating_sub(2), 6, 1)
            };
            Cell::Number(day_number(day))
        }
        (What::Lowest(poly) | What::Highest(poly) | What::Mean(poly, _), Sort::Number { .. }) => {
            // As it comes of ordinary values.
            let each = |var: Var| ordinary(book, var.term).number();
            Cell::Number(poly.value(&each).unwrap_or(Exact::ZERO))
        }
        (_, Sort::Number { low, .. }) => {
            let fallback = || match low {
                Some((low, _)) => low.add(&Exact::from_integer(10)),
                None => Exact::ZERO,
            };
            let value = match book.plausible(id) {
                Some((low, high)) => middle(&low, &high),
                None => fallback(),
            };
            Cell::Number(value)
        }
    }
}

/// A round number near the middle of a range.
fn middle(low: &Exact, high: &Exact) -> Exact {
    let half = Exact::from_fraction(1, 2).unwrap_or(Exact::ONE);
    let middle = low.add(high).mul(&half);
    let rounded = middle.round_to_integer(Ties::Even);
    if rounded >= *low && rounded <= *high {
        rounded
    } else {
        middle
    }
}
