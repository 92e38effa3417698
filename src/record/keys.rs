//! What a record of a class can say, arranged for looking keys up: built once, used for a whole fleet.

use crate::vocabulary::{ChoiceId, HoldingId, MeasureId, PartId, RoleId, TraitId, Vocabulary};

/// Keys with what they stand for, found by length and then letter for letter.
///
/// The names of one part number a few dozen and differ in length, so that a look-up compares one or two
/// texts and computes no hash.
pub(super) struct Keys<'v, T> {
    by_length: Vec<Vec<(&'v str, T)>>,
}

impl<'v, T: Copy> Keys<'v, T> {
    /// Of two equal keys the first one counts.
    pub fn new(keys: impl Iterator<Item = (&'v str, T)>) -> Keys<'v, T> {
        let mut by_length: Vec<Vec<(&'v str, T)>> = Vec::new();
        for (key, value) in keys {
            if by_length.len() <= key.len() {
                by_length.resize_with(key.len() + 1, Vec::new);
            }
            if let Some(list) = by_length.get_mut(key.len()) {
                list.push((key, value));
            }
        }
        Keys { by_length }
    }

    /// What a key stands for.
    pub fn get(&self, key: &[u8]) -> Option<T> {
        let same_length = self.by_length.get(key.len())?;
        same_length
            .iter()
            .find(|(known, _)| known.as_bytes() == key)
            .map(|(_, value)| *value)
    }

    /// All keys, for messages: by length, then as they were given.
    pub fn words(&self) -> impl Iterator<Item = &'v str> + Clone + '_ {
        self.by_length.iter().flatten().map(|(key, _)| *key)
    }
}

/// What a key of an item stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ItemKey {
    /// The id within a holding of many.
    Id,
    /// Boat: the sail number.
    SailNumber,
    /// Boat: its name.
    Name,
    /// Boat: its owner.
    Owner,
    /// Work done on it.
    Work,
    /// Remarks.
    Notes,
    /// Something declared.
    Trait(TraitId),
    /// Something measured.
    Measure(MeasureId),
    /// Something that is not looked at.
    PassedOver,
}

/// What a key of a group stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum GroupKey {
    /// The id of the group.
    Id,
    /// Remarks.
    Notes,
    /// The part in a role.
    Role(RoleId),
}

/// What a key at the top of a record stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TopKey {
    Format,
    Class,
    Boat,
    Measured,
    Instruments,
    Unlisted,
    Notes,
    /// Parts of the boat.
    Holding(HoldingId),
    /// Groups of parts.
    Group(HoldingId),
    /// In a part of a record: one item of a holding of many, by its kind.
    One(HoldingId),
    /// Something that is not looked at.
    PassedOver,
}

