//! The words for what a JSON Schema refuses, made from the titles and descriptions of the schema itself.

use std::sync::Arc;

use jsonschema::error::{ValidationError, ValidationErrorKind};
use serde_json::Value;

use super::{Diagnostic, near_misses};
use crate::text::{Found, Source, Span, quoted};

/// What a schema object says should stand there: `a length`.
fn title(object: &Value) -> Option<&str> {
    object.get("title").and_then(Value::as_str)
}

fn description(object: &Value) -> Option<&str> {
    object.get("description").and_then(Value::as_str)
}

/// Where a value stands, in a form that can be underlined, and where it was used through an alias.
fn labelled(
    diagnostic: Diagnostic,
    place: &Found<'_, '_>,
    span: Span,
    words: &str,
    source: &Arc<Source>,
) -> Diagnostic {
    match place.used_at {
        Some(alias) if alias != span => {
            diagnostic
                .label(source, span, words)
                .label(source, alias, "used here")
        }
        Some(_) | None => diagnostic.label(source, span, words),
    }
}

/// What to underline for the value itself: of an item of a list its first key, not that of the list.
fn span_of(place: &Found<'_, '_>) -> Span {
    place
        .node
        .label_span(place.entry.map(|entry| entry.key_span))
}

pub(super) fn unknown_key(
    key: &str,
    object: &Value,
    place: &Found<'_, '_>,
    source: &Arc<Source>,
) -> Diagnostic {
    let what = title(object).unwrap_or("this part of the file");
    let known = object.get("properties").and_then(Value::as_object);
    let known: Vec<&str> = known
        .map(|known| known.keys().map(String::as_str).collect())
        .unwrap_or_default();
    let span = place
        .node
        .entry(key)
        .map_or_else(|| span_of(place), |entry| entry.key_span);
    let diagnostic = Diagnostic::fault(
        "file.unknown_key",
        format!("{what} has no key {}", quoted(key)),
    );
    let diagnostic = labelled(diagnostic, place, span, "not known here", source);
    match near_misses(key, known.iter().copied()) {
        Some(near) => diagnostic.help(format!("did you mean {}?", quoted(near))),
        None if known.is_empty() => diagnostic,
        None => diagnostic.help(format!("{what} can have: {}", known.join(", "))),
    }
}

/// A key that is no name: of the inner error, the schema object that holds it is that of the key.
pub(super) fn key_form(
    key: &str,
    error: &ValidationError<'_>,
    object: &Value,
    place: &Found<'_, '_>,
    source: &Arc<Source>,
) -> Diagnostic {
    let names = object.get("propertyNames").unwrap_or(object);
    let what = title(names).unwrap_or("a key of this part of the file");
    let span = place
        .node
        .entry(key)
        .map_or_else(|| span_of(place), |entry| entry.key_span);
    let words = format!("not {what}");
    let message = match title(names) {
        Some(what) => format!("{} is not {what}", quoted(key)),
        None => error.to_string(),
    };
    let diagnostic = Diagnostic::fault("name.form", message);
    let diagnostic = labelled(diagnostic, place, span, &words, source);
    match description(names) {
        Some(form) => diagnostic.help(form),
        None => diagnostic,
    }
}

/// What was read, in words: the text itself, or the kind of value.
fn read(place: &Found<'_, '_>) -> String {
    match place.node.as_text() {
        Some(text) => quoted(text),
        None => place.node.kind_in_words().to_owned(),
    }
}

