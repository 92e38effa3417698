//! What was found of a measure: short form, one series or several, places and their readings.

use super::model::*;
use super::reader::{Reader, take};
use super::values::{Allowed, Wanted, reading_of};
use crate::quantity::{Dimension, Quantity};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Measure, MeasureKind, QuantityKind};

/// The entries that every series can have, whatever it holds.
pub(super) struct Common<'n> {
    pub by: Option<&'n Entry<'n>>,
    pub with: Option<&'n Entry<'n>>,
    pub taken: Option<&'n Entry<'n>>,
    pub second: Option<&'n Entry<'n>>,
    pub searched: Option<&'n Entry<'n>>,
}

/// What is asked of the readings of a quantity. What is implausible is the check's to decide; what can't be
/// at all is a fault.
pub(super) fn wanted(measure: &Measure, kind: QuantityKind) -> Wanted<'_> {
    let allowed = match kind {
        QuantityKind::Length | QuantityKind::Mass | QuantityKind::Area | QuantityKind::Force => {
            match measure.plausible.as_ref().map(|(low, _)| low.signum()) {
                None | Some(1..) => Allowed::AboveZero,
                Some(0) => Allowed::FromZero,
                Some(i32::MIN..=-1) => Allowed::Any,
            }
        }
        QuantityKind::Angle => Allowed::HalfTurn,
        // Base units: nothing is colder than 0 K.
        QuantityKind::Temperature => Allowed::FromZero,
        QuantityKind::Position
        | QuantityKind::Ratio
        | QuantityKind::Stiffness
        | QuantityKind::HardnessHrc
        | QuantityKind::HardnessHv
        | QuantityKind::HardnessHbw
        | QuantityKind::Number => Allowed::Any,
    };
    Wanted::new(&measure.name.text, kind.dimension(), allowed)
}

/// Whether two versions take the same of a measure.
pub fn read_alike(one: &Measure, other: &Measure) -> bool {
    let allowed = |measure: &Measure| match measure.kind {
        MeasureKind::Quantity(kind) => Some(wanted(measure, kind).allowed),
        MeasureKind::YesNo
        | MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => None,
    };
    one.kind == other.kind
        && one.placed == other.placed
        && one.fixed_at == other.fixed_at
        && allowed(one) == allowed(other)
}

impl<'a> Reader<'a> {
    /// A measure under its key.
    pub(super) fn measured(
        &mut self,
        entry: &'a Entry<'a>,
        measure: &'a Measure,
    ) -> Option<Measured> {
        let mut chosen = None;
        let found = match measure.kind {
            MeasureKind::YesNo => return self.answered(entry, measure),
            MeasureKind::Quantity(kind) if measure.fixed_at.is_some() => {
                return self.first_value(entry, measure, kind);
            }
            MeasureKind::Quantity(kind) => {
                if let Some(reading) = self.short_form(entry, measure, kind) {
                    let span = reading
                        .as_ref()
                        .map_or(entry.key_span, |reading| reading.span);
                    return reading.map(|reading| Measured {
                        span,
                        found: Found::Series(vec![short_series(reading)]),
                        chosen: None,
                    });
                }
                self.all_series(entry, measure, &mut chosen)?
            }
            MeasureKind::Profile
            | MeasureKind::Line
            | MeasureKind::Section
            | MeasureKind::LoadTest
            | MeasureKind::Outline => self.all_series(entry, measure, &mut chosen)?,
        };
        Some(Measured {
            span: entry.key_span,
            found: Found::Series(found),
            chosen,
        })
    }

    /// One value without a series: `4.76 mm`, `{ more_than: 310 mm }`. Nothing if it is written as a series;
    /// nothing inside if it is faulty.
    fn short_form(
        &mut self,
        entry: &'a Entry<'a>,
        measure: &'a Measure,
        kind: QuantityKind,
    ) -> Option<Option<Reading>> {
        let node = &entry.node;
        let wanted = wanted(measure, kind);
        let one_sided = |entries: &[Entry<'_>]| {
            entries
                .iter()
                .any(|entry| matches!(entry.key.as_ref(), "more_than" | "less_than"))
        };
        match node.as_mapping() {
            Some(entries) if one_sided(entries) => {
                Some(self.reading(node, Some(entry.key_span), wanted))
            }
            Some(_) => None,
            None => match node.as_text() {
                Some(text) => Some(self.short_text(node, text, measure, wanted)),
                None => {
                    self.not_a_series(entry, measure);
                    Some(None)
                }
            },
        }
    }

