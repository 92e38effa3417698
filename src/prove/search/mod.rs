//! Looks for a boat: statements are given to the solver only once a boat that it found breaks them.

mod links;
mod orders;
mod products;
mod statements;
mod variables;
mod weigh;

#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use super::book::{Book, Fact};
use super::common::Side;
use super::formula::Formula;
use super::solve::{Answer, Limits, Literal, NumberVar, Solver};
use super::state::{At, Cell, State};
use super::term::TermId;
use crate::quantity::Exact;

/// What a search comes to.
#[derive(Debug)]
pub(super) enum Found {
    /// A boat that meets everything.
    Boat(Box<State>),
    /// There is none; what was assumed and suffices for that.
    None(Vec<Literal>),
    /// It is not known, in words.
    Unknown(String),
}

/// Which statements have to hold beside the laws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Under {
    pub old: bool,
    pub new: bool,
}

impl Under {
    pub fn only(side: Side) -> Under {
        Under {
            old: side == Side::Old,
            new: side == Side::New,
        }
    }
}

/// Where a statement comes from, with the item and place it is said of.
type Instance = (u8, usize, usize, usize);

/// A search near a boat that is known.
pub(super) struct Search<'b, 'r> {
    pub book: &'b Book<'r>,
    /// The boat that everything not asked for is taken from.
    pub base: &'b State,
    /// The first so many of its items are there in every boat: the boat itself and single parts.
    fixed: usize,
    pub solver: Solver,
    numbers: BTreeMap<At, NumberVar>,
    truths: BTreeMap<At, Literal>,
    choices: BTreeMap<At, Vec<Literal>>,
    present: BTreeMap<usize, Literal>,
    products: HashMap<Vec<At>, NumberVar>,
    linked: BTreeSet<At>,
    /// By count or sum: what is left of it to items that it is not tied to.
    rests: BTreeMap<At, links::Rest>,
    /// Pairs of counts and sums, by whether the first is known not to be above the second.
    ordered: BTreeMap<(TermId, TermId), bool>,
    added: HashSet<Instance>,
    under: Under,
    /// Statements that may not count, by their clauses: those under question.
    pub without: Vec<(Side, usize)>,
    /// Statements that are not looked at, by group and place.
    left_out: HashSet<(u8, usize)>,
    /// The literals that stand for clauses where a reason is wanted, by side and clause.
    pub guards: Option<BTreeMap<(u8, usize), Literal>>,
    wishes: Vec<Literal>,
    everything: bool,
    /// What was asked for beside the statements of versions, with item and place.
    asked: Vec<(Formula, usize, usize)>,
    /// The boat of the round before, whose values the next one overwrites.
    last: Option<State>,
}

impl<'b, 'r> Search<'b, 'r> {
    /// A search for boats that keep the laws and the statements of some versions. The base need not keep them where
    /// `everything` is looked at, else it does.
    pub fn new(
        book: &'b Book<'r>,
        base: &'b State,
        under: Under,
        everything: bool,
    ) -> Search<'b, 'r> {
        let single = |item: &super::state::ItemState| {
            let holding = item.holding.and_then(|ix| book.common.holding(ix));
            holding.is_none_or(|one| !one.many)
        };
        let fixed = base.items.iter().take_while(|item| single(item)).count();
        let mut solver = Solver::new();
        solver.set_limits(Limits {
            conflicts: 20_000,
            ..Limits::default()
        });
        Search {
            book,
            base,
            fixed,
            solver,
            numbers: BTreeMap::new(),
            truths: BTreeMap::new(),
            choices: BTreeMap::new(),
            present: BTreeMap::new(),
            products: HashMap::new(),
            linked: BTreeSet::new(),
            rests: BTreeMap::new(),
            ordered: BTreeMap::new(),
            added: HashSet::new(),
            under,
            without: Vec::new(),
            left_out: HashSet::new(),
            guards: None,
            wishes: Vec::new(),
            everything,
            asked: Vec::new(),
            last: None,
        }
    }

