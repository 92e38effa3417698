//! Limits on event limitation marks, as far as a record can be judged by them: what is nominated.

use super::draft::{Draft, Sink};
use super::finding::{FoundLimit, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::Judge;
use super::value::Truth;
use crate::quantity::{Number, Unit};
use crate::record::TraitValue;
use crate::rules::{BoundKind, ByStage, MarkLimits, Stage};

impl<'r> Judge<'r> {
    #[inline(never)]
    pub(super) fn marks(&mut self, out: &mut Sink<'_>) {
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
                    let mut draft =
                        self.blank(RuleRef::Marks(number, None), ItemRef::Item(0), mark.id.span);
                    draft.tell(|told| told.settled_by = Some(Settle::GiveLevel));
                    self.take_asked_always(
                        out,
                        draft.ruled_by(ByStage::of(|stage| match stage {
                            Stage::EventInspection => {
                                (Outcome::NotDecided, Some(Reason::ContextMissing))
                            }
                            Stage::SelfCheck | Stage::Certification => {
                                (Outcome::NotApplicable, Some(Reason::NoEvent))
                            }
                        })),
                    );
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
                    let counts = ByStage::of(|_| (count, count));
                    let draft = self.mark_draft(number, None, &counts, limit, &nominated);
                    self.take_asked_always(out, draft);
                }
                None if by_level => {
                    let draft =
                        self.blank(RuleRef::Marks(number, None), ItemRef::Item(0), mark.id.span);
                    let draft = draft.ruled(Outcome::NotApplicable, Some(Reason::NoRow));
                    self.take_asked_always(out, draft);
                }
                None => {}
            }
            for (cap_number, cap) in mark.of_which.iter().enumerate() {
                // Proofs and looks count by stage, so an item can be in doubt at one and sure at another.
                let counts = ByStage::of(|stage| {
                    self.set_stage(stage);
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
                    (sure, possible)
                });
                self.set_stage(self.context.purpose);
                let draft =
                    self.mark_draft(number, Some(cap_number), &counts, cap.limit, &nominated);
                self.take_asked_always(out, draft);
            }
            self.pairs(number, mark, &nominated, out);
            self.bring(number, mark, out);
        }
    }

    fn mark_draft(
        &self,
        number: usize,
        cap: Option<usize>,
        counts: &ByStage<(i64, i64)>,
        limit: crate::rules::MarkLimit,
        nominated: &[usize],
    ) -> Draft {
        let mut draft = self.blank(RuleRef::Marks(number, cap), ItemRef::Item(0), limit.span);
        draft.side = Some(BoundKind::AtMost);
        let (sure, possible) = *counts.at(self.context.purpose);
        if self.full() {
            let spans = nominated
                .iter()
                .filter_map(|at| self.record.items.get(*at))
                .map(|item| item.span);
            let mut spans: Vec<_> = spans.collect();
            if !spans.is_empty() {
                draft.source_at = spans.remove(0);
            }
            draft.tell(|told| {
                told.value = Some(FoundValue::Count { sure, possible });
                told.limit = Some(count_limit(BoundKind::AtMost, limit.at_most));
                if sure == possible {
                    told.margin = Some(Number::Exact(crate::quantity::Exact::from_integer(
                        limit.at_most - sure,
                    )));
                }
                told.also_at = spans;
            });
        }
        draft.ruled_by(ByStage::of(|stage| {
            let (sure, possible) = *counts.at(stage);
            let outcome = count_outcome(BoundKind::AtMost, sure, possible, limit.at_most);
            let doubt = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
            (outcome, doubt)
        }))
    }

    /// Takes a draft of something that is asked at every stage.
    pub(super) fn take_asked_always(&self, out: &mut Sink<'_>, draft: Draft) {
        out.take(draft, self.context.purpose, |draft| {
            ByStage::of(|stage| Some(draft.rulings.at(stage).0))
        });
    }
}

/// A limit on a count.
pub(super) fn count_limit(kind: BoundKind, count: i64) -> FoundLimit {
    FoundLimit::Bound {
        rounded: None,
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
