//! The quick way: groups of parts, once the parts are known.

use super::cursor::Cursor;
use super::groups::{FoundMember, find_member};
use super::items::{empty_item, is_id};
use super::keys::GroupKey;
use super::model::*;
use super::quick::{Quick, put};
use super::reader::limits;
use crate::text::Span;
use crate::vocabulary::HoldingId;

/// Groups that were passed over: which, and where they begin.
pub(super) type PassedGroup<'s> = (HoldingId, Cursor<'s>);

/// Keeps groups for later; nothing if their key was there before.
pub(super) fn put_group<'s>(
    groups: &mut Vec<PassedGroup<'s>>,
    id: HoldingId,
    start: Cursor<'s>,
) -> Option<()> {
    let twice = groups.iter().any(|(other, _)| *other == id);
    (!twice).then(|| groups.push((id, start)))
}

impl<'s> Quick<'_, 's> {
    /// Groups that were passed over, from where they stand.
    #[cold]
    pub(super) fn read_groups(
        &mut self,
        groups: &[PassedGroup<'s>],
        items: &mut Vec<Item>,
    ) -> Option<()> {
        let here = self.cursor.clone();
        for (id, start) in groups {
            self.cursor = start.clone();
            self.groups(*id, items)?;
        }
        self.cursor = here;
        Some(())
    }

    fn groups(&mut self, id: HoldingId, items: &mut Vec<Item>) -> Option<()> {
        let first = items.len();
        let mut inside = self.cursor.open(b'[')?;
        while self.cursor.item(&mut inside)? {
            let item = self.group(id, items)?;
            item.id.as_ref()?;
            let twice = items.iter().skip(first).any(|other| other.id == item.id);
            if twice || items.len() >= limits::ITEMS {
                return None;
            }
            items.push(item);
        }
        Some(())
    }

    fn group(&mut self, holding: HoldingId, items: &[Item]) -> Option<Item> {
        let loader = self.loader;
        let vocabulary = loader.vocabulary;
        let kind = vocabulary.holding(holding)?.part;
        let group = vocabulary.part(kind)?;
        let mut item = empty_item(Some(holding), kind, Some(group), Span::default());
        let mut members = Members::none(group.roles.len());
        let mut said = None;
        let keys = loader.group_keys(kind);
        let mut inside = self.cursor.open(b'{')?;
        while let Some(key) = self.cursor.key(&mut inside)? {
            match keys.get(key.name)? {
                GroupKey::Id => {
                    let text = self.cursor.string()?;
                    let id = is_id(text.text).then(|| text.text.to_owned());
                    put(&mut item.id, id)?;
                    item.span = text.span;
                }
                GroupKey::Role(slot) => {
                    let text = self.cursor.string()?;
                    let role = group.role(slot)?;
                    let FoundMember::One(at) = find_member(items, role, text.text, vocabulary)
                    else {
                        return None;
                    };
                    let mut filled = members.roles.iter().flatten();
                    if members.roles.get(slot.index())?.is_some()
                        || filled.any(|member| member.item == at)
                    {
                        return None;
                    }
                    members.fill(
                        slot,
                        Some(Member {
                            item: at,
                            span: text.span,
                        }),
                    );
                }
                GroupKey::Notes => {
                    put(&mut said, Some(()))?;
                    item.notes = self.notes(key)?;
                }
            }
        }
        item.members = Some(Box::new(members));
        Some(item)
    }
}
