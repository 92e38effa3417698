//! YAML as nearly all files are written, read directly: a tenth of the work of the whole language.
//!
//! Block mappings and lists, `{ }` and `[ ]`, values on one line, quotes without escapes, texts behind `>`
//! and `|` without blank or deeper lines. At anything else, and at anything that is wrong, this gives
//! nothing, and the text goes to the parser of the whole language: there is no message here. What is read
//! here is the tree that the other gives, place by place; the tests hold it to that on all files of the
//! project and on many that were changed by chance.

use std::borrow::Cow;

use super::hint::parted_parenthesis;
use super::node::{Entry, Node, Scalar, Style, Value};
use super::source::{Source, Span};
use super::yaml::{duplicate_keys, take_from};

/// Longer texts are left to the whole parser, which counts what it reads.
const BYTES: usize = 500_000;
/// Collections inside one another that are read here.
const DEPTH: usize = 32;
/// Longer keys may be beyond what the language allows.
const KEY_BYTES: usize = 200;

/// The tree of a text, if it is written in the ordinary way.
pub(super) fn read(source: &Source) -> Option<Node<'_>> {
    let text = source.text();
    if text.len() > BYTES || !has_ordinary_characters(text) {
        return None;
    }
    let mut reader = Reader {
        text,
        at: 0,
        line: 0,
        column: None,
        items: Vec::new(),
        entries: Vec::new(),
    };
    reader.next_line();
    let column = reader.column?;
    let root = reader.block(column, 0)?;
    reader.column.is_none().then_some(root)
}

/// Whether no character has a meaning of its own in the whole language: tabs, line ends other than LF,
/// blanks of other kinds, what can't be printed.
fn has_ordinary_characters(text: &str) -> bool {
    let plain = |byte: u8| (b' '..=b'~').contains(&byte) || byte == b'\n';
    if text.bytes().fold(true, |all, byte| all & plain(byte)) {
        return true;
    }
    let letter = |letter: char| matches!(letter, '\u{a1}'..='\u{ac}' | '\u{ae}'..='\u{24f}' | '\u{370}'..='\u{3ff}' | '\u{2010}'..='\u{2027}' | '\u{2030}'..='\u{205e}' | '\u{2190}'..='\u{22ff}');
    text.chars()
        .all(|one| u8::try_from(one).is_ok_and(plain) || letter(one))
}

struct Reader<'s> {
    text: &'s str,
    at: usize,
    /// Where the line of `at` starts.
    line: usize,
    /// The column of the first thing on the line, when `at` is there; nothing at the end of the text.
    column: Option<usize>,
    items: Vec<Node<'s>>,
    entries: Vec<Entry<'s>>,
}

impl<'s> Reader<'s> {
    /// A byte; a line end behind the text.
    fn byte(&self, at: usize) -> u8 {
        self.text.as_bytes().get(at).copied().unwrap_or(b'\n')
    }

    fn here(&self) -> u8 {
        self.byte(self.at)
    }

    fn is_end(&self, at: usize) -> bool {
        at >= self.text.len()
    }

    fn skip_blanks(&mut self) {
        while self.here() == b' ' {
            self.at += 1;
        }
    }

    /// From `at` to the end of its line.
    fn end_of_line(&self) -> usize {
        let rest = self.text.as_bytes().get(self.at..).unwrap_or_default();
        let length = rest.iter().position(|byte| *byte == b'\n');
        self.at + length.unwrap_or(rest.len())
    }

    /// From the start of a line to the first thing that is no comment, there or on a later line.
    fn next_line(&mut self) {
        loop {
            self.line = self.at;
            self.skip_blanks();
            if self.is_end(self.at) {
                self.column = None;
                return;
            }
            match self.here() {
                b'\n' => self.at += 1,
                b'#' => self.at = self.end_of_line() + 1,
                _ => {
                    self.column = Some(self.at - self.line);
                    return;
                }
            }
        }
    }

    /// From behind a value, with nothing but a comment on its line, to the next thing.
    fn leave_line(&mut self) -> Option<()> {
        let value = self.at;
        self.skip_blanks();
        match self.here() {
            b'\n' => self.at += 1,
            b'#' if self.at > value => self.at = self.end_of_line() + 1,
            _ => return None,
        }
        self.next_line();
        Some(())
    }

    fn block(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        if depth > DEPTH {
            None
        } else if self.is_dash() {
            self.list(column, depth)
        } else {
            self.mapping(column, depth)
        }
    }

    fn is_dash(&self) -> bool {
        self.here() == b'-' && self.byte(self.at + 1) == b' '
    }

    /// The end of a key that starts here, before its colon.
    fn key_end(&self) -> Option<usize> {
        let mut end = self.at;
        while matches!(self.byte(end), b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'_')
            || (end > self.at && matches!(self.byte(end), b'.' | b'-' | b'/'))
        {
            end += 1;
        }
        let length = end - self.at;
        let whole = self.byte(end) == b':' && matches!(self.byte(end + 1), b' ' | b'\n');
        (whole && length > 0 && length < KEY_BYTES).then_some(end)
    }

