//! Values against bounds: one value, a count, or place by place.

use super::finding::{Finding, FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::{Judge, settle_reason};
use super::marks::count_limit;
use super::plan::{PlannedRule, side_of};
use super::value::{Num, Val};
use crate::expression::{Node, Op};
use crate::quantity::{Exact, Number, Unit};
use crate::record::Item;
use crate::rules::{Bound, ByStage, Judged, Rule, Stage};
use crate::text::Span;
use crate::uncertainty::{
    Decision, Expanded, Limit, Uncertain, Verdict, decide, largest_deciding_u, margin,
};

/// A finding whose outcome is known for every stage.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The finding, its outcome not yet set.
    pub finding: Finding,
    /// Outcome and reason by stage.
    pub outcomes: ByStage<(Outcome, Option<Reason>)>,
}

impl Draft {
    /// The same outcome at every stage.
    pub fn same(finding: Finding, outcome: Outcome, reason: Option<Reason>) -> Draft {
        Draft {
            finding,
            outcomes: ByStage::of(|_| (outcome, reason)),
        }
    }
}

/// The worst outcome of some drafts at a stage.
pub fn worst_at(drafts: &[Draft], stage: Stage) -> Outcome {
    drafts
        .iter()
        .map(|draft| draft.outcomes.at(stage).0)
        .min()
        .unwrap_or(Outcome::NotDecided)
}

/// One value decided.
#[derive(Clone, Debug)]
pub struct Decided {
    pub(super) outcomes: ByStage<(Outcome, Option<Reason>)>,
    pub(super) expanded: Option<Expanded>,
    pub(super) margin: Number,
    pub(super) benefit_of_doubt: ByStage<bool>,
    pub(super) near: bool,
    pub(super) settle_u: Option<f64>,
}

