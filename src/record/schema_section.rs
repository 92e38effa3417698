//! The part of a record's JSON Schema that is about sections across the edge.

use serde_json::{Value, json};

use super::reader::limits;
use super::schema::{described, object, reference};

/// The ways in which a section is read, by their keys.
pub(super) fn ways() -> [(&'static str, Value); 6] {
    [
        ("bevels", reference("bevels")),
        ("points", reference("edge_points")),
        ("sine", reference("sine_bar")),
        ("pins", reference("pins")),
        ("rollers", reference("rollers")),
        ("widths", reference("section_widths")),
    ]
}

/// A place with a section. That there is one, and in one way, is told by the loader.
pub(super) fn place() -> Value {
    let mut keys = serde_json::Map::new();
    let words = "signed distance from the pivot, positive toward the toe";
    keys.insert(
        "at".to_owned(),
        described("quantity_length", words.to_owned()),
    );
    for (key, value) in ways() {
        keys.insert(key.to_owned(), value);
    }
    object("a place", Value::Object(keys), &[])
}

/// Points of both ground faces.
pub(super) fn points() -> Value {
    let face = |side: &str| {
        json!({
            "title": format!("points of the {side} ground face"),
            "description": "each as -1.0 1.2 mm: from the middle plane, toward starboard above zero, and the height",
            "type": "array",
            "items": { "title": "a point", "type": "string" },
            "minItems": 2,
            "maxItems": limits::LIST,
        })
    };
    let radius = "the radius with which the apex is rounded: points within it are left out";
    object(
        "a section by points",
        json!({
            "port": face("port"),
            "starboard": face("starboard"),
            "edge_radius": described("reading_length", radius.to_owned()),
        }),
        &["port", "starboard"],
    )
}

/// A sine bar along each ground face.
pub(super) fn sine_bar() -> Value {
    let length = |words: &str| described("reading_length", words.to_owned());
    object(
        "a sine bar",
        json!({
            "length": length("from roller to roller"),
            "port": length("how much higher one roller stands along the port face"),
            "starboard": length("how much higher one roller stands along the starboard face"),
        }),
        &["length", "port", "starboard"],
    )
}

/// Readings with gauges of two sizes or more.
pub(super) fn sized(list: &str, one: &str, keys: [&str; 2]) -> Value {
    let [size, reading] = keys;
    json!({
        "title": list,
        "type": "array",
        "items": object(
            one,
            json!({ (size): reference("reading_length"), (reading): reference("reading_length") }),
            &keys,
        ),
        "minItems": 2,
        "maxItems": limits::LIST,
    })
}