    /// A literal that says that a value is that of another boat.
    pub fn same(&mut self, at: At, cell: &Cell) -> Vec<Literal> {
        match cell {
            Cell::Number(value) => {
                let var = self.number(at);
                vec![
                    self.solver
                        .constraint(&[(var, Exact::ONE)], &value.neg(), false),
                    self.solver
                        .constraint(&[(var, Exact::ONE.neg())], value, false),
                ]
            }
            Cell::Truth(yes) => {
                let literal = self.truth(at);
                vec![if *yes { literal } else { !literal }]
            }
            Cell::Choice(choice) => {
                let all = self.choice(at);
                all.get(usize::from(*choice)).copied().into_iter().collect()
            }
        }
    }

    /// Every value that the solver chooses of a boat; what follows from others, such as counts, it does not choose.
    pub fn chosen(&self) -> Vec<At> {
        let mut all: Vec<At> = self.numbers.keys().copied().collect();
        all.extend(self.truths.keys());
        all.extend(self.choices.keys());
        all.retain(|at| !self.follows(*at));
        all.sort_unstable();
        all
    }

    /// The items that may be there or not and that the solver knows of, each with what says that it is as in the base.
    pub fn as_before(&self) -> Vec<(usize, Literal)> {
        let there = |item: usize| self.base.items.get(item).is_some_and(|one| one.present);
        let each = self.present.iter();
        each.map(|(item, literal)| (*item, if there(*item) { *literal } else { !*literal }))
            .collect()
    }

    /// The number of a value, where the solver chooses it.
    pub fn number_of(&self, at: At) -> Option<NumberVar> {
        self.numbers.get(&at).copied()
    }

    /// Looks for a boat under assumptions.
    pub fn find(&mut self, assumptions: &[Literal]) -> Found {
        loop {
            match self.find_among_few(assumptions) {
                Found::None(core) if self.link_more(&core) => {}
                found => return found,
            }
        }
    }

    /// The same while counts and sums are of no more items than they are tied to. That there is no such boat may rest on
    /// that: `link_more` tells.
    pub fn find_among_few(&mut self, assumptions: &[Literal]) -> Found {
        let mut pins: Vec<Literal> = Vec::new();
        let mut dropped: BTreeSet<Literal> = BTreeSet::new();
        let mut pinned_tries = 0;
        for _ in 0..MOST_ROUNDS {
            let wishes: Vec<Literal> = self
                .wishes
                .iter()
                .copied()
                .filter(|one| !dropped.contains(one))
                .collect();
            let guards: Vec<Literal> = self
                .guards
                .iter()
                .flat_map(|all| all.values().copied())
                .collect();
            let all: Vec<Literal> = assumptions
                .iter()
                .chain(&self.no_more())
                .chain(&guards)
                .chain(&pins)
                .chain(&wishes)
                .copied()
                .collect();
            match self.solver.solve(&all) {
                Answer::GaveUp => {
                    return Found::Unknown("the search took too much work".to_owned());
                }
                Answer::Unsatisfiable(core) => {
                    let wished: Vec<Literal> = core
                        .iter()
                        .copied()
                        .filter(|one| {
                            wishes.contains(one)
                                && !assumptions.contains(one)
                                && !pins.contains(one)
                        })
                        .collect();
                    if !wished.is_empty() {
                        // What is merely plausible gives way.
                        dropped.extend(wished);
                        continue;
                    }
                    if core.iter().any(|one| pins.contains(one)) {
                        pinned_tries += 1;
                        if pinned_tries > 4 {
                            return Found::Unknown(
                                "it turns on a product of measured values".to_owned(),
                            );
                        }
                        pins = self.pin(pinned_tries);
                        if pins.is_empty() {
                            return Found::Unknown(
                                "it turns on a product of measured values".to_owned(),
                            );
                        }
                        continue;
                    }
                    return Found::None(core);
                }
                Answer::Satisfiable => {
                    let candidate = self.candidate();
                    let (broken, already) = self.broken(&candidate);
                    let loose = self.loose(&candidate);
                    if broken.is_empty() && loose.is_empty() {
                        if already.is_empty() {
                            return Found::Boat(Box::new(candidate));
                        }
                        // The solver takes products for numbers of their own: they are held to their factors.
                        let more = self.pin(pinned_tries);
                        let new: Vec<Literal> =
                            more.into_iter().filter(|one| !pins.contains(one)).collect();
                        if new.is_empty() {
                            return Found::Unknown(
                                "it turns on a product of measured values".to_owned(),
                            );
                        }
                        pins.extend(new);
                        continue;
                    }
                    if !self.order(&loose) {
                        for at in loose {
                            self.link(at);
                        }
                    }
                    for instance in broken {
                        self.add(instance);
                    }
                    self.last = Some(candidate);
                }
            }
        }
        Found::Unknown("the search took too many rounds".to_owned())
    }

