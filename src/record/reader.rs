//! The state of loading a record: keys, shapes and words are taken from the tree, what is bad becomes a
//! fault. The good path allocates nothing of its own.

use std::sync::Arc;

use super::keys::Loader;
use super::model::*;
use crate::diagnostic::{Faults, near_misses};
use crate::quantity::DateTime;
use crate::text::{Entry, Node, Source, Span, Style, quoted};
use crate::vocabulary::read;

/// Limits of a record, so that hostile input costs neither memory nor time. Counted, never timed.
pub mod limits {
    /// Parts of one boat.
    pub const ITEMS: usize = 1_000;
    /// Instruments of one record.
    pub const INSTRUMENTS: usize = 200;
    /// Entries of one list: places, readings, stations, checks, notes.
    pub const LIST: usize = 1_000;
    /// Places, readings and checks of one record together.
    pub const VALUES: usize = 50_000;
    /// Bytes of one free text.
    pub const TEXT: usize = 4_000;
    /// Faults after which reading stops.
    pub const FAULTS: usize = 100;
}

/// A mapping key by key in one pass: each named key fills its slot, any other is a fault, and a key with
/// nothing behind it is another.
macro_rules! take {
    ($reader:expr, $entries:expr, $what:expr; $($key:literal => $slot:ident),+ $(,)?) => {
        $(let mut $slot = None;)+
        for entry in $entries {
            let slot = match entry.key.as_ref() {
                $($key => &mut $slot,)+
                _ => {
                    $reader.unknown_key(entry, $what, &[$($key),+]);
                    continue;
                }
            };
            if entry.node.is_null() {
                $reader.nothing(entry, $what);
            } else {
                *slot = Some(entry);
            }
        }
    };
}
pub(super) use take;

/// The state of loading one record.
pub(super) struct Reader<'a> {
    pub loader: &'a Loader<'a>,
    pub source: &'a Arc<Source>,
    pub faults: Faults,
    /// Whether this is a part of a record: ids may be absent.
    pub partial: bool,
    pub instruments: Vec<Instrument>,
    /// Where an instrument's kind of quantity can be seen, by slot; `None` once a wrong use was told.
    pub figures: Vec<Option<Span>>,
    /// The session's measurer.
    pub by: Option<&'a str>,
    values: usize,
    /// The last time that was read: most series of a session have a new one, many have the same.
    pub last_taken: Option<(&'a str, DateTime)>,
    /// Names of older versions that were read.
    pub old_names: Vec<OldName>,
    /// Names that nobody knows and that were passed over.
    pub left_out: Vec<String>,
}

