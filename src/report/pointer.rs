//! From a place in a record back to its JSON Pointer (RFC 6901).

use crate::record::Record;
use crate::text::{Node, Span, Value, parse_json_line, parse_yaml};

/// The tree of a record, read again: the typed record keeps places, not paths. `lines` when the record is
/// a line of JSON Lines.
pub(super) fn tree(record: &Record, lines: bool) -> Option<Node<'_>> {
    if lines || record.source.name().ends_with(".json") {
        parse_json_line(&record.source, record.span.range()).ok()
    } else {
        parse_yaml(&record.source).ok()
    }
}

/// The pointer to the smallest value whose bytes, or whose key's bytes, hold a place.
pub(super) fn of(tree: &Node<'_>, span: Span) -> String {
    let mut pointer = String::new();
    let mut node = tree;
    loop {
        match &node.value {
            Value::Null | Value::Scalar(_) => return pointer,
            Value::Sequence(items) => {
                let Some((at, item)) = items.iter().enumerate().find(|(_, item)| holds(item, span))
                else {
                    return pointer;
                };
                pointer.push_str(&format!("/{at}"));
                node = item;
            }
            Value::Mapping(entries) => {
                let found = entries
                    .iter()
                    .find(|entry| contains(entry.key_span, span) || holds(&entry.node, span));
                let Some(entry) = found else {
                    return pointer;
                };
                pointer.push('/');
                pointer.push_str(&entry.key.replace('~', "~0").replace('/', "~1"));
                if contains(entry.key_span, span) {
                    return pointer;
                }
                node = &entry.node;
            }
        }
    }
}

fn holds(node: &Node<'_>, span: Span) -> bool {
    contains(node.span, span) || node.used_at.is_some_and(|alias| contains(alias, span))
}

fn contains(outer: Span, inner: Span) -> bool {
    outer.start <= inner.start && inner.end <= outer.end && !outer.is_empty()
}
