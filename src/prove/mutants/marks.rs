//! Mutants of the limits on marks. Exchange, last mark and replacement are acts in time: no record shows them, so that
//! no case could tell a mutant of theirs apart.

use super::edit::Maker;
use super::expressions;
use super::kind::Kind;
use crate::text::Node;

/// Adds the mutants of all limits on marks.
pub(super) fn mutate(maker: &mut Maker<'_>, file: &Node<'_>) {
    let items = file.get("marks").and_then(Node::as_sequence).unwrap_or(&[]);
    for (node, mark) in items.iter().zip(&maker.rules.marks) {
        maker.rule = Some(mark.id.text.clone());
        if let Some(entry) = node.entry("at_most") {
            maker.number_of(Kind::Marks, entry);
        }
        if let Some(limits) = node.get("limits") {
            let rows = limits.as_mapping().unwrap_or(&[]);
            for row in rows {
                if let Some(entry) = row.node.entry("at_most") {
                    maker.number_of(Kind::Marks, entry);
                }
                if rows.len() > 1 {
                    maker.drop_entry(Kind::Row, limits, &row.key);
                }
            }
        }
        let caps = node.get("of_which").and_then(Node::as_sequence);
        for (at, (cap, typed)) in caps.unwrap_or(&[]).iter().zip(&mark.of_which).enumerate() {
            if let Some(condition) = cap.get("where") {
                expressions::mutate(maker, &typed.condition, condition, Kind::Constant);
            }
            if let Some(entry) = cap.entry("at_most") {
                maker.number_of(Kind::Marks, entry);
            }
            maker.drop_item(Kind::MarkTerm, node, "of_which", at);
        }
        if let (Some(pairs), Some(typed)) = (node.get("pairs"), &mark.pairs) {
            if let Some(condition) = pairs.get("where") {
                expressions::mutate(maker, &typed.condition, condition, Kind::Constant);
            }
            let alike = pairs.get("alike").and_then(Node::as_sequence);
            for at in 0..alike.map_or(0, <[Node<'_>]>::len) {
                maker.drop_item(Kind::Alike, pairs, "alike", at);
            }
            maker.drop_entry(Kind::MarkTerm, node, "pairs");
        }
        if let Some(bring) = node.get("bring") {
            let entries = bring.as_mapping().unwrap_or(&[]);
            for entry in entries {
                maker.number_of(Kind::Marks, entry);
                if entries.len() > 1 {
                    maker.drop_entry(Kind::MarkTerm, bring, &entry.key);
                }
            }
            maker.drop_entry(Kind::MarkTerm, node, "bring");
        }
    }
    maker.rule = None;
}
