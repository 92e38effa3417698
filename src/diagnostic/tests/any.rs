//! Any text, any places: the printers never panic and nothing reaches a terminal that acts on it.

use proptest::prelude::*;

use crate::diagnostic::{Diagnostic, DrawOptions, draw, narrate, safe_line, safe_text, to_json};
use crate::text::{Source, Span};

fn texts() -> impl Strategy<Value = String> {
    prop_oneof![
        "[ab \t\n]{0,40}",
        "(é|漢|\u{301}|\u{200d}|\u{1f600}|\r\n|\u{1b}|\u{9b}|\u{202e}|x|\t| ){0,30}",
        "\\PC{0,30}",
        ".{0,30}",
        "[x\n]{100,400}",
        "(x{90,200}\n){0,5}",
    ]
}

fn acts(text: &str) -> bool {
    text.chars()
        .any(|letter| letter.is_control() && letter != '\n')
        || text.contains(['\u{202e}', '\u{200d}', '\u{2028}', '\u{feff}'])
}

proptest! {
    #[test]
    fn any_message_is_printed(
        sources in prop::collection::vec(texts(), 1..3),
        labels in prop::collection::vec((0usize..3, 0usize..450, 0usize..120, texts()), 0..6),
        message in texts(),
        help in prop::option::of(texts()),
        width in 0usize..120,
        unicode: bool,
    ) {
        let sources: Vec<_> = sources.into_iter().map(|text| Source::new("a\u{7}", text)).collect();
        let mut diagnostic = Diagnostic::fault("any.thing", message);
        for (index, start, length, words) in labels {
            let source = &sources[index % sources.len()];
            diagnostic = diagnostic.label(source, Span::new(start, start + length), words);
        }
        diagnostic.help = help;
        let all = [diagnostic];
        let drawn = draw(&all, DrawOptions { width, colour: false, unicode });
        prop_assert!(drawn.starts_with("any.thing\n"));
        prop_assert!(!acts(&drawn), "{drawn:?}");
        let narrated = narrate(&all);
        prop_assert!(!acts(&narrated), "{narrated:?}");
        prop_assert_eq!(to_json(&all)["diagnostics"][0]["labels"].as_array().unwrap().len(), all[0].labels.len());
        let widest = drawn.lines().map(|line| line.chars().count()).max().unwrap_or(0);
        // A word of a label and a place's shown characters have no limit of their own here.
        prop_assert!(widest < 2_500, "{widest}");
    }

    #[test]
    fn safe_text_is_safe_and_changes_nothing_else(text in texts()) {
        prop_assert!(!acts(&safe_line(&text)) && !safe_line(&text).contains('\n'));
        prop_assert!(!acts(&safe_text(&text)));
        let ordinary: String = text.chars().filter(|letter| letter.is_ascii_graphic()).collect();
        prop_assert_eq!(safe_line(&ordinary), ordinary.as_str());
    }
}
