//! What two versions speak of, under one set of names: parts, traits, choices, measures, and where each version has
//! them. A name that one version has and the other renamed is one thing.

use super::common_names::{Names, by_name};
use crate::rules::RulesFile;
use crate::vocabulary::{
    ChoiceId, HoldingId, MeasureId, MeasureKind, Name, PartId, RenamedTo, RoleId, TraitId, ZoneId,
};

/// One of the two versions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// The version as it was.
    Old,
    /// The version as it is to be.
    New,
}

impl Side {
    /// Both.
    pub const BOTH: [Side; 2] = [Side::Old, Side::New];

    /// The other one.
    pub fn other(self) -> Side {
        match self {
            Side::Old => Side::New,
            Side::New => Side::Old,
        }
    }
}

/// Something that each version may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sides<T> {
    /// In the old version.
    pub old: Option<T>,
    /// In the new version.
    pub new: Option<T>,
}

impl<T: Copy> Sides<T> {
    /// The one of a version.
    pub fn at(&self, side: Side) -> Option<T> {
        match side {
            Side::Old => self.old,
            Side::New => self.new,
        }
    }
}

macro_rules! index {
    ($($(#[$doc:meta])* $name:ident;)*) => {
        $(
            $(#[$doc])*
            #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
            pub struct $name(pub u16);
            impl $name {
                /// As an index into a list.
                pub fn index(self) -> usize {
                    usize::from(self.0)
                }
            }
        )*
    };
}

index! {
    /// A kind of part in [`Common::parts`]; the first is the boat.
    PartIx;
    /// A holding in [`Common::holdings`].
    HoldingIx;
    /// A trait in [`CommonPart::traits`].
    TraitIx;
    /// A measure in [`CommonPart::measures`].
    MeasureIx;
    /// A role in [`CommonPart::roles`].
    RoleIx;
}

/// All that records of the two versions can say.
#[derive(Clone, Debug)]
pub struct Common<'r> {
    /// The old version.
    pub old: &'r RulesFile,
    /// The new version.
    pub new: &'r RulesFile,
    /// Kinds of part, the boat first.
    pub parts: Vec<CommonPart>,
    /// What a boat holds, groups among it.
    pub holdings: Vec<CommonHolding>,
    /// Event levels.
    pub levels: Vec<CommonChoice>,
}

/// A kind of part, or a group.
#[derive(Clone, Debug)]
pub struct CommonPart {
    /// Its name in the new version, else in the old one.
    pub name: String,
    /// Where each version has it.
    pub at: Sides<PartId>,
    /// What is declared of it.
    pub traits: Vec<CommonTrait>,
    /// What is measured on it.
    pub measures: Vec<CommonMeasure>,
    /// The roles of a group.
    pub roles: Vec<CommonRole>,
}

/// A role of a group.
#[derive(Clone, Debug)]
pub struct CommonRole {
    /// Its name.
    pub name: String,
    /// The kind of part that fills it.
    pub part: PartIx,
    /// Where each version has it.
    pub at: Sides<RoleId>,
}

/// A trait.
#[derive(Clone, Debug)]
pub struct CommonTrait {
    /// Its name.
    pub name: String,
    /// What it can be; two of different kinds are two traits.
    pub kind: CommonKind,
    /// Where each version has it.
    pub at: Sides<TraitId>,
}

/// What a trait can be.
#[derive(Clone, Debug)]
pub enum CommonKind {
    /// One of these, or `other`, whose place is behind the last.
    Choice(Vec<CommonChoice>),
    /// Some of these, and perhaps `other`.
    AnyOf(Vec<CommonChoice>),
    /// A day.
    Date,
    /// Yes or no; absent is no.
    Flag,
}

impl CommonKind {
    /// The choices; none of dates and flags.
    pub fn choices(&self) -> &[CommonChoice] {
        match self {
            CommonKind::Choice(list) | CommonKind::AnyOf(list) => list,
            CommonKind::Date | CommonKind::Flag => &[],
        }
    }
}

/// A choice of a trait, or an event level.
#[derive(Clone, Debug)]
pub struct CommonChoice {
    /// Its name.
    pub name: String,
    /// Where each version has it.
    pub at: Sides<ChoiceId>,
}

/// A measure.
#[derive(Clone, Debug)]
pub struct CommonMeasure {
    /// Its name.
    pub name: String,
    /// What kind of thing it is; two of different kinds are two measures.
    pub kind: MeasureKind,
    /// Whether it is taken at places.
    pub placed: bool,
    /// Where each version has it.
    pub at: Sides<MeasureId>,
}

/// A place on the boat that one part fills, or many of a kind.
#[derive(Clone, Debug)]
pub struct CommonHolding {
    /// The key in records.
    pub key: String,
    /// The kind of part.
    pub part: PartIx,
    /// Whether a list fills it.
    pub many: bool,
    /// Where each version has it.
    pub at: Sides<HoldingId>,
}

impl<'r> Common<'r> {
    /// What both versions speak of.
    pub fn of(old: &'r RulesFile, new: &'r RulesFile) -> Common<'r> {
        let (was, is) = (&old.vocabulary, &new.vocabulary);
        let names = Names { was, is };
        let mut parts: Vec<CommonPart> = Vec::new();
        let matched = names.matched(
            &names_of(&was.parts, |one| &one.name),
            &names_of(&is.parts, |one| &one.name),
            |word| {
                names.renamed(word, |to| match to {
                    RenamedTo::Part(id) => Some(id.index()),
                    RenamedTo::Holding(_)
                    | RenamedTo::Trait(..)
                    | RenamedTo::Measure(..)
                    | RenamedTo::Choice(..) => None,
                })
            },
            |was_at, is_at| {
                was.parts.get(was_at).map(|one| one.is_group())
                    == is.parts.get(is_at).map(|one| one.is_group())
            },
        );
        for pair in matched {
            let at = Sides {
                old: pair.0.and_then(slot).map(PartId),
                new: pair.1.and_then(slot).map(PartId),
            };
            let name = at
                .new
                .and_then(|id| is.part(id))
                .or(at.old.and_then(|id| was.part(id)));
            parts.push(CommonPart {
                name: name.map_or(String::new(), |part| part.name.text.clone()),
                at,
                traits: names.traits(at),
                measures: names.measures(at),
                roles: Vec::new(),
            });
        }
        // The boat is the first of either version.
        let part_ix = |side: Side, id: PartId| {
            let found = parts.iter().position(|part| part.at.at(side) == Some(id));
            found.and_then(slot).map(PartIx)
        };
        let matched = names.matched(
            &names_of(&was.holdings, |one| &one.key),
            &names_of(&is.holdings, |one| &one.key),
            |word| {
                names.renamed(word, |to| match to {
                    RenamedTo::Holding(id) => Some(id.index()),
                    RenamedTo::Part(_)
                    | RenamedTo::Trait(..)
                    | RenamedTo::Measure(..)
                    | RenamedTo::Choice(..) => None,
                })
            },
            |was_at, is_at| {
                let (Some(one), Some(other)) = (was.holdings.get(was_at), is.holdings.get(is_at))
                else {
                    return false;
                };
                one.many == other.many
                    && part_ix(Side::Old, one.part) == part_ix(Side::New, other.part)
            },
        );
        let mut holdings = Vec::new();
        for pair in matched {
            let at = Sides {
                old: pair.0.and_then(slot).map(HoldingId),
                new: pair.1.and_then(slot).map(HoldingId),
            };
            let (side, one) = match (
                at.new.and_then(|id| is.holding(id)),
                at.old.and_then(|id| was.holding(id)),
            ) {
                (Some(one), _) => (Side::New, one),
                (None, Some(one)) => (Side::Old, one),
                (None, None) => continue,
            };
            let Some(part) = part_ix(side, one.part) else {
                continue;
            };
            holdings.push(CommonHolding {
                key: one.key.text.clone(),
                part,
                many: one.many,
                at,
            });
        }
        let roles: Vec<Vec<CommonRole>> = parts
            .iter()
            .map(|part| names.roles(part.at, &part_ix))
            .collect();
        for (part, roles) in parts.iter_mut().zip(roles) {
            part.roles = roles;
        }
        let pairs = by_name(
            &names_of(&was.event_levels, |one| one),
            &names_of(&is.event_levels, |one| one),
        );
        let levels = pairs.into_iter().map(|(old, new, name)| CommonChoice {
            name,
            at: Sides {
                old: old.and_then(slot).map(ChoiceId),
                new: new.and_then(slot).map(ChoiceId),
            },
        });
        let levels = levels.collect();
        Common {
            old,
            new,
            parts,
            holdings,
            levels,
        }
    }

    /// The rules of a version.
    pub fn rules(&self, side: Side) -> &'r RulesFile {
        match side {
            Side::Old => self.old,
            Side::New => self.new,
        }
    }

    /// The part in a slot.
    pub fn part(&self, ix: PartIx) -> Option<&CommonPart> {
        self.parts.get(ix.index())
    }

    /// The holding in a slot.
    pub fn holding(&self, ix: HoldingIx) -> Option<&CommonHolding> {
        self.holdings.get(ix.index())
    }

    /// A version's part.
    pub fn part_of(&self, side: Side, id: PartId) -> Option<PartIx> {
        let found = self
            .parts
            .iter()
            .position(|part| part.at.at(side) == Some(id));
        found.and_then(slot).map(PartIx)
    }

    /// A version's holding.
    pub fn holding_of(&self, side: Side, id: HoldingId) -> Option<HoldingIx> {
        let found = self
            .holdings
            .iter()
            .position(|one| one.at.at(side) == Some(id));
        found.and_then(slot).map(HoldingIx)
    }

    /// A version's trait.
    pub fn trait_of(&self, side: Side, part: PartIx, id: TraitId) -> Option<TraitIx> {
        let found = self
            .part(part)?
            .traits
            .iter()
            .position(|one| one.at.at(side) == Some(id));
        found.and_then(slot).map(TraitIx)
    }

    /// A version's measure.
    pub fn measure_of(&self, side: Side, part: PartIx, id: MeasureId) -> Option<MeasureIx> {
        let found = self
            .part(part)?
            .measures
            .iter()
            .position(|one| one.at.at(side) == Some(id));
        found.and_then(slot).map(MeasureIx)
    }

    /// A version's role of a group.
    pub fn role_of(&self, side: Side, part: PartIx, id: RoleId) -> Option<RoleIx> {
        let found = self
            .part(part)?
            .roles
            .iter()
            .position(|one| one.at.at(side) == Some(id));
        found.and_then(slot).map(RoleIx)
    }

    /// A version's zone by its name, for words.
    pub fn zone_name(&self, side: Side, part: PartId, id: ZoneId) -> Option<&'r str> {
        let part = self.rules(side).vocabulary.part(part)?;
        part.zones
            .get(id.index())
            .map(|zone| zone.name.text.as_str())
    }
}

pub(super) fn slot(at: usize) -> Option<u16> {
    u16::try_from(at).ok()
}

pub(super) fn names_of<T>(list: &[T], name: impl Fn(&T) -> &Name) -> Vec<String> {
    list.iter().map(|one| name(one).text.clone()).collect()
}
