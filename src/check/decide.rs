//! Values against bounds: one value, a count, or place by place.

use std::rc::Rc;

use smallvec::SmallVec;

use super::arithmetic::nothing;
use super::finding::{Finding, FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::Judge;
use super::marks::count_limit;
use super::places::Asked;
use super::plan::{PlannedRule, side_of};
use super::settle::settle_reason;
use super::value::{Num, Val, Why};
use crate::expression::{Node, Op};
use crate::quantity::{Exact, Number, Unit};
use crate::record::Item;
use crate::rules::{Bound, BoundKind, ByStage, Judged, Rule, Stage};
use crate::text::Span;
use crate::uncertainty::{
    Decision, DecisionRule, Expanded, Limit, Uncertain, Verdict, decide, largest_deciding_u, margin,
};

/// An outcome with its reason.
pub type Said = (Outcome, Option<Reason>);

/// What a report says about an outcome; nothing where outcomes alone are asked for.
pub type Told = Option<Box<Finding>>;

/// A rule has a draft for each of its bounds.
pub type Drafts = SmallVec<[Draft; 2]>;

/// A finding whose outcome is known for every stage.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The bound of a two-sided limit.
    pub side: Option<BoundKind>,
    /// Outcome and reason by stage.
    pub outcomes: ByStage<Said>,
    /// Whether the value lies outside the limit but within its uncertainty, and passes for that.
    pub benefit_of_doubt: bool,
    /// Whether a second measurer should read it.
    pub second_measurer: bool,
    /// What is said about it, its outcome not yet set.
    pub told: Told,
}

impl Draft {
    /// The same outcome at every stage.
    pub fn same(told: Told, outcome: Outcome, reason: Option<Reason>) -> Draft {
        Draft::of(told, ByStage::of(|_| (outcome, reason)))
    }

    /// Outcomes by stage, with nothing to say beside them.
    pub fn of(told: Told, outcomes: ByStage<Said>) -> Draft {
        Draft {
            side: None,
            outcomes,
            benefit_of_doubt: false,
            second_measurer: false,
            told,
        }
    }

