//! One record of JSON Lines to the tree: a strict reader (RFC 8259) that keeps spans.
//!
//! Fleets of hundreds of thousands of records come this way, so strings without escapes and numbers
//! are borrowed from the source. Duplicate keys, which the standard leaves open, are refused.

use std::borrow::Cow;
use std::ops::Range;

use super::decode::too_large;
use super::node::{Entry, Node, Scalar, Style, Value};
use super::problem::{TextProblem, quoted, too_many};
use super::source::{Source, Span};
use super::yaml::{duplicate_keys, take_from};
use super::{limits, yaml_words};

/// Reads the JSON value that stands in `range` of a source, usually one line without its line end.
/// Spans count from the start of the whole source, not of the line, so that problems and findings
/// name the line in the file.
///
/// Numbers, `true` and `false` become plain scalars with the text as written, strings quoted ones.
/// A range that holds blanks only gives [`Value::Null`].
///
/// # Errors
/// Duplicate keys all together; at broken syntax or a limit reading stops.
pub fn parse_json_line(source: &Source, range: Range<usize>) -> Result<Node<'_>, Vec<TextProblem>> {
    let end = range.end.min(source.text().len());
    let Some(text) = source
        .text()
        .get(..end)
        .filter(|text| text.is_char_boundary(range.start))
    else {
        return Ok(Node::new(Value::Null, Span::at(range.start)));
    };
    let bytes = end - range.start;
    if bytes > limits::LINE_BYTES {
        let problem = too_large("line", bytes, limits::LINE_BYTES);
        return Err(vec![problem.label(Span::at(range.start), "this line")]);
    }
    let mut reader = Reader {
        text,
        at: range.start,
        nodes: 0,
        depth: 0,
        last_break: None,
        items: Vec::new(),
        entries: Vec::new(),
        problems: Vec::new(),
    };
    match reader.document() {
        Ok(node) if reader.problems.is_empty() => Ok(node),
        Ok(_) => Err(reader.problems),
        Err(problem) => {
            reader.problems.push(*problem);
            Err(reader.problems)
        }
    }
}

/// How many bytes come before the first quote, backslash or control character. Eight at a time: a byte of
/// `word` is below 0x20, or equal to a mark, where the subtraction borrows into its high bit (Mycroft's
/// test); the lowest such bit is sure to be right, and bytes of other characters than ASCII never count.
pub(crate) fn plain_length(text: &[u8]) -> usize {
    const ONES: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    let mut rest = text;
    while let Some((chunk, tail)) = rest.split_first_chunk() {
        let word = u64::from_le_bytes(*chunk);
        let equal = |mark: u8| (word ^ (ONES * u64::from(mark))).wrapping_sub(ONES);
        let below = word.wrapping_sub(ONES * 0x20);
        // No mark has a high bit of its own, so that one look at those of the word serves for all.
        let found = (equal(b'"') | equal(b'\\') | below) & !word & HIGH;
        if found != 0 {
            let bytes = usize::try_from(found.trailing_zeros() / 8).unwrap_or(0);
            return text.len() - rest.len() + bytes;
        }
        rest = tail;
    }
    let mark = |byte: &u8| matches!(byte, b'"' | b'\\' | 0..=0x1f);
    let length = rest.iter().position(mark).unwrap_or(rest.len());
    text.len() - rest.len() + length
}

/// Boxed: the good way is walked a million times for each bad one.
type Bad = Box<TextProblem>;

struct Reader<'s> {
    /// The source up to the end of the range.
    text: &'s str,
    at: usize,
    nodes: usize,
    depth: usize,
    /// The last line feed that was passed between two values.
    last_break: Option<usize>,
    items: Vec<Node<'s>>,
    entries: Vec<Entry<'s>>,
    problems: Vec<TextProblem>,
}

impl<'s> Reader<'s> {
    fn document(&mut self) -> Result<Node<'s>, Bad> {
        self.blanks();
        if self.at >= self.text.len() {
            return Ok(Node::new(Value::Null, Span::at(self.at)));
        }
        let node = self.value()?;
        self.blanks();
        if self.at < self.text.len() {
            return Err(self.unexpected("the end of the line"));
        }
        Ok(node)
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    #[inline]
    fn blanks(&mut self) {
        while let Some(blank @ (b' ' | b'\t' | b'\n' | b'\r')) = self.peek() {
            if blank == b'\n' {
                self.last_break = Some(self.at);
            }
            self.at += 1;
        }
    }

