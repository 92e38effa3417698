//! Days known less exactly: to the month or the year alone in which a day of a rule lies.
//!
//! Where a day is known to its month alone, a statement about it is sure only if every day of the month says the same.
//! So two days that lie inside one month, and at the beginning of none, are alike to every record that says a month or
//! a year; which boats they are for is the requirement's.

use std::sync::Arc;

use super::super::common::{PartIx, Side, TraitIx};
use super::super::days::{day_number, day_of};
use super::super::formula::{Constraint, Formula};
use super::super::legal::Exemption;
use super::super::term::{Sort, Terms, What};
use super::construct::{Change, tried};
use super::difference::{Difference, Kind, Matched};
use super::edit::Pair;
use super::search::{Found, Search};
use super::trial::{Toward, When};
use crate::quantity::{Date, DatePrecision, DateSpan, Exact, add_days};

/// A day of a rule: the first on which a statement about a trait turns.
type Turn = (PartIx, TraitIx, Date);

/// The trait that a constraint is about alone, with the first day on which it turns.
fn turn(constraint: &Constraint, terms: &Terms) -> Option<Turn> {
    let [(monomial, factor)] = constraint.poly.terms.as_slice() else {
        return None;
    };
    let [var] = monomial.as_slice() else {
        return None;
    };
    let term = terms.get(var.term)?;
    let (Sort::Day, What::Trait(slot)) = (&term.sort, &term.what) else {
        return None;
    };
    let constant = &constraint.poly.constant;
    let number = if *factor == Exact::ONE {
        constant.neg()
    } else if *factor == Exact::ONE.neg() {
        constant.add(&Exact::ONE)
    } else {
        return None;
    };
    Some((term.part, *slot, day_of(&number)?))
}

/// All days on which a statement turns.
fn turns(formula: &Formula, terms: &Terms, found: &mut Vec<Turn>) {
    match formula {
        Formula::Sign(constraint) => {
            let one = turn(constraint, terms);
            found.extend(one.filter(|one| !found.contains(one)));
        }
        Formula::All(list) | Formula::Any(list) => {
            list.iter().for_each(|one| turns(one, terms, found));
        }
        Formula::False | Formula::True | Formula::Truth(..) | Formula::Among(..) => {}
    }
}

/// A statement with every day inside a month at the same day of it. Alone, a day that begins a month is as good as any
/// other one of its year that does, but for the first, and that as good as the first of any year: a month or a year is
/// sure on either side of all of them, or in doubt between them all.
fn coarse(formula: &Formula, terms: &Terms, alone: bool) -> Formula {
    let each = |list: &[Formula]| {
        let mut list: Vec<Formula> = list.iter().map(|one| coarse(one, terms, alone)).collect();
        list.sort();
        Arc::from(list)
    };
    match formula {
        Formula::Sign(constraint) => {
            let known = turn(constraint, terms).and_then(|(_, _, day)| {
                let like = match (day.day(), day.month()) {
                    (1, _) if !alone => return None,
                    (1, 1) => Date::new(2000, 1, 1).ok()?,
                    (1, _) => Date::new(day.year(), 2, 1).ok()?,
                    _ => add_days(day.first_of_month(), 1)?,
                };
                Some((day, like))
            });
            let Some((day, second)) = known else {
                return formula.clone();
            };
            let mut moved = Constraint::clone(constraint);
            let by = day_number(day).sub(&day_number(second));
            let rises = moved
                .poly
                .terms
                .iter()
                .all(|(_, factor)| factor.signum() > 0);
            let by = if rises { by } else { by.neg() };
            moved.poly.constant = moved.poly.constant.add(&by);
            Formula::Sign(Arc::new(moved))
        }
        Formula::All(list) => Formula::All(each(list)),
        Formula::Any(list) => Formula::Any(each(list)),
        Formula::False | Formula::True | Formula::Truth(..) | Formula::Among(..) => formula.clone(),
    }
}

/// A statement without what it says of days.
pub fn undated(formula: &Formula, terms: &Terms) -> Formula {
    match formula {
        Formula::Sign(constraint) if turn(constraint, terms).is_some() => Formula::True,
        Formula::All(list) => Formula::all(list.iter().map(|one| undated(one, terms))),
        Formula::Any(list) => Formula::any(list.iter().map(|one| undated(one, terms))),
        Formula::False
        | Formula::True
        | Formula::Sign(_)
        | Formula::Truth(..)
        | Formula::Among(..) => formula.clone(),
    }
}