    /// A key; what follows stands behind its colon.
    fn key(&mut self) -> Option<(Cow<'s, str>, Span)> {
        let end = self.key_end()?;
        let key = self.text.get(self.at..end)?;
        let span = Span::new(self.at, end);
        self.at = end + 1;
        (!is_nothing(key)).then_some((Cow::Borrowed(key), span))
    }

    fn mapping(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        let (first, start) = (self.entries.len(), self.at);
        loop {
            let (key, key_span) = self.key()?;
            self.skip_blanks();
            let node = match self.here() {
                b'\n' | b'#' => self.below(column, depth)?,
                _ => self.value(column, depth)?,
            };
            self.entries.push(Entry {
                key,
                key_span,
                node,
            });
            match self.column {
                Some(next) if next == column => {}
                Some(next) if next > column => return None,
                Some(_) | None => break,
            }
        }
        let end = self.entries.last()?.node.span.end;
        self.finish_mapping(first, start, end as usize, false)
    }

    fn finish_mapping(
        &mut self,
        first: usize,
        start: usize,
        end: usize,
        one_line: bool,
    ) -> Option<Node<'s>> {
        let entries = take_from(&mut self.entries, first);
        if !duplicate_keys(&entries).is_empty() {
            return None;
        }
        Some(collection(Value::Mapping(entries), start, end, one_line))
    }

    /// What stands on the lines below a key.
    fn below(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        self.at = self.end_of_line() + 1;
        self.next_line();
        match self.column {
            Some(next) if next > column => self.block(next, depth + 1),
            Some(next) if next == column && self.is_dash() => {
                // The whole parser begins a list that is no deeper than its key behind the first dash.
                let dash = self.text.get(self.at + 1..)?;
                let blanks = dash.len() - dash.trim_start_matches(' ').len();
                let start = self.at + 1 + blanks;
                let mut list = self.list(next, depth + 1)?;
                list.span = Span::new(start, list.span.end as usize);
                Some(list)
            }
            Some(_) | None => None,
        }
    }

    fn list(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        if depth > DEPTH {
            return None;
        }
        let (first, start) = (self.items.len(), self.at);
        while self.column == Some(column) && self.is_dash() {
            self.at += 1;
            self.skip_blanks();
            let node = if self.key_end().is_some() {
                self.mapping(self.at - self.line, depth + 1)?
            } else {
                self.value(column, depth)?
            };
            self.items.push(node);
        }
        if self.column > Some(column) {
            return None;
        }
        let end = self.items.last()?.span.end;
        let items = take_from(&mut self.items, first);
        Some(collection(
            Value::Sequence(items),
            start,
            end as usize,
            false,
        ))
    }

    /// A value that begins on the line of its key or dash; `column` is that of its parent.
    fn value(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        let node = match self.here() {
            b'{' | b'[' => self.flow(column, depth + 1)?,
            b'"' | b'\'' => self.quoted()?,
            b'>' | b'|' => return self.block_text(column),
            _ => self.plain(false)?,
        };
        self.leave_line()?;
        Some(node)
    }

    /// A text without quotes, to the end of its line or a comment; in braces and brackets to their marks.
    fn plain(&mut self, flow: bool) -> Option<Node<'s>> {
        let starts = match self.here() {
            b'-' => matches!(self.byte(self.at + 1), b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9'),
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => true,
            b'_' | b'(' | b'.' | b'/' | b'+' | b'<' | b'=' | b'$' => true,
            first => !first.is_ascii(),
        };
        if !starts {
            return None;
        }
        let start = self.at;
        let mut end = start;
        loop {
            match self.byte(end) {
                b'\n' => break,
                b':' => {
                    let next = self.byte(end + 1);
                    if matches!(next, b' ' | b'\n')
                        || (flow && matches!(next, b',' | b'[' | b']' | b'{' | b'}'))
                    {
                        return None;
                    }
                }
                b'#' if self.byte(end - 1) == b' ' => break,
                b',' | b']' | b'}' if flow => break,
                b'[' | b'{' if flow => return None,
                _ => {}
            }
            end += 1;
        }
        let text = self.text.get(start..end)?.trim_end_matches(' ');
        self.at = start + text.len();
        (!is_nothing(text)).then(|| scalar(Cow::Borrowed(text), Style::Plain, start, self.at))
    }

    /// A text in quotes, on one line and as it is written.
    fn quoted(&mut self) -> Option<Node<'s>> {
        let quote = self.here();
        let start = self.at;
        let mut end = start + 1;
        while self.byte(end) != quote {
            if matches!(self.byte(end), b'\n' | b'\\') {
                return None;
            }
            end += 1;
        }
        if self.byte(end + 1) == quote {
            return None;
        }
        self.at = end + 1;
        let text = self.text.get(start + 1..end)?;
        Some(scalar(Cow::Borrowed(text), Style::Quoted, start, self.at))
    }

    /// A text on the lines below `>` or `|`.
    fn block_text(&mut self, column: usize) -> Option<Node<'s>> {
        let joined_by = if self.here() == b'>' { ' ' } else { '\n' };
        self.at += 1;
        let stripped = self.here() == b'-';
        self.at += usize::from(stripped);
        if self.here() != b'\n' {
            return None;
        }
        self.at += 1;
        let mut text = String::new();
        let (mut start, mut end, mut lines, mut indent) = (0, 0, 0, 0);
        loop {
            self.line = self.at;
            self.skip_blanks();
            let found = self.at - self.line;
            if lines == 0 {
                indent = found;
                start = self.at;
            }
            if self.is_end(self.at) || self.here() == b'\n' || found < indent {
                break;
            }
            let line_end = self.end_of_line();
            let line = self.text.get(self.at..line_end)?;
            // Blanks at an end are kept and a deeper line is not joined; a last line without its end is
            // treated in a way of its own.
            if found > indent || line.ends_with(' ') || self.is_end(line_end) {
                return None;
            }
            if lines > 0 {
                text.push(joined_by);
            }
            text.push_str(line);
            (lines, end) = (lines + 1, line_end);
            self.at = line_end + 1;
        }
        if lines == 0 || indent <= column {
            return None;
        }
        // Empty lines may stand behind the text; then a key or a dash comes, or the end.
        self.at = self.line;
        while self.here() == b'\n' && !self.is_end(self.at) {
            self.at += 1;
        }
        self.line = self.at;
        self.skip_blanks();
        if self.here() == b'#' || (self.here() == b'\n' && self.at != self.text.len()) {
            return None;
        }
        if self.is_end(self.at) && self.at > self.line {
            return None;
        }
        self.column = (!self.is_end(self.at)).then_some(self.at - self.line);
        if self.column > Some(column) {
            return None;
        }
        if !stripped {
            text.push('\n');
        }
        let mut node = scalar(Cow::Owned(text), Style::Block, start, end);
        node.one_line = lines == 1;
        node.verbatim = lines == 1;
        Some(node)
    }

    /// Blanks, line ends and comments inside braces or brackets; later lines stand deeper than the parent.
    fn skip_flow(&mut self, column: usize) -> Option<()> {
        loop {
            let before = self.at;
            self.skip_blanks();
            match self.here() {
                b'#' if self.at > before => self.at = self.end_of_line(),
                b'\n' if !self.is_end(self.at) => {
                    self.at += 1;
                    self.line = self.at;
                    self.skip_blanks();
                    if self.at - self.line <= column || self.here() == b'\n' {
                        return None;
                    }
                    // A comment may begin the line, with its blanks before it.
                    if self.here() == b'#' {
                        self.at -= 1;
                    }
                }
                _ => return Some(()),
            }
        }
    }

    fn flow(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        if depth > DEPTH {
            return None;
        }
        let (start, start_line) = (self.at, self.line);
        let is_mapping = self.here() == b'{';
        let close = if is_mapping { b'}' } else { b']' };
        let first = if is_mapping {
            self.entries.len()
        } else {
            self.items.len()
        };
        self.at += 1;
        self.skip_flow(column)?;
        let mut empty = self.here() == close;
        while !empty {
            if is_mapping {
                let (key, key_span) = self.key()?;
                self.skip_blanks();
                let node = self.flow_value(column, depth)?;
                self.entries.push(Entry {
                    key,
                    key_span,
                    node,
                });
            } else {
                let node = self.flow_value(column, depth)?;
                self.items.push(node);
            }
            self.skip_flow(column)?;
            match self.here() {
                b',' => {
                    self.at += 1;
                    self.skip_flow(column)?;
                }
                found if found == close => empty = true,
                _ => return None,
            }
        }
        self.at += 1;
        let one_line = start_line == self.line;
        if is_mapping {
            return self.finish_mapping(first, start, self.at, one_line);
        }
        let items = take_from(&mut self.items, first);
        if parted_parenthesis(&items).is_some() {
            return None;
        }
        Some(collection(Value::Sequence(items), start, self.at, one_line))
    }

    fn flow_value(&mut self, column: usize, depth: usize) -> Option<Node<'s>> {
        match self.here() {
            b'{' | b'[' => self.flow(column, depth + 1),
            b'"' | b'\'' => self.quoted(),
            _ => self.plain(true),
        }
    }
}

/// Words that mean nothing.
fn is_nothing(text: &str) -> bool {
    matches!(text, "~" | "null" | "Null" | "NULL")
}

fn scalar(text: Cow<'_, str>, style: Style, start: usize, end: usize) -> Node<'_> {
    let mut node = Node::new(Value::Scalar(Scalar { text, style }), Span::new(start, end));
    node.verbatim = true;
    node
}

fn collection(value: Value<'_>, start: usize, end: usize, one_line: bool) -> Node<'_> {
    let mut node = Node::new(value, Span::new(start, end));
    node.one_line = one_line;
    node
}
