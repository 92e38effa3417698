//! Expressions evaluated on one record.

use super::arithmetic::{
    arithmetic, compare_ranges, count_number, count_range, level_missing, map, nothing, same_count,
    unknown,
};
use super::finding::Reason;
use super::glance::{Glances, Plausible};
use super::reading::{Measurer, Readings};
use super::value::{Evidence, Missing, Num, Truth, Val, Why};
use crate::expression::{Comparison, Node, Op, Scope};
use crate::quantity::{Date, DateSpan, Exact, Number};
use crate::record::{Record, TraitValue};
use crate::rules::{RulesFile, Stage};
use crate::text::Span;
use crate::uncertainty::{Coverage, DecisionRule, Uncertain};
use crate::vocabulary::{ChoiceId, DerivedId, HoldingId, MeasureId, TraitId};

/// What an evaluation knows beside the record.
#[derive(Clone, Copy, Debug)]
pub struct Setting {
    /// The stage whose proofs count.
    pub stage: Stage,
    /// The decision rule of that stage: it says how sure a measured condition must be.
    pub decision: DecisionRule,
    /// The day of the check.
    pub day: Date,
    /// The event's level.
    pub level: Option<ChoiceId>,
}

/// Evaluates expressions on one record, each measure and derived value once.
pub struct Evaluator<'r> {
    pub(super) rules: &'r RulesFile,
    pub(super) record: &'r Record,
    pub(super) coverage: &'r Coverage,
    pub(super) readings: Readings<'r>,
    /// What is wrong with readings that make no value, by where they stand.
    pub(super) problems: Vec<(Span, String)>,
    /// What counts at the moment.
    pub setting: Setting,
    measurer: Measurer,
    /// Derived values that can differ between stages, by part and slot.
    by_proof: &'r [Vec<bool>],
    memo: Vec<Memo<'r>>,
    /// Numbers at a glance, where outcomes alone are wanted.
    pub(super) glances: Option<Glances<'r>>,
}

