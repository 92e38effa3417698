//! What a record does not name, and what its rules do not list.

use super::draft::Sink;
use super::finding::{FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::judge::Judge;
use super::marks::count_limit;
use super::value::Truth;
use crate::record::{Item, TraitValue};
use crate::rules::{BoundKind, ByStage, Silence, Stage};
use crate::text::Span;
use crate::vocabulary::{Role, RoleId, TraitId};

impl<'r> Judge<'r> {
    /// Parts that must be there.
    #[inline(never)]
    pub(super) fn equipment(&mut self, out: &mut Sink<'_>) {
        for (at, holding) in self.rules.vocabulary.holdings.iter().enumerate() {
            let Ok(id) = u16::try_from(at).map(crate::vocabulary::HoldingId) else {
                continue;
            };
            let count = self
                .record
                .items
                .iter()
                .filter(|item| item.holding == Some(id))
                .count();
            if u32::try_from(count).is_ok_and(|count| count >= holding.at_least) {
                continue;
            }
            let mut draft = self.blank(
                RuleRef::Equipment(id),
                ItemRef::Holding(id),
                holding.at_least_span,
            );
            draft.tell(|told| {
                let count = i64::try_from(count).unwrap_or(i64::MAX);
                told.value = Some(FoundValue::Count {
                    sure: count,
                    possible: count,
                });
                told.limit = Some(count_limit(BoundKind::AtLeast, i64::from(holding.at_least)));
                told.settled_by = Some(Settle::Measure(holding.key.text.clone()));
            });
            let draft = draft.ruled(Outcome::NotDecided, Some(Reason::NotMeasured));
            self.take_asked_always(out, draft);
        }
    }

    /// The roles of a group that nobody fills.
    #[inline(never)]
    pub(super) fn roles(&mut self, at: usize, item: &Item, out: &mut Sink<'_>) {
        let (Some(members), Some(holding)) = (&item.members, item.holding) else {
            return;
        };
        let group = self.rules.vocabulary.part(item.part);
        let roles = group.map_or(&[] as &[Role], |group| &group.roles);
        for (slot, (role, member)) in roles.iter().zip(&members.roles).enumerate() {
            let Ok(id) = u16::try_from(slot).map(RoleId) else {
                continue;
            };
            if member.is_some() {
                continue;
            }
            let rule = RuleRef::Role(holding, id);
            let mut draft = self.blank(rule, ItemRef::Item(at), role.name.span);
            draft.tell(|told| told.settled_by = Some(Settle::Fill(role.name.text.clone())));
            let draft = draft.ruled(Outcome::NotDecided, Some(Reason::NotMeasured));
            self.take_asked_always(out, draft);
        }
    }

    /// A declared `other` that no table is asked about: closed rules do not allow it.
    #[inline(never)]
    pub(super) fn silence(&mut self, at: usize, item: &'r Item, out: &mut Sink<'_>) {
        let plan = self.plan;
        let tables = plan.tables.get(item.part.index());
        for (id, tables) in tables.map(Vec::as_slice).unwrap_or(&[]) {
            let Some(claim) = item.traits.get(id.index()).and_then(Option::as_ref) else {
                continue;
            };
            let other = match &claim.value {
                TraitValue::Choice(choice) => choice.is_none(),
                TraitValue::AnyOf(choices) => choices.contains(&None),
                TraitValue::Date(_) | TraitValue::Flag(_) => false,
            };
            if !other {
                continue;
            }
            let bare = ByStage::of(|stage| !self.asks(tables, at, item, stage));
            if !bare.at(self.context.purpose) {
                continue;
            }
            let (outcome, reason) = match self.rules.silence {
                Silence::Forbids => (Outcome::DoesNotConform, Reason::NoRowForChoice),
                Silence::Permits => (Outcome::NotApplicable, Reason::NoRow),
            };
            let declared = self.trait_span(item, *id);
            let mut draft = self.blank(RuleRef::Silence(*id), ItemRef::Item(at), declared);
            draft.source_at = claim.span;
            draft.tell(|told| told.value = Some(FoundValue::Word("other".to_owned())));
            let draft = draft.ruled(outcome, Some(reason));
            out.take(draft, self.context.purpose, |_| {
                ByStage::of(|stage| bare.at(stage).then_some(outcome))
            });
        }
    }

    /// Whether one of some rules is asked of an item at a stage, so that it speaks of what is declared there.
    fn asks(&mut self, tables: &[usize], at: usize, item: &Item, stage: Stage) -> bool {
        let plan = self.plan;
        let planned = plan.by_part.get(item.part.index());
        let planned = planned.map(Vec::as_slice).unwrap_or(&[]);
        let rules = tables
            .iter()
            .filter_map(|at| self.rules.rule(planned.get(*at)?.at));
        for rule in rules.filter(|rule| *rule.checked_at.at(stage)) {
            let no_event = rule.names_event && self.context.level.is_none();
            if no_event && stage != Stage::EventInspection {
                continue;
            }
            self.set_stage(stage);
            let applies = match &rule.when {
                Some(when) => self.eval.truth(&when.root, at) != Truth::False,
                None => true,
            };
            self.set_stage(self.context.purpose);
            if applies {
                return true;
            }
        }
        false
    }

    /// A part that the rules do not list: for the authority under closed rules, noted under open ones.
    #[inline(never)]
    pub(super) fn unlisted(&mut self, at: usize, out: &mut Sink<'_>) {
        for (number, part) in self.record.unlisted.iter().enumerate() {
            if part.item != at {
                continue;
            }
            let (outcome, reason) = match self.rules.silence {
                Silence::Forbids => (Outcome::NotDecided, Reason::UnlistedPart),
                Silence::Permits => (Outcome::NotApplicable, Reason::NoRow),
            };
            let mut draft = self.blank(
                RuleRef::Unlisted(number),
                ItemRef::Item(at),
                self.rules.class.span,
            );
            draft.source_at = part.span;
            draft.tell(|told| {
                told.value = Some(FoundValue::Word(part.what.clone()));
                told.settled_by = Some(Settle::Authority);
            });
            self.take_asked_always(out, draft.ruled(outcome, Some(reason)));
        }
    }

    fn trait_span(&self, item: &Item, id: TraitId) -> Span {
        let part = self.rules.vocabulary.part(item.part);
        part.and_then(|part| part.traits.get(id.index()))
            .map(|one| one.name.span)
            .unwrap_or_default()
    }
}