    /// The boat of the solver's model; what it does not choose is as in the base.
    fn candidate(&mut self) -> State {
        // Whatever a round before set is set again.
        let last = self.last.take();
        let mut state = last.unwrap_or_else(|| self.base.clone());
        let mut other_items = false;
        for (item, literal) in &self.present {
            if let Some(item) = state.items.get_mut(*item) {
                let present = self.solver.bool_value(*literal) == Some(true);
                other_items |= item.present != present;
                item.present = present;
            }
        }
        let layout = &self.book.layout;
        let mut changed: BTreeSet<TermId> = BTreeSet::new();
        let mut set = |at: At, cell: Cell| {
            if state.cell(at, layout) != Some(&cell) {
                changed.insert(at.term);
                state.set(at, cell, layout);
            }
        };
        for (at, var) in &self.numbers {
            if !self.follows(*at) {
                set(*at, Cell::Number(self.solver.value(*var)));
            }
        }
        for (at, literal) in &self.truths {
            if !self.follows(*at) {
                set(
                    *at,
                    Cell::Truth(self.solver.bool_value(*literal) == Some(true)),
                );
            }
        }
        for (at, list) in &self.choices {
            let chosen = list
                .iter()
                .position(|one| self.solver.bool_value(*one) == Some(true));
            if let Some(chosen) = chosen.and_then(|at| u16::try_from(at).ok()) {
                set(*at, Cell::Choice(chosen));
            }
        }
        state.settle_of(self.book, &changed, other_items);
        state
    }

    /// Whether a value follows from others, as counts do.
    fn follows(&self, at: At) -> bool {
        at.item == 0 && self.book.derived.contains(&at.term)
    }

    /// Sets a value where with it the boat still keeps all that it has to; else leaves it as it was. The boat keeps all of
    /// that, and the value is one that the solver chooses.
    pub fn set_if_kept(&self, state: &mut State, at: At, cell: Cell) -> bool {
        let layout = &self.book.layout;
        let Some(before) = state.cell(at, layout).cloned() else {
            return false;
        };
        let term = BTreeSet::from([at.term]);
        state.set(at, cell, layout);
        state.settle_of(self.book, &term, false);
        let (broken, already) = self.broken(state);
        if broken.is_empty() && already.is_empty() {
            return true;
        }
        state.set(at, before, layout);
        state.settle_of(self.book, &term, false);
        false
    }

    /// Counts and sums that the solver chose otherwise than the items say.
    fn loose(&self, candidate: &State) -> Vec<At> {
        let mut found = Vec::new();
        for term in &self.book.derived {
            let at = At::of_boat(*term);
            if self.linked.contains(&at) && !self.rests.contains_key(&at) {
                continue;
            }
            let own = match (self.numbers.get(&at), self.truths.get(&at)) {
                (Some(var), _) => Cell::Number(self.solver.value(*var)),
                (None, Some(literal)) => {
                    Cell::Truth(self.solver.bool_value(*literal) == Some(true))
                }
                (None, None) => continue,
            };
            if candidate.cell(at, &self.book.layout) != Some(&own) {
                found.push(at);
            }
        }
        found
    }

