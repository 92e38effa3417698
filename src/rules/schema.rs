//! The JSON Schema (draft 2020-12) of rules files and case files, so that an editor completes keys.
//!
//! It says what keys there are and of what shape; names, units and dimensions are the typed loader's. Titles
//! stand with their article and descriptions give the form, since messages are made of them. It says no more
//! than the typed loader does: whatever it refuses, that refuses too, and a test holds both to it.

use std::sync::OnceLock;

use serde_json::{Value, json};

use super::interpretation::Effect;
use super::model::{Caution, Stage, Status};
use super::schema_limits::{mark, options, with_limits};
use crate::diagnostic::Schema;
use crate::vocabulary::{QuantityKind, Supports};

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

/// A name as it is declared.
const NAME: &str = "^[a-z][a-z0-9_]{0,63}$";

/// Anything written as one text: a plain `3` arrives as a number, a plain `true` as a boolean.
pub(super) fn scalar(title: &str, description: &str) -> Value {
    json!({ "title": title, "description": description, "type": ["string", "number", "boolean"] })
}

pub(super) fn text(description: &str) -> Value {
    scalar("a text", description)
}

pub(super) fn expression(description: &str) -> Value {
    scalar("an expression", description)
}

pub(super) fn quantity(description: &str) -> Value {
    json!({ "title": "a quantity", "description": description, "type": ["string", "number"] })
}

pub(super) fn count(description: &str) -> Value {
    json!({ "title": "a whole number", "description": description, "type": ["string", "integer"], "minimum": 0 })
}

pub(super) fn day(description: &str) -> Value {
    json!({ "title": "a day", "description": format!("{description}, written as 2026-11-01"), "type": "string" })
}

fn version(description: &str) -> Value {
    json!({ "title": "a version", "description": format!("{description}; three numbers, written as 3.1.0"), "type": "string" })
}

pub(super) fn name(title: &str) -> Value {
    json!({
        "title": title,
        "description": "small letters, digits and _, beginning with a letter",
        "type": ["string", "number", "boolean"],
        "pattern": NAME,
    })
}

fn yes_no(description: &str) -> Value {
    json!({ "title": "yes or no", "description": description, "enum": ["yes", "no", true, false, "true", "false"] })
}

/// One of some words.
fn one_of(title: &str, words: &[&str]) -> Value {
    json!({ "title": title, "enum": words })
}

/// A mapping with these keys and no others.
pub(super) fn mapping(
    title: &str,
    description: &str,
    required: &[&str],
    properties: Value,
) -> Value {
    json!({
        "title": title,
        "description": description,
        "type": "object",
        "required": required,
        "additionalProperties": false,
        "properties": properties,
    })
}

/// A mapping with names of the author's own choice.
pub(super) fn named(title: &str, description: &str, of: Value) -> Value {
    json!({
        "title": title,
        "description": description,
        "type": "object",
        "propertyNames": { "title": "a name", "description": "small letters, digits and _, beginning with a letter", "pattern": NAME },
        "additionalProperties": of,
    })
}

pub(super) fn list(title: &str, of: Value) -> Value {
    json!({ "title": title, "type": "array", "items": of })
}

pub(super) fn format_line(format: &str) -> Value {
    json!({ "title": "the format line", "description": format!("write `format: {format}`"), "const": format })
}

fn class() -> Value {
    json!({
        "title": "the name of a class",
        "description": "small letters, digits and -, such as tarn-8",
        "type": ["string", "number", "boolean"],
        "pattern": "^[a-z0-9-]{1,64}$",
    })
}