impl<'r> Judge<'r> {
    /// A value against one bound.
    #[expect(
        clippy::too_many_arguments,
        reason = "one call site; the parts belong to no lasting thing"
    )]
    pub(super) fn bound(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        value: &Val<'r>,
        bound: &'r Bound,
        constant: Option<&Number>,
    ) -> Draft {
        let limit = match constant {
            Some(number) => Num::certain(Uncertain::certain(number.clone())),
            None => match self.eval.value(&bound.limit.root, at) {
                Val::Number(num) => num,
                Val::Count(sure, possible) if sure == possible => {
                    Num::certain(Uncertain::exact(Exact::from_integer(sure)))
                }
                Val::Unknown(why) => return self.side(self.open(planned, rule, at, why), bound),
                _ => {
                    return self.side(
                        self.open(
                            planned,
                            rule,
                            at,
                            super::value::Why {
                                reason: Reason::ConditionUnknown,
                                missing: super::value::Missing::Nothing,
                                span: None,
                            },
                        ),
                        bound,
                    );
                }
            },
        };
        let constant_limit = constant.is_some();
        let mut finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), bound.span);
        finding.side = Some(bound.kind);
        let unit = self.limit_unit(&bound.limit.root, &limit, value);
        if self.full() {
            finding.limit = Some(FoundLimit::Bound {
                kind: bound.kind,
                value: limit.value.value.clone(),
                unit,
                decimals: written_decimals(&bound.limit.text),
            });
        }
        match value {
            Val::Number(num) => {
                let decided = self.decided(num, bound, &limit, constant_limit);
                self.fill(&mut finding, num, &decided, unit, at, rule);
                Draft {
                    finding,
                    outcomes: decided.outcomes,
                }
            }
            Val::Count(sure, possible) => {
                let exact = limit.value.value.as_exact();
                let outcome = count_in(
                    bound.kind.is_lower(),
                    bound.kind.is_strict(),
                    *sure,
                    *possible,
                    exact,
                );
                let reason = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
                if self.full() {
                    finding.value = Some(FoundValue::Count {
                        sure: *sure,
                        possible: *possible,
                    });
                    if let Some(count) = exact.and_then(Exact::to_i64) {
                        finding.limit = Some(count_limit(bound.kind, count));
                    }
                    if sure == possible {
                        let number = Number::Exact(Exact::from_integer(*sure));
                        let limit = Limit {
                            side: side_of(bound.kind),
                            strict: false,
                            value: &limit.value.value,
                        };
                        finding.margin = Some(margin(&limit, &number));
                    }
                    self.spans(&mut finding, Span::default(), rule, at);
                }
                Draft::same(finding, outcome, reason)
            }
            Val::Places(places) => match rule.judged {
                Judged::Mean => self.mean(
                    rule,
                    at,
                    item,
                    places,
                    bound,
                    &limit,
                    constant_limit,
                    finding,
                    unit,
                ),
                Judged::WorstPlace | Judged::Unplaced => self.worst_place(
                    rule,
                    at,
                    item,
                    places,
                    bound,
                    &limit,
                    constant_limit,
                    finding,
                    unit,
                ),
            },
            // The loader lets no other kind of value meet a bound.
            Val::Choice(..)
            | Val::Level(_)
            | Val::Date(_)
            | Val::Answer { .. }
            | Val::Truth(_)
            | Val::Profile(..)
            | Val::Line(..)
            | Val::Sections(..)
            | Val::Unknown(_) => {
                Draft::same(finding, Outcome::NotDecided, Some(Reason::NotMeasured))
            }
        }
    }

    fn side(&self, mut draft: Draft, bound: &Bound) -> Draft {
        draft.finding.side = Some(bound.kind);
        draft.finding.limit_at = bound.span;
        draft
    }

    fn limit_unit(&self, node: &Node, limit: &Num, value: &Val<'r>) -> Unit {
        let written = match &node.op {
            Op::Quantity { unit, .. } => Some(*unit),
            _ => limit.unit,
        };
        let of_value = match value {
            Val::Number(num) => num.unit,
            Val::Places(places) => places.first().and_then(|one| one.num.unit),
            _ => None,
        };
        written.or(of_value).unwrap_or(Unit::PLAIN)
    }

    /// Decides one number at every stage.
    pub(super) fn decided(&self, num: &Num, bound: &Bound, limit: &Num, constant: bool) -> Decided {
        // A limit that is itself measured is brought to the other side, so that what is shared cancels.
        let zero = Number::ZERO;
        let difference;
        let (target, threshold) = if constant {
            (&num.value, &limit.value.value)
        } else {
            difference = num.value.sub(&limit.value);
            (&difference, &zero)
        };
        let side = Limit {
            side: side_of(bound.kind),
            strict: bound.kind.is_strict(),
            value: threshold,
        };
        let expanded = (!target.unknown).then(|| target.expanded(&self.plan.coverage));
        let guard = &self.rules.decision.guard_factor;
        let u = expanded.as_ref().map(|expanded| expanded.U);
        let evidence = if constant {
            num.evidence
        } else {
            num.evidence.and(limit.evidence)
        };
        let mut known: Option<(crate::uncertainty::DecisionRule, Decision)> = None;
        let mut benefit_of_doubt = ByStage::default();
        let mut near = false;
        let mut decision_at = |stage: Stage| {
            let rule = *self.rules.decision.rules.at(stage);
            match known {
                Some((same, decision)) if same == rule => decision,
                _ => {
                    let decision = decide(rule, &side, target, u, guard);
                    known = Some((rule, decision));
                    decision
                }
            }
        };
        let outcomes = ByStage::of(|stage| {
            let decision = decision_at(stage);
            near |= decision.near;
            if let Some(reason) = evidence.reason(stage) {
                return (Outcome::NotDecided, Some(reason));
            }
            match stage {
                Stage::SelfCheck => benefit_of_doubt.self_check = decision.benefit_of_doubt,
                Stage::Certification => benefit_of_doubt.certification = decision.benefit_of_doubt,
                Stage::EventInspection => {
                    benefit_of_doubt.event_inspection = decision.benefit_of_doubt
                }
            }
            match decision.verdict {
                Verdict::Conforms => (Outcome::Conforms, None),
                Verdict::DoesNotConform => (Outcome::DoesNotConform, None),
                Verdict::NearLimit => (Outcome::NotDecided, Some(Reason::NearLimit)),
                Verdict::NotReached => (Outcome::NotDecided, Some(Reason::NotReached)),
                Verdict::UncertaintyUnknown => {
                    (Outcome::NotDecided, Some(Reason::UncertaintyUnknown))
                }
            }
        });
        let settle_u = if self.full() {
            largest_deciding_u(&side, target, guard)
        } else {
            None
        };
        Decided {
            outcomes,
            expanded,
            margin: margin(&side, &target.value),
            benefit_of_doubt,
            near,
            settle_u,
        }
    }

    pub(super) fn fill(
        &self,
        finding: &mut Finding,
        num: &Num,
        decided: &Decided,
        unit: Unit,
        at: usize,
        rule: &Rule,
    ) {
        let stage = self.context.purpose;
        finding.benefit_of_doubt = *decided.benefit_of_doubt.at(stage);
        finding.second_measurer = decided.near;
        if !self.full() {
            return;
        }
        let decimals = num
            .unit
            .filter(|written| *written == unit)
            .and(num.decimals);
        finding.value = Some(FoundValue::Number {
            value: num.value.value.clone(),
            unit,
            decimals,
            bound: num.value.bound,
        });
        finding.expanded = decided.expanded;
        finding.margin = Some(decided.margin.clone());
        finding.notes = num.note.iter().map(|note| note.to_string()).collect();
        finding.settled_by = match decided.outcomes.at(stage).1 {
            Some(Reason::NearLimit) => decided
                .settle_u
                .map(|at_most| Settle::SmallerUncertainty { at_most, unit }),
            Some(reason) => settle_reason(reason),
            None => None,
        };
        self.spans(finding, num.span, rule, at);
    }
}

fn count_in(lower: bool, strict: bool, sure: i64, possible: i64, limit: Option<&Exact>) -> Outcome {
    let Some(limit) = limit else {
        return Outcome::NotDecided;
    };
    let inside = |count: i64| {
        let order = Exact::from_integer(count).cmp(limit);
        match (lower, strict) {
            (true, false) => order.is_ge(),
            (true, true) => order.is_gt(),
            (false, false) => order.is_le(),
            (false, true) => order.is_lt(),
        }
    };
    match (inside(sure), inside(possible)) {
        (true, true) => Outcome::Conforms,
        (false, false) => Outcome::DoesNotConform,
        (true, false) | (false, true) => Outcome::NotDecided,
    }
}

/// The decimals of a limit that is written as one number: `4.70 mm` has two.
fn written_decimals(text: &str) -> Option<u8> {
    crate::quantity::Quantity::parse(text)
        .ok()
        .and_then(|quantity| quantity.decimals)
}
