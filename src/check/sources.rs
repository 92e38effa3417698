//! Where in a record a value comes from.

use super::draft::Draft;
use super::eval::Evaluator;
use super::judge::Judge;
use super::reading::Readings;
use crate::expression::{Node, Op, Scope};
use crate::record::Found;
use crate::rules::Rule;
use crate::text::Span;

impl<'r> Judge<'r> {
    /// Where the value stands: its own place first, then the other measures it was made of.
    pub(super) fn spans(&self, draft: &mut Draft, own: Span, rule: &Rule, at: usize) {
        self.spans_of(draft, own, &rule.value.root, at);
    }

    /// The same for any expression.
    pub(super) fn spans_of(&self, draft: &mut Draft, own: Span, node: &Node, at: usize) {
        let mut leaves = Vec::new();
        self.leaves(node, at, &mut leaves);
        if !own.is_empty() {
            draft.source_at = own;
        } else if let Some(first) = leaves.first() {
            draft.source_at = *first;
        }
        // The measure that the value's own place belongs to is no further source.
        let single = leaves.len() <= 1;
        let shown = draft.source_at;
        draft.tell(|told| {
            told.also_at = leaves
                .into_iter()
                .filter(|span| !single && *span != shown)
                .collect();
        });
    }

    pub(super) fn leaves(&self, node: &Node, at: usize, found: &mut Vec<Span>) {
        let scoped = |scope: &Scope| self.eval.item(*scope, at).ok();
        let mut add = |span: Span| {
            if !found.contains(&span) {
                found.push(span);
            }
        };
        match &node.op {
            Op::Measure(scope, slot) => {
                let measured =
                    scoped(scope).and_then(|(_, item)| item.measures.get(slot.index())?.as_ref());
                if let Some(measured) = measured {
                    add(match &measured.found {
                        Found::Answer(answer) => answer.span,
                        Found::Series(_) | Found::First(_) => measured.span,
                    });
                }
            }
            Op::Trait(scope, slot) => {
                if let Some(claim) =
                    scoped(scope).and_then(|(_, item)| item.traits.get(slot.index())?.as_ref())
                {
                    add(claim.span);
                }
            }
            Op::Derived(scope, slot) => {
                if let Some((at, item)) = scoped(scope)
                    && let Some(expression) = self.rules.derived_value(item.part, *slot)
                {
                    self.leaves(&expression.root, at, found);
                }
            }
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => {}
            Op::Negate(inner) | Op::Truth(inner) | Op::Not(inner) => self.leaves(inner, at, found),
            Op::IsChoice { subject, .. } => self.leaves(subject, at, found),
            Op::Arithmetic(_, left, right)
            | Op::Compare(_, left, right)
            | Op::IsSame { left, right, .. } => {
                self.leaves(left, at, found);
                self.leaves(right, at, found);
            }
            Op::And(list) | Op::Or(list) | Op::Call(_, list) => {
                for one in list {
                    self.leaves(one, at, found);
                }
            }
            Op::Count { over, .. } => {
                for item in self
                    .record
                    .items
                    .iter()
                    .filter(|item| item.holding == Some(*over))
                {
                    add(item.span);
                }
            }
            Op::Sum { over, value, .. } => {
                for (at, _) in self
                    .record
                    .items
                    .iter()
                    .enumerate()
                    .filter(|(_, item)| item.holding == Some(*over))
                {
                    self.leaves(value, at, found);
                }
            }
        }
    }
}

impl Evaluator<'_> {
    /// How many other measurers' series the measures of an expression have, at most.
    pub fn others(&self, node: &Node, own: usize) -> usize {
        match &node.op {
            Op::Measure(scope, slot) => match self.item(*scope, own) {
                Ok((_, item)) => Readings::others(item, *slot),
                Err(_) => 0,
            },
            Op::Derived(scope, slot) => match self.item(*scope, own) {
                Ok((at, item)) => self
                    .rules
                    .derived_value(item.part, *slot)
                    .map_or(0, |one| self.others(&one.root, at)),
                Err(_) => 0,
            },
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Trait(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => 0,
            Op::Count { over, .. } | Op::Sum { over, .. } => {
                let items = self.items_of(*over);
                let on_items = |one: &Node| {
                    let each = items.iter().map(|at| self.others(one, *at));
                    each.max().unwrap_or(0)
                };
                node.children().into_iter().map(on_items).max().unwrap_or(0)
            }
            Op::Negate(_)
            | Op::Truth(_)
            | Op::Not(_)
            | Op::IsChoice { .. }
            | Op::Arithmetic(..)
            | Op::Compare(..)
            | Op::IsSame { .. }
            | Op::And(_)
            | Op::Or(_)
            | Op::Call(..) => {
                let below = node.children().into_iter();
                below.map(|one| self.others(one, own)).max().unwrap_or(0)
            }
        }
    }
}
