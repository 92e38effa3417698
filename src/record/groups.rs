//! Groups of parts: which part of the boat fills which role.

use super::items::{a, empty_item};
use super::keys::GroupKey;
use super::model::*;
use super::reader::Reader;
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{HoldingId, Part, Role, Vocabulary};

impl<'a> Reader<'a> {
    /// The groups under one key, once the parts of the boat are known. `whole` says whether all of them could
    /// be read: else a name that means nothing may be that of one that could not.
    pub(super) fn groups(
        &mut self,
        entry: &'a Entry<'a>,
        id: HoldingId,
        whole: bool,
        items: &mut Vec<Item>,
    ) {
        let vocabulary = self.loader.vocabulary;
        let group = vocabulary.holding(id).map(|holding| holding.part);
        let Some(group) = group.and_then(|part| vocabulary.part(part)) else {
            return;
        };
        let form = written(group);
        let Some(nodes) = self.list(entry, "a list", &form) else {
            return;
        };
        for node in nodes {
            if self.is_full() {
                return;
            }
            let Some(item) = self.group(node, id, group, whole, items) else {
                continue;
            };
            if !self.add(item, items) {
                return;
            }
        }
    }

    fn group(
        &mut self,
        node: &'a Node<'a>,
        id: HoldingId,
        group: &'a Part,
        whole: bool,
        items: &[Item],
    ) -> Option<Item> {
        let loader = self.loader;
        let what = format!("an entry of {}", quoted(&group.name.text));
        let entries = self.mapping(node, None, &what, &written(group))?;
        let span = node.label_span(None);
        let part = loader.vocabulary.holding(id)?.part;
        let mut item = empty_item(Some(id), part, Some(group), span);
        let mut members = Members::none(group.roles.len());
        let keys = loader.group_keys(part);
        for entry in entries {
            let Some(key) = keys.get(entry.key.as_bytes()) else {
                self.unknown_among(entry, &what, keys.words());
                continue;
            };
            if entry.node.is_null() {
                self.nothing(entry, &what);
                continue;
            }
            match key {
                GroupKey::Id => self.item_id(entry, true, group, &mut item),
                GroupKey::Notes => item.notes = self.notes(entry),
                GroupKey::Role(slot) => {
                    let role = group.role(slot)?;
                    let member = self.member(entry, role, group, whole, items);
                    let member = member.filter(|one| self.only_once(&members, one, group, items));
                    members.fill(slot, member);
                }
            }
            if self.is_full() {
                return None;
            }
        }
        if item.id.is_none() && !self.partial && !entries.iter().any(|entry| entry.key == "id") {
            self.missing("id", &what, span, &format!("write {}", written(group)));
        }
        item.members = Some(Box::new(members));
        Some(item)
    }

    /// The part that is named to fill a role.
    fn member(
        &mut self,
        entry: &'a Entry<'a>,
        role: &Role,
        group: &Part,
        whole: bool,
        items: &[Item],
    ) -> Option<Member> {
        let vocabulary = self.loader.vocabulary;
        let text = self.word(entry, "the id of a part such as S1")?;
        let span = entry.node.span;
        let now = text
            .split_once('/')
            .map(|(key, id)| format!("{}/{id}", self.loader.holding_word(key)));
        match find_member(items, role, now.as_deref().unwrap_or(text), vocabulary) {
            FoundMember::One(item) => Some(Member { item, span }),
            FoundMember::None => {
                if whole {
                    self.unknown_member(text, span, role, group, items);
                }
                None
            }
            FoundMember::Several => {
                let message = format!("two parts of the boat have the id {}", quoted(text));
                let mut paths = paths_of(items, role, vocabulary);
                paths.retain(|path| path.rsplit('/').next() == Some(text));
                let help = format!("say which is meant: {}", paths.join(" or "));
                self.fault("record.member", span, message, "not clear", help);
                None
            }
        }
    }

