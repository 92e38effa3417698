//! Which rules say the same in two versions, whatever else the versions change.
//!
//! What a rule says rests on what it names: measures, traits, derived values and zones of any part. So it is the same where its
//! own text is, and that of everything that a word in it could name, and of all that every rule rests on. Words are taken
//! for names wherever they stand: a rule may be held for another one that is the same, and is asked twice then; never the
//! other way.

use std::collections::BTreeSet;

use crate::fleet::reader::{same_entries, same_sections, same_tree, tells_vocabulary};
use crate::fleet::words::{BESIDE_OUTCOMES, add, add_all, tree_of};
use crate::rules::RulesFile;
use crate::text::{Entry, Node};

/// Sections of a rules file by which no outcome changes, and those that are looked at by themselves.
const BESIDE: &[&str] = &[
    "format",
    "class",
    "title",
    "version",
    "status",
    "replaces",
    "in_force_from",
    "repealed_on",
    "authority",
    "cautions",
    "interpretations",
    "events_may_change",
    "words",
    "rules",
    "marks",
    "equipment",
    "renamed",
];

/// Keys of a rule that are its limits.
const LIMITS: &[&str] = &["at_least", "more_than", "at_most", "less_than", "limits"];

/// Sections of a part whose entries are named one by one.
const NAMED: &[&str] = &["traits", "measures", "derived", "zones"];

/// What two versions share.
pub(super) struct Shared<'t> {
    was: Option<Node<'t>>,
    is: Option<Node<'t>>,
    /// Whether all that every rule rests on is the same.
    ground: bool,
    /// Whether all of the equipment is, and no name changed.
    vocabulary: bool,
    /// Words that are names of older versions, or names that had others.
    renamed: BTreeSet<String>,
}

impl<'t> Shared<'t> {
    /// Looks at two versions.
    pub(super) fn of(old: &'t RulesFile, new: &'t RulesFile) -> Shared<'t> {
        let (was, is) = (tree_of(old), tree_of(new));
        let same = |asked: fn(&str) -> bool| same_sections(was.as_ref(), is.as_ref(), asked);
        let else_same = same(|key| !BESIDE.contains(&key));
        let vocabulary = same(tells_vocabulary);
        let mut renamed = BTreeSet::new();
        for root in [&was, &is].into_iter().flatten() {
            if let Some(node) = root.get("renamed") {
                add_all(node, &mut renamed);
            }
        }
        Shared {
            ground: else_same && same_parts(was.as_ref(), is.as_ref()),
            vocabulary,
            renamed,
            was,
            is,
        }
    }

    /// Whether all limits on marks say the same, and all parts that must be there.
    pub(super) fn marks(&self) -> bool {
        let (was, is) = (self.was.as_ref(), self.is.as_ref());
        self.ground && self.vocabulary && same_sections(was, is, |key| key == "marks")
    }

    /// Whether the same parts must be there.
    pub(super) fn equipment(&self) -> bool {
        self.ground
    }

    /// Whether a rule by its id says the same in both.
    pub(super) fn rule(&self, id: &str) -> bool {
        self.own(id).is_some_and(|(was, is)| {
            self.ground && same_entries(was, is, counts) && (self.vocabulary || self.names(was))
        })
    }

    /// Whether a rule by its id reaches the same items with the same rows in both, whatever its limits are.
    pub(super) fn reach(&self, id: &str) -> bool {
        let but_limits = |entry: &Entry<'_>| counts(entry) && !LIMITS.contains(&entry.key.as_ref());
        self.own(id).is_some_and(|(was, is)| {
            same_entries(was, is, but_limits) && (self.vocabulary || self.ground && self.names(was))
        })
    }

    fn own(&self, id: &str) -> Option<(&[Entry<'t>], &[Entry<'t>])> {
        entry_of(self.was.as_ref(), id).zip(entry_of(self.is.as_ref(), id))
    }

    /// Whether everything that words of a rule could name is the same.
    fn names(&self, rule: &[Entry<'_>]) -> bool {
        let mut words: BTreeSet<String> = BTreeSet::new();
        for entry in rule.iter().filter(|entry| counts(entry)) {
            add(&entry.key, &mut words);
            add_all(&entry.node, &mut words);
        }
        let mut seen: BTreeSet<String> = BTreeSet::new();
        let mut left: Vec<String> = words.into_iter().collect();
        while let Some(word) = left.pop() {
            if self.renamed.contains(&word) {
                return false;
            }
            if seen.contains(&word) {
                continue;
            }
            let (was, is) = (
                named(self.was.as_ref(), &word),
                named(self.is.as_ref(), &word),
            );
            let same = was.len() == is.len()
                && was
                    .iter()
                    .zip(&is)
                    .all(|(was, is)| was.0 == is.0 && was.1 == is.1 && same_tree(was.2, is.2));
            if !same {
                return false;
            }
            let mut more: BTreeSet<String> = BTreeSet::new();
            for (.., node) in &was {
                add_all(node, &mut more);
            }
            seen.insert(word);
            left.extend(more.into_iter().filter(|word| !seen.contains(word)));
        }
        true
    }
}

/// Where a word is the name of something: part, section, entry.
fn named<'n>(root: Option<&'n Node<'_>>, word: &str) -> Vec<(&'n str, &'n str, &'n Node<'n>)> {
    let mut found = Vec::new();
    let parts = root
        .and_then(|root| root.get("equipment"))
        .and_then(Node::as_mapping);
    for part in parts.unwrap_or_default() {
        for section in part.node.as_mapping().unwrap_or_default() {
            if !NAMED.contains(&section.key.as_ref()) {
                continue;
            }
            if let Some(node) = section.node.get(word) {
                found.push((part.key.as_ref(), section.key.as_ref(), node));
            }
        }
    }
    found.sort_by_key(|(part, section, _)| (*part, *section));
    found
}

/// Whether two versions have the same parts with the same in them, but for what is named one by one.
fn same_parts(was: Option<&Node<'_>>, is: Option<&Node<'_>>) -> bool {
    let parts = |root: Option<&Node<'_>>| -> Option<usize> {
        Some(root?.get("equipment")?.as_mapping()?.len())
    };
    let covered = |one: Option<&Node<'_>>, other: Option<&Node<'_>>| {
        let one = one.and_then(|root| root.get("equipment")?.as_mapping());
        let other = other.and_then(|root| root.get("equipment"));
        one.unwrap_or_default().iter().all(|part| {
            let same = other.and_then(|other| other.get(&part.key));
            let (Some(own), Some(same)) = (part.node.as_mapping(), same) else {
                return false;
            };
            let rest = own
                .iter()
                .filter(|entry| !NAMED.contains(&entry.key.as_ref()));
            rest.into_iter().all(|entry| {
                same.get(&entry.key)
                    .is_some_and(|other| same_tree(&entry.node, other))
            })
        })
    };
    parts(was).is_some() && parts(was) == parts(is) && covered(was, is) && covered(is, was)
}

/// The entry of a rule in the tree of its file.
fn entry_of<'t, 's>(root: Option<&'t Node<'s>>, id: &str) -> Option<&'t [Entry<'s>]> {
    let rules = root?.get("rules")?.as_sequence()?;
    let is = |node: &&Node<'_>| node.get("id").and_then(Node::as_text) == Some(id);
    rules.iter().find(is)?.as_mapping()
}

fn counts(entry: &Entry<'_>) -> bool {
    !BESIDE_OUTCOMES.contains(&entry.key.as_ref())
}