    /// Statements that a boat breaks: those that the solver does not know yet, and those that it takes for kept.
    fn broken(&self, candidate: &State) -> (Vec<Instance>, Vec<Instance>) {
        let layout = &self.book.layout;
        let mut changed: BTreeSet<(u32, usize)> = BTreeSet::new();
        let mut new_items: Vec<usize> = Vec::new();
        for (number, (item, base)) in candidate.items.iter().zip(&self.base.items).enumerate() {
            if item.present && !base.present {
                new_items.push(number);
            }
        }
        if !self.everything {
            let derived = self.book.derived.iter().copied().map(At::of_boat);
            for at in self
                .numbers
                .keys()
                .chain(self.truths.keys())
                .chain(self.choices.keys())
                .copied()
                .chain(derived)
            {
                if candidate.cell(at, layout) != self.base.cell(at, layout) {
                    changed.insert((at.term.0, at.item));
                }
            }
        }
        let (mut broken, mut already) = (Vec::new(), Vec::new());
        for (number, (formula, item, place)) in self.asked.iter().enumerate() {
            if !candidate.holds(formula, *item, *place, layout) {
                already.push((u8::MAX, number, *item, *place));
            }
        }
        for group in 0..3_u8 {
            let version = match group {
                0 => &self.book.laws,
                1 if self.under.old => &self.book.old,
                2 if self.under.new => &self.book.new,
                _ => continue,
            };
            let mut touched: HashMap<usize, Touched> = HashMap::new();
            for (term, item) in &changed {
                let lists = usize::try_from(*term)
                    .ok()
                    .and_then(|term| version.by_term.get(term));
                for spoken in lists.into_iter().flatten() {
                    let known = touched.entry(spoken.fact).or_default();
                    if spoken.own {
                        known.on.push(*item);
                    } else {
                        known.everywhere = true;
                    }
                }
            }
            for (number, fact) in version.facts.iter().enumerate() {
                let touched = touched.get(&number);
                if !self.everything && touched.is_none() && new_items.is_empty() {
                    continue;
                }
                if self.left_out.contains(&(group, number))
                    || self.without.iter().any(|(side, clause)| {
                        *clause == version.clause_of(number) && group == group_of(*side)
                    })
                {
                    continue;
                }
                for (item, state) in candidate.items.iter().enumerate() {
                    if !state.present
                        || state.part != fact.on
                        || !(self.everything
                            || touched.is_some_and(|touched| touched.at(item))
                            || new_items.contains(&item))
                    {
                        continue;
                    }
                    for place in self.places(fact, candidate, item) {
                        if !candidate.holds(&fact.holds, item, place, layout) {
                            let instance = (group, number, item, place);
                            if self.added.contains(&instance) {
                                already.push(instance);
                            } else {
                                broken.push(instance);
                            }
                        }
                    }
                }
            }
        }
        (broken, already)
    }

    /// The places at which a statement is said of an item.
    fn places(&self, fact: &Fact, state: &State, item: usize) -> std::ops::Range<usize> {
        if let Some(only) = fact.only_place {
            return only..only + 1;
        }
        places_of(fact.place_of, state, item)
    }

    fn add(&mut self, instance: Instance) {
        if !self.added.insert(instance) {
            return;
        }
        let (group, number, item, place) = instance;
        let book = self.book;
        let version = match group {
            0 => &book.laws,
            1 => &book.old,
            _ => &book.new,
        };
        let Some(fact) = version.facts.get(number) else {
            return;
        };
        let present = self.presence(item);
        let mut unless = Vec::new();
        if present != Literal::TRUE {
            unless.push(!present);
        }
        if group > 0 && self.guards.is_some() {
            let known = self
                .guards
                .as_ref()
                .and_then(|all| all.get(&(group, number)))
                .copied();
            let guard = known.unwrap_or_else(|| self.solver.new_bool());
            if let Some(all) = &mut self.guards {
                all.insert((group, number), guard);
            }
            unless.push(!guard);
        }
        self.require(&fact.holds, item, place, &unless);
    }
}

/// On which items a statement may have become false.
#[derive(Default)]
struct Touched {
    everywhere: bool,
    on: Vec<usize>,
}

impl Touched {
    fn at(&self, item: usize) -> bool {
        self.everywhere || self.on.contains(&item)
    }
}

/// No search goes more rounds.
const MOST_ROUNDS: usize = 400;

pub(super) fn group_of(side: Side) -> u8 {
    match side {
        Side::Old => 1,
        Side::New => 2,
    }
}

/// The places of the item that a statement about another one speaks of.
pub(super) fn places_of(
    place_of: Option<super::term::Whose>,
    state: &State,
    item: usize,
) -> std::ops::Range<usize> {
    use super::term::Whose;
    let of = match place_of {
        None => return 0..1,
        Some(Whose::Own) => Some(item),
        Some(Whose::Boat) => Some(0),
        Some(Whose::One(holding)) => state
            .items
            .iter()
            .position(|one| one.present && one.holding == Some(holding)),
        Some(Whose::Role(role)) => state
            .items
            .get(item)
            .and_then(|one| one.roles.get(role.index()))
            .copied(),
    };
    0..of
        .and_then(|of| state.items.get(of))
        .map_or(0, |one| one.places.len())
}
