//! Hostile and very large input: refused with clear words, or read, within the counted limits.

use super::codes;
use crate::text::limits::{ALIAS_WEIGHT, DEPTH, DOCUMENT_BYTES, LINE_BYTES, NODES, PROBLEMS};
use crate::text::{Entry, Node, Source, parse_json_line, parse_yaml, parse_yaml_documents};

fn yaml(text: impl Into<String>) -> Vec<&'static str> {
    let source = Source::new("hostile.yaml", text);
    parse_yaml(&source).map_or_else(|problems| codes(&problems), |_| Vec::new())
}

fn json(text: impl Into<String>) -> Vec<&'static str> {
    let source = Source::new("hostile.jsonl", text);
    parse_json_line(&source, 0..source.text().len())
        .map_or_else(|problems| codes(&problems), |_| Vec::new())
}

/// A list item for each number.
fn items(count: usize, item: impl Fn(usize) -> String) -> String {
    let all: Vec<String> = (0..count).map(item).collect();
    all.join(",")
}

#[test]
fn depth_is_counted_over_all_kinds_of_nesting() {
    let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
    assert!(yaml(nested(DEPTH)).is_empty());
    assert_eq!(yaml(nested(DEPTH + 1)), ["text.depth"]);
    assert!(json(nested(DEPTH)).is_empty());
    assert_eq!(json(nested(DEPTH + 1)), ["text.depth"]);
    // Half in block style, half in flow style.
    let block = |depth: usize| {
        let keys: String = (0..depth)
            .map(|level| format!("{}a:\n", " ".repeat(level)))
            .collect();
        format!("{keys}{}{}", " ".repeat(depth), nested(DEPTH / 2))
    };
    assert!(yaml(block(DEPTH / 2)).is_empty());
    assert_eq!(yaml(block(DEPTH / 2 + 1)), ["text.depth"]);
    for hostile in ["[", "{a: ", "- ", "[{a: "] {
        assert_eq!(yaml(hostile.repeat(10_000)), ["text.depth"]);
    }
    assert_eq!(json("[".repeat(10_000)), ["text.depth"]);
    assert_eq!(json("{\"a\":".repeat(10_000)), ["text.depth"]);
    // Keys that are mappings open one within the other; each is told, then the depth.
    assert_eq!(yaml("? ".repeat(10_000)).last(), Some(&"text.key"));
}

#[test]
fn depth_counts_what_aliases_bring() {
    let mut chain = "a0: &a0 [x]\n".to_string();
    for level in 1..DEPTH - 1 {
        chain += &format!("a{level}: &a{level} [*a{}]\n", level - 1);
    }
    assert!(yaml(chain.clone()).is_empty());
    chain += &format!("z: [[*a{}]]\n", DEPTH - 2);
    assert_eq!(yaml(chain), ["text.depth"]);
}

#[test]
fn size_is_refused_before_parsing() {
    assert_eq!(yaml("[".repeat(DOCUMENT_BYTES + 1)), ["text.size"]);
    assert_eq!(yaml("a".repeat(10_000_000)), ["text.size"]);
    assert!(yaml("a".repeat(DOCUMENT_BYTES)).is_empty());
    assert_eq!(json("1".repeat(LINE_BYTES + 1)), ["text.size"]);
    assert!(json("1".repeat(LINE_BYTES)).is_empty());
}

#[test]
fn nodes_are_counted() {
    // The list itself is one.
    assert!(yaml(format!("[{}]", items(NODES - 1, |_| "a".into()))).is_empty());
    assert_eq!(
        yaml(format!("[{}]", items(NODES, |_| "a".into()))),
        ["text.nodes"]
    );
    assert!(json(format!("[{}]", items(NODES - 1, |_| "1".into()))).is_empty());
    assert_eq!(
        json(format!("[{}]", items(NODES, |_| "1".into()))),
        ["text.nodes"]
    );
    let source = Source::new("many.yaml", "---\n".repeat(NODES + 1));
    let problems = parse_yaml_documents(&source).unwrap_err();
    assert_eq!(codes(&problems), ["text.nodes"]);
}

#[test]
fn the_largest_tree_stays_small() {
    // With the source, and strings with escapes at 32 bytes each, this bounds the memory of the
    // largest document: measured below 50 MB.
    assert!(size_of::<Node<'_>>() <= 56);
    assert!(size_of::<Entry<'_>>() <= 88);
    assert!(NODES * size_of::<Node<'_>>() <= 20_000_000);
    assert!(NODES / 2 * size_of::<Entry<'_>>() <= 20_000_000);
    // A large list inside another is moved piece by piece and keeps its order.
    let numbers = items(9_000, |number| number.to_string());
    let source = Source::new("large.yaml", format!("[a, [{numbers}]]"));
    let json = parse_yaml(&source).unwrap().to_json();
    assert_eq!(json[1].as_array().unwrap().len(), 9_000);
    assert_eq!(json[1][0], 0);
    assert_eq!(json[1][8_999], 8_999);
}

#[test]
fn repetition_is_weighed() {
    let mut laughs = "a0: &a0 [x,x,x,x,x,x,x,x,x]\n".to_string();
    for level in 1..20 {
        let again = items(9, |_| format!("*a{}", level - 1));
        laughs += &format!("a{level}: &a{level} [{again}]\n");
    }
    assert_eq!(yaml(laughs), ["text.alias"]);
    // A long text counts by its length: a million letters weigh 25,000.
    let long = format!("a: &a {}\nb: ", "x".repeat(1_000_000));
    assert!(
        yaml(format!("{long}[*a, *a, *a]")).len() == 1,
        "one definition and three uses"
    );
    assert!(yaml(format!("{long}[*a, *a]")).is_empty());
    // Anchors weigh as well, inside one another too.
    assert_eq!(
        yaml(format!("[{}]", items(ALIAS_WEIGHT + 1, |_| "&a x".into()))),
        ["text.alias"]
    );
    let anchors: String = (0..60).map(|level| format!("&a{level} [")).collect();
    let nested = format!(
        "{anchors}{}{}",
        items(2_000, |_| "x".into()),
        "]".repeat(60)
    );
    assert_eq!(yaml(nested), ["text.alias"]);
}

#[test]
fn a_value_inside_itself_is_refused() {
    assert_eq!(yaml("a: &a { b: *a }"), ["text.alias"]);
    assert_eq!(yaml("&a [*a, *a]"), ["text.alias", "text.alias"]);
    // The name is free again for what follows.
    assert!(yaml("a: &x 1\nb: &x 2\nc: *x").is_empty());
}

#[test]
fn problems_are_many_but_not_endless() {
    let tags = yaml(format!("[{}]", items(1_000, |_| "!a b".into())));
    assert_eq!(tags.len(), PROBLEMS + 1);
    assert_eq!(tags.last(), Some(&"text.too_many"));
    let twice = json(format!(
        "{{{}}}",
        items(1_000, |number| format!("\"{}\":1", number % 7))
    ));
    assert_eq!(twice.len(), PROBLEMS + 1);
    assert_eq!(twice.last(), Some(&"text.too_many"));
    let twice = yaml(items(1_000, |number| format!("k{}: 1", number % 7)).replace(',', "\n"));
    assert_eq!(twice.last(), Some(&"text.too_many"));
}
