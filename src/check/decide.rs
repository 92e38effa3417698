//! Values against bounds: one value, a count, or place by place.

use super::draft::{Draft, Ruling};
use super::finding::{
    FoundBudget, FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle,
};
use super::judge::Judge;
use super::marks::count_limit;
use super::plan::{PlannedRule, side_of};
use super::settle::settle_evidence;
use super::value::{Num, Val, Why};
use crate::expression::{Expression, Op, Type};
use crate::quantity::{Dimension, Exact, Number, Unit};
use crate::record::Item;
use crate::rules::{Bound, BoundKind, ByStage, Judged, Rule};
use crate::text::Span;
use crate::uncertainty::{
    Budget, Decision, Expanded, Limit, Uncertain, Verdict, decide, largest_deciding_u, margin,
};

/// One value decided.
#[derive(Clone, Debug)]
pub(super) struct Decided {
    pub rulings: ByStage<Ruling>,
    pub expanded: Option<Expanded>,
    pub margin: Number,
    pub benefit_of_doubt: bool,
    pub near: bool,
    pub settle_u: Option<f64>,
    /// What was decided where a budget is asked for: the value, or its difference to a limit that is computed.
    pub decided_on: Option<Box<DecidedOn>>,
}

/// What was decided on.
#[derive(Clone, Debug)]
pub(super) struct DecidedOn {
    pub value: Uncertain,
    pub of_difference: bool,
}

/// What a value is decided against.
pub(super) enum Threshold<'r> {
    /// A limit that is written as a number.
    Written(&'r Number),
    /// A limit that is computed, and may be measured itself.
    Computed(Num),
    /// A limit that is tried in place of the written one.
    Tried(Number),
}

impl Threshold<'_> {
    fn number(&self) -> &Number {
        match self {
            Threshold::Written(number) => number,
            Threshold::Computed(num) => &num.value.value,
            Threshold::Tried(number) => number,
        }
    }
}

/// A bound with what it comes to on one item.
pub(super) struct Met<'r> {
    /// The bound that an unrounded value is decided against.
    pub kind: BoundKind,
    pub threshold: Threshold<'r>,
    /// The unit to show value and limit in; plain where no report is wanted.
    pub unit: Unit,
}