fn equipment() -> Value {
    let kinds: Vec<&str> = QuantityKind::WORDS
        .iter()
        .map(|(word, _)| *word)
        .chain([
            "yes_no",
            "profile",
            "line",
            "section",
            "load_test",
            "outline",
        ])
        .collect();
    let supports = Supports::WORDS.map(|(word, _)| word);
    let floor = mapping(
        "a method",
        "what is the least that its uncertainty is taken as",
        &["expanded_uncertainty"],
        json!({ "expanded_uncertainty": quantity("U of one reading is never smaller than this: 0.02 mm") }),
    );
    let measure = json!({
        "title": "a measure",
        "description": format!("a kind, or a mapping with the kind and what else there is to say; kinds: {}", kinds.join(", ")),
        "type": ["string", "object"],
        "pattern": format!("^({})$", kinds.join("|")),
        "examples": kinds,
        "required": ["kind"],
        "additionalProperties": false,
        "properties": {
            "kind": one_of("a kind of measure", &kinds),
            "placed": yes_no("whether it is taken at places"),
            "plausible": scalar("two quantities with `to` between them", "outside, a value waits until somebody confirms it: 2 mm to 12 mm"),
            "methods": named("methods", "kinds of instrument, each with its floor; `unnamed` for a reading without one", floor),
            "fresh_for": quantity("older readings are stale: 365 days"),
            "ask": text("the question of a yes_no measure"),
            "span": quantity("load_test: how far apart the supports stand"),
            "supports": one_of("a kind of support", &supports),
            "fixed_at": one_of("when a value is fixed for good", &["first_certification"]),
        },
    });
    let declared = json!({
        "title": "a trait",
        "description": "a list of choices, `{ any_of: [wood, glass] }`, `{ date: proven }` or `{ flag: intended }`",
        "type": ["array", "object"],
        "items": name("a choice"),
        "additionalProperties": false,
        "properties": {
            "any_of": list("a list of choices, of which some are declared", name("a choice")),
            "date": { "title": "how a date is held", "const": "proven" },
            "flag": { "title": "what a flag is for", "const": "intended" },
        },
    });
    let zone = mapping(
        "a zone",
        "an idea of where on the item, for `zone`, `outside` and `by: zone` of rules",
        &[],
        json!({
            "within": quantity("the distance from `of`: 6 mm"),
            "of": name("`edge`, or a position such as toe_at"),
            "between": scalar("two quantities with `to` between them", "two distances from the pivot: -60 mm to 60 mm"),
            "along": name("a measure of the kind profile"),
            "from": name("a position such as heel_at, where the zone begins"),
            "to_height": quantity("the zone ends where the edge first stands so high over the straight edge: 22 mm"),
        }),
    );
    let holding = mapping(
        "a part of the boat",
        "what fills this place: `{ one: hull }` or `{ many: runner, at_least: 3 }`",
        &[],
        json!({
            "one": name("a kind of part"),
            "many": name("a kind of part"),
            "at_least": count("a record with fewer is not decided"),
        }),
    );
    let group = mapping(
        "a group",
        "parts that are used together",
        &["roles"],
        json!({
            "at_least": count("a record with fewer is not decided"),
            "roles": named("roles", "the kind of part that fills each: `{ port: runner, starboard: runner }`", name("a kind of part")),
        }),
    );
    let alteration = mapping(
        "a kind of work",
        "what it does: `sharpened: { new_item: no, measure_again: [pivot_height], ends_certificate: no }`",
        &[],
        json!({
            "new_item": yes_no("whether the item is a new one since: nothing from before counts"),
            "measure_again": list("a list of measures", name("a measure")),
            "ends_certificate": yes_no("whether the certificate ends with it"),
        }),
    );
    let part = mapping(
        "a part",
        "what a record can say of this kind of part",
        &[],
        json!({
            "parts": named("the parts of the boat", "only the boat has them; the key is that of a record", holding),
            "groups": named("groups of parts", "only the boat has them; the key is that of a record", group),
            "traits": named("traits", "what is declared", declared),
            "measures": named("measures", "what is measured", measure),
            "derived": named("derived values", "what is computed from what is measured", expression("an expression: toe_at - heel_at")),
            "zones": named("zones", "ideas of where on the item", zone),
            "alterations": named("kinds of work", "what work does to identity, papers and readings; a record then says what was done in one of these words", alteration),
        }),
    );
    let mut equipment = named(
        "equipment",
        "the kinds of part of the class, of which `boat` is one, and what a record can say of them",
        part,
    );
    if let Value::Object(map) = &mut equipment {
        map.insert("required".to_owned(), json!(["boat"]));
    }
    equipment
}

/// The keys that rules and limits on marks begin with.
pub(super) fn with_heading(mut properties: Value) -> Value {
    let heading = [
        ("id", name("the id of a rule")),
        (
            "clause",
            text("the printed number, which may change between versions"),
        ),
        ("title", text("the heading")),
        ("text", text("the rule as the class prints it")),
        ("remedy", text("what can be done where it is not met")),
    ];
    if let Value::Object(map) = &mut properties {
        map.extend(heading.map(|(key, value)| (key.to_owned(), value)));
    }
    properties
}

