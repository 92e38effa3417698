//! Statements about an item: Boolean combinations of polynomial constraints, choices and answers, each in one form, so
//! that two that are written alike are equal.

use std::sync::Arc;

use super::state::Cell;
use super::term::{Poly, Terms, Var};
use crate::quantity::Exact;

/// A set of values of a choice, one bit each. No trait has more values than bits; the translation refuses it.
pub type Values = u128;

/// A statement. Negation stands at the leaves alone.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Formula {
    /// Holds never.
    False,
    /// Holds always.
    True,
    /// A polynomial is not below zero; strict: is above zero.
    Sign(Arc<Constraint>),
    /// An answer or flag is so.
    Truth(Var, bool),
    /// A choice is among these; neither none nor all of its values.
    Among(Var, Values),
    /// All of them; at least two, sorted.
    All(Arc<[Formula]>),
    /// At least one of them; at least two, sorted.
    Any(Arc<[Formula]>),
}

/// A polynomial against zero. The first coefficient is 1 or -1; over whole numbers it is never strict, and the
/// coefficients are whole.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Constraint {
    /// The polynomial; not a constant.
    pub poly: Poly,
    /// Above zero, and not only not below.
    pub strict: bool,
}

impl Formula {
    /// Holds always, or never.
    pub fn of(holds: bool) -> Formula {
        if holds { Formula::True } else { Formula::False }
    }

    /// p >= 0, strict: p > 0.
    pub fn sign(poly: &Poly, strict: bool, terms: &Terms) -> Formula {
        if let Some(value) = poly.as_constant() {
            let sign = value.signum();
            return Formula::of(if strict { sign > 0 } else { sign >= 0 });
        }
        let whole = poly.vars().all(|var| terms.is_whole(var.term));
        let scale = if whole { whole_scale(poly) } else { None };
        let first = poly
            .terms
            .first()
            .map_or(Exact::ONE, |(_, value)| value.abs());
        let by = scale
            .clone()
            .or_else(|| Exact::ONE.checked_div(&first))
            .unwrap_or(Exact::ONE);
        let mut poly = poly.scaled(&by);
        let mut strict = strict;
        if scale.is_some() {
            // Over whole numbers p > 0 is p - 1 >= 0, and what is added can be rounded down.
            let floor = poly.constant.floor();
            poly.constant = if strict && poly.constant == floor {
                floor.sub(&Exact::ONE)
            } else {
                floor
            };
            strict = false;
        }
        Formula::Sign(Arc::new(Constraint { poly, strict }))
    }

    /// A choice is among some values of all that it has.
    pub fn among(var: Var, values: Values, all: u16) -> Formula {
        let every = every(all);
        match values & every {
            0 => Formula::False,
            some if some == every => Formula::True,
            some => Formula::Among(var, some),
        }
    }

    /// All of some.
    pub fn all(list: impl IntoIterator<Item = Formula>) -> Formula {
        joined(list, true)
    }

    /// At least one of some.
    pub fn any(list: impl IntoIterator<Item = Formula>) -> Formula {
        joined(list, false)
    }

    /// One follows from the other.
    pub fn implies(self, then: Formula, terms: &Terms) -> Formula {
        Formula::any([self.negated(terms), then])
    }

    /// The opposite.
    pub fn negated(&self, terms: &Terms) -> Formula {
        match self {
            Formula::False => Formula::True,
            Formula::True => Formula::False,
            Formula::Sign(constraint) => {
                let turned = constraint.poly.scaled(&Exact::ONE.neg());
                Formula::sign(&turned, !constraint.strict, terms)
            }
            Formula::Truth(var, yes) => Formula::Truth(*var, !yes),
            Formula::Among(var, values) => {
                let all = match terms.get(var.term).map(|term| &term.sort) {
                    Some(super::term::Sort::Choice(all)) => *all,
                    _ => 0,
                };
                Formula::among(*var, !values, all)
            }
            Formula::All(list) => Formula::any(list.iter().map(|one| one.negated(terms))),
            Formula::Any(list) => Formula::all(list.iter().map(|one| one.negated(terms))),
        }
    }

    /// Whether it holds by the values of its variables; nothing where one that it rests on is not known.
    pub(super) fn known(&self, value: &dyn Fn(Var) -> Option<Cell>) -> Option<bool> {
        match self {
            Formula::False => Some(false),
            Formula::True => Some(true),
            Formula::Sign(constraint) => {
                let number = |var: Var| value(var)?.number();
                Some(constraint.is_met_by(&constraint.poly.value(&number)?))
            }
            Formula::Truth(var, yes) => match value(*var)? {
                Cell::Truth(found) => Some(found == *yes),
                Cell::Number(_) | Cell::Choice(_) => None,
            },
            Formula::Among(var, values) => match value(*var)? {
                Cell::Choice(choice) => Some(has(*values, choice)),
                Cell::Number(_) | Cell::Truth(_) => None,
            },
            Formula::All(list) => together(list.iter().map(|one| one.known(value)), true),
            Formula::Any(list) => together(list.iter().map(|one| one.known(value)), false),
        }
    }

