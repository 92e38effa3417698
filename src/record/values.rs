//! Reading single values: days and times, quantities, readings.

use super::model::*;
use super::reader::{Reader, take};
use crate::quantity::{Date, DateSpan, DateTime, Dimension, Exact, Quantity, QuantityProblem};
use crate::text::{self, Entry, Node, Span, quoted};
use crate::vocabulary::read;

/// Where a reading may lie, whatever is plausible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Allowed {
    Any,
    AboveZero,
    FromZero,
    /// 0 deg to 180 deg.
    HalfTurn,
}

impl Allowed {
    /// Whether a value lies there.
    pub fn holds(self, value: &Exact) -> bool {
        match self {
            Allowed::Any => true,
            Allowed::AboveZero => value.signum() > 0,
            Allowed::FromZero => value.signum() >= 0,
            Allowed::HalfTurn => value.signum() >= 0 && *value <= Exact::from_integer(180),
        }
    }

    /// What is asked of a value that does not lie there, and what to say of it.
    pub fn refuses(self, value: &Exact, dimension: Dimension) -> Option<(String, &'static str)> {
        match self.holds(value) {
            true => None,
            false => self.in_words(dimension),
        }
    }

    /// What is asked, and what to say of a value that does not lie there.
    fn in_words(self, dimension: Dimension) -> Option<(String, &'static str)> {
        match self {
            Allowed::Any => None,
            Allowed::AboveZero => Some((
                format!("{} above zero", dimension.in_words()),
                "not above zero",
            )),
            // Below 0 degC it freezes; below absolute zero nothing is measured.
            Allowed::FromZero if dimension == Dimension::TEMPERATURE => Some((
                "a temperature above absolute zero, -273.15 degC".to_owned(),
                "below absolute zero",
            )),
            Allowed::FromZero => Some((
                format!("{}, never below zero", dimension.in_words()),
                "below zero",
            )),
            Allowed::HalfTurn => Some(("an angle from 0 deg to 180 deg".to_owned(), "outside")),
        }
    }
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
        Wanted {
            what,
            dimension,
            allowed,
        }
    }
}

impl<'a> Reader<'a> {
    // Days and times.

    pub fn day(&mut self, entry: &Entry<'_>) -> Option<Date> {
        let day = entry
            .node
            .as_text()
            .and_then(|text| DateSpan::parse(text).ok());
        match day.and_then(|span| span.as_day()) {
            Some(day) => Some(day),
            None => read::day(
                &entry.node,
                Some(entry.key_span),
                &quoted(&entry.key),
                &mut self.faults,
            ),
        }
    }

    pub fn date_span(&mut self, entry: &Entry<'_>) -> Option<DateSpan> {
        match entry.node.as_text().map(DateSpan::parse) {
            Some(Ok(span)) => Some(span),
            Some(Err(_)) | None => read::date_span(
                &entry.node,
                Some(entry.key_span),
                &quoted(&entry.key),
                &mut self.faults,
            ),
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
            Some(Err(_)) | None => read::date_time(
                &entry.node,
                Some(entry.key_span),
                &quoted(&entry.key),
                &mut self.faults,
            ),
        }
    }

    // Quantities.

    /// The problem of a quantity, which speaks of the measure instead of its kind alone.
    #[cold]
    pub fn quantity_problem(
        &mut self,
        mut problem: QuantityProblem,
        node: &Node<'_>,
        wanted: Wanted<'_>,
    ) {
        if self.is_full() {
            return;
        }
        let asked = format!("; {} is asked for", wanted.dimension.in_words());
        if let Some(read) = problem.message.strip_suffix(asked.as_str()) {
            problem.message = format!(
                "{read}; {} is {}",
                quoted(wanted.what),
                wanted.dimension.in_words()
            );
        }
        if text::parted_at_comma(self.source, node.span) {
            let whole = self
                .source
                .text()
                .get(node.span.start as usize..)
                .unwrap_or("");
            let whole = whole.split([']', '}', '\n']).next().unwrap_or("");
            problem = QuantityProblem::new(
                "quantity.decimal_comma",
                problem.range,
                format!("a comma in brackets parts {} in two", quoted(whole)),
            )
            .with_help("a number has a point: 4.70 mm");
        }
        read::problem(problem, node, &mut self.faults);
    }

