//! What is wrong with a YAML text, in plain words: the traps YAML lays are named, not its grammar.

use granit_parser::ErrorKind;

use super::hint;
use super::limits;
use super::node::{Entry, Node, Style, Value};
use super::problem::{TextProblem, quoted};
use super::source::{Source, Span};

pub(super) fn tag(source: &Source, span: Span) -> TextProblem {
    TextProblem::new(
        "text.tag",
        format!("{} is a YAML tag; tags are not used", quoted(source.slice(span))),
    )
    .label(span, "a word that starts with `!` is read as a tag")
    .help("delete it, or put the whole value in quotes")
}

pub(super) fn unknown_alias(source: &Source, span: Span) -> TextProblem {
    let alias = source.slice(span);
    TextProblem::new(
        "text.alias",
        format!("{} refers to an anchor that is not defined above it", quoted(alias)),
    )
    .label(span, "a value that starts with `*` is read as an alias")
    .help(format!(
        "if it is meant as text, put the whole value in quotes; else define `&{}` first",
        alias.trim_start_matches('*')
    ))
}

pub(super) fn own_alias(source: &Source, span: Span) -> TextProblem {
    TextProblem::new(
        "text.alias",
        format!("{} stands inside the value it refers to", quoted(source.slice(span))),
    )
    .label(span, "the value would contain itself")
    .help("write the value out")
}

pub(super) fn alias_weight(span: Span) -> TextProblem {
    TextProblem::new(
        "text.alias",
        format!(
            "anchors and aliases repeat more than the limit ALIAS_WEIGHT allows ({} values)",
            limits::ALIAS_WEIGHT
        ),
    )
    .label(span, "the limit is passed here")
    .help("write the values out, or split the file")
}

pub(super) fn depth(span: Span) -> TextProblem {
    TextProblem::new(
        "text.depth",
        format!(
            "lists and mappings are nested more than {} deep (the limit DEPTH)",
            limits::DEPTH
        ),
    )
    .label(span, "one level too many opens here")
}

pub(super) fn nodes() -> TextProblem {
    TextProblem::new(
        "text.nodes",
        format!("more than {} keys and values (the limit NODES)", limits::NODES),
    )
    .help("split the file")
}

pub(super) fn key_kind(kind: &str, span: Span) -> TextProblem {
    TextProblem::new("text.key", format!("{kind} stands where a key is expected"))
        .label(span, "a key is a text")
        .help("if it is meant as text, put it in quotes")
}

pub(super) fn merge_key(span: Span) -> TextProblem {
    TextProblem::new("text.merge_key", "the merge key `<<` is not used")
        .label(span, "nothing is merged here")
        .help("write the keys out")
}

pub(super) fn null_key(source: &Source, span: Span) -> TextProblem {
    let written = source.slice(span);
    if written.is_empty() {
        return TextProblem::new("text.key", "a key is missing in front of the colon")
            .label(span, "a key is expected here");
    }
    TextProblem::new(
        "text.key",
        format!("{} as a key means nothing in YAML", quoted(written)),
    )
    .label(span, "a key is a text")
    .help(format!("if the word itself is meant, write \"{written}\""))
}

pub(super) fn parted_item(source: &Source, span: Span) -> TextProblem {
    let whole = source.slice(span);
    TextProblem::new(
        "text.comma",
        format!("the comma in {} parts it in two", quoted(whole)),
    )
    .label(span, "inside [ ] a comma starts the next item")
    .help(format!("put the item in quotes: {}", in_quotes(whole)))
}

