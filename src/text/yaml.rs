//! YAML to the tree: the events of the parser become nodes, with limits and refusals of our own. Texts
//! written in the ordinary way don't need it: see `ordinary`.
//!
//! The tree is built without recursion. Children wait on two shared stacks until their collection
//! ends and are then moved into a vector of the exact size, which keeps memory close to what the tree
//! itself needs. Besides syntax, this refuses what the formats do without: tags, merge keys,
//! directives, keys that are no text, and keys given twice.

use std::borrow::Cow;
use std::collections::BTreeMap;

use smallvec::SmallVec;

use granit_parser::{ErrorKind, Event, Parser, ScalarStyle, StructureStyle};

use super::decode::too_large;
use super::node::{Entry, Node, Scalar, Style, Value};
use super::problem::{TextProblem, quoted, too_many};
use super::source::{Source, Span};
use super::{hint, limits, ordinary, yaml_syntax, yaml_words};

/// Reads one document. An empty file, one with comments only, and an empty document give
/// [`Value::Null`]; whether the root is of the right kind is the caller's question.
///
/// # Errors
/// All problems found, in the order of the text; reading goes on after those that leave the
/// structure intact and stops at broken syntax or a limit.
pub fn parse_yaml(source: &Source) -> Result<Node<'_>, Vec<TextProblem>> {
    match ordinary::read(source) {
        Some(root) => Ok(root),
        None => parse_whole(source),
    }
}

/// Reads one document with the parser of the whole language.
pub(super) fn parse_whole(source: &Source) -> Result<Node<'_>, Vec<TextProblem>> {
    let mut roots = read(source, 1)?;
    Ok(roots.pop().unwrap_or(Node::new(Value::Null, Span::at(0))))
}

/// Reads a stream of documents parted by `---`; an empty file gives none.
///
/// # Errors
/// As [`parse_yaml`].
pub fn parse_yaml_documents(source: &Source) -> Result<Vec<Node<'_>>, Vec<TextProblem>> {
    read(source, usize::MAX)
}

fn read(source: &Source, documents: usize) -> Result<Vec<Node<'_>>, Vec<TextProblem>> {
    let text = source.text();
    if text.len() > limits::DOCUMENT_BYTES {
        let problem = too_large("document", text.len(), limits::DOCUMENT_BYTES);
        return Err(vec![problem]);
    }
    let options = granit_parser::options! {
        emit_comments: false,
        emit_unresolved_aliases: true,
        disallow_directives: true,
        flow_nesting_limit: limits::DEPTH,
        block_nesting_limit: limits::DEPTH,
    };
    let mut parser = Parser::new_from_str_with_options(text, options);
    let mut builder = Builder::new(source, documents);
    while let Some(next) = parser.next_event() {
        let step = match next {
            Ok((event, span)) => builder.event(event, &span),
            Err(error) => {
                let at = error.marker().byte_offset().unwrap_or(text.len());
                builder.syntax(error.kind(), at)
            }
        };
        if step.is_err() {
            break;
        }
    }
    builder.finish()
}

/// Reading can't go on; the problem has been noted.
struct Stop;

/// What the next scalar in an open mapping is.
enum Key<'s> {
    Awaited,
    Known(Cow<'s, str>, Span),
    /// A key that was refused: its value is read and dropped.
    Refused,
}

enum Kind<'s> {
    Sequence,
    Mapping(Key<'s>),
}

/// An open collection. Its children stand on the shared stacks from `first` on.
struct Frame<'s> {
    kind: Kind<'s>,
    first: usize,
    flow: bool,
    start: Span,
    start_line: usize,
    /// End of the last child, for block collections.
    end: u32,
    anchor: usize,
}

/// A finished node behind an anchor.
struct Anchored<'s> {
    node: Node<'s>,
    weight: usize,
    height: usize,
}

struct Builder<'s> {
    source: &'s Source,
    documents: usize,
    problems: Vec<TextProblem>,
    roots: Vec<Node<'s>>,
    started: usize,
    frames: Vec<Frame<'s>>,
    items: Vec<Node<'s>>,
    entries: Vec<Entry<'s>>,
    anchors: BTreeMap<usize, Anchored<'s>>,
    nodes: usize,
    weight: usize,
}

impl<'s> Builder<'s> {
    fn new(source: &'s Source, documents: usize) -> Builder<'s> {
        Builder {
            source,
            documents,
            problems: Vec::new(),
            roots: Vec::new(),
            started: 0,
            frames: Vec::new(),
            items: Vec::new(),
            entries: Vec::new(),
            anchors: BTreeMap::new(),
            nodes: 0,
            weight: 0,
        }
    }

    fn finish(self) -> Result<Vec<Node<'s>>, Vec<TextProblem>> {
        if self.problems.is_empty() {
            Ok(self.roots)
        } else {
            Err(self.problems)
        }
    }

