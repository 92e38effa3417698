//! Outlines: corners one after another, or widths at equal distances.

use super::measures::Common;
use super::model::*;
use super::reader::{Reader, take};
use super::values::{Allowed, Wanted, reading_of};
use crate::geometry::{MOST_CORNERS, OutlineFault, outline_fault};
use crate::quantity::{Dimension, Exact};
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::Measure;

const LENGTH: Dimension = Dimension::LENGTH;
const POINTS: &str = "`points: [ 0 0 mm, 1200 0 mm, 1200 800 mm ]`";

impl<'a> Reader<'a> {
    /// A series that is an outline.
    pub(super) fn outline(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &Measure,
    ) -> Option<Series> {
        const WHAT: &str = "an outline";
        take!(self, entries, WHAT;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "points" => points, "spacing" => spacing, "widths" => widths,
        );
        let shape = match (points, widths) {
            (Some(points), None) => {
                if let Some(entry) = spacing {
                    let message = "`spacing` is the distance of widths; corners have none";
                    let words = "beside `points`";
                    self.fault(
                        "record.outline",
                        entry.key_span,
                        message,
                        words,
                        "take it out",
                    );
                    None
                } else {
                    self.corners(points).map(OutlineShape::Corners)
                }
            }
            (None, Some(widths)) => {
                let help = "write `spacing: 1200 mm`: the distance from one width to the next";
                let spacing = self.require(spacing, "spacing", WHAT, entries, span, help);
                let spacing = spacing.and_then(|entry| {
                    let wanted = Wanted::new("spacing", LENGTH, Allowed::AboveZero);
                    let found = self.quantity(&entry.node, Some(entry.key_span), wanted)?;
                    Some(reading_of(found, None, entry.node.span))
                });
                let widths = self.widths(widths);
                spacing
                    .zip(widths)
                    .map(|(spacing, widths)| OutlineShape::Widths { spacing, widths })
            }
            (Some(_), Some(widths)) => {
                let message = "an outline has `points`, or `widths`, not both";
                let words = "beside `points`";
                self.fault("record.outline", widths.key_span, message, words, "");
                None
            }
            (None, None) => {
                if !entries
                    .iter()
                    .any(|entry| matches!(entry.key.as_ref(), "points" | "widths"))
                {
                    let help =
                        format!("write {POINTS}, or `spacing: 1200 mm, widths: 2400 1380 0 mm`");
                    self.missing("points", WHAT, span, &help);
                }
                None
            }
        };
        let content = shape.map(|shape| Content::Outline(Box::new(Outline { shape, span })));
        let common = Common {
            by,
            with,
            taken,
            second,
            searched,
        };
        self.series_with(&common, span, measure, LENGTH, content)
    }

    fn widths(&mut self, entry: &'a Entry<'a>) -> Option<Vec<Reading>> {
        let found = self.readings(entry, Wanted::new("widths", LENGTH, Allowed::FromZero))?;
        if found.len() < 3 || found.len().is_multiple_of(2) {
            let count = found.len();
            let message = format!(
                "Simpson's rule needs an even number of strips, so an odd number of widths from 3; {count} {} read",
                if count == 1 { "was" } else { "were" }
            );
            let at = entry.node.label_span(Some(entry.key_span));
            let help = "an end that is a point is a width too: 0 mm";
            let words = format!("{count} widths, {} strips", count.saturating_sub(1));
            self.fault("record.outline", at, message, words, help);
            return None;
        }
        Some(found)
    }

    fn corners(&mut self, entry: &'a Entry<'a>) -> Option<Vec<[Reading; 2]>> {
        let nodes = self.list(entry, "a list of corners", POINTS)?;
        if nodes.len() < 3 || nodes.len() > MOST_CORNERS {
            let message = format!(
                "an outline has 3 to {MOST_CORNERS} corners; {} were read",
                nodes.len()
            );
            self.fault("record.outline", entry.key_span, message, "", "");
            return None;
        }
        if !self.count(nodes.len().saturating_mul(2), entry.key_span) {
            return None;
        }
        let mut found = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(text) = node.as_text() else {
                let message = format!(
                    "a corner is two distances; here stands {}",
                    node.kind_in_words()
                );
                let at = node.label_span(None);
                self.fault(
                    "file.shape",
                    at,
                    message,
                    "not a corner",
                    format!("write {POINTS}"),
                );
                continue;
            };
            let wanted = Wanted::new("points", LENGTH, Allowed::Any);
            let Some(both) = self.readings_in_text(node, text, wanted) else {
                continue;
            };
            match <[Reading; 2]>::try_from(both) {
                Ok(corner) => found.push(corner),
                Err(list) => {
                    let count = list.len();
                    let message =
                        format!("a corner is two distances; {} has {count}", quoted(text));
                    let help = "along and across, unit last: 1200 800 mm";
                    self.fault("record.outline", node.span, message, "not a corner", help);
                }
            }
        }
        if found.len() != nodes.len() {
            return None;
        }
        let corners: Vec<[&Exact; 2]> = found.iter().map(|[x, y]| [&x.value, &y.value]).collect();
        let at = |corner: usize| {
            let node = nodes.get(corner);
            node.map_or(entry.key_span, |node| node.label_span(None))
        };
        let (corner, message, other) = match outline_fault(&corners) {
            None => return Some(found),
            Some(OutlineFault::Repeated { corner, first }) => {
                let message = "this corner was there before; an outline closes by itself";
                (corner, message, Some((first, "first here")))
            }
            Some(OutlineFault::Crossing { side, other }) => {
                let message = "the side that begins here meets another one";
                (side, message, Some((other, "this side")))
            }
            Some(OutlineFault::Flat) => (0, "all corners lie on one straight line", None),
        };
        let help = "name the corners one after another, once round";
        self.fault("record.outline", at(corner), message, "", help);
        if let Some((other, words)) = other {
            self.faults.also(at(other), words);
        }
        None
    }
}