    fn value(&mut self) -> Result<Node<'s>, Bad> {
        self.count()?;
        let start = self.at;
        match self.peek() {
            Some(b'{') => self.mapping(),
            Some(b'[') => self.sequence(),
            Some(b'"') => {
                let text = self.string()?;
                let mut node = self.scalar(text, Style::Quoted, start);
                node.verbatim = matches!(
                    &node.value,
                    Value::Scalar(Scalar {
                        text: Cow::Borrowed(_),
                        ..
                    })
                );
                Ok(node)
            }
            // No number starts with a plus or a point: so it is told.
            Some(b'-' | b'0'..=b'9' | b'+' | b'.') => {
                self.number()?;
                Ok(self.plain(start))
            }
            Some(b't') => self.word("true").map(|()| self.plain(start)),
            Some(b'f') => self.word("false").map(|()| self.plain(start)),
            Some(b'n') => {
                self.word("null")?;
                Ok(Node::new(Value::Null, Span::new(start, self.at)))
            }
            _ => Err(self.unexpected("a value")),
        }
    }

    fn plain(&self, start: usize) -> Node<'s> {
        let text = self.text.get(start..self.at).unwrap_or("");
        let mut node = self.scalar(Cow::Borrowed(text), Style::Plain, start);
        node.verbatim = true;
        node
    }

    fn scalar(&self, text: Cow<'s, str>, style: Style, start: usize) -> Node<'s> {
        Node::new(
            Value::Scalar(Scalar { text, style }),
            Span::new(start, self.at),
        )
    }

    fn word(&mut self, word: &str) -> Result<(), Bad> {
        let rest = self.text.get(self.at..).unwrap_or("");
        let length = rest
            .bytes()
            .take_while(|byte| byte.is_ascii_alphanumeric() || *byte == b'_')
            .count();
        if rest.get(..length) != Some(word) {
            return Err(self.unexpected("a value"));
        }
        self.at += length;
        Ok(())
    }

    /// RFC 8259, section 6: `-`? (`0` | 1-9 digits) (`.` digits)? (`e` sign? digits)?
    fn number(&mut self) -> Result<(), Bad> {
        let start = self.at;
        self.skip(b'-');
        let whole = self.at;
        let digits = self.digits();
        let zero_first = self.text.as_bytes().get(whole) == Some(&b'0');
        let mut good = digits > 0 && !(zero_first && digits > 1);
        if self.skip(b'.') {
            good &= self.digits() > 0;
        }
        if let Some(b'e' | b'E') = self.peek() {
            self.at += 1;
            if let Some(b'+' | b'-') = self.peek() {
                self.at += 1;
            }
            good &= self.digits() > 0;
        }
        let glued = self.peek().is_some_and(|next| {
            next.is_ascii_alphanumeric() || matches!(next, b'.' | b'_' | b'+' | b'-')
        });
        if good && !glued {
            return Ok(());
        }
        let rest = self.text.get(start..).unwrap_or("");
        let length = rest
            .find([',', ']', '}', ' ', '\t', '"', ':'])
            .unwrap_or(rest.len());
        let written = rest.get(..length).unwrap_or("");
        Err(Box::new(
            TextProblem::new(
                "text.number",
                format!("{} is no number in JSON", quoted(written)),
            )
            .label(Span::new(start, start + length), "read as a number")
            .help("a number has no leading zeros and digits on both sides of its point; any other text stands in double quotes"),
        ))
    }

    fn skip(&mut self, byte: u8) -> bool {
        let there = self.peek() == Some(byte);
        self.at += usize::from(there);
        there
    }

    fn digits(&mut self) -> usize {
        let start = self.at;
        while let Some(b'0'..=b'9') = self.peek() {
            self.at += 1;
        }
        self.at - start
    }

    /// A string; the place is at its opening quote and ends behind its closing one.
    fn string(&mut self) -> Result<Cow<'s, str>, Bad> {
        let start = self.at + 1;
        let rest = self.text.as_bytes().get(start..).unwrap_or_default();
        self.at = start + plain_length(rest);
        if self.peek() == Some(b'"') {
            let text = self.text.get(start..self.at).unwrap_or("");
            self.at += 1;
            return Ok(Cow::Borrowed(text));
        }
        self.escaped(start).map(Cow::Owned)
    }

    /// The rest of a string from its first escape on.
    fn escaped(&mut self, start: usize) -> Result<String, Bad> {
        let mut text = self.text.get(start..self.at).unwrap_or("").to_string();
        loop {
            let from = self.at;
            while self
                .peek()
                .is_some_and(|byte| !matches!(byte, b'"' | b'\\' | 0..=0x1f))
            {
                self.at += 1;
            }
            text.push_str(self.text.get(from..self.at).unwrap_or(""));
            match self.peek() {
                Some(b'"') => {
                    self.at += 1;
                    return Ok(text);
                }
                Some(b'\\') => text.push(self.escape()?),
                Some(control) => {
                    return Err(Box::new(
                        TextProblem::new(
                            "text.control",
                            format!("the control character {control:02X} inside a string"),
                        )
                        .label(Span::at(self.at), "not allowed as it is")
                        .help(format!("write it as \\u{control:04x}")),
                    ));
                }
                None => {
                    return Err(Box::new(
                        TextProblem::new("text.bracket", "a string is not closed on its line")
                            .label(Span::new(start - 1, start), "opened here")
                            .help("close it with `\"`; write a line break inside as \\n"),
                    ));
                }
            }
        }
    }

    fn escape(&mut self) -> Result<char, Bad> {
        let start = self.at;
        self.at += 1;
        let letter = self.peek();
        self.at += 1;
        let escaped = match letter {
            Some(same @ (b'"' | b'\\' | b'/')) => Some(char::from(same)),
            Some(b'b') => Some('\u{8}'),
            Some(b'f') => Some('\u{c}'),
            Some(b'n') => Some('\n'),
            Some(b'r') => Some('\r'),
            Some(b't') => Some('\t'),
            Some(b'u') => self.unicode(),
            _ => None,
        };
        escaped.ok_or_else(|| {
            let rest = self.text.get(start..).unwrap_or("");
            let length = rest
                .char_indices()
                .take(6)
                .take_while(|(index, letter)| {
                    *index == 0 || letter.is_ascii_alphanumeric() || (*index == 1 && *letter != '"')
                })
                .map(|(index, letter)| index + letter.len_utf8())
                .last()
                .unwrap_or(0);
            Box::new(
                TextProblem::new(
                    "text.escape",
                    format!(
                        "{} makes no character",
                        quoted(rest.get(..length).unwrap_or(""))
                    ),
                )
                .label(Span::new(start, start + length), "read as an escape")
                .help(
                    "write a backslash as `\\\\`; \\u has four digits, and both halves of a pair",
                ),
            )
        })
    }

    /// Behind `\u`: four hexadecimal digits, or two such escapes that form a surrogate pair.
    fn unicode(&mut self) -> Option<char> {
        let first = self.hex()?;
        if !(0xd800..0xdc00).contains(&first) {
            return char::from_u32(first);
        }
        if !(self.skip(b'\\') && self.skip(b'u')) {
            return None;
        }
        let second = self.hex()?;
        if !(0xdc00..0xe000).contains(&second) {
            return None;
        }
        char::from_u32(0x10000 + ((first - 0xd800) << 10) + (second - 0xdc00))
    }

    fn hex(&mut self) -> Option<u32> {
        let end = self.at + 4;
        let digits = self.text.get(self.at..end)?;
        if !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return None;
        }
        self.at = end;
        u32::from_str_radix(digits, 16).ok()
    }

    fn sequence(&mut self) -> Result<Node<'s>, Bad> {
        let start = self.at;
        self.enter()?;
        let first = self.items.len();
        self.blanks();
        if !self.skip(b']') {
            loop {
                self.blanks();
                let item = self.value()?;
                self.items.push(item);
                self.blanks();
                if self.skip(b']') {
                    break;
                }
                if !self.skip(b',') {
                    return Err(self.unexpected_in(start, "a comma or `]`"));
                }
            }
        }
        self.depth -= 1;
        let items = take_from(&mut self.items, first);
        Ok(self.collection(Value::Sequence(items), start))
    }

    fn mapping(&mut self) -> Result<Node<'s>, Bad> {
        let start = self.at;
        self.enter()?;
        let first = self.entries.len();
        self.blanks();
        if !self.skip(b'}') {
            loop {
                self.blanks();
                let key_start = self.at;
                if self.peek() != Some(b'"') {
                    return Err(self.unexpected_in(start, "a key in double quotes"));
                }
                self.count()?;
                let key = self.string()?;
                let key_span = Span::new(key_start, self.at);
                self.blanks();
                if !self.skip(b':') {
                    return Err(self.unexpected_in(start, "a colon"));
                }
                self.blanks();
                let node = self.value()?;
                self.entries.push(Entry {
                    key,
                    key_span,
                    node,
                });
                self.blanks();
                if self.skip(b'}') {
                    break;
                }
                if !self.skip(b',') {
                    return Err(self.unexpected_in(start, "a comma or `}`"));
                }
            }
        }
        self.depth -= 1;
        let entries = take_from(&mut self.entries, first);
        for problem in duplicate_keys(&entries) {
            self.problems.push(problem);
            if self.problems.len() >= limits::PROBLEMS {
                return Err(Box::new(too_many()));
            }
        }
        Ok(self.collection(Value::Mapping(entries), start))
    }

    fn collection(&self, value: Value<'s>, start: usize) -> Node<'s> {
        let mut node = Node::new(value, Span::new(start, self.at));
        // No string holds a line feed, so that every one inside was passed as a blank.
        node.one_line = self.last_break.is_none_or(|at| at < start);
        node
    }

    fn enter(&mut self) -> Result<(), Bad> {
        if self.depth >= limits::DEPTH {
            return Err(Box::new(yaml_words::depth(Span::new(self.at, self.at + 1))));
        }
        self.at += 1;
        self.depth += 1;
        Ok(())
    }

    fn count(&mut self) -> Result<(), Bad> {
        self.nodes += 1;
        if self.nodes > limits::NODES {
            return Err(Box::new(
                yaml_words::nodes().label(Span::at(self.at), "the limit is passed here"),
            ));
        }
        Ok(())
    }

    fn unexpected_in(&self, open: usize, wanted: &str) -> Bad {
        let mut problem = self.unexpected(wanted);
        problem
            .labels
            .push((Span::new(open, open + 1), "opened here".to_string()));
        problem
    }

    fn unexpected(&self, wanted: &str) -> Bad {
        let rest = self.text.get(self.at..).unwrap_or("");
        let Some(next) = rest.chars().next() else {
            return Box::new(
                TextProblem::new(
                    "text.json",
                    format!("the line ends where {wanted} is expected"),
                )
                .label(Span::at(self.at), "the line ends here"),
            );
        };
        let word = rest
            .find(|letter: char| !letter.is_alphanumeric() && letter != '_')
            .unwrap_or(rest.len())
            .max(next.len_utf8());
        let problem = TextProblem::new(
            "text.json",
            format!(
                "{wanted} is expected, not {}",
                quoted(rest.get(..word).unwrap_or(""))
            ),
        )
        .label(
            Span::new(self.at, self.at + word),
            format!("expected: {wanted}"),
        );
        Box::new(match next {
            '\'' => problem.help("strings in JSON stand in double quotes"),
            '#' => problem.help("JSON has no comments"),
            '/' if rest.starts_with("//") || rest.starts_with("/*") => {
                problem.help("JSON has no comments")
            }
            '/' => problem.help("a fraction is a text and stands in double quotes"),
            ']' | '}' => problem.help("JSON has no comma behind the last entry"),
            letter if letter.is_alphabetic() => {
                problem.help("in JSON every text and every key stands in double quotes")
            }
            _ => problem,
        })
    }
}
