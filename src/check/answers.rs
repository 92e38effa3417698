//! Declared, counted and looked-at things that must be just so.

use super::draft::{Draft, Ruling};
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::PlannedRule;
use super::settle::settle_evidence;
use super::value::Val;
use crate::expression::{Node, Op};
use crate::rules::{Equals, Rule, Stage};
use crate::text::Span;
use crate::vocabulary::TraitKind;

/// What is said of a value that must be just so.
pub(super) fn said(value: &Val<'_>, equals: &Equals, stage: Stage) -> Ruling {
    let holds = |holds: bool| {
        if holds {
            (Outcome::Conforms, None)
        } else {
            (Outcome::DoesNotConform, None)
        }
    };
    match (value, equals) {
        (Val::Unknown(why), _) => (Outcome::NotDecided, Some(why.reason)),
        (Val::Answer { yes, evidence, .. }, Equals::YesNo(asked)) => match evidence.reason(stage) {
            Some(reason) => (Outcome::NotDecided, Some(reason)),
            None => holds(yes == asked),
        },
        (Val::Choice(choice, _), Equals::Choice(asked)) => holds(*choice == Some(*asked)),
        (Val::Count(sure, possible), Equals::Count(asked)) => {
            if sure == possible {
                holds(sure == asked)
            } else if asked < sure || asked > possible {
                (Outcome::DoesNotConform, None)
            } else {
                (Outcome::NotDecided, Some(Reason::ConditionUnknown))
            }
        }
        // The loader lets no other pair through.
        _ => (Outcome::NotDecided, Some(Reason::NotMeasured)),
    }
}

impl<'r> Judge<'r> {
    pub(super) fn equals(
        &mut self,
        planned: &PlannedRule,
        rule: &Rule,
        at: usize,
        value: Val<'r>,
        equals: &Equals,
        span: Span,
    ) -> Draft {
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
        let rulings = self.by_stage(|stage| said(&value, equals, stage));
        match (value, equals) {
            (Val::Unknown(why), _) => {
                let mut draft = self.open(planned, rule, at, why);
                draft.limit_at = span;
                return draft;
            }
            (
                Val::Answer {
                    yes,
                    evidence,
                    span,
                },
                Equals::YesNo(asked),
            ) => {
                draft.source_at = span;
                draft.tell(|told| {
                    let asked = if *asked { "yes" } else { "no" };
                    told.value = Some(FoundValue::Answer(yes));
                    told.limit = Some(FoundLimit::Equals(asked.to_owned()));
                    let lacking = evidence.reason(Stage::Certification);
                    told.settled_by = lacking.and_then(|reason| settle_evidence(evidence, reason));
                });
            }
            (Val::Choice(choice, span), Equals::Choice(asked)) => {
                draft.source_at = span;
                draft.tell(|told| {
                    let names = self.choice_names(&rule.value.root, rule);
                    let name = |id: Option<crate::vocabulary::ChoiceId>| {
                        id.and_then(|id| names.get(id.index()).cloned())
                            .unwrap_or_else(|| "other".to_owned())
                    };
                    told.value = Some(FoundValue::Word(name(choice)));
                    told.limit = Some(FoundLimit::Equals(name(Some(*asked))));
                });
            }
            (Val::Count(sure, possible), Equals::Count(asked)) => {
                draft.tell(|told| {
                    told.value = Some(FoundValue::Count { sure, possible });
                    told.limit = Some(FoundLimit::Equals(asked.to_string()));
                });
            }
            // The loader lets no other pair through.
            _ => {}
        }
        draft.ruled_by(rulings)
    }

    pub(super) fn choice_names(&self, node: &Node, rule: &Rule) -> Vec<String> {
        let Op::Trait(scope, id) = &node.op else {
            return Vec::new();
        };
        let part = scope
            .part(rule.applies_to, &self.rules.vocabulary)
            .unwrap_or(rule.applies_to);
        match self
            .rules
            .vocabulary
            .part(part)
            .and_then(|part| part.traits.get(id.index()))
            .map(|one| &one.kind)
        {
            Some(TraitKind::Choice(names)) => names.iter().map(|name| name.text.clone()).collect(),
            Some(TraitKind::Date | TraitKind::Flag) | None => Vec::new(),
        }
    }
}
