//! Broken YAML syntax in plain words: the trap a person fell into is named, not the grammar.

use granit_parser::ErrorKind;

use super::problem::{TextProblem, quoted};
use super::source::{Source, Span};
use super::yaml_words::{depth, glued, in_quotes, missing_blank, tag};

/// The problem for broken syntax at a place; `open` is the innermost bracket or brace that is open.
pub(super) fn syntax(
    source: &Source,
    kind: &ErrorKind,
    at: Span,
    open: Option<Span>,
) -> TextProblem {
    let place = Place::new(source, at);
    match kind {
        ErrorKind::RecursionLimitExceeded => depth(place.letter()),
        ErrorKind::MappingValueNotAllowed
        | ErrorKind::InvalidColonPlacement
        | ErrorKind::ExpectedFlowMappingSeparator
        | ErrorKind::ExpectedFlowSequenceSeparator
        | ErrorKind::FlowMappingValueAdjacentCollection
        | ErrorKind::InvalidMappingValueWhitespace => place.colon(open),
        ErrorKind::UnexpectedCharacter { .. }
        | ErrorKind::InvalidBlockScalarHeader
        | ErrorKind::ZeroBlockScalarIndent
        | ErrorKind::MissingAnchorOrAliasName
        | ErrorKind::DirectiveDisallowed
        | ErrorKind::MappingKeyNotAllowed
        | ErrorKind::BlockSequenceEntryNotAllowed
        | ErrorKind::BlockEntryInFlowCollection
        | ErrorKind::PlainScalarStartsWithDashFlowIndicator
        | ErrorKind::InvalidBlockEntryWhitespace
        | ErrorKind::UnexpectedEndOfPlainScalar => place.start_character(),
        ErrorKind::TabNotAllowed
        | ErrorKind::TabInBlockIndentation
        | ErrorKind::TabAtBlockScalarStart
        | ErrorKind::TabInIndentation
        | ErrorKind::TabInPlainScalar => place.tab(),
        ErrorKind::UnclosedQuotedScalar
        | ErrorKind::DocumentIndicatorInQuotedScalar
        | ErrorKind::InvalidQuotedScalarIndent => {
            let quote = place.character().unwrap_or('"');
            TextProblem::new("text.bracket", format!("the quote `{quote}` is not closed"))
                .label(place.letter(), "opened here")
                .help(format!(
                    "close the text with `{quote}`; lines that go on are indented"
                ))
        }
        ErrorKind::UnclosedFlowCollection { .. }
        | ErrorKind::UnexpectedEofFlowSequence
        | ErrorKind::UnexpectedEofFlowMapping
        | ErrorKind::UnexpectedEofImplicitFlowMapping => place.unclosed(open),
        ErrorKind::MisplacedFlowCollectionEnd => {
            let bracket = place.character().unwrap_or(']');
            TextProblem::new("text.bracket", format!("`{bracket}` closes nothing"))
                .label(place.letter(), "nothing is open here")
                .help("delete it, or put the whole value in quotes")
        }
        ErrorKind::MismatchedFlowCollectionEnd { open, close } => {
            TextProblem::new("text.bracket", format!("`{open}` is closed by `{close}`"))
                .label(place.letter(), format!("`{open}` opened here"))
                .help(format!(
                    "close it with `{}`",
                    if *open == '[' { ']' } else { '}' }
                ))
        }
        ErrorKind::InvalidTrailingSingleQuotedScalar
        | ErrorKind::InvalidTrailingDoubleQuotedScalar => {
            let inside = if *kind == ErrorKind::InvalidTrailingSingleQuotedScalar {
                "a quote inside the text is written ''"
            } else {
                "a quote inside the text is written \\\""
            };
            let comma = if open.is_some() {
                "; entries are parted by commas"
            } else {
                ""
            };
            TextProblem::new(
                "text.syntax",
                format!(
                    "{} follows a text that has ended at its quote",
                    place.rest_quoted()
                ),
            )
            .label(place.rest(), "not part of the quoted text")
            .help(format!(
                "put the whole value in one pair of quotes; {inside}{comma}"
            ))
        }
        ErrorKind::UnknownQuotedScalarEscape
        | ErrorKind::InvalidQuotedScalarHexEscape
        | ErrorKind::InvalidLowSurrogateHexEscape
        | ErrorKind::InvalidLowSurrogate
        | ErrorKind::MissingLowSurrogate
        | ErrorKind::UnpairedLowSurrogate
        | ErrorKind::InvalidUnicodeEscape => place.escape(),
        ErrorKind::InvalidIndentation
        | ErrorKind::ExpectedBlockSequenceEntry
        | ErrorKind::InvalidBlockScalarIndent
        | ErrorKind::InvalidFlowScalarIndent
        | ErrorKind::SimpleKeyExpected
        | ErrorKind::InvalidSimpleKey
        | ErrorKind::ExpectedBlockMappingKey
        | ErrorKind::UnexpectedEofBlockSequence
        | ErrorKind::UnexpectedEofBlockMapping => place.stray(),
        ErrorKind::CommentInterceptedScalar => TextProblem::new(
            "text.comment",
            format!(
                "{} is read as a comment and cuts a text in two",
                place.rest_quoted()
            ),
        )
        .label(place.rest(), "a blank and `#` start a comment")
        .help("put the whole text in quotes"),
        ErrorKind::CommentNotSeparated => {
            TextProblem::new("text.syntax", "a blank is missing in front of `#`")
                .label(place.letter(), "a comment starts with a blank and `#`")
                .help("put a blank in front, or the whole value in quotes")
        }
        ErrorKind::BomInsideDocument => {
            TextProblem::new("text.control", "a byte order mark inside the text")
                .label(place.letter(), "an invisible character")
                .help("delete it; it belongs at the start of a file only")
        }
        ErrorKind::ExpectedTagBang
        | ErrorKind::ExpectedTagDirectiveBang
        | ErrorKind::InvalidGlobalTagCharacter
        | ErrorKind::InvalidTagTerminator
        | ErrorKind::MissingTagUri
        | ErrorKind::UnclosedVerbatimTag
        | ErrorKind::InvalidTagEscape
        | ErrorKind::InvalidTagUtf8LeadingByte
        | ErrorKind::InvalidTagUtf8TrailingByte
        | ErrorKind::InvalidTagUtf8
        | ErrorKind::UndeclaredTagHandle => tag(source, place.rest()),
        ErrorKind::ExpectedDocumentStart
        | ErrorKind::MissingDocumentEndBeforeDirective
        | ErrorKind::InvalidDocumentEnd => TextProblem::new(
            "text.syntax",
            format!("{} follows a document that has ended", place.rest_quoted()),
        )
        .label(place.rest(), "not part of the document")
        .help("one file holds one value: a mapping, whose keys all start at the same column"),
        // The rest can't come from a text in memory, or is a kind a later parser added.
        _ => TextProblem::new(
            "text.syntax",
            format!("{} is not YAML here", place.rest_quoted()),
        )
        .label(place.rest(), "not understood")
        .help("put the value in quotes"),
    }
}

