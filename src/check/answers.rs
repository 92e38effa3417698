//! Declared, counted and looked-at things that must be just so.

use super::decide::Draft;
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::PlannedRule;
use super::settle::settle_reason;
use super::value::Val;
use crate::expression::{Node, Op, Scope};
use crate::rules::{Equals, Rule, Stage};
use crate::text::Span;
use crate::vocabulary::{TraitKind, Vocabulary};

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
        let mut told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
        let holds = |holds: bool| {
            if holds {
                Outcome::Conforms
            } else {
                Outcome::DoesNotConform
            }
        };
        match (value, equals) {
            (Val::Unknown(why), _) => {
                let mut draft = self.open(planned, rule, at, why);
                if let Some(finding) = &mut draft.told {
                    finding.limit_at = span;
                }
                draft
            }
            (
                Val::Answer {
                    yes,
                    evidence,
                    span,
                },
                Equals::YesNo(asked),
            ) => {
                if let Some(finding) = &mut told {
                    finding.source_at = span;
                    finding.value = Some(FoundValue::Answer(yes));
                    finding.limit = Some(FoundLimit::Equals(
                        if *asked { "yes" } else { "no" }.to_owned(),
                    ));
                    finding.settled_by = evidence
                        .reason(Stage::Certification)
                        .and_then(settle_reason);
                }
                let outcomes = self.by_stage(|stage| match evidence.reason(stage) {
                    Some(reason) => (Outcome::NotDecided, Some(reason)),
                    None => (holds(yes == *asked), None),
                });
                Draft::of(told, outcomes)
            }
            (Val::Choice(choice, span), Equals::Choice(asked)) => {
                if let Some(finding) = &mut told {
                    finding.source_at = span;
                    let names = self.choice_names(&rule.value.root, rule);
                    let name = |id: Option<crate::vocabulary::ChoiceId>| {
                        id.and_then(|id| names.get(id.index()).cloned())
                            .unwrap_or_else(|| "other".to_owned())
                    };
                    finding.value = Some(FoundValue::Word(name(choice)));
                    finding.limit = Some(FoundLimit::Equals(name(Some(*asked))));
                }
                Draft::same(told, holds(choice == Some(*asked)), None)
            }
            (Val::Count(sure, possible), Equals::Count(asked)) => {
                if let Some(finding) = &mut told {
                    finding.value = Some(FoundValue::Count { sure, possible });
                    finding.limit = Some(FoundLimit::Equals(asked.to_string()));
                }
                if sure == possible {
                    Draft::same(told, holds(sure == *asked), None)
                } else if *asked < sure || *asked > possible {
                    Draft::same(told, Outcome::DoesNotConform, None)
                } else {
                    Draft::same(told, Outcome::NotDecided, Some(Reason::ConditionUnknown))
                }
            }
            // The loader lets no other pair through.
            _ => Draft::same(told, Outcome::NotDecided, Some(Reason::NotMeasured)),
        }
    }

    pub(super) fn choice_names(&self, node: &Node, rule: &Rule) -> Vec<String> {
        let Op::Trait(scope, id) = &node.op else {
            return Vec::new();
        };
        let part = match scope {
            Scope::Own => rule.applies_to,
            Scope::Boat => Vocabulary::BOAT,
            Scope::One(holding) => self
                .rules
                .vocabulary
                .holding(*holding)
                .map_or(rule.applies_to, |one| one.part),
        };
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
