//! Marked items that come in pairs of a kind, and what a boat must bring.

use super::draft::Sink;
use super::finding::{FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::Judge;
use super::marks::{count_limit, count_outcome};
use super::value::Truth;
use crate::record::{Item, TraitValue};
use crate::rules::{BoundKind, ByStage, MarkPairs, MarkRule, Stage};
use crate::text::Span;
use crate::vocabulary::ChoiceId;
use smallvec::SmallVec;

/// What is the same in a pair.
type Kind = SmallVec<[ChoiceId; 2]>;

/// The nominated items of a rule on pairs, as far as they are known at one stage.
#[derive(Default)]
struct Sorted {
    /// Of a known kind, by place in the record.
    sure: Vec<(Kind, usize)>,
    /// For sure among those that come in pairs, of a kind that is not known.
    unknown_kind: Vec<usize>,
    /// Perhaps among them.
    perhaps: Vec<usize>,
    /// Why the first of those in doubt is.
    doubt: Option<Reason>,
}

impl Sorted {
    /// One item of each kind that has an odd number of them: the last one.
    fn odd(&self) -> Vec<usize> {
        let mut kinds: Vec<&Kind> = self.sure.iter().map(|(kind, _)| kind).collect();
        kinds.sort_unstable();
        kinds.dedup();
        let last_if_odd = |kind: &Kind| {
            let mut same = self.sure.iter().filter(|(other, _)| other == kind);
            let odd = same.clone().count() % 2 == 1;
            odd.then(|| same.next_back().map(|(_, at)| *at))?
        };
        kinds.into_iter().filter_map(last_if_odd).collect()
    }

    /// Whether some way to settle what is in doubt leaves an even number of every kind. What is partly known of
    /// an item is not used: such a way may be thought of that is not there, so that a failure is certain and
    /// an open outcome can be one more than needed.
    fn can_pair(&self) -> bool {
        let odd = self.odd().len();
        let (certain, perhaps) = (self.unknown_kind.len(), self.perhaps.len());
        // Each item in doubt makes one odd kind even; two more of one kind change nothing.
        (0..=perhaps).any(|joining| {
            let joined = certain + joining;
            joined >= odd && (joined - odd).is_multiple_of(2)
        })
    }

    fn ruling(&self) -> (Outcome, Option<Reason>) {
        match (self.can_pair(), self.doubt) {
            (false, _) => (Outcome::DoesNotConform, None),
            (true, None) => (Outcome::Conforms, None),
            (true, Some(reason)) => (Outcome::NotDecided, Some(reason)),
        }
    }

    /// The least and the greatest number of items without a partner.
    fn alone(&self) -> (i64, i64) {
        let odd = self.odd().len();
        let doubtful = self.unknown_kind.len() + self.perhaps.len();
        let least = odd
            .saturating_sub(doubtful)
            .max(usize::from(!self.can_pair()));
        let count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
        (count(least), count(odd + doubtful))
    }
}

impl<'r> Judge<'r> {
    /// Marked items that come in pairs: an even number of every kind.
    pub(super) fn pairs(
        &mut self,
        number: usize,
        mark: &MarkRule,
        nominated: &[usize],
        out: &mut Sink<'_>,
    ) {
        let Some(pairs) = &mark.pairs else { return };
        let sorted = ByStage::of(|stage| {
            self.set_stage(stage);
            self.sort(pairs, nominated)
        });
        self.set_stage(self.context.purpose);
        let mut draft = self.blank(RuleRef::Pairs(number), ItemRef::Item(0), pairs.span);
        draft.side = Some(BoundKind::AtMost);
        let own = sorted.at(self.context.purpose);
        let mut shown = own.odd();
        shown.extend(own.unknown_kind.iter().chain(&own.perhaps));
        let others = own.sure.iter().map(|(_, at)| *at);
        let others: Vec<usize> = others.filter(|at| !shown.contains(at)).collect();
        shown.extend(others);
        if self.full() {
            let items = shown.iter().filter_map(|at| self.record.items.get(*at));
            let mut spans = items.map(|item| item.span);
            if let Some(first) = spans.next() {
                draft.source_at = first;
            }
            let rest: Vec<Span> = spans.collect();
            let (sure, possible) = own.alone();
            let settle = self.settle_pairs(pairs, own);
            draft.tell(|told| {
                told.value = Some(FoundValue::Count { sure, possible });
                told.limit = Some(count_limit(BoundKind::AtMost, 0));
                told.also_at = rest;
                told.settled_by = settle;
            });
        }
        let draft = draft.ruled_by(ByStage::of(|stage| sorted.at(stage).ruling()));
        self.take_asked_always(out, draft);
    }

    fn sort(&mut self, pairs: &MarkPairs, nominated: &[usize]) -> Sorted {
        let mut sorted = Sorted::default();
        for at in nominated {
            let Some(item) = self.record.items.get(*at) else {
                continue;
            };
            match self.eval.truth(&pairs.condition.root, *at) {
                Truth::False => {}
                Truth::Unknown(_) => {
                    sorted.doubt.get_or_insert(Reason::ConditionUnknown);
                    sorted.perhaps.push(*at);
                }
                Truth::True => match kind(pairs, item) {
                    Ok(kind) => sorted.sure.push((kind, *at)),
                    Err(reason) => {
                        sorted.doubt.get_or_insert(reason);
                        sorted.unknown_kind.push(*at);
                    }
                },
            }
        }
        sorted
    }

    /// What has to be declared of the first item whose kind is not known.
    fn settle_pairs(&self, pairs: &MarkPairs, sorted: &Sorted) -> Option<Settle> {
        let item = self.record.items.get(*sorted.unknown_kind.first()?)?;
        let part = self.rules.vocabulary.part(item.part)?;
        let open = |slot: usize| item.traits.get(slot).is_none_or(Option::is_none);
        let mut alike = pairs.alike.iter().map(|(id, _)| *id);
        let missing = alike.find(|id| open(id.index()));
        match missing.and_then(|id| part.traits.get(id.index())) {
            Some(one) => Some(Settle::Declare(one.name.text.clone())),
            None => Some(Settle::Authority),
        }
    }

    /// What a boat must bring to inspection: so many parts, or groups with all roles filled. A group with a
    /// role open can still be completed.
    pub(super) fn bring(&mut self, number: usize, mark: &MarkRule, out: &mut Sink<'_>) {
        if self.context.purpose != Stage::EventInspection {
            return;
        }
        for (entry, bring) in mark.bring.iter().enumerate() {
            let of_it = |item: &&Item| item.holding == Some(bring.holding);
            let items = || self.record.items.iter().filter(of_it);
            let complete = |item: &&Item| item.members.as_ref().is_none_or(|one| one.complete());
            let count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
            let (sure, possible) = (
                count(items().filter(complete).count()),
                count(items().count()),
            );
            let outcome = count_outcome(BoundKind::AtLeast, sure, possible, bring.at_least);
            let reason = (outcome == Outcome::NotDecided).then_some(Reason::NotMeasured);
            let item = match items().next() {
                Some(_) => ItemRef::Item(0),
                None => ItemRef::Holding(bring.holding),
            };
            let mut draft = self.blank(RuleRef::Bring(number, entry), item, bring.span);
            draft.side = Some(BoundKind::AtLeast);
            if self.full() {
                let mut spans = items().map(|item| item.span);
                if let Some(first) = spans.next() {
                    draft.source_at = first;
                }
                let rest: Vec<Span> = spans.collect();
                let key = self.rules.vocabulary.holding(bring.holding);
                let key = key.map_or(String::new(), |holding| holding.key.text.clone());
                draft.tell(|told| {
                    told.value = Some(FoundValue::Count { sure, possible });
                    told.limit = Some(count_limit(BoundKind::AtLeast, bring.at_least));
                    told.also_at = rest;
                    told.settled_by = Some(Settle::Measure(key));
                });
            }
            out.take(draft.ruled(outcome, reason), self.context.purpose, |_| {
                ByStage::of(|stage| (stage == Stage::EventInspection).then_some(outcome))
            });
        }
    }
}

/// What is the same in a pair of an item; why it is not known. Two that are none of the listed choices can be
/// two different things.
fn kind(pairs: &MarkPairs, item: &Item) -> Result<Kind, Reason> {
    let choice = |slot: usize| match item.traits.get(slot)?.as_ref()?.value {
        TraitValue::Choice(choice) => Some(choice),
        TraitValue::AnyOf(_) | TraitValue::Date(_) | TraitValue::Flag(_) => None,
    };
    let each = pairs.alike.iter().map(|(id, _)| match choice(id.index()) {
        Some(Some(choice)) => Ok(choice),
        Some(None) => Err(Reason::ConditionUnknown),
        None => Err(Reason::TraitMissing),
    });
    each.collect()
}