/// A place in a text with what surrounds it.
struct Place<'s> {
    source: &'s Source,
    at: Span,
    line: Span,
}

impl<'s> Place<'s> {
    fn new(source: &'s Source, at: Span) -> Place<'s> {
        Place {
            source,
            at,
            line: source.line_span(at.start),
        }
    }

    fn character(&self) -> Option<char> {
        self.source
            .text()
            .get(self.at.start as usize..)?
            .chars()
            .next()
    }

    /// The character at the place, or the empty place at a line end.
    fn letter(&self) -> Span {
        let start = self.at.start as usize;
        let length = self.character().filter(|letter| !letter.is_control());
        Span::new(start, start + length.map_or(0, char::len_utf8))
    }

    /// From the place to the end of its line.
    fn rest(&self) -> Span {
        let rest = Span {
            start: self.at.start,
            end: self.line.end.max(self.at.start),
        };
        rest.sub(0..self.source.slice(rest).trim_end().len())
    }

    fn rest_quoted(&self) -> String {
        let rest = self.source.slice(self.rest());
        if rest.is_empty() {
            return "what stands here".to_string();
        }
        quoted(rest)
    }

    /// The part of the line in front of the place, without indentation and list dash.
    fn lead(&self) -> &'s str {
        let before = self.source.slice(Span {
            start: self.line.start,
            end: self.at.start,
        });
        let before = before.trim_start();
        before.strip_prefix("- ").map_or(before, str::trim_start)
    }