/// Values already computed on an item, for the first measurer and for another one.
#[derive(Default)]
struct Memo<'r> {
    measures: [Vec<Option<Val<'r>>>; 2],
    derived: [Vec<Option<Val<'r>>>; 2],
}

impl<'r> Evaluator<'r> {
    /// Begins with nothing computed; `full` keeps what only a report tells.
    pub fn new(
        rules: &'r RulesFile,
        record: &'r Record,
        coverage: &'r Coverage,
        by_proof: &'r [Vec<bool>],
        setting: Setting,
        full: bool,
    ) -> Evaluator<'r> {
        let memo = record.items.iter().map(|_| Memo::default()).collect();
        let readings = Readings {
            record,
            vocabulary: &rules.vocabulary,
            day: setting.day,
            identities: Default::default(),
            full,
            instruments: Vec::new(),
            register: None,
        };
        Evaluator {
            rules,
            record,
            coverage,
            readings,
            problems: Vec::new(),
            setting,
            measurer: Measurer::First,
            by_proof,
            memo,
            glances: None,
        }
    }

    /// Looks at numbers at a glance first from now on: for outcomes alone, of one measurer.
    pub fn glance_first(&mut self, plausible: &'r [Vec<Plausible>]) {
        self.glances = Some(Glances::new(&self.record.items, self.rules, plausible));
    }

    /// Chooses whose series count from now on.
    pub fn set_measurer(&mut self, measurer: Measurer) {
        if let Measurer::Other(_) = measurer {
            // One place to remember serves all other measurers, one after another.
            for memo in &mut self.memo {
                let [_, other] = &mut memo.measures;
                other.clear();
                let [_, other] = &mut memo.derived;
                other.clear();
            }
        }
        self.measurer = measurer;
    }

    fn pass(&self) -> usize {
        match self.measurer {
            Measurer::First => 0,
            Measurer::Other(_) => 1,
        }
    }

    /// The value of a measure of an item.
    pub fn measure(&mut self, at: usize, slot: MeasureId) -> Val<'r> {
        let pass = self.pass();
        let known = self
            .memo
            .get(at)
            .and_then(|memo| memo.measures.get(pass))
            .and_then(|list| list.get(slot.index()));
        if let Some(Some(value)) = known {
            return value.clone();
        }
        let Some(item) = self.record.items.get(at) else {
            return unknown(Reason::NotMeasured);
        };
        let Some(part) = self.rules.vocabulary.part(item.part) else {
            return unknown(Reason::NotMeasured);
        };
        let Some(measure) = part.measures.get(slot.index()) else {
            return unknown(Reason::NotMeasured);
        };
        let value = self.readings.value(item, slot, measure, self.measurer);
        if let Val::Answer { .. } = value {
            // Told faster than remembered.
            return value;
        }
        if let Some(list) = self
            .memo
            .get_mut(at)
            .and_then(|memo| memo.measures.get_mut(pass))
        {
            remember(list, slot.index(), part.measures.len(), &value);
        }
        value
    }

    /// The value of a derived value of an item.
    pub fn derived_of(&mut self, at: usize, slot: DerivedId) -> Val<'r> {
        let pass = self.pass();
        let known = self
            .memo
            .get(at)
            .and_then(|memo| memo.derived.get(pass))
            .and_then(|list| list.get(slot.index()));
        if let Some(Some(value)) = known {
            return value.clone();
        }
        let Some(item) = self.record.items.get(at) else {
            return unknown(Reason::NotMeasured);
        };
        let rules = self.rules;
        let Some(expression) = rules.derived_value(item.part, slot) else {
            return unknown(Reason::NotMeasured);
        };
        let value = self.value(&expression.root, at);
        let by_proof = self
            .by_proof
            .get(item.part.index())
            .and_then(|list| list.get(slot.index()));
        if by_proof != Some(&false) {
            return value;
        }
        let count = rules
            .vocabulary
            .part(item.part)
            .map_or(0, |part| part.derived.len());
        if let Some(list) = self
            .memo
            .get_mut(at)
            .and_then(|memo| memo.derived.get_mut(pass))
        {
            remember(list, slot.index(), count, &value);
        }
        value
    }

    fn trait_value(&self, scope: Scope, slot: TraitId, own: usize) -> Val<'r> {
        let item = match self.item(scope, own) {
            Ok((_, item)) => item,
            Err(why) => return Val::Unknown(why),
        };
        let claim = item.traits.get(slot.index()).and_then(Option::as_ref);
        let missing = Missing::Trait(item.part, slot);
        match claim.map(|claim| (&claim.value, claim.span)) {
            Some((TraitValue::Choice(choice), span)) => Val::Choice(*choice, span),
            Some((TraitValue::AnyOf(choices), span)) => Val::AnyOf(choices, span),
            Some((TraitValue::Flag(yes), span)) => Val::Answer {
                yes: *yes,
                evidence: Evidence::GOOD,
                span,
            },
            Some((TraitValue::Date(claim), span)) => {
                // A proof counts at the self-check when named, elsewhere when somebody has seen it.
                let proven = match self.setting.stage {
                    Stage::SelfCheck => claim.proof.is_some() || claim.seen.is_some(),
                    Stage::Certification | Stage::EventInspection => claim.seen.is_some(),
                };
                if proven {
                    Val::Date(claim.date)
                } else {
                    Val::Unknown(Why {
                        reason: Reason::DateNotProven,
                        missing,
                        span: Some(span),
                    })
                }
            }
            None => {
                let part = self.rules.vocabulary.part(item.part);
                let optional = part
                    .and_then(|part| part.traits.get(slot.index()))
                    .is_some_and(|one| one.optional);
                if optional {
                    Val::Answer {
                        yes: false,
                        evidence: Evidence::GOOD,
                        span: item.span,
                    }
                } else {
                    Val::Unknown(Why {
                        reason: Reason::TraitMissing,
                        missing,
                        span: None,
                    })
                }
            }
        }
    }

    /// The value of an expression on an item.
    pub fn value(&mut self, node: &Node, own: usize) -> Val<'r> {
        match &node.op {
            Op::Quantity { value, unit } => Val::from(Num {
                unit: Some(*unit),
                ..Num::certain(Uncertain::exact(value.clone()))
            }),
            Op::Date(date) => Val::Date(*date),
            Op::YesNo(yes) => Val::Answer {
                yes: *yes,
                evidence: Evidence::GOOD,
                span: Default::default(),
            },
            Op::Measure(scope, slot) => match self.item(*scope, own) {
                Ok((at, _)) => self.measure(at, *slot),
                Err(why) => Val::Unknown(why),
            },
            Op::Derived(scope, slot) => match self.item(*scope, own) {
                Ok((at, _)) => self.derived_of(at, *slot),
                Err(why) => Val::Unknown(why),
            },
            Op::Trait(scope, slot) => self.trait_value(*scope, *slot, own),
            Op::EventLevel => match self.setting.level {
                Some(level) => Val::Level(level),
                None => Val::Unknown(level_missing()),
            },
            Op::EventDay | Op::Day => Val::Date(DateSpan::day(self.setting.day)),
            Op::Negate(inner) => {
                let inner = self.value(inner, own);
                match inner {
                    Val::Count(sure, possible) => {
                        Val::Count(possible.saturating_neg(), sure.saturating_neg())
                    }
                    inner => map(inner, |num| Some(num.with(num.value.neg()))),
                }
            }
            Op::Arithmetic(operation, left, right) => {
                let left = self.value(left, own);
                let right = self.value(right, own);
                arithmetic(*operation, left, right)
            }
            Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_) => Val::Truth(self.truth(node, own)),
            Op::Call(function, arguments) => self.call(*function, arguments, own),
            Op::Count { over, condition } => {
                let (mut sure, mut possible) = (0, 0);
                for at in self.items_of(*over) {
                    match condition
                        .as_deref()
                        .map_or(Truth::True, |condition| self.truth(condition, at))
                    {
                        Truth::True => {
                            sure += 1;
                            possible += 1;
                        }
                        Truth::Unknown(_) => possible += 1,
                        Truth::False => {}
                    }
                }
                Val::Count(sure, possible)
            }
            Op::Sum {
                over,
                value,
                condition,
            } => self.sum(*over, value, condition.as_deref()),
        }
    }

    fn sum(&mut self, over: HoldingId, value: &Node, condition: Option<&Node>) -> Val<'r> {
        let mut total = Num::certain(Uncertain::exact(Exact::ZERO));
        let mut counted = (0_i64, 0_i64);
        let mut counts = false;
        for at in self.items_of(over) {
            match condition.map_or(Truth::True, |condition| self.truth(condition, at)) {
                Truth::True => {}
                Truth::False => continue,
                Truth::Unknown(why) => return Val::Unknown(why),
            }
            match self.value(value, at) {
                Val::Number(num) => total = Num::of(total.value.add(&num.value), &total, &num),
                Val::Count(sure, possible) => {
                    counts = true;
                    counted = (
                        counted.0.saturating_add(sure),
                        counted.1.saturating_add(possible),
                    );
                }
                Val::Unknown(why) => return Val::Unknown(why),
                _ => return unknown(Reason::ConditionUnknown),
            }
        }
        if counts {
            Val::Count(counted.0, counted.1)
        } else {
            Val::from(total)
        }
    }

    /// Whether a condition holds on an item.
    pub fn truth(&mut self, node: &Node, own: usize) -> Truth {
        match &node.op {
            Op::And(list) => {
                let mut found = Truth::True;
                for one in list {
                    match self.truth(one, own) {
                        Truth::False => return Truth::False,
                        Truth::True => {}
                        Truth::Unknown(why) => {
                            if found == Truth::True {
                                found = Truth::Unknown(why);
                            }
                        }
                    }
                }
                found
            }
            Op::Or(list) => {
                let mut found = Truth::False;
                for one in list {
                    match self.truth(one, own) {
                        Truth::True => return Truth::True,
                        Truth::False => {}
                        Truth::Unknown(why) => {
                            if found == Truth::False {
                                found = Truth::Unknown(why);
                            }
                        }
                    }
                }
                found
            }
            Op::Not(inner) => !self.truth(inner, own),
            Op::Truth(inner) => match self.value(inner, own) {
                answer @ Val::Answer { .. } => self.answered(&answer),
                Val::Truth(truth) => truth,
                Val::Unknown(why) => Truth::Unknown(why),
                _ => Truth::Unknown(nothing(Reason::ConditionUnknown)),
            },
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => match self.value(subject, own) {
                Val::Choice(choice, _) => Truth::of(choices.contains(&choice) != *negated),
                Val::Unknown(why) => Truth::Unknown(why),
                _ => Truth::Unknown(nothing(Reason::ConditionUnknown)),
            },
            Op::IsLevel { levels, negated } => match self.setting.level {
                Some(level) => Truth::of(levels.contains(&level) != *negated),
                None => Truth::Unknown(level_missing()),
            },
            Op::IsSame {
                left,
                right,
                negated,
            } => {
                let same = match (self.value(left, own), self.value(right, own)) {
                    (Val::Unknown(why), _) | (_, Val::Unknown(why)) => return Truth::Unknown(why),
                    (Val::Choice(a, _), Val::Choice(b, _)) => Some(a == b),
                    (Val::Level(a), Val::Level(b)) => Some(a == b),
                    (a @ Val::Answer { .. }, b @ Val::Answer { .. }) => {
                        // As a bare answer, each waits for its evidence.
                        match (self.answered(&a), self.answered(&b)) {
                            (Truth::Unknown(why), _) | (_, Truth::Unknown(why)) => {
                                return Truth::Unknown(why);
                            }
                            (a, b) => Some(a == b),
                        }
                    }
                    (Val::Date(a), Val::Date(b)) => a.same_day(&b),
                    (a, b) => match (count_range(&a), count_range(&b)) {
                        (Some(a), Some(b)) => same_count(a, b),
                        _ => None,
                    },
                };
                match same {
                    Some(same) => Truth::of(same != *negated),
                    None => Truth::Unknown(nothing(Reason::ConditionUnknown)),
                }
            }
            Op::Compare(comparison, left, right) => {
                if let Some(truth) = self.compare_at_a_glance(*comparison, (left, right), own) {
                    return truth;
                }
                let values = (self.value(left, own), self.value(right, own));
                match self.compare(*comparison, values.0, values.1) {
                    Truth::Unknown(why) if why.missing == Missing::Nothing => {
                        let loose = self.loose_date(left, own);
                        Truth::Unknown(loose.or_else(|| self.loose_date(right, own)).unwrap_or(why))
                    }
                    truth => truth,
                }
            }
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => match self.value(node, own) {
                Val::Truth(truth) => truth,
                Val::Unknown(why) => Truth::Unknown(why),
                _ => Truth::Unknown(nothing(Reason::ConditionUnknown)),
            },
        }
    }

    /// That a date is declared, and not to the day: a condition may turn on that.
    fn loose_date(&self, node: &Node, own: usize) -> Option<Why> {
        let Op::Trait(Scope::Own, slot) = node.op else {
            return None;
        };
        let item = self.record.items.get(own)?;
        let claim = item.traits.get(slot.index())?.as_ref()?;
        match &claim.value {
            TraitValue::Date(date) if date.date.as_day().is_none() => Some(Why {
                reason: Reason::ConditionUnknown,
                missing: Missing::Trait(item.part, slot),
                span: Some(claim.span),
            }),
            TraitValue::Date(_)
            | TraitValue::Choice(_)
            | TraitValue::AnyOf(_)
            | TraitValue::Flag(_) => None,
        }
    }

    /// Whether an answer is yes; it waits for its evidence.
    fn answered(&self, value: &Val<'r>) -> Truth {
        let Val::Answer {
            yes,
            evidence,
            span,
        } = value
        else {
            return Truth::Unknown(nothing(Reason::ConditionUnknown));
        };
        match evidence.reason(self.setting.stage) {
            None => Truth::of(*yes),
            Some(reason) => Truth::Unknown(Why {
                reason,
                missing: Missing::Evidence(*evidence),
                span: Some(*span),
            }),
        }
    }

    fn compare(&self, comparison: Comparison, left: Val<'r>, right: Val<'r>) -> Truth {
        let unknown = Truth::Unknown(nothing(Reason::ConditionUnknown));
        match (left, right) {
            (Val::Unknown(why), _) | (_, Val::Unknown(why)) => Truth::Unknown(why),
            (Val::Date(a), Val::Date(b)) => {
                let found = match comparison {
                    Comparison::Less => a.before(&b),
                    Comparison::LessOrEqual => a.not_after(&b),
                    Comparison::Greater => a.after(&b),
                    Comparison::GreaterOrEqual => a.not_before(&b),
                };
                found.map_or(unknown, Truth::of)
            }
            (Val::Count(a_low, a_high), Val::Count(b_low, b_high)) => {
                compare_ranges(comparison, (a_low, a_high), (b_low, b_high))
                    .map_or(unknown, Truth::of)
            }
            (Val::Count(low, high), Val::Number(num)) => {
                let low = self.compare_numbers(comparison, &count_number(low), &num);
                let high = self.compare_numbers(comparison, &count_number(high), &num);
                if low == high { low } else { unknown }
            }
            (Val::Number(num), Val::Count(low, high)) => {
                let low = self.compare_numbers(comparison, &num, &count_number(low));
                let high = self.compare_numbers(comparison, &num, &count_number(high));
                if low == high { low } else { unknown }
            }
            (Val::Number(a), Val::Number(b)) => self.compare_numbers(comparison, &a, &b),
            _ => unknown,
        }
    }

    /// A measured condition holds when it is sure: within its uncertainty it is unknown, unless the class
    /// decides by the value alone.
    fn compare_numbers(&self, comparison: Comparison, a: &Num, b: &Num) -> Truth {
        let evidence = a.evidence.and(b.evidence);
        if let Some(reason) = evidence.reason(self.setting.stage) {
            return Truth::Unknown(Why {
                reason,
                missing: Missing::Evidence(evidence),
                span: Some(a.span),
            });
        }
        let difference = Num::certain(a.value.sub(&b.value));
        let by_value = match self.setting.decision {
            DecisionRule::SimpleAcceptance => true,
            DecisionRule::GuardedAcceptance | DecisionRule::GuardedRejection => false,
        };
        let guard = if by_value {
            Some(0.0)
        } else {
            difference.expanded(self.coverage).map(|known| known.U)
        };
        let difference = difference.value;
        let sure = |sign: i32| match (&difference.value, guard) {
            (Number::Exact(exact), Some(guard)) if guard == 0.0 && difference.bound.is_none() => {
                exact.signum() == sign
            }
            (number, Some(guard)) => {
                let value = number.to_f64() * f64::from(sign);
                value > guard + number.bound() && difference.bound.is_none()
            }
            (_, None) => false,
        };
        let equal = guard == Some(0.0)
            && difference.bound.is_none()
            && difference.value.as_exact().is_some_and(Exact::is_zero);
        let (below, above) = (sure(-1), sure(1));
        match (comparison, below, equal, above) {
            (Comparison::Less | Comparison::LessOrEqual, true, _, _) => Truth::True,
            (Comparison::Less | Comparison::LessOrEqual, _, _, true) => Truth::False,
            (Comparison::Greater | Comparison::GreaterOrEqual, _, _, true) => Truth::True,
            (Comparison::Greater | Comparison::GreaterOrEqual, true, _, _) => Truth::False,
            (Comparison::LessOrEqual | Comparison::GreaterOrEqual, _, true, _) => Truth::True,
            (Comparison::Less | Comparison::Greater, _, true, _) => Truth::False,
            (_, false, false, false) => Truth::Unknown(Why {
                reason: Reason::ConditionUnknown,
                missing: Missing::Nothing,
                span: Some(a.span),
            }),
        }
    }
}

fn remember<'r>(list: &mut Vec<Option<Val<'r>>>, at: usize, len: usize, value: &Val<'r>) {
    if list.is_empty() {
        list.resize_with(len, || None);
    }
    if let Some(place) = list.get_mut(at) {
        *place = Some(value.clone());
    }
}
