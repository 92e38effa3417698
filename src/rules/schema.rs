//! The JSON Schema (draft 2020-12) of rules files and case files, so that an editor completes keys.
//!
//! It says what keys there are and of what shape; names, units and dimensions are the typed loader's.

use std::sync::OnceLock;

use serde_json::{Value, json};

use crate::diagnostic::Schema;

/// The schema of rules files, compiled when it is first asked for. A test compiles it.
pub fn schema_of_rules() -> Option<&'static Schema> {
    static SCHEMA: OnceLock<Option<Schema>> = OnceLock::new();
    SCHEMA
        .get_or_init(|| Schema::new(rules_schema()).ok())
        .as_ref()
}

/// The schema of files of cases, compiled when it is first asked for. A test compiles it.
pub fn schema_of_cases() -> Option<&'static Schema> {
    static SCHEMA: OnceLock<Option<Schema>> = OnceLock::new();
    SCHEMA
        .get_or_init(|| Schema::new(cases_schema()).ok())
        .as_ref()
}

/// A text: YAML's plain scalars may look like numbers.
fn text(description: &str) -> Value {
    json!({ "title": "a text", "type": ["string", "number", "boolean"], "description": description })
}

fn quantity(description: &str) -> Value {
    json!({ "type": ["string", "number"], "description": description })
}

fn day(description: &str) -> Value {
    json!({ "type": ["string", "number"], "description": description, "examples": ["2026-11-01"] })
}

fn name(description: &str) -> Value {
    json!({ "type": "string", "pattern": "^[a-z][a-z0-9_]{0,63}$", "description": description })
}

fn yes_no(description: &str) -> Value {
    json!({ "enum": ["yes", "no", "true", "false", true, false], "description": description })
}

fn mapping(description: &str, required: &[&str], properties: Value) -> Value {
    json!({
        "type": "object",
        "title": description,
        "description": description,
        "required": required,
        "additionalProperties": false,
        "properties": properties,
    })
}

fn named(description: &str, of: Value) -> Value {
    json!({
        "type": "object",
        "description": description,
        "propertyNames": { "pattern": "^[a-z][a-z0-9_]{0,63}$" },
        "additionalProperties": of,
    })
}

fn list(description: &str, of: Value) -> Value {
    json!({ "type": "array", "description": description, "items": of })
}

fn bounds() -> Vec<(&'static str, Value)> {
    vec![
        (
            "at_least",
            quantity("lower limit; the limit itself conforms"),
        ),
        (
            "at_most",
            quantity("upper limit; the limit itself conforms"),
        ),
        (
            "more_than",
            quantity("lower limit; the limit itself does not conform"),
        ),
        (
            "less_than",
            quantity("upper limit; the limit itself does not conform"),
        ),
        ("equals", text("for counts, choices and yes-or-no")),
    ]
}

fn with_bounds(properties: Value) -> Value {
    let mut properties = properties;
    if let Value::Object(map) = &mut properties {
        for (key, value) in bounds() {
            map.insert(key.to_owned(), value);
        }
    }
    properties
}

