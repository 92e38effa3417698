//! The tree: meaning, spans, lookups, and agreement with a second YAML reader.

use proptest::prelude::*;

use crate::text::{Node, Source, Style, Value, parse_yaml, parse_yaml_documents};

const RECORD: &str = "\
format: rimegauge-record/1   # what it is
boat: { sail_number: T8 41, name: \"Kärki \\u00e9\", owner: 'A. B.', no: 0041 }
runners:
  - id: S1
    marked: yes
    steel: &len { value: 4.70 mm, places: [ -300 mm, 0 mm ] }
    empty:
  - id: S2
    steel: *len
note: >-
  folded
  text

keep: |
  one line
a/b~c: [ { d: ~ } ]
";

fn pointed<'s>(source: &'s Source, root: &Node<'s>, pointer: &str) -> String {
    let found = root.lookup(pointer).expect(pointer);
    source.slice(found.label_span()).to_string()
}

#[test]
fn places_to_underline() {
    let source = Source::new("a.yaml", RECORD);
    let root = parse_yaml(&source).unwrap();
    let pointed = |pointer: &str| pointed(&source, &root, pointer);
    assert_eq!(pointed("/format"), "rimegauge-record/1");
    assert_eq!(pointed("/boat/name"), "\"Kärki \\u00e9\"");
    assert_eq!(
        pointed("/boat"),
        source.slice(root.get("boat").unwrap().span),
        "on one line"
    );
    assert_eq!(pointed("/runners"), "runners", "a block: its key");
    assert_eq!(
        pointed("/runners/1"),
        "runners",
        "an item that is a block: the list's key"
    );
    assert_eq!(pointed("/runners/0/empty"), "empty", "nothing: its key");
    assert_eq!(pointed("/runners/0/steel/places/1"), "0 mm");
    assert_eq!(pointed("/note"), "note", "over several lines: its key");
    assert_eq!(pointed("/keep"), "one line");
    assert_eq!(pointed("/a~1b~0c/0/d"), "~");
    assert_eq!(
        source.slice(root.label_span(None)),
        "format",
        "the root: its first key"
    );
    let list = root.get("runners").unwrap();
    assert_eq!(source.slice(list.label_span(None)), "id");
    assert!(source.slice(list.span).starts_with("- id: S1\n"));
    assert!(
        source.slice(list.span).ends_with("steel: *len"),
        "not up to the next token"
    );
}

#[test]
fn aliases_remember_where_they_were_used() {
    let source = Source::new("a.yaml", RECORD);
    let root = parse_yaml(&source).unwrap();
    let found = root.lookup("/runners/1/steel/value").unwrap();
    assert_eq!(source.slice(found.node.span), "4.70 mm");
    assert_eq!(source.slice(found.used_at.unwrap()), "*len");
    assert!(
        root.lookup("/runners/0/steel/value")
            .unwrap()
            .used_at
            .is_none()
    );
    let used = root.lookup("/runners/1/steel").unwrap().node;
    assert_eq!(source.line_column(used.span.start).line, 6);
    assert_eq!(source.line_column(used.used_at.unwrap().start).line, 9);
}

#[test]
fn lookups_that_lead_nowhere() {
    let source = Source::new("a.yaml", RECORD);
    let root = parse_yaml(&source).unwrap();
    for pointer in [
        "boat",
        "/none",
        "/boat/name/x",
        "/runners/2",
        "/runners/00",
        "/runners/+1",
        "/runners/-",
    ] {
        assert!(root.lookup(pointer).is_none(), "{pointer}");
    }
    assert!(std::ptr::eq(root.lookup("").unwrap().node, &root));
}

#[test]
fn scalars_keep_their_text() {
    let source = Source::new("a.yaml", RECORD);
    let root = parse_yaml(&source).unwrap();
    assert_eq!(
        root.lookup("/boat/no").unwrap().node.as_text(),
        Some("0041")
    );
    assert_eq!(
        root.lookup("/boat/name").unwrap().node.as_text(),
        Some("Kärki é")
    );
    assert_eq!(root.get("note").unwrap().as_text(), Some("folded text"));
    let style = |pointer: &str| {
        root.lookup(pointer)
            .unwrap()
            .node
            .as_scalar()
            .unwrap()
            .style
    };
    assert_eq!(style("/format"), Style::Plain);
    assert_eq!(style("/boat/owner"), Style::Quoted);
    assert_eq!(style("/keep"), Style::Block);
    assert!(root.get("runners").unwrap().get("id").is_none());
    let kinds = ["/format", "/boat", "/runners", "/runners/0/empty"];
    let kinds = kinds.map(|pointer| root.lookup(pointer).unwrap().node.kind_in_words());
    assert_eq!(kinds, ["text", "a mapping", "a list", "nothing"]);
}

