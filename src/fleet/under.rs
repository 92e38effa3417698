//! Whether a record that was read for the newer of two versions tells all that the older one would read in it.

use crate::prove::{Common, CommonKind, CommonPart, Side};
use crate::record::{PartUnder, TraitUnder, Under, read_alike};
use crate::vocabulary::{ChoiceId, MeasureId, Part, PartId};

/// Measures of either version that are passed over.
pub(super) struct Passed<'p> {
    pub old: &'p [(PartId, MeasureId)],
    pub new: &'p [(PartId, MeasureId)],
}

/// How the older version sees what was read for the newer one; nothing where it would read anything that the newer one
/// doesn't: a part, a name, a choice that is gone, or a measure that is taken otherwise.
pub(super) fn under<'r>(common: &Common<'r>, passed: &Passed<'_>) -> Option<Under<'r>> {
    let (was, is) = (&common.old.vocabulary, &common.new.vocabulary);
    let known = |old: &str| is.renamed.iter().any(|one| one.old.text == old);
    was.renamed
        .iter()
        .all(|one| known(&one.old.text))
        .then_some(())?;
    let mut holdings = vec![None; is.holdings.len()];
    for holding in &common.holdings {
        let Some(old) = holding.at.old else { continue };
        *holdings.get_mut(holding.at.new?.index())? = Some(old);
    }
    let mut parts = vec![None; is.parts.len()];
    for part in &common.parts {
        let Some(old) = part.at.old else { continue };
        let new = part.at.new?;
        let of = (was.part(old)?, is.part(new)?);
        *parts.get_mut(new.index())? = Some(part_under(part, (old, new), of, passed)?);
    }
    Some(Under {
        vocabulary: was,
        holdings,
        parts,
    })
}

fn part_under(
    part: &CommonPart,
    (old, new): (PartId, PartId),
    (was, is): (&Part, &Part),
    passed: &Passed<'_>,
) -> Option<PartUnder> {
    let mut traits = vec![None; was.traits.len()];
    for one in &part.traits {
        let Some(own) = one.at.old else { continue };
        let at = one.at.new?;
        let names = is.traits.get(at.index())?.kind.names();
        let mut choices: Vec<Option<ChoiceId>> = vec![None; names.len()];
        if let CommonKind::Choice(list) | CommonKind::AnyOf(list) = &one.kind {
            for choice in list {
                let Some(own) = choice.at.old else { continue };
                *choices.get_mut(choice.at.new?.index())? = Some(own);
            }
        }
        *traits.get_mut(own.index())? = Some(TraitUnder { at, choices });
    }
    let mut measures = vec![None; was.measures.len()];
    for one in &part.measures {
        let Some(own) = one.at.old else { continue };
        if passed.old.contains(&(old, own)) {
            continue;
        }
        let at = one.at.new?;
        let alike = read_alike(was.measures.get(own.index())?, is.measures.get(at.index())?);
        (alike && !passed.new.contains(&(new, at))).then_some(())?;
        *measures.get_mut(own.index())? = Some(at);
    }
    let mut roles = vec![None; was.roles.len()];
    for one in &part.roles {
        let Some(own) = one.at.at(Side::Old) else {
            continue;
        };
        *roles.get_mut(own.index())? = Some(one.at.new?);
    }
    let work = |of: &Part| -> Vec<String> {
        of.alterations
            .iter()
            .map(|one| one.name.text.clone())
            .collect()
    };
    // A version that lists kinds of work takes no others.
    let unlisted = was.alterations.is_empty();
    (unlisted || work(was) == work(is)).then_some(())?;
    let alterations = is.alterations.iter();
    let alterations = alterations.map(|one| was.alteration_named(&one.name.text));
    Some(PartUnder {
        part: old,
        traits,
        measures,
        roles,
        alterations: alterations.collect(),
    })
}

#[cfg(test)]
mod tests;