fn vocabulary() -> Value {
    let measure = json!({
        "description": "a kind, or a mapping with the kind and what else there is to say",
        "type": ["string", "object"],
        "required": ["kind"],
        "additionalProperties": false,
        "properties": {
            "kind": { "enum": ["length", "position", "angle", "mass", "force", "area", "ratio", "stiffness", "temperature",
                "hardness_hrc", "hardness_hv", "hardness_hbw", "number", "yes_no", "profile", "line", "section"] },
            "placed": yes_no("may be taken at several places"),
            "plausible": text("outside, a value waits until somebody confirms it: 2 mm to 12 mm"),
            "methods": named("kinds of instrument with their floor", mapping("a method", &["expanded_uncertainty"],
                json!({ "expanded_uncertainty": quantity("U is never smaller than this") }))),
            "fresh_for": quantity("older readings are stale: 365 days"),
            "ask": text("the question of a yes_no measure"),
        },
    });
    let traits = json!({
        "description": "a list of choices, `{ date: proven }` or `{ flag: intended }`",
        "type": ["array", "object"],
        "items": name("a choice"),
        "additionalProperties": false,
        "properties": { "date": { "const": "proven" }, "flag": { "const": "intended" } },
    });
    let zone = mapping(
        "an idea of where",
        &[],
        json!({
            "within": quantity("distance from `of`"),
            "of": name("`edge`, or a position such as toe_at"),
            "between": text("two distances from the pivot: -60 mm to 60 mm"),
        }),
    );
    let holding = mapping(
        "what fills this place of the boat",
        &[],
        json!({ "one": name("a kind of part"), "many": name("a kind of part"), "at_least": quantity("fewer is not decided") }),
    );
    let part = mapping(
        "a kind of part",
        &[],
        json!({
            "parts": named("the parts of the boat", holding),
            "traits": named("what is declared", traits),
            "measures": named("what is measured", measure),
            "derived": named("what is computed", text("an expression")),
            "zones": named("where", zone),
        }),
    );
    let mut equipment = named(
        "the parts of the class and what a record can say of them",
        part,
    );
    if let Value::Object(map) = &mut equipment {
        map.insert("required".to_owned(), json!(["boat"]));
    }
    equipment
}

fn rule() -> Value {
    let row = mapping("a row of limits", &[], with_bounds(json!({})));
    let instead = mapping(
        "another limit for some equipment",
        &["if", "because"],
        with_bounds(json!({
            "if": text("a condition"),
            "because": text("why, in the words of the class"),
            "limit": { "const": "none", "description": "no limit at all" },
            "unproven": { "const": "main_limit", "description": "the main limit holds until the proof is there" },
            "until": day("the last day on which this counts"),
        })),
    );
    let places = mapping(
        "how many places, how near to each other",
        &[],
        json!({
            "at_least": quantity("places"),
            "repeats": quantity("readings at each place"),
            "combine": { "const": "mean" },
            "spaced_at_most": quantity("between neighbours and from each end"),
            "from": text("one end"),
            "to": text("the other end"),
        }),
    );
    mapping(
        "a rule",
        &["id", "clause", "applies_to", "value"],
        with_bounds(json!({
            "id": name("stays for ever"),
            "clause": text("printed number"),
            "title": text("heading"),
            "text": text("as the class prints it"),
            "applies_to": name("a kind of part"),
            "value": text("an expression"),
            "when": text("a condition"),
            "judged": { "enum": ["worst_place", "mean"] },
            "places": places,
            "outside": list("zones that are left out", name("a zone")),
            "zone": name("the only zone whose places count"),
            "by": { "type": "string", "description": "a trait with choices, or event.level" },
            "limits": named("a row for each choice", row),
            "instead": list("other limits, the first that applies", instead),
            "checked_at": list("stages", json!({ "enum": ["self_check", "certification", "event_inspection"] })),
            "remedy": text("what can be done"),
        })),
    )
}

fn mark() -> Value {
    let at_most = json!({ "at_most": quantity("marks") });
    let cap = mapping(
        "a cap on some of them",
        &["where", "at_most"],
        json!({ "where": text("a condition"), "at_most": quantity("marks") }),
    );
    mapping(
        "a limit on event limitation marks",
        &["id", "clause", "item"],
        json!({
            "id": name("stays for ever"),
            "clause": text("printed number"),
            "title": text("heading"),
            "text": text("as the class prints it"),
            "remedy": text("what can be done"),
            "item": name("a kind of part"),
            "by": { "const": "event.level" },
            "limits": named("a row for each level", mapping("a row", &["at_most"], at_most)),
            "at_most": quantity("marks at every event"),
            "of_which": list("caps on some of them", cap),
        }),
    )
}

