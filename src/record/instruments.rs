//! Instruments with their errors, calibration and field checks.

use super::model::*;
use super::reader::{Reader, limits, take};
use super::values::{Allowed, Wanted};
use crate::quantity::{Dimension, Exact, Quantity, Unit};
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::{Vocabulary, read};

/// The word in `with` for a reading without uncertainty.
pub(super) const EXACT: &str = "exact";

const FORM: &str = "`mic_2: { kind: micrometer, resolution: 0.01 mm }`";

/// The kind of quantity of an instrument's figures: that of the first one read.
#[derive(Clone, Copy)]
struct Figures<'k> {
    key: &'k str,
    first: Option<(Dimension, Unit, Span)>,
}

impl<'a> Reader<'a> {
    /// All instruments, into their slots.
    pub(super) fn read_instruments(&mut self, entry: &'a Entry<'a>) {
        let Some(entries) = self.mapping(&entry.node, Some(entry.key_span), "`instruments`", FORM)
        else {
            return;
        };
        self.instruments
            .reserve(entries.len().min(limits::INSTRUMENTS));
        self.figures.reserve(entries.len().min(limits::INSTRUMENTS));
        for entry in entries {
            if self.is_full() {
                return;
            }
            if self.instruments.len() >= limits::INSTRUMENTS {
                let message = format!("a record has at most {} instruments", limits::INSTRUMENTS);
                self.fault(
                    "record.too_many",
                    entry.key_span,
                    message,
                    "the limit is passed here",
                    "",
                );
                return;
            }
            let (instrument, figures) = self.instrument(entry);
            // One that is faulty keeps its slot, so that the series that name it are not faults too.
            self.instruments.push(instrument);
            self.figures.push(figures);
        }
    }

