//! What a generated case says of a boat: numbers, answers and declarations, each chosen once.

use crate::expression::Scope;
use crate::quantity::{Date, Exact};
use crate::rules::RulesFile;
use crate::vocabulary::{ChoiceId, HoldingId, MeasureId, PartId, TraitId, Vocabulary};

/// Whose things bare names mean: the item under judgement, or the boat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Frame {
    /// [`Scope::Own`], or [`Scope::Boat`] where the rule is about the boat.
    pub own: Scope,
    /// The kind of part.
    pub part: PartId,
}

impl Frame {
    /// The frame of what is asked of a kind of part.
    pub fn of(part: PartId) -> Frame {
        let own = if part == Vocabulary::BOAT {
            Scope::Boat
        } else {
            Scope::Own
        };
        Frame { own, part }
    }

    /// Whose a name is, in the one way in which a world says it, and of which kind of part.
    pub fn resolve(self, scope: Scope, rules: &RulesFile) -> Option<Frame> {
        match scope {
            Scope::Own => Some(self),
            Scope::Boat => Some(Frame::of(Vocabulary::BOAT)),
            Scope::One(holding) => {
                let found = rules.vocabulary.holding(holding)?;
                let same = found.part == self.part && !found.many;
                let own = if same { self.own } else { scope };
                Some(Frame {
                    own,
                    part: found.part,
                })
            }
            Scope::Role(role) => {
                let part = rules.vocabulary.part(self.part)?.role(role)?.part;
                Some(Frame { own: scope, part })
            }
        }
    }
}

/// A number that a case can choose.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Var {
    /// Whose it is.
    pub of: Frame,
    /// The measure that it belongs to.
    pub measure: MeasureId,
    /// Which number of the measure.
    pub what: What,
}

/// Which number of a measure.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum What {
    /// The measure is one quantity, at each place if it is placed.
    Value,
    /// How far forward of the contact the gap under the edge reaches this height.
    Forward(Exact),
    /// The same behind the contact.
    Aft(Exact),
    /// How far the middle of the blade stands off the line through its ends.
    Bend,
    /// The port bevel.
    Port,
    /// The starboard bevel.
    Starboard,
    /// The least of all places.
    Least,
    /// The greatest of all places.
    Greatest,
    /// How far it sinks under a load: a mass, or a force.
    Sinks(Exact, LoadKind),
    /// Load over deflection.
    Stiffness,
    /// The area inside an outline.
    Area,
}

/// What a load is said as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LoadKind {
    /// `60 kg`
    Mass,
    /// `600 N`
    Force,
}

/// Something declared.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Claim {
    /// A choice; `None` is `other`.
    Choice(Option<ChoiceId>),
    /// Some of the choices of a list; `None` is `other`.
    List(Vec<Option<ChoiceId>>),
    /// A day, and how it is shown.
    Day(Date, Proof),
    /// A flag.
    Flag(bool),
}

/// How a day is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Proof {
    /// A paper was seen.
    Seen,
    /// Nothing shows it.
    Nothing,
}

/// What a case says, as far as it is chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct World {
    pub numbers: Vec<(Var, Exact)>,
    pub answers: Vec<(Frame, MeasureId, bool)>,
    pub claims: Vec<(Frame, TraitId, Claim)>,
    /// Items of a holding of many, each with its own world.
    pub many: Vec<(HoldingId, Vec<World>)>,
    /// Groups with all roles filled by parts of which nothing else is said, and how many of each.
    pub groups: Vec<(HoldingId, usize)>,
    pub level: Option<ChoiceId>,
    pub day: Option<Date>,
    /// First values are on no paper.
    pub no_papers: bool,
}

impl World {
    /// Both together; `None` where they contradict each other.
    pub fn with(&self, other: &World) -> Option<World> {
        let mut all = self.clone();
        for (var, value) in &other.numbers {
            all = all.and_number(var, value)?;
        }
        for (of, measure, yes) in &other.answers {
            let known = all
                .answers
                .iter()
                .find(|(own, id, _)| own == of && id == measure);
            match known {
                Some((_, _, known)) if known != yes => return None,
                Some(_) => {}
                None => all.answers.push((*of, *measure, *yes)),
            }
        }
        for (of, slot, claim) in &other.claims {
            all = all.and_claim(*of, *slot, claim.clone())?;
        }
        for (holding, items) in &other.many {
            match all.many.iter().find(|(known, _)| known == holding) {
                Some((_, known)) if known != items => return None,
                Some(_) => {}
                None => all.many.push((*holding, items.clone())),
            }
        }
        for (group, count) in &other.groups {
            match all.groups.iter().find(|(known, _)| known == group) {
                Some((_, known)) if known != count => return None,
                Some(_) => {}
                None => all.groups.push((*group, *count)),
            }
        }
        all.level = agreed(all.level, other.level)?;
        all.day = agreed(all.day, other.day)?;
        all.no_papers |= other.no_papers;
        Some(all)
    }

    /// With one more number.
    pub fn and_number(&self, var: &Var, value: &Exact) -> Option<World> {
        let mut all = self.clone();
        match self.number(var) {
            Some(known) if known != value => return None,
            Some(_) => {}
            None => all.numbers.push((var.clone(), value.clone())),
        }
        Some(all)
    }

    /// With one more declaration.
    pub fn and_claim(&self, of: Frame, slot: TraitId, claim: Claim) -> Option<World> {
        let mut all = self.clone();
        match self.claim(of, slot) {
            Some(known) if *known != claim => return None,
            Some(_) => {}
            None => all.claims.push((of, slot, claim)),
        }
        Some(all)
    }

    /// A number that was chosen.
    pub fn number(&self, var: &Var) -> Option<&Exact> {
        let found = self.numbers.iter().find(|(known, _)| known == var);
        found.map(|(_, value)| value)
    }

    /// What was declared.
    pub fn claim(&self, of: Frame, slot: TraitId) -> Option<&Claim> {
        let found = self
            .claims
            .iter()
            .find(|(own, id, _)| *own == of && *id == slot);
        found.map(|(_, _, claim)| claim)
    }

    /// The same with days that nothing shows; `None` where no day is declared.
    pub fn unproven(&self) -> Option<World> {
        let mut all = self.clone();
        let mut any = false;
        for (_, _, claim) in &mut all.claims {
            if let Claim::Day(_, proof) = claim {
                *proof = Proof::Nothing;
                any = true;
            }
        }
        any.then_some(all)
    }
}

fn agreed<T: PartialEq>(one: Option<T>, other: Option<T>) -> Option<Option<T>> {
    match (one, other) {
        (Some(one), Some(other)) if one != other => None,
        (Some(one), _) => Some(Some(one)),
        (None, other) => Some(other),
    }
}