#[test]
fn parts_of_a_text_have_places_of_their_own() {
    let text =
        "a: max(x, y)\nb: \"max(x, y)\"\nc: 'it''s x'\nd: |\n  max(x, y)\n\ne: long\n  text\n";
    let source = Source::new("a.yaml", text);
    let root = parse_yaml(&source).unwrap();
    let part = |key: &str, range| source.slice(root.get(key).unwrap().text_span(range));
    assert_eq!(part("a", 4..5), "x");
    assert_eq!(part("b", 4..5), "x");
    assert_eq!(part("d", 4..5), "x");
    assert_eq!(part("c", 5..6), "'it''s x'", "an escape: the whole value");
    assert_eq!(
        part("e", 5..9),
        "long\n  text",
        "over two lines: the whole value"
    );
    assert_eq!(part("a", 5..99), ", y)", "held inside the value");
}

#[test]
fn json_types_follow_the_grammar_of_json() {
    let text = "[1, -2.5e3, 0041, 4.70, .5, 5., 1_000, 0x1f, +1, 1e999, .inf, true, True, yes, no, on, \
                null, ~, '', '7', 2026-11-21, 3/16 in]";
    let source = Source::new("a.yaml", text);
    let json = parse_yaml(&source).unwrap().to_json();
    assert_eq!(
        json.to_string(),
        "[1,-2500.0,\"0041\",4.7,\".5\",\"5.\",\"1_000\",\"0x1f\",\"+1\",\"1e999\",\".inf\",true,\
         \"True\",\"yes\",\"no\",\"on\",null,null,\"\",\"7\",\"2026-11-21\",\"3/16 in\"]"
    );
}

#[test]
fn empty_files_and_several_documents() {
    for empty in ["", "\n\n", "# only\n", "---\n", "--- # only\n", "null"] {
        let source = Source::new("a.yaml", empty);
        assert!(parse_yaml(&source).unwrap().is_null(), "{empty:?}");
    }
    let source = Source::new("a.yaml", "a: &x 1\n---\nb: 2\n---\n");
    let documents = parse_yaml_documents(&source).unwrap();
    let json: Vec<String> = documents
        .iter()
        .map(|root| root.to_json().to_string())
        .collect();
    assert_eq!(json, ["{\"a\":1}", "{\"b\":2}", "null"]);
    // Anchors end with their document.
    let source = Source::new("a.yaml", "a: &x 1\n---\nb: *x\n");
    assert!(parse_yaml_documents(&source).is_err());
    let source = Source::new("a.yaml", "# none\n");
    assert!(parse_yaml_documents(&source).unwrap().is_empty());
}

/// Whether the second reader, which gives types to plain scalars, read the same.
fn agrees(node: &Node<'_>, other: &serde_yaml::Value) -> bool {
    use serde_yaml::Value as Other;
    match (&node.value, other) {
        (Value::Null, Other::Null) => true,
        (Value::Scalar(scalar), Other::String(text)) => scalar.text == text.as_str(),
        (Value::Scalar(scalar), Other::Bool(yes)) => scalar.text.parse() == Ok(*yes),
        (Value::Scalar(scalar), Other::Number(number)) => {
            scalar.text.parse::<f64>().ok() == number.as_f64()
        }
        (Value::Sequence(items), Other::Sequence(others)) => {
            items.len() == others.len()
                && items
                    .iter()
                    .zip(others)
                    .all(|(item, other)| agrees(item, other))
        }
        (Value::Mapping(entries), Other::Mapping(others)) => {
            entries.len() == others.len()
                && entries.iter().all(|entry| {
                    others
                        .get(entry.key.as_ref())
                        .is_some_and(|other| agrees(&entry.node, other))
                })
        }
        _ => false,
    }
}

#[test]
fn a_second_reader_agrees() {
    let documents = [
        RECORD,
        "a: |+\n  kept\n\n\nb: >\n  one\n  two\n\n  three\n   more\n  four\n",
        "- - a\n  - b\n-\n  - c\n- [d, [e], {f: g}]\n",
        "\"quoted \\\"key\\\"\": 'it''s'\nk : v\n? long\n: value\n",
        "a: &x [1, 2.50, 1e3]\nb: *x\nc: { d: *x }\n",
        "{a: [], b: {}, c: '', d: \"\", e: ~, f: null, g: }",
        "a: b\n  c\n\n  d\ne: \"f\n  g\\\n  h\n\n  i\"\n",
        "a: x#y\nb: http://c/d\nc: a:b\nd: -1\ne: - \n".trim_end_matches("e: - \n"),
        "ключ: значение # комментарий\nłódź: \"\\u0142\\x41\\n\\t\"\n",
        "a: 1\r\nb:\r\n  - c\r\n  - d: |\r\n      e\r\n      f\r\n",
        "--- # start\na: b\n...\n",
        "a: !!str b\n".trim_start_matches("a: !!str b\n"),
    ];
    for text in documents {
        let source = Source::new("a.yaml", text);
        let ours = parse_yaml(&source).unwrap();
        let other: serde_yaml::Value = serde_yaml::from_str(text).unwrap();
        assert!(agrees(&ours, &other), "{text}\n{ours:?}\n{other:?}");
    }
}

