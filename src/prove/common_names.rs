//! Names of two versions matched: by what is renamed, then by what is called alike.

use super::common::{
    CommonChoice, CommonKind, CommonMeasure, CommonRole, CommonTrait, PartIx, Side, Sides,
    names_of, slot,
};
use crate::vocabulary::{
    ChoiceId, MeasureId, PartId, RenamedTo, RoleId, TraitId, TraitKind, Vocabulary,
};

pub(super) type Pair = (Option<usize>, Option<usize>);

pub(super) fn by_name(
    was: &[String],
    is: &[String],
) -> Vec<(Option<usize>, Option<usize>, String)> {
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
pub(super) struct Names<'r> {
    pub was: &'r Vocabulary,
    pub is: &'r Vocabulary,
}

/// What a name of one version is called in the other: the new version's `renamed` speaks of old names, and where two
/// versions are compared backwards the old one's of new names.
pub(super) struct Found {
    /// The slot in the new version of an old name.
    forward: Option<usize>,
    /// The slot in the old version of a new name.
    backward: Option<usize>,
}

impl Names<'_> {
    pub fn renamed(self, path: &str, pick: impl Fn(&RenamedTo) -> Option<usize>) -> Found {
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
    pub fn matched(
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

    /// `renamed` of a name below a part. Where what stands before it has a new name too, a path may go by either.
    fn below(
        self,
        at: Sides<PartId>,
        before: [&str; 2],
        word: &str,
        pick: impl Fn(&RenamedTo) -> Option<usize>,
    ) -> Found {
        let mut found = Found {
            forward: None,
            backward: None,
        };
        for side in Side::BOTH {
            let part = self.path(at, side);
            for one in before {
                let path = if one.is_empty() {
                    format!("{part}.{word}")
                } else {
                    format!("{part}.{one}.{word}")
                };
                let this = self.renamed(&path, &pick);
                found.forward = found.forward.or(this.forward);
                found.backward = found.backward.or(this.backward);
            }
        }
        found
    }

    pub fn traits(self, at: Sides<PartId>) -> Vec<CommonTrait> {
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
                self.below(at, ["", ""], word, |to| match to {
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
                    self.below(at, [old_name, new_name], word, pick)
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

    pub fn measures(self, at: Sides<PartId>) -> Vec<CommonMeasure> {
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
                self.below(at, ["", ""], word, |to| match to {
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

    pub fn roles(
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
