//! The measurement form of a class: what is measured in which order, with words and cautions. A filled form
//! is a record.

use std::sync::Arc;

use serde_json::{Value, json};

use crate::diagnostic::{Diagnostic, Faults, Fields};
use crate::text::{Entry, Node, Source, Span, quoted};
use crate::vocabulary::{HoldingId, MeasureId, PartId, TraitId, Vocabulary, read};

/// The format line of this major version.
pub const FORM_FORMAT: &str = "rimegauge-form/1";

/// Cautions that a step can ask for; the words are the class's to print.
const CAUTIONS: [&str; 5] = [
    "edges",
    "grinding",
    "hardened_steel",
    "ice",
    "compliance_is_not_safety",
];

/// A measurement form.
#[derive(Clone, Debug)]
pub struct Form {
    /// The class that it is for.
    pub class: String,
    /// Its title.
    pub title: String,
    /// Its sections in the order of work.
    pub sections: Vec<Section>,
}

/// A section: steps on the boat, or on each item of a holding.
#[derive(Clone, Debug)]
pub struct Section {
    /// Its title.
    pub title: String,
    /// The holding whose items it goes through; `None` is the boat.
    pub for_each: Option<HoldingId>,
    /// The kind of part that it is about.
    pub part: PartId,
    /// Its steps.
    pub steps: Vec<Step>,
}

/// One step: something to measure or to declare.
#[derive(Clone, Debug)]
pub struct Step {
    /// What.
    pub asks: Asked,
    /// Where it is named.
    pub span: Span,
    /// At how many places.
    pub places: Option<u32>,
    /// How many readings at each.
    pub repeats: Option<u32>,
    /// How, in words.
    pub words: Option<String>,
    /// Names of cautions.
    pub cautions: Vec<String>,
}

/// What a step asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// A measure of the part.
    Measure(MeasureId),
    /// A trait of the part.
    Trait(TraitId),
}

/// Loads a form against the vocabulary of its class.
///
/// # Errors
/// Every fault at once.
pub fn load_form(
    source: &Arc<Source>,
    node: &Node<'_>,
    vocabulary: &Vocabulary,
) -> Result<Form, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let form = form(node, vocabulary, &mut faults);
    faults.into_result(form)
}

fn form(node: &Node<'_>, vocabulary: &Vocabulary, faults: &mut Faults) -> Option<Form> {
    let mut fields = Fields::of(node, "a form", None, faults)?;
    if let Some((text, node)) = fields.require_text("format", faults)
        && text != FORM_FORMAT
    {
        faults.fault(
            "file.format",
            node.span,
            format!(
                "this program reads {}; the file says {}",
                quoted(FORM_FORMAT),
                quoted(text)
            ),
            "another format",
            format!("write `format: {FORM_FORMAT}`"),
        );
    }
    let class = fields
        .require_text("class", faults)
        .map(|(text, _)| text.to_owned());
    let title = fields
        .require_text("title", faults)
        .map(|(text, _)| text.to_owned());
    let sections = fields.require("sections", faults);
    fields.finish(faults);
    let sections = list(sections?, "sections", "- title: …", faults)
        .iter()
        .filter_map(|node| section(node, vocabulary, faults))
        .collect();
    Some(Form {
        class: class?,
        title: title?,
        sections,
    })
}

fn list<'n, 's>(
    entry: &'n Entry<'s>,
    what: &str,
    form: &str,
    faults: &mut Faults,
) -> &'n [Node<'s>] {
    match entry.node.as_sequence() {
        Some(items) => items,
        None => {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{what} is a list; here stands {}",
                    entry.node.kind_in_words()
                ),
                "not a list",
                format!("begin each entry with `{form}`"),
            );
            &[]
        }
    }
}

fn section(node: &Node<'_>, vocabulary: &Vocabulary, faults: &mut Faults) -> Option<Section> {
    let mut fields = Fields::of(node, "a section", None, faults)?;
    let title = fields
        .require_text("title", faults)
        .map(|(text, _)| text.to_owned());
    let for_each = fields.take_text("for_each", faults);
    let steps = fields.require("steps", faults);
    fields.finish(faults);
    let (for_each, part) = match for_each {
        None => (None, Vocabulary::BOAT),
        Some((text, node)) => {
            let holdings: Vec<(&str, HoldingId)> = vocabulary
                .holdings
                .iter()
                .filter_map(|one| {
                    vocabulary
                        .holding_named(&one.key.text)
                        .map(|id| (one.key.text.as_str(), id))
                })
                .collect();
            let id = read::one_of(
                text,
                node.span,
                "a part of the boat",
                holdings.into_iter(),
                faults,
            )?;
            (Some(id), vocabulary.holding(id)?.part)
        }
    };
    let steps = list(steps?, "steps", "- { measure: … }", faults)
        .iter()
        .filter_map(|node| step(node, vocabulary, part, faults))
        .collect();
    Some(Section {
        title: title?,
        for_each,
        part,
        steps,
    })
}

