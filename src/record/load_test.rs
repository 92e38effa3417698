//! Tests under load: how far an item sinks under which loads, between which supports.

use super::measures::Common;
use super::model::*;
use super::reader::{Reader, take};
use super::values::{Allowed, Wanted, reading_of};
use crate::quantity::{Dimension, Quantity};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Measure, Supports, read};

const LENGTH: Dimension = Dimension::LENGTH;
const FORM: &str = "`steps: [ { load: 20 kg, sinks: 8.4 mm }, { load: 60 kg, sinks: 25.9 mm } ]`";

impl<'a> Reader<'a> {
    /// A series that is a test under load.
    pub(super) fn load_test(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &Measure,
    ) -> Option<Series> {
        const WHAT: &str = "a load test";
        take!(self, entries, WHAT;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "span" => apart, "supports" => supports, "steps" => steps,
        );
        let before = self.faults.len();
        let apart = apart.and_then(|entry| {
            let wanted = Wanted::new("span", LENGTH, Allowed::AboveZero);
            let found = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
            Some(reading_of(found, None, entry.node.span))
        });
        let supports = supports.and_then(|entry| {
            let word = self.word(entry, "a kind of support such as rollers")?;
            let at = entry.node.label_span(Some(entry.key_span));
            let words = Supports::WORDS.into_iter();
            read::one_of(word, at, "a kind of support", words, &mut self.faults)
        });
        let help = format!("write {FORM}");
        let steps = self.require(steps, "steps", WHAT, entries, span, &help);
        let steps = steps.and_then(|entry| self.steps(entry));
        let test = steps.filter(|_| self.faults.len() == before);
        let test = test.map(|steps| {
            Content::LoadTest(Box::new(LoadTest {
                apart,
                supports,
                steps,
                span,
            }))
        });
        let common = Common {
            by,
            with,
            taken,
            second,
            searched,
        };
        self.series_with(&common, span, measure, LENGTH, test)
    }

    fn steps(&mut self, entry: &'a Entry<'a>) -> Option<Vec<LoadStep>> {
        const WHAT: &str = "a step of a load test";
        let nodes = self.readings_listed(
            entry,
            ("a list of loads with what sinks under them", FORM),
            "no load",
            1,
        )?;
        let mut found = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT; "load" => load, "sinks" => sinks);
            let load = self.require(load, "load", WHAT, entries, span, FORM);
            let load = load.and_then(|entry| self.load(&entry.node, entry.key_span));
            let sinks = self.require(sinks, "sinks", WHAT, entries, span, FORM);
            let sinks = sinks.and_then(|entry| {
                let wanted = Wanted::new("sinks", LENGTH, Allowed::Any);
                self.reading(&entry.node, Some(entry.key_span), wanted)
            });
            if let (Some(load), Some(sinks)) = (load, sinks) {
                found.push(LoadStep { load, sinks });
            }
        }
        (found.len() == nodes.len()).then_some(found)
    }

    /// A load: a mass that lies on the item, or a force on it.
    fn load(&mut self, node: &Node<'_>, key_span: Span) -> Option<Reading> {
        let text = node.as_text();
        let force = text.is_some_and(|text| Quantity::parse_as(text, Dimension::FORCE).is_ok());
        let dimension = if force {
            Dimension::FORCE
        } else {
            Dimension::MASS
        };
        let other = text.and_then(|text| Quantity::parse(text).ok());
        if let Some(quantity) = other
            && quantity.unit.dimension() != dimension
        {
            let message = format!("{} is no load", quoted(text.unwrap_or("")));
            let help = "a load is a mass or a force: 20 kg, or 196 N";
            self.fault("quantity.dimension", node.span, message, "not a load", help);
            return None;
        }
        let wanted = Wanted::new("load", dimension, Allowed::FromZero);
        let found = self.quantity(node, Some(key_span), wanted)?;
        Some(reading_of(found, None, node.span))
    }
}
