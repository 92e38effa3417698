//! The part of a record's JSON Schema that is about measures: short forms, series, what each kind holds.

use serde_json::{Map, Value, json};

use super::reader::limits;
use super::schema::{
    NUMBER, bounds, described, object, quantity_schema, reference, scalar_types, types, units,
    written_as,
};
use crate::quantity::show;
use crate::vocabulary::{FixedAt, Measure, MeasureKind, QuantityKind, Supports};

fn kind_word(kind: QuantityKind) -> &'static str {
    QuantityKind::WORDS
        .iter()
        .find(|(_, other)| *other == kind)
        .map_or("number", |(word, _)| word)
}

pub(super) fn measure_name(measure: &Measure) -> String {
    let placed = if measure.placed { "_at_places" } else { "" };
    match measure.kind {
        MeasureKind::Quantity(kind) if measure.fixed_at.is_some() => {
            format!("first_{}", kind_word(kind))
        }
        MeasureKind::Quantity(kind) => format!("measure_{}{placed}", kind_word(kind)),
        MeasureKind::YesNo => "measure_yes_no".to_owned(),
        MeasureKind::Profile => "measure_profile".to_owned(),
        MeasureKind::Line => "measure_line".to_owned(),
        MeasureKind::Section => format!("measure_section{placed}"),
        MeasureKind::LoadTest => "measure_load_test".to_owned(),
        MeasureKind::Outline => "measure_outline".to_owned(),
    }
}

/// The keys of every series.
fn series_keys() -> Map<String, Value> {
    let with = json!({ "title": "the key of an instrument, or exact", "type": scalar_types() });
    [
        (
            "by",
            described(
                "text",
                "who measured; else who measured the session".to_owned(),
            ),
        ),
        ("with", with),
        (
            "taken",
            described("moment", "when; else the day of the session".to_owned()),
        ),
        (
            "second",
            described(
                "yes_no",
                "whether this is a second measurer's series".to_owned(),
            ),
        ),
        (
            "searched",
            described("text", "how the surface was searched".to_owned()),
        ),
    ]
    .into_iter()
    .map(|(key, value)| (key.to_owned(), value))
    .collect()
}

/// A measure of a kind: its short form, one series, or several.
pub(super) fn measure_schema(measure: &Measure) -> Value {
    let mut keys = series_keys();
    let mut add = |key: &str, value: Value| keys.insert(key.to_owned(), value);
    let list = |title: &str, items: Value| json!({ "title": title, "type": "array", "items": items, "minItems": 1, "maxItems": limits::LIST });
    match measure.kind {
        MeasureKind::YesNo => {
            return json!({
                "title": "yes or no, or an answer",
                "description": "written as yes, or { answer: yes, by: AB, day: 2026-11-21 }",
                "type": ["string", "boolean", "object"],
                "pattern": "^(yes|no|true|false)$",
                "properties": { "answer": reference("yes_no"), "by": reference("text"), "day": reference("day") },
                "required": ["answer"],
                "additionalProperties": false,
            });
        }
        MeasureKind::Quantity(kind) if measure.fixed_at.is_some() => {
            return first_value_schema(kind);
        }
        MeasureKind::Quantity(kind) if measure.placed => {
            let place = object(
                "a place",
                json!({
                    "at": described("quantity_length", "signed distance from the pivot, positive toward the toe".to_owned()),
                    "face": reference("face"),
                    "from_edge": described("quantity_length", "distance from the edge".to_owned()),
                    "readings": reference(&format!("readings_{}", kind_word(kind))),
                    "void": reference("void"),
                    "confirmed_by": described("text", "who confirmed an implausible value".to_owned()),
                }),
                &["readings"],
            );
            add("places", list("a list of places", place));
        }
        MeasureKind::Quantity(kind) => {
            add(
                "readings",
                reference(&format!("readings_{}", kind_word(kind))),
            );
            add("void", reference("void"));
            add(
                "confirmed_by",
                described("text", "who confirmed an implausible value".to_owned()),
            );
        }
        MeasureKind::Profile => {
            add(
                "contact",
                described(
                    "reading_position",
                    "where the straight edge touches".to_owned(),
                ),
            );
            add("shims", list("a list of pairs of shims", reference("shim")));
            for key in ["stations", "gaps"] {
                add(key, reference("readings_position"));
            }
        }
        MeasureKind::Line => {
            for key in ["stations", "port", "starboard"] {
                add(key, reference("readings_position"));
            }
        }
        MeasureKind::Section => {
            if measure.placed {
                add(
                    "places",
                    list("a list of places", reference("section_place")),
                );
            }
            for (key, value) in super::schema_section::ways() {
                add(key, value);
            }
        }
        MeasureKind::LoadTest => {
            let supports = Supports::WORDS.map(|(word, _)| word);
            add(
                "span",
                described(
                    "quantity_length",
                    "how far apart the supports stood".to_owned(),
                ),
            );
            add(
                "supports",
                json!({ "title": "a kind of support", "enum": supports }),
            );
            add("steps", list("a list of steps", reference("load_step")));
        }
        MeasureKind::Outline => {
            add(
                "points",
                json!({ "title": "a list of corners", "description": "each as 1200 800 mm, once round", "type": "array", "items": { "title": "a corner", "type": "string" } }),
            );
            add("spacing", reference("quantity_length"));
            add("widths", reference("readings_length"));
        }
    }
    let series = object("a series", Value::Object(keys.clone()), &[]);
    keys.insert("series".to_owned(), list("a list of series", series));
    keys.insert("chosen".to_owned(), reference("chosen"));
    match measure.kind {
        MeasureKind::Quantity(kind) => {
            let dimension = kind.dimension();
            keys.extend(bounds(dimension));
            json!({
                "title": format!("{}, or a series of readings", dimension.in_words()),
                "description": written_as(dimension),
                "type": types(dimension, &[]),
                "pattern": format!(r"^\s*{NUMBER}{}\s*$", units(dimension)),
                "properties": keys,
                "additionalProperties": false,
            })
        }
        MeasureKind::YesNo
        | MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => object("a series", Value::Object(keys), &[]),
    }
}

