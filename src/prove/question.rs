//! One question: is there a boat that is legal under one version and breaks a clause of the other, and which one differs
//! least from a legal boat?

use std::collections::{BTreeMap, BTreeSet};

use super::book::{Book, Fact};
use super::common::{HoldingIx, PartIx, Side};
use super::formula::Formula;
use super::round::{Ends, round_day, round_number};
use super::search::{Found, Search, Under, places_of};
use super::solve::{Limits, Literal};
use super::start::Start;
use super::state::{At, Cell, State};
use super::term::{Sort, TermId, What};

/// What is known of a question.
#[derive(Debug)]
pub(super) enum Verdict {
    /// There is no such boat.
    None,
    /// Here is one.
    Boat(Box<Shown>),
    /// It is not known, in words.
    Unknown(String),
}

/// A boat that answers a question.
#[derive(Clone, Debug)]
pub(super) struct Shown {
    pub state: State,
    /// Who can be hit: choices of traits of the item, where not all of them can.
    pub whom: Vec<(TermId, Vec<u16>)>,
    /// How much differs, an item more counted several times.
    pub cost: usize,
}

/// A boat that is legal under a version and breaks a clause of the other one.
pub(super) fn ask(book: &Book<'_>, start: &Start, legal: Side, clause: usize) -> Verdict {
    let breaks = legal.other();
    let Some(fact) = book.version(breaks).facts.get(clause) else {
        return Verdict::None;
    };
    let same = |other: &Fact| {
        other.on == fact.on && other.place_of == fact.place_of && other.holds == fact.holds
    };
    if fact.holds == Formula::True || book.version(legal).facts.iter().any(same) {
        return Verdict::None;
    }
    let opposite = fact.holds.negated(&book.terms);
    let under = Under::only(legal);
    let known_legal = match legal {
        Side::Old => start.legal.old,
        Side::New => start.legal.new,
    };
    let mut unknown = None;
    let mut best: Option<Shown> = None;
    for item in candidates(&start.state, fact.on) {
        let mut search = Search::new(book, &start.state, under, !known_legal);
        begin(&mut search, &opposite, fact, item);
        match search.find(&[]) {
            Found::Boat(state) => {
                let (state, differs) = refined(&mut search, &opposite, item, *state);
                let added = start.state.items.iter().zip(&state.items);
                let added = added
                    .filter(|(before, after)| before.present != after.present)
                    .count();
                let cost = differs + 3 * added;
                if best.as_ref().is_none_or(|best| cost < best.cost) {
                    let whom = whom(&mut search, fact, item, &state);
                    best = Some(Shown { state, whom, cost });
                }
                if cost <= ENOUGH {
                    break;
                }
            }
            Found::None(_) => {}
            Found::Unknown(words) => {
                unknown.get_or_insert(words);
            }
        }
    }
    match (best, opaque(book, &opposite), unknown) {
        (Some(_), Some(words), _) => Verdict::Unknown(words),
        (Some(best), None, _) => Verdict::Boat(Box::new(best)),
        (None, _, Some(words)) => Verdict::Unknown(words),
        (None, _, None) => Verdict::None,
    }
}

/// With so few differences no other item is tried.
const ENOUGH: usize = 2;

/// Has an item break a statement.
pub(super) fn begin(search: &mut Search<'_, '_>, opposite: &Formula, fact: &Fact, item: usize) {
    search.has(item);
    // All places are alike: it is broken at the first.
    let place = places_of(fact.place_of, search.base, item).start;
    search.ask(opposite, item, place);
}

/// What an item fills, its roles in groups, and whether it is there.
type Likeness = (Option<HoldingIx>, Vec<(PartIx, usize)>, bool);

/// The items on which a clause can be broken: one of each kind that differs in what else speaks of it.
pub(super) fn candidates(state: &State, part: PartIx) -> Vec<usize> {
    let mut seen: BTreeSet<Likeness> = BTreeSet::new();
    let mut found: Vec<(bool, usize, usize)> = Vec::new();
    for (at, item) in state.items.iter().enumerate() {
        if item.part != part {
            continue;
        }
        let mut roles: Vec<(PartIx, usize)> = Vec::new();
        for group in state.items.iter().filter(|group| group.present) {
            for (role, filled) in group.roles.iter().enumerate() {
                if *filled == at {
                    roles.push((group.part, role));
                }
            }
        }
        let groups = roles.len();
        if seen.insert((item.holding, roles, item.present)) {
            found.push((!item.present, groups, at));
        }
    }
    // Items that are there come first, and of them those in no group, which are the freest.
    found.sort_unstable();
    found.into_iter().map(|(_, _, at)| at).collect()
}

