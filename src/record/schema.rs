//! The JSON Schema (draft 2020-12) of a record, generated from the vocabulary of its class.
//!
//! It completes keys in an editor and is checked before a single file is loaded. It says no more than the
//! typed loader does: whatever it refuses, [`super::Loader::load`] refuses too, and a test holds both to
//! that, so that a fleet is loaded without it. Titles stand with their article and descriptions give the
//! form, since messages are made of them.

use serde_json::{Map, Value, json};

use super::group_schema::groups_schema;
use super::head::FORMAT;
use super::items::a;
use super::reader::limits;
use super::renamed_schema::with_old_names;
use super::schema_measures::{about, measure_name, measure_schema};
use crate::quantity::{Dimension, Unit};
use crate::vocabulary::{Holding, Part, QuantityKind, Trait, TraitKind, Vocabulary};

/// A number as people write it: `4.70`, `-6`, `3/16`, `1 3/16`.
pub(super) const NUMBER: &str = r"[-+]?(?:\d+\s+)?\d+(?:\.\d+|/\d+)?";

/// What plain text can be in JSON: a name such as `1999` arrives as a number, `true` as a boolean.
pub(super) fn scalar_types() -> Value {
    json!(["string", "number", "boolean"])
}

pub(super) fn reference(name: &str) -> Value {
    json!({ "$ref": format!("#/$defs/{name}") })
}

pub(super) fn described(name: &str, description: String) -> Value {
    json!({ "$ref": format!("#/$defs/{name}"), "description": description })
}

/// The schema of a record of a class.
pub fn schema(vocabulary: &Vocabulary, class: &str) -> Value {
    let mut definitions = definitions();
    let mut properties = Map::new();
    properties.insert("format".to_owned(), json!({ "title": "the format line", "const": FORMAT, "description": format!("write `format: {FORMAT}`") }));
    properties.insert("class".to_owned(), json!({ "title": "the name of a class", "description": format!("write `class: {class}`"), "type": scalar_types(), "pattern": "^[a-z0-9-]{1,64}$", "examples": [class] }));
    if let Some(boat) = vocabulary.part(Vocabulary::BOAT) {
        properties.insert("boat".to_owned(), boat_schema(boat));
    }
    for (key, name) in [
        ("measured", "session"),
        ("instruments", "instruments"),
        ("unlisted", "unlisted"),
        ("notes", "notes"),
    ] {
        properties.insert(key.to_owned(), reference(name));
    }
    for holding in &vocabulary.holdings {
        if let Some(part) = vocabulary.part(holding.part)
            && !part.is_group()
        {
            properties.insert(holding.key.text.clone(), holding_schema(holding, part));
        }
    }
    for part in vocabulary.parts.iter().filter(|part| part.is_group()) {
        properties.insert(part.name.text.clone(), groups_schema(part, vocabulary));
    }
    let kinds = vocabulary.parts.iter().skip(1);
    for part in kinds.filter(|part| !part.is_group()) {
        definitions.insert(part_name(part, true), part_schema(part, true));
        definitions.insert(part_name(part, false), part_schema(part, false));
    }
    for measure in vocabulary.parts.iter().flat_map(|part| &part.measures) {
        let name = measure_name(measure);
        if !definitions.contains_key(&name) {
            definitions.insert(name, measure_schema(measure));
        }
    }
    for (word, kind) in QuantityKind::WORDS {
        definitions.insert(format!("reading_{word}"), reading_schema(kind.dimension()));
        definitions.insert(
            format!("readings_{word}"),
            readings_schema(word, kind.dimension()),
        );
    }
    let mut schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "a record",
        "description": format!("What was measured on one boat of the class {class}."),
        "type": "object",
        "properties": properties,
        "required": ["format", "class", "boat"],
        "additionalProperties": false,
        "$defs": definitions,
    });
    with_old_names(&mut schema, vocabulary);
    schema
}

