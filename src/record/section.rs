//! Sections across the edge: bevels, points of both ground faces, or what was read off a sine bar, pins,
//! rollers, or widths at depths.

use super::measures::Common;
use super::model::*;
use super::reader::{Reader, take};
use super::section_model::*;
use super::values::{Allowed, Wanted};
use crate::quantity::Dimension;
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::Measure;

const LENGTH: Dimension = Dimension::LENGTH;
const BEVELS: &str = "`bevels: { port: 45 deg, starboard: 45 deg }`";
const POINTS: &str = "`points: { port: [ -1.0 1.0 mm, -2.0 2.0 mm, -3.0 3.0 mm ], starboard: [ 1.0 1.0 mm, 2.0 2.0 mm, \
                      3.0 3.0 mm ], edge_radius: 0.1 mm }`";
const SINE: &str = "`sine: { length: 100.000 mm, port: 70.71 mm, starboard: 70.75 mm }`";

/// The ways in which a section is read, none of them or one.
struct Ways<'a> {
    bevels: Option<&'a Entry<'a>>,
    points: Option<&'a Entry<'a>>,
    sine: Option<&'a Entry<'a>>,
    pins: Option<&'a Entry<'a>>,
    rollers: Option<&'a Entry<'a>>,
    widths: Option<&'a Entry<'a>>,
}

impl<'a> Ways<'a> {
    fn written(&self) -> impl Iterator<Item = &'a Entry<'a>> {
        let all = [
            self.bevels,
            self.points,
            self.sine,
            self.pins,
            self.rollers,
            self.widths,
        ];
        all.into_iter().flatten()
    }
}

/// Whether a key tells a way of reading a section.
fn is_way(key: &str) -> bool {
    matches!(
        key,
        "bevels" | "points" | "sine" | "pins" | "rollers" | "widths"
    )
}

/// The kind of quantity of a series: that of its first section.
fn dimension(sections: &[SectionPlace]) -> Dimension {
    match sections.first().map(|section| &section.edge) {
        None | Some(EdgeAcross::Bevels { .. }) => Dimension::ANGLE,
        Some(
            EdgeAcross::Points(_)
            | EdgeAcross::Sine(_)
            | EdgeAcross::Pins(_)
            | EdgeAcross::Rollers(_)
            | EdgeAcross::Widths(_),
        ) => LENGTH,
    }
}

