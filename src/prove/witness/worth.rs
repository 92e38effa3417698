//! What polynomials, statements and expressions come to on a given boat, exactly.

use std::collections::BTreeMap;

use super::super::boat::{Boat, Value, Values};
use super::super::common::{Common, MeasureIx, PartIx, Side};
use super::super::formula::{Formula, together};
use super::super::state::Cell;
use super::super::term::{Poly, Terms, Var, What, Whose};
use crate::expression::{Arithmetic, Comparison, Function, Node, Op, Scope};
use crate::quantity::Exact;
use crate::rules::Stage;
use crate::vocabulary::Vocabulary;

/// Numbers of measures that no term speaks of: by item and measure.
pub(super) type Beside = BTreeMap<(usize, MeasureIx), Exact>;

/// A boat to be asked.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    pub boat: &'a Boat,
    pub common: &'a Common<'a>,
    pub terms: &'a Terms,
    pub beside: &'a Beside,
}

impl<'a> Look<'a> {
    /// The item that a name means, told from an item.
    pub fn item(&self, own: usize, whose: Whose) -> Option<usize> {
        match whose {
            Whose::Own => Some(own),
            Whose::Boat => Some(0),
            Whose::One(holding) => {
                let mut items = self.boat.items.iter();
                items.position(|item| item.holding == Some(holding))
            }
            Whose::Role(role) => {
                let item = self.boat.items.get(own)?;
                item.roles.get(role.index()).copied()
            }
        }
    }

    fn value(&self, own: usize, place: Option<&Values>, var: Var) -> Option<Value> {
        let placed = self.terms.is_placed(var.term) && var.whose == Whose::Own;
        if let (true, Some(place)) = (placed, place) {
            return place.get(&var.term).cloned();
        }
        let item = self.boat.items.get(self.item(own, var.whose)?)?;
        if let Some(value) = item.values.get(&var.term) {
            return Some(value.clone());
        }
        match &self.terms.get(var.term)?.what {
            What::Stage => {
                let at = Stage::ALL.iter().position(|one| *one == self.boat.stage);
                Some(Value::Choice(u16::try_from(at?).ok()?))
            }
            What::Level => {
                let none = u16::try_from(self.common.levels.len()).ok()?;
                Some(Value::Choice(self.boat.level.unwrap_or(none)))
            }
            What::Day => Some(Value::Day(self.boat.day)),
            What::Unlisted => Some(Value::Truth(self.boat.unlisted)),
            _ => None,
        }
    }

    fn cell(&self, own: usize, place: Option<&Values>, var: Var) -> Option<Cell> {
        self.value(own, place, var).as_ref().map(Cell::of)
    }

    /// The value of a polynomial on an item, at a place where it is placed.
    pub fn poly(&self, own: usize, place: Option<&Values>, poly: &Poly) -> Option<Exact> {
        poly.value(&|var| self.cell(own, place, var)?.number())
    }

    /// Whether a statement holds; `None` where something is not known that it rests on.
    pub fn holds(&self, own: usize, place: Option<&Values>, formula: &Formula) -> Option<bool> {
        formula.known(&|var| self.cell(own, place, var))
    }

    /// The item that a scope of a version means.
    pub fn scoped(&self, side: Side, own: usize, scope: Scope) -> Option<usize> {
        match scope {
            Scope::Own => Some(own),
            Scope::Boat => Some(0),
            Scope::One(holding) => {
                let holding = self.common.holding_of(side, holding)?;
                self.item(own, Whose::One(holding))
            }
            Scope::Role(role) => {
                let part = self.boat.items.get(own)?.part;
                let role = self.common.role_of(side, part, role)?;
                self.item(own, Whose::Role(role))
            }
        }
    }

