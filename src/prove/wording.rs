//! What words say and no program can decide: which of them changed, and what a person claims that this does.

use semver::Version;

use super::comparison::{Bump, Wording};
use crate::rules::{ChangedWords, Effect, RulesFile, changed_words};

/// The words that changed from one version to another, each with what it is claimed to do and by whom.
///
/// What a version declares of its words is said against the version that it replaces, and counts against no other. An
/// interpretation says itself what it does; there the authority of the new version stands for it.
pub fn wording(old: &RulesFile, new: &RulesFile) -> Vec<Wording> {
    let words = changed_words(old, new);
    words
        .into_iter()
        .map(|one| Wording {
            claim: claim(&one, old, new),
            of: one.about,
            what: one.of.word().to_owned(),
            was: one.was,
            is: one.is,
        })
        .collect()
}

fn claim(one: &ChangedWords, old: &RulesFile, new: &RulesFile) -> Option<(Effect, String)> {
    let declared = declares_against(new, &old.version)
        .then(|| new.declared_of(&one.about))
        .flatten();
    match declared {
        Some(declared) => Some((declared.effect, declared.by.clone())),
        None => one.own.map(|effect| (effect, new.authority.clone())),
    }
}

/// Whether what a version declares of its words is said against another one.
pub fn declares_against(new: &RulesFile, old: &Version) -> bool {
    new.replaces.as_ref() == Some(old)
}

/// The least step that what is claimed of words demands; what nobody claims is not counted.
pub fn claimed_step(words: &[Wording]) -> Bump {
    let steps = words.iter().filter_map(|one| one.claim.as_ref());
    steps
        .map(|(effect, _)| step_of(*effect))
        .max()
        .unwrap_or(Bump::Patch)
}

fn step_of(effect: Effect) -> Bump {
    match effect {
        Effect::None => Bump::Patch,
        Effect::Relaxed => Bump::Minor,
        Effect::Tightened | Effect::Both => Bump::Major,
    }
}
