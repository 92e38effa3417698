//! What is wrong with a written quantity or date, said to the person who wrote it.

use std::ops::Range;

/// A text that is not a quantity (or date) as it is written here.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct QuantityProblem {
    /// Stable name of the kind of problem, such as `decimal_comma`.
    pub code: &'static str,
    /// The bytes of the text that are meant.
    pub range: Range<usize>,
    /// What was read and what is wrong with it.
    pub message: String,
    /// The form that would be accepted.
    pub help: Option<String>,
}

impl QuantityProblem {
    /// A problem at these bytes.
    #[must_use]
    pub fn new(code: &'static str, range: Range<usize>, message: impl Into<String>) -> Self {
        QuantityProblem {
            code,
            range,
            message: message.into(),
            help: None,
        }
    }

    /// The same with the form that would be accepted.
    #[must_use]
    pub fn with_help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same, further along in a longer text.
    #[must_use]
    pub fn shifted(mut self, by: usize) -> Self {
        self.range = self.range.start + by..self.range.end + by;
        self
    }
}

impl std::fmt::Display for QuantityProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)?;
        match &self.help {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for QuantityProblem {}

/// A piece of somebody's text inside a message: cut at 40 characters, invisible characters named.
#[must_use]
pub(super) fn shown(text: &str) -> String {
    let mut out = String::new();
    for (count, c) in text.chars().enumerate() {
        if count == 40 {
            out.push('…');
            break;
        }
        let invisible = c.is_control()
            || (c.is_whitespace() && c != ' ')
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}');
        if invisible {
            out.push_str(&format!("<U+{:04X}>", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    out
}