    /// The value of something that an item has by a term of its own.
    pub fn own(&self, item: usize, what: &What) -> Option<&'a Value> {
        let one = self.boat.items.get(item)?;
        one.values.get(&self.terms.known(one.part, what)?)
    }

    fn own_number(&self, item: usize, what: &What) -> Option<Exact> {
        match self.own(item, what)? {
            Value::Number(number) => Some(number.clone()),
            Value::Day(_) | Value::Truth(_) | Value::Choice(_) => None,
        }
    }

    /// A quantity of an item, of which a term speaks or none.
    pub fn measure(&self, item: usize, measure: MeasureIx) -> Option<Exact> {
        let known = self.own_number(item, &What::Measure(measure));
        known.or_else(|| self.beside.get(&(item, measure)).cloned())
    }

    /// The value of an expression of a version on an item; `None` where it is not one number that is known.
    pub fn expression(&self, side: Side, node: &Node, own: usize) -> Option<Exact> {
        match &node.op {
            Op::Quantity { value, .. } => Some(value.clone()),
            Op::Negate(inner) => Some(self.expression(side, inner, own)?.neg()),
            Op::Arithmetic(operation, left, right) => {
                let left = self.expression(side, left, own)?;
                let right = self.expression(side, right, own)?;
                match operation {
                    Arithmetic::Add => Some(left.add(&right)),
                    Arithmetic::Subtract => Some(left.sub(&right)),
                    Arithmetic::Multiply => Some(left.mul(&right)),
                    Arithmetic::Divide => left.checked_div(&right),
                }
            }
            Op::Measure(scope, id) => {
                let item = self.scoped(side, own, *scope)?;
                let part = self.boat.items.get(item)?.part;
                self.measure(item, self.common.measure_of(side, part, *id)?)
            }
            Op::Derived(scope, id) => {
                let item = self.scoped(side, own, *scope)?;
                let part = self.part_of(side, self.boat.items.get(item)?.part)?;
                let derived = self.common.rules(side).derived_value(part, *id)?;
                self.expression(side, &derived.root, item)
            }
            Op::Call(function, list) => {
                let mut values = list.iter().map(|one| self.expression(side, one, own));
                match function {
                    Function::Abs => Some(values.next()??.abs()),
                    Function::Min => values.reduce(|a, b| Some(a?.min(b?)))?,
                    Function::Max => values.reduce(|a, b| Some(a?.max(b?)))?,
                    Function::ForwardFlat | Function::AftFlat | Function::FlatLength => {
                        self.flat(side, *function, list, own)
                    }
                    _ => None,
                }
            }
            _ => None,
        }
    }

    fn flat(&self, side: Side, function: Function, list: &[Node], own: usize) -> Option<Exact> {
        let [profile, gap] = list else {
            return None;
        };
        let Op::Measure(scope, id) = &profile.op else {
            return None;
        };
        let item = self.scoped(side, own, *scope)?;
        let part = self.boat.items.get(item)?.part;
        let measure = self.common.measure_of(side, part, *id)?;
        let gap = self.expression(side, gap, own)?;
        let forward = || self.own_number(item, &What::Forward(measure, gap.clone()));
        let aft = || self.own_number(item, &What::Aft(measure, gap.clone()));
        match function {
            Function::ForwardFlat => forward(),
            Function::AftFlat => aft(),
            _ => Some(forward()?.add(&aft()?)),
        }
    }

    /// Whether a condition of a version holds on an item; `None` where that is not known.
    pub fn condition(&self, side: Side, node: &Node, own: usize) -> Option<bool> {
        match &node.op {
            Op::YesNo(yes) => Some(*yes),
            Op::Not(inner) => Some(!self.condition(side, inner, own)?),
            Op::And(list) => together(list.iter().map(|one| self.condition(side, one, own)), true),
            Op::Or(list) => together(list.iter().map(|one| self.condition(side, one, own)), false),
            Op::Truth(inner) => {
                let what = match &inner.op {
                    Op::Trait(scope, id) => (*scope, Ok(*id)),
                    Op::Measure(scope, id) => (*scope, Err(*id)),
                    _ => return None,
                };
                let item = self.scoped(side, own, what.0)?;
                let part = self.boat.items.get(item)?.part;
                let what = match what.1 {
                    Ok(id) => What::Trait(self.common.trait_of(side, part, id)?),
                    Err(id) => What::Measure(self.common.measure_of(side, part, id)?),
                };
                match self.own(item, &what)? {
                    Value::Truth(yes) => Some(*yes),
                    Value::Number(_) | Value::Day(_) | Value::Choice(_) => None,
                }
            }
            Op::Compare(comparison, left, right) => {
                let left = self.expression(side, left, own)?;
                let right = self.expression(side, right, own)?;
                Some(match comparison {
                    Comparison::Less => left < right,
                    Comparison::LessOrEqual => left <= right,
                    Comparison::Greater => left > right,
                    Comparison::GreaterOrEqual => left >= right,
                })
            }
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, id) = &subject.op else {
                    return None;
                };
                let item = self.scoped(side, own, *scope)?;
                let part = self.boat.items.get(item)?.part;
                let slot = self.common.trait_of(side, part, *id)?;
                let Value::Choice(at) = self.own(item, &What::Trait(slot))? else {
                    return None;
                };
                let known = self.common.part(part)?.traits.get(slot.index())?;
                let choice = known.kind.choices().get(usize::from(*at));
                let here = choice.and_then(|choice| choice.at.at(side));
                Some(choices.contains(&here) != *negated)
            }
            Op::IsLevel { levels, negated } => {
                let level = self.common.levels.get(usize::from(self.boat.level?))?;
                let here = level.at.at(side)?;
                Some(levels.contains(&here) != *negated)
            }
            _ => None,
        }
    }

    /// A version's slot of a kind of part.
    pub fn part_of(&self, side: Side, part: PartIx) -> Option<crate::vocabulary::PartId> {
        if part.index() == 0 {
            return Some(Vocabulary::BOAT);
        }
        self.common.part(part)?.at.at(side)
    }
}
