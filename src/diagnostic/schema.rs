//! JSON Schema findings as messages of ours: what was read, what is wrong there, what is accepted.
//!
//! The words come from the schema itself. Of the schema object that holds the broken keyword, `title` is
//! what should stand there with its article ("a length") and `description` the form to write it in. A
//! schema whose objects have both needs no table of messages beside it.

use std::sync::Arc;

use jsonschema::error::{ValidationError, ValidationErrorKind};
use serde_json::Value;

use super::schema_words::{key_form, message, unknown_key};
use super::{Diagnostic, Label};
use crate::text::{Found, Node, Source, Span};

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
    pub fn validate(&self, source: &Arc<Source>, node: &Node<'_>) -> Vec<Finding> {
        let json = node.to_json();
        let mut found: Vec<Finding> = Vec::new();
        for error in self.validator.iter_errors(&json) {
            self.explain(&error, source, node, &mut found);
            if found.len() >= MOST {
                break;
            }
        }
        found.truncate(MOST);
        found.sort_by_key(|one| one.place());
        found.dedup_by(|later, first| {
            later.place() == first.place()
                && later.diagnostic.code == first.diagnostic.code
                && later.diagnostic.message == first.diagnostic.message
        });
        found
    }

    /// What the typed loader makes of a file, and beside it what the schema alone finds: all findings at once.
    ///
    /// # Errors
    /// What either of them refuses; where both speak of one thing, in the words of the typed loader.
    pub fn beside<T>(
        &self,
        source: &Arc<Source>,
        node: &Node<'_>,
        typed: Result<T, Vec<Diagnostic>>,
    ) -> Result<T, Vec<Diagnostic>> {
        let by_schema = self.validate(source, node);
        match typed {
            Ok(value) if by_schema.is_empty() => Ok(value),
            Ok(_) => Err(merge(by_schema, Vec::new())),
            Err(typed) => Err(merge(by_schema, typed)),
        }
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
        found: &mut Vec<Finding>,
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
            found.push(Finding {
                diagnostic: Diagnostic::fault("schema.value", error.to_string()).label(
                    source,
                    root.label_span(None),
                    "",
                ),
                about: About::Value(Span::default(), None),
            });
            return;
        };
        let object = self.object_of(error);
        let about_value = || About::Value(place.node.span, place.key_span);
        match error.kind() {
            ValidationErrorKind::AdditionalProperties { unexpected }
            | ValidationErrorKind::UnevaluatedProperties { unexpected } => {
                let unknown = unexpected.iter().take(MOST).map(|key| Finding {
                    diagnostic: unknown_key(key, object, &place, source),
                    about: key_of(key, &place).map_or_else(about_value, About::Key),
                });
                found.extend(unknown);
            }
            ValidationErrorKind::PropertyNames { error: inner } => {
                let key = inner.instance().as_str().unwrap_or_default();
                found.push(Finding {
                    diagnostic: key_form(key, inner, object, &place, source),
                    about: key_of(key, &place).map_or_else(about_value, About::Key),
                });
            }
            kind => {
                let about = match kind {
                    ValidationErrorKind::Required { property } => About::Missing(
                        property.as_str().unwrap_or_default().to_owned(),
                        place.node.span,
                        place.key_span,
                    ),
                    _ => about_value(),
                };
                found.push(Finding {
                    diagnostic: message(kind, error, object, &place, source),
                    about,
                });
            }
        }
    }
}

/// Something that a schema refuses.
#[derive(Clone, Debug)]
pub struct Finding {
    diagnostic: Diagnostic,
    about: About,
}

/// What a finding is about: a finding of the typed loader about the same thing is heard instead.
#[derive(Clone, Debug)]
enum About {
    /// A value, and the key nearest to it.
    Value(Span, Option<Span>),
    /// A key.
    Key(Span),
    /// A key that is not there, in a mapping and its own key.
    Missing(String, Span, Option<Span>),
}

impl Finding {
    fn place(&self) -> Option<Span> {
        self.diagnostic.primary().map(|label| label.span)
    }

    /// Whether a message of the typed loader, with its place, is about the same thing.
    fn is_told_by(&self, told: &Diagnostic, label: &Label) -> bool {
        let own = self.diagnostic.primary();
        if own.is_none_or(|own| own.source.name() != label.source.name()) {
            return false;
        }
        let inside = |outer: Span| outer.start <= label.span.start && label.span.end <= outer.end;
        let near = |value: Span, key: Option<Span>| inside(value) || key.is_some_and(inside);
        match &self.about {
            About::Value(value, key) => near(*value, *key),
            About::Key(key) => inside(*key),
            About::Missing(missing, value, key) => {
                near(*value, *key) && names(&told.message, missing)
            }
        }
    }
}

/// Whether a message has a key in it, as a word.
fn names(message: &str, key: &str) -> bool {
    let of_a_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    message
        .split(|letter| !of_a_word(letter))
        .any(|word| word == key)
}

fn key_of(key: &str, place: &Found<'_, '_>) -> Option<Span> {
    place.node.entry(key).map(|entry| entry.key_span)
}

/// Findings of the schema and of the typed loader together: where both speak of the same thing, the loader
/// is heard.
pub fn merge(schema: Vec<Finding>, typed: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let told = |finding: &Finding| {
        typed.iter().any(|one| {
            one.primary()
                .is_some_and(|label| finding.is_told_by(one, label))
        })
    };
    let mut all: Vec<Diagnostic> = schema
        .into_iter()
        .filter(|finding| !told(finding))
        .map(|finding| finding.diagnostic)
        .collect();
    all.extend(typed);
    all
}
