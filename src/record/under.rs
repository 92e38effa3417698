//! A record that was read for one version of the rules, as another version sees it: without reading it again.

use std::sync::Arc;

use super::model::*;
use crate::vocabulary::{
    AlterationId, ChoiceId, HoldingId, MeasureId, PartId, RoleId, TraitId, Vocabulary,
};

/// How the names of the version that a record was read for are those of another version. All lists but those of a
/// [`PartUnder`] are by slots of the version that it was read for.
#[derive(Clone, Debug)]
pub struct Under<'v> {
    /// The other version's own names.
    pub vocabulary: &'v Vocabulary,
    /// Holdings and groups.
    pub holdings: Vec<Option<HoldingId>>,
    /// Kinds of part.
    pub parts: Vec<Option<PartUnder>>,
}

/// A kind of part as the other version sees it: its lists are by slots of the other version, and tell where each thing stands
/// in the record.
#[derive(Clone, Debug)]
pub struct PartUnder {
    /// Its slot.
    pub part: PartId,
    /// What is declared; `None` is not looked at.
    pub traits: Vec<Option<TraitUnder>>,
    /// What is measured; `None` is not looked at.
    pub measures: Vec<Option<MeasureId>>,
    /// The roles of a group.
    pub roles: Vec<Option<RoleId>>,
    /// What work does to it, by slots of the version that it was read for.
    pub alterations: Vec<Option<AlterationId>>,
}

/// A trait as the other version sees it.
#[derive(Clone, Debug)]
pub struct TraitUnder {
    /// Where it stands in the record.
    pub at: TraitId,
    /// What its choices are in the other version; `None` is `other`, as a word is that the version does not know.
    pub choices: Vec<Option<ChoiceId>>,
}

impl Under<'_> {
    /// A record as the other version sees it. What only the version knows for which it was read is left out.
    pub fn see(&self, record: &Record) -> Record {
        let mut places: Vec<Option<usize>> = Vec::with_capacity(record.items.len());
        let mut items: Vec<Item> = Vec::with_capacity(record.items.len());
        for item in &record.items {
            let seen = self.item(item, &places);
            places.push(seen.is_some().then_some(items.len()));
            items.extend(seen);
        }
        let unlisted = record.unlisted.iter().filter_map(|one| {
            let item = places.get(one.item).copied().flatten()?;
            Some(Unlisted {
                item,
                ..one.clone()
            })
        });
        Record {
            source: Arc::clone(&record.source),
            span: record.span,
            sail_number: record.sail_number.clone(),
            sail_number_span: record.sail_number_span,
            boat_name: record.boat_name.clone(),
            owner: record.owner.clone(),
            measured: record.measured.clone(),
            instruments: self.instruments(&record.instruments),
            items,
            unlisted: unlisted.collect(),
            notes: record.notes.clone(),
            old_names: record.old_names.clone(),
            left_out: record.left_out.clone(),
        }
    }

    fn instruments(&self, all: &Arc<Vec<Instrument>>) -> Arc<Vec<Instrument>> {
        let method = |one: &Instrument| self.vocabulary.method_named(&one.kind);
        if all.iter().all(|one| one.method == method(one)) {
            return Arc::clone(all);
        }
        let seen = all.iter().map(|one| Instrument {
            method: method(one),
            ..one.clone()
        });
        Arc::new(seen.collect())
    }

    /// An item; `places` is where those before it are.
    fn item(&self, item: &Item, places: &[Option<usize>]) -> Option<Item> {
        let part = self.parts.get(item.part.index())?.as_ref()?;
        let holding = match item.holding {
            None => None,
            Some(id) => Some(self.holdings.get(id.index()).copied().flatten()?),
        };
        let traits = part.traits.iter().map(|one| {
            let one = one.as_ref()?;
            let claim = item.traits.get(one.at.index())?.as_ref()?;
            Some(TraitClaim {
                span: claim.span,
                value: one.value(&claim.value),
            })
        });
        let measures = part.measures.iter().map(|id| {
            let measured = item.measures.get((*id)?.index())?;
            measured.clone()
        });
        let work = item.work.iter().map(|work| Work {
            alteration: work
                .alteration
                .and_then(|id| part.alterations.get(id.index()).copied().flatten()),
            ..work.clone()
        });
        let members = item.members.as_ref().map(|members| {
            let roles = part.roles.iter().map(|id| {
                let member = members.roles.get((*id)?.index()).copied().flatten()?;
                let item = places.get(member.item).copied().flatten()?;
                Some(Member { item, ..member })
            });
            Box::new(Members {
                roles: roles.collect(),
            })
        });
        Some(Item {
            holding,
            part: part.part,
            id: item.id.clone(),
            span: item.span,
            traits: traits.collect(),
            measures: measures.collect(),
            work: work.collect(),
            notes: item.notes.clone(),
            members,
        })
    }
}

impl TraitUnder {
    fn value(&self, value: &TraitValue) -> TraitValue {
        let under = |choice: Option<ChoiceId>| {
            choice.and_then(|id| self.choices.get(id.index()).copied().flatten())
        };
        match value {
            TraitValue::Choice(choice) => TraitValue::Choice(under(*choice)),
            TraitValue::AnyOf(list) => {
                let mut seen: Vec<Option<ChoiceId>> = Vec::with_capacity(list.len());
                for choice in list {
                    let choice = under(*choice);
                    // Several words of one version can all be none of the other's choices.
                    if !seen.contains(&choice) {
                        seen.push(choice);
                    }
                }
                TraitValue::AnyOf(seen.into_boxed_slice())
            }
            TraitValue::Date(_) | TraitValue::Flag(_) => value.clone(),
        }
    }
}