fn texts() -> impl Strategy<Value = String> {
    let any = prop_oneof![
        "[a-zéż]{0,6}",
        "[ -~]{0,12}",
        "[0-9.eE+_-]{1,6}",
        "\\PC{0,8}",
        "[a#:,>|&*!%@`'\"\\[\\]{} \n\t-]{0,8}",
        prop::sample::select(vec![
            "yes", "no", "~", "null", "true", "<<", "-", "0x1f", "4.70 mm"
        ])
        .prop_map(String::from),
    ];
    // YAML 1.1, which the second reader and writer follow here, took these for line breaks.
    any.prop_map(|text| text.replace(['\u{85}', '\u{2028}', '\u{2029}'], ""))
}

pub(super) fn values() -> impl Strategy<Value = serde_json::Value> {
    let leaf = prop_oneof![
        Just(serde_json::Value::Null),
        any::<bool>().prop_map(serde_json::Value::from),
        any::<i64>().prop_map(serde_json::Value::from),
        texts().prop_map(serde_json::Value::from),
    ];
    leaf.prop_recursive(5, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(serde_json::Value::from),
            prop::collection::btree_map(texts(), inner, 0..6)
                .prop_map(|map| serde_json::Value::Object(map.into_iter().collect())),
        ]
    })
}

/// Every plain scalar and key on one line stands in the source as its span says.
fn spans_slice_back(source: &Source, node: &Node<'_>) {
    if let Value::Scalar(scalar) = &node.value {
        let written = source.slice(node.span);
        if scalar.style == Style::Plain && node.one_line {
            assert_eq!(written, scalar.text);
        }
        if node.verbatim {
            let length = scalar.text.len();
            let whole = source.slice(node.text_span(0..length));
            assert!(scalar.text.trim_end_matches('\n').trim_end() == whole.trim_end());
        }
    }
    for item in node.as_sequence().unwrap_or_default() {
        spans_slice_back(source, item);
    }
    for entry in node.as_mapping().unwrap_or_default() {
        let written = source.slice(entry.key_span);
        // Keys may stand in quotes, or as blocks behind a question mark.
        let other_style = written.starts_with(['"', '\'']) || entry.key.contains('\n');
        assert!(
            written == entry.key || other_style || written.contains('\n'),
            "{written}"
        );
        assert!(entry.node.used_at.is_some() || entry.node.span.start >= entry.key_span.end);
        spans_slice_back(source, &entry.node);
    }
}

proptest! {
    #[test]
    fn what_the_writer_wrote_is_read_back(value in values()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let source = Source::new("a.yaml", text);
        let other: serde_yaml::Value = serde_yaml::from_str(source.text()).unwrap();
        match parse_yaml(&source) {
            Ok(ours) => {
                prop_assert!(agrees(&ours, &other), "{}\n{:?}", source.text(), ours);
                spans_slice_back(&source, &ours);
            }
            // A key the formats refuse.
            Err(problems) => prop_assert!(
                problems.iter().all(|problem| matches!(problem.code, "text.merge_key" | "text.key")),
                "{}\n{:?}", source.text(), problems
            ),
        }
    }

    #[test]
    fn arbitrary_text_never_panics(text in "[a\"'#:,>|&*!%@`?~\\\\\\[\\]{}()0.é \n\t\r-]{0,60}") {
        let source = Source::new("a.yaml", text);
        let problems = match parse_yaml(&source) {
            Ok(node) => {
                spans_slice_back(&source, &node);
                Vec::new()
            }
            Err(problems) => problems,
        };
        for problem in &problems {
            for (span, _) in &problem.labels {
                prop_assert!(span.end as usize <= source.text().len());
                prop_assert!(source.text().get(span.range()).is_some());
            }
        }
    }

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        if let Ok(source) = crate::text::decode("a.yaml", &bytes) {
            let _ = parse_yaml(&source);
            let _ = parse_yaml_documents(&source);
        }
    }
}