    fn instrument(&mut self, entry: &'a Entry<'a>) -> (Instrument, Option<Span>) {
        const WHAT: &str = "an instrument";
        let key = entry.key.as_ref();
        let mut found = unsaid(key, entry.key_span);
        if !can_name(key) {
            let message = format!("{} can't name an instrument", quoted(key));
            let help = if key == EXACT {
                "`with: exact` stands for a reading without uncertainty"
            } else {
                "a name has small letters, digits and _, and begins with a letter"
            };
            self.fault("name.form", entry.key_span, message, "not a name", help);
        }
        if entry.node.is_null() {
            self.nothing(entry, "`instruments`");
            return (found, None);
        }
        let Some(entries) = self.mapping(&entry.node, Some(entry.key_span), WHAT, FORM) else {
            return (found, None);
        };
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT;
            "kind" => kind, "serial" => serial, "resolution" => resolution,
            "max_permissible_error" => max_permissible_error, "repeatability" => repeatability,
            "calibration" => calibration, "checks" => checks, "study" => study,
        );
        if let Some(kind) = self.require(
            kind,
            "kind",
            WHAT,
            entries,
            span,
            "write `kind: micrometer`",
        ) && let Some(word) = self.kind(kind)
        {
            word.clone_into(&mut found.kind);
            found.method = self.loader.vocabulary.method_named(word);
        }
        found.serial = serial
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        let mut figures = Figures { key, first: None };
        found.resolution = self.figure(resolution, Allowed::AboveZero, &mut figures);
        found.max_permissible_error =
            self.figure(max_permissible_error, Allowed::FromZero, &mut figures);
        found.repeatability = self.figure(repeatability, Allowed::FromZero, &mut figures);
        found.calibration = calibration.and_then(|entry| self.calibration(entry, &mut figures));
        found.checks = checks
            .map(|entry| self.checks(entry, &mut figures))
            .unwrap_or_default();
        found.study = study
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        found.dimension = figures.first.map(|(dimension, _, _)| dimension);
        found.unit = figures.first.map(|(_, unit, _)| unit);
        (found, figures.first.map(|(_, _, span)| span))
    }

    fn kind(&mut self, entry: &'a Entry<'a>) -> Option<&'a str> {
        let word = self.word(entry, "one word such as micrometer")?;
        let vocabulary = self.loader.vocabulary;
        if can_be_kind(word, vocabulary) {
            return Some(word);
        }
        let unnamed = vocabulary.method_named(word) == Some(Vocabulary::UNNAMED);
        let help = if unnamed {
            "`unnamed` stands for a reading that names no instrument"
        } else {
            "one word of small letters, digits and _, such as `depth_calliper`"
        };
        let message = format!("{} can't be the kind of an instrument", quoted(word));
        self.fault(
            "name.form",
            entry.node.label_span(Some(entry.key_span)),
            message,
            "not a kind",
            help,
        );
        None
    }

    /// A figure of an instrument as a difference: all of one instrument are of one kind of quantity.
    fn figure(
        &mut self,
        entry: Option<&'a Entry<'a>>,
        allowed: Allowed,
        figures: &mut Figures<'_>,
    ) -> Option<Exact> {
        self.figure_quantity(entry?, allowed, figures)
            .map(|quantity| quantity.difference())
    }

    fn figure_quantity(
        &mut self,
        entry: &'a Entry<'a>,
        allowed: Allowed,
        figures: &mut Figures<'_>,
    ) -> Option<Quantity> {
        let what = entry.key.as_ref();
        if let Some((dimension, _, _)) = figures.first {
            let before = self.faults.len();
            let quantity =
                self.quantity_of_difference(entry, Wanted::new(what, dimension, allowed));
            if quantity.is_none() && self.faults.len() > before {
                self.other_kind(entry, figures);
            }
            return quantity;
        }
        let node = &entry.node;
        let text = self.word(entry, "a number with its unit")?;
        match Quantity::parse(text) {
            Ok(quantity) => {
                let wanted = Wanted::new(what, quantity.dimension(), allowed);
                figures.first = Some((
                    quantity.dimension(),
                    quantity.unit,
                    node.label_span(Some(entry.key_span)),
                ));
                self.allowed(&quantity.difference(), node.span, wanted)
                    .then_some(quantity)
            }
            Err(problem) => {
                read::problem(problem, node, &mut self.faults);
                None
            }
        }
    }

    /// A quantity whose size counts as a difference: `-0.5 degC` as a correction is below zero.
    fn quantity_of_difference(
        &mut self,
        entry: &'a Entry<'a>,
        wanted: Wanted<'_>,
    ) -> Option<Quantity> {
        let any = Wanted {
            allowed: Allowed::Any,
            ..wanted
        };
        let quantity = self.quantity(&entry.node, Some(entry.key_span), any)?;
        self.allowed(&quantity.difference(), entry.node.span, wanted)
            .then_some(quantity)
    }

    /// Adds to the last fault, if it speaks of another kind of quantity, where the first figure stands.
    #[cold]
    fn other_kind(&mut self, entry: &Entry<'_>, figures: &Figures<'_>) {
        let Some((dimension, _, span)) = figures.first else {
            return;
        };
        let read = entry
            .node
            .as_text()
            .and_then(|text| Quantity::parse(text).ok());
        if read.is_some_and(|quantity| quantity.dimension() != dimension) {
            self.faults.also(
                span,
                format!(
                    "{} of {} is here",
                    dimension.in_words(),
                    quoted(figures.key)
                ),
            );
        }
    }

    fn calibration(
        &mut self,
        entry: &'a Entry<'a>,
        figures: &mut Figures<'_>,
    ) -> Option<Calibration> {
        const WHAT: &str = "a calibration";
        const FORM: &str = "`calibration: { day: 2026-09-30, due: 2027-09-30, expanded_uncertainty: 0.002 mm, k: 2 }`";
        let entries = self.mapping(&entry.node, Some(entry.key_span), WHAT, FORM)?;
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT;
            "day" => day, "due" => due, "correction" => correction,
            "expanded_uncertainty" => expanded_uncertainty, "k" => k,
        );
        let done = day.and_then(|entry| self.day(entry));
        let ends = due.and_then(|entry| self.day(entry));
        if let (Some(done), Some(ends), Some(day), Some(due)) = (done, ends, day, due)
            && ends < done
        {
            let message = format!("the calibration is due on {ends}, before it was done on {done}");
            self.fault(
                "record.calibration",
                due.node.span,
                message,
                "due",
                "`due` is the last day on which it counts",
            );
            self.faults.also(day.node.span, "done");
        }
        let correction = self.figure(correction, Allowed::Any, figures);
        let uncertainty = self.figure(expanded_uncertainty, Allowed::FromZero, figures);
        let factor = k.and_then(|entry| self.coverage_factor(entry));
        if let (Some(entry), None) = (expanded_uncertainty, k)
            && !entries.iter().any(|entry| entry.key == "k")
        {
            let message = "an expanded uncertainty says nothing without its coverage factor";
            self.fault(
                "record.calibration",
                entry.key_span,
                message,
                "no `k` beside it",
                "the calibration certificate states it: `k: 2`",
            );
        }
        Some(Calibration {
            day: done,
            due: ends,
            due_span: due.map_or(span, |entry| entry.node.span),
            correction: correction.unwrap_or(Exact::ZERO),
            expanded_uncertainty: uncertainty,
            k: factor.unwrap_or_else(usual_factor),
        })
    }

    /// A coverage factor: a plain number above zero.
    fn coverage_factor(&mut self, entry: &'a Entry<'a>) -> Option<Exact> {
        let wanted = Wanted::new("k", Dimension::RATIO, Allowed::AboveZero);
        let quantity = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
        if quantity.unit == Unit::PLAIN {
            return Some(quantity.value);
        }
        let message = format!("a coverage factor is a plain number; {quantity} was read");
        self.fault(
            "record.calibration",
            entry.node.span,
            message,
            "not a plain number",
            "write `k: 2`",
        );
        None
    }

    fn checks(&mut self, entry: &'a Entry<'a>, figures: &mut Figures<'_>) -> Vec<FieldCheck> {
        const WHAT: &str = "a check";
        const FORM: &str = "`- { taken: 2026-11-21 09:05, reference: 5.000 mm, reading: 5.00 mm, accept_within: 0.01 mm }`";
        let Some(nodes) = self.list(entry, "a list of checks against a reference", FORM) else {
            return Vec::new();
        };
        if !self.count(nodes.len(), entry.key_span) {
            return Vec::new();
        }
        let mut found = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                break;
            }
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT;
                "taken" => taken, "reference" => reference, "reading" => reading, "accept_within" => accept_within,
            );
            let taken = self
                .require(taken, "taken", WHAT, entries, span, FORM)
                .and_then(|entry| self.moment(entry));
            let reference = self
                .require(reference, "reference", WHAT, entries, span, FORM)
                .and_then(|entry| self.figure_quantity(entry, Allowed::Any, figures));
            let reading = self
                .require(reading, "reading", WHAT, entries, span, FORM)
                .and_then(|entry| self.figure_quantity(entry, Allowed::Any, figures));
            let accept_within =
                self.require(accept_within, "accept_within", WHAT, entries, span, FORM);
            let accept_within = self.figure(accept_within, Allowed::FromZero, figures);
            if let (Some(taken), Some(reference), Some(reading), Some(accept_within)) =
                (taken, reference, reading, accept_within)
            {
                found.push(FieldCheck {
                    taken,
                    reference: reference.value,
                    reading: reading.value,
                    accept_within,
                    span,
                });
            }
        }
        found
    }

    /// The instrument a series names, checked against what it is used for.
    pub(super) fn with(
        &mut self,
        entry: &'a Entry<'a>,
        measure: &str,
        dimension: Dimension,
    ) -> Option<With> {
        let text = self.word(entry, "the key of an instrument, or exact")?;
        if text == EXACT {
            return Some(With::Exact);
        }
        let Some(slot) = self
            .instruments
            .iter()
            .position(|instrument| instrument.key == text)
        else {
            self.no_instrument(entry, text);
            return None;
        };
        let known = self
            .instruments
            .get(slot)
            .and_then(|instrument| instrument.dimension);
        if known.is_some_and(|known| known != dimension) {
            self.wrong_instrument(entry, slot, measure, dimension);
        }
        Some(With::Instrument(slot))
    }

    #[cold]
    fn no_instrument(&mut self, entry: &Entry<'_>, text: &str) {
        if self.is_full() {
            return;
        }
        let keys = self
            .instruments
            .iter()
            .map(|instrument| instrument.key.as_str());
        let help = match crate::diagnostic::near_misses(text, keys.clone().chain([EXACT])) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None if self.instruments.is_empty() => format!(
                "this record has no instruments; describe it: `instruments: {{ {} }}`",
                FORM.trim_matches('`')
            ),
            None => format!(
                "instruments of this record: {}",
                keys.collect::<Vec<_>>().join(", ")
            ),
        };
        let span = entry.node.label_span(Some(entry.key_span));
        let message = format!("there is no instrument {}", quoted(text));
        self.fault(
            "record.no_instrument",
            span,
            message,
            "not among `instruments`",
            help,
        );
    }

    /// Told once for an instrument: it is most likely one slip, in its figures.
    #[cold]
    fn wrong_instrument(
        &mut self,
        entry: &Entry<'_>,
        slot: usize,
        measure: &str,
        dimension: Dimension,
    ) {
        let Some(instrument) = self.instruments.get(slot) else {
            return;
        };
        let Some(span) = self.figures.get_mut(slot).and_then(Option::take) else {
            return;
        };
        let figures = instrument.dimension.unwrap_or(Dimension::RATIO).in_words();
        let message = format!(
            "{} has figures that are {}; {} is {}",
            quoted(&instrument.key),
            plural(&figures),
            quoted(measure),
            dimension.in_words()
        );
        if !self.is_full() {
            let at = entry.node.label_span(Some(entry.key_span));
            self.fault(
                "record.instrument_kind",
                at,
                message,
                "used here",
                "name another instrument, or mend its figures",
            );
            self.faults.also(span, format!("{figures} here"));
        }
    }
}

/// An instrument of which nothing is said.
pub(super) fn unsaid(key: &str, span: Span) -> Instrument {
    Instrument {
        key: key.to_owned(),
        span,
        kind: String::new(),
        method: None,
        dimension: None,
        unit: None,
        serial: None,
        resolution: None,
        max_permissible_error: None,
        repeatability: None,
        calibration: None,
        checks: Vec::new(),
        study: None,
    }
}

/// The coverage factor of a calibration that states no uncertainty.
pub(super) fn usual_factor() -> Exact {
    Exact::from_integer(2)
}

/// Whether a word can be the key of an instrument.
pub(super) fn can_name(key: &str) -> bool {
    read::is_name(key) && key != EXACT
}

/// Whether a word can be the kind of an instrument.
pub(super) fn can_be_kind(word: &str, vocabulary: &Vocabulary) -> bool {
    read::is_name(word) && vocabulary.method_named(word) != Some(Vocabulary::UNNAMED)
}

/// `a length` as `lengths`.
fn plural(words: &str) -> String {
    let bare = words
        .strip_prefix("a ")
        .or_else(|| words.strip_prefix("an "))
        .unwrap_or(words);
    format!("{bare}{}", if bare.ends_with('s') { "es" } else { "s" })
}