    fn event(&mut self, event: Event<'s>, at: &granit_parser::Span) -> Result<(), Stop> {
        let span = at
            .byte_range()
            .map_or(Span::at(0), |range| Span::new(range.start, range.end));
        let tagged = event.tag().is_some();
        if tagged {
            let tag = at.tag_span().and_then(|tag| tag.byte_range());
            let tag = tag.map_or(span, |range| Span::new(range.start, range.end));
            self.problem(yaml_words::tag(self.source, tag))?;
        }
        match event {
            Event::DocumentStart(..) => self.document(span),
            Event::Scalar(text, style, anchor, _) => {
                self.count()?;
                // A refused `!` before nothing leaves an empty text that is no null.
                let node = self.scalar(text, style, at, span);
                if let Some(problem) = yaml_words::swallowed(self.source, &node, span) {
                    self.problem(problem)?;
                }
                self.finished(node, anchor)
            }
            Event::SequenceStart(style, anchor, _) => {
                self.open(Kind::Sequence, style, anchor, at, span)
            }
            Event::MappingStart(style, anchor, _) => {
                self.open(Kind::Mapping(Key::Awaited), style, anchor, at, span)
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(at, span),
            Event::Alias(id) => self.alias(id, span),
            Event::UnresolvedAlias(_) => {
                self.count()?;
                self.problem(yaml_words::unknown_alias(self.source, span))?;
                self.finished(Node::new(Value::Null, span), 0)
            }
            // Starts and ends of the stream and of documents carry nothing; kinds added by a later
            // parser would be presentation, which has to be switched on.
            _ => Ok(()),
        }
    }

    fn document(&mut self, span: Span) -> Result<(), Stop> {
        self.started += 1;
        self.anchors.clear();
        if self.started <= self.documents {
            return Ok(());
        }
        let place = if span.is_empty() {
            self.source.line_span(span.start)
        } else {
            span
        };
        self.problem(
            TextProblem::new("text.documents", "the file holds more than one document")
                .label(place, "a second document starts here")
                .help("keep one document in the file; the lines `---` and `...` part documents"),
        )?;
        Err(Stop)
    }

    fn scalar(
        &self,
        text: Cow<'s, str>,
        style: ScalarStyle,
        at: &granit_parser::Span,
        span: Span,
    ) -> Node<'s> {
        let style = match style {
            ScalarStyle::Plain => Style::Plain,
            ScalarStyle::SingleQuoted | ScalarStyle::DoubleQuoted => Style::Quoted,
            ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
        };
        let null = span.is_empty() || matches!(text.as_ref(), "~" | "null" | "Null" | "NULL");
        if style == Style::Plain && null {
            return Node::new(Value::Null, span);
        }
        let written = self.source.slice(span);
        let (span, one_line, verbatim) = match style {
            Style::Plain => (span, at.start.line() == at.end.line(), text == written),
            Style::Quoted => {
                let inner = written.get(1..written.len().saturating_sub(1));
                (
                    span,
                    at.start.line() == at.end.line(),
                    inner == Some(text.as_ref()),
                )
            }
            Style::Block => {
                // The parser's span runs on to the next token.
                let lead = written.len() - written.trim_start().len();
                let span = span.sub(lead..written.trim_end().len());
                let written = written.trim();
                (span, !written.contains('\n'), text.trim_end() == written)
            }
        };
        let mut node = Node::new(Value::Scalar(Scalar { text, style }), span);
        node.one_line = one_line;
        node.verbatim = verbatim;
        node
    }

    fn open(
        &mut self,
        kind: Kind<'s>,
        style: StructureStyle,
        anchor: usize,
        at: &granit_parser::Span,
        span: Span,
    ) -> Result<(), Stop> {
        self.count()?;
        if self.frames.len() >= limits::DEPTH {
            return self.fatal(yaml_words::depth(span));
        }
        if self.key_awaited() {
            self.problem(yaml_words::key_kind(kind_words(&kind), span))?;
        }
        self.frames.push(Frame {
            first: match kind {
                Kind::Sequence => self.items.len(),
                Kind::Mapping(_) => self.entries.len(),
            },
            kind,
            flow: style == StructureStyle::Flow,
            start: span,
            start_line: at.start.line(),
            end: span.end,
            anchor,
        });
        Ok(())
    }

