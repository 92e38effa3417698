//! Spans, lines and columns.

use crate::text::{Source, Span, comment_after, cut_by_comment, parse_yaml, parted_at_comma};

#[test]
fn spans_never_run_backwards_and_hold_at_32_bits() {
    assert_eq!(Span::new(5, 3), Span { start: 5, end: 5 });
    assert_eq!(Span::new(0, usize::MAX).end, u32::MAX);
    let span = Span::new(10, 20);
    assert_eq!(span.sub(2..5), Span::new(12, 15));
    assert_eq!(span.sub(5..100), Span::new(15, 20));
    assert_eq!(span.sub(100..200), Span::new(20, 20));
    assert_eq!(span.sub(0..usize::MAX), span);
    assert_eq!(span.join(Span::new(2, 4)), Span::new(2, 20));
}

#[test]
fn columns_count_characters() {
    let source = Source::new("a", "aé\u{1f600}b\r\n\tż\n");
    let at = |offset| source.line_column(offset).to_string();
    assert_eq!(at(0), "1:1");
    assert_eq!(at(1), "1:2");
    assert_eq!(at(2), "1:2", "inside é");
    assert_eq!(at(3), "1:3");
    assert_eq!(at(7), "1:4");
    assert_eq!(at(8), "1:5", "the carriage return");
    assert_eq!(at(10), "2:1");
    assert_eq!(at(11), "2:2");
    assert_eq!(at(14), "3:1", "behind the last line end");
    assert_eq!(at(999), "3:1");
    assert_eq!(source.line_count(), 3);
    assert_eq!(source.slice(source.line_span(3)), "aé\u{1f600}b");
    assert_eq!(source.slice(source.line_span(10)), "\tż");
    assert_eq!(
        source.slice(Span::new(2, 4)),
        "é",
        "ends move to starts of characters"
    );
    assert_eq!(source.slice(Span::new(900, 999)), "");
}

#[test]
fn hints_see_what_follows_a_value() {
    let text = "a: see #2\nb: x# y\nc: 'q' # ok\nd: z\n# e\nf: [4,70 mm, 5, 6 mm, 7,8]\ng: k";
    let source = Source::new("a.yaml", text);
    let root = parse_yaml(&source).unwrap();
    let span = |key: &str| root.get(key).unwrap().span;
    assert!(cut_by_comment(&source, span("a")));
    assert_eq!(
        source.slice(comment_after(&source, span("a")).unwrap()),
        "#2"
    );
    assert!(!cut_by_comment(&source, span("b")));
    assert!(cut_by_comment(&source, span("c")));
    assert!(!cut_by_comment(&source, span("d")));
    assert!(!cut_by_comment(&source, span("g")));
    let items = root.get("f").unwrap().as_sequence().unwrap();
    let parted: Vec<bool> = items
        .iter()
        .map(|item| parted_at_comma(&source, item.span))
        .collect();
    assert_eq!(parted, [true, false, false, false, true, false]);
}
