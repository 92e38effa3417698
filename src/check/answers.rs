//! Declared, counted and looked-at things that must be just so.

use super::decide::Draft;
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::PlannedRule;
use super::settle::settle_reason;
use super::value::Val;
use crate::expression::{Node, Op, Scope};
use crate::rules::{ByStage, Equals, Rule, Stage};
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
        let mut finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
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
                draft.finding.limit_at = span;
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
                finding.source_at = span;
                if self.full() {
                    finding.value = Some(FoundValue::Answer(yes));
                    finding.limit = Some(FoundLimit::Equals(
                        if *asked { "yes" } else { "no" }.to_owned(),
                    ));
                    finding.settled_by = evidence
                        .reason(Stage::Certification)
                        .and_then(settle_reason);
                }
                let outcomes = ByStage::of(|stage| match evidence.reason(stage) {
                    Some(reason) => (Outcome::NotDecided, Some(reason)),
                    None => (holds(yes == *asked), None),
                });
                Draft {
                    finding,
                    outcomes,
                    places: None,
                }
            }
            (Val::Choice(choice, span), Equals::Choice(asked)) => {
                finding.source_at = span;
                if self.full() {
                    let names = self.choice_names(&rule.value.root, rule);
                    let name = |id: Option<crate::vocabulary::ChoiceId>| {
                        id.and_then(|id| names.get(id.index()).cloned())
                            .unwrap_or_else(|| "other".to_owned())
                    };
                    finding.value = Some(FoundValue::Word(name(choice)));
                    finding.limit = Some(FoundLimit::Equals(name(Some(*asked))));
                }
                Draft::same(finding, holds(choice == Some(*asked)), None)
            }
            (Val::Count(sure, possible), Equals::Count(asked)) => {
                if self.full() {
                    finding.value = Some(FoundValue::Count { sure, possible });
                    finding.limit = Some(FoundLimit::Equals(asked.to_string()));
                }
                if sure == possible {
                    Draft::same(finding, holds(sure == *asked), None)
                } else if *asked < sure || *asked > possible {
                    Draft::same(finding, Outcome::DoesNotConform, None)
                } else {
                    Draft::same(finding, Outcome::NotDecided, Some(Reason::ConditionUnknown))
                }
            }
            // The loader lets no other pair through.
            _ => Draft::same(finding, Outcome::NotDecided, Some(Reason::NotMeasured)),
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
