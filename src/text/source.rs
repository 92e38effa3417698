//! A text with its name, and places in it: spans in bytes, lines and columns for people.

use std::fmt;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

/// Byte range in a source text, end exclusive.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte; never before `start` when made by [`Span::new`].
    pub end: u32,
}

impl Span {
    /// The range from `start` to `end`. Values beyond 32 bits are held at the largest, an `end`
    /// before `start` becomes `start`.
    pub fn new(start: usize, end: usize) -> Span {
        let start = u32::try_from(start).unwrap_or(u32::MAX);
        let end = u32::try_from(end).unwrap_or(u32::MAX);
        Span {
            start,
            end: end.max(start),
        }
    }

    /// The empty range at a place.
    pub fn at(offset: usize) -> Span {
        Span::new(offset, offset)
    }

    /// A range counted from the start of this span, clamped to it.
    #[expect(clippy::should_implement_trait, reason = "a part, not a difference")]
    pub fn sub(self, range: Range<usize>) -> Span {
        let clamp = |offset: usize| {
            u32::try_from(offset)
                .ok()
                .and_then(|offset| self.start.checked_add(offset))
                .map_or(self.end, |offset| offset.min(self.end))
        };
        let start = clamp(range.start);
        Span {
            start,
            end: clamp(range.end).max(start),
        }
    }

    /// Length in bytes.
    pub fn len(self) -> usize {
        self.range().len()
    }

    /// Whether the range covers nothing.
    pub fn is_empty(self) -> bool {
        self.end <= self.start
    }

    /// The same range for slicing.
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }

    /// The smallest range that covers both.
    pub fn join(self, other: Span) -> Span {
        Span {
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }
}

/// A place for people: 1-based line; 1-based column counted in characters (Unicode scalar values).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: u32,
    /// Column, from 1, in characters.
    pub column: u32,
}

impl fmt::Display for LineColumn {
    /// `14:24`, as it is appended to a file name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.line, self.column)
    }
}

/// A text with the name it is reported under. Shared as `Arc<Source>`; the line index is made when
/// the first place is asked for.
pub struct Source {
    name: String,
    text: String,
    first_line: u32,
    line_starts: OnceLock<Vec<u32>>,
}

impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Source({:?}, {} bytes)", self.name, self.text.len())
    }
}

impl Source {
    /// A source whose text starts at line 1.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Source> {
        Source::new_at(name, text, 1)
    }

    /// A source that is a part of a file, cut at a line start: its first line is `first_line` of the
    /// file, so that places are those of the file.
    pub fn new_at(
        name: impl Into<String>,
        text: impl Into<String>,
        first_line: u32,
    ) -> Arc<Source> {
        Arc::new(Source {
            name: name.into(),
            text: text.into(),
            first_line,
            line_starts: OnceLock::new(),
        })
    }

    /// The name it is reported under, usually a path.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Line and column of a byte. An offset inside a character is that character's; one beyond the
    /// end is the end.
    pub fn line_column(&self, offset: u32) -> LineColumn {
        let index = self.line_index(offset);
        let start = self.line_start(index);
        let offset = floor_boundary(&self.text, offset as usize);
        let before = self.text.get(start..offset).unwrap_or("");
        LineColumn {
            line: self
                .first_line
                .saturating_add(u32::try_from(index).unwrap_or(u32::MAX)),
            column: u32::try_from(before.chars().count())
                .unwrap_or(u32::MAX)
                .saturating_add(1),
        }
    }

    /// The text of a span; ends that fall inside a character are moved to its start, a span outside
    /// the text gives the empty text.
    pub fn slice(&self, span: Span) -> &str {
        let start = floor_boundary(&self.text, span.start as usize);
        let end = floor_boundary(&self.text, span.end as usize);
        self.text.get(start..end).unwrap_or("")
    }

    /// The span of the line that holds a byte, without its line end (LF or CRLF).
    pub fn line_span(&self, offset: u32) -> Span {
        self.line_span_of(self.line_index(offset))
    }

    /// Span of a line by its index from 0, without its line end; the empty span at the end of the
    /// text if there is no such line.
    pub fn line_span_of(&self, index: usize) -> Span {
        let start = self.line_start(index);
        let end = self
            .line_starts()
            .get(index + 1)
            .map_or(self.text.len(), |next| *next as usize);
        let line = self.text.get(start..end).unwrap_or("");
        let line = line.strip_suffix('\n').unwrap_or(line);
        let line = line.strip_suffix('\r').unwrap_or(line);
        Span::new(start, start + line.len())
    }

    /// Index from 0, within this text, of the line that holds a byte.
    pub fn line_index(&self, offset: u32) -> usize {
        self.line_starts()
            .partition_point(|start| *start <= offset)
            .saturating_sub(1)
    }

    /// How many lines the text has; a line end at the very end opens one more, empty line.
    pub fn line_count(&self) -> usize {
        self.line_starts().len()
    }

    /// The number of the first line, 1 for a whole file.
    pub fn first_line(&self) -> u32 {
        self.first_line
    }

    fn line_start(&self, index: usize) -> usize {
        self.line_starts()
            .get(index)
            .map_or(self.text.len(), |start| *start as usize)
    }

    fn line_starts(&self) -> &[u32] {
        /// Chunks without a line end, most of them in long lines, are passed over quickly.
        const CHUNK: usize = 64;
        self.line_starts.get_or_init(|| {
            let mut starts = vec![0];
            for (index, chunk) in self.text.as_bytes().chunks(CHUNK).enumerate() {
                if !chunk
                    .iter()
                    .fold(false, |found, byte| found | (*byte == b'\n'))
                {
                    continue;
                }
                for (offset, byte) in chunk.iter().enumerate() {
                    if *byte == b'\n'
                        && let Ok(start) = u32::try_from(index * CHUNK + offset + 1)
                    {
                        starts.push(start);
                    }
                }
            }
            starts
        })
    }
}

/// The largest character boundary at or before an offset.
fn floor_boundary(text: &str, offset: usize) -> usize {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    offset
}
