//! Reading single values of a record: what is good is taken without an allocation of its own, what is bad
//! becomes a fault.

use std::sync::Arc;

use super::keys::Loader;
use super::model::*;
use crate::diagnostic::{Faults, near_misses};
use crate::quantity::{Date, DateSpan, DateTime, Dimension, Exact, Quantity, QuantityProblem};
use crate::text::{self, Entry, Node, Source, Span, Style, quoted};
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

/// Where a reading may lie, whatever is plausible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Allowed {
    Any,
    AboveZero,
    FromZero,
    /// 0 deg to 180 deg.
    HalfTurn,
}

/// What is asked of a reading.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'w> {
    /// Its name in messages.
    pub what: &'w str,
    pub dimension: Dimension,
    pub allowed: Allowed,
}

impl<'w> Wanted<'w> {
    pub fn new(what: &'w str, dimension: Dimension, allowed: Allowed) -> Wanted<'w> {
        Wanted { what, dimension, allowed }
    }
}

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
    last_taken: Option<(&'a str, DateTime)>,
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
                format!("a record has at most {} places and readings", limits::VALUES),
                "the limit is passed here",
                "",
            );
        }
        self.values <= limits::VALUES
    }

    /// Whether a list is short enough.
    pub fn fits(&mut self, length: usize, what: &str, span: Span) -> bool {
        if length > limits::LIST {
            let message = format!("{} has {length} entries; at most {} are read", quoted(what), limits::LIST);
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

    /// A key that is not known here, with the nearest one that is.
    #[cold]
    pub fn unknown_among<'w>(&mut self, entry: &Entry<'_>, what: &str, known: impl Iterator<Item = &'w str> + Clone) {
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
        if entry.node.is_null() && first.len() < entry.key.len() && known.clone().any(|word| word == first) {
            help = format!("a colon and a blank part key and value: `{first}: …`");
        }
        let message = format!("{what} has no key {}", quoted(&entry.key));
        self.fault("file.unknown_key", entry.key_span, message, "not known here", help);
    }

    /// A key with nothing behind it.
    #[cold]
    pub fn nothing(&mut self, entry: &Entry<'_>, what: &str) {
        let rest = self.source.text().get(entry.key_span.end as usize..).unwrap_or("");
        let behind = rest.trim_start().strip_prefix(':').unwrap_or(rest).trim_start_matches([' ', '\t']);
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
        self.fault("file.missing_key", span, message, format!("no {} here", quoted(key)), help);
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
        let colon = node.as_text().and_then(|text| text.split_once(' ')).filter(|(word, _)| read::is_name(word));
        let help = match colon {
            Some((word, _)) => format!("a colon and a blank part key and value: `{word}: …`"),
            None if form.is_empty() => String::new(),
            None => format!("write {form}"),
        };
        self.fault(
            "file.shape",
            node.label_span(key_span),
            format!("{what} is written as keys with values; here stands {}", node.kind_in_words()),
            "not a mapping",
            help,
        );
    }

    /// A list's items; `form` is an example of how it is written.
    pub fn list<'n>(&mut self, entry: &'n Entry<'n>, what: &str, form: &str) -> Option<&'n [Node<'n>]> {
        let items = entry.node.as_sequence();
        match items {
            None => self.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!("{} is {what}; here stands {}", quoted(&entry.key), entry.node.kind_in_words()),
                "not a list",
                if form.is_empty() { String::new() } else { format!("write {form}") },
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

    pub fn free_text_in<'n>(&mut self, node: &'n Node<'n>, key_span: Option<Span>, key: &str) -> Option<&'n str> {
        let Some(scalar) = node.as_scalar() else {
            let message = format!("{} is a text; here stands {}", quoted(key), node.kind_in_words());
            self.fault("file.shape", node.label_span(key_span), message, "not a text", "");
            return None;
        };
        let text = scalar.text.as_ref();
        if text.len() > limits::TEXT {
            let message = format!("{} is a text of {} bytes; at most {} are read", quoted(key), text.len(), limits::TEXT);
            self.fault("record.too_long", node.label_span(key_span), message, "too long", "");
            return None;
        }
        if text.bytes().all(|byte| byte.is_ascii_whitespace()) {
            let message = format!("{} says nothing", quoted(key));
            self.fault("record.blank", node.label_span(key_span), message, "an empty text", "");
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
        let cut = comment.strip_prefix('#').filter(|_| comment.len() < rest.len());
        let Some(rest) = cut.filter(|rest| rest.starts_with(|next: char| !next.is_whitespace() && next != '#')) else {
            return false;
        };
        let start = self.source.text().len() - rest.len() - 1;
        let length = rest.find(['\n', '\r']).unwrap_or(rest.len());
        let message = format!("the text ends before ` #`: only {} was read", quoted(self.source.slice(span)));
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
            read::scalar(&entry.node, Some(entry.key_span), &quoted(&entry.key), form, &mut self.faults);
        }
        text
    }

    pub fn yes_no(&mut self, entry: &Entry<'_>) -> Option<bool> {
        match entry.node.as_text() {
            Some("yes" | "true") => Some(true),
            Some("no" | "false") => Some(false),
            Some(_) | None => {
                read::yes_no(&entry.node, Some(entry.key_span), &quoted(&entry.key), &mut self.faults)
            }
        }
    }

    // Days and times.

    pub fn day(&mut self, entry: &Entry<'_>) -> Option<Date> {
        let day = entry.node.as_text().and_then(|text| DateSpan::parse(text).ok());
        match day.and_then(|span| span.as_day()) {
            Some(day) => Some(day),
            None => read::day(&entry.node, Some(entry.key_span), &quoted(&entry.key), &mut self.faults),
        }
    }

    pub fn date_span(&mut self, entry: &Entry<'_>) -> Option<DateSpan> {
        match entry.node.as_text().map(DateSpan::parse) {
            Some(Ok(span)) => Some(span),
            Some(Err(_)) | None => {
                read::date_span(&entry.node, Some(entry.key_span), &quoted(&entry.key), &mut self.faults)
            }
        }
    }

    pub fn moment(&mut self, entry: &'a Entry<'a>) -> Option<DateTime> {
        let text = entry.node.as_text();
        if let (Some(text), Some((last, time))) = (text, self.last_taken)
            && text == last
        {
            return Some(time);
        }
        match text.map(DateTime::parse) {
            Some(Ok(time)) => {
                self.last_taken = text.map(|text| (text, time));
                Some(time)
            }
            Some(Err(_)) | None => {
                read::date_time(&entry.node, Some(entry.key_span), &quoted(&entry.key), &mut self.faults)
            }
        }
    }

    // Quantities.

    /// The problem of a quantity, which speaks of the measure instead of its kind alone.
    #[cold]
    pub fn quantity_problem(&mut self, mut problem: QuantityProblem, node: &Node<'_>, wanted: Wanted<'_>) {
        if self.is_full() {
            return;
        }
        let asked = format!("; {} is asked for", wanted.dimension.in_words());
        if let Some(read) = problem.message.strip_suffix(asked.as_str()) {
            problem.message = format!("{read}; {} is {}", quoted(wanted.what), wanted.dimension.in_words());
        }
        if text::parted_at_comma(self.source, node.span) {
            let whole = self.source.text().get(node.span.start as usize..).unwrap_or("");
            let whole = whole.split([']', '}', '\n']).next().unwrap_or("");
            problem = QuantityProblem::new(
                "decimal_comma",
                problem.range,
                format!("a comma in brackets parts {} in two", quoted(whole)),
            )
            .with_help("a number has a point: 4.70 mm");
        }
        read::problem(problem, node, &mut self.faults);
    }

    /// One quantity of a kind.
    pub fn quantity(&mut self, node: &Node<'_>, key_span: Option<Span>, wanted: Wanted<'_>) -> Option<Quantity> {
        let Some(text) = node.as_text() else {
            self.not_a_quantity(node, key_span, wanted);
            return None;
        };
        match Quantity::parse_as(text, wanted.dimension) {
            Ok(quantity) => self.allowed(&quantity.value, node.span, wanted).then_some(quantity),
            Err(problem) => {
                self.quantity_problem(problem, node, wanted);
                None
            }
        }
    }

    #[cold]
    fn not_a_quantity(&mut self, node: &Node<'_>, key_span: Option<Span>, wanted: Wanted<'_>) {
        let what = quoted(wanted.what);
        let message = format!("{what} is {}; here stands {}", wanted.dimension.in_words(), node.kind_in_words());
        self.fault("file.shape", node.label_span(key_span), message, "not a quantity", "");
    }

    /// Whether a value lies where such a thing can lie at all.
    pub fn allowed(&mut self, value: &Exact, span: Span, wanted: Wanted<'_>) -> bool {
        let good = match wanted.allowed {
            Allowed::Any => true,
            Allowed::AboveZero => value.signum() > 0,
            Allowed::FromZero => value.signum() >= 0,
            Allowed::HalfTurn => value.signum() >= 0 && *value <= Exact::from_integer(180),
        };
        if !good {
            self.not_allowed(span, wanted);
        }
        good
    }

    #[cold]
    fn not_allowed(&mut self, span: Span, wanted: Wanted<'_>) {
        let (rule, words) = match wanted.allowed {
            Allowed::Any => return,
            Allowed::AboveZero => (format!("{} above zero", wanted.dimension.in_words()), "not above zero"),
            Allowed::FromZero => (format!("{}, never below zero", wanted.dimension.in_words()), "below zero"),
            Allowed::HalfTurn => ("an angle from 0 deg to 180 deg".to_owned(), "outside"),
        };
        let read = self.source.slice(span).to_owned();
        let message = format!("{} was read; {} is {rule}", quoted(&read), quoted(wanted.what));
        self.fault("record.range", span, message, words, "");
    }

    /// One reading: a quantity, or a bound such as `{ more_than: 310 mm }`.
    pub fn reading(&mut self, node: &'a Node<'a>, key_span: Option<Span>, wanted: Wanted<'_>) -> Option<Reading> {
        if let Some(entries) = node.as_mapping() {
            return self.bound(node, entries, key_span, wanted);
        }
        self.quantity(node, key_span, wanted).map(|quantity| reading_of(quantity, None, node.span))
    }

    fn bound(
        &mut self,
        node: &'a Node<'a>,
        entries: &'a [Entry<'a>],
        key_span: Option<Span>,
        wanted: Wanted<'_>,
    ) -> Option<Reading> {
        const FORM: &str = "a one-sided reading is written as `{ more_than: 310 mm }`";
        take!(self, entries, "a one-sided reading"; "more_than" => more_than, "less_than" => less_than);
        let (entry, bound) = match (more_than, less_than) {
            (Some(entry), None) => (entry, ReadingBound::MoreThan),
            (None, Some(entry)) => (entry, ReadingBound::LessThan),
            (Some(_), Some(_)) => {
                let message = "a one-sided reading is more than or less than a value, not both";
                self.fault("record.bound", node.label_span(key_span), message, "two bounds", FORM);
                return None;
            }
            (None, None) => {
                if entries.is_empty() {
                    self.fault("record.bound", node.label_span(key_span), "a one-sided reading says nothing", "empty", FORM);
                }
                return None;
            }
        };
        let quantity = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
        Some(reading_of(quantity, Some(bound), entry.node.span))
    }

    /// Readings that belong together: `4.76 4.77 4.75 mm`, a list of quantities, or a bound.
    pub fn readings(&mut self, entry: &'a Entry<'a>, wanted: Wanted<'_>) -> Option<Vec<Reading>> {
        let node = &entry.node;
        if let Some(text) = node.as_text() {
            return self.readings_in_text(node, text, wanted);
        }
        let Some(items) = node.as_sequence() else {
            return self.reading(node, Some(entry.key_span), wanted).map(|reading| vec![reading]);
        };
        if items.is_empty() {
            let message = format!("{} holds no reading", quoted(&entry.key));
            self.fault("record.no_reading", node.label_span(Some(entry.key_span)), message, "an empty list", "");
            return None;
        }
        if !self.fits(items.len(), &entry.key, entry.key_span) || !self.count(items.len(), entry.key_span) {
            return None;
        }
        let mut found = Vec::with_capacity(items.len());
        for item in items {
            found.extend(self.reading(item, Some(entry.key_span), wanted));
        }
        (found.len() == items.len()).then_some(found)
    }

    fn readings_in_text(&mut self, node: &Node<'_>, text: &str, wanted: Wanted<'_>) -> Option<Vec<Reading>> {
        let blanks = text.bytes().filter(u8::is_ascii_whitespace).count();
        if blanks <= 1
            && let Ok(quantity) = Quantity::parse_as(text, wanted.dimension)
        {
            self.count(1, node.span);
            let good = self.allowed(&quantity.value, node.span, wanted);
            return good.then(|| vec![reading_of(quantity, None, node.span)]);
        }
        if !self.fits(blanks, wanted.what, node.span) || !self.count(blanks, node.span) {
            return None;
        }
        match Quantity::parse_list_all(text, Some(wanted.dimension)) {
            Ok(list) => {
                let mut found = Vec::with_capacity(list.len());
                let mut good = true;
                for (quantity, range) in list {
                    let span = node.text_span(range);
                    good &= self.allowed(&quantity.value, span, wanted);
                    found.push(reading_of(quantity, None, span));
                }
                good.then_some(found)
            }
            Err(problems) => {
                for problem in problems {
                    self.quantity_problem(problem, node, wanted);
                }
                None
            }
        }
    }
}

/// A reading from a quantity as written.
pub(super) fn reading_of(quantity: Quantity, bound: Option<ReadingBound>, span: Span) -> Reading {
    Reading { value: quantity.value, resolution: quantity.resolution, unit: quantity.unit, bound, span }
}
