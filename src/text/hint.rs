//! Questions a typed loader can ask about the surroundings of a value, to say what YAML did to it.

use super::node::{Node, Style, Value};
use super::source::{Source, Span};

/// The comment that follows a value on its line, from `#` to the end of the line. A comment is
/// ordinary; behind a free text it is more likely that ` #` cut the text.
pub fn comment_after(source: &Source, value: Span) -> Option<Span> {
    let line = source.line_span(value.end);
    let rest = source.text().get(value.end as usize..line.end as usize)?;
    let blanks = rest.len() - rest.trim_start_matches([' ', '\t']).len();
    let comment = value.end as usize + blanks;
    (blanks > 0 && rest.get(blanks..)?.starts_with('#'))
        .then(|| Span::new(comment, line.end as usize))
}

/// Whether a value is followed by ` #` on its line, so that what follows was not read.
pub fn cut_by_comment(source: &Source, value: Span) -> bool {
    comment_after(source, value).is_some()
}

/// Whether a plain item of a list in brackets ends at a comma that a digit follows without a blank,
/// as in `[4,70 mm]`: there a decimal comma was probably meant.
pub fn parted_at_comma(source: &Source, value: Span) -> bool {
    let rest = source.text().get(value.end as usize..).unwrap_or("");
    source
        .slice(value)
        .ends_with(|last: char| last.is_ascii_digit())
        && rest
            .strip_prefix(',')
            .is_some_and(|rest| rest.starts_with(|next: char| next.is_ascii_digit()))
}

/// Whether a key has no colon behind it: inside braces then nothing is its value.
pub(super) fn lacks_colon(source: &Source, key: Span) -> bool {
    let mut rest = source.text().get(key.end as usize..).unwrap_or("");
    loop {
        rest = rest.trim_start();
        match rest.strip_prefix('#') {
            Some(comment) => rest = comment.split_once('\n').map_or("", |(_, next)| next),
            None => return !rest.starts_with(':'),
        }
    }
}

/// The first run of items of a bracketed list that together close a parenthesis the first of them
/// opened: `[max(a, b), c]` gives the range of `max(a, b)`.
pub(super) fn parted_parenthesis(items: &[Node<'_>]) -> Option<Span> {
    let mut open: Option<(Span, i64)> = None;
    for item in items {
        let Value::Scalar(scalar) = &item.value else {
            open = None;
            continue;
        };
        if scalar.style != Style::Plain || item.used_at.is_some() {
            open = None;
            continue;
        }
        let balance = scalar.text.chars().fold(0, |sum, letter| match letter {
            '(' => sum + 1,
            ')' => sum - 1,
            _ => sum,
        });
        open = match open {
            None if balance > 0 => Some((item.span, balance)),
            None => None,
            Some((first, depth)) if depth + balance <= 0 => return Some(first.join(item.span)),
            Some((first, depth)) => Some((first, depth + balance)),
        };
    }
    None
}
