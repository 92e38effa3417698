//! Words of a rules file that could name something, wherever they stand.
//!
//! Who looks at words and not at types may take one for a name that is none, and never overlooks one.

use std::collections::BTreeSet;

use crate::rules::RulesFile;
use crate::text::{Node, Value, parse_yaml};
use crate::vocabulary::{MeasureId, PartId, TraitId, Vocabulary};

/// Keys of a rule by which no outcome changes.
pub(super) const BESIDE_OUTCOMES: &[&str] = &["clause", "title", "text", "remedy"];

/// The tree of a version; nothing where its text can't be read again, or where an event changes it: that stands in another text.
pub(super) fn tree_of(rules: &RulesFile) -> Option<Node<'_>> {
    let root = parse_yaml(&rules.source).ok();
    root.filter(|_| rules.overlay.is_none())
}

/// The words of a text.
pub(super) fn add(text: &str, words: &mut BTreeSet<String>) {
    let other = |letter: char| !(letter.is_ascii_alphanumeric() || letter == '_');
    let own = text.split(other).filter(|word| !word.is_empty());
    words.extend(own.map(str::to_owned));
}

/// The words of a tree, keys among them.
pub(super) fn add_all(node: &Node<'_>, words: &mut BTreeSet<String>) {
    add_all_but(node, &[], words);
}

/// The same without what stands under some keys.
fn add_all_but(node: &Node<'_>, but: &[&str], words: &mut BTreeSet<String>) {
    match &node.value {
        Value::Null => {}
        Value::Scalar(_) => {
            if let Some(text) = node.as_text() {
                add(text, words);
            }
        }
        Value::Sequence(list) => {
            for one in list {
                add_all_but(one, but, words);
            }
        }
        Value::Mapping(entries) => {
            for entry in entries {
                if !but.contains(&entry.key.as_ref()) {
                    add(&entry.key, words);
                    add_all_but(&entry.node, but, words);
                }
            }
        }
    }
}

/// What nothing in a version can name that is asked.
#[derive(Clone, Debug, Default)]
pub(super) struct Unused {
    /// Measures.
    pub measures: Vec<(PartId, MeasureId)>,
    /// Traits.
    pub traits: Vec<(PartId, TraitId)>,
}

/// Measures and traits that nothing in a version can name that is asked: neither one of these rules nor, where they are
/// asked as well, a limit on marks, nor a derived value, a zone or a kind of work that they name.
pub(super) fn unused(rules: &RulesFile, asked: impl Fn(&str) -> bool, marks: bool) -> Unused {
    let Some(root) = tree_of(rules) else {
        return Unused::default();
    };
    let words = named_by(&root, &asked, marks);
    let own = rules.rules.iter().filter(|rule| asked(&rule.id.text));
    let own: BTreeSet<PartId> = own.map(|rule| rule.applies_to).collect();
    let mut found = Unused::default();
    for (part, of) in (0..).map(PartId).zip(&rules.vocabulary.parts) {
        // Of a part that no rule is about and that no word names nothing can be named, whatever other parts call theirs.
        let reached = marks || own.contains(&part) || names_part(rules, part, &own, &words);
        let unnamed = |name: &str| !reached || !words.contains(name);
        for (slot, measure) in (0..).map(MeasureId).zip(&of.measures) {
            if unnamed(&measure.name.text) {
                found.measures.push((part, slot));
            }
        }
        for (slot, declared) in (0..).map(TraitId).zip(&of.traits) {
            if unnamed(&declared.name.text) {
                found.traits.push((part, slot));
            }
        }
    }
    found
}

/// Whether words name a part, by its kind or by what holds it, or a group that has it in a role.
fn names_part(
    rules: &RulesFile,
    part: PartId,
    own: &BTreeSet<PartId>,
    words: &BTreeSet<String>,
) -> bool {
    let vocabulary = &rules.vocabulary;
    let called = |id: PartId| {
        let kind = vocabulary.part(id);
        let mut holdings = vocabulary.holdings.iter();
        id == Vocabulary::BOAT
            || kind.is_some_and(|kind| words.contains(&kind.name.text))
            || holdings.any(|one| one.part == id && words.contains(&one.key.text))
    };
    let mut groups = (0..).map(PartId).zip(&vocabulary.parts);
    called(part)
        || groups.any(|(id, group)| {
            let has = group.roles.iter().any(|role| role.part == part);
            has && (own.contains(&id) || called(id))
        })
}

/// Every word that could name something for what is asked.
fn named_by(root: &Node<'_>, asked: &impl Fn(&str) -> bool, marks: bool) -> BTreeSet<String> {
    let mut words = BTreeSet::new();
    for entry in root.as_mapping().unwrap_or_default() {
        match entry.key.as_ref() {
            "rules" => {
                for rule in entry.node.as_sequence().unwrap_or_default() {
                    if rule.get("id").and_then(Node::as_text).is_none_or(asked) {
                        add_all_but(rule, BESIDE_OUTCOMES, &mut words);
                    }
                }
            }
            "marks" if marks => add_all_but(&entry.node, BESIDE_OUTCOMES, &mut words),
            _ => {}
        }
    }
    let equipment = root.get("equipment").and_then(Node::as_mapping);
    // What is named may name more.
    loop {
        let before = words.len();
        for part in equipment.unwrap_or_default() {
            for section in part.node.as_mapping().unwrap_or_default() {
                let named = matches!(section.key.as_ref(), "derived" | "zones");
                for one in section.node.as_mapping().unwrap_or_default() {
                    if named && words.contains(one.key.as_ref()) {
                        add_all(&one.node, &mut words);
                    }
                }
            }
        }
        if words.len() == before {
            return words;
        }
    }
}