    fn short_text(
        &mut self,
        node: &Node<'_>,
        text: &str,
        measure: &Measure,
        wanted: Wanted<'_>,
    ) -> Option<Reading> {
        match Quantity::parse_as(text, wanted.dimension) {
            Ok(quantity) => {
                let good =
                    self.count(1, node.span) && self.allowed(&quantity.value, node.span, wanted);
                good.then(|| reading_of(quantity, None, node.span))
            }
            Err(mut problem) => {
                if let Some(help) = several_in_short_form(text, measure, wanted) {
                    problem.help = Some(help);
                }
                self.quantity_problem(problem, node, wanted);
                None
            }
        }
    }

    #[cold]
    fn not_a_series(&mut self, entry: &Entry<'_>, measure: &Measure) {
        let name = &measure.name.text;
        let form = match measure.kind {
            MeasureKind::Quantity(_) if measure.placed => {
                "{ places: [ { at: 0 mm, readings: 4.76 4.77 4.75 mm } ] }"
            }
            MeasureKind::Quantity(_) => "{ readings: 4.76 4.77 4.75 mm }",
            MeasureKind::YesNo => "yes",
            MeasureKind::Profile => {
                "{ contact: 0 mm, shims: [ { gap: 0.20 mm, forward: 228 mm, aft: 219 mm } ] }"
            }
            MeasureKind::Line => {
                "{ stations: -200 0 200 mm, port: 0.00 0.05 0.00 mm, starboard: 0.00 -0.05 0.00 mm }"
            }
            MeasureKind::Section => {
                "{ places: [ { at: 0 mm, bevels: { port: 45 deg, starboard: 45 deg } } ] }"
            }
            MeasureKind::LoadTest => {
                "{ span: 2400 mm, supports: rollers, steps: [ { load: 60 kg, sinks: 25.9 mm } ] }"
            }
            MeasureKind::Outline => "{ spacing: 1200 mm, widths: 2400 1380 0 mm }",
        };
        self.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "{} is written as a series; here stands {}",
                quoted(name),
                entry.node.kind_in_words()
            ),
            "not a series",
            format!("write `{name}: {form}`"),
        );
    }

    /// `series: [ … ]`, or one series written directly.
    fn all_series(
        &mut self,
        entry: &'a Entry<'a>,
        measure: &'a Measure,
        choice: &mut Option<Box<Chosen>>,
    ) -> Option<Vec<Series>> {
        let node = &entry.node;
        let Some(entries) = node.as_mapping() else {
            self.not_a_series(entry, measure);
            return None;
        };
        if !entries.iter().any(|entry| entry.key == "series") {
            if let Some(chosen) = entries.iter().find(|entry| entry.key == "chosen") {
                self.chosen_alone(chosen, &measure.name.text);
                return None;
            }
            return self
                .series(node, entries, Some(entry.key_span), measure)
                .map(|series| vec![series]);
        }
        take!(self, entries, "a measure with several series"; "series" => list, "chosen" => chosen);
        let nodes = self.list(
            list?,
            "a list of series",
            "`series: [ { by: AB, with: mic_2, readings: 4.76 mm } ]`",
        )?;
        if nodes.is_empty() {
            let span = list.map_or(node.span, |entry| entry.key_span);
            let message = format!("{} has no series", quoted(&measure.name.text));
            self.fault("record.no_reading", span, message, "an empty list", "");
            return None;
        }
        let mut found: Vec<Series> = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(entries) = self.mapping(
                node,
                None,
                "a series",
                "`- { by: AB, with: mic_2, readings: 4.76 mm }`",
            ) else {
                continue;
            };
            let Some(series) = self.series(node, entries, None, measure) else {
                continue;
            };
            self.second_or_first(&series, found.first(), entries, measure);
            found.push(series);
        }
        *choice = chosen.and_then(|entry| self.chosen(entry, nodes.len(), measure));
        (found.len() == nodes.len()).then_some(found)
    }

    /// The first series is decided whole, every later one is compared with it.
    fn second_or_first(
        &mut self,
        series: &Series,
        first: Option<&Series>,
        entries: &[Entry<'_>],
        measure: &Measure,
    ) {
        match first {
            None if series.second => {
                let message = format!(
                    "the first series of {} can't be the second measurer's",
                    quoted(&measure.name.text)
                );
                self.fault(
                    "record.second",
                    series.span,
                    message,
                    "the first series",
                    "the first measurer's series comes first",
                );
            }
            Some(_) if !series.second => {
                let message = format!(
                    "a later series of {} is a second measurer's",
                    quoted(&measure.name.text)
                );
                let help = "write `second: yes`; more places of the first measurer belong into the first series";
                self.fault(
                    "record.second",
                    series.span,
                    message,
                    "no `second: yes` here",
                    help,
                );
            }
            Some(first) if same_measurer(first, series, self.by) => {
                let two = series.by.as_deref().unwrap_or("");
                let at = entries.iter().find(|entry| entry.key == "by");
                let span = at.map_or(series.span, |entry| {
                    entry.node.label_span(Some(entry.key_span))
                });
                let message = format!(
                    "the second measurer is somebody else than the first: {} is both",
                    quoted(two)
                );
                self.fault(
                    "record.second",
                    span,
                    message,
                    "measured the first series too",
                    "",
                );
            }
            Some(_) | None => {}
        }
    }

    /// One series of a measure.
    fn series(
        &mut self,
        node: &'a Node<'a>,
        entries: &'a [Entry<'a>],
        key_span: Option<Span>,
        measure: &'a Measure,
    ) -> Option<Series> {
        let span = node.label_span(key_span);
        match measure.kind {
            MeasureKind::Quantity(kind) => self.series_of_quantity(entries, span, measure, kind),
            MeasureKind::Profile => self.profile(entries, span, measure),
            MeasureKind::Line => self.line(entries, span, measure),
            MeasureKind::Section => self.section(entries, span, measure),
            MeasureKind::LoadTest => self.load_test(entries, span, measure),
            MeasureKind::Outline => self.outline(entries, span, measure),
            // Answers have no series; `measured` reads them itself.
            MeasureKind::YesNo => None,
        }
    }

    /// A series with the content that was read for it.
    pub(super) fn series_with(
        &mut self,
        common: &Common<'a>,
        span: Span,
        measure: &Measure,
        dimension: Dimension,
        content: Option<Content>,
    ) -> Option<Series> {
        let before = self.faults.len();
        let with = match common.with {
            Some(entry) => self.with(entry, &measure.name.text, dimension),
            None => Some(With::Unnamed),
        };
        let by = common.by.and_then(|entry| self.free_text(entry));
        let taken = common.taken.and_then(|entry| self.moment(entry));
        let second = common
            .second
            .and_then(|entry| self.yes_no(entry))
            .unwrap_or(false);
        let searched = common.searched.and_then(|entry| self.free_text(entry));
        if self.faults.len() > before {
            return None;
        }
        Some(Series {
            span,
            with: with?,
            by: by.map(str::to_owned),
            taken,
            second,
            searched: searched.map(str::to_owned),
            content: content?,
        })
    }

    fn series_of_quantity(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &'a Measure,
        kind: QuantityKind,
    ) -> Option<Series> {
        const WHAT: &str = "a series";
        take!(self, entries, WHAT;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "places" => places, "readings" => readings, "void" => void, "confirmed_by" => confirmed_by,
        );
        let wanted = wanted(measure, kind);
        let name = &measure.name.text;
        let content = match (places, readings) {
            (Some(places), None) if measure.placed => {
                for entry in void.into_iter().chain(confirmed_by) {
                    let message = format!(
                        "{} belongs to a place, beside its readings",
                        quoted(&entry.key)
                    );
                    self.fault(
                        "record.place",
                        entry.key_span,
                        message,
                        "beside `places`",
                        "",
                    );
                }
                self.places(places, wanted)
            }
            (None, Some(readings)) if !measure.placed => {
                let place = self.place(readings, void, confirmed_by, Where::default(), wanted);
                place.map(|place| vec![place])
            }
            (Some(places), readings) if !measure.placed => {
                self.unasked_places(places, name, readings.is_none());
                None
            }
            (places, Some(readings)) => {
                let message = match places {
                    Some(_) => format!(
                        "a series of {} has `places`, or nothing; these readings have no place",
                        quoted(name)
                    ),
                    None => format!(
                        "{} is taken at places; these readings have none",
                        quoted(name)
                    ),
                };
                let help = "write `places: [ { at: 0 mm, readings: … } ]`";
                self.fault(
                    "record.place",
                    readings.key_span,
                    message,
                    "without a place",
                    help,
                );
                None
            }
            (_, None) => {
                let key = if measure.placed { "places" } else { "readings" };
                if !entries
                    .iter()
                    .any(|entry| matches!(entry.key.as_ref(), "places" | "readings"))
                {
                    self.missing(key, &format!("a series of {}", quoted(name)), span, "");
                }
                None
            }
        };
        let common = Common {
            by,
            with,
            taken,
            second,
            searched,
        };
        self.series_with(
            &common,
            span,
            measure,
            wanted.dimension,
            content.map(Content::Places),
        )
    }

    /// A look or a gauge: `yes`, or a mapping that says who looked.
    fn answered(&mut self, entry: &'a Entry<'a>, measure: &Measure) -> Option<Measured> {
        const WHAT: &str = "an answer";
        let node = &entry.node;
        let span = node.label_span(Some(entry.key_span));
        let Some(entries) = node.as_mapping() else {
            let yes = self.yes_no(entry)?;
            let answer = Answer {
                yes,
                by: None,
                day: None,
                span,
            };
            return Some(Measured {
                span,
                found: Found::Answer(answer),
                chosen: None,
            });
        };
        take!(self, entries, WHAT; "answer" => answer, "by" => by, "day" => day);
        let form = format_args!("write `{}: {{ answer: yes, by: AB }}`", measure.name.text);
        let there = answer.is_some() || entries.iter().any(|entry| entry.key == "answer");
        if !there {
            self.missing("answer", WHAT, span, &form.to_string());
        }
        let before = self.faults.len();
        let by = by
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        let day = day.and_then(|entry| self.day(entry));
        let answer = answer?;
        let yes = self.yes_no(answer)?;
        if self.faults.len() > before {
            return None;
        }
        let at = answer.node.label_span(Some(answer.key_span));
        Some(Measured {
            span: entry.key_span,
            found: Found::Answer(Answer {
                yes,
                by,
                day,
                span: at,
            }),
            chosen: None,
        })
    }
}