impl<'a> Reader<'a> {
    pub fn new(loader: &'a Loader<'a>, source: &'a Arc<Source>, partial: bool) -> Reader<'a> {
        Reader {
            loader,
            source,
            faults: Faults::new(source),
            partial,
            instruments: Vec::new(),
            figures: Vec::new(),
            by: None,
            values: 0,
            last_taken: None,
            old_names: Vec::new(),
            left_out: Vec::new(),
        }
    }

    /// Whether enough faults were found to stop.
    pub fn is_full(&self) -> bool {
        self.faults.len() >= limits::FAULTS
    }

    #[cold]
    pub fn fault(
        &mut self,
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        words: impl Into<String>,
        help: impl Into<String>,
    ) {
        if !self.is_full() {
            self.faults.fault(code, span, message, words, help);
        }
    }

    /// Counts places and readings; false, and said once, when there are too many.
    pub fn count(&mut self, more: usize, span: Span) -> bool {
        let before = self.values;
        self.values = before.saturating_add(more);
        if self.values > limits::VALUES && before <= limits::VALUES {
            self.fault(
                "record.too_many",
                span,
                format!(
                    "a record has at most {} places and readings",
                    limits::VALUES
                ),
                "the limit is passed here",
                "",
            );
        }
        self.values <= limits::VALUES
    }

    /// Whether a list is short enough.
    pub fn fits(&mut self, length: usize, what: &str, span: Span) -> bool {
        if length > limits::LIST {
            let message = format!(
                "{} has {length} entries; at most {} are read",
                quoted(what),
                limits::LIST
            );
            self.fault("record.too_many", span, message, "too long", "");
            return false;
        }
        true
    }

    // Keys and shapes.

    #[cold]
    pub fn unknown_key(&mut self, entry: &Entry<'_>, what: &str, known: &[&str]) {
        self.unknown_among(entry, what, known.iter().copied());
    }

    /// Whether a key that is not known here may be passed over: where that is so, and where it is not nearly the name of
    /// something that is looked at and does not stand beside it.
    #[cold]
    pub fn passes_over<'w>(
        &mut self,
        entry: &Entry<'_>,
        entries: &[Entry<'_>],
        looked_at: impl Iterator<Item = &'w str>,
    ) -> bool {
        if !self.loader.unknown {
            return false;
        }
        let misspelt = near_misses(&entry.key, looked_at);
        if misspelt.is_some_and(|near| entries.iter().all(|other| other.key != near)) {
            return false;
        }
        if !self.left_out.iter().any(|known| *known == entry.key) {
            self.left_out.push(entry.key.to_string());
        }
        true
    }

    /// A key that is not known here, with the nearest one that is.
    #[cold]
    pub fn unknown_among<'w>(
        &mut self,
        entry: &Entry<'_>,
        what: &str,
        known: impl Iterator<Item = &'w str> + Clone,
    ) {
        if self.is_full() {
            return;
        }
        let mut help = match near_misses(&entry.key, known.clone()) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => {
                let mut words: Vec<&str> = known.clone().collect();
                words.sort_unstable();
                words.dedup();
                format!("{what} can have: {}", words.join(", "))
            }
        };
        let first = entry.key.split([' ', '=']).next().unwrap_or("");
        if entry.node.is_null()
            && first.len() < entry.key.len()
            && known.clone().any(|word| word == first)
        {
            help = format!("a colon and a blank part key and value: `{first}: …`");
        }
        let message = format!("{what} has no key {}", quoted(&entry.key));
        self.fault(
            "file.unknown_key",
            entry.key_span,
            message,
            "not known here",
            help,
        );
    }

    /// A key with nothing behind it.
    #[cold]
    pub fn nothing(&mut self, entry: &Entry<'_>, what: &str) {
        let rest = self
            .source
            .text()
            .get(entry.key_span.end as usize..)
            .unwrap_or("");
        let behind = rest
            .trim_start()
            .strip_prefix(':')
            .unwrap_or(rest)
            .trim_start_matches([' ', '\t']);
        let help = if behind.starts_with('#') {
            "a comment begins at #; a text that begins with # stands in quotes".to_owned()
        } else {
            format!("give it a value or leave the key out of {what}")
        };
        let message = format!("{} has nothing behind it", quoted(&entry.key));
        self.fault("file.nothing", entry.key_span, message, "no value", help);
    }

    /// The value of a key that must be there. A key that is there with nothing behind it was told before.
    pub fn require<'e>(
        &mut self,
        slot: Option<&'e Entry<'e>>,
        key: &str,
        what: &str,
        entries: &[Entry<'_>],
        span: Span,
        help: &str,
    ) -> Option<&'e Entry<'e>> {
        if slot.is_none() && !entries.iter().any(|entry| entry.key == key) {
            self.missing(key, what, span, help);
        }
        slot
    }

    #[cold]
    pub fn missing(&mut self, key: &str, what: &str, span: Span, help: &str) {
        let message = format!("{what} needs the key {}", quoted(key));
        self.fault(
            "file.missing_key",
            span,
            message,
            format!("no {} here", quoted(key)),
            help,
        );
    }

    /// A mapping's entries; `form` is an example of how it is written.
    pub fn mapping<'n>(
        &mut self,
        node: &'n Node<'n>,
        key_span: Option<Span>,
        what: &str,
        form: &str,
    ) -> Option<&'n [Entry<'n>]> {
        let entries = node.as_mapping();
        if entries.is_none() {
            self.not_a_mapping(node, key_span, what, form);
        }
        entries
    }

    #[cold]
    fn not_a_mapping(&mut self, node: &Node<'_>, key_span: Option<Span>, what: &str, form: &str) {
        let colon = node
            .as_text()
            .and_then(|text| text.split_once(' '))
            .filter(|(word, _)| read::is_name(word));
        let help = match colon {
            Some((word, _)) => format!("a colon and a blank part key and value: `{word}: …`"),
            None if form.is_empty() => String::new(),
            None => format!("write {form}"),
        };
        self.fault(
            "file.shape",
            node.label_span(key_span),
            format!(
                "{what} is written as keys with values; here stands {}",
                node.kind_in_words()
            ),
            "not a mapping",
            help,
        );
    }

    /// A list of what was read, one entry each of so many readings: not empty, and counted. `none` says what an
    /// empty one holds: `no place`.
    pub fn readings_listed<'n>(
        &mut self,
        entry: &'n Entry<'n>,
        (what, form): (&str, &str),
        none: &str,
        each: usize,
    ) -> Option<&'n [Node<'n>]> {
        let nodes = self.list(entry, what, form)?;
        if nodes.is_empty() {
            let message = format!("{} holds {none}", quoted(&entry.key));
            self.fault(
                "record.no_reading",
                entry.key_span,
                message,
                "an empty list",
                "",
            );
            return None;
        }
        let readings = nodes.len().saturating_mul(each);
        self.count(readings, entry.key_span).then_some(nodes)
    }

    /// A list's items; `form` is an example of how it is written.
    pub fn list<'n>(
        &mut self,
        entry: &'n Entry<'n>,
        what: &str,
        form: &str,
    ) -> Option<&'n [Node<'n>]> {
        let items = entry.node.as_sequence();
        match items {
            None => self.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{} is {what}; here stands {}",
                    quoted(&entry.key),
                    entry.node.kind_in_words()
                ),
                "not a list",
                if form.is_empty() {
                    String::new()
                } else {
                    format!("write {form}")
                },
            ),
            Some(items) if !self.fits(items.len(), &entry.key, entry.key_span) => return None,
            Some(_) => {}
        }
        items
    }

    // Texts and words.

    /// A free text: something that people write, kept as it is.
    pub fn free_text<'n>(&mut self, entry: &'n Entry<'n>) -> Option<&'n str> {
        self.free_text_in(&entry.node, Some(entry.key_span), &entry.key)
    }

    pub fn free_text_in<'n>(
        &mut self,
        node: &'n Node<'n>,
        key_span: Option<Span>,
        key: &str,
    ) -> Option<&'n str> {
        let Some(scalar) = node.as_scalar() else {
            let message = format!(
                "{} is a text; here stands {}",
                quoted(key),
                node.kind_in_words()
            );
            self.fault(
                "file.shape",
                node.label_span(key_span),
                message,
                "not a text",
                format!("write words behind it: `{key}: …`"),
            );
            return None;
        };
        let text = scalar.text.as_ref();
        if text.len() > limits::TEXT {
            let message = format!(
                "{} is a text of {} bytes; at most {} are read",
                quoted(key),
                text.len(),
                limits::TEXT
            );
            self.fault(
                "record.too_long",
                node.label_span(key_span),
                message,
                "too long",
                "",
            );
            return None;
        }
        if is_blank(text) {
            let message = format!("{} says nothing", quoted(key));
            self.fault(
                "record.blank",
                node.label_span(key_span),
                message,
                "an empty text",
                "write it, or leave the key out",
            );
            return None;
        }
        if scalar.style == Style::Plain && self.cut_short(node.span) {
            return None;
        }
        Some(text)
    }

    /// Whether ` #` with a letter behind it follows a plain text: YAML then ended the text there, while a
    /// comment would have a blank behind its #.
    fn cut_short(&mut self, span: Span) -> bool {
        let rest = self.source.text().get(span.end as usize..).unwrap_or("");
        let comment = rest.trim_start_matches([' ', '\t']);
        let cut = comment
            .strip_prefix('#')
            .filter(|_| comment.len() < rest.len());
        let Some(rest) =
            cut.filter(|rest| rest.starts_with(|next: char| !next.is_whitespace() && next != '#'))
        else {
            return false;
        };
        let start = self.source.text().len() - rest.len() - 1;
        let length = rest.find(['\n', '\r']).unwrap_or(rest.len());
        let message = format!(
            "the text ends before ` #`: only {} was read",
            quoted(self.source.slice(span))
        );
        self.fault(
            "record.cut_text",
            Span::new(start, start + 1 + length),
            message,
            "taken as a comment",
            "put the text in quotes, or a blank behind # if it is a comment",
        );
        true
    }

    /// A word: the scalar's text.
    pub fn word<'n>(&mut self, entry: &'n Entry<'n>, form: &str) -> Option<&'n str> {
        let text = entry.node.as_text();
        if text.is_none() {
            read::scalar(
                &entry.node,
                Some(entry.key_span),
                &quoted(&entry.key),
                form,
                &mut self.faults,
            );
        }
        text
    }

    pub fn yes_no(&mut self, entry: &Entry<'_>) -> Option<bool> {
        match entry.node.as_text().and_then(answer) {
            Some(answer) => Some(answer),
            None => read::yes_no(
                &entry.node,
                Some(entry.key_span),
                &quoted(&entry.key),
                &mut self.faults,
            ),
        }
    }
}

/// Whether a text says nothing.
pub(super) fn is_blank(text: &str) -> bool {
    text.bytes().all(|byte| byte.is_ascii_whitespace())
}

/// A yes or a no.
pub(super) fn answer(text: &str) -> Option<bool> {
    match text {
        "yes" | "true" => Some(true),
        "no" | "false" => Some(false),
        _ => None,
    }
}
