//! All that a comparison knows of two versions: their statements, the laws of terms, and which statement speaks of what.

use std::collections::{BTreeMap, BTreeSet};

use super::common::{Common, HoldingIx, PartIx, Side, TraitIx};
use super::days::day_number;
use super::formula::Formula;
use super::legal::{Clause, Legal, laws, legal};
use super::state::Layout;
use super::term::{Poly, Sort, Term, TermId, Terms, Var, What, Whose};
use crate::expression::Op;
use crate::quantity::{Date, Dimension, Exact, Unit, YEARS};
use crate::rules::RulesFile;
use crate::vocabulary::MeasureKind;

/// A statement that has to hold of every item of a kind, at every place where it speaks of places.
#[derive(Clone, Debug)]
pub(super) struct Fact {
    pub on: PartIx,
    /// Whose places it speaks of.
    pub place_of: Option<Whose>,
    /// Only at this place, a place of its own.
    pub only_place: Option<usize>,
    pub holds: Formula,
}

/// What is known of two versions.
pub(super) struct Book<'r> {
    pub common: Common<'r>,
    pub terms: Terms,
    pub layout: Layout,
    pub old: Version,
    pub new: Version,
    /// What holds of every boat.
    pub laws: Version,
    /// The number of places of each part on which proofs look.
    pub places: Vec<usize>,
    /// Up to so many items of each holding.
    pub reach: Vec<usize>,
    /// Terms that follow from others: counts, sums.
    pub derived: Vec<TermId>,
    /// Of each of those the terms that it follows from.
    pub rests_on: Vec<BTreeSet<TermId>>,
    /// The first day on which both are in force.
    pub from: Date,
    /// Units in which the newer version writes limits.
    units: Vec<Unit>,
}

/// A statement that speaks of a term.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spoken {
    pub fact: usize,
    /// Only of that of the item itself, so that another item's does not matter to it.
    pub own: bool,
}

/// Statements, and by term those that speak of it.
#[derive(Default)]
pub(super) struct Version {
    pub facts: Vec<Fact>,
    pub by_term: Vec<Vec<Spoken>>,
    pub legal: Option<Legal>,
    /// By fact behind those of the clauses: the clause that it belongs to.
    pub belongs: Vec<usize>,
}

impl Version {
    /// The clause that a fact belongs to.
    pub fn clause_of(&self, fact: usize) -> usize {
        match fact.checked_sub(self.clauses().len()) {
            None => fact,
            Some(behind) => self.belongs.get(behind).copied().unwrap_or(fact),
        }
    }

    /// The clauses of a version, in the order of its facts.
    pub fn clauses(&self) -> &[Clause] {
        self.legal.as_ref().map_or(&[], |legal| &legal.clauses)
    }

    fn of(facts: Vec<Fact>, legal: Option<Legal>, terms: &Terms) -> Version {
        let mut by_term = vec![Vec::new(); terms.len()];
        for (at, fact) in facts.iter().enumerate() {
            let mut seen: BTreeMap<TermId, bool> = BTreeMap::new();
            fact.holds.each_var(&mut |var| {
                let own = seen.entry(var.term).or_insert(true);
                *own &= var.whose == Whose::Own;
            });
            for (id, own) in seen {
                if let Some(list) = index(id).and_then(|at| by_term.get_mut(at)) {
                    let list: &mut Vec<Spoken> = list;
                    list.push(Spoken { fact: at, own });
                }
            }
        }
        let belongs = legal.as_ref().map_or(Vec::new(), |legal| {
            let each = legal.clauses.iter().enumerate();
            each.flat_map(|(at, clause)| clause.regions.iter().map(move |_| at))
                .collect()
        });
        Version {
            facts,
            by_term,
            legal,
            belongs,
        }
    }
}

fn index(id: TermId) -> Option<usize> {
    usize::try_from(id.0).ok()
}