/// What a record may say beside what the vocabulary knows, and what of it is not looked at: records that are read under
/// two versions of the rules, for a few of their values.
#[derive(Clone, Debug, Default)]
pub struct Beside<'v> {
    /// Further keys at the top: the holding or group that each one means, or nothing for what is passed over.
    pub top: Vec<(&'v str, Option<HoldingId>)>,
    /// Further keys of items: what each one means, or nothing for what is passed over.
    pub items: Vec<(PartId, &'v str, Option<Slot>)>,
    /// Further words of traits, and the choice that each one means; nothing for none of them.
    pub choices: Vec<(PartId, TraitId, &'v str, Option<ChoiceId>)>,
    /// Measures that are passed over.
    pub unused: Vec<(PartId, MeasureId)>,
    /// Traits that are passed over.
    pub unused_traits: Vec<(PartId, TraitId)>,
    /// Whether keys of items and at the top that nobody knows are passed over as well, and noted: names of other versions.
    /// One that is nearly the name of something that is looked at is still refused.
    pub unknown: bool,
}

/// What a key of an item may mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slot {
    /// Something declared.
    Trait(TraitId),
    /// Something measured.
    Measure(MeasureId),
}

/// Loads records of one class. Made once for a vocabulary and shared between threads.
pub struct Loader<'v> {
    pub(super) vocabulary: &'v Vocabulary,
    /// Keys at the top of a whole record.
    pub(super) top: Keys<'v, TopKey>,
    /// Keys at the top of a part of a record.
    pub(super) partial: Keys<'v, TopKey>,
    /// Keys of the items of every kind of part, by its slot.
    parts: Vec<Keys<'v, ItemKey>>,
    nothing: Keys<'v, ItemKey>,
    /// Keys of groups, by the slot of their part.
    groups: Vec<(PartId, Keys<'v, GroupKey>)>,
    no_group: Keys<'v, GroupKey>,
    /// Whether keys that nobody knows are passed over.
    pub(super) unknown: bool,
    /// Further words of traits.
    pub(super) choices: Vec<(PartId, TraitId, &'v str, Option<ChoiceId>)>,
}

impl<'v> Loader<'v> {
    /// Arranges a vocabulary for loading.
    pub fn new(vocabulary: &'v Vocabulary) -> Loader<'v> {
        Loader::with(vocabulary, Beside::default())
    }

    /// The same for records that may say more, or of which less is looked at.
    pub fn with(vocabulary: &'v Vocabulary, beside: Beside<'v>) -> Loader<'v> {
        let ids = |at: usize| u16::try_from(at).unwrap_or(u16::MAX);
        let holdings = || {
            let all = vocabulary.holdings.iter().enumerate();
            all.map(move |(at, holding)| (holding.key.text.as_str(), HoldingId(ids(at))))
        };
        let common = || {
            [
                ("boat", TopKey::Boat),
                ("measured", TopKey::Measured),
                ("instruments", TopKey::Instruments),
                ("unlisted", TopKey::Unlisted),
                ("notes", TopKey::Notes),
            ]
            .into_iter()
            .chain(holdings().map(|(key, id)| match vocabulary.is_group(id) {
                true => (key, TopKey::Group(id)),
                false => (key, TopKey::Holding(id)),
            }))
            .chain(beside.top.iter().map(|(key, meant)| match meant {
                Some(id) if vocabulary.is_group(*id) => (*key, TopKey::Group(*id)),
                Some(id) => (*key, TopKey::Holding(*id)),
                None => (*key, TopKey::PassedOver),
            }))
        };
        let head = [("format", TopKey::Format), ("class", TopKey::Class)];
        // Two holdings can be of one kind: the first of them takes an item that is named by its kind.
        let by_kind = vocabulary
            .holdings
            .iter()
            .enumerate()
            .filter_map(|(at, holding)| {
                let kind = vocabulary.part(holding.part)?;
                (!kind.is_group()).then_some(())?;
                Some((kind.name.text.as_str(), TopKey::One(HoldingId(ids(at)))))
            });
        let parts = vocabulary.parts.iter().enumerate().map(|(slot, part)| {
            let boat = PartId(ids(slot)) == Vocabulary::BOAT;
            let structure: &[(&'v str, ItemKey)] = if boat {
                &[
                    ("sail_number", ItemKey::SailNumber),
                    ("name", ItemKey::Name),
                    ("owner", ItemKey::Owner),
                    ("work", ItemKey::Work),
                    ("notes", ItemKey::Notes),
                ]
            } else {
                &[
                    ("id", ItemKey::Id),
                    ("work", ItemKey::Work),
                    ("notes", ItemKey::Notes),
                ]
            };
            let traits = part.traits.iter().enumerate();
            let own = PartId(ids(slot));
            let claimed = |id: TraitId| match beside.unused_traits.contains(&(own, id)) {
                true => ItemKey::PassedOver,
                false => ItemKey::Trait(id),
            };
            let traits =
                traits.map(|(at, one)| (one.name.text.as_str(), claimed(TraitId(ids(at)))));
            let measures = part.measures.iter().enumerate();
            let meant = |id: MeasureId| match beside.unused.contains(&(own, id)) {
                true => ItemKey::PassedOver,
                false => ItemKey::Measure(id),
            };
            let measures =
                measures.map(|(at, one)| (one.name.text.as_str(), meant(MeasureId(ids(at)))));
            let further = beside.items.iter().filter(|(part, ..)| *part == own);
            let further = further.map(|(_, key, slot)| match slot {
                Some(Slot::Trait(id)) => (*key, claimed(*id)),
                Some(Slot::Measure(id)) => (*key, meant(*id)),
                None => (*key, ItemKey::PassedOver),
            });
            let structure = structure.iter().copied();
            Keys::new(structure.chain(traits).chain(measures).chain(further))
        });
        let groups = vocabulary.parts.iter().enumerate();
        let groups = groups
            .filter(|(_, part)| part.is_group())
            .map(|(slot, part)| {
                let roles = part.roles.iter().enumerate();
                let roles = roles
                    .map(|(at, role)| (role.name.text.as_str(), GroupKey::Role(RoleId(ids(at)))));
                let own = [("id", GroupKey::Id), ("notes", GroupKey::Notes)];
                (PartId(ids(slot)), Keys::new(own.into_iter().chain(roles)))
            });
        Loader {
            groups: groups.collect(),
            no_group: Keys::new(std::iter::empty()),
            vocabulary,
            top: Keys::new(head.into_iter().chain(common())),
            partial: Keys::new(common().chain(by_kind)),
            parts: parts.collect(),
            nothing: Keys::new(std::iter::empty()),
            unknown: beside.unknown,
            choices: beside.choices.clone(),
        }
    }

    /// What a further word of a trait means; the inner one is nothing for none of its choices.
    #[cold]
    #[expect(
        clippy::option_option,
        reason = "a word may be unknown, or known and none of the choices"
    )]
    pub(super) fn further_choice(
        &self,
        part: PartId,
        slot: TraitId,
        word: &str,
    ) -> Option<Option<ChoiceId>> {
        let mut all = self.choices.iter();
        let found = all.find(|(of, id, known, _)| *of == part && *id == slot && *known == word);
        found.map(|(.., choice)| *choice)
    }

    /// The vocabulary it loads by.
    pub fn vocabulary(&self) -> &'v Vocabulary {
        self.vocabulary
    }

    /// Keys of the groups of a kind.
    pub(super) fn group_keys(&self, part: PartId) -> &Keys<'v, GroupKey> {
        let mut groups = self.groups.iter();
        let found = groups.find(|(group, _)| *group == part);
        found.map_or(&self.no_group, |(_, keys)| keys)
    }

    /// Keys of the items of a kind of part.
    pub(super) fn item_keys(&self, part: PartId) -> &Keys<'v, ItemKey> {
        self.parts.get(part.index()).unwrap_or(&self.nothing)
    }
}
