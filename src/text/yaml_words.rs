//! What the formats refuse in a YAML text that could be read, in plain words, and the values YAML
//! changed on the way. For text that can't be read see `yaml_syntax.rs`.

use super::hint;
use super::limits;
use super::node::{Entry, Node, Style, Value};
use super::problem::{TextProblem, quoted};
use super::source::{Source, Span};

pub(super) fn tag(source: &Source, span: Span) -> TextProblem {
    TextProblem::new(
        "text.tag",
        format!(
            "{} is a YAML tag; tags are not used",
            quoted(source.slice(span))
        ),
    )
    .label(span, "a word that starts with `!` is read as a tag")
    .help("delete it, or put the whole value in quotes")
}

pub(super) fn unknown_alias(source: &Source, span: Span) -> TextProblem {
    let alias = source.slice(span);
    TextProblem::new(
        "text.alias",
        format!(
            "{} refers to an anchor that is not defined above it",
            quoted(alias)
        ),
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
        format!(
            "{} stands inside the value it refers to",
            quoted(source.slice(span))
        ),
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
        format!(
            "more than {} keys and values (the limit NODES)",
            limits::NODES
        ),
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

/// A block text with nothing in it whose header has a digit: `at: >3` was meant as a value. `from` is
/// where the parser says the text stands, behind the header.
pub(super) fn swallowed(source: &Source, node: &Node<'_>, from: Span) -> Option<TextProblem> {
    let Value::Scalar(scalar) = &node.value else {
        return None;
    };
    if scalar.style != Style::Block || !scalar.text.is_empty() {
        return None;
    }
    let before = source.text().get(..from.start as usize)?.trim_end();
    let line = before.rfind('\n').map_or(0, |end| end + 1);
    let comment = before
        .get(line..)?
        .find(" #")
        .map_or(before.len(), |blank| line + blank);
    let before = before.get(..comment)?.trim_end();
    let start = before.rfind(['>', '|'])?;
    let header = before.get(start..)?;
    let digits = header
        .chars()
        .skip(1)
        .all(|letter| matches!(letter, '0'..='9' | '+' | '-'));
    (header.len() > 1 && digits).then(|| {
        let first = header.chars().next().unwrap_or('>');
        TextProblem::new(
            "text.start_character",
            format!("`{first}` here starts a text on the following lines, and none follows"),
        )
        .label(
            Span::new(start, before.len()),
            "reserved by YAML at the start of a value",
        )
        .help(format!("put the value in quotes: {}", in_quotes(header)))
    })
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
    if entries.len() > 1
        && entries
            .iter()
            .all(|entry| alone(entry) && !entry.key.contains(':'))
    {
        let span = Span::join(
            entries
                .first()
                .map_or(Span::default(), |entry| entry.key_span),
            entries
                .last()
                .map_or(Span::default(), |entry| entry.key_span),
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
        if let Some((key, value)) = glued(&entry.key).filter(|_| alone(entry)) {
            problems.push(missing_blank(&entry.key, entry.key_span, key, value));
        } else if alone(entry) {
            run = match run {
                Some((owner, span)) => Some((owner, span.join(entry.key_span))),
                None => Some((before.unwrap_or(entry), entry.key_span)),
            };
        } else {
            problems.extend(
                run.take()
                    .map(|(owner, span)| key_alone(source, owner, span)),
            );
            before = Some(entry);
        }
    }
    problems.extend(
        run.take()
            .map(|(owner, span)| key_alone(source, owner, span)),
    );
    problems
}

/// `keys` stand alone; `owner` is the entry before them, or the first of them if there is none.
fn key_alone(source: &Source, owner: &Entry<'_>, keys: Span) -> TextProblem {
    let written = source.slice(keys);
    let value =
        match &owner.node {
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
    .label(
        keys,
        "inside { } this is read as the next key, without a value",
    )
    .label(
        value,
        format!("the value of {} ends here", quoted(&owner.key)),
    );
    match decimal_comma(whole) {
        Some(point) => problem.help(format!("write the number with a point: {point}")),
        None => problem.help(format!(
            "put the value in quotes: {}: {}",
            owner.key,
            in_quotes(whole)
        )),
    }
}

/// Key and value of `key:value`, where a blank is missing; a name is wanted in front, so that a time
/// of day is none.
pub(super) fn glued(text: &str) -> Option<(&str, &str)> {
    let (key, value) = text.split_once(':')?;
    let name = key.starts_with(|first: char| first.is_alphabetic())
        && key
            .chars()
            .all(|letter| letter.is_alphanumeric() || letter == '_');
    (name && value.starts_with(|first: char| !first.is_whitespace() && first != '/'))
        .then_some((key, value))
}

pub(super) fn missing_blank(written: &str, span: Span, key: &str, value: &str) -> TextProblem {
    TextProblem::new(
        "text.colon",
        format!(
            "{} is read as one text, not as a key and its value",
            quoted(written)
        ),
    )
    .label(span, "no blank behind the colon")
    .help(format!("put a blank behind it: {key}: {value}"))
}

/// `4,70 mm` with a point, if one comma stands between two digits and nowhere else.
fn decimal_comma(text: &str) -> Option<String> {
    let (whole, rest) = text.split_once(',')?;
    let digits = whole.ends_with(|last: char| last.is_ascii_digit())
        && rest.starts_with(|next: char| next.is_ascii_digit());
    (digits && !rest.contains(',')).then(|| format!("{whole}.{rest}"))
}

/// A text in the quotes that need no escape.
pub(super) fn in_quotes(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.contains(['"', '\\']) {
        format!("'{}'", text.replace('\'', "''"))
    } else {
        format!("\"{text}\"")
    }
}