/// Whether the exemptions of a rule differ by nothing but days that moved inside their months, or where there is one
/// day alone by whole months of a year or by whole years: then no record that says less than the day shows it.
pub fn moved_inside_months(difference: &Difference, matched: &Matched<'_>, terms: &Terms) -> bool {
    let old = difference.old.and_then(|at| matched.old.get(at));
    let new = difference.new.and_then(|at| matched.new.get(at));
    let (Kind::Exemptions, Some(old), Some(new)) = (&difference.kind, old, new) else {
        return false;
    };
    let (Some(was), Some(is)) = (old.clause, new.clause) else {
        return false;
    };
    let (Some(was_rule), Some(is_rule)) = (old.rule, new.rule) else {
        return false;
    };
    let unproven = |rule: &crate::rules::Rule| -> Vec<bool> {
        rule.instead
            .iter()
            .map(|row| row.unproven_takes_main)
            .collect()
    };
    let alike = |one: &Exemption, other: &Exemption| {
        let alone = [one, other].into_iter().all(|one| {
            let mut days = Vec::new();
            turns(&one.applies, terms, &mut days);
            days.len() == 1
        });
        let [before, after] = [one, other].map(|one| coarse(&one.applies, terms, alone));
        one.instead == other.instead && before == after
    };
    old.exempting == new.exempting
        && was.main == is.main
        && unproven(was_rule) == unproven(is_rule)
        && was.exemptions.len() == is.exemptions.len()
        && was
            .exemptions
            .iter()
            .zip(&is.exemptions)
            .all(|(one, other)| alike(one, other))
}

/// The month and the year of a day, as they are written.
fn around(day: Date) -> Vec<DateSpan> {
    let year = day.year();
    let written = [
        format!("{year:04}-{:02}", day.month()),
        format!("{year:04}"),
    ];
    let each = written.iter();
    each.filter_map(|text| DateSpan::parse(text).ok()).collect()
}

/// How a record writes a month or a year.
pub fn written(span: &DateSpan) -> String {
    let (year, month) = (span.first.year(), span.first.month());
    match span.precision {
        DatePrecision::Year => format!("{year:04}"),
        DatePrecision::Month => format!("{year:04}-{month:02}"),
        DatePrecision::Day => span.first.to_string(),
    }
}

impl Search<'_, '_> {
    /// Days known to the month or the year alone, around the days of a rule: on boats of which the whole day would say
    /// the same under both versions.
    pub(super) fn known_less(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let mut days: Vec<Turn> = Vec::new();
        for side in Side::BOTH {
            let clause = self.demand(side, difference).and_then(|one| one.clause);
            let Some(clause) = clause else { continue };
            turns(&clause.asked, self.bench.terms, &mut days);
            for one in &clause.exemptions {
                turns(&one.applies, self.bench.terms, &mut days);
            }
        }
        if days.is_empty() {
            return;
        }
        let mut bases = vec![(None, gold.clone())];
        bases.extend(self.beyond_main(difference, gold, when));
        for (part, slot, day) in days {
            let before = add_days(day, -1);
            let near: Vec<Date> = before.into_iter().chain([day]).collect();
            let mut spans: Vec<DateSpan> = Vec::new();
            for one in near.iter().flat_map(|day| around(*day)) {
                if !spans.contains(&one) {
                    spans.push(one);
                }
            }
            for place in tried(gold, common, part).into_iter().take(2) {
                for span in &spans {
                    let known = |span: DateSpan| Change::Known((part, slot), place, span);
                    for (told, base) in &bases {
                        let less = known(*span);
                        let Some(shown) = less.made(base, common, when.day) else {
                            continue;
                        };
                        let outcomes = self.bench.outcomes(&shown, when);
                        if outcomes.is_none_or(|(was, is)| was == is) {
                            continue;
                        }
                        // One of the days that it may be, on which the versions agree.
                        let inside = near.iter().copied().chain([span.first, span.last]);
                        let mut inside =
                            inside.filter(|day| span.first <= *day && *day <= span.last);
                        let agreed = inside.any(|day| {
                            let whole = known(DateSpan::day(day)).made(base, common, when.day);
                            whole.is_some_and(|whole| self.bench.alike(&whole, when).is_some())
                        });
                        if !agreed {
                            continue;
                        }
                        let told = match told {
                            None => less.told(common),
                            Some(more) => format!("{}; {more}", less.told(common)),
                        };
                        if self.try_one((gold, &shown), when, (&told, can), found) {
                            return;
                        }
                    }
                }
            }
        }
    }
}
