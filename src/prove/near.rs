//! The boat nearest to one that is known: as little otherwise as can be, and with round numbers.

use std::collections::{BTreeMap, BTreeSet};

use super::formula::Formula;
use super::round::{Ends, round_day, round_number};
use super::search::{Found, Search};
use super::solve::{Limits, Literal};
use super::state::{At, Cell, State};
use super::term::{Sort, What};

/// What is as in the base, and what was let go.
#[derive(Default)]
struct Near {
    kept: BTreeMap<At, Vec<Literal>>,
    dropped: Vec<At>,
    /// Items that are there, or not, as in the base.
    items: BTreeMap<usize, Literal>,
    changed: BTreeSet<usize>,
}

impl Near {
    /// Keeps what the search chooses by now and did not before; whether that was anything.
    fn take_up(&mut self, search: &mut Search<'_, '_>) -> bool {
        let mut new = false;
        for at in search.chosen() {
            if self.kept.contains_key(&at) || self.dropped.contains(&at) {
                continue;
            }
            if let Some(cell) = search.base.cell(at, &search.book.layout).cloned() {
                let same = search.same(at, &cell);
                self.kept.insert(at, same);
                new = true;
            }
        }
        for (item, as_before) in search.as_before() {
            if !self.changed.contains(&item) && !self.items.contains_key(&item) {
                self.items.insert(item, as_before);
                new = true;
            }
        }
        new
    }

    /// What is assumed where values and items are as in the base.
    fn assumed(&self) -> Vec<Literal> {
        let values = self.kept.values().flatten();
        values.chain(self.items.values()).copied().collect()
    }

    /// Lets go one of the things that stand in the way: what is asked about first, then a value of an item that is there
    /// anyway, then whether an item is there. `false` where none of them is in the way.
    fn let_go(&mut self, search: &Search<'_, '_>, core: &[Literal], own: &BTreeSet<At>) -> bool {
        let in_core = |list: &[Literal]| list.iter().any(|one| core.contains(one));
        let guilty = self.kept.iter().filter(|(_, list)| in_core(list));
        let value = guilty
            .map(|(at, _)| (!own.contains(at), rank(search, *at), *at))
            .min();
        let item = self.items.iter().find(|(_, one)| core.contains(one));
        let item = item.map(|(item, _)| *item);
        let there = |at: &At| {
            search
                .base
                .items
                .get(at.item)
                .is_some_and(|one| one.present)
        };
        match (value, item) {
            (Some((foreign, rank, at)), item)
                if !foreign || item.is_none() || (rank < CONTEXT && there(&at)) =>
            {
                self.kept.remove(&at);
                self.dropped.push(at);
            }
            (_, Some(item)) => {
                self.items.remove(&item);
                self.changed.insert(item);
            }
            (_, None) => return false,
        }
        true
    }
}

/// A boat that meets what a search asks for, near to its base and with round numbers; or that there is none.
///
/// At first all is as in the base. What stands in the way of that is let go, one thing after the other, so that the
/// solver has little to decide.
pub(super) fn nearest(search: &mut Search<'_, '_>, opposite: &Formula, item: usize) -> Found {
    let book = search.book;
    let mut own: BTreeSet<At> = BTreeSet::new();
    opposite.each_var(&mut |var| {
        if let Some(at) = search.base.at(var, item, 0, &book.layout) {
            own.insert(at);
        }
    });
    let limit = |search: &mut Search<'_, '_>, conflicts: u64| {
        search.solver.set_limits(Limits {
            conflicts,
            ..Limits::default()
        });
    };
    limit(search, HARD);
    let mut hard = HARD;
    let mut near = Near::default();
    let mut found: Option<State> = None;
    for _ in 0..MOST_STEPS {
        if search.solver.work().conflicts > hard {
            // Where items are hard to share out, counts and sums are weighed together; more of them once more are known.
            if search.weigh() {
                return Found::None(Vec::new());
            }
            hard *= 4;
            // A boat that differs less is worth some work and not more.
            limit(search, 1_000);
        }
        let new = near.take_up(search);
        match search.find_among_few(&near.assumed()) {
            Found::Boat(boat) => {
                found = Some(*boat);
                let all = search.chosen();
                let more = all
                    .iter()
                    .any(|at| !near.kept.contains_key(at) && !near.dropped.contains(at));
                if !new || !more {
                    break;
                }
            }
            Found::None(core) => {
                if !near.let_go(search, &core, &own) && !search.link_more(&core) {
                    match found {
                        Some(_) => break,
                        None => return Found::None(core),
                    }
                }
            }
            Found::Unknown(_) if hard > HARD => break,
            // After so much work it is weighed.
            Found::Unknown(_) => {}
        }
    }
    let Some(mut state) = found else {
        // Whether there is one at all is worth more.
        limit(search, 20_000);
        return search.find(&[]);
    };
    // One by one, what was let go is taken back if it can be.
    for at in near.dropped.clone() {
        let Some(cell) = search.base.cell(at, &book.layout).cloned() else {
            continue;
        };
        let same = search.same(at, &cell);
        if !search.set_if_kept(&mut state, at, cell) {
            let mut assumed = near.assumed();
            assumed.extend(&same);
            match search.find(&assumed) {
                Found::Boat(boat) => state = *boat,
                Found::None(_) | Found::Unknown(_) => continue,
            }
        }
        near.kept.insert(at, same);
        near.dropped.retain(|other| *other != at);
    }
    let assumed = near.assumed();
    Found::Boat(Box::new(with_round_numbers(
        search,
        state,
        near.dropped,
        assumed,
    )))
}

