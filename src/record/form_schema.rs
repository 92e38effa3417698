//! The JSON Schema (draft 2020-12) of a form, made from the vocabulary of its class.

use serde_json::{Value, json};

use super::form::{CAUTIONS, FORM_FORMAT, MOST};
use super::reader::limits;
use crate::vocabulary::Vocabulary;

/// The JSON Schema of a form of a class.
pub fn form_schema(vocabulary: &Vocabulary, class: &str) -> Value {
    let mut names: Vec<&str> = Vec::new();
    let mut traits: Vec<&str> = Vec::new();
    for part in &vocabulary.parts {
        names.extend(part.measures.iter().map(|one| one.name.text.as_str()));
        traits.extend(part.traits.iter().map(|one| one.name.text.as_str()));
    }
    for list in [&mut names, &mut traits] {
        list.sort_unstable();
        list.dedup();
    }
    let keys: Vec<&str> = vocabulary
        .holdings
        .iter()
        .filter(|one| {
            !vocabulary
                .part(one.part)
                .is_some_and(|part| part.is_group())
        })
        .map(|one| one.key.text.as_str())
        .collect();
    let text = |description: &str| json!({ "title": "a text", "description": description, "type": ["string", "number", "boolean"], "minLength": 1, "maxLength": limits::TEXT });
    let count = |description: &str| json!({ "title": "a whole number", "description": description, "type": ["integer", "string"], "pattern": "^[0-9]+$", "minimum": 1, "maximum": MOST });
    let filled = |title: &str, items: Value| json!({ "title": title, "type": "array", "minItems": 1, "items": items });
    let step = json!({
        "title": "a step",
        "description": "one measure or one trait, with how it is taken",
        "type": "object",
        "additionalProperties": false,
        "properties": {
            "measure": { "title": "a measure", "description": "what is measured, by its name in the rules", "enum": names },
            "trait": { "title": "a trait", "description": "what is declared, by its name in the rules", "enum": traits },
            "places": count("at how many places, or stations; without it 1"),
            "repeats": count("how many readings at each place; without it 1"),
            "words": text("how it is done, in a few words"),
            "cautions": filled("a list of cautions", json!({ "title": "a caution", "enum": CAUTIONS })),
        },
    });
    let section = json!({
        "title": "a section",
        "description": "steps on the boat, or on each item of a part",
        "type": "object",
        "additionalProperties": false,
        "required": ["title", "steps"],
        "properties": {
            "title": text("what is printed above the steps"),
            "for_each": { "title": "a part of the boat", "description": "the part whose items the steps go through; without it the boat itself", "enum": keys },
            "steps": filled("a list of steps", step),
        },
    });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "a form",
        "description": format!("The measurement form of the class {class}: what is measured, in the order of work."),
        "type": "object",
        "additionalProperties": false,
        "required": ["format", "class", "title", "sections"],
        "properties": {
            "format": { "title": "the format line", "const": FORM_FORMAT, "description": format!("write `format: {FORM_FORMAT}`") },
            "class": { "title": "the name of the class", "type": ["string", "number", "boolean"], "description": format!("write `class: {class}`"), "pattern": format!("^{class}$") },
            "versions": { "title": "a requirement on versions", "description": "the versions of the class rules that the form is for, such as \">=4.0.0\" or \"^3\"; without it every version that knows what the form asks", "type": ["string", "number"] },
            "title": text("what is printed at the head of the form"),
            "sections": filled("a list of sections", section),
        },
    })
}
