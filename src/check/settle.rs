//! What would settle an open finding.

use super::finding::{Reason, Settle};
use super::judge::Judge;
use super::value::{Evidence, Missing, Why};
use crate::vocabulary::TraitId;

impl Judge<'_> {
    /// What would settle something unknown.
    pub(super) fn settle_of(&self, why: &Why) -> Option<Settle> {
        let vocabulary = &self.rules.vocabulary;
        let trait_name = |part, id: TraitId| {
            vocabulary
                .part(part)
                .and_then(|part| part.traits.get(id.index()))
                .map(|one| one.name.text.clone())
        };
        match why.missing {
            Missing::Measure(part, slot) => {
                let part = vocabulary.part(part)?;
                part.measures
                    .get(slot.index())
                    .map(|one| Settle::Measure(one.name.text.clone()))
            }
            Missing::Trait(part, id) => trait_name(part, id).map(|name| match why.reason {
                Reason::DateNotProven => Settle::ShowProof(name),
                // It is declared, and too loosely for a condition.
                Reason::ConditionUnknown => Settle::Declare(format!("{name} to the day")),
                _ => Settle::Declare(name),
            }),
            Missing::Holding(id) => vocabulary
                .holding(id)
                .map(|one| Settle::Measure(one.key.text.clone())),
            Missing::Role(group, role) => vocabulary
                .part(group)
                .and_then(|group| group.role(role))
                .map(|role| Settle::Fill(role.name.text.clone())),
            Missing::Level => Some(Settle::GiveLevel),
            Missing::Temperature => Some(Settle::Declare(
                "the temperature of the session, measured.temperature".to_owned(),
            )),
            Missing::Evidence(evidence) => settle_evidence(evidence, why.reason),
            Missing::Nothing => settle_reason(why.reason),
        }
    }
}

/// What would settle a reason that comes from what a value lacks.
pub(super) fn settle_evidence(evidence: Evidence, reason: Reason) -> Option<Settle> {
    let lacks = |one| evidence.lacks(one);
    match reason {
        Reason::Stale if lacks(Evidence::STALE) => settle_reason(reason),
        Reason::Stale if lacks(Evidence::ALTERED) => Some(Settle::MeasureAgain(Settle::AFTER_WORK)),
        Reason::MethodDiffers if !lacks(Evidence::ONE_FLANK) => Some(Settle::AsAsked),
        _ => settle_reason(reason),
    }
}

/// What would settle a reason that names nothing.
pub(super) fn settle_reason(reason: Reason) -> Option<Settle> {
    match reason {
        Reason::Stale => Some(Settle::MeasureAgain("and say on which day")),
        Reason::InstrumentOutOfDate => Some(Settle::MeasureAgain("with an instrument in date")),
        Reason::InstrumentCheckFailed => Some(Settle::MeasureAgain(
            "with an instrument that shows its reference before and after",
        )),
        Reason::InstrumentUnnamed => Some(Settle::NameInstrument),
        Reason::Implausible => Some(Settle::Confirm),
        Reason::NeedsJudgement => Some(Settle::Look),
        Reason::UncertaintyUnknown => Some(Settle::StateUncertainty),
        Reason::PlaceNotStated => Some(Settle::StatePlace),
        Reason::NotReached => Some(Settle::ReachFurther),
        Reason::ContextMissing => Some(Settle::GiveLevel),
        Reason::MethodDiffers => Some(Settle::BothFlanks),
        Reason::ProofMissing => Some(Settle::NamePaper),
        Reason::UnlistedPart => Some(Settle::Authority),
        Reason::NearLimit
        | Reason::NotMeasured
        | Reason::TooFewPlaces
        | Reason::TooFewRepeats
        | Reason::DateNotProven
        | Reason::TraitMissing
        | Reason::ConditionUnknown
        | Reason::MeasurersDisagree
        | Reason::NothingChecked
        | Reason::Condition
        | Reason::Exempt
        | Reason::NoRow
        | Reason::NoEvent
        | Reason::LeftOut
        | Reason::NoRowForChoice => None,
    }
}