    /// The same for a bound.
    pub fn on(self, side: BoundKind) -> Draft {
        Draft {
            side: Some(side),
            ..self
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
    pub(super) outcomes: ByStage<Said>,
    pub(super) expanded: Option<Expanded>,
    pub(super) benefit_of_doubt: ByStage<bool>,
    pub(super) near: bool,
}

/// What a value is held against.
#[derive(Clone, Copy)]
pub(super) struct Threshold<'t> {
    pub bound: &'t Bound,
    /// The limit, base units.
    pub limit: &'t Number,
    /// Where the limit is itself measured or computed: with its uncertainty and evidence.
    pub measured: Option<&'t Num>,
}

impl<'t> Threshold<'t> {
    fn side(&self, value: &'t Number) -> Limit<'t> {
        Limit {
            side: side_of(self.bound.kind),
            strict: self.bound.kind.is_strict(),
            value,
        }
    }

    /// Distance inside the limit.
    pub fn margin(&self, num: &Num) -> Number {
        match self.measured {
            None => margin(&self.side(self.limit), &num.value.value),
            Some(limit) => {
                let difference = num.value.value.sub(&limit.value.value);
                margin(&self.side(&Number::ZERO), &difference)
            }
        }
    }

    /// The expanded uncertainty that would decide an open case.
    fn settling_u(&self, num: &Num, guard: &Exact) -> Option<f64> {
        match self.measured {
            None => largest_deciding_u(&self.side(self.limit), &num.value, guard),
            Some(limit) => {
                let difference = num.value.sub(&limit.value);
                largest_deciding_u(&self.side(&Number::ZERO), &difference, guard)
            }
        }
    }
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
        let measured = match constant {
            Some(_) => None,
            None => match self.eval.value(&bound.limit.root, at) {
                Val::Number(num) => Some(num),
                Val::Count(sure, possible) if sure == possible => {
                    let count = Uncertain::exact(Exact::from_integer(sure));
                    Some(Rc::new(Num::certain(count)))
                }
                Val::Unknown(why) => return self.open_bound(planned, rule, at, why, bound),
                _ => {
                    let why = nothing(Reason::ConditionUnknown);
                    return self.open_bound(planned, rule, at, why, bound);
                }
            },
        };
        let limit = match (constant, &measured) {
            (Some(number), _) => number,
            (None, Some(num)) => &num.value.value,
            (None, None) => &Number::ZERO,
        };
        let measured = measured.as_deref();
        let threshold = Threshold {
            bound,
            limit,
            measured,
        };
        let mut told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), bound.span);
        let mut unit = Unit::PLAIN;
        if let Some(finding) = &mut told {
            unit = self.limit_unit(&bound.limit.root, measured, value);
            finding.limit = Some(FoundLimit::Bound {
                kind: bound.kind,
                value: limit.clone(),
                unit,
                decimals: written_decimals(&bound.limit.text),
            });
        }
        let draft = match value {
            Val::Number(num) => {
                let decided = self.decided(num, &threshold);
                let mut draft = Draft::of(told, decided.outcomes);
                self.fill(&mut draft, num, &decided, &threshold, unit, at, rule);
                draft
            }
            Val::Count(sure, possible) => {
                self.count(told, (*sure, *possible), &threshold, at, rule)
            }
            Val::Places(places) => {
                let asked = Asked {
                    rule,
                    at,
                    item,
                    places,
                    threshold,
                    unit,
                };
                match rule.judged {
                    Judged::Mean => self.mean(&asked, told),
                    Judged::WorstPlace | Judged::Unplaced => self.worst_place(&asked, told),
                }
            }
            // The loader lets no other kind of value meet a bound.
            Val::Choice(..)
            | Val::Level(_)
            | Val::Date(_)
            | Val::Answer { .. }
            | Val::Truth(_)
            | Val::Profile(..)
            | Val::Line(..)
            | Val::Sections(..)
            | Val::Unknown(_) => Draft::same(told, Outcome::NotDecided, Some(Reason::NotMeasured)),
        };
        draft.on(bound.kind)
    }

    /// A count against a bound.
    fn count(
        &self,
        mut told: Told,
        (sure, possible): (i64, i64),
        threshold: &Threshold<'_>,
        at: usize,
        rule: &Rule,
    ) -> Draft {
        let kind = threshold.bound.kind;
        let exact = threshold.limit.as_exact();
        let outcome = count_in(kind.is_lower(), kind.is_strict(), sure, possible, exact);
        let reason = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
        if let Some(finding) = &mut told {
            finding.value = Some(FoundValue::Count { sure, possible });
            if let Some(count) = exact.and_then(Exact::to_i64) {
                finding.limit = Some(count_limit(kind, count));
            }
            if sure == possible {
                let number = Number::Exact(Exact::from_integer(sure));
                let limit = Limit {
                    side: side_of(kind),
                    strict: false,
                    value: threshold.limit,
                };
                finding.margin = Some(margin(&limit, &number));
            }
            self.spans(finding, Span::default(), rule, at);
        }
        Draft::same(told, outcome, reason)
    }

    /// A bound whose limit can't be said.
    fn open_bound(
        &self,
        planned: &PlannedRule,
        rule: &Rule,
        at: usize,
        why: Why,
        bound: &Bound,
    ) -> Draft {
        let mut draft = self.open(planned, rule, at, why).on(bound.kind);
        if let Some(finding) = &mut draft.told {
            finding.limit_at = bound.span;
        }
        draft
    }

    fn limit_unit(&self, node: &Node, limit: Option<&Num>, value: &Val<'r>) -> Unit {
        let written = match &node.op {
            Op::Quantity { unit, .. } => Some(*unit),
            _ => limit.and_then(|limit| limit.unit),
        };
        let of_value = match value {
            Val::Number(num) => num.unit,
            Val::Places(places) => places.first().and_then(|one| one.num.unit),
            _ => None,
        };
        written.or(of_value).unwrap_or(Unit::PLAIN)
    }

    /// Decides one number at every stage that is asked.
    pub(super) fn decided(&self, num: &Num, threshold: &Threshold<'_>) -> Decided {
        // A limit that is itself measured is brought to the other side, so that what is shared cancels.
        let difference;
        let (target, limit, expanded, evidence) = match threshold.measured {
            None => {
                let expanded = num.expanded(&self.plan.coverage);
                (&num.value, threshold.limit, expanded, num.evidence)
            }
            Some(limit) => {
                difference = num.value.sub(&limit.value);
                let expanded =
                    (!difference.unknown).then(|| difference.expanded(&self.plan.coverage));
                let evidence = num.evidence.and(limit.evidence);
                (&difference, &Number::ZERO, expanded, evidence)
            }
        };
        let side = threshold.side(limit);
        let guard = &self.rules.decision.guard_factor;
        let u = expanded.as_ref().map(|expanded| expanded.U);
        let mut known: Option<(DecisionRule, Decision)> = None;
        let mut near = false;
        let at_stages = self.by_stage(|stage| {
            let rule = *self.rules.decision.rules.at(stage);
            let decision = match known {
                Some((same, decision)) if same == rule => decision,
                _ => decide(rule, &side, target, u, guard),
            };
            known = Some((rule, decision));
            near |= decision.near;
            if let Some(reason) = evidence.reason(stage) {
                return ((Outcome::NotDecided, Some(reason)), false);
            }
            let said = match decision.verdict {
                Verdict::Conforms => (Outcome::Conforms, None),
                Verdict::DoesNotConform => (Outcome::DoesNotConform, None),
                Verdict::NearLimit => (Outcome::NotDecided, Some(Reason::NearLimit)),
                Verdict::NotReached => (Outcome::NotDecided, Some(Reason::NotReached)),
                Verdict::UncertaintyUnknown => {
                    (Outcome::NotDecided, Some(Reason::UncertaintyUnknown))
                }
            };
            (said, decision.benefit_of_doubt)
        });
        Decided {
            outcomes: ByStage::of(|stage| at_stages.at(stage).0),
            expanded,
            benefit_of_doubt: ByStage::of(|stage| at_stages.at(stage).1),
            near,
        }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "the parts belong to no lasting thing"
    )]
    pub(super) fn fill(
        &self,
        draft: &mut Draft,
        num: &Num,
        decided: &Decided,
        threshold: &Threshold<'_>,
        unit: Unit,
        at: usize,
        rule: &Rule,
    ) {
        let stage = self.context.purpose;
        draft.benefit_of_doubt = *decided.benefit_of_doubt.at(stage);
        draft.second_measurer = decided.near;
        let Some(finding) = &mut draft.told else {
            return;
        };
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
        finding.margin = Some(threshold.margin(num));
        finding.notes = num.note.iter().map(|note| note.to_string()).collect();
        finding.settled_by = match decided.outcomes.at(stage).1 {
            Some(Reason::NearLimit) => threshold
                .settling_u(num, &self.rules.decision.guard_factor)
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
