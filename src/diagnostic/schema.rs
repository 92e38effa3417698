//! JSON Schema findings as messages of ours: what was read, what is wrong there, what is accepted.
//!
//! The words come from the schema itself. Of the schema object that holds the broken keyword, `title` is
//! what should stand there with its article ("a length") and `description` the form to write it in. A
//! schema whose objects have both needs no table of messages beside it.

use std::sync::Arc;

use jsonschema::error::{ValidationError, ValidationErrorKind};
use serde_json::Value;

use super::{Diagnostic, Label, near_misses};
use crate::text::{Found, Node, Source, Span, quoted};

/// Findings after which a check stops.
const MOST: usize = 100;

/// A JSON Schema (draft 2020-12), compiled once for many files.
#[derive(Debug)]
pub struct Schema {
    value: Value,
    validator: jsonschema::Validator,
}

impl Schema {
    /// Compiles a schema. It refers to nothing outside itself.
    ///
    /// # Errors
    /// A text that is no schema; those in this program are compiled by a test.
    pub fn new(value: Value) -> Result<Schema, Diagnostic> {
        match jsonschema::draft202012::new(&value) {
            Ok(validator) => Ok(Schema { value, validator }),
            Err(error) => {
                let message = format!("the schema is no JSON Schema: {error}");
                Err(Diagnostic::fault("schema.invalid", message))
            }
        }
    }

    /// The schema as it is printed.
    pub fn value(&self) -> &Value {
        &self.value
    }

    /// Whether a file is as the schema says; faster than asking for what is wrong.
    pub fn accepts(&self, node: &Node<'_>) -> bool {
        self.validator.is_valid(&node.to_json())
    }

    /// What is wrong with a file, in the order of the text; nothing twice.
    pub fn validate(&self, source: &Arc<Source>, node: &Node<'_>) -> Vec<Diagnostic> {
        let json = node.to_json();
        let mut found: Vec<Diagnostic> = Vec::new();
        for error in self.validator.iter_errors(&json) {
            self.explain(&error, source, node, &mut found);
            if found.len() >= MOST {
                break;
            }
        }
        found.truncate(MOST);
        let place = |one: &Diagnostic| one.primary().map(|label| label.span);
        found.sort_by_key(place);
        found.dedup_by(|later, first| {
            place(later) == place(first)
                && later.code == first.code
                && later.message == first.message
        });
        found
    }

    /// The schema object that holds the keyword of an error.
    fn object_of(&self, error: &ValidationError<'_>) -> &Value {
        let path = error.schema_path().as_str();
        let parent = path.rsplit_once('/').map_or("", |(parent, _)| parent);
        self.value.pointer(parent).unwrap_or(&Value::Null)
    }

    fn explain(
        &self,
        error: &ValidationError<'_>,
        source: &Arc<Source>,
        root: &Node<'_>,
        found: &mut Vec<Diagnostic>,
    ) {
        if let ValidationErrorKind::AnyOf { context }
        | ValidationErrorKind::OneOfNotValid { context } = error.kind()
        {
            // The branch that went furthest into the file is the one that was meant.
            let depth = |branch: &&Vec<ValidationError<'static>>| {
                let deepest = branch
                    .iter()
                    .map(|error| error.instance_path().as_str().matches('/').count());
                deepest.max().unwrap_or(0)
            };
            let here = error.instance_path().as_str().matches('/').count();
            let meant = context.iter().max_by_key(depth);
            if let Some(branch) = meant.filter(|branch| depth(branch) > here) {
                for error in branch {
                    self.explain(error, source, root, found);
                }
                return;
            }
        }
        let Some(place) = root.lookup(error.instance_path().as_str()) else {
            found.push(Diagnostic::fault("schema.value", error.to_string()));
            return;
        };
        let object = self.object_of(error);
        if let ValidationErrorKind::AdditionalProperties { unexpected }
        | ValidationErrorKind::UnevaluatedProperties { unexpected } = error.kind()
        {
            let unknown = unexpected
                .iter()
                .take(MOST)
                .map(|key| unknown_key(key, object, &place, source));
            found.extend(unknown);
            return;
        }
        found.push(message(error.kind(), error, object, &place, source));
    }
}

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

fn unknown_key(
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

/// What was read, in words: the text itself, or the kind of value.
fn read(place: &Found<'_, '_>) -> String {
    match place.node.as_text() {
        Some(text) => quoted(text),
        None => place.node.kind_in_words().to_owned(),
    }
}

fn message(
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
                form,
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
        ValidationErrorKind::PropertyNames { .. } => (
            "name.form",
            format!("a key of {name} is no name"),
            String::new(),
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

/// Findings of the schema and of the typed loader together: where both speak of the same value, or the
/// loader of something inside it or of its key, the loader is heard.
pub fn merge(schema: Vec<Diagnostic>, typed: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let inside = |inner: &Label, outer: &Label| {
        inner.source.name() == outer.source.name()
            && outer.span.start <= inner.span.start
            && inner.span.end <= outer.span.end
    };
    let of_its_key = |key: &Label, value: &Label| {
        let between = key.span.end as usize..value.span.start as usize;
        key.source.name() == value.source.name()
            && key
                .source
                .text()
                .get(between)
                .is_some_and(|text| text.trim() == ":")
    };
    let heard = |finding: &Diagnostic| {
        let mut loader = typed.iter().filter_map(Diagnostic::primary);
        loader.any(|label| {
            let mut outer = finding.labels.iter();
            outer.any(|outer| inside(label, outer) || of_its_key(label, outer))
        })
    };
    let mut all: Vec<Diagnostic> = schema
        .into_iter()
        .filter(|finding| !heard(finding))
        .collect();
    all.extend(typed);
    all
}