/// A mapping with these keys and no others.
pub(super) fn object(title: &str, properties: Value, required: &[&str]) -> Value {
    json!({
        "title": title,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

/// The parts that every record schema has in common.
fn definitions() -> Map<String, Value> {
    let all = json!({
        "text": { "title": "a text", "type": scalar_types(), "minLength": 1, "maxLength": limits::TEXT },
        "notes": { "title": "a text or a list of texts", "type": ["string", "number", "boolean", "array"], "minLength": 1, "items": reference("text"), "maxItems": limits::LIST },
        "day": { "title": "a day", "description": "written as 2026-11-21", "type": "string", "pattern": r"^\s*\d{4}-\d{2}-\d{2}\s*$" },
        "date": { "title": "a day, a month or a year", "description": "written as 2026-11-21, 2026-11 or 2026", "type": ["string", "integer"], "pattern": r"^\s*\d{4}(-\d{2}(-\d{2})?)?\s*$", "minimum": 1800, "maximum": 2200 },
        "moment": { "title": "a day, with a time or without", "description": "written as 2026-11-21 09:05", "type": "string", "pattern": r"^\s*\d{4}-\d{2}-\d{2}(\s+\d{2}:\d{2})?\s*$" },
        "yes_no": { "title": "yes or no", "enum": ["yes", "no", true, false, "true", "false"] },
        "name": { "title": "a name", "description": "small letters, digits and _, beginning with a letter", "type": scalar_types(), "pattern": "^[a-z][a-z0-9_]{0,63}$" },
        "id": { "title": "an id", "description": "1 to 16 letters, digits and . _ -", "type": scalar_types(), "pattern": "^[A-Za-z0-9._-]{1,16}$" },
        "count": { "title": "a whole number", "type": ["integer", "string"], "pattern": "^[0-9]+$", "minimum": 1 },
        "factor": { "title": "a coverage factor", "description": "a plain number such as 2", "type": ["number", "string"], "pattern": format!(r"^\s*{NUMBER}\s*$") },
        "figure": { "title": "a quantity", "description": "a number with its unit, such as 0.01 mm", "type": ["string", "number"], "pattern": format!(r"^\s*{NUMBER}(\s+\S.*)?$") },
        "quantity_length": quantity_schema(Dimension::LENGTH),
        "face": { "title": "a face", "enum": ["port", "starboard"] },
        "session": object("`measured`", json!({
            "day": described("day", "the day of measuring".to_owned()),
            "by": described("text", "who measured".to_owned()),
            "place": described("text", "where".to_owned()),
            "temperature": quantity_schema(Dimension::TEMPERATURE),
        }), &[]),
        "instruments": {
            "title": "`instruments`",
            "description": "names of your choice with what is known of each instrument: `mic_2: { kind: micrometer }`",
            "type": "object",
            "patternProperties": { "^[a-z][a-z0-9_]{0,63}$": reference("instrument") },
            "additionalProperties": false,
        },
        "instrument": object("an instrument", json!({
            "kind": described("name", "matched with the methods of a measure: micrometer".to_owned()),
            "serial": reference("text"),
            "resolution": described("figure", "the smallest step it shows".to_owned()),
            "max_permissible_error": described("figure", "maximum permissible error".to_owned()),
            "repeatability": described("figure", "standard deviation of single readings".to_owned()),
            "calibration": reference("calibration"),
            "checks": { "title": "a list of checks", "type": "array", "items": reference("check"), "maxItems": limits::LIST },
            "study": described("text", "a repeatability study that replaces the method's floor".to_owned()),
        }), &["kind"]),
        "calibration": object("a calibration", json!({
            "day": described("day", "the day it was done".to_owned()),
            "due": described("day", "the last day on which it counts".to_owned()),
            "correction": described("figure", "what is added to a reading".to_owned()),
            "expanded_uncertainty": reference("figure"),
            "k": reference("factor"),
        }), &[]),
        "check": object("a check", json!({
            "taken": reference("moment"),
            "reference": described("figure", "what the reference is".to_owned()),
            "reading": described("figure", "what the instrument showed".to_owned()),
            "accept_within": described("figure", "the largest difference that is accepted".to_owned()),
        }), &["taken", "reference", "reading", "accept_within"]),
        "claimed_date": {
            "title": "a date, or a date with its proof",
            "description": "written as 2019-11 or { date: 2019-11, proof: invoice 17 }",
            "type": ["string", "integer", "object"],
            "pattern": r"^\s*\d{4}(-\d{2}(-\d{2})?)?\s*$",
            "minimum": 1800,
            "maximum": 2200,
            "properties": {
                "date": reference("date"),
                "proof": described("text", "the paper that proves it".to_owned()),
                "seen_by": described("text", "who saw the paper".to_owned()),
                "seen_on": reference("day"),
            },
            "required": ["date"],
            "additionalProperties": false,
        },
        "work": {
            "title": "a list of what was done",
            "type": "array",
            "maxItems": limits::LIST,
            "items": object("a piece of work", json!({
                "day": reference("day"),
                "did": described("name", "one word such as sharpened".to_owned()),
            }), &["day", "did"]),
        },
        "unlisted": {
            "title": "a list of parts that the rules don't name",
            "type": "array",
            "maxItems": limits::LIST,
            "items": object("an unlisted part", json!({
                "part": { "title": "a part of this boat", "description": "written as runners/S1", "type": scalar_types() },
                "what": reference("text"),
                "seen_by": reference("text"),
                "day": reference("day"),
            }), &["part", "what"]),
        },
        "void_reading": object("a void reading", json!({
            "reading": described("count", "its number, counted from 1".to_owned()),
            "because": reference("text"),
            "by": reference("text"),
        }), &["reading", "because", "by"]),
        "void": {
            "title": "a void reading, or a list of them",
            "description": "written as { reading: 2, because: digits swapped, by: AB }",
            "type": ["object", "array"],
            "items": reference("void_reading"),
            "maxItems": limits::LIST,
            "properties": { "reading": reference("count"), "because": reference("text"), "by": reference("text") },
            "required": ["reading", "because", "by"],
            "additionalProperties": false,
        },
        "bevels": object("a pair of bevels", json!({
            "port": reference("reading_angle"),
            "starboard": reference("reading_angle"),
        }), &["port", "starboard"]),
        "edge_points": super::schema_section::points(),
        "sine_bar": super::schema_section::sine_bar(),
        "pins": super::schema_section::sized("a list of pairs of pins", "a pair of pins", ["diameter", "over"]),
        "rollers": super::schema_section::sized("a list of rollers", "a roller", ["diameter", "height"]),
        "section_widths": super::schema_section::sized("a list of widths", "a width", ["depth", "width"]),
        "section_place": super::schema_section::place(),
        "chosen": object("a choice between series", json!({
            "series": described("count", "the number of the series that decides, counted from 1".to_owned()),
            "by": described("text", "who chose".to_owned()),
            "because": described("text", "why".to_owned()),
        }), &["series", "by", "because"]),
        "load_step": object("a step of a load test", json!({
            "load": { "title": "a load", "description": "a mass or a force, such as 20 kg or 196 N", "type": "string" },
            "sinks": described("reading_length", "how far it sinks from where it stood without a load".to_owned()),
        }), &["load", "sinks"]),
        "shim": object("a pair of shims", json!({
            "gap": described("reading_length", "the leaf".to_owned()),
            "forward": described("reading_length", "from the pivot forward".to_owned()),
            "aft": described("reading_length", "from the pivot aft".to_owned()),
        }), &["gap", "forward", "aft"]),
    });
    match all {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

/// Units that a quantity of a dimension can be written in, as a pattern. Quotients are left to the loader.
pub(super) fn units(dimension: Dimension) -> String {
    let mut words: Vec<&str> = Unit::all()
        .filter(|unit| unit.dimension() == dimension && *unit != Unit::PLAIN)
        .map(Unit::symbol)
        .collect();
    words.sort_unstable_by_key(|word| std::cmp::Reverse(word.len()));
    words.push(r"[A-Za-z0-9%]+/[A-Za-z0-9%]+");
    let unit = format!(r"\s+(?:{})", words.join("|"));
    if dimension == Dimension::RATIO {
        format!("(?:{unit})?")
    } else if dimension == Dimension::ANGLE {
        format!(r"{unit}(?:\s+{NUMBER}\s+min)?")
    } else {
        unit
    }
}

/// Title, form, JSON types and pattern of one quantity.
pub(super) fn quantity_schema(dimension: Dimension) -> Value {
    json!({
        "title": dimension.in_words(),
        "description": written_as(dimension),
        "type": if dimension == Dimension::RATIO { json!(["string", "number"]) } else { json!("string") },
        "pattern": format!(r"^\s*{NUMBER}{}\s*$", units(dimension)),
    })
}

pub(super) fn written_as(dimension: Dimension) -> String {
    match dimension.likely_units() {
        [Unit::MM, ..] => "written as 4.70 mm or 3/16 in".to_owned(),
        [Unit::PLAIN, ..] => "written as 5 or 50 %".to_owned(),
        [unit, ..] => format!("written as 28.4 {unit}"),
        [] => "written as a number with its unit".to_owned(),
    }
}

/// JSON types of a reading: text, a bound, and a bare number where no unit is needed.
pub(super) fn types(dimension: Dimension, more: &[&str]) -> Value {
    let mut types = vec!["string", "object"];
    types.extend(more);
    if dimension == Dimension::RATIO {
        types.push("number");
    }
    json!(types)
}

pub(super) fn bounds(dimension: Dimension) -> Map<String, Value> {
    let quantity = quantity_schema(dimension);
    [("more_than", quantity.clone()), ("less_than", quantity)]
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value))
        .collect()
}

/// One reading, or a bound.
fn reading_schema(dimension: Dimension) -> Value {
    json!({
        "title": dimension.in_words(),
        "description": format!("{}; one-sided as {{ more_than: … }}", written_as(dimension)),
        "type": types(dimension, &[]),
        "pattern": format!(r"^\s*{NUMBER}{}\s*$", units(dimension)),
        "properties": bounds(dimension),
        "minProperties": 1,
        "maxProperties": 1,
        "additionalProperties": false,
    })
}

/// Readings that belong together.
fn readings_schema(word: &str, dimension: Dimension) -> Value {
    json!({
        "title": format!("{} or several", dimension.in_words()),
        "description": format!("{}, several as 4.76 4.77 with the unit last, or as a list", written_as(dimension)),
        "type": types(dimension, &["array"]),
        "pattern": format!(r"^\s*{NUMBER}(?:\s+{NUMBER})*{}\s*$", units(dimension)),
        "items": reference(&format!("reading_{word}")),
        "minItems": 1,
        "maxItems": limits::LIST,
        "properties": bounds(dimension),
        "minProperties": 1,
        "maxProperties": 1,
        "additionalProperties": false,
    })
}

fn trait_schema(one: &Trait) -> Value {
    match &one.kind {
        TraitKind::AnyOf(_) => {
            let title = format!("{}: one of its words, or a list of them", a(&one.name.text));
            let one = choice_schema(one);
            json!({
                "title": title,
                "anyOf": [one, { "type": "array", "items": one, "minItems": 1, "uniqueItems": true }],
            })
        }
        TraitKind::Choice(_) => choice_schema(one),
        TraitKind::Date => reference("claimed_date"),
        TraitKind::Flag => described("yes_no", "meant to be used; absent is no".to_owned()),
    }
}

/// One word of a list of choices.
fn choice_schema(one: &Trait) -> Value {
    let choices = one.kind.names();
    let mut words: Vec<Value> = choices
        .iter()
        .map(|choice| choice.text.as_str())
        .chain(["other"])
        .map(Value::from)
        .collect();
    if choices.iter().any(|choice| choice.text == "true") {
        words.push(Value::Bool(true));
    }
    if choices.iter().any(|choice| choice.text == "false") {
        words.push(Value::Bool(false));
    }
    json!({ "title": a(&one.name.text), "enum": words })
}

/// Traits and measures of a part by their keys.
fn part_keys(part: &Part) -> Map<String, Value> {
    let mut keys = Map::new();
    // What is first among keys of one name is what the loader takes, so that later ones don't replace it.
    for one in &part.traits {
        keys.entry(one.name.text.clone())
            .or_insert_with(|| trait_schema(one));
    }
    for measure in &part.measures {
        keys.entry(measure.name.text.clone())
            .or_insert_with(|| described(&measure_name(measure), about(measure)));
    }
    keys
}

fn boat_schema(part: &Part) -> Value {
    let mut keys = part_keys(part);
    for (key, description) in [
        ("sail_number", "the sail number"),
        ("name", "the name of the boat"),
        ("owner", "the owner"),
    ] {
        keys.insert(key.to_owned(), described("text", description.to_owned()));
    }
    keys.insert("work".to_owned(), reference("work"));
    keys.insert("notes".to_owned(), reference("notes"));
    object("the boat", Value::Object(keys), &["sail_number"])
}

fn part_name(part: &Part, many: bool) -> String {
    let one = if many { "" } else { "_alone" };
    format!("part_{}{one}", part.name.text)
}

fn part_schema(part: &Part, many: bool) -> Value {
    let mut keys = part_keys(part);
    keys.insert("work".to_owned(), reference("work"));
    keys.insert("notes".to_owned(), reference("notes"));
    if many {
        keys.insert("id".to_owned(), reference("id"));
    }
    object(
        &a(&part.name.text),
        Value::Object(keys),
        if many { &["id"] } else { &[] },
    )
}

fn holding_schema(holding: &Holding, part: &Part) -> Value {
    let item = reference(&part_name(part, holding.many));
    if holding.many {
        json!({
            "title": format!("a list, one entry for each {}", part.name.text),
            "description": "begin each entry with `- id: …`",
            "type": "array",
            "items": item,
            "maxItems": limits::ITEMS,
        })
    } else {
        item
    }
}
