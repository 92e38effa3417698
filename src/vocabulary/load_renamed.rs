//! The `renamed` part of a rules file: old paths with their new names.

use super::load::{OWN_KEYS, OWN_KEYS_OF_THE_BOAT, kept_by_records};
use super::model::*;
use super::read;
use super::renamed::{Renamed, RenamedTo};
use crate::diagnostic::Faults;
use crate::text::{Entry, Span, quoted};

/// What is written, for every message.
const FORM: &str = "write the old path and the new name: `runner.thickness: steel_thickness`";

/// Keys at the top of every record.
const TOP_KEYS: [&str; 7] = [
    "format",
    "class",
    "boat",
    "measured",
    "instruments",
    "unlisted",
    "notes",
];

/// Reads old paths and their new names. A new name must be there and an old one must not, so that no name can
/// lead to itself; where the vocabulary is not `sound` that can't be said, and only forms are looked at.
pub fn load_renamed(
    entry: &Entry<'_>,
    vocabulary: &Vocabulary,
    sound: bool,
    faults: &mut Faults,
) -> Vec<Renamed> {
    let Some(entries) = entry.node.as_mapping() else {
        faults.fault(
            "file.shape",
            entry.key_span,
            "`renamed` is written as old names, each with its new name",
            "not a mapping",
            "renamed: { runner.t_height: stem_height }",
        );
        return Vec::new();
    };
    entries
        .iter()
        .filter_map(|entry| one(entry, vocabulary, sound, faults))
        .collect()
}

fn one(
    entry: &Entry<'_>,
    vocabulary: &Vocabulary,
    sound: bool,
    faults: &mut Faults,
) -> Option<Renamed> {
    let words: Vec<&str> = entry.key.split('.').collect();
    let well_formed = words.len() <= 3 && words.iter().all(|word| read::is_name(word));
    if !well_formed {
        faults.fault(
            "name.form",
            entry.key_span,
            format!("{} can't be an old path", quoted(&entry.key)),
            "",
            "a path is a part or holding, `part.trait`, `part.measure` or `part.trait.choice`",
        );
    }
    let new = read::scalar(
        &entry.node,
        Some(entry.key_span),
        "a new name",
        "a name",
        faults,
    )?;
    let new_span = entry.node.span;
    if !read::is_name(new) {
        let last = new.rsplit('.').next().unwrap_or(new);
        let help = if new.contains('.') && read::is_name(last) {
            format!("the new name stands alone: write {}", quoted(last))
        } else {
            "a name has small letters, digits and _, and begins with a letter".to_owned()
        };
        faults.fault(
            "name.form",
            new_span,
            format!("{} can't be a new name", quoted(new)),
            "",
            help,
        );
        return None;
    }
    if !well_formed || !sound {
        return None;
    }
    let reading = Reading {
        vocabulary,
        old_span: entry.key_span,
        new,
        new_span,
    };
    let to = match words.as_slice() {
        [old] => reading.at_the_top(old, faults)?,
        [part, old] => {
            let part = reading.part(part, faults)?;
            vec![reading.of_part(part, old, faults)?]
        }
        [part, of, old] => {
            let part = reading.part(part, faults)?;
            vec![reading.choice(part, of, old, faults)?]
        }
        _ => return None,
    };
    Some(Renamed {
        old: Name {
            text: entry.key.clone().into(),
            span: entry.key_span,
        },
        new: Name {
            text: new.to_owned(),
            span: new_span,
        },
        to,
    })
}

struct Reading<'r> {
    vocabulary: &'r Vocabulary,
    old_span: Span,
    new: &'r str,
    new_span: Span,
}

