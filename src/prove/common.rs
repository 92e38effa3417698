//! What two versions speak of, under one set of names: parts, traits, choices, measures, and where each version has
//! them. A name that one version has and the other renamed is one thing.

use crate::rules::RulesFile;
use crate::vocabulary::{
    ChoiceId, HoldingId, MeasureId, MeasureKind, Name, PartId, RenamedTo, RoleId, TraitId,
    TraitKind, Vocabulary, ZoneId,
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

fn slot(at: usize) -> Option<u16> {
    u16::try_from(at).ok()
}

fn names_of<T>(list: &[T], name: impl Fn(&T) -> &Name) -> Vec<String> {
    list.iter().map(|one| name(one).text.clone()).collect()
}

type Pair = (Option<usize>, Option<usize>);

fn by_name(was: &[String], is: &[String]) -> Vec<(Option<usize>, Option<usize>, String)> {
    let find = |list: &[String], word: &str| list.iter().position(|one| one == word);
    let new = is
        .iter()
        .enumerate()
        .map(|(at, word)| (find(was, word), Some(at), word.clone()));
    let gone = was
        .iter()
        .enumerate()
        .filter(|(_, word)| find(is, word).is_none());
    let gone = gone.map(|(at, word)| (Some(at), None, word.clone()));
    new.chain(gone).collect()
}

/// The two vocabularies and what either says of the other's names.
#[derive(Clone, Copy)]
struct Names<'r> {
    was: &'r Vocabulary,
    is: &'r Vocabulary,
}

/// What a name of one version is called in the other: the new version's `renamed` speaks of old names, and where two
/// versions are compared backwards the old one's of new names.
struct Found {
    /// The slot in the new version of an old name.
    forward: Option<usize>,
    /// The slot in the old version of a new name.
    backward: Option<usize>,
}

