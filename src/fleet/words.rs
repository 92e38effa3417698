//! Words of a rules file that could name something, wherever they stand.
//!
//! Who looks at words and not at types may take one for a name that is none, and never overlooks one.

use std::collections::BTreeSet;

use crate::rules::RulesFile;
use crate::text::{Node, Value, parse_yaml};
use crate::vocabulary::{MeasureId, PartId};

/// Keys of a rule by which no outcome changes.
pub(super) const BESIDE_OUTCOMES: &[&str] = &["clause", "title", "text", "remedy"];

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

/// Measures that nothing in a version can name that is asked: neither one of these rules nor a limit on marks, nor a derived
/// value, a zone or a kind of work that they name.
pub(super) fn unused(rules: &RulesFile, asked: impl Fn(&str) -> bool) -> Vec<(PartId, MeasureId)> {
    // What an event changes stands in another text.
    let root = parse_yaml(&rules.source).ok();
    let Some(root) = root.filter(|_| rules.overlay.is_none()) else {
        return Vec::new();
    };
    let mut words = BTreeSet::new();
    for entry in root.as_mapping().unwrap_or_default() {
        match entry.key.as_ref() {
            "rules" => {
                for rule in entry.node.as_sequence().unwrap_or_default() {
                    if rule.get("id").and_then(Node::as_text).is_none_or(&asked) {
                        add_all_but(rule, BESIDE_OUTCOMES, &mut words);
                    }
                }
            }
            "marks" => add_all_but(&entry.node, BESIDE_OUTCOMES, &mut words),
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
            break;
        }
    }
    let mut found = Vec::new();
    for (part, of) in rules.vocabulary.parts.iter().enumerate() {
        for (slot, measure) in of.measures.iter().enumerate() {
            let ids = u16::try_from(part).ok().zip(u16::try_from(slot).ok());
            if let Some((part, slot)) = ids
                && !words.contains(&measure.name.text)
            {
                found.push((PartId(part), MeasureId(slot)));
            }
        }
    }
    found
}