    fn close(&mut self, at: &granit_parser::Span, span: Span) -> Result<(), Stop> {
        let Some(frame) = self.frames.pop() else {
            return Ok(());
        };
        let value = match frame.kind {
            Kind::Sequence => {
                let items = take_from(&mut self.items, frame.first);
                if frame.flow
                    && let Some(parted) = hint::parted_parenthesis(&items)
                {
                    self.problem(yaml_words::parted_item(self.source, parted))?;
                }
                Value::Sequence(items)
            }
            Kind::Mapping(_) => {
                let entries = take_from(&mut self.entries, frame.first);
                for problem in duplicate_keys(&entries) {
                    self.problem(problem)?;
                }
                if frame.flow {
                    for problem in yaml_words::keys_alone(self.source, &entries) {
                        self.problem(problem)?;
                    }
                }
                Value::Mapping(entries)
            }
        };
        let end = if frame.flow { span.end } else { frame.end };
        let mut node = Node::new(
            value,
            Span {
                start: frame.start.start,
                end: end.max(frame.start.start),
            },
        );
        node.one_line = frame.flow && frame.start_line == at.end.line();
        self.finished(node, frame.anchor)
    }

    fn alias(&mut self, id: usize, span: Span) -> Result<(), Stop> {
        self.count()?;
        if self.key_awaited() {
            self.problem(yaml_words::key_kind("an alias", span))?;
            return self.finished(Node::new(Value::Null, span), 0);
        }
        let Some(anchored) = self.anchors.get(&id) else {
            // An anchor is known when its node ends: this one is inside its own node.
            self.problem(yaml_words::own_alias(self.source, span))?;
            return self.finished(Node::new(Value::Null, span), 0);
        };
        self.weight = self.weight.saturating_add(anchored.weight);
        if self.weight > limits::ALIAS_WEIGHT {
            return self.fatal(yaml_words::alias_weight(span));
        }
        if self.frames.len() + anchored.height > limits::DEPTH {
            return self.fatal(yaml_words::depth(span));
        }
        let mut node = anchored.node.clone();
        node.used_at = Some(span);
        self.finished(node, 0)
    }

    /// A whole value has been read: it goes to its collection, or is the root.
    fn finished(&mut self, node: Node<'s>, anchor: usize) -> Result<(), Stop> {
        if anchor != 0 {
            let (weight, height) = measure(&node);
            self.weight = self.weight.saturating_add(weight);
            if self.weight > limits::ALIAS_WEIGHT {
                return self.fatal(yaml_words::alias_weight(node.span));
            }
            let node = node.clone();
            self.anchors.insert(
                anchor,
                Anchored {
                    node,
                    weight,
                    height,
                },
            );
        }
        let site = node.used_at.unwrap_or(node.span);
        let Some(frame) = self.frames.last_mut() else {
            self.roots.push(node);
            return Ok(());
        };
        frame.end = frame.end.max(site.end);
        let key = match &mut frame.kind {
            Kind::Sequence => {
                self.items.push(node);
                return Ok(());
            }
            Kind::Mapping(key) => key,
        };
        match std::mem::replace(key, Key::Awaited) {
            Key::Known(name, key_span) => {
                self.entries.push(Entry {
                    key: name,
                    key_span,
                    node,
                });
                Ok(())
            }
            Key::Refused => Ok(()),
            Key::Awaited => {
                let refusal = match node.value {
                    Value::Scalar(scalar)
                        if scalar.style == Style::Plain && scalar.text == "<<" =>
                    {
                        Some(yaml_words::merge_key(node.span))
                    }
                    Value::Scalar(scalar) => {
                        *key = Key::Known(scalar.text, node.span);
                        return Ok(());
                    }
                    Value::Null
                        if node.span == site && self.source.slice(site).starts_with('*') =>
                    {
                        None
                    }
                    Value::Null => Some(yaml_words::null_key(self.source, node.span)),
                    // Said when the collection began.
                    Value::Sequence(_) | Value::Mapping(_) => None,
                };
                *key = Key::Refused;
                refusal.map_or(Ok(()), |problem| self.problem(problem))
            }
        }
    }

    fn key_awaited(&self) -> bool {
        self.frames
            .last()
            .is_some_and(|frame| matches!(frame.kind, Kind::Mapping(Key::Awaited)))
    }

    fn count(&mut self) -> Result<(), Stop> {
        self.nodes += 1;
        if self.nodes > limits::NODES {
            return self.fatal(yaml_words::nodes());
        }
        Ok(())
    }

    fn syntax(&mut self, kind: &ErrorKind, at: usize) -> Result<(), Stop> {
        let at = Span::at(at);
        // A pair without braces inside a list (`[at: 0 mm]`) starts at no bracket.
        let bracket = |frame: &&Frame<'s>| frame.flow && !frame.start.is_empty();
        let open = self.frames.iter().rev().find(bracket);
        let open = open.map(|frame| frame.start.sub(0..1));
        let line = self.source.line_index(at.start);
        // What is already said about this line is the cause of the broken syntax behind it.
        let said = self.problems.iter().any(|problem| {
            problem
                .labels
                .first()
                .is_some_and(|(span, _)| self.source.line_index(span.start) == line)
        });
        if !said {
            self.problems
                .push(yaml_syntax::syntax(self.source, kind, at, open));
        }
        Err(Stop)
    }