/// Whose places a statement speaks of.
pub(super) fn place_of(formula: &Formula, terms: &Terms) -> Option<Whose> {
    let mut found = None;
    formula.each_var(&mut |var| {
        if terms.is_placed(var.term) {
            found.get_or_insert(var.whose);
        }
    });
    found
}

impl<'r> Book<'r> {
    pub fn of(common: Common<'r>) -> Book<'r> {
        let mut terms = Terms::default();
        let was = legal(&common, Side::Old, &mut terms);
        let is = legal(&common, Side::New, &mut terms);
        Book::with(common, terms, was, is)
    }

    fn with(common: Common<'r>, mut terms: Terms, was: Legal, is: Legal) -> Book<'r> {
        let from = common.old.in_force_from.max(common.new.in_force_from);
        let mut own = context(&common, &mut terms, from);
        let all: Vec<(TermId, Term)> = terms.all().map(|(id, term)| (id, term.clone())).collect();
        // The first place is one like any other; each extreme has a place of its own where it is reached.
        let mut places: Vec<usize> = common.parts.iter().map(|_| 0).collect();
        for (_, term) in &all {
            if term.placed
                && let Some(count) = places.get_mut(term.part.index())
            {
                *count = 1;
            }
        }
        for (id, term) in &all {
            let this = Poly::var(Var {
                whose: Whose::Own,
                term: *id,
            });
            let mut add = |holds: Formula, own_place: bool| {
                let count = places.get_mut(term.part.index());
                let only_place = match (count, own_place) {
                    (Some(count), true) => {
                        *count += 1;
                        Some(*count - 1)
                    }
                    _ => None,
                };
                own.push(Fact {
                    on: term.part,
                    place_of: Some(Whose::Own),
                    only_place,
                    holds,
                });
            };
            match &term.what {
                What::Lowest(poly) => {
                    add(Formula::sign(&poly.minus(&this), false, &terms), false);
                    add(Formula::sign(&this.minus(poly), false, &terms), true);
                }
                What::Highest(poly) => {
                    add(Formula::sign(&this.minus(poly), false, &terms), false);
                    add(Formula::sign(&poly.minus(&this), false, &terms), true);
                }
                What::Mean(poly, looked) => {
                    let below = Formula::sign(&this.minus(poly), false, &terms);
                    let above = Formula::sign(&poly.minus(&this), false, &terms);
                    let none = terms.known(term.part, &What::LeftOut(looked.clone()));
                    let none = none.map_or(Formula::False, |term| {
                        let var = Var {
                            whose: Whose::Own,
                            term,
                        };
                        Formula::Truth(var, true)
                    });
                    for side in [below, above] {
                        let there = Formula::all([looked.clone(), side]);
                        add(Formula::any([none.clone(), there]), true);
                    }
                }
                What::LeftOut(looked) => {
                    let var = Var {
                        whose: Whose::Own,
                        term: *id,
                    };
                    let not = Formula::Truth(var, false);
                    add(Formula::any([not, looked.negated(&terms)]), false);
                }
                _ => {}
            }
        }
        for (on, holds) in lists(&common, &mut terms) {
            own.push(Fact {
                on,
                place_of: None,
                only_place: None,
                holds,
            });
        }
        for (on, holds) in laws(&terms) {
            own.push(Fact {
                on,
                place_of: place_of(&holds, &terms),
                only_place: None,
                holds,
            });
        }
        let derived = all.iter().filter(|(_, term)| {
            matches!(term.what, What::Count(..) | What::Sum(..) | What::Odd(..))
        });
        let (derived, rests_on) = derived
            .map(|(id, term)| (*id, rests_on(&term.what)))
            .unzip();
        let mut seen: Vec<(PartIx, Formula, usize)> = Vec::new();
        let mut facts = |legal: &Legal, terms: &Terms| -> Vec<Fact> {
            let each = legal.clauses.iter().map(|clause| Fact {
                on: clause.on,
                place_of: place_of(&clause.holds, terms),
                only_place: None,
                holds: clause.holds.clone(),
            });
            let mut all: Vec<Fact> = each.collect();
            // Behind the clauses: where a rule is asked, there is a place in each of its regions.
            for clause in &legal.clauses {
                for region in &clause.regions {
                    let known = seen
                        .iter()
                        .find(|(part, other, _)| *part == clause.on && other == region);
                    let place = match (known, places.get_mut(clause.on.index())) {
                        (Some((_, _, place)), _) => *place,
                        (None, Some(count)) => {
                            *count += 1;
                            seen.push((clause.on, region.clone(), *count - 1));
                            *count - 1
                        }
                        (None, None) => continue,
                    };
                    let holds = clause.asked.clone().implies(region.clone(), terms);
                    all.push(Fact {
                        on: clause.on,
                        place_of: Some(Whose::Own),
                        only_place: Some(place),
                        holds,
                    });
                }
            }
            all
        };
        let reach = reach(&common, &terms, [&was, &is]);
        let layout = Layout::of(&common, &terms);
        let (of_old, of_new) = (facts(&was, &terms), facts(&is, &terms));
        Book {
            old: Version::of(of_old, Some(was), &terms),
            new: Version::of(of_new, Some(is), &terms),
            laws: Version::of(own, None, &terms),
            units: units(common.new),
            common,
            layout,
            places,
            reach,
            derived,
            rests_on,
            from,
            terms,
        }
    }

    /// The statements of a version.
    pub fn version(&self, side: Side) -> &Version {
        match side {
            Side::Old => &self.old,
            Side::New => &self.new,
        }
    }

    /// What is plausible of a quantity, where a version says so; the narrower of both.
    pub fn plausible(&self, term: TermId) -> Option<(Exact, Exact)> {
        let term = self.terms.get(term)?;
        let What::Measure(ix) = &term.what else {
            return None;
        };
        let part = self.common.part(term.part)?;
        let measure = part.measures.get(ix.index())?;
        let mut found: Option<(Exact, Exact)> = None;
        for side in Side::BOTH {
            let (Some(part), Some(slot)) = (part.at.at(side), measure.at.at(side)) else {
                continue;
            };
            let own = self
                .common
                .rules(side)
                .vocabulary
                .part(part)?
                .measures
                .get(slot.index())?;
            if let Some((low, high)) = &own.plausible {
                found = Some(match found {
                    Some((least, most)) => (least.max(low.clone()), most.min(high.clone())),
                    None => (low.clone(), high.clone()),
                });
            }
        }
        found.filter(|(low, high)| low <= high)
    }

    /// The unit in which a number is told: that of what is plausible of the measure, else the one in which rules
    /// speak of such numbers.
    pub fn unit(&self, id: TermId) -> Unit {
        let Some(term) = self.terms.get(id) else {
            return Unit::PLAIN;
        };
        let measure = match &term.what {
            What::Measure(ix) => self
                .common
                .part(term.part)
                .and_then(|part| part.measures.get(ix.index())),
            _ => None,
        };
        let mut dimension = match &term.what {
            What::PortBevel(_) | What::StarboardBevel(_) => Dimension::ANGLE,
            What::Stiffness(_) => Dimension::STIFFNESS,
            What::Area(_) => Dimension::AREA,
            What::Measure(_)
            | What::Count(..)
            | What::Sum(..)
            | What::Mean(..)
            | What::LeftOut(..)
            | What::Lowest(_)
            | What::Highest(_) => Dimension::RATIO,
            _ => Dimension::LENGTH,
        };
        if let Some(measure) = measure {
            for side in [Side::New, Side::Old] {
                let part = self
                    .common
                    .part(term.part)
                    .and_then(|part| part.at.at(side));
                let own = part.and_then(|part| self.common.rules(side).vocabulary.part(part));
                let own = own
                    .zip(measure.at.at(side))
                    .and_then(|(own, id)| own.measures.get(id.index()));
                if let Some(unit) = own.and_then(|own| own.plausible_unit) {
                    return unit;
                }
            }
            if let MeasureKind::Quantity(kind) = measure.kind {
                dimension = kind.dimension();
            }
        }
        let spoken = self
            .units
            .iter()
            .find(|unit| unit.dimension() == dimension)
            .copied();
        let any = || Unit::all().find(|unit| unit.dimension() == dimension);
        spoken.or_else(any).unwrap_or(Unit::PLAIN)
    }

    pub fn what(&self, term: TermId) -> Option<&What> {
        self.terms.get(term).map(|term| &term.what)
    }
}

/// The terms of items that a count or a sum follows from.
fn rests_on(what: &What) -> BTreeSet<TermId> {
    let mut found = BTreeSet::new();
    let mut each = |var: Var| {
        found.insert(var.term);
    };
    match what {
        What::Count(_, condition) | What::Odd(_, condition) => condition.each_var(&mut each),
        What::Sum(_, pieces) => {
            for (when, poly) in pieces {
                when.each_var(&mut each);
                poly.vars().for_each(&mut each);
            }
        }
        _ => {}
    }
    found
}

/// The first and the last day that can be written, counted from 1970-01-01.
pub(super) fn days() -> (Exact, Exact) {
    let (first, last) = YEARS.into_inner();
    let day = |year: i16, month: i8, day: i8| day_number(jiff::civil::date(year, month, day));
    (day(first, 1, 1), day(last, 12, 31))
}

/// What holds of the context: the day is not before both versions are in force, and the level one that both know.
fn context(common: &Common<'_>, terms: &mut Terms, from: Date) -> Vec<Fact> {
    const BOAT: PartIx = PartIx(0);
    let day = terms.intern(BOAT, What::Day, Sort::Day, false);
    let levels = u16::try_from(common.levels.len())
        .unwrap_or(u16::MAX)
        .saturating_add(1);
    let level = terms.intern(BOAT, What::Level, Sort::Choice(levels), false);
    let stage = terms.intern(BOAT, What::Stage, Sort::Choice(3), false);
    terms.intern(BOAT, What::Unlisted, Sort::Truth, false);
    let var = |term: TermId| Var {
        whose: Whose::Boat,
        term,
    };
    let since = Poly::var(var(day)).minus(&Poly::constant(day_number(from)));
    let known = common
        .levels
        .iter()
        .enumerate()
        .filter(|(_, level)| level.at.old.is_some() && level.at.new.is_some());
    let known = known.map(|(at, _)| at).chain([common.levels.len()]);
    let known = known
        .filter_map(|at| u32::try_from(at).ok())
        .fold(0, |all, at| all | 1_u128.checked_shl(at).unwrap_or(0));
    // At an inspection the level of the event is given, where a version has levels.
    let mut given = Formula::True;
    if !common.levels.is_empty() {
        let inspection = 1 << crate::rules::Stage::EventInspection.index();
        let elsewhere = Formula::among(var(stage), !inspection, 3);
        let none = u32::try_from(common.levels.len())
            .ok()
            .and_then(|at| 1_u128.checked_shl(at))
            .unwrap_or(0);
        given = Formula::any([elsewhere, Formula::among(var(level), !none, levels)]);
    }
    let fact = |holds: Formula| Fact {
        on: BOAT,
        place_of: None,
        only_place: None,
        holds,
    };
    vec![
        fact(Formula::sign(&since, false, terms)),
        fact(Formula::among(var(level), known, levels)),
        fact(given),
    ]
}

/// Up to how many items of each holding a proof looks: two more than any count that a rule speaks of.
fn reach(common: &Common<'_>, terms: &Terms, sides: [&Legal; 2]) -> Vec<usize> {
    let mut reach: Vec<usize> = common
        .holdings
        .iter()
        .map(|one| usize::from(one.many))
        .collect();
    let mut counts: Vec<(TermId, HoldingIx)> = Vec::new();
    for (id, term) in terms.all() {
        match &term.what {
            What::Count(holding, _) | What::Sum(holding, _) | What::Odd(holding, _) => {
                counts.push((id, *holding));
                if let Some(count) = reach.get_mut(holding.index()) {
                    *count = (*count).max(2);
                }
            }
            _ => {}
        }
    }
    let mut look = |formula: &Formula| constants(formula, &counts, &mut reach);
    for clause in sides.iter().flat_map(|legal| &legal.clauses) {
        look(&clause.holds);
    }
    for (at, holding) in common.holdings.iter().enumerate() {
        for side in Side::BOTH {
            let own = holding
                .at
                .at(side)
                .and_then(|id| common.rules(side).vocabulary.holding(id));
            let least = own.map_or(0, |own| usize::try_from(own.at_least).unwrap_or(usize::MAX));
            if let (true, Some(count)) = (holding.many, reach.get_mut(at)) {
                *count = (*count).max(least.saturating_add(1)).min(MOST_ITEMS);
            }
        }
    }
    reach
}

/// No proof looks at more items of a holding.
const MOST_ITEMS: usize = 40;

fn constants(formula: &Formula, counts: &[(TermId, HoldingIx)], reach: &mut [usize]) {
    match formula {
        Formula::Sign(constraint) => {
            let counted = constraint
                .poly
                .vars()
                .find_map(|var| counts.iter().find(|(id, _)| *id == var.term));
            if let Some((_, holding)) = counted
                && let Some(count) = reach.get_mut(holding.index())
            {
                let limit = constraint.poly.constant.abs();
                let limit = limit
                    .round_to_integer(crate::quantity::Ties::Even)
                    .to_i64()
                    .unwrap_or(0);
                let limit = usize::try_from(limit)
                    .unwrap_or(MOST_ITEMS)
                    .saturating_add(2);
                *count = (*count).max(limit).min(MOST_ITEMS);
            }
        }
        Formula::All(list) | Formula::Any(list) => {
            for one in list.iter() {
                constants(one, counts, reach);
            }
        }
        Formula::False | Formula::True | Formula::Truth(..) | Formula::Among(..) => {}
    }
}

/// Units of limits in the order of the file.
fn units(rules: &RulesFile) -> Vec<Unit> {
    let mut found = Vec::new();
    for rule in &rules.rules {
        for bound in
            crate::rules::rows(&rule.limits, &rule.instead).flat_map(|row| row.demand.bounds())
        {
            if let Op::Quantity { unit, .. } = &bound.limit.root.op
                && !found.contains(unit)
            {
                found.push(*unit);
            }
        }
    }
    found
}

/// Each list that any rule speaks of names a choice at least.
fn lists(common: &Common<'_>, terms: &mut Terms) -> Vec<(PartIx, Formula)> {
    let mut spoken: Vec<(PartIx, TraitIx)> = Vec::new();
    for (_, term) in terms.all() {
        if let What::Listed(slot, _) = term.what
            && !spoken.contains(&(term.part, slot))
        {
            spoken.push((term.part, slot));
        }
    }
    let mut found = Vec::new();
    for (part, slot) in spoken {
        let one = common
            .part(part)
            .and_then(|part| part.traits.get(slot.index()));
        let choices = one.map_or(0, |one| one.kind.choices().len());
        let mut any = Vec::new();
        for choice in 0..=choices {
            let Ok(choice) = u16::try_from(choice) else {
                continue;
            };
            let term = terms.intern(part, What::Listed(slot, choice), Sort::Truth, false);
            let var = Var {
                whose: Whose::Own,
                term,
            };
            any.push(Formula::Truth(var, true));
        }
        found.push((part, Formula::any(any)));
    }
    found
}