/// Why a statement can't be trusted with a boat: it speaks of what statements can't be made of.
fn opaque(book: &Book<'_>, formula: &Formula) -> Option<String> {
    let mut found = None;
    formula.each_var(&mut |var| {
        if let Some(What::Opaque(words)) = book.what(var.term) {
            found.get_or_insert_with(|| words.clone());
        }
    });
    found
}

/// The boat with as little as possible otherwise than in the base, and with round numbers.
fn refined(
    search: &mut Search<'_, '_>,
    opposite: &Formula,
    item: usize,
    found: State,
) -> (State, usize) {
    let book = search.book;
    // A boat that differs less is worth some work and not more.
    search.solver.set_limits(Limits {
        conflicts: 1_000,
        ..Limits::default()
    });
    let mut own: BTreeSet<At> = BTreeSet::new();
    opposite.each_var(&mut |var| {
        if let Some(at) = search.base.at(var, item, 0, &book.layout) {
            own.insert(at);
        }
    });
    let mut state = found;
    let mut kept: BTreeMap<At, Vec<Literal>> = BTreeMap::new();
    let mut dropped: Vec<At> = Vec::new();
    let mut absent: BTreeMap<usize, Literal> = BTreeMap::new();
    let mut needed: BTreeSet<usize> = BTreeSet::new();
    // Keeps all that can be kept: what stands in the way is let go, what is asked about first.
    for _ in 0..MOST_STEPS {
        let mut new = false;
        for at in search.chosen() {
            if kept.contains_key(&at) || dropped.contains(&at) {
                continue;
            }
            if let Some(cell) = search.base.cell(at, &book.layout).cloned() {
                let same = search.same(at, &cell);
                kept.insert(at, same);
                new = true;
            }
        }
        for (item, as_before) in search.as_before() {
            if !needed.contains(&item) && !absent.contains_key(&item) {
                absent.insert(item, as_before);
                new = true;
            }
        }
        let assumed = assumptions(&kept, &absent);
        match search.find(&assumed) {
            Found::Boat(boat) => {
                state = *boat;
                let more = search
                    .chosen()
                    .into_iter()
                    .any(|at| !kept.contains_key(&at) && !dropped.contains(&at));
                if !new || !more {
                    break;
                }
            }
            Found::None(core) => {
                let in_core = |list: &[Literal]| list.iter().any(|one| core.contains(one));
                let mut guilty: Vec<At> = kept
                    .iter()
                    .filter(|(_, list)| in_core(list))
                    .map(|(at, _)| *at)
                    .collect();
                guilty.sort_by_key(|at| (!own.contains(at), rank(search, *at), *at));
                let lost = absent
                    .iter()
                    .find(|(_, literal)| core.contains(literal))
                    .map(|(item, _)| *item);
                match (guilty.first().copied(), lost) {
                    (Some(at), None) => {
                        kept.remove(&at);
                        dropped.push(at);
                    }
                    (Some(at), Some(_)) if own.contains(&at) => {
                        kept.remove(&at);
                        dropped.push(at);
                    }
                    (_, Some(item)) => {
                        absent.remove(&item);
                        needed.insert(item);
                    }
                    (None, None) => break,
                }
            }
            Found::Unknown(_) => {
                let differs = differing(search, &state);
                return (state, differs);
            }
        }
    }
    // One by one, what was let go is taken back if it can be.
    for at in dropped.clone() {
        let Some(cell) = search.base.cell(at, &book.layout).cloned() else {
            continue;
        };
        let same = search.same(at, &cell);
        let mut assumed = assumptions(&kept, &absent);
        assumed.extend(&same);
        if let Found::Boat(boat) = search.find(&assumed) {
            state = *boat;
            kept.insert(at, same);
            dropped.retain(|other| *other != at);
        }
    }
    let assumed = assumptions(&kept, &absent);
    let state = with_round_numbers(search, state, dropped, assumed);
    let differs = differing(search, &state);
    (state, differs)
}

