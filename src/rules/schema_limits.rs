//! The JSON Schema of limits: those of a row, listed options, and limits on marks.

use serde_json::{Value, json};

use super::model::{AfterLastMark, Exchange, Replacement};
use super::schema::{
    count, expression, list, mapping, name, named, quantity, scalar, with_heading, words_of,
};

/// The keys of a limit beside others.
pub(super) fn with_limits(mut properties: Value) -> Value {
    let limit = |words: &str| {
        expression(&format!(
            "{words}; a quantity such as 4.70 mm, or an expression"
        ))
    };
    let limits = [
        ("at_least", limit("lower limit, which itself conforms")),
        ("at_most", limit("upper limit, which itself conforms")),
        (
            "more_than",
            limit("lower limit, which itself does not conform"),
        ),
        (
            "less_than",
            limit("upper limit, which itself does not conform"),
        ),
        (
            "equals",
            scalar(
                "a choice, a whole number, yes or no",
                "for counts, choices and yes-or-no",
            ),
        ),
        (
            "only",
            list(
                "a list of choices; nothing else may be declared",
                name("a choice"),
            ),
        ),
        (
            "without",
            list(
                "a list of choices; none of them may be declared",
                name("a choice"),
            ),
        ),
        (
            "rounded_to",
            quantity("values are rounded to a multiple of this before they are compared: 0.1 mm"),
        ),
    ];
    if let Value::Object(map) = &mut properties {
        map.extend(limits.map(|(key, value)| (key.to_owned(), value)));
    }
    properties
}

/// Listed options.
pub(super) fn options() -> Value {
    let within = json!({
        "title": "how near a value must come",
        "description": "a share such as 10 %, a quantity such as 0.5 mm, or exactly; or a list with one for each column",
        "type": ["string", "number", "array"],
        "items": quantity("10 %, 0.5 mm or exactly"),
    });
    let row = list(
        "the values of one option, one for each column",
        quantity("25 mm"),
    );
    mapping(
        "options",
        "the item has to be one of these, in every column",
        &["within", "of", "rows"],
        json!({
            "within": within,
            "of": list("the columns", expression("a measure or a derived value")),
            "rows": named("the options", "each by its name", row),
        }),
    )
}

/// A limit on marks.
pub(super) fn mark() -> Value {
    let row = mapping(
        "a row of limits",
        "the limit of one level",
        &["at_most"],
        json!({ "at_most": count("marks") }),
    );
    let cap = mapping(
        "an entry of `of_which`",
        "a cap on some of them",
        &["where", "at_most"],
        json!({ "where": expression("a condition: position is steering"), "at_most": count("marks") }),
    );
    let pairs = mapping(
        "`pairs`",
        "which marked parts come in pairs of one kind: an even number of each",
        &["where", "alike"],
        json!({
            "where": expression("a condition: position is side"),
            "alike": list("a list of traits that are the same in a pair", name("a trait with choices")),
        }),
    );
    mapping(
        "a limit on marks",
        "how many of a kind of part a boat may have marked at an event",
        &["id", "clause", "item"],
        with_heading(json!({
            "item": name("a part of which there can be many"),
            "by": { "title": "what marks can depend on", "const": "event.level" },
            "limits": named("a table of limits", "a row for each level", row),
            "at_most": count("marks at every event"),
            "of_which": list("a list of caps", cap),
            "pairs": pairs,
            "bring": named("what to bring", "parts or groups, each with the least number at event inspection: `{ sets: 1 }`", count("so many at least")),
            "exchange": words_of("what `exchange` can be", Exchange::WORDS.iter().map(|(word, _)| *word)),
            "after_last_mark": words_of("what `after_last_mark` can be", AfterLastMark::WORDS.iter().map(|(word, _)| *word)),
            "replacement": words_of("what `replacement` can be", Replacement::WORDS.iter().map(|(word, _)| *word)),
            "mark_on": name("what the mark is put on, in one word such as steel"),
        })),
    )
}