impl Names<'_> {
    fn renamed(self, path: &str, pick: impl Fn(&RenamedTo) -> Option<usize>) -> Found {
        let find = |vocabulary: &Vocabulary| {
            let mut entries = vocabulary.renamed.iter().filter(|one| one.old.text == path);
            entries.find_map(|one| one.to.iter().find_map(&pick))
        };
        Found {
            forward: find(self.is),
            backward: find(self.was),
        }
    }

    /// Pairs of slots: the new version's in their order, then what only the old one has.
    fn matched(
        self,
        was: &[String],
        is: &[String],
        renamed: impl Fn(&str) -> Found,
        alike: impl Fn(usize, usize) -> bool,
    ) -> Vec<Pair> {
        let mut of_new: Vec<Option<usize>> = vec![None; is.len()];
        let mut taken = vec![false; was.len()];
        let mut take = |old: usize, new: usize| {
            if let (Some(of_new), Some(taken)) = (of_new.get_mut(new), taken.get_mut(old))
                && of_new.is_none()
                && !*taken
                && alike(old, new)
            {
                *of_new = Some(old);
                *taken = true;
            }
        };
        for (old, word) in was.iter().enumerate() {
            if let Some(new) = renamed(word).forward {
                take(old, new);
            }
        }
        for (new, word) in is.iter().enumerate() {
            if let Some(old) = renamed(word).backward {
                take(old, new);
            }
        }
        for (new, word) in is.iter().enumerate() {
            if let Some(old) = was.iter().position(|one| one == word) {
                take(old, new);
            }
        }
        let new = of_new
            .iter()
            .enumerate()
            .map(|(new, old)| (*old, Some(new)));
        let gone = taken.iter().enumerate().filter(|(_, taken)| !**taken);
        let pairs: Vec<Pair> = new.chain(gone.map(|(old, _)| (Some(old), None))).collect();
        pairs
    }

    /// The path of a part in the version that has it.
    fn path(self, at: Sides<PartId>, side: Side) -> String {
        let part = match side {
            Side::Old => at.old.and_then(|id| self.was.part(id)),
            Side::New => at.new.and_then(|id| self.is.part(id)),
        };
        part.map_or(String::new(), |part| part.name.text.clone())
    }

    /// `renamed` of a name below a part.
    fn below(
        self,
        at: Sides<PartId>,
        words: &str,
        pick: impl Fn(&RenamedTo) -> Option<usize>,
    ) -> Found {
        let old = format!("{}.{words}", self.path(at, Side::Old));
        let new = format!("{}.{words}", self.path(at, Side::New));
        Found {
            forward: self.renamed(&old, &pick).forward,
            backward: self.renamed(&new, &pick).backward,
        }
    }

    fn traits(self, at: Sides<PartId>) -> Vec<CommonTrait> {
        let was = at
            .old
            .and_then(|id| self.was.part(id))
            .map_or(&[][..], |part| &part.traits);
        let is = at
            .new
            .and_then(|id| self.is.part(id))
            .map_or(&[][..], |part| &part.traits);
        let pairs = self.matched(
            &names_of(was, |one| &one.name),
            &names_of(is, |one| &one.name),
            |word| {
                self.below(at, word, |to| match to {
                    RenamedTo::Trait(_, id) => Some(id.index()),
                    RenamedTo::Part(_)
                    | RenamedTo::Holding(_)
                    | RenamedTo::Measure(..)
                    | RenamedTo::Choice(..) => None,
                })
            },
            |old, new| match (was.get(old), is.get(new)) {
                (Some(old), Some(new)) => {
                    std::mem::discriminant(&old.kind) == std::mem::discriminant(&new.kind)
                }
                _ => false,
            },
        );
        let each = pairs.into_iter().filter_map(|(old, new)| {
            let (was, is) = (
                old.and_then(|at| was.get(at)),
                new.and_then(|at| is.get(at)),
            );
            let one = is.or(was)?;
            let of = |found: Option<&crate::vocabulary::Trait>| {
                found.map_or(Vec::new(), |one| names_of(one.kind.names(), |name| name))
            };
            let (before, after) = (of(was), of(is));
            let (old_name, new_name) = (
                was.map_or("", |one| &one.name.text),
                is.map_or("", |one| &one.name.text),
            );
            let choices = self.matched(
                &before,
                &after,
                |word| {
                    let pick = |to: &RenamedTo| match to {
                        RenamedTo::Choice(_, _, id) => Some(id.index()),
                        RenamedTo::Part(_)
                        | RenamedTo::Holding(_)
                        | RenamedTo::Measure(..)
                        | RenamedTo::Trait(..) => None,
                    };
                    Found {
                        forward: self.below(at, &format!("{old_name}.{word}"), pick).forward,
                        backward: self.below(at, &format!("{new_name}.{word}"), pick).backward,
                    }
                },
                |_, _| true,
            );
            let choices: Vec<CommonChoice> = choices
                .into_iter()
                .filter_map(|(old, new)| {
                    let name = new
                        .and_then(|at| after.get(at))
                        .or(old.and_then(|at| before.get(at)))?;
                    Some(CommonChoice {
                        name: name.clone(),
                        at: Sides {
                            old: old.and_then(slot).map(ChoiceId),
                            new: new.and_then(slot).map(ChoiceId),
                        },
                    })
                })
                .collect();
            Some(CommonTrait {
                name: one.name.text.clone(),
                kind: match one.kind {
                    TraitKind::Choice(_) => CommonKind::Choice(choices),
                    TraitKind::AnyOf(_) => CommonKind::AnyOf(choices),
                    TraitKind::Date => CommonKind::Date,
                    TraitKind::Flag => CommonKind::Flag,
                },
                at: Sides {
                    old: old.and_then(slot).map(TraitId),
                    new: new.and_then(slot).map(TraitId),
                },
            })
        });
        each.collect()
    }

    fn measures(self, at: Sides<PartId>) -> Vec<CommonMeasure> {
        let was = at
            .old
            .and_then(|id| self.was.part(id))
            .map_or(&[][..], |part| &part.measures);
        let is = at
            .new
            .and_then(|id| self.is.part(id))
            .map_or(&[][..], |part| &part.measures);
        let pairs = self.matched(
            &names_of(was, |one| &one.name),
            &names_of(is, |one| &one.name),
            |word| {
                self.below(at, word, |to| match to {
                    RenamedTo::Measure(_, id) => Some(id.index()),
                    RenamedTo::Part(_)
                    | RenamedTo::Holding(_)
                    | RenamedTo::Trait(..)
                    | RenamedTo::Choice(..) => None,
                })
            },
            |old, new| match (was.get(old), is.get(new)) {
                (Some(old), Some(new)) => old.kind == new.kind && old.placed == new.placed,
                _ => false,
            },
        );
        let each = pairs.into_iter().filter_map(|(old, new)| {
            let one = new
                .and_then(|at| is.get(at))
                .or(old.and_then(|at| was.get(at)))?;
            Some(CommonMeasure {
                name: one.name.text.clone(),
                kind: one.kind,
                placed: one.placed,
                at: Sides {
                    old: old.and_then(slot).map(MeasureId),
                    new: new.and_then(slot).map(MeasureId),
                },
            })
        });
        each.collect()
    }

    fn roles(
        self,
        at: Sides<PartId>,
        part_ix: &dyn Fn(Side, PartId) -> Option<PartIx>,
    ) -> Vec<CommonRole> {
        let was = at
            .old
            .and_then(|id| self.was.part(id))
            .map_or(&[][..], |part| &part.roles);
        let is = at
            .new
            .and_then(|id| self.is.part(id))
            .map_or(&[][..], |part| &part.roles);
        let pairs = by_name(
            &names_of(was, |one| &one.name),
            &names_of(is, |one| &one.name),
        );
        let each = pairs.into_iter().filter_map(|(old, new, name)| {
            let part = match (
                new.and_then(|at| is.get(at)),
                old.and_then(|at| was.get(at)),
            ) {
                (Some(role), _) => part_ix(Side::New, role.part)?,
                (None, Some(role)) => part_ix(Side::Old, role.part)?,
                (None, None) => return None,
            };
            Some(CommonRole {
                name,
                part,
                at: Sides {
                    old: old.and_then(slot).map(RoleId),
                    new: new.and_then(slot).map(RoleId),
                },
            })
        });
        each.collect()
    }
}