fn rule() -> Value {
    let mut row = mapping(
        "a row of limits",
        "the limit of one choice; in a table by several traits, the rows of the next trait",
        &[],
        with_limits(json!({})),
    );
    if let Value::Object(map) = &mut row {
        let next = json!({ "title": "rows of the next trait", "type": "object" });
        map.insert("additionalProperties".to_owned(), next);
    }
    let instead = mapping(
        "an entry of `instead`",
        "another limit for some equipment; the first whose condition holds counts",
        &["if", "because"],
        with_limits(json!({
            "if": expression("a condition: construction is insert and built < 2012-01-01"),
            "because": text("why, in the words of the class"),
            "limit": { "title": "no limit at all", "const": "none" },
            "unproven": { "title": "what holds until the proof is there", "const": "main_limit" },
            "until": day("the last day on which this counts"),
        })),
    );
    let places = mapping(
        "places",
        "how many places, and how near to each other",
        &[],
        json!({
            "at_least": count("places; fewer never conform"),
            "repeats": count("readings at each place"),
            "combine": { "title": "how repeats are combined", "const": "mean" },
            "spaced_at_most": quantity("between neighbours and from each end: 150 mm"),
            "from": expression("one end: heel_at"),
            "to": expression("the other end: toe_at"),
        }),
    );
    let stages: Vec<&str> = Stage::ALL.iter().map(|stage| stage.word()).collect();
    mapping(
        "a rule",
        "what is asked of one kind of part",
        &["id", "clause", "applies_to"],
        with_heading(with_limits(json!({
            "applies_to": name("a kind of part"),
            "value": expression("what is compared with the limit: a measure, or an expression"),
            "when": expression("a condition; where it does not hold the rule does not apply"),
            "judged": one_of("a way to judge places", &["worst_place", "mean"]),
            "places": places,
            "outside": list("a list of zones whose places don't count", name("a zone")),
            "zone": name("the only zone whose places count"),
            "options": options(),
            "by": {
                "title": "the name of a trait with choices, zone or event.level, or a list of traits",
                "description": "each choice has a row under `limits`",
                "type": ["string", "number", "boolean", "array"],
                "items": name("a trait with choices"),
            },
            "limits": named("a table of limits", "a row for each choice", row),
            "instead": list("a list of other limits", instead),
            "checked_at": list("a list of stages", one_of("a stage", &stages)),
        }))),
    )
}

pub(super) fn words_of<'w>(title: &str, words: impl Iterator<Item = &'w str>) -> Value {
    let words: Vec<&str> = words.collect();
    one_of(title, &words)
}

fn interpretation() -> Value {
    mapping(
        "an interpretation",
        "a ruling on what rules mean",
        &["id", "about", "issued", "scope", "status", "text"],
        json!({
            "id": text("its id"),
            "about": list("a list of rules", name("the id of a rule")),
            "issued": day("the day on which it was given"),
            "scope": {
                "title": "a scope",
                "description": "permanent, or the name of an event such as harrowmere-2026",
                "type": ["string", "number", "boolean"],
                "pattern": "^[a-z0-9-]{1,64}$",
                "examples": ["permanent"],
            },
            "status": one_of("a status of an interpretation", &["in_force", "absorbed", "withdrawn", "expired"]),
            "until": day("the last day on which it counts, where that was said when it was given"),
            "clause": text("where it is absorbed: the clause that says it now"),
            "version": version("where it is absorbed: the version that says it first"),
            "ended": day("where it is withdrawn: the first day on which it no longer counts; where it is expired: the last on which it did"),
            "effect": one_of("an effect on what is legal", &Effect::WORDS.map(|(word, _)| word)),
            "changed": list("a list of rules that were changed with it", name("the id of a rule")),
            "text": text("its words"),
        }),
    )
}

fn declared_words() -> Value {
    mapping(
        "an entry of `words`",
        "what words that changed against the version before do to what is legal, beyond what the data do: nobody can compute it",
        &["about", "effect", "by", "because"],
        json!({
            "about": list("a list of rules, interpretations and questions", scalar("an id of a rule or an interpretation, or a question", "a question is named with its part: runner.nose_rounded")),
            "effect": one_of("an effect on what is legal", &Effect::WORDS.map(|(word, _)| word)),
            "by": text("who says so"),
            "because": text("why, in a sentence"),
        }),
    )
}