impl<'a> Reader<'a> {
    /// Sections across the edge, at places or without one.
    pub(super) fn section(
        &mut self,
        entries: &'a [Entry<'a>],
        span: Span,
        measure: &Measure,
    ) -> Option<Series> {
        let what = "a section";
        take!(self, entries, what;
            "by" => by, "with" => with, "taken" => taken, "second" => second, "searched" => searched,
            "places" => places, "bevels" => bevels, "points" => points, "sine" => sine, "pins" => pins,
            "rollers" => rollers, "widths" => widths,
        );
        let ways = Ways {
            bevels,
            points,
            sine,
            pins,
            rollers,
            widths,
        };
        let content = match (places, ways.written().next()) {
            (Some(places), None) if measure.placed => self.section_places(places),
            (None, Some(_)) => {
                let section = self.across(&ways, Where::default());
                section.map(|section| vec![section])
            }
            (Some(places), way) if !measure.placed => {
                self.fault(
                    "record.place",
                    places.key_span,
                    format!(
                        "{} is one section, not taken at places",
                        quoted(&measure.name.text)
                    ),
                    "places",
                    if way.is_none() {
                        "write `bevels: { port: 45 deg, starboard: 45 deg }`"
                    } else {
                        "take `places` out"
                    },
                );
                None
            }
            (Some(_), Some(way)) => {
                let message = format!(
                    "a section has `places`, or {} alone, not both",
                    quoted(&way.key)
                );
                self.fault("record.place", way.key_span, message, "without a place", "");
                None
            }
            (Some(_) | None, None) => {
                let written = |entry: &Entry<'_>| entry.key == "places" || is_way(&entry.key);
                if !entries.iter().any(written) {
                    let key = if measure.placed { "places" } else { "bevels" };
                    self.missing(key, what, span, "");
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
        // Where nothing could be read, what was written tells with what it was measured.
        let dimension = match (&content, ways.written().next()) {
            (Some(sections), _) => dimension(sections),
            (None, Some(way)) if way.key != "bevels" => LENGTH,
            (None, _) if places.is_some_and(|places| lengths_in(places)) => LENGTH,
            (None, _) => Dimension::ANGLE,
        };
        self.series_with(
            &common,
            span,
            measure,
            dimension,
            content.map(Content::Sections),
        )
    }

    fn section_places(&mut self, entry: &'a Entry<'a>) -> Option<Vec<SectionPlace>> {
        const WHAT: &str = "a place";
        const FORM: &str =
            "`places: [ { at: 0 mm, bevels: { port: 45 deg, starboard: 45 deg } } ]`";
        let nodes = self.readings_listed(entry, ("a list of places", FORM), "no place", 2)?;
        let mut found: Vec<SectionPlace> = Vec::with_capacity(nodes.len());
        let mut mixed = false;
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT;
                "at" => at, "bevels" => bevels, "points" => points, "sine" => sine, "pins" => pins,
                "rollers" => rollers, "widths" => widths,
            );
            let ways = Ways {
                bevels,
                points,
                sine,
                pins,
                rollers,
                widths,
            };
            let before = self.faults.len();
            let place = self.place_on_item(at, None, None);
            let way = ways.written().next();
            let section = match way {
                Some(_) => self.across(&ways, place),
                None => {
                    // A way with nothing behind it was told already.
                    if !entries.iter().any(|entry| is_way(&entry.key)) {
                        self.missing("bevels", WHAT, span, FORM);
                    }
                    None
                }
            };
            if let Some(section) = section
                && self.faults.len() == before
            {
                let at = at.map_or(span, |entry| entry.node.span);
                self.place_once(
                    &section.place,
                    found.iter().map(|section| &section.place),
                    at,
                );
                let one = std::slice::from_ref(&section);
                if let (Some(way), false) = (way, mixed)
                    && !found.is_empty()
                    && dimension(&found) != dimension(one)
                {
                    mixed = true;
                    self.fault(
                        "record.section",
                        way.key_span,
                        "one series holds bevels, in degrees, and sections that were read in lengths",
                        "another kind of reading",
                        "one instrument does not read both: what was read in another way belongs to a series with \
                         `second: yes`, or all sections to one way",
                    );
                }
                found.push(section);
            }
        }
        (found.len() == nodes.len() && !mixed).then_some(found)
    }

    /// A section in the one way in which it was read.
    fn across(&mut self, ways: &Ways<'a>, place: Where) -> Option<SectionPlace> {
        let mut written = ways.written();
        let first = written.next()?;
        if let Some(other) = written.next() {
            let message = format!(
                "a section is read in one way; here are {} and {}",
                quoted(&first.key),
                quoted(&other.key)
            );
            let help =
                "what was read a second time in another way belongs to a series with `second: yes`";
            self.fault(
                "record.section",
                other.key_span,
                message,
                "another way",
                help,
            );
            return None;
        }
        let edge = match first.key.as_ref() {
            "points" => self.edge_points(first),
            "sine" => self.sine_bar(first),
            "pins" => self
                .sized(
                    first,
                    ["a pair of pins", "diameter", "over"],
                    Allowed::AboveZero,
                )
                .map(EdgeAcross::Pins),
            "rollers" => self
                .sized(
                    first,
                    ["a roller", "diameter", "height"],
                    Allowed::AboveZero,
                )
                .map(EdgeAcross::Rollers),
            "widths" => self
                .sized(first, ["a width", "depth", "width"], Allowed::FromZero)
                .map(EdgeAcross::Widths),
            _ => self.bevels(first),
        };
        Some(SectionPlace {
            place,
            edge: edge?,
            span: first.node.label_span(Some(first.key_span)),
        })
    }

    fn bevels(&mut self, entry: &'a Entry<'a>) -> Option<EdgeAcross> {
        const WHAT: &str = "a pair of bevels";
        let entries = self.mapping(&entry.node, Some(entry.key_span), WHAT, BEVELS)?;
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT; "port" => port, "starboard" => starboard);
        let mut value = |entry: Option<&'a Entry<'a>>, key: &'static str| {
            let entry = self.require(entry, key, WHAT, entries, span, BEVELS)?;
            self.reading(
                &entry.node,
                Some(entry.key_span),
                Wanted::new(key, Dimension::ANGLE, Allowed::HalfTurn),
            )
        };
        let (port, starboard) = (value(port, "port"), value(starboard, "starboard"));
        Some(EdgeAcross::Bevels {
            port: port?,
            starboard: starboard?,
        })
    }

    fn sine_bar(&mut self, entry: &'a Entry<'a>) -> Option<EdgeAcross> {
        const WHAT: &str = "a sine bar";
        let entries = self.mapping(&entry.node, Some(entry.key_span), WHAT, SINE)?;
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT; "length" => length, "port" => port, "starboard" => starboard);
        let mut value = |entry: Option<&'a Entry<'a>>, key: &'static str| {
            let entry = self.require(entry, key, WHAT, entries, span, SINE)?;
            self.reading(
                &entry.node,
                Some(entry.key_span),
                Wanted::new(key, LENGTH, Allowed::AboveZero),
            )
        };
        let length = value(length, "length");
        let (port, starboard) = (value(port, "port"), value(starboard, "starboard"));
        Some(EdgeAcross::Sine(Box::new(SineBar {
            length: length?,
            port: port?,
            starboard: starboard?,
        })))
    }

    fn edge_points(&mut self, entry: &'a Entry<'a>) -> Option<EdgeAcross> {
        const WHAT: &str = "a section by points";
        let entries = self.mapping(&entry.node, Some(entry.key_span), WHAT, POINTS)?;
        let span = entry.node.label_span(Some(entry.key_span));
        take!(self, entries, WHAT; "port" => port, "starboard" => starboard, "edge_radius" => edge_radius);
        let mut face = |entry: Option<&'a Entry<'a>>, key: &'static str| {
            let entry = self.require(entry, key, WHAT, entries, span, POINTS)?;
            self.face_points(entry)
        };
        let (port, starboard) = (face(port, "port"), face(starboard, "starboard"));
        let before = self.faults.len();
        let edge_radius = edge_radius.and_then(|entry| {
            let wanted = Wanted::new("edge_radius", LENGTH, Allowed::FromZero);
            let found = self.reading(&entry.node, Some(entry.key_span), wanted)?;
            self.two_sided(
                &found,
                "an edge radius is a length, not more or less than one",
            )
            .then_some(found)
        });
        if self.faults.len() > before {
            return None;
        }
        Some(EdgeAcross::Points(Box::new(EdgePoints {
            port: port?,
            starboard: starboard?,
            edge_radius,
        })))
    }

    fn two_sided(&mut self, reading: &Reading, message: &'static str) -> bool {
        if reading.bound.is_some() {
            self.fault("record.bound", reading.span, message, "one-sided", "");
        }
        reading.bound.is_none()
    }

    fn face_points(&mut self, entry: &'a Entry<'a>) -> Option<Vec<[Reading; 2]>> {
        let nodes = self.list(entry, "a list of points", POINTS)?;
        if nodes.len() < 2 {
            let read = match nodes.len() {
                0 => "none was read".to_owned(),
                count => format!("{count} was read"),
            };
            let message = format!(
                "a line through the {} face needs two points at least, better three or more; {read}",
                entry.key
            );
            let at = entry.node.label_span(Some(entry.key_span));
            let help = "from near the edge to where the ground face ends";
            self.fault("record.section", at, message, "too few", help);
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
                    "a point is two distances; here stands {}",
                    node.kind_in_words()
                );
                let at = node.label_span(None);
                let help = format!("write {POINTS}");
                self.fault("file.shape", at, message, "not a point", help);
                continue;
            };
            let wanted = Wanted::new(&entry.key, LENGTH, Allowed::Any);
            let Some(both) = self.readings_in_text(node, text, wanted) else {
                continue;
            };
            match <[Reading; 2]>::try_from(both) {
                Ok(point) => found.push(point),
                Err(list) => {
                    let count = list.len();
                    let message = format!("a point is two distances; {} has {count}", quoted(text));
                    let help = "from the middle plane, toward starboard above zero, and the height, unit last: -1.0 1.2 mm";
                    self.fault("record.section", node.span, message, "not a point", help);
                }
            }
        }
        (found.len() == nodes.len()).then_some(found)
    }

    /// What was read with gauges of two sizes or more: `[ { diameter: 3 mm, over: 9.23 mm }, … ]`.
    fn sized(
        &mut self,
        entry: &'a Entry<'a>,
        [what, size_key, reading_key]: [&'static str; 3],
        allowed: Allowed,
    ) -> Option<Vec<SizedReading>> {
        let form = format!(
            "`{}: [ {{ {size_key}: 3.000 mm, {reading_key}: 9.23 mm }}, {{ {size_key}: 5.000 mm, {reading_key}: 15.31 mm }} ]`",
            entry.key
        );
        let nodes = self.list(entry, "a list", &form)?;
        if nodes.len() < 2 {
            let read = if nodes.is_empty() { "none" } else { "one" };
            let message = format!(
                "an angle by {} needs two sizes at least; {read} was read",
                quoted(&entry.key)
            );
            let at = entry.node.label_span(Some(entry.key_span));
            let help = format!("write {form}");
            self.fault("record.section", at, message, "too few", help);
            return None;
        }
        if !self.count(nodes.len().saturating_mul(2), entry.key_span) {
            return None;
        }
        let mut found: Vec<SizedReading> = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(entries) = self.mapping(node, None, what, &form) else {
                continue;
            };
            let span = node.label_span(None);
            let (mut size, mut reading) = (None, None);
            for entry in entries {
                let slot = match entry.key.as_ref() {
                    key if key == size_key => &mut size,
                    key if key == reading_key => &mut reading,
                    _ => {
                        self.unknown_key(entry, what, &[size_key, reading_key]);
                        continue;
                    }
                };
                if entry.node.is_null() {
                    self.nothing(entry, what);
                } else {
                    *slot = Some(entry);
                }
            }
            let mut value = |entry: Option<&'a Entry<'a>>, key: &'static str, allowed: Allowed| {
                let entry = self.require(entry, key, what, entries, span, &form)?;
                let wanted = Wanted::new(key, LENGTH, allowed);
                self.reading(&entry.node, Some(entry.key_span), wanted)
            };
            let size = value(size, size_key, allowed);
            let reading = value(reading, reading_key, Allowed::FromZero);
            let (Some(size), Some(reading)) = (size, reading) else {
                continue;
            };
            if !self.two_sided(
                &size,
                "the size of a gauge is a length, not more or less than one",
            ) {
                continue;
            }
            found.push(SizedReading { size, reading });
        }
        if let [first, rest @ ..] = found.as_slice()
            && !rest.is_empty()
            && rest.iter().all(|one| one.size.value == first.size.value)
        {
            let at = first.size.span;
            let message = format!(
                "{} has one {size_key} alone; two tell an angle",
                quoted(&entry.key)
            );
            self.fault(
                "record.section",
                at,
                message,
                "one size",
                format!("write {form}"),
            );
            return None;
        }
        (found.len() == nodes.len()).then_some(found)
    }
}

/// Whether the first place of a list that could not be read holds a section in lengths.
fn lengths_in(places: &Entry<'_>) -> bool {
    let first = places.node.as_sequence().and_then(|nodes| nodes.first());
    let entries = first.and_then(|node| node.as_mapping()).unwrap_or(&[]);
    let way = entries.iter().find(|entry| is_way(&entry.key));
    way.is_some_and(|way| way.key != "bevels")
}
