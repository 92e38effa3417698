//! Limits on event limitation marks, as far as a record can be judged by them: what is nominated.

use super::decide::Draft;
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::{Judge, Out};
use super::value::Truth;
use crate::quantity::{Number, Unit};
use crate::record::TraitValue;
use crate::rules::{BoundKind, ByStage, MarkLimits, Stage};

impl<'r> Judge<'r> {
    pub(super) fn marks(&mut self, out: Out<'_>) {
        self.set_stage(self.context.purpose);
        for (number, mark) in self.rules.marks.iter().enumerate() {
            let total = match &mark.limits {
                MarkLimits::Direct(limit) => Ok(Some(*limit)),
                MarkLimits::ByLevel { rows, .. } => match self.context.level {
                    Some(level) => Ok(rows
                        .iter()
                        .find(|(id, _)| *id == level)
                        .map(|(_, limit)| *limit)),
                    None => Err(()),
                },
            };
            let by_level = matches!(mark.limits, MarkLimits::ByLevel { .. });
            let total = match total {
                Ok(total) => total,
                Err(()) => {
                    let (rule, boat) = (RuleRef::Marks(number, None), ItemRef::Item(0));
                    let mut told = self.told(rule, boat, mark.id.span);
                    let outcomes = ByStage::of(|stage| match stage {
                        Stage::EventInspection => {
                            (Outcome::NotDecided, Some(Reason::ContextMissing))
                        }
                        Stage::SelfCheck | Stage::Certification => {
                            (Outcome::NotApplicable, Some(Reason::NoEvent))
                        }
                    });
                    if let Some(finding) = &mut told {
                        finding.settled_by = Some(Settle::GiveLevel);
                    }
                    self.hand_on(rule, boat, Draft::of(told, outcomes), out);
                    continue;
                }
            };
            let nominated: Vec<usize> = self
                .record
                .items
                .iter()
                .enumerate()
                .filter(|(_, item)| item.holding == Some(mark.item))
                .filter(|(_, item)| {
                    let claim = item
                        .traits
                        .get(mark.nominated_by.index())
                        .and_then(Option::as_ref);
                    claim.is_some_and(|claim| matches!(claim.value, TraitValue::Flag(true)))
                })
                .map(|(at, _)| at)
                .collect();
            let count = i64::try_from(nominated.len()).unwrap_or(i64::MAX);
            match total {
                Some(limit) => {
                    self.mark_finding(number, None, (count, count), limit, &nominated, out);
                }
                None if by_level => {
                    let (rule, boat) = (RuleRef::Marks(number, None), ItemRef::Item(0));
                    let told = self.told(rule, boat, mark.id.span);
                    let draft = Draft::same(told, Outcome::NotApplicable, Some(Reason::NoRow));
                    self.hand_on(rule, boat, draft, out);
                }
                None => {}
            }
            for (cap_number, cap) in mark.of_which.iter().enumerate() {
                let (mut sure, mut possible) = (0, 0);
                for at in &nominated {
                    match self.eval.truth(&cap.condition.root, *at) {
                        Truth::True => {
                            sure += 1;
                            possible += 1;
                        }
                        Truth::Unknown(_) => possible += 1,
                        Truth::False => {}
                    }
                }
                let cap_number = Some(cap_number);
                let count = (sure, possible);
                self.mark_finding(number, cap_number, count, cap.limit, &nominated, out);
            }
        }
    }

    pub(super) fn mark_finding(
        &self,
        number: usize,
        cap: Option<usize>,
        (sure, possible): (i64, i64),
        limit: crate::rules::MarkLimit,
        nominated: &[usize],
        out: Out<'_>,
    ) {
        let (rule, boat) = (RuleRef::Marks(number, cap), ItemRef::Item(0));
        let mut told = self.told(rule, boat, limit.span);
        let outcome = count_outcome(BoundKind::AtMost, sure, possible, limit.at_most);
        let reason = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
        if let Some(finding) = &mut told {
            finding.value = Some(FoundValue::Count { sure, possible });
            finding.limit = Some(count_limit(BoundKind::AtMost, limit.at_most));
            if sure == possible {
                finding.margin = Some(Number::Exact(crate::quantity::Exact::from_integer(
                    limit.at_most - sure,
                )));
            }
            let spans = nominated
                .iter()
                .filter_map(|at| self.record.items.get(*at))
                .map(|item| item.span);
            finding.also_at = spans.collect();
            if let Some(first) = finding.also_at.first() {
                finding.source_at = *first;
                finding.also_at.remove(0);
            }
        }
        let draft = Draft::same(told, outcome, reason).on(BoundKind::AtMost);
        self.hand_on(rule, boat, draft, out);
    }
}

/// A limit on a count.
pub(super) fn count_limit(kind: BoundKind, count: i64) -> FoundLimit {
    FoundLimit::Bound {
        kind,
        value: Number::Exact(crate::quantity::Exact::from_integer(count)),
        unit: Unit::PLAIN,
        decimals: Some(0),
    }
}

/// A count, or a range of counts, against a limit.
pub(super) fn count_outcome(kind: BoundKind, sure: i64, possible: i64, limit: i64) -> Outcome {
    let inside = |count: i64| match kind {
        BoundKind::AtLeast => count >= limit,
        BoundKind::AtMost => count <= limit,
        BoundKind::MoreThan => count > limit,
        BoundKind::LessThan => count < limit,
    };
    match (inside(sure), inside(possible)) {
        (true, true) => Outcome::Conforms,
        (false, false) => Outcome::DoesNotConform,
        (true, false) | (false, true) => Outcome::NotDecided,
    }
}