pub(super) fn finished(mut schema: Value) -> Value {
    if let Value::Object(map) = &mut schema {
        map.insert(
            "$schema".to_owned(),
            json!("https://json-schema.org/draft/2020-12/schema"),
        );
    }
    schema
}

/// The schema of a rules file.
pub fn rules_schema() -> Value {
    let decision = || {
        one_of(
            "a decision rule",
            &[
                "simple_acceptance",
                "guarded_acceptance",
                "guarded_rejection",
            ],
        )
    };
    let cautions = Caution::WORDS.map(|(word, _)| word);
    finished(mapping(
        "a rules file",
        "The rules of a class as data: what can be measured, and what is asked of it.",
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
            "format": format_line(super::load::FORMAT),
            "class": class(),
            "title": text("the name of these rules for people"),
            "version": version("the version of these rules"),
            "status": one_of("a status of rules", &Status::WORDS.map(|(word, _)| word)),
            "repealed_on": day("where they are repealed: the first day on which they no longer count"),
            "replaces": version("the version before"),
            "in_force_from": day("the first day on which they count"),
            "authority": text("who has the last word"),
            "silence": one_of("what silence can mean", &["forbids", "permits"]),
            "decision": mapping(
                "decision",
                "who carries the doubt, by stage",
                &["coverage_probability", "self_check", "certification", "event_inspection"],
                json!({
                    "coverage_probability": quantity("95 % is usual"),
                    "guard_factor": quantity("the guard band is this many times U; without it 1"),
                    "self_check": decision(),
                    "certification": decision(),
                    "event_inspection": decision(),
                }),
            ),
            "event": mapping("event", "what there is to say of events", &[], json!({
                "levels": list("a list of event levels", name("an event level")),
            })),
            "events_may_change": list("a list of rules that an event may change", name("the id of a rule")),
            "cautions": list("a list of cautions to print", one_of("a caution", &cautions)),
            "renamed": {
                "title": "old names, each with its new name",
                "description": "for records of older versions",
                "type": "object",
                "additionalProperties": name("a new name"),
            },
            "equipment": equipment(),
            "rules": list("a list of rules, in the order of the class", rule()),
            "marks": list("a list of limits on marks", mark()),
            "interpretations": list("a list of interpretations", interpretation()),
            "words": list("a list of what changed words do", declared_words()),
        }),
    ))
}

/// The schema of a file of cases; `given` is a part of a record and is read against the class when a case runs.
pub fn cases_schema() -> Value {
    let outcomes = [
        "conforms",
        "does_not_conform",
        "not_decided",
        "not_applicable",
        "not_asked",
    ];
    let expected = json!({
        "title": "an expected outcome",
        "description": format!("{}, or a mapping with `outcome` and `reason`", outcomes.join(", ")),
        "type": ["string", "object"],
        "pattern": format!("^({})$", outcomes.join("|")),
        "examples": outcomes,
        "required": ["outcome"],
        "additionalProperties": false,
        "properties": {
            "outcome": one_of("an outcome", &outcomes),
            "reason": scalar("a reason", "why it is not decided or not applicable, such as near_limit"),
        },
    });
    let stages: Vec<&str> = Stage::ALL.iter().map(|stage| stage.word()).collect();
    let case = mapping(
        "a case",
        "a part of a record, and what must come of it",
        &["title", "given", "expect"],
        json!({
            "title": text("what it shows"),
            "versions": scalar("a requirement on versions", "which versions it is about: \">=3.0.0\"; without it all"),
            "purpose": one_of("a purpose", &stages),
            "on": day("the day of the check"),
            "level": name("an event level"),
            "given": {
                "title": "a part of a record",
                "description": "what was measured: `{ runner: { construction: insert, steel_thickness: … } }`",
                "type": "object",
            },
            "expect": named("expected outcomes", "the worst outcome of each rule, by its id", expected),
            "patterns": list("a list of patterns", json!({
                "title": "a pattern of rules",
                "description": "a number from 1 to 40: which kind of rule the case is an example of",
                "type": ["string", "integer"],
                "minimum": 1,
                "maximum": 40,
            })),
        }),
    );
    finished(mapping(
        "a file of cases",
        "What the rules of a class make of given measurements.",
        &["format", "class", "cases"],
        json!({
            "format": format_line("rimegauge-cases/1"),
            "class": class(),
            "cases": list("a list of cases", case),
        }),
    ))
}
