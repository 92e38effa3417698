//! The bytes of one line of JSON, pulled value by value without a tree: strings without escapes, numbers
//! without exponents, `true` and `false`. Nothing means that something else stands there; why is for the
//! reader of the tree to say.

use std::ops::Range;

use crate::text::{Span, plain_length};

/// How deep a value that is passed over may be nested.
const PASSED_DEPTH: usize = 16;

/// A string or number with its place, quotes included.
#[derive(Clone, Copy)]
pub(super) struct Text<'s> {
    pub text: &'s str,
    pub span: Span,
}

/// A key with its place, quotes included: the bytes up to the first quotation mark. An escape or control
/// character in it would be refused in a line; whoever looks for a name finds none that has one.
#[derive(Clone, Copy)]
pub(super) struct Key<'s> {
    pub name: &'s [u8],
    pub span: Span,
}

/// An open mapping or list.
pub(super) struct Inside {
    start: usize,
    first: bool,
}

/// A place in the line.
#[derive(Clone)]
pub(super) struct Cursor<'s> {
    /// The source up to the end of the line.
    text: &'s str,
    at: usize,
}

impl<'s> Cursor<'s> {
    /// A cursor at the start of a value.
    pub fn new(text: &'s str, at: usize) -> Cursor<'s> {
        Cursor { text, at }
    }

    /// The source up to the end of the line.
    pub fn whole(&self) -> &'s str {
        self.text
    }

    /// The next byte that is no blank, not passed yet. A line feed is none of the blanks here: a value that
    /// goes over several lines is underlined in another way.
    pub fn peek(&mut self) -> Option<u8> {
        loop {
            let byte = *self.text.as_bytes().get(self.at)?;
            if byte > b' ' {
                return Some(byte);
            }
            if !matches!(byte, b' ' | b'\t' | b'\r') {
                return None;
            }
            self.at += 1;
        }
    }

    /// Whether a mapping comes next whose first key this is.
    pub fn first_key_is(&self, key: &str) -> bool {
        // Nearly all lines are written without blanks: a look at the first letter is enough there.
        match (self.rest(), key.as_bytes()) {
            ([b'{', b'"', one, ..], [first, ..]) if one != first => false,
            _ => {
                let mut ahead = self.clone();
                let inside = ahead.open(b'{');
                let found = inside.and_then(|mut inside| ahead.key(&mut inside)?);
                found.is_some_and(|found| found.name == key.as_bytes())
            }
        }
    }

    fn next(&mut self) -> Option<u8> {
        let byte = self.peek()?;
        self.at += 1;
        Some(byte)
    }

    /// Goes into the mapping or list that begins with this bracket.
    pub fn open(&mut self, bracket: u8) -> Option<Inside> {
        if self.next()? != bracket {
            return None;
        }
        Some(Inside {
            start: self.at - 1,
            first: true,
        })
    }

    /// Where a mapping or list stands, once its end was passed.
    pub fn span(&self, inside: &Inside) -> Span {
        Span::new(inside.start, self.at)
    }