impl Reading<'_> {
    /// A kind of part, what the boat holds, or both.
    fn at_the_top(&self, old: &str, faults: &mut Faults) -> Option<Vec<RenamedTo>> {
        let vocabulary = self.vocabulary;
        let kinds = vocabulary.parts.iter().map(|part| &part.name);
        let keys = vocabulary.holdings.iter().map(|holding| &holding.key);
        let known: Vec<&Name> = kinds.chain(keys).collect();
        let kept = Name {
            text: old.to_owned(),
            span: self.old_span,
        };
        let before = faults.len();
        kept_by_records(&kept, &TOP_KEYS, faults);
        if faults.len() > before {
            return None;
        }
        self.gone(old, known.iter().copied(), "a part or holding", faults)?;
        self.there(
            known.iter().map(|name| name.text.as_str()),
            "a part or holding of these rules",
            faults,
        )?;
        let part = vocabulary.part_named(self.new).map(RenamedTo::Part);
        let holding = vocabulary.holding_named(self.new).map(RenamedTo::Holding);
        Some(part.into_iter().chain(holding).collect())
    }

    /// A trait or measure of a part.
    fn of_part(&self, id: PartId, old: &str, faults: &mut Faults) -> Option<RenamedTo> {
        let part = self.vocabulary.part(id)?;
        let kept: &[&str] = if id == Vocabulary::BOAT {
            &OWN_KEYS_OF_THE_BOAT
        } else {
            &OWN_KEYS
        };
        let name = Name {
            text: old.to_owned(),
            span: self.old_span,
        };
        let before = faults.len();
        kept_by_records(&name, kept, faults);
        if faults.len() > before {
            return None;
        }
        let traits = part.traits.iter().map(|one| &one.name);
        let measures = part.measures.iter().map(|one| &one.name);
        let recorded: Vec<&Name> = traits.chain(measures).collect();
        let derived = part.derived.iter().map(|one| &one.name);
        let all = recorded.iter().copied().chain(derived);
        let what = format!("a trait or measure of {}", part.name.text);
        self.gone(old, all, &what, faults)?;
        self.there(
            recorded.iter().map(|name| name.text.as_str()),
            &what,
            faults,
        )?;
        let of_traits = part
            .trait_named(self.new)
            .map(|slot| RenamedTo::Trait(id, slot));
        of_traits.or_else(|| {
            part.measure_named(self.new)
                .map(|slot| RenamedTo::Measure(id, slot))
        })
    }

    /// A choice of a trait.
    fn choice(&self, id: PartId, of: &str, old: &str, faults: &mut Faults) -> Option<RenamedTo> {
        let part = self.vocabulary.part(id)?;
        let with_choices = part
            .traits
            .iter()
            .filter(|one| !choices(one).is_empty())
            .map(|one| (one.name.text.as_str(), ()));
        read::one_of(
            of,
            self.old_span,
            &format!("a trait of {} with choices", part.name.text),
            with_choices,
            faults,
        )?;
        let slot = part.trait_named(of)?;
        let declared = part.traits.get(slot.index())?;
        let what = format!("a choice of {}", declared.name.text);
        if old == "other" {
            faults.fault(
                "renamed.still_there",
                self.old_span,
                "`other` is there in every version",
                "not an old name",
                FORM,
            );
            return None;
        }
        let names = choices(declared);
        self.gone(old, names.iter(), &what, faults)?;
        self.there(names.iter().map(|name| name.text.as_str()), &what, faults)?;
        declared
            .choice_named(self.new)
            .map(|choice| RenamedTo::Choice(id, slot, choice))
    }

    fn part(&self, word: &str, faults: &mut Faults) -> Option<PartId> {
        let parts = self.vocabulary.parts.iter();
        read::one_of(
            word,
            self.old_span,
            "a kind of part of these rules",
            parts.map(|part| (part.name.text.as_str(), ())),
            faults,
        )?;
        self.vocabulary.part_named(word)
    }

    /// An old name is one that these rules no longer have.
    fn gone<'n>(
        &self,
        old: &str,
        mut known: impl Iterator<Item = &'n Name>,
        what: &str,
        faults: &mut Faults,
    ) -> Option<()> {
        let Some(still) = known.find(|name| name.text == old) else {
            return Some(());
        };
        faults.fault(
            "renamed.still_there",
            self.old_span,
            format!("{} is {what} still", quoted(old)),
            "said to be an old name",
            "take the entry out, or the name out of `equipment`",
        );
        faults.also(still.span, "declared here");
        None
    }

    fn there<'n>(
        &self,
        known: impl Iterator<Item = &'n str> + Clone,
        what: &str,
        faults: &mut Faults,
    ) -> Option<()> {
        read::one_of(
            self.new,
            self.new_span,
            what,
            known.map(|word| (word, ())),
            faults,
        )
    }
}

/// The choices of a trait, if it has any.
fn choices(of: &Trait) -> &[Name] {
    of.kind.names()
}
