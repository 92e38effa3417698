//! Which row of a table of limits counts for an item.

use super::arithmetic::level_missing;
use super::finding::Reason;
use super::judge::{Candidate, Judge};
use super::plan::PlannedRule;
use super::value::{Missing, Why};
use crate::record::{Item, TraitClaim, TraitValue};
use crate::rules::{LimitRow, Limits, Rule, Silence};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, TraitId};

impl<'r> Judge<'r> {
    pub(super) fn main_row(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        item: &'r Item,
    ) -> Candidate<'r> {
        let row_at = |number: usize, rows: &'r [(ChoiceId, LimitRow)]| {
            rows.get(number)
                .map(|(_, row)| row_of(planned, number, row))
        };
        match &rule.limits {
            Limits::Direct(row) => row_of(planned, 0, row),
            Limits::ByTrait { by, span, rows } => {
                let claim = item.traits.get(by.index()).and_then(Option::as_ref);
                match claim.map(|claim| (&claim.value, claim.span)) {
                    Some((TraitValue::Choice(Some(choice)), at)) => planned
                        .by_choice
                        .get(choice.index())
                        .copied()
                        .flatten()
                        .and_then(|number| row_at(number, rows))
                        .unwrap_or_else(|| self.no_row(*span, at)),
                    Some((TraitValue::Choice(None), at)) => self.no_row(*span, at),
                    Some((TraitValue::AnyOf(_) | TraitValue::Date(_) | TraitValue::Flag(_), _))
                    | None => undeclared(item, *by),
                }
            }
            Limits::ByTraits { by, span, rows } => self.by_traits(planned, item, by, *span, rows),
            Limits::ByZone { rows, .. } => Candidate::Zones(rows),
            Limits::ByLevel { span, rows } => match self.context.level {
                Some(level) => planned
                    .by_choice
                    .get(level.index())
                    .copied()
                    .flatten()
                    .and_then(|number| row_at(number, rows))
                    .unwrap_or(Candidate::NotApplicable(Reason::NoRow, *span)),
                None => Candidate::Open(level_missing()),
            },
        }
    }

    /// The row of several declared choices. Where those that are declared leave no row, what is not declared
    /// can't change that.
    fn by_traits(
        &self,
        planned: &'r PlannedRule,
        item: &'r Item,
        by: &[TraitId],
        span: Span,
        rows: &'r [(Vec<ChoiceId>, LimitRow)],
    ) -> Candidate<'r> {
        let claim = |by: &TraitId| item.traits.get(by.index()).and_then(Option::as_ref);
        let fits = |by: &TraitId, choice: &ChoiceId| match claim(by).map(|claim| &claim.value) {
            Some(TraitValue::Choice(declared)) => *declared == Some(*choice),
            Some(TraitValue::AnyOf(_) | TraitValue::Date(_) | TraitValue::Flag(_)) | None => true,
        };
        // Each trait takes rows away; the first that takes the last one is what has no row.
        let mut left: Vec<usize> = (0..rows.len()).collect();
        for (axis, id) in by.iter().enumerate() {
            left.retain(|number| {
                let choices = rows.get(*number).map(|(choices, _)| choices);
                let choice = choices.and_then(|choices| choices.get(axis));
                choice.is_some_and(|choice| fits(id, choice))
            });
            if left.is_empty() {
                let declared = claim(id).or_else(|| by.iter().find_map(claim));
                let at = declared.map_or(item.span, |claim: &TraitClaim| claim.span);
                return self.no_row(span, at);
            }
        }
        if let Some(missing) = by.iter().find(|id| claim(id).is_none()) {
            return undeclared(item, *missing);
        }
        let row = left
            .first()
            .and_then(|number| Some((*number, rows.get(*number)?)));
        match row {
            Some((number, (_, row))) => row_of(planned, number, row),
            None => self.no_row(span, item.span),
        }
    }

    /// A choice without a row: closed rules do not allow it, open ones ask nothing of it.
    fn no_row(&self, span: Span, at: Span) -> Candidate<'r> {
        match self.rules.silence {
            Silence::Forbids => Candidate::NoRowForChoice(span, at),
            Silence::Permits => Candidate::NotApplicable(Reason::NoRow, span),
        }
    }
}

fn row_of<'r>(planned: &'r PlannedRule, number: usize, row: &'r LimitRow) -> Candidate<'r> {
    let constants = planned.constants.get(number);
    Candidate::Row(row, constants.map_or(&[], Vec::as_slice), None)
}

fn undeclared<'r>(item: &Item, by: TraitId) -> Candidate<'r> {
    Candidate::Open(Why {
        reason: Reason::TraitMissing,
        missing: Missing::Trait(item.part, by),
        span: None,
    })
}