/// A value that was fixed when the item was new.
fn first_value_schema(kind: QuantityKind) -> Value {
    let dimension = kind.dimension();
    json!({
        "title": "a first value",
        "description": "written as { value: 25.0 mm, day: 2019-11-20, paper: C-0117 }",
        "type": types(dimension, &[]),
        "pattern": format!(r"^\s*{NUMBER}{}\s*$", units(dimension)),
        "properties": {
            "value": quantity_schema(dimension),
            "day": described("day", "the day from which it stands".to_owned()),
            "paper": described("text", "the paper that says it".to_owned()),
            "confirmed_by": described("text", "who confirmed an implausible value".to_owned()),
        },
        "additionalProperties": false,
    })
}

/// What a measure is, for whoever writes a record.
pub(super) fn about(measure: &Measure) -> String {
    let mut words = match measure.kind {
        MeasureKind::Quantity(kind) => kind.dimension().in_words().into_owned(),
        MeasureKind::YesNo => measure
            .ask
            .clone()
            .unwrap_or_else(|| "yes or no".to_owned()),
        MeasureKind::Profile => {
            "the profile of the edge, by shims or by gaps at stations".to_owned()
        }
        MeasureKind::Line => "gaps at stations along one flank or both".to_owned(),
        MeasureKind::Section => {
            "the section across the edge, by bevels, points, a sine bar, pins, rollers or widths"
                .to_owned()
        }
        MeasureKind::LoadTest => "how far it sinks under which loads".to_owned(),
        MeasureKind::Outline => "the outline, by corners or by widths".to_owned(),
    };
    match measure.fixed_at {
        Some(FixedAt::FirstCertification) => words.push_str(", fixed at the first certification"),
        None => {}
    }
    if let Some(setup) = &measure.setup {
        let number = show::number(&setup.span, setup.unit, None).0;
        let span = show::with_unit(&number, setup.unit);
        words.push_str(&format!(", {span} apart on {}", setup.supports.words()));
    }
    if measure.placed {
        words.push_str(", taken at places");
    }
    if let (Some((low, high)), Some(unit)) = (&measure.plausible, measure.plausible_unit) {
        let number = |value| show::with_unit(&show::number(value, unit, None).0, unit);
        words.push_str(&format!(
            "; plausible from {} to {}",
            number(low),
            number(high)
        ));
    }
    let methods: Vec<&str> = measure
        .methods
        .iter()
        .map(|method| method.name.text.as_str())
        .filter(|name| *name != "unnamed")
        .collect();
    if !methods.is_empty() {
        words.push_str(&format!("; by {}", methods.join(", ")));
    }
    if let Some(days) = measure.fresh_for_days {
        words.push_str(&format!("; fresh for {days} days"));
    }
    words
}