/// A boat with round numbers for all that a search chose otherwise than in its base.
pub(super) fn rounded(search: &mut Search<'_, '_>, found: State) -> State {
    let mut kept = Vec::new();
    let mut changed = Vec::new();
    for at in search.chosen() {
        let cell = found.cell(at, &search.book.layout).cloned();
        match (cell, search.number_of(at)) {
            (Some(cell), Some(_)) if Some(&cell) != search.base.cell(at, &search.book.layout) => {
                changed.push(at);
            }
            (Some(cell), _) => kept.extend(search.same(at, &cell)),
            (None, _) => {}
        }
    }
    with_round_numbers(search, found, changed, kept)
}

/// Round numbers, one after the other.
fn with_round_numbers(
    search: &mut Search<'_, '_>,
    mut state: State,
    of: Vec<At>,
    assumed: Vec<Literal>,
) -> State {
    let book = search.book;
    // How far a number may go is told by a model that the boat comes from.
    let mut is_model = false;
    let mut fixed: Vec<Literal> = Vec::new();
    for at in of {
        if !is_model {
            let all: Vec<Literal> = assumed.iter().chain(&fixed).copied().collect();
            let Found::Boat(boat) = search.find(&all) else {
                break;
            };
            state = *boat;
            is_model = true;
        }
        let Some(cell) = state.cell(at, &book.layout).cloned() else {
            continue;
        };
        let mut own = search.same(at, &cell);
        if let (Some(var), Cell::Number(value)) = (search.number_of(at), &cell) {
            let (low, high) = search.solver.range(var, &fixed);
            let near = match search.base.cell(at, &book.layout) {
                Some(Cell::Number(near)) => near.clone(),
                _ => value.clone(),
            };
            let ends = Ends { low, high };
            let round = match book.terms.get(at.term).map(|term| &term.sort) {
                Some(Sort::Day) => round_day(&ends, &near),
                _ => round_number(&ends, &near, book.unit(at.term)),
            };
            if let Some(round) = round.map(Cell::Number).filter(|round| *round != cell) {
                let same = search.same(at, &round);
                if search.set_if_kept(&mut state, at, round) {
                    own = same;
                } else {
                    let all = assumed.iter().chain(&fixed).chain(&same);
                    let tried: Vec<Literal> = all.copied().collect();
                    if let Found::Boat(boat) = search.find(&tried) {
                        state = *boat;
                        own = same;
                    } else {
                        is_model = false;
                    }
                }
            }
        }
        fixed.extend(own);
    }
    state
}

/// No boat is refined in more steps.
const MOST_STEPS: usize = 200;

/// After so many conflicts a question is a hard one.
const HARD: u64 = 300;

/// The rank of what belongs to the context.
const CONTEXT: u8 = 3;

/// What is let go first: numbers, then answers and choices, last what belongs to the context.
fn rank(search: &Search<'_, '_>, at: At) -> u8 {
    match search
        .book
        .terms
        .get(at.term)
        .map(|term| (&term.what, &term.sort))
    {
        Some((What::Stage | What::Level | What::Day, _)) => CONTEXT,
        Some((_, Sort::Number { .. })) => 0,
        Some((_, Sort::Day | Sort::Count | Sort::Truth)) => 1,
        Some((_, Sort::Choice(_))) | None => 2,
    }
}

/// How many of the values that a search chose differ from those of its base.
pub(super) fn differing(search: &Search<'_, '_>, state: &State) -> usize {
    let book = search.book;
    let chosen = search.chosen().into_iter();
    chosen
        .filter(|at| state.cell(*at, &book.layout) != search.base.cell(*at, &book.layout))
        .count()
}