/// Problems for keys inside braces that have no colon: the mark a comma leaves when it parts a value.
pub(super) fn keys_alone(source: &Source, entries: &[Entry<'_>]) -> Vec<TextProblem> {
    let alone = |entry: &Entry<'_>| {
        entry.node.is_null()
            && entry.node.span.is_empty()
            && hint::lacks_colon(source, entry.key_span)
    };
    if entries.len() > 1 && entries.iter().all(|entry| alone(entry) && !entry.key.contains(':')) {
        let span = Span::join(
            entries.first().map_or(Span::default(), |entry| entry.key_span),
            entries.last().map_or(Span::default(), |entry| entry.key_span),
        );
        return vec![
            TextProblem::new("text.comma", "words without values stand inside { }")
                .label(span, "each is read as a key without a value")
                .help(format!("a list is written [{}]", source.slice(span))),
        ];
    }
    let mut problems = Vec::new();
    let mut before: Option<&Entry<'_>> = None;
    let mut run: Option<(&Entry<'_>, Span)> = None;
    for entry in entries {
        if alone(entry) {
            run = match run {
                Some((owner, span)) => Some((owner, span.join(entry.key_span))),
                None => Some((before.unwrap_or(entry), entry.key_span)),
            };
        } else {
            problems.extend(run.take().map(|(owner, span)| key_alone(source, owner, span)));
            before = Some(entry);
        }
    }
    problems.extend(run.take().map(|(owner, span)| key_alone(source, owner, span)));
    problems
}

/// `keys` stand alone; `owner` is the entry before them, or the first of them if there is none.
fn key_alone(source: &Source, owner: &Entry<'_>, keys: Span) -> TextProblem {
    let written = source.slice(keys);
    let glued = written.split_once(':').filter(|(key, value)| {
        !key.is_empty() && !value.is_empty() && !value.contains([':', ','])
    });
    if let Some((key, value)) = glued {
        return TextProblem::new("text.colon", format!("{} has no value", quoted(written)))
            .label(keys, "read as a key without a value")
            .help(format!("put a blank after the colon: `{key}: {value}`"));
    }
    let value = match &owner.node {
        Node {
            value: Value::Scalar(scalar),
            span,
            used_at: None,
            ..
        } if scalar.style == Style::Plain && owner.key_span != keys => *span,
        _ => {
            return TextProblem::new("text.comma", format!("{} has no value", quoted(written)))
                .label(keys, "inside { } this is read as a key without a value")
                .help("give it a value after a colon and a blank, or put the whole text in quotes");
        }
    };
    let whole_span = value.join(keys);
    let whole = source.slice(whole_span);
    let problem = TextProblem::new(
        "text.comma",
        format!("the comma in {} parts it in two", quoted(whole)),
    )
    .label(keys, "inside { } this is read as the next key, without a value")
    .label(value, format!("the value of {} ends here", quoted(&owner.key)));
    match decimal_comma(whole) {
        Some(point) => problem.help(format!("write the number with a point: {point}")),
        None => problem.help(format!(
            "put the value in quotes: {}: {}",
            owner.key,
            in_quotes(whole)
        )),
    }
}

/// `4,70 mm` with a point, if one comma stands between two digits and nowhere else.
fn decimal_comma(text: &str) -> Option<String> {
    let (whole, rest) = text.split_once(',')?;
    let digits = whole.ends_with(|last: char| last.is_ascii_digit())
        && rest.starts_with(|next: char| next.is_ascii_digit());
    (digits && !rest.contains(',')).then(|| format!("{whole}.{rest}"))
}

/// A text in the quotes that need no escape.
fn in_quotes(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.contains(['"', '\\']) {
        format!("'{}'", text.replace('\'', "''"))
    } else {
        format!("\"{text}\"")
    }
}

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
        ErrorKind::MismatchedFlowCollectionEnd { open, close } => TextProblem::new(
            "text.bracket",
            format!("`{open}` is closed by `{close}`"),
        )
        .label(place.letter(), format!("`{open}` opened here"))
        .help(format!("close it with `{}`", if *open == '[' { ']' } else { '}' })),
        ErrorKind::InvalidTrailingSingleQuotedScalar
        | ErrorKind::InvalidTrailingDoubleQuotedScalar => TextProblem::new(
            "text.syntax",
            format!("{} follows a text that has ended at its quote", place.rest_quoted()),
        )
        .label(place.rest(), "not part of the quoted text")
        .help(
            "put the whole value in one pair of quotes; a quote inside: \
             '' within '…', \\\" within \"…\"",
        ),
        ErrorKind::UnknownQuotedScalarEscape
        | ErrorKind::InvalidQuotedScalarHexEscape
        | ErrorKind::InvalidLowSurrogateHexEscape
        | ErrorKind::InvalidLowSurrogate
        | ErrorKind::MissingLowSurrogate
        | ErrorKind::UnpairedLowSurrogate
        | ErrorKind::InvalidUnicodeEscape => TextProblem::new(
            "text.escape",
            "an escape in this double-quoted text makes no character",
        )
        .label(place.letter(), "the text starts here")
        .help("write a backslash as `\\\\`, or use single quotes, which know no escapes"),
        ErrorKind::InvalidIndentation
        | ErrorKind::ExpectedBlockSequenceEntry
        | ErrorKind::InvalidBlockScalarIndent
        | ErrorKind::InvalidFlowScalarIndent
        | ErrorKind::SimpleKeyExpected
        | ErrorKind::InvalidSimpleKey
        | ErrorKind::ExpectedBlockMappingKey
        | ErrorKind::UnexpectedEofBlockSequence
        | ErrorKind::UnexpectedEofBlockMapping
        | ErrorKind::CommentInterceptedScalar => place.stray(),
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
        _ => TextProblem::new("text.syntax", format!("{} is not YAML here", place.rest_quoted()))
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
        self.source.text().get(self.at.start as usize..)?.chars().next()
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
        if let Some(open) = open {
            if !self.same_line(open) && !lead.contains([',', '{', '[']) {
                return self.unclosed(Some(open));
            }
        }
        // A key and its value stand in front: the colon is inside the value.
        let inner = lead.rsplit(['{', '[', ',']).next().unwrap_or(lead).trim_start();
        if let Some((key, value)) = inner.split_once(": ") {
            let text = format!("{value}{}", self.source.slice(self.rest()));
            let text = match open {
                Some(_) => text.split([',', '}', ']']).next().unwrap_or(&text).trim_end(),
                None => &text,
            };
            return TextProblem::new(
                "text.colon",
                format!("a colon and a blank stand inside the plain text {}", quoted(text)),
            )
            .label(self.letter(), "read as the end of a key")
            .help(format!("put the text in quotes: {key}: {}", clipped_quotes(text)));
        }
        if open.is_some() {
            return TextProblem::new(
                "text.colon",
                format!("a colon can't stand behind {}", quoted(inner)),
            )
            .label(self.letter(), "not expected here")
            .help("put a comma between entries, or the text in quotes");
        }
        TextProblem::new(
            "text.indentation",
            format!("the key {} can't start at this column", quoted(lead)),
        )
        .label(self.letter(), "the line goes on with the value of the line above")
        .help("start the keys of one mapping at the same column, with a blank after each colon")
    }

    fn same_line(&self, span: Span) -> bool {
        self.source.line_span(span.start) == self.line
    }

    fn unclosed(&self, open: Option<Span>) -> TextProblem {
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
            .label(self.rest(), "a key with a colon, or a list item, is expected");
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