    /// One quantity of a kind.
    pub fn quantity(
        &mut self,
        node: &Node<'_>,
        key_span: Option<Span>,
        wanted: Wanted<'_>,
    ) -> Option<Quantity> {
        let Some(text) = node.as_text() else {
            self.not_a_quantity(node, key_span, wanted);
            return None;
        };
        match Quantity::parse_as(text, wanted.dimension) {
            Ok(quantity) => self
                .allowed(&quantity.value, node.span, wanted)
                .then_some(quantity),
            Err(problem) => {
                self.quantity_problem(problem, node, wanted);
                None
            }
        }
    }

    #[cold]
    fn not_a_quantity(&mut self, node: &Node<'_>, key_span: Option<Span>, wanted: Wanted<'_>) {
        let what = quoted(wanted.what);
        let message = format!(
            "{what} is {}; here stands {}",
            wanted.dimension.in_words(),
            node.kind_in_words()
        );
        self.fault(
            "file.shape",
            node.label_span(key_span),
            message,
            "not a quantity",
            "",
        );
    }

    /// Whether a value lies where such a thing can lie at all.
    pub fn allowed(&mut self, value: &Exact, span: Span, wanted: Wanted<'_>) -> bool {
        let good = wanted.allowed.holds(value);
        if !good {
            self.not_allowed(span, wanted);
        }
        good
    }

    #[cold]
    fn not_allowed(&mut self, span: Span, wanted: Wanted<'_>) {
        let Some((rule, words)) = wanted.allowed.in_words(wanted.dimension) else {
            return;
        };
        let read = self.source.slice(span).to_owned();
        let message = format!(
            "{} was read; {} is {rule}",
            quoted(&read),
            quoted(wanted.what)
        );
        self.fault("record.range", span, message, words, "");
    }

    /// One reading: a quantity, or a bound such as `{ more_than: 310 mm }`.
    pub fn reading(
        &mut self,
        node: &'a Node<'a>,
        key_span: Option<Span>,
        wanted: Wanted<'_>,
    ) -> Option<Reading> {
        if let Some(entries) = node.as_mapping() {
            return self.bound(node, entries, key_span, wanted);
        }
        self.quantity(node, key_span, wanted)
            .map(|quantity| reading_of(quantity, None, node.span))
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
                self.fault(
                    "record.bound",
                    node.label_span(key_span),
                    message,
                    "two bounds",
                    FORM,
                );
                return None;
            }
            (None, None) => {
                if entries.is_empty() {
                    self.fault(
                        "record.bound",
                        node.label_span(key_span),
                        "a one-sided reading says nothing",
                        "quantity.empty",
                        FORM,
                    );
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
            return self
                .reading(node, Some(entry.key_span), wanted)
                .map(|reading| vec![reading]);
        };
        if items.is_empty() {
            let message = format!("{} holds no reading", quoted(&entry.key));
            self.fault(
                "record.no_reading",
                node.label_span(Some(entry.key_span)),
                message,
                "an empty list",
                "",
            );
            return None;
        }
        if !self.fits(items.len(), &entry.key, entry.key_span)
            || !self.count(items.len(), entry.key_span)
        {
            return None;
        }
        let mut found = Vec::with_capacity(items.len());
        for item in items {
            found.extend(self.reading(item, Some(entry.key_span), wanted));
        }
        (found.len() == items.len()).then_some(found)
    }

    pub fn readings_in_text(
        &mut self,
        node: &Node<'_>,
        text: &str,
        wanted: Wanted<'_>,
    ) -> Option<Vec<Reading>> {
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
    Reading {
        value: quantity.value,
        resolution: quantity.resolution,
        unit: quantity.unit,
        bound,
        span,
    }
}