/// The schema of a rules file.
pub fn rules_schema() -> Value {
    let rule_name =
        json!({ "enum": ["simple_acceptance", "guarded_acceptance", "guarded_rejection"] });
    let mut schema = mapping(
        "Class rules as data",
        &[
            "format",
            "class",
            "title",
            "version",
            "status",
            "in_force_from",
            "authority",
            "silence",
            "decision",
            "equipment",
            "rules",
        ],
        json!({
            "format": { "const": super::load::FORMAT },
            "class": { "type": "string", "pattern": "^[a-z0-9-]{1,64}$" },
            "title": text("for people"),
            "version": { "type": ["string", "number"], "description": "three numbers: 3.1.0" },
            "status": { "enum": ["draft", "proposed", "adopted", "repealed"] },
            "replaces": { "type": ["string", "number"], "description": "the version before" },
            "in_force_from": day("the first day on which it counts"),
            "authority": text("who has the last word"),
            "silence": { "enum": ["forbids", "permits"] },
            "decision": mapping("who carries the doubt", &["coverage_probability", "self_check", "certification", "event_inspection"], json!({
                "coverage_probability": quantity("95 %"),
                "guard_factor": quantity("the guard band is this many times U"),
                "self_check": rule_name, "certification": rule_name, "event_inspection": rule_name,
            })),
            "event": mapping("events", &[], json!({ "levels": list("levels", name("a level")) })),
            "events_may_change": list("rules that an event may change", name("the id of a rule")),
            "cautions": list("cautions to print", json!({ "enum": super::model::Caution::WORDS.map(|(word, _)| word) })),
            "renamed": { "type": "object", "additionalProperties": name("the new name") },
            "equipment": vocabulary(),
            "rules": list("rules in the order of the class", rule()),
            "marks": list("limits on marks", mark()),
            "interpretations": list("rulings on what rules mean", mapping("an interpretation", &["id", "about", "issued", "scope", "status", "text"], json!({
                "id": text("its id"),
                "about": list("rules", name("the id of a rule")),
                "issued": day("the day"),
                "scope": { "const": "permanent" },
                "status": { "enum": ["in_force", "absorbed", "withdrawn", "expired"] },
                "effect": { "const": "none" },
                "text": text("its words"),
            }))),
        }),
    );
    if let Value::Object(map) = &mut schema {
        map.insert(
            "$schema".to_owned(),
            json!("https://json-schema.org/draft/2020-12/schema"),
        );
        map.insert("title".to_owned(), json!("rimegauge rules, format 1"));
    }
    schema
}

/// The schema of a file of cases; `given` is a part of a record and is checked against the class.
pub fn cases_schema() -> Value {
    let outcome =
        json!({ "enum": ["conforms", "does_not_conform", "not_decided", "not_applicable"] });
    let expected = json!({
        "description": "an outcome, or a mapping with outcome and reason",
        "type": ["string", "object"],
        "required": ["outcome"],
        "additionalProperties": false,
        "properties": { "outcome": outcome, "reason": { "type": "string" } },
    });
    let case = mapping(
        "a case",
        &["title", "given", "expect"],
        json!({
            "title": text("what it shows"),
            "versions": text("a requirement: \">=3.0.0\""),
            "purpose": { "enum": ["self_check", "certification", "event_inspection"] },
            "on": day("the day of the check"),
            "level": name("the event's level"),
            "given": { "type": "object", "description": "a part of a record" },
            "expect": named("outcomes by rule id", expected),
        }),
    );
    let mut schema = mapping(
        "Rule cases",
        &["format", "class", "cases"],
        json!({
            "format": { "const": "rimegauge-cases/1" },
            "class": { "type": "string" },
            "cases": list("cases", case),
        }),
    );
    if let Value::Object(map) = &mut schema {
        map.insert(
            "$schema".to_owned(),
            json!("https://json-schema.org/draft/2020-12/schema"),
        );
        map.insert("title".to_owned(), json!("rimegauge cases, format 1"));
    }
    schema
}
