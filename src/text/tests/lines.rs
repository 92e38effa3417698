//! JSON Lines: agreement with a second reader, spans, and broken input.

use proptest::prelude::*;

use super::tree::values;
use crate::text::{Node, Source, Style, Value, parse_json_line};

#[test]
fn spans_count_from_the_start_of_the_source() {
    let source = Source::new(
        "fleet.jsonl",
        "{\"a\": 1}\r\n{\"b\": [4.70, \"K\\u00e4rki\", true]}\n",
    );
    let second = parse_json_line(&source, 10..source.text().len()).unwrap();
    let found = second.lookup("/b/0").unwrap();
    assert_eq!(source.slice(found.node.span), "4.70");
    assert_eq!(source.line_column(found.node.span.start).to_string(), "2:8");
    assert_eq!(found.node.as_text(), Some("4.70"));
    assert_eq!(found.node.as_scalar().unwrap().style, Style::Plain);
    assert_eq!(source.slice(found.key_span.unwrap()), "\"b\"");
    let name = second.lookup("/b/1").unwrap().node;
    assert_eq!(name.as_text(), Some("Kärki"));
    assert_eq!(source.slice(name.span), "\"K\\u00e4rki\"");
    assert!(!name.verbatim);
    assert_eq!(second.lookup("/b/2").unwrap().node.as_text(), Some("true"));
    assert!(second.one_line);
}

#[test]
fn strings_without_escapes_are_borrowed() {
    let source = Source::new("a.jsonl", "{\"kä\": \"vä\"}");
    let root = parse_json_line(&source, 0..99).unwrap();
    let entry = root.entry("kä").unwrap();
    assert!(matches!(entry.key, std::borrow::Cow::Borrowed(_)));
    assert!(matches!(
        &entry.node.value,
        Value::Scalar(scalar) if matches!(scalar.text, std::borrow::Cow::Borrowed("vä"))
    ));
    assert_eq!(source.slice(entry.node.text_span(1..3)), "ä");
}

#[test]
fn blank_lines_and_ranges_outside_are_nothing() {
    let source = Source::new("a.jsonl", " \t\né");
    assert!(parse_json_line(&source, 0..2).unwrap().is_null());
    assert!(parse_json_line(&source, 99..100).unwrap().is_null());
    assert!(
        parse_json_line(&source, 4..5).unwrap().is_null(),
        "inside a character"
    );
    assert!(
        parse_json_line(&source, std::ops::Range { start: 2, end: 1 })
            .unwrap()
            .is_null()
    );
}

#[test]
fn a_control_character_inside_a_string_is_refused() {
    let source = Source::new("a.jsonl", "[\"a\tb\"]");
    let problems = parse_json_line(&source, 0..7).unwrap_err();
    assert_eq!(problems[0].code, "text.control");
    assert_eq!(problems[0].help.as_deref(), Some("write it as \\u0009"));
}

fn same(node: &Node<'_>, other: &serde_json::Value) -> bool {
    use serde_json::Value as Other;
    match (&node.value, other) {
        (Value::Null, Other::Null) => true,
        (Value::Scalar(scalar), Other::String(text)) => {
            scalar.style == Style::Quoted && scalar.text == text.as_str()
        }
        (Value::Scalar(scalar), Other::Bool(yes)) => {
            scalar.style == Style::Plain && scalar.text.parse() == Ok(*yes)
        }
        (Value::Scalar(scalar), Other::Number(number)) => {
            scalar.style == Style::Plain && scalar.text.parse::<f64>().ok() == number.as_f64()
        }
        (Value::Sequence(items), Other::Array(others)) => {
            items.len() == others.len()
                && items
                    .iter()
                    .zip(others)
                    .all(|(item, other)| same(item, other))
        }
        (Value::Mapping(entries), Other::Object(others)) => {
            entries.len() == others.len()
                && entries.iter().all(|entry| {
                    others
                        .get(entry.key.as_ref())
                        .is_some_and(|other| same(&entry.node, other))
                })
        }
        _ => false,
    }
}

/// Whether a JSON text gives a key twice somewhere, which the second reader lets pass.
fn refused_as_duplicate(source: &Source) -> bool {
    parse_json_line(source, 0..source.text().len()).is_err_and(|problems| {
        problems
            .iter()
            .all(|problem| problem.code == "text.duplicate_key")
    })
}

proptest! {
    #[test]
    fn written_json_is_read_as_the_second_reader_does(value in values(), pretty: bool) {
        let text = if pretty {
            serde_json::to_string_pretty(&value).unwrap()
        } else {
            serde_json::to_string(&value).unwrap()
        };
        let source = Source::new("a.jsonl", text);
        let node = parse_json_line(&source, 0..source.text().len()).unwrap();
        prop_assert!(same(&node, &value), "{}", source.text());
        prop_assert_eq!(node.to_json(), value);
    }

    #[test]
    fn arbitrary_json_like_text_is_accepted_or_refused_alike(
        text in "(\\{|\\}|\\[|\\]|,|:|\"|\"a\"|\"b\":|\\\\u00e9|\\\\n|\\\\|1|0|-|\\.|e|E|\\+|true|null| |é|\\t){0,12}"
    ) {
        let source = Source::new("a.jsonl", text);
        let ours = parse_json_line(&source, 0..source.text().len());
        let other: Result<serde_json::Value, _> = serde_json::from_str(source.text());
        match (&ours, &other) {
            (Ok(node), Ok(value)) => prop_assert!(same(node, value), "{}", source.text()),
            (Ok(node), Err(_)) => prop_assert!(
                node.is_null() && source.text().trim().is_empty() || too_large(node),
                "{}", source.text()
            ),
            (Err(_), Ok(_)) => prop_assert!(refused_as_duplicate(&source), "{}", source.text()),
            (Err(problems), Err(_)) => {
                for (span, _) in problems.iter().flat_map(|problem| &problem.labels) {
                    prop_assert!(source.text().get(span.range()).is_some());
                }
            }
        }
    }

    #[test]
    fn arbitrary_ranges_never_panic(text in "\\PC{0,20}", start in 0usize..30, end in 0usize..30) {
        let source = Source::new("a.jsonl", text);
        let _ = parse_json_line(&source, start..end);
    }
}

/// The second reader refuses numbers beyond 64-bit floats; here they are texts of digits.
fn too_large(node: &Node<'_>) -> bool {
    match &node.value {
        Value::Null => false,
        Value::Scalar(scalar) => {
            scalar.style == Style::Plain && scalar.text.parse::<f64>().is_ok_and(f64::is_infinite)
        }
        Value::Sequence(items) => items.iter().any(too_large),
        Value::Mapping(entries) => entries.iter().any(|entry| too_large(&entry.node)),
    }
}
