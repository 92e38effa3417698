//! Declared, counted and looked-at things that must be just so.

use super::draft::Draft;
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
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
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
                draft.limit_at = span;
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
                draft.source_at = span;
                draft.tell(|told| {
                    let asked = if *asked { "yes" } else { "no" };
                    told.value = Some(FoundValue::Answer(yes));
                    told.limit = Some(FoundLimit::Equals(asked.to_owned()));
                    let lacking = evidence.reason(Stage::Certification);
                    told.settled_by = lacking.and_then(settle_reason);
                });
                draft.ruled_by(self.by_stage(|stage| match evidence.reason(stage) {
                    Some(reason) => (Outcome::NotDecided, Some(reason)),
                    None => (holds(yes == *asked), None),
                }))
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
                draft.ruled(holds(choice == Some(*asked)), None)
            }
            (Val::Count(sure, possible), Equals::Count(asked)) => {
                draft.tell(|told| {
                    told.value = Some(FoundValue::Count { sure, possible });
                    told.limit = Some(FoundLimit::Equals(asked.to_string()));
                });
                if sure == possible {
                    draft.ruled(holds(sure == *asked), None)
                } else if *asked < sure || *asked > possible {
                    draft.ruled(Outcome::DoesNotConform, None)
                } else {
                    draft.ruled(Outcome::NotDecided, Some(Reason::ConditionUnknown))
                }
            }
            // The loader lets no other pair through.
            _ => draft.ruled(Outcome::NotDecided, Some(Reason::NotMeasured)),
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
