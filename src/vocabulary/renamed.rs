//! Names of older versions: a record that uses one is read as if it used the new one.

use super::model::*;

/// An old name and what it means now.
#[derive(Clone, Debug)]
pub struct Renamed {
    /// The old path, `runner.construction.t_section`, with its place in the rules file.
    pub old: Name,
    /// The new name: the last word of the new path.
    pub new: Name,
    /// What has the new name; a kind of part and a holding can share one.
    pub to: Vec<RenamedTo>,
}

/// What has a new name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RenamedTo {
    /// A kind of part.
    Part(PartId),
    /// What the boat holds.
    Holding(HoldingId),
    /// A trait of a part.
    Trait(PartId, TraitId),
    /// A measure of a part.
    Measure(PartId, MeasureId),
    /// A choice of a trait of a part.
    Choice(PartId, TraitId, ChoiceId),
}

impl Renamed {
    /// The old name itself, as a record has it: the last word of the path.
    pub fn old_word(&self) -> &str {
        self.old.text.rsplit('.').next().unwrap_or(&self.old.text)
    }
}

impl Vocabulary {
    /// The choice that an old word of a trait means now.
    pub fn renamed_choice(
        &self,
        part: PartId,
        of: TraitId,
        word: &str,
    ) -> Option<(&Renamed, ChoiceId)> {
        self.renamed
            .iter()
            .filter(|one| one.old_word() == word)
            .find_map(|one| {
                one.to.iter().find_map(|to| match to {
                    RenamedTo::Choice(at, slot, choice) if (*at, *slot) == (part, of) => {
                        Some((one, *choice))
                    }
                    RenamedTo::Choice(..)
                    | RenamedTo::Part(_)
                    | RenamedTo::Holding(_)
                    | RenamedTo::Trait(..)
                    | RenamedTo::Measure(..) => None,
                })
            })
    }
}