    /// Calls with every variable in it.
    pub fn each_var(&self, each: &mut dyn FnMut(Var)) {
        match self {
            Formula::False | Formula::True => {}
            Formula::Sign(constraint) => constraint.poly.vars().for_each(each),
            Formula::Truth(var, _) | Formula::Among(var, _) => each(*var),
            Formula::All(list) | Formula::Any(list) => {
                for one in list.iter() {
                    one.each_var(each);
                }
            }
        }
    }

    /// The same with each variable replaced by another one of the same sort.
    pub fn mapped(&self, map: &mut dyn FnMut(Var) -> Var, terms: &Terms) -> Formula {
        match self {
            Formula::False => Formula::False,
            Formula::True => Formula::True,
            Formula::Sign(constraint) => {
                Formula::sign(&constraint.poly.mapped(map), constraint.strict, terms)
            }
            Formula::Truth(var, yes) => Formula::Truth(map(*var), *yes),
            Formula::Among(var, values) => Formula::Among(map(*var), *values),
            Formula::All(list) => Formula::all(list.iter().map(|one| one.mapped(map, terms))),
            Formula::Any(list) => Formula::any(list.iter().map(|one| one.mapped(map, terms))),
        }
    }
}

impl Constraint {
    /// Whether it is met where its polynomial comes to a value.
    pub(super) fn is_met_by(&self, value: &Exact) -> bool {
        let sign = value.signum();
        if self.strict { sign > 0 } else { sign >= 0 }
    }
}

/// Whether a set has a value of a choice.
pub(super) fn has(values: Values, choice: u16) -> bool {
    values >> u32::from(choice).min(127) & 1 == 1
}

/// All of some, or any of them, where some may be unknown.
pub(super) fn together(list: impl Iterator<Item = Option<bool>>, all: bool) -> Option<bool> {
    let mut unknown = false;
    for one in list {
        match one {
            Some(holds) if holds != all => return Some(!all),
            Some(_) => {}
            None => unknown = true,
        }
    }
    (!unknown).then_some(all)
}

/// All values of a choice that has so many.
pub fn every(all: u16) -> Values {
    match u32::from(all) {
        bits if bits >= Values::BITS => Values::MAX,
        bits => (1 << bits) - 1,
    }
}

/// What makes all coefficients of a polynomial whole and without a common factor.
fn whole_scale(poly: &Poly) -> Option<Exact> {
    use num_integer::Integer as _;
    let mut denominator: i64 = 1;
    for (_, value) in &poly.terms {
        let mut tries = 0;
        while !value.mul(&Exact::from_integer(denominator)).is_integer() {
            // Denominators of rules are small; what is not is left to the rational form.
            tries += 1;
            denominator = denominator.checked_add(1)?;
            if tries > 1000 {
                return None;
            }
        }
    }
    let mut common: i64 = 0;
    for (_, value) in &poly.terms {
        common = common.gcd(&value.mul(&Exact::from_integer(denominator)).to_i64()?);
    }
    Exact::from_fraction(denominator, common.max(1))
}

fn joined(list: impl IntoIterator<Item = Formula>, all: bool) -> Formula {
    let mut flat: Vec<Formula> = Vec::new();
    let (neutral, decisive) = if all {
        (Formula::True, Formula::False)
    } else {
        (Formula::False, Formula::True)
    };
    let mut stack: Vec<Formula> = list.into_iter().collect();
    stack.reverse();
    while let Some(one) = stack.pop() {
        match one {
            Formula::All(inner) if all => stack.extend(inner.iter().rev().cloned()),
            Formula::Any(inner) if !all => stack.extend(inner.iter().rev().cloned()),
            one if one == neutral => {}
            one if one == decisive => return decisive,
            one => flat.push(one),
        }
    }
    flat.sort_unstable();
    flat.dedup();
    // Of one choice both sets are one set; an answer that is yes and no decides.
    let mut found: Vec<Formula> = Vec::with_capacity(flat.len());
    for one in flat {
        match (found.last_mut(), &one) {
            (Some(Formula::Among(var, values)), Formula::Among(other, more)) if var == other => {
                if all {
                    *values &= more;
                    if *values == 0 {
                        return Formula::False;
                    }
                } else {
                    *values |= more;
                }
            }
            (Some(Formula::Truth(var, false)), Formula::Truth(other, true)) if var == other => {
                return decisive;
            }
            _ => found.push(one),
        }
    }
    match found.len() {
        0 => neutral,
        1 => found.pop().unwrap_or(neutral),
        _ => {
            let list: Arc<[Formula]> = found.into();
            if all {
                Formula::All(list)
            } else {
                Formula::Any(list)
            }
        }
    }
}
