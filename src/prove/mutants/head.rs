//! Mutants of the head of a rules file and of its equipment: who carries the doubt, silence, derived values, zones,
//! how many parts there must be.

use super::edit::{Maker, plain};
use super::expressions;
use super::kind::Kind;
use super::step::steps;
use crate::quantity::{Dimension, Quantity};
use crate::rules::Stage;
use crate::text::{Node, Span};

/// The decision rules by their words in a file.
const DECISION_RULES: [&str; 3] = [
    "simple_acceptance",
    "guarded_acceptance",
    "guarded_rejection",
];

/// Adds the mutants of all but rules and marks.
pub(super) fn mutate(maker: &mut Maker<'_>, file: &Node<'_>) {
    if let Some(node) = file.get("silence") {
        let other = match node.as_text() {
            Some("forbids") => "permits",
            Some(_) | None => "forbids",
        };
        if let Some(span) = plain(node) {
            maker.add(Kind::Silence, span, other);
        }
    }
    if let Some(node) = file.get("decision") {
        decision(maker, node);
    }
    let parts = maker.rules.vocabulary.parts.iter().enumerate();
    let Some(equipment) = file.get("equipment") else {
        return;
    };
    for (at, part) in parts {
        let Some(node) = equipment.get(&part.name.text) else {
            continue;
        };
        let derived = maker.rules.derived.get(at).into_iter().flatten();
        for (name, expression) in part.derived.iter().zip(derived) {
            let text = node
                .get("derived")
                .and_then(|node| node.get(&name.name.text));
            if let Some(text) = text {
                expressions::mutate(maker, expression, text, Kind::Constant);
            }
        }
        for entry in node.get("zones").and_then(Node::as_mapping).unwrap_or(&[]) {
            zone(maker, &entry.node);
        }
        for list in ["parts", "groups"] {
            for holding in node.get(list).and_then(Node::as_mapping).unwrap_or(&[]) {
                if let Some(entry) = holding.node.entry("at_least") {
                    maker.number_of(Kind::Parts, entry);
                }
            }
        }
    }
}

fn decision(maker: &mut Maker<'_>, node: &Node<'_>) {
    for key in ["coverage_probability", "guard_factor"] {
        if let Some(span) = node.get(key).and_then(plain) {
            for stepped in steps(maker.slice(span)) {
                maker.add(Kind::Decision, span, stepped);
            }
        }
    }
    for stage in Stage::ALL {
        let Some(span) = node.get(stage.word()).and_then(plain) else {
            continue;
        };
        for word in DECISION_RULES {
            maker.add(Kind::Decision, span, word);
        }
    }
}

fn zone(maker: &mut Maker<'_>, node: &Node<'_>) {
    for key in ["within", "to_height"] {
        if let Some(entry) = node.entry(key) {
            maker.number_of(Kind::Border, entry);
        }
    }
    let Some(span) = node.get("between").and_then(plain) else {
        return;
    };
    let text = maker.slice(span);
    if let Some(at) = text.find(" to ") {
        for span in [0..at, at + " to ".len()..text.len()].map(|range| span.sub(range)) {
            border(maker, span);
        }
    }
}

/// One end of a range; in `6 to 12 in` the first has no unit of its own.
fn border(maker: &mut Maker<'_>, span: Span) {
    let length = Quantity::parse_as(maker.slice(span), Dimension::LENGTH).is_ok();
    if length {
        maker.number(Kind::Border, span);
    } else {
        for stepped in steps(maker.slice(span)) {
            maker.add(Kind::Border, span, stepped);
        }
    }
}