    fn problem(&mut self, problem: TextProblem) -> Result<(), Stop> {
        self.problems.push(problem);
        if self.problems.len() < limits::PROBLEMS {
            return Ok(());
        }
        self.problems.push(too_many());
        Err(Stop)
    }

    fn fatal(&mut self, problem: TextProblem) -> Result<(), Stop> {
        self.problems.push(problem);
        Err(Stop)
    }
}

fn kind_words(kind: &Kind<'_>) -> &'static str {
    match kind {
        Kind::Sequence => "a list",
        Kind::Mapping(_) => "a mapping",
    }
}

/// Moves the tail of a stack into a vector of the exact size.
pub(super) fn take_from<T>(stack: &mut Vec<T>, first: usize) -> Vec<T> {
    /// From here on two copies at a time would cost more memory than they save work.
    const MANY: usize = 4096;
    let count = stack.len().saturating_sub(first);
    if count <= MANY {
        return stack.split_off(stack.len() - count);
    }
    if first == 0 {
        let mut all = std::mem::take(stack);
        all.shrink_to_fit();
        return all;
    }
    let mut taken = Vec::with_capacity(count);
    while stack.len() > first {
        let from = stack.len().saturating_sub(MANY).max(first);
        taken.extend(stack.drain(from..).rev());
        stack.shrink_to(from);
    }
    taken.reverse();
    taken
}

/// One problem for each key that is already in the mapping, with both places.
pub(super) fn duplicate_keys(entries: &[Entry<'_>]) -> Vec<TextProblem> {
    /// Up to here comparing each with each is cheaper than sorting.
    const FEW: usize = 12;
    let problem = |first: &Entry<'_>, again: &Entry<'_>| {
        TextProblem::new(
            "text.duplicate_key",
            format!(
                "the key {} is given twice in one mapping",
                quoted(&again.key)
            ),
        )
        .label(again.key_span, "given again here")
        .label(first.key_span, "first given here")
        .help("keep one of the two")
    };
    if all_differ(entries) {
        return Vec::new();
    }
    let mut problems = Vec::new();
    if entries.len() <= FEW {
        for (index, again) in entries.iter().enumerate() {
            if let Some(first) = entries
                .iter()
                .take(index)
                .find(|first| first.key == again.key)
            {
                problems.push(problem(first, again));
            }
        }
        return problems;
    }
    let mut order: Vec<&Entry<'_>> = entries.iter().collect();
    order.sort_by(|a, b| a.key.cmp(&b.key));
    let mut first: Option<&Entry<'_>> = None;
    for entry in order {
        match first {
            Some(known) if known.key == entry.key => {
                if problems.len() < limits::PROBLEMS {
                    problems.push(problem(known, entry));
                }
            }
            _ => first = Some(entry),
        }
    }
    problems.sort_by_key(|problem| problem.labels.first().map(|(span, _)| *span));
    problems
}

/// Whether a glance is enough to see that no two keys are the same: length, first, middle and last letter
/// together. Keys that share all four need a closer look.
fn all_differ(entries: &[Entry<'_>]) -> bool {
    let glance = |entry: &Entry<'_>| {
        let key = entry.key.as_bytes();
        let at = |at: usize| key.get(at).copied().unwrap_or(0);
        let (middle, last) = (key.len() / 2, key.len().wrapping_sub(1));
        let length = u8::try_from(key.len()).unwrap_or(u8::MAX);
        u32::from_le_bytes([length, at(0), at(middle), at(last)])
    };
    let mut seen: SmallVec<[u32; 32]> = SmallVec::new();
    entries.len() <= seen.inline_size()
        && entries.iter().map(glance).all(|glance| {
            let new = !seen.contains(&glance);
            seen.push(glance);
            new
        })
}

/// Weight (see [`limits::ALIAS_WEIGHT`]) and height (collections inside one another) of a tree. The
/// recursion is as deep as the tree, which is bounded.
fn measure(node: &Node<'_>) -> (usize, usize) {
    let text = |text: &str| 1 + text.len() / 40;
    match &node.value {
        Value::Null => (1, 0),
        Value::Scalar(scalar) => (text(&scalar.text), 0),
        Value::Sequence(items) => items
            .iter()
            .map(measure)
            .fold((1, 1), |sum, item| (sum.0 + item.0, sum.1.max(item.1 + 1))),
        Value::Mapping(entries) => entries.iter().fold((1, 1), |sum, entry| {
            let (weight, height) = measure(&entry.node);
            (sum.0 + text(&entry.key) + weight, sum.1.max(height + 1))
        }),
    }
}
