//! One question: is there a boat that is legal under one version and breaks a clause of the other, and which one differs
//! least from a legal boat?

use std::collections::BTreeSet;

use super::book::{Book, Fact};
use super::common::{HoldingIx, PartIx, Side};
use super::formula::Formula;
use super::near::{differing, nearest};
use super::search::{Found, Search, Under, places_of};
use super::solve::Work;
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
    ask_counting(book, start, legal, clause, &mut Work::default())
}

/// The same, and what it costs is added.
pub(super) fn ask_counting(
    book: &Book<'_>,
    start: &Start,
    legal: Side,
    clause: usize,
    work: &mut Work,
) -> Verdict {
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
        let nearest = nearest(&mut search, &opposite, item);
        let mut is_enough = false;
        match nearest {
            Found::Boat(state) => {
                let differs = differing(&search, &state);
                let added = start.state.items.iter().zip(&state.items);
                let added = added
                    .filter(|(before, after)| before.present != after.present)
                    .count();
                let cost = differs + 3 * added;
                if best.as_ref().is_none_or(|best| cost < best.cost) {
                    let whom = whom(&mut search, fact, item, &state);
                    best = Some(Shown {
                        state: *state,
                        whom,
                        cost,
                    });
                }
                is_enough = cost <= ENOUGH;
            }
            Found::None(_) => {}
            Found::Unknown(words) => {
                unknown.get_or_insert(words);
            }
        }
        *work = work.and(search.solver.work());
        if is_enough {
            break;
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
                // Often the boat may have this choice and all else as it is.
                let mut other = boat.clone();
                if search.set_if_kept(&mut other, *at, Cell::Choice(choice)) {
                    hit.push(choice);
                    continue;
                }
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
