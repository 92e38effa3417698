//! Structured measures: shims under the edge, stations along the flanks.

use super::measures::Common;
use super::model::*;
use super::reader::{Reader, take};
use super::values::{Allowed, Wanted};
use crate::quantity::{Dimension, Exact};
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::Measure;

const LENGTH: Dimension = Dimension::LENGTH;

impl<'a> Reader<'a> {
    /// The profile of an edge, by shims or by gaps at stations.
    pub(super) fn profile(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &Measure,
    ) -> Option<Series> {
        const FORM: &str = "write `shims: [ { gap: 0.20 mm, forward: 228 mm, aft: 219 mm } ]`, or \
                            `stations` with `gaps`";
        let what = "a profile";
        take!(self, entries, what;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "contact" => contact, "shims" => shims, "stations" => stations, "gaps" => gaps,
        );
        let before = self.faults.len();
        let by_stations = stations.is_some() || gaps.is_some();
        if let (Some(entry), true) = (shims.or(contact), by_stations) {
            self.not_beside_stations(entry);
        }
        let contact = contact.and_then(|entry| {
            self.reading(
                &entry.node,
                Some(entry.key_span),
                Wanted::new("contact", LENGTH, Allowed::Any),
            )
        });
        let edge = if by_stations {
            self.edge_stations((stations, gaps), what, entries, span)
                .map(EdgeReadings::Stations)
        } else {
            let shims = self.require(shims, "shims", what, entries, span, FORM);
            shims
                .and_then(|entry| self.shims(entry))
                .map(EdgeReadings::Shims)
        };
        let profile = edge.filter(|_| self.faults.len() == before);
        let profile = profile.map(|edge| Profile {
            contact,
            edge,
            span,
        });
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
            LENGTH,
            profile.map(Content::Profile),
        )
    }

    /// What belongs to shims, beside stations.
    fn not_beside_stations(&mut self, entry: &Entry<'_>) {
        let (message, help) = if entry.key.as_ref() == "shims" {
            (
                "a profile has `shims`, or `stations` with `gaps`, not both",
                "what was read a second time in another way belongs to a series with `second: yes`",
            )
        } else {
            (
                "`contact` stands beside `shims`; `stations` tell by themselves where the straight edge touches",
                "take `contact` out",
            )
        };
        let label = "beside stations";
        self.fault("record.profile", entry.key_span, message, label, help);
    }

    /// Gaps at stations along the edge.
    fn edge_stations(
        &mut self,
        (stations, gaps): (Option<&'a Entry<'a>>, Option<&'a Entry<'a>>),
        what: &'static str,
        entries: &'a [Entry<'a>],
        span: Span,
    ) -> Option<Vec<StationReading>> {
        const STATIONS: &str =
            "write `stations: -400 -200 0 200 400 mm`, from the pivot, toward the toe above zero";
        const GAPS: &str = "write `gaps: 0.31 0.08 0.00 0.07 0.33 mm`, one for each station";
        let at_entry = self.require(stations, "stations", what, entries, span, STATIONS);
        let at = at_entry.and_then(|entry| self.stations(entry, what));
        let gaps = self.require(gaps, "gaps", what, entries, span, GAPS)?;
        let read = self.readings(gaps, Wanted::new("gaps", LENGTH, Allowed::Any))?;
        if let Some(open) = read.iter().find(|gap| gap.bound.is_some()) {
            let message = "the gap at a station is a number, not more or less than one";
            let help = "measure it, or tell where a leaf binds: `shims`";
            self.fault("record.bound", open.span, message, "one-sided", help);
            return None;
        }
        let at = at?;
        self.as_many(gaps, read.len(), at_entry?, at.len());
        let pairs = at.into_iter().zip(read);
        Some(pairs.map(|(at, gap)| StationReading { at, gap }).collect())
    }

    fn shims(&mut self, entry: &'a Entry<'a>) -> Option<Vec<ShimReading>> {
        const WHAT: &str = "a pair of shims";
        const FORM: &str = "`shims: [ { gap: 0.20 mm, forward: 228 mm, aft: 219 mm } ]`";
        let nodes = self.readings_listed(
            entry,
            ("a list of pairs of shims", FORM),
            "no pair of shims",
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
            take!(self, entries, WHAT; "gap" => gap, "forward" => forward, "aft" => aft);
            let mut value = |entry: Option<&'a Entry<'a>>, key: &'static str, allowed: Allowed| {
                let entry = self.require(entry, key, WHAT, entries, span, FORM)?;
                self.reading(
                    &entry.node,
                    Some(entry.key_span),
                    Wanted::new(key, LENGTH, allowed),
                )
            };
            let gap = value(gap, "gap", Allowed::AboveZero);
            let forward = value(forward, "forward", Allowed::FromZero);
            let aft = value(aft, "aft", Allowed::FromZero);
            if let (Some(gap), Some(forward), Some(aft)) = (gap, forward, aft) {
                found.push(ShimReading { gap, forward, aft });
            }
        }
        (found.len() == nodes.len()).then_some(found)
    }

    /// Gaps along one flank or both.
    pub(super) fn line(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &Measure,
    ) -> Option<Series> {
        let what = "a line";
        take!(self, entries, what;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "stations" => stations, "port" => port, "starboard" => starboard,
        );
        let before = self.faults.len();
        let at = self.require(
            stations,
            "stations",
            what,
            entries,
            span,
            "write `stations: -200 0 200 mm`",
        );
        let at = at.and_then(|entry| self.stations(entry, what));
        let flank_missing = port.is_none() && starboard.is_none();
        if flank_missing
            && !entries
                .iter()
                .any(|entry| matches!(entry.key.as_ref(), "port" | "starboard"))
        {
            let help = "write `port: 0.00 0.05 0.00 mm` and the same for `starboard`: one flank alone is not enough for a certificate";
            self.missing("port", what, span, help);
        }
        let mut flank = |entry: Option<&'a Entry<'a>>| {
            let entry = entry?;
            let found = self.readings(entry, Wanted::new(&entry.key, LENGTH, Allowed::Any))?;
            if let (Some(at), Some(stations)) = (&at, stations) {
                self.as_many(entry, found.len(), stations, at.len());
            }
            Some(found)
        };
        let (port, starboard) = (flank(port), flank(starboard));
        let line = at.filter(|_| self.faults.len() == before);
        let line = line.map(|stations| {
            Content::Line(Line {
                stations,
                port,
                starboard,
                span,
            })
        });
        let common = Common {
            by,
            with,
            taken,
            second,
            searched,
        };
        self.series_with(&common, span, measure, LENGTH, line)
    }

    fn stations(&mut self, entry: &'a Entry<'a>, what: &str) -> Option<Vec<Reading>> {
        let found = self.readings(entry, Wanted::new("stations", LENGTH, Allowed::Any))?;
        if let Some(bound) = found.iter().find(|station| station.bound.is_some()) {
            let message = "a station is a distance, not more or less than one";
            self.fault("record.bound", bound.span, message, "one-sided", "");
            return None;
        }
        if found.len() < 3 {
            let read = match found.len() {
                1 => "one was read".to_owned(),
                count => format!("{count} were read"),
            };
            let message = format!("{what} needs three stations or more; {read}");
            let help = "two points always lie on a straight line";
            self.fault(
                "record.stations",
                entry.node.label_span(Some(entry.key_span)),
                message,
                "too few",
                help,
            );
            return None;
        }
        if let Some(again) = repeated(found.iter().map(|station| &station.value)) {
            let span = found
                .get(again)
                .map_or(entry.key_span, |station| station.span);
            self.fault(
                "record.stations",
                span,
                "this station is there twice",
                "again here",
                "",
            );
            return None;
        }
        Some(found)
    }

    /// As many gaps as stations.
    fn as_many(&mut self, entry: &Entry<'_>, gaps: usize, stations: &Entry<'_>, places: usize) {
        if gaps == places || self.is_full() {
            return;
        }
        let message = format!(
            "{} has {gaps} readings for {places} stations",
            quoted(&entry.key)
        );
        let span = entry.node.label_span(Some(entry.key_span));
        self.fault(
            "record.count_differs",
            span,
            message,
            format!("{gaps} readings"),
            "each station has one reading",
        );
        self.faults.also(
            stations.node.label_span(Some(stations.key_span)),
            format!("{places} stations"),
        );
    }
}

/// The first value that was there before, by its number from 0.
pub(super) fn repeated<'v>(values: impl Iterator<Item = &'v Exact>) -> Option<usize> {
    let mut seen: Vec<&Exact> = Vec::new();
    let mut highest: Option<&Exact> = None;
    for (at, value) in values.enumerate() {
        // Stations are nearly always written in their order: one above all before it is new.
        let rising = highest.is_none_or(|highest| highest < value);
        if rising {
            highest = Some(value);
        } else if seen.contains(&value) {
            return Some(at);
        }
        seen.push(value);
    }
    None
}