    /// A colon that can't stand here: inside plain text, behind a line that goes on, or because a
    /// bracket above is open.
    fn colon(&self, open: Option<Span>) -> TextProblem {
        let lead = self.lead();
        if self.character() != Some(':') {
            return match open {
                Some(_) => self.unclosed(open),
                None => self.stray(),
            };
        }
        if let Some(open) = open
            && !self.same_line(open)
            && !lead.contains([',', '{', '['])
        {
            return self.unclosed(Some(open));
        }
        // A key and its value stand in front: the colon is inside the value.
        let inner = lead
            .rsplit(['{', '[', ','])
            .next()
            .unwrap_or(lead)
            .trim_start();
        if let Some((key, value)) = inner.split_once(": ") {
            let text = format!("{value}{}", self.source.slice(self.rest()));
            let text = match open {
                Some(_) => text
                    .split([',', '}', ']'])
                    .next()
                    .unwrap_or(&text)
                    .trim_end(),
                None => &text,
            };
            return TextProblem::new(
                "text.colon",
                format!(
                    "a colon and a blank stand inside the plain text {}",
                    quoted(text)
                ),
            )
            .label(self.letter(), "read as the end of a key")
            .help(format!(
                "put the text in quotes: {key}: {}",
                clipped_quotes(text)
            ));
        }
        if open.is_some() {
            return TextProblem::new(
                "text.colon",
                format!("a colon can't stand behind {}", quoted(inner)),
            )
            .label(self.letter(), "not expected here")
            .help("put a comma between entries, or the text in quotes");
        }
        self.continued(lead)
    }

    /// A key in a line that YAML reads as the continuation of the line above.
    fn continued(&self, lead: &str) -> TextProblem {
        let above = self.line_above();
        let written = self.source.slice(above);
        if let Some((key, value)) = glued(written.strip_prefix("- ").unwrap_or(written)) {
            return missing_blank(written, above, key, value);
        }
        let key = Span::new(
            self.at.start as usize - self.lead_length(),
            self.at.start as usize,
        );
        TextProblem::new(
            "text.indentation",
            format!("the key {} can't start at this column", quoted(lead)),
        )
        .label(key, "read as the continuation of the line above")
        .label(above, "the value here goes on")
        .help(
            "start the keys of one mapping at the same column; a key that holds a mapping has \
             nothing behind its colon",
        )
    }

    fn lead_length(&self) -> usize {
        self.lead().len()
    }

    /// The nearest line above that is not blank, without the blanks around it.
    fn line_above(&self) -> Span {
        let mut index = self.source.line_index(self.at.start);
        while index > 0 {
            index -= 1;
            let line = self.source.line_span_of(index);
            let text = self.source.slice(line);
            if !text.trim().is_empty() {
                let lead = text.len() - text.trim_start().len();
                return line.sub(lead..text.trim_end().len());
            }
        }
        self.line
    }

    /// The first escape of a double-quoted text, which starts here, that makes no character.
    fn escape(&self) -> TextProblem {
        let start = self.at.start as usize + 1;
        let text = self.source.text().get(start..).unwrap_or("");
        let span = bad_escape(text).map_or(self.letter(), |(from, to)| {
            Span::new(start + from, start + to)
        });
        TextProblem::new(
            "text.escape",
            format!("{} makes no character", quoted(self.source.slice(span))),
        )
        .label(span, "read as an escape in a double-quoted text")
        .help("write a backslash as `\\\\`, or use single quotes, which know no escapes")
    }

    fn same_line(&self, span: Span) -> bool {
        self.source.line_span(span.start) == self.line
    }

    fn unclosed(&self, open: Option<Span>) -> TextProblem {
        if self.character() == Some(',') && open.is_some() {
            return TextProblem::new("text.comma", "nothing stands in front of a comma")
                .label(self.letter(), "an entry is expected before it")
                .help("delete the comma");
        }
        let open = open.unwrap_or(self.letter());
        let bracket = self.source.slice(open);
        let close = if bracket == "[" { ']' } else { '}' };
        let problem = TextProblem::new(
            "text.bracket",
            format!("`{bracket}` is not closed, or a comma is missing behind its last entry"),
        )
        .label(open, "opened here");
        let problem = if self.at.start > open.end {
            problem.label(self.letter(), "not expected inside it")
        } else {
            problem
        };
        problem.help(format!("close it with `{close}`"))
    }

