//! What is wrong with a text, before it has any meaning: code, message, spans, help.

use super::source::Span;

/// One thing that is wrong with a text. Spans belong to the [`super::Source`] that was read; a text
/// that could not be decoded has no labels, its place stands in the message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextProblem {
    /// Stable code, one of [`CODES`].
    pub code: &'static str,
    /// What was read and what is wrong with it.
    pub message: String,
    /// What to underline, with words; the first is the primary place.
    pub labels: Vec<(Span, String)>,
    /// What would be accepted.
    pub help: Option<String>,
}

impl TextProblem {
    /// A problem without labels and help.
    pub fn new(code: &'static str, message: impl Into<String>) -> TextProblem {
        debug_assert!(CODES.iter().any(|(known, _)| *known == code));
        TextProblem {
            code,
            message: message.into(),
            labels: Vec::new(),
            help: None,
        }
    }

    /// Adds a place to underline; the first one added is the primary place.
    #[must_use]
    pub fn label(mut self, span: Span, words: impl Into<String>) -> TextProblem {
        self.labels.push((span, words.into()));
        self
    }

    /// Adds what would be accepted.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> TextProblem {
        self.help = Some(help.into());
        self
    }
}

/// The last problem of a text that has too many.
pub(super) fn too_many() -> TextProblem {
    TextProblem::new(
        "text.too_many",
        format!(
            "reading stopped after {} problems (the limit PROBLEMS)",
            super::limits::PROBLEMS
        ),
    )
}

/// Every code of this room with what it stands for, in alphabetical order.
pub const CODES: &[(&str, &str)] = &[
    (
        "text.alias",
        "an anchor or alias that can't be followed, or repeats too much",
    ),
    ("text.binary", "the file is not a text"),
    (
        "text.bracket",
        "a bracket, brace or quote that is not closed or doesn't match",
    ),
    (
        "text.colon",
        "a colon and a blank inside plain text, or a colon that is missing its blank",
    ),
    (
        "text.comma",
        "a comma inside braces or brackets that parts a value in two",
    ),
    ("text.comment", "a comment that cuts a text in two"),
    ("text.control", "a control character"),
    ("text.depth", "lists and mappings nested too deeply"),
    ("text.directive", "a line that starts with %"),
    (
        "text.documents",
        "several documents in a file that holds one",
    ),
    ("text.duplicate_key", "the same key twice in one mapping"),
    ("text.encoding", "the file is not UTF-8"),
    (
        "text.escape",
        "a backslash escape that does not exist or makes no character",
    ),
    (
        "text.indentation",
        "a line that starts at a column where nothing is open",
    ),
    ("text.json", "a line that is not JSON"),
    ("text.key", "a key that is not a text"),
    (
        "text.line_ends",
        "lines that end with a carriage return alone",
    ),
    ("text.merge_key", "the merge key <<"),
    ("text.nodes", "too many keys and values"),
    ("text.number", "a number that JSON does not allow"),
    ("text.size", "the file or line is too large"),
    (
        "text.start_character",
        "a value that starts with a character reserved by YAML",
    ),
    ("text.syntax", "text that is not YAML"),
    ("text.tab", "a tab where YAML wants blanks"),
    (
        "text.table",
        "a table whose rows do not fit its header, or that has none",
    ),
    (
        "text.tag",
        "a tag, a word that starts with an exclamation mark",
    ),
    ("text.too_many", "reading stopped after many problems"),
];

/// A text as a message quotes it: between backquotes, line breaks and runs of blanks as one blank,
/// at most 48 characters.
pub fn quoted(text: &str) -> String {
    const LONGEST: usize = 48;
    let mut words = String::with_capacity(text.len().min(4 * LONGEST));
    let mut count = 0;
    let mut blank = false;
    for letter in text.trim().chars() {
        if letter.is_whitespace() {
            blank = true;
            continue;
        }
        if count >= LONGEST {
            words.push('…');
            break;
        }
        if std::mem::take(&mut blank) {
            words.push(' ');
            count += 1;
        }
        words.push(letter);
        count += 1;
    }
    format!("`{words}`")
}
