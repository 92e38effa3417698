//! A checked tree written as a nested list, for comparing trees without their places.

use crate::vocabulary::{PartId, TraitKind, Vocabulary};

use super::super::{Node, Op, Scope};

/// The tree with its slots as names: `(>= own.steel_thickness 4.7 mm)`.
pub(super) fn shape(node: &Node, own: PartId, vocabulary: &Vocabulary) -> String {
    let list = |word: &str, nodes: &[&Node], own: PartId| {
        let mut text = format!("({word}");
        for node in nodes {
            text.push(' ');
            text.push_str(&shape(node, own, vocabulary));
        }
        text + ")"
    };
    let owner = |scope: Scope| match scope {
        Scope::Own => "own".to_owned(),
        Scope::Boat => "the_boat".to_owned(),
        Scope::One(id) => format!("one_{}", vocabulary.holding(id).unwrap().key.text),
        Scope::Role(id) => format!("role_{}", id.0),
    };
    let part = |scope: Scope| {
        vocabulary
            .part(scope.part(own, vocabulary).unwrap())
            .unwrap()
    };
    let not = |negated: bool| if negated { "is_not" } else { "is" };
    match &node.op {
        Op::Quantity { value, unit } => format!("[{value:?} as {:?}]", unit.symbol()),
        Op::Date(date) => format!("[date {date}]"),
        Op::YesNo(yes) => format!("[{yes}]"),
        Op::Measure(scope, id) => format!(
            "{}.{}",
            owner(*scope),
            part(*scope).measures[id.index()].name.text
        ),
        Op::Trait(scope, id) => format!(
            "{}.{}",
            owner(*scope),
            part(*scope).traits[id.index()].name.text
        ),
        Op::Derived(scope, id) => format!(
            "{}.{}",
            owner(*scope),
            part(*scope).derived[id.index()].name.text
        ),
        Op::EventLevel => "event_level".to_owned(),
        Op::EventDay => "event_day".to_owned(),
        Op::Day => "day".to_owned(),
        Op::Negate(inner) => list("negate", &[inner], own),
        Op::Arithmetic(operation, left, right) => list(operation.word(), &[left, right], own),
        Op::Compare(comparison, left, right) => list(comparison.word(), &[left, right], own),
        Op::IsChoice {
            subject,
            choices,
            negated,
        } => {
            let Op::Trait(scope, id) = &subject.op else {
                panic!("a subject that is no trait")
            };
            let TraitKind::Choice(names) = &part(*scope).traits[id.index()].kind else {
                panic!()
            };
            let words: Vec<&str> = choices
                .iter()
                .map(|choice| choice.map_or("OTHER", |choice| names[choice.index()].text.as_str()))
                .collect();
            format!(
                "({} {} {{{}}})",
                not(*negated),
                shape(subject, own, vocabulary),
                words.join(" ")
            )
        }
        Op::IsLevel { levels, negated } => {
            let words: Vec<&str> = levels
                .iter()
                .map(|id| vocabulary.event_levels[id.index()].text.as_str())
                .collect();
            format!("({} level {{{}}})", not(*negated), words.join(" "))
        }
        Op::IsSame {
            left,
            right,
            negated,
        } => list(
            if *negated { "differ" } else { "same" },
            &[left, right],
            own,
        ),
        Op::Truth(inner) => list("truth", &[inner], own),
        Op::Not(inner) => list("not", &[inner], own),
        Op::And(nodes) => list("and", &nodes.iter().collect::<Vec<_>>(), own),
        Op::Or(nodes) => list("or", &nodes.iter().collect::<Vec<_>>(), own),
        Op::Call(function, nodes) => {
            let words = std::iter::once(function.word()).chain(function.told());
            let head = words.collect::<Vec<_>>().join(" ");
            list(&head, &nodes.iter().collect::<Vec<_>>(), own)
        }
        Op::Count { over, condition } => {
            let holding = vocabulary.holding(*over).unwrap();
            let nodes: Vec<&Node> = condition.iter().map(Box::as_ref).collect();
            list(&format!("count {}", holding.key.text), &nodes, holding.part)
        }
        Op::Sum {
            over,
            value,
            condition,
        } => {
            let holding = vocabulary.holding(*over).unwrap();
            let nodes: Vec<&Node> = std::iter::once(value)
                .chain(condition)
                .map(Box::as_ref)
                .collect();
            list(&format!("sum {}", holding.key.text), &nodes, holding.part)
        }
    }
}