    /// A character with a meaning of its own at the start of a value.
    fn start_character(&self) -> TextProblem {
        let rest = self.source.slice(self.rest());
        let first = self.character().unwrap_or(' ');
        if first == '%' && self.at.start == self.line.start {
            return TextProblem::new(
                "text.directive",
                format!("{} is an instruction to a YAML reader", quoted(rest)),
            )
            .label(self.rest(), "lines that start with `%` are not used")
            .help("delete the line");
        }
        if first == '-' {
            return TextProblem::new("text.syntax", "a list item starts in the middle of a line")
                .label(self.letter(), "read as the dash of a list item")
                .help("start each item of a list on its own line, or put the text in quotes");
        }
        let words = match first {
            '`' => "a value can't start with a backquote".to_string(),
            '>' | '|' => format!("`{first}` here starts a text on the following lines"),
            '*' | '&' => format!("`{first}` here starts the name of an anchor"),
            '?' => "`?` here starts a key".to_string(),
            _ => format!("a value can't start with `{first}`"),
        };
        TextProblem::new("text.start_character", words)
            .label(self.letter(), "reserved by YAML at the start of a value")
            .help(format!("put the value in quotes: {}", clipped_quotes(rest)))
    }

    fn tab(&self) -> TextProblem {
        let from = self.line.start as usize;
        let text = self.source.text();
        let mut start = from;
        let mut found = None;
        // The parser names the start of a plain text whose next line holds the tab.
        for line in text.get(from..).unwrap_or("").split_inclusive('\n').take(3) {
            let blanks = line.len() - line.trim_start_matches([' ', '\t']).len();
            if let Some(tab) = line.get(..blanks).and_then(|lead| lead.find('\t')) {
                found = Some(Span::new(start + tab, start + tab + 1));
                break;
            }
            start += line.len();
        }
        let place = found.unwrap_or(self.letter());
        TextProblem::new("text.tab", "a tab stands where YAML wants blanks")
            .label(place, "a tab")
            .help("indent with blanks, two for each level")
    }

    /// Text where a key, an item or the end was expected.
    fn stray(&self) -> TextProblem {
        let rest = self.source.slice(self.rest());
        let lead = self.lead().trim_end();
        if lead.is_empty() {
            let glued = rest.split_once(':').filter(|(key, value)| {
                !key.contains(' ') && !value.is_empty() && !value.starts_with(' ')
            });
            let problem = TextProblem::new(
                "text.indentation",
                format!("{} fits nothing that is open at this column", quoted(rest)),
            )
            .label(
                self.rest(),
                "a key with a colon, or a list item, is expected",
            );
            return match glued {
                Some((key, value)) => {
                    problem.help(format!("put a blank after the colon: `{key}: {value}`"))
                }
                None if rest.starts_with('-') && !rest.starts_with("- ") => {
                    problem.help("put a blank after the dash of a list item")
                }
                None => problem.help(
                    "start keys of one mapping, and items of one list, at the same column; \
                     a text that goes on is indented more than its key",
                ),
            };
        }
        TextProblem::new(
            "text.syntax",
            format!("{} follows a value that has ended", quoted(rest)),
        )
        .label(self.rest(), "not part of the value")
        .help("put the whole value in quotes, or start a new line")
    }
}

fn clipped_quotes(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return in_quotes(text);
    }
    let clipped: String = text.chars().take(LONGEST).collect();
    in_quotes(&format!("{clipped}…"))
}

/// Where the first escape that YAML does not know, or that makes no character, stands in the inside
/// of a double-quoted text (YAML 1.2.2, section 5.7).
fn bad_escape(text: &str) -> Option<(usize, usize)> {
    let mut rest = text;
    let mut at = 0;
    loop {
        let skip = rest.find(['\\', '"'])?;
        rest = rest.get(skip..)?;
        at += skip;
        let letter = rest.strip_prefix('\\')?.chars().next()?;
        let digits = match letter {
            'x' => 2,
            'u' => 4,
            'U' => 8,
            _ => 0,
        };
        let known = "0abtnvfre \"/\\N_LP\t\n\rxuU".contains(letter);
        let mut length = 1 + letter.len_utf8();
        if digits > 0 {
            let hex = |text: &str| -> Option<u32> {
                let digits = text
                    .get(..digits)
                    .filter(|hex| hex.bytes().all(|digit| digit.is_ascii_hexdigit()))?;
                u32::from_str_radix(digits, 16).ok()
            };
            let code = rest.get(length..).and_then(hex);
            let pair = rest
                .get(length + digits..)
                .and_then(|next| next.strip_prefix("\\u"))
                .and_then(hex);
            length += digits;
            match (code, pair) {
                (Some(0xd800..0xdc00), Some(0xdc00..0xe000)) if letter == 'u' => length += 6,
                (Some(code), _) if char::from_u32(code).is_some() => {}
                _ => return Some((at, at + length.min(rest.find('"').unwrap_or(rest.len())))),
            }
        }
        if !known {
            return Some((at, at + length));
        }
        rest = rest.get(length..)?;
        at += length;
    }
}