fn step(
    node: &Node<'_>,
    vocabulary: &Vocabulary,
    part: PartId,
    faults: &mut Faults,
) -> Option<Step> {
    let mut fields = Fields::of(node, "a step", None, faults)?;
    let measure = fields.take_text("measure", faults);
    let of_trait = fields.take_text("trait", faults);
    let mut number = |key: &'static str, faults: &mut Faults| {
        let entry = fields.take(key, faults)?;
        read::count(&entry.node, Some(entry.key_span), key, faults).map(|count| count.max(1))
    };
    let places = number("places", faults);
    let repeats = number("repeats", faults);
    let words = fields
        .take_text("words", faults)
        .map(|(text, _)| text.to_owned());
    let cautions = fields.take("cautions", faults);
    let span = fields.span;
    fields.finish(faults);
    let described = vocabulary.part(part)?;
    let of = &described.name.text;
    let (asks, span) = match (measure, of_trait) {
        (Some((text, node)), None) => {
            let names: Vec<(&str, MeasureId)> = described
                .measures
                .iter()
                .filter_map(|one| {
                    described
                        .measure_named(&one.name.text)
                        .map(|id| (one.name.text.as_str(), id))
                })
                .collect();
            let id = read::one_of(
                text,
                node.span,
                &format!("a measure of {of}"),
                names.into_iter(),
                faults,
            )?;
            (Asked::Measure(id), node.span)
        }
        (None, Some((text, node))) => {
            let names: Vec<(&str, TraitId)> = described
                .traits
                .iter()
                .filter_map(|one| {
                    described
                        .trait_named(&one.name.text)
                        .map(|id| (one.name.text.as_str(), id))
                })
                .collect();
            let id = read::one_of(
                text,
                node.span,
                &format!("a trait of {of}"),
                names.into_iter(),
                faults,
            )?;
            (Asked::Trait(id), node.span)
        }
        (Some(_), Some(_)) | (None, None) => {
            faults.fault(
                "form.step",
                span,
                "a step asks for one measure or one trait",
                "",
                "- { measure: steel_thickness }",
            );
            return None;
        }
    };
    let mut named = Vec::new();
    for node in cautions
        .map(|entry| list(entry, "cautions", "edges", faults))
        .unwrap_or(&[])
    {
        let Some(text) = read::scalar(node, None, "a caution", "a name", faults) else {
            continue;
        };
        let words = CAUTIONS.into_iter().map(|word| (word, word));
        if let Some(word) = read::one_of(text, node.span, "a caution", words, faults) {
            named.push(word.to_owned());
        }
    }
    Some(Step {
        asks,
        span,
        places,
        repeats,
        words,
        cautions: named,
    })
}

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
        .map(|one| one.key.text.as_str())
        .collect();
    let text = json!({ "title": "a text", "type": ["string", "number", "boolean"] });
    let count = json!({ "title": "a whole number", "type": ["integer", "string"], "description": "write 5" });
    let step = json!({
        "title": "a step",
        "type": "object",
        "additionalProperties": false,
        "properties": {
            "measure": { "title": "a measure", "enum": names },
            "trait": { "title": "a trait", "enum": traits },
            "places": count,
            "repeats": count,
            "words": text,
            "cautions": { "title": "a list of cautions", "type": "array", "items": { "title": "a caution", "enum": CAUTIONS } },
        },
    });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "a form",
        "description": format!("The measurement form of the class {class}."),
        "type": "object",
        "additionalProperties": false,
        "required": ["format", "class", "title", "sections"],
        "properties": {
            "format": { "title": "the format line", "const": FORM_FORMAT, "description": format!("write `format: {FORM_FORMAT}`") },
            "class": text,
            "title": text,
            "sections": { "title": "a list of sections", "type": "array", "items": {
                "title": "a section",
                "type": "object",
                "additionalProperties": false,
                "required": ["title", "steps"],
                "properties": {
                    "title": text,
                    "for_each": { "title": "a part of the boat", "enum": keys },
                    "steps": { "title": "a list of steps", "type": "array", "items": step },
                },
            } },
        },
    })
}