    /// The next key of a mapping, up to its value; `Some(None)` when the end was passed.
    pub fn key(&mut self, inside: &mut Inside) -> Option<Option<Key<'s>>> {
        let first = std::mem::replace(&mut inside.first, false);
        // Nearly all lines are written without blanks.
        let name = match self.rest() {
            [b',', b'"', name @ ..] if !first => name,
            [b'"', name @ ..] if first => name,
            [b'}', ..] => {
                self.at += 1;
                return Some(None);
            }
            _ => match self.blanks_before_key(first)? {
                Some(name) => name,
                None => return Some(None),
            },
        };
        let length = before_quote(name)?;
        let key = self.quoted_name(name, length)?;
        match self.rest() {
            [b':', ..] => self.at += 1,
            _ => {
                if self.next()? != b':' {
                    return None;
                }
            }
        }
        Some(Some(key))
    }

    /// Passes the next key if it is this one, given with its quotes and colon: the short way of keys that
    /// nearly always stand in their place. Says nothing of any other key.
    #[inline]
    pub fn key_is(&mut self, inside: &mut Inside, key: &'static [u8]) -> bool {
        let rest = match self.rest() {
            rest if inside.first => rest,
            [b',', rest @ ..] => rest,
            _ => return false,
        };
        let found = rest.starts_with(key);
        if found {
            self.at = self.text.len() - rest.len() + key.len();
            inside.first = false;
        }
        found
    }

    /// What stands behind the quotation mark of the next key; `Some(None)` when the end was passed.
    #[cold]
    fn blanks_before_key(&mut self, first: bool) -> Option<Option<&'s [u8]>> {
        let mut byte = self.next()?;
        if byte == b'}' {
            return Some(None);
        }
        if !first {
            if byte != b',' {
                return None;
            }
            byte = self.next()?;
        }
        (byte == b'"').then(|| Some(self.rest()))
    }

    /// A name of which this many bytes stand before its closing quote, which is passed.
    fn quoted_name(&mut self, rest: &'s [u8], length: usize) -> Option<Key<'s>> {
        let start = self.text.len() - rest.len();
        self.at = start + length + 1;
        Some(Key {
            name: rest.get(..length)?,
            span: Span::new(start - 1, self.at),
        })
    }

    fn rest(&self) -> &'s [u8] {
        self.text.as_bytes().get(self.at..).unwrap_or_default()
    }

    /// Whether a list has one more item, which begins here; `Some(false)` when the end was passed. Whoever
    /// reads the item sees that a comma has one behind it.
    pub fn item(&mut self, inside: &mut Inside) -> Option<bool> {
        let byte = self.peek()?;
        let first = std::mem::replace(&mut inside.first, false);
        if byte == b']' {
            self.at += 1;
            return Some(false);
        }
        if first {
            return Some(true);
        }
        if byte != b',' {
            return None;
        }
        self.at += 1;
        Some(true)
    }

    /// A string.
    pub fn string(&mut self) -> Option<Text<'s>> {
        if self.next()? != b'"' {
            return None;
        }
        self.rest_of_string()
    }

    /// What stands behind the opening quote, if a string comes next.
    pub fn quoted(&mut self) -> Option<&'s [u8]> {
        if self.peek()? != b'"' {
            return None;
        }
        self.rest().get(1..)
    }

    /// A string that is looked up among names without escapes.
    pub fn name(&mut self) -> Option<Key<'s>> {
        let rest = self.quoted()?;
        let length = before_quote(rest)?;
        self.quoted_name(rest, length)
    }

    /// Passes over a string of which this many bytes stand between the quotes; gives its place.
    pub fn pass_quoted(&mut self, length: usize) -> Span {
        let start = self.at;
        self.at += length + 2;
        Span::new(start, self.at)
    }

    /// The rest of a string, its opening quote passed.
    fn rest_of_string(&mut self) -> Option<Text<'s>> {
        let start = self.at;
        let end = start + plain_length(self.rest());
        let text = self.text.get(start..end)?;
        if self.text.as_bytes().get(end) != Some(&b'"') {
            return None;
        }
        self.at = end + 1;
        Some(Text {
            text,
            span: Span::new(start - 1, end + 1),
        })
    }

    /// A string, or a number whose grammar is still to be checked.
    pub fn scalar(&mut self) -> Option<Text<'s>> {
        if self.peek()? == b'"' {
            return self.string();
        }
        let start = self.at;
        let rest = self.rest();
        let in_number = |byte: &u8| matches!(byte, b'0'..=b'9' | b'.' | b'-');
        let length = rest.iter().take_while(|byte| in_number(byte)).count();
        if length == 0 {
            return None;
        }
        self.at += length;
        Some(Text {
            text: self.text.get(start..self.at)?,
            span: Span::new(start, self.at),
        })
    }

    /// A string, `true` or `false`.
    pub fn word(&mut self) -> Option<Text<'s>> {
        let word = match self.peek()? {
            b'"' => return self.string(),
            b't' => "true",
            _ => "false",
        };
        let start = self.at;
        let end = start + word.len();
        let text = self.text.get(start..end).filter(|text| *text == word)?;
        self.at = end;
        Some(Text {
            text,
            span: Span::new(start, end),
        })
    }

    /// Passes over a mapping or list, looking at brackets alone: whoever comes back reads it.
    pub fn skip(&mut self) -> Option<()> {
        let mut depth = 0_usize;
        loop {
            match self.next()? {
                b'{' | b'[' => depth += 1,
                b'}' | b']' => depth = depth.checked_sub(1)?,
                b'"' => {
                    self.rest_of_string()?;
                }
                _ => {}
            }
            if depth == 0 {
                return Some(());
            }
        }
    }

    /// Passes over any value as [`Cursor::pass_over`] does, and gives where it stands.
    pub fn pass_over_range(&mut self) -> Option<Range<usize>> {
        self.peek()?;
        let start = self.at;
        self.pass_over()?;
        Some(start..self.at)
    }

    /// Passes over any value, and sees that it is one. Nothing for what is nested deeply.
    pub fn pass_over(&mut self) -> Option<()> {
        self.pass_over_within(PASSED_DEPTH)
    }

    fn pass_over_within(&mut self, depth: usize) -> Option<()> {
        match self.peek()? {
            b'{' => {
                let depth = depth.checked_sub(1)?;
                let mut inside = self.open(b'{')?;
                while self.key(&mut inside)?.is_some() {
                    self.pass_over_within(depth)?;
                }
                Some(())
            }
            b'[' => {
                let depth = depth.checked_sub(1)?;
                let mut inside = self.open(b'[')?;
                while self.item(&mut inside)? {
                    self.pass_over_within(depth)?;
                }
                Some(())
            }
            b't' | b'f' => self.word().map(|_| ()),
            b'"' => self.string().map(|_| ()),
            // Which numbers there are is left to the long way.
            _ => {
                let text = self.scalar()?.text;
                crate::quantity::Exact::from_decimal(text).map(|_| ())
            }
        }
    }

    /// Whether nothing but blanks is left.
    pub fn ended(&mut self) -> bool {
        self.peek().is_none() && self.at == self.text.len()
    }
}

/// How many bytes come before the first quotation mark. Eight at a time, as in
/// [`plain_length`](crate::text::plain_length).
#[inline]
fn before_quote(text: &[u8]) -> Option<usize> {
    const ONES: u64 = 0x0101_0101_0101_0101;
    const QUOTES: u64 = ONES * 0x22;
    const HIGH: u64 = ONES * 0x80;
    let mut rest = text;
    while let Some((chunk, tail)) = rest.split_first_chunk() {
        let other = u64::from_le_bytes(*chunk) ^ QUOTES;
        let found = other.wrapping_sub(ONES) & !other & HIGH;
        if found != 0 {
            let bytes = usize::try_from(found.trailing_zeros() / 8).ok()?;
            return Some(text.len() - rest.len() + bytes);
        }
        rest = tail;
    }
    let length = rest.iter().position(|byte| *byte == b'"')?;
    Some(text.len() - rest.len() + length)
}
