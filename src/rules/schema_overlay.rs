//! The JSON Schema (draft 2020-12) of overlays.
//!
//! It says no more than the typed loader does: whatever it refuses, that refuses too.

use std::sync::OnceLock;

use serde_json::{Value, json};

use super::load_overlay::OVERLAY_FORMAT;
use super::model::RulesFile;
use super::schema::{day, expression, finished, format_line, list, mapping, name, text};
use crate::diagnostic::Schema;

/// The schema of overlays of any class, compiled when it is first asked for. A test compiles it.
pub fn schema_of_overlays() -> Option<&'static Schema> {
    static SCHEMA: OnceLock<Option<Schema>> = OnceLock::new();
    SCHEMA
        .get_or_init(|| Schema::new(overlay_schema(None)).ok())
        .as_ref()
}

/// The schema of an overlay; with rules, of one for that version: it completes what their events may change.
pub fn overlay_schema(rules: Option<&RulesFile>) -> Value {
    let mut rule = name("the id of a rule");
    let mut level = name("an event level");
    let mut version = text("the version that it is for: tarn-8@3.1.0");
    if let Some(rules) = rules {
        let put = |schema: &mut Value, words: Vec<String>| {
            if let (Value::Object(map), false) = (schema, words.is_empty()) {
                map.insert("enum".to_owned(), json!(words));
            }
        };
        let open = rules.events_may_change.iter();
        put(&mut rule, open.map(|id| id.text.clone()).collect());
        let levels = rules.vocabulary.event_levels.iter();
        put(&mut level, levels.map(|one| one.text.clone()).collect());
        let reference = format!("{}@{}", rules.class.text, rules.version);
        put(&mut version, vec![reference]);
    }
    let limit = |words: &str| {
        expression(&format!(
            "{words}, where the class has one; a quantity such as 4.70 mm, or an expression"
        ))
    };
    let change = mapping(
        "a change",
        "one limit at this event, in place of that of the class",
        &["rule", "document", "dated"],
        json!({
            "rule": rule,
            "clause": text("its printed number, for those who read along"),
            "level": level,
            "row": name("a row of the table of the rule"),
            "of_which": expression("the condition of a cap on marks, as the class writes it: position is steering"),
            "at_least": limit("lower limit, which itself conforms"),
            "more_than": limit("lower limit, which itself does not conform"),
            "at_most": limit("upper limit, which itself conforms, or a number of marks"),
            "less_than": limit("upper limit, which itself does not conform"),
            "equals": limit("nothing that an event can change"),
            "document": text("where the event says so: notice of race 9.3"),
            "dated": day("the day of that document"),
        }),
    );
    let ruling = mapping(
        "a ruling",
        "what was said for this event of what a rule means",
        &["id", "about", "by", "until", "text"],
        json!({
            "id": text("its id"),
            "about": {
                "title": "the id of a rule, or a list of them",
                "type": ["string", "number", "boolean", "array"],
                "items": name("the id of a rule"),
            },
            "by": text("who ruled: jury"),
            "until": text("end_of_event, or the last day on which it counts"),
            "text": text("its words"),
        }),
    );
    finished(mapping(
        "an overlay",
        "What one event changes of the rules of a class.",
        &["format", "event", "rules"],
        json!({
            "format": format_line(OVERLAY_FORMAT),
            "event": {
                "title": "the name of an event",
                "description": "small letters, digits and -, such as harrowmere-2026",
                "type": ["string", "number", "boolean"],
                "pattern": "^[a-z0-9-]{1,64}$",
            },
            "rules": version,
            "changes": list("a list of changes", change),
            "rulings": list("a list of rulings", ruling),
        }),
    ))
}
