//! Values that are fixed for good, and the choice between series of measurers that disagree.

use super::measures::wanted;
use super::model::*;
use super::reader::{Reader, take};
use crate::text::{Entry, quoted};
use crate::vocabulary::{Measure, QuantityKind};

impl<'a> Reader<'a> {
    /// A first value: `25.0 mm`, or a mapping that says from which day and by which paper.
    pub(super) fn first_value(
        &mut self,
        entry: &'a Entry<'a>,
        measure: &Measure,
        kind: QuantityKind,
    ) -> Option<Measured> {
        const WHAT: &str = "a first value";
        let name = &measure.name.text;
        let form = format!("write `{name}: {{ value: 25.0 mm, day: 2019-11-20, paper: C-0117 }}`");
        let node = &entry.node;
        let span = node.label_span(Some(entry.key_span));
        let wanted = wanted(measure, kind);
        let Some(entries) = node.as_mapping() else {
            if node.as_text().is_none() {
                let message = format!(
                    "{} is a first value; here stands {}",
                    quoted(name),
                    node.kind_in_words()
                );
                self.fault("file.shape", span, message, "not a first value", form);
                return None;
            }
            let reading = self.reading(node, Some(entry.key_span), wanted)?;
            return Some(first(reading, None, None, None));
        };
        let readings = |entry: &&Entry<'_>| {
            matches!(
                entry.key.as_ref(),
                "series" | "readings" | "places" | "with" | "taken" | "more_than" | "less_than"
            )
        };
        if let Some(entry) = entries.iter().find(readings) {
            let message = format!(
                "{} was fixed when the item was new; it is taken from a paper, not read again",
                quoted(name)
            );
            let words = "a first value has no readings";
            self.fault("record.first_value", entry.key_span, message, words, form);
            return None;
        }
        take!(self, entries, WHAT; "value" => value, "day" => day, "paper" => paper, "confirmed_by" => confirmed_by);
        let before = self.faults.len();
        let value = self.require(value, "value", WHAT, entries, span, &form);
        let value = value.and_then(|entry| {
            let reading = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
            Some(super::values::reading_of(reading, None, entry.node.span))
        });
        let day = self.require(day, "day", WHAT, entries, span, &form);
        let day = day.and_then(|entry| self.day(entry));
        let paper = paper.and_then(|entry| self.free_text(entry));
        let confirmed_by = confirmed_by.and_then(|entry| self.free_text(entry));
        if self.faults.len() > before {
            return None;
        }
        let owned = |text: Option<&str>| text.map(str::to_owned);
        Some(first(value?, Some(day?), owned(paper), owned(confirmed_by)))
    }

    /// A choice where there is nothing to choose from.
    #[cold]
    pub(super) fn chosen_alone(&mut self, entry: &Entry<'_>, name: &str) {
        let message = format!(
            "`chosen` stands beside several series; {} has one",
            quoted(name)
        );
        let help = "write `series: [ …, … ]` beside it, or take it out";
        self.fault(
            "record.chosen",
            entry.key_span,
            message,
            "nothing to choose",
            help,
        );
    }

    /// Which of `count` series decides.
    pub(super) fn chosen(
        &mut self,
        entry: &'a Entry<'a>,
        count: usize,
        measure: &Measure,
    ) -> Option<Box<Chosen>> {
        const WHAT: &str = "a choice between series";
        const FORM: &str =
            "write `chosen: { series: 2, by: EF, because: the first dial read short }`";
        let entries = self.mapping(&entry.node, Some(entry.key_span), WHAT, FORM)?;
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT; "series" => series, "by" => by, "because" => because);
        let series = self.require(series, "series", WHAT, entries, span, FORM);
        let series = series.and_then(|entry| self.series_number(entry, count, measure));
        let by = self.require(by, "by", WHAT, entries, span, FORM);
        let by = by.and_then(|entry| self.free_text(entry));
        let because = self.require(because, "because", WHAT, entries, span, FORM);
        let because = because.and_then(|entry| self.free_text(entry));
        if count < 2 {
            self.chosen_alone(entry, &measure.name.text);
            return None;
        }
        Some(Box::new(Chosen {
            series: series?,
            by: by?.to_owned(),
            because: because?.to_owned(),
            span,
        }))
    }

    fn series_number(
        &mut self,
        entry: &'a Entry<'a>,
        count: usize,
        measure: &Measure,
    ) -> Option<usize> {
        let text = self.word(entry, "the number of a series")?;
        let number = text.parse::<usize>().ok();
        let found = number.and_then(|number| number.checked_sub(1));
        if let Some(found) = found.filter(|found| *found < count) {
            return Some(found);
        }
        let name = quoted(&measure.name.text);
        let at = entry.node.label_span(Some(entry.key_span));
        let message = format!("{} is no series of {name}", quoted(text));
        let help = format!("{name} has {count} series, counted from 1 in their order");
        self.fault("record.chosen", at, message, "no such series", help);
        None
    }
}

fn first(
    reading: Reading,
    day: Option<jiff::civil::Date>,
    paper: Option<String>,
    confirmed_by: Option<String>,
) -> Measured {
    Measured {
        span: reading.span,
        found: Found::First(FirstValue {
            reading,
            day,
            paper,
            confirmed_by,
        }),
        chosen: None,
    }
}