/// What is assumed where values and items are as in the base.
fn assumptions(
    kept: &BTreeMap<At, Vec<Literal>>,
    items: &BTreeMap<usize, Literal>,
) -> Vec<Literal> {
    let values = kept.values().flatten();
    values.chain(items.values()).copied().collect()
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
    mut assumed: Vec<Literal>,
) -> State {
    let book = search.book;
    for at in of {
        let Found::Boat(boat) = search.find(&assumed) else {
            break;
        };
        state = *boat;
        let Some(cell) = state.cell(at, &book.layout).cloned() else {
            continue;
        };
        let mut fixed = search.same(at, &cell);
        if let (Some(var), Cell::Number(value)) = (search.number_of(at), &cell) {
            let (low, high) = search.solver.range(var);
            let near = match search.base.cell(at, &book.layout) {
                Some(Cell::Number(near)) => near.clone(),
                _ => value.clone(),
            };
            let ends = Ends { low, high };
            let round = match book.terms.get(at.term).map(|term| &term.sort) {
                Some(Sort::Day) => round_day(&ends, &near),
                _ => round_number(&ends, &near, book.unit(at.term)),
            };
            if let Some(round) = round {
                let same = search.same(at, &Cell::Number(round));
                let tried: Vec<Literal> = assumed.iter().chain(&same).copied().collect();
                if let Found::Boat(boat) = search.find(&tried) {
                    state = *boat;
                    fixed = same;
                }
            }
        }
        assumed.extend(fixed);
    }
    state
}

/// No boat is refined in more steps.
const MOST_STEPS: usize = 200;

/// What is let go first: numbers, then answers and choices, last what belongs to the context.
fn rank(search: &Search<'_, '_>, at: At) -> u8 {
    match search
        .book
        .terms
        .get(at.term)
        .map(|term| (&term.what, &term.sort))
    {
        Some((What::Stage | What::Level | What::Day, _)) => 3,
        Some((_, Sort::Number { .. })) => 0,
        Some((_, Sort::Day | Sort::Count | Sort::Truth)) => 1,
        Some((_, Sort::Choice(_))) | None => 2,
    }
}

/// How many of the values that a search chose differ from those of its base.
fn differing(search: &Search<'_, '_>, state: &State) -> usize {
    let book = search.book;
    let chosen = search.chosen().into_iter();
    chosen
        .filter(|at| state.cell(*at, &book.layout) != search.base.cell(*at, &book.layout))
        .count()
}

/// Choices of the item and of the context for which the clause can be broken, where not all of them can.
fn whom(
    search: &mut Search<'_, '_>,
    fact: &Fact,
    item: usize,
    boat: &State,
) -> Vec<(TermId, Vec<u16>)> {
    let book = search.book;
    let mut asked: BTreeSet<At> = BTreeSet::new();
    fact.holds.each_var(&mut |var| {
        if let (Some(at), Some(Sort::Choice(_))) = (
            search.base.at(var, item, 0, &book.layout),
            book.terms.get(var.term).map(|term| &term.sort),
        ) {
            asked.insert(at);
        }
    });
    let mut found = Vec::new();
    // Choices of boats that break it, so that what one boat shows is not asked again.
    let mut shown: BTreeSet<(At, u16)> = BTreeSet::new();
    let show = |state: &State, shown: &mut BTreeSet<(At, u16)>| {
        for at in &asked {
            if let Some(Cell::Choice(choice)) = state.cell(*at, &book.layout) {
                shown.insert((*at, *choice));
            }
        }
    };
    show(boat, &mut shown);
    for at in &asked {
        let Some(Sort::Choice(all)) = book.terms.get(at.term).map(|term| term.sort.clone()) else {
            continue;
        };
        let mut hit = Vec::new();
        for choice in 0..all {
            if !shown.contains(&(*at, choice)) {
                let same = search.same(*at, &Cell::Choice(choice));
                match search.find(&same) {
                    Found::None(_) => continue,
                    Found::Boat(boat) => show(&boat, &mut shown),
                    // What is not known may be.
                    Found::Unknown(_) => {}
                }
            }
            hit.push(choice);
        }
        if hit.len() < usize::from(all) {
            found.push((at.term, hit));
        }
    }
    found
}