/// Whether a later series is said to be of whoever took the first one.
pub(super) fn same_measurer(first: &Series, later: &Series, session: Option<&str>) -> bool {
    let one = first.by.as_deref().or(session);
    one.is_some() && one == later.by.as_deref()
}

/// The short form as a series: one reading with nothing said about it.
pub(super) fn short_series(reading: Reading) -> Series {
    let span = reading.span;
    let place = Place {
        place: Where::default(),
        readings: vec![reading],
        void: Vec::new(),
        confirmed_by: None,
        span,
    };
    Series {
        span,
        with: With::Unnamed,
        by: None,
        taken: None,
        second: false,
        searched: None,
        content: Content::Places(vec![place]),
    }
}

/// Several numbers where one is read: how several are written.
#[cold]
fn several_in_short_form(text: &str, measure: &Measure, wanted: Wanted<'_>) -> Option<String> {
    if text.len() > 200 {
        return None;
    }
    let list = Quantity::parse_list_all(text, Some(wanted.dimension)).ok()?;
    let name = &measure.name.text;
    let readings = format!("readings: {text}");
    (list.len() > 1).then(|| {
        if measure.placed {
            format!("write `{name}: {{ places: [ {{ at: 0 mm, {readings} }} ] }}`")
        } else {
            format!("write `{name}: {{ {readings} }}`")
        }
    })
}
