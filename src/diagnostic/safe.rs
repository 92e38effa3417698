//! Text from a file made safe for a terminal: nothing that moves the cursor, colours, or reorders.

use std::borrow::Cow;
use std::fmt::Write;

/// Whether a character acts on the terminal or on the order of others instead of showing itself:
/// control characters, line and paragraph separators, bidirectional marks and embeddings (as in
/// Unicode Technical Report 36), the byte order mark and other invisible marks.
pub(super) fn acts(letter: char) -> bool {
    letter.is_control()
        || matches!(
            letter,
            '\u{061c}'
                | '\u{200b}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
                | '\u{fff9}'..='\u{fffb}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// How such a character is shown: `\n`, `\r`, `\t`, else its number, `\u{1b}`.
pub(super) fn shown(letter: char, into: &mut String) {
    match letter {
        '\n' => into.push_str("\\n"),
        '\r' => into.push_str("\\r"),
        '\t' => into.push_str("\\t"),
        other => {
            // Writing to a string does not fail.
            let _ = write!(into, "\\u{{{:x}}}", u32::from(other));
        }
    }
}

/// A text for one line of a terminal: characters that act are shown by their numbers.
pub fn safe_line(text: &str) -> Cow<'_, str> {
    replace(text, |_| false)
}

/// A text for a terminal that keeps its line breaks; other characters that act are shown.
pub fn safe_text(text: &str) -> Cow<'_, str> {
    replace(text, |letter| letter == '\n')
}

fn replace(text: &str, keep: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.chars().any(|letter| acts(letter) && !keep(letter)) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len() + 8);
    for letter in text.chars() {
        if acts(letter) && !keep(letter) {
            shown(letter, &mut safe);
        } else {
            safe.push(letter);
        }
    }
    Cow::Owned(safe)
}