    #[cold]
    fn unknown_member(
        &mut self,
        text: &str,
        span: Span,
        role: &Role,
        group: &Part,
        items: &[Item],
    ) {
        if self.is_full() {
            return;
        }
        let vocabulary = self.loader.vocabulary;
        let kind = vocabulary.part(role.part);
        let kind = kind.map_or("", |kind| kind.name.text.as_str());
        let other = items.iter().find(|item| {
            let many = item.holding.is_some() && item.members.is_none();
            many && (item.id.as_deref() == Some(text) || item.path(vocabulary) == text)
        });
        if let Some(other) = other {
            let other_kind = vocabulary.part(other.part);
            let other_kind = other_kind.map_or("", |part| part.name.text.as_str());
            let message = format!(
                "{} is {}; the role {} of {} is filled by {}",
                quoted(text),
                a(other_kind),
                quoted(&role.name.text),
                quoted(&group.name.text),
                a(kind)
            );
            let ids = ids_of(items, role);
            let help = match ids.is_empty() {
                true => format!("the record names no {kind}"),
                false => format!("name one of: {}", ids.join(", ")),
            };
            let first = other.span;
            self.fault("record.member_kind", span, message, "another kind", help);
            self.faults.also(first, "this part");
            return;
        }
        let ids = ids_of(items, role);
        if ids.is_empty() {
            let message = format!(
                "{} fills a role, and the record names no {kind}",
                quoted(text)
            );
            let help = format!("measure it under the parts of the boat, as {}", a(kind));
            self.fault("record.member", span, message, "not known", help);
            return;
        }
        // Ids are so short that each is near to every other: all are named, unless letters are but large or small.
        let message = format!("{} is not {} of this record", quoted(text), a(kind));
        let same = ids.iter().find(|id| id.eq_ignore_ascii_case(text));
        let help = match same {
            Some(id) => format!("did you mean {}?", quoted(id)),
            None => format!("name one of: {}", ids.join(", ")),
        };
        self.fault("name.unknown", span, message, "not known", help);
    }

    /// One part fills one role of a group: it can't be in two places.
    fn only_once(
        &mut self,
        members: &Members,
        member: &Member,
        group: &Part,
        items: &[Item],
    ) -> bool {
        let before = members.roles.iter().zip(&group.roles);
        let mut before = before.filter_map(|(one, role)| Some((one.as_ref()?, role)));
        let Some((first, role)) = before.find(|(one, _)| one.item == member.item) else {
            return true;
        };
        let id = items.get(member.item).and_then(|item| item.id.as_deref());
        let message = format!(
            "{} fills two roles of one group",
            quoted(id.unwrap_or("a part"))
        );
        let first_words = format!("first here, as {}", role.name.text);
        let first = first.span;
        if !self.is_full() {
            let help = "a part is used in one place at a time; name another one";
            self.fault(
                "record.member_twice",
                member.span,
                message,
                "again here",
                help,
            );
            self.faults.also(first, first_words);
        }
        false
    }
}

/// What a name in a role comes to.
pub(super) enum FoundMember {
    /// The item at this place.
    One(usize),
    /// Nothing of the kind of the role.
    None,
    /// Parts of two holdings.
    Several,
}

/// The part of the kind of a role that is named: by its id, or by holding and id (`runners/S1`).
pub(super) fn find_member(
    items: &[Item],
    role: &Role,
    text: &str,
    vocabulary: &Vocabulary,
) -> FoundMember {
    let (key, id) = match text.split_once('/') {
        Some((key, id)) => (Some(key), id),
        None => (None, text),
    };
    let holding = key.map(|key| vocabulary.holding_named(key));
    let fits = |item: &Item| {
        item.part == role.part
            && item.id.as_deref() == Some(id)
            && holding.is_none_or(|holding| holding.is_some() && item.holding == holding)
    };
    let mut found = items.iter().enumerate().filter(|(_, item)| fits(item));
    let Some((at, first)) = found.next() else {
        return FoundMember::None;
    };
    // Of two with one id in one list the first counts; that there are two is told there.
    match found.any(|(_, other)| other.holding != first.holding) {
        true => FoundMember::Several,
        false => FoundMember::One(at),
    }
}

fn ids_of<'i>(items: &'i [Item], role: &Role) -> Vec<&'i str> {
    let of_kind = items.iter().filter(|item| item.part == role.part);
    of_kind.filter_map(|item| item.id.as_deref()).collect()
}

fn paths_of(items: &[Item], role: &Role, vocabulary: &Vocabulary) -> Vec<String> {
    let of_kind = items.iter().filter(|item| item.part == role.part);
    of_kind.map(|item| item.path(vocabulary)).collect()
}

/// How an entry of a group is written: `- { id: a, port: S1, … }`.
fn written(group: &Part) -> String {
    let roles = group.roles.iter().zip(1..);
    let roles: Vec<String> = roles
        .map(|(role, number)| format!("{}: S{number}", role.name.text))
        .collect();
    format!("`- {{ id: a, {} }}`", roles.join(", "))
}