impl<'r> Judge<'r> {
    /// A value against one bound.
    pub(super) fn bound(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        value: &Val<'r>,
        (bound, constant): (&'r Bound, Option<&'r Number>),
    ) -> Draft {
        let met = match self.met(at, value, (bound, constant)) {
            Ok(met) => met,
            Err(why) => return self.side(self.open(planned, rule, at, why), bound),
        };
        let unit = met.unit;
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), bound.span);
        draft.side = Some(bound.kind);
        draft.tell(|told| told.limit = Some(found_limit(bound, &met)));
        match value {
            Val::Number(num) => {
                let decided = self.decided(num, &met);
                self.fill(&mut draft, num, &decided, unit, at, rule);
                draft.ruled_by(decided.rulings)
            }
            Val::Count(sure, possible) => {
                let exact = met.threshold.number().as_exact();
                let outcome = count_in(
                    bound.kind.is_lower(),
                    bound.kind.is_strict(),
                    *sure,
                    *possible,
                    exact,
                );
                let reason = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
                if self.full() {
                    draft.tell(|told| {
                        told.value = Some(FoundValue::Count {
                            sure: *sure,
                            possible: *possible,
                        });
                        if let Some(count) = exact.and_then(Exact::to_i64) {
                            told.limit = Some(count_limit(bound.kind, count));
                        }
                        if sure == possible {
                            let number = Number::Exact(Exact::from_integer(*sure));
                            let limit = Limit {
                                side: side_of(bound.kind),
                                strict: false,
                                value: met.threshold.number(),
                            };
                            told.margin = Some(margin(&limit, &number));
                        }
                    });
                    self.spans(&mut draft, Span::default(), rule, at);
                }
                draft.ruled(outcome, reason)
            }
            Val::Places(places) => match rule.judged {
                Judged::Mean => self.mean(rule, at, item, places, &met, draft),
                Judged::WorstPlace | Judged::Unplaced => {
                    self.worst_place(rule, at, item, places, &met, draft)
                }
            },
            // The loader lets no other kind of value meet a bound.
            Val::Choice(..)
            | Val::AnyOf(..)
            | Val::Level(_)
            | Val::Date(_)
            | Val::Answer { .. }
            | Val::Truth(_)
            | Val::Profile(..)
            | Val::Line(..)
            | Val::Sections(..)
            | Val::LoadTest(..)
            | Val::Outline(..)
            | Val::Unknown(_) => draft.ruled(Outcome::NotDecided, Some(Reason::NotMeasured)),
        }
    }

    /// What a bound comes to on an item, or why that can't be said.
    pub(super) fn met(
        &mut self,
        at: usize,
        value: &Val<'r>,
        (bound, constant): (&'r Bound, Option<&'r Number>),
    ) -> Result<Met<'r>, Why> {
        if let Some(tried) = self.tried.as_ref().filter(|tried| tried.is_of(bound)) {
            return Ok(Met {
                kind: tried.kind,
                threshold: Threshold::Tried(Number::Exact(tried.limit.clone())),
                unit: Unit::PLAIN,
            });
        }
        let threshold = match constant {
            Some(number) => Threshold::Written(number),
            None => match self.eval.value(&bound.limit.root, at) {
                Val::Number(num) => Threshold::Computed((*num).clone()),
                Val::Count(sure, possible) if sure == possible => {
                    Threshold::Computed(Num::certain(Uncertain::exact(Exact::from_integer(sure))))
                }
                Val::Unknown(why) => return Err(why),
                _ => return Err(super::arithmetic::nothing(Reason::ConditionUnknown)),
            },
        };
        let unit = if self.full() {
            limit_unit(&bound.limit, &threshold, value)
        } else {
            Unit::PLAIN
        };
        Ok(Met {
            kind: bound.exact_kind(),
            threshold,
            unit,
        })
    }

    pub(super) fn side(&self, mut draft: Draft, bound: &Bound) -> Draft {
        draft.side = Some(bound.kind);
        draft.limit_at = bound.span;
        draft
    }

    /// Decides one number at every stage that is asked for.
    pub(super) fn decided(&self, num: &Num, met: &Met<'_>) -> Decided {
        // A limit that is itself measured is brought to the other side, so that what is shared cancels.
        let difference;
        let (target, threshold, evidence) = match &met.threshold {
            Threshold::Written(limit) => (num, *limit, num.evidence),
            Threshold::Tried(limit) => (num, limit, num.evidence),
            Threshold::Computed(limit) => {
                difference = Num::certain(num.value.sub(&limit.value));
                (&difference, &Number::ZERO, num.evidence.and(limit.evidence))
            }
        };
        let side = Limit {
            side: side_of(met.kind),
            strict: met.kind.is_strict(),
            value: threshold,
        };
        let expanded = target.expanded(&self.plan.coverage);
        let guard = &self.rules.decision.guard_factor;
        let u = expanded.map(|expanded| expanded.U);
        let mut known: Option<(crate::uncertainty::DecisionRule, Decision)> = None;
        let mut benefit_of_doubt = false;
        let mut near = false;
        let rulings = self.by_stage(|stage| {
            let rule = *self.rules.decision.rules.at(stage);
            let decision = match known {
                Some((same, decision)) if same == rule => decision,
                _ => decide(rule, &side, &target.value, u, guard),
            };
            known = Some((rule, decision));
            near |= decision.near;
            if let Some(reason) = evidence.reason(stage) {
                return (Outcome::NotDecided, Some(reason));
            }
            if stage == self.context.purpose {
                benefit_of_doubt = decision.benefit_of_doubt;
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
            largest_deciding_u(&side, &target.value, guard)
        } else {
            None
        };
        Decided {
            rulings,
            expanded,
            margin: margin(&side, &target.value.value),
            benefit_of_doubt,
            near,
            settle_u,
            decided_on: self.eval.readings.register.as_ref().map(|_| {
                Box::new(DecidedOn {
                    value: target.value.clone(),
                    of_difference: matches!(met.threshold, Threshold::Computed(_)),
                })
            }),
        }
    }

    pub(super) fn fill(
        &self,
        draft: &mut Draft,
        num: &Num,
        decided: &Decided,
        unit: Unit,
        at: usize,
        rule: &Rule,
    ) {
        draft.benefit_of_doubt = decided.benefit_of_doubt;
        draft.second_measurer = decided.near;
        if !self.full() {
            return;
        }
        let decimals = num
            .unit
            .filter(|written| *written == unit)
            .and(num.decimals);
        draft.tell(|told| {
            told.value = Some(FoundValue::Number {
                value: num.value.value.clone(),
                unit,
                decimals,
                bound: num.value.bound,
            });
            told.expanded = decided.expanded;
            told.margin = Some(decided.margin.clone());
            told.notes = num.note.iter().map(|note| note.to_string()).collect();
            told.settled_by = match decided.rulings.at(self.context.purpose).1 {
                Some(Reason::NearLimit) => decided
                    .settle_u
                    .map(|at_most| Settle::SmallerUncertainty { at_most, unit }),
                Some(reason) => settle_evidence(num.evidence, reason),
                None => None,
            };
        });
        self.keep_budget(draft, decided, unit, decimals, rule);
        self.spans(draft, num.span, rule, at);
    }

    /// The budget of what was decided on, where it is asked for.
    fn keep_budget(
        &self,
        draft: &mut Draft,
        decided: &Decided,
        unit: Unit,
        decimals: Option<u8>,
        rule: &Rule,
    ) {
        let (Some(register), Some(on)) = (&self.eval.readings.register, &decided.decided_on) else {
            return;
        };
        let asked = self.budgets.iter().flat_map(|names| names.iter());
        let named = asked
            .clone()
            .any(|name| *name == rule.id.text || *name == rule.clause.text);
        if !named && asked.count() > 0 {
            return;
        }
        let budget = Budget::of(&on.value, register, &self.plan.coverage, unit);
        let decimals = decimals.filter(|_| !on.of_difference);
        let found = FoundBudget {
            budget: budget.about("", decimals),
            of_difference: on.of_difference,
            named,
        };
        draft.tell(|told| told.budget = Some(Box::new(found)));
    }
}

/// A bound as a report tells it: as it is written, and what it comes to.
pub(super) fn found_limit(bound: &Bound, met: &Met<'_>) -> FoundLimit {
    let written = bound
        .rounded
        .as_ref()
        .and_then(|_| bound.limit.root.constant());
    FoundLimit::Bound {
        kind: bound.kind,
        value: written.map_or_else(|| met.threshold.number().clone(), Number::Exact),
        unit: met.unit,
        decimals: bound.decimals(),
        rounded: bound.rounded.clone(),
    }
}

/// The unit that a limit is written in, else one that a reading is written in. A factor such as the 0.75 of
/// `0.75 * backbone.length` has a unit too, a plain number: what is shown has the dimension of the limit.
fn limit_unit(limit: &Expression, threshold: &Threshold<'_>, value: &Val<'_>) -> Unit {
    let dimension = if let Type::Quantity(dimension) = limit.yields.kind {
        dimension
    } else {
        Dimension::RATIO
    };
    let written = match (&limit.root.op, threshold) {
        (Op::Quantity { unit, .. }, _) => Some(*unit),
        (_, Threshold::Computed(num)) => num.unit,
        (_, Threshold::Written(_) | Threshold::Tried(_)) => None,
    };
    let of_value = match value {
        Val::Number(num) => num.unit,
        Val::Places(places) => places.first().and_then(|one| one.num.unit),
        _ => None,
    };
    let fits = |unit: &Unit| unit.dimension() == dimension;
    let usual = || dimension.likely_units().first().copied();
    written
        .filter(fits)
        .or_else(|| of_value.filter(fits))
        .or_else(usual)
        .unwrap_or(Unit::PLAIN)
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