pub(super) fn message(
    kind: &ValidationErrorKind,
    error: &ValidationError<'_>,
    object: &Value,
    place: &Found<'_, '_>,
    source: &Arc<Source>,
) -> Diagnostic {
    let read = read(place);
    let name = place
        .entry
        .map_or_else(|| "this value".to_owned(), |entry| quoted(&entry.key));
    let wanted = title(object);
    let is_wanted = |words: &str| match wanted {
        Some(wanted) => format!("{read} is not {wanted}"),
        None => format!("{read} {words}"),
    };
    let form = description(object).map(str::to_owned);
    let (code, message, words, help) = match kind {
        ValidationErrorKind::Required { property } => {
            let key = property.as_str().unwrap_or_default();
            let what = wanted.unwrap_or("this part of the file");
            (
                "file.missing_key",
                format!("{what} needs the key {}", quoted(key)),
                format!("no {} here", quoted(key)),
                Some(format!("add `{key}: …`")),
            )
        }
        ValidationErrorKind::Type { .. } if place.node.is_null() => (
            "file.nothing",
            format!("{name} has nothing behind it"),
            "no value".to_owned(),
            form.or_else(|| Some("give it a value or leave the key out".to_owned())),
        ),
        ValidationErrorKind::Type { .. } => {
            let what = wanted.unwrap_or("something else");
            (
                "file.shape",
                format!("{name} is {what}; here stands {read}"),
                format!("not {what}"),
                form,
            )
        }
        ValidationErrorKind::Enum { options } => {
            let words: Vec<&str> = options
                .as_array()
                .map(|all| all.iter().filter_map(Value::as_str).collect())
                .unwrap_or_default();
            let near = place
                .node
                .as_text()
                .and_then(|text| near_misses(text, words.iter().copied()));
            let help = match near {
                Some(near) => format!("did you mean {}?", quoted(near)),
                None => format!("one of: {}", words.join(", ")),
            };
            (
                "name.unknown",
                is_wanted("is not known here"),
                "not known".to_owned(),
                Some(help),
            )
        }
        ValidationErrorKind::Constant { expected_value } => {
            let expected = expected_value
                .as_str()
                .map_or_else(|| expected_value.to_string(), str::to_owned);
            (
                "schema.value",
                format!("{name} is {}; {read} was read", quoted(&expected)),
                "something else".to_owned(),
                form,
            )
        }
        ValidationErrorKind::Pattern { .. } | ValidationErrorKind::Format { .. } => (
            "schema.form",
            is_wanted("is not written as it should be"),
            wanted
                .map(|wanted| format!("not {wanted}"))
                .unwrap_or_default(),
            form,
        ),
        ValidationErrorKind::Minimum { limit } | ValidationErrorKind::Maximum { limit } => (
            "schema.range",
            format!("{name} is {read}, beyond {limit}"),
            "out of range".to_owned(),
            form,
        ),
        ValidationErrorKind::ExclusiveMinimum { limit }
        | ValidationErrorKind::ExclusiveMaximum { limit } => (
            "schema.range",
            format!("{name} is {read}; it lies beyond {limit}, the limit itself is left out"),
            "out of range".to_owned(),
            form,
        ),
        ValidationErrorKind::MinItems { limit }
        | ValidationErrorKind::MinLength { limit }
        | ValidationErrorKind::MinProperties { limit } => (
            "schema.range",
            format!("{name} is too short: {limit} or more are asked for"),
            "too few".to_owned(),
            form,
        ),
        ValidationErrorKind::MaxItems { limit }
        | ValidationErrorKind::MaxLength { limit }
        | ValidationErrorKind::MaxProperties { limit } => (
            "schema.range",
            format!("{name} is too long: at most {limit} are read"),
            "too many".to_owned(),
            form,
        ),
        ValidationErrorKind::UniqueItems => (
            "schema.value",
            format!("{name} names something twice"),
            "each once".to_owned(),
            form,
        ),
        ValidationErrorKind::AnyOf { .. }
        | ValidationErrorKind::OneOfNotValid { .. }
        | ValidationErrorKind::OneOfMultipleValid { .. }
        | ValidationErrorKind::Not { .. }
        | ValidationErrorKind::FalseSchema
        | ValidationErrorKind::Contains
        | ValidationErrorKind::MultipleOf { .. } => (
            "schema.value",
            is_wanted("can't stand here"),
            String::new(),
            form,
        ),
        // What our schemas don't use: in the validator's own words, never silent.
        _ => ("schema.value", error.to_string(), String::new(), form),
    };
    let diagnostic = Diagnostic::fault(code, message);
    let diagnostic = labelled(diagnostic, place, span_of(place), &words, source);
    match help {
        Some(help) => diagnostic.help(help),
        None => diagnostic,
    }
}
