//! Declared, counted and looked-at things that must be just so.

use super::draft::{Draft, Ruling};
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::PlannedRule;
use super::settle::settle_evidence;
use super::value::Val;
use crate::expression::{Node, Op};
use crate::rules::{Demand, Equals, Rule, Stage};
use crate::text::Span;
use crate::vocabulary::ChoiceId;

/// What is asked of a declared, counted or looked-at thing.
#[derive(Clone, Copy)]
pub(super) enum Asked<'r> {
    /// To be just so.
    Equals(&'r Equals),
    /// To be nothing but these.
    Only(&'r [ChoiceId]),
    /// To be none of these.
    Without(&'r [ChoiceId]),
}

impl<'r> Asked<'r> {
    /// What a row asks, with its place in the file, where it asks that and no more.
    pub fn of(demand: &'r Demand) -> Option<(Asked<'r>, Span)> {
        match demand {
            Demand::Equals(equals, span) => Some((Asked::Equals(equals), *span)),
            Demand::Only(choices, span) => Some((Asked::Only(choices), *span)),
            Demand::Without(choices, span) => Some((Asked::Without(choices), *span)),
            Demand::Bounds(_) | Demand::Options(_) | Demand::None => None,
        }
    }

    /// Whether a declared choice may be there; `None` is `other`.
    fn allows(self, choice: Option<ChoiceId>) -> bool {
        match (self, choice) {
            (Asked::Equals(Equals::Choice(asked)), choice) => choice == Some(*asked),
            (Asked::Equals(Equals::YesNo(_) | Equals::Count(_)), _) => false,
            (Asked::Only(list), Some(choice)) => list.contains(&choice),
            (Asked::Only(_), None) => false,
            (Asked::Without(list), Some(choice)) => !list.contains(&choice),
            // What the rules do not list as forbidden is for their silence to judge.
            (Asked::Without(_), None) => true,
        }
    }
}

/// What is said of a value of which something is asked.
pub(super) fn said(value: &Val<'_>, asked: Asked<'_>, stage: Stage) -> Ruling {
    let holds = |holds: bool| {
        if holds {
            (Outcome::Conforms, None)
        } else {
            (Outcome::DoesNotConform, None)
        }
    };
    match (value, asked) {
        (Val::Unknown(why), _) => (Outcome::NotDecided, Some(why.reason)),
        (Val::Answer { yes, evidence, .. }, Asked::Equals(Equals::YesNo(asked))) => {
            match evidence.reason(stage) {
                Some(reason) => (Outcome::NotDecided, Some(reason)),
                None => holds(yes == asked),
            }
        }
        (Val::Choice(choice, _), asked) => holds(asked.allows(*choice)),
        (Val::AnyOf(choices, _), asked) => holds(choices.iter().all(|one| asked.allows(*one))),
        (Val::Count(sure, possible), Asked::Equals(Equals::Count(asked))) => {
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
    pub(super) fn asked(
        &mut self,
        planned: &PlannedRule,
        rule: &Rule,
        at: usize,
        value: Val<'r>,
        (asked, span): (Asked<'r>, Span),
    ) -> Draft {
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
        let rulings = self.by_stage(|stage| said(&value, asked, stage));
        match (value, asked) {
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
                Asked::Equals(Equals::YesNo(asked)),
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
            (Val::Choice(choice, span), asked) => {
                draft.source_at = span;
                self.tell_choices(&mut draft, &[choice], asked, rule);
            }
            (Val::AnyOf(choices, span), asked) => {
                draft.source_at = span;
                self.tell_choices(&mut draft, choices, asked, rule);
            }
            (Val::Count(sure, possible), Asked::Equals(Equals::Count(asked))) => {
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

    /// Tells what was declared and what is asked. Of a list only what may not be there is told, if anything.
    fn tell_choices(
        &self,
        draft: &mut Draft,
        choices: &[Option<ChoiceId>],
        asked: Asked<'_>,
        rule: &Rule,
    ) {
        draft.tell(|told| {
            let names = self.choice_names(&rule.value.root, rule);
            let name = |id: Option<ChoiceId>| {
                id.and_then(|id| names.get(id.index()).cloned())
                    .unwrap_or_else(|| "other".to_owned())
            };
            let bad = choices.iter().filter(|one| !asked.allows(**one));
            let bad: Vec<String> = bad.map(|one| name(*one)).collect();
            let all = || choices.iter().map(|one| name(*one)).collect();
            let shown: Vec<String> = if bad.is_empty() { all() } else { bad };
            told.value = Some(FoundValue::Word(shown.join(", ")));
            let list = |ids: &[ChoiceId]| ids.iter().map(|id| name(Some(*id))).collect();
            told.limit = match asked {
                Asked::Equals(Equals::Choice(asked)) => {
                    Some(FoundLimit::Equals(name(Some(*asked))))
                }
                Asked::Equals(Equals::YesNo(_) | Equals::Count(_)) => None,
                Asked::Only(ids) => Some(FoundLimit::Only(list(ids))),
                Asked::Without(ids) => Some(FoundLimit::Without(list(ids))),
            };
        });
    }

    pub(super) fn choice_names(&self, node: &Node, rule: &Rule) -> Vec<String> {
        let Op::Trait(scope, id) = &node.op else {
            return Vec::new();
        };
        let part = scope
            .part(rule.applies_to, &self.rules.vocabulary)
            .unwrap_or(rule.applies_to);
        let part = self.rules.vocabulary.part(part);
        let one = part.and_then(|part| part.traits.get(id.index()));
        let names = one.map_or(&[][..], |one| one.kind.names());
        names.iter().map(|name| name.text.clone()).collect()
    }
}
