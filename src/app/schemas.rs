//! JSON Schemas for editors: what a class can say fills in what its files can hold.

use serde_json::{Map, Value, json};

use crate::record;
use crate::rules::{self, RulesFile};

use super::exit::Trouble;
use super::host::Host;
use super::library::Shelves;

/// Of what a schema is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SchemaOf {
    /// A record of the class.
    Record,
    /// A rules file.
    Rules,
    /// A form of the class.
    Form,
    /// A file of cases.
    Case,
    /// What one event changes of the rules.
    Overlay,
    /// What the columns of a table fill.
    Map,
}

/// The JSON Schema of a format, those of records, forms and cases made from the rules of their class.
///
/// # Errors
/// Rules that can't be found or read.
pub fn schema(
    host: &dyn Host,
    shelves: &Shelves,
    reference: &str,
    of: SchemaOf,
) -> Result<Value, Trouble> {
    let rules = shelves.find(host, reference, None)?.rules;
    Ok(match of {
        SchemaOf::Record => record::schema(&rules.vocabulary, &rules.class.text),
        SchemaOf::Form => record::form_schema(&rules.vocabulary, &rules.class.text),
        SchemaOf::Rules => rules::rules_schema(),
        SchemaOf::Case => cases_of(&rules),
        SchemaOf::Map => record::table::map_schema(&rules.vocabulary, &rules.class.text),
        SchemaOf::Overlay => rules::overlay_schema(Some(&rules)),
    })
}

/// The schema of a file of cases that completes what this version can be given and be asked. Names beside
/// these are left to the loader: a case may be about another version.
fn cases_of(rules: &RulesFile) -> Value {
    let mut schema = rules::cases_schema();
    let mut of_record = record::schema(&rules.vocabulary, &rules.class.text);
    let mut given = taken(&mut of_record, "properties");
    given.remove("format");
    given.remove("class");
    let mut definitions = taken(&mut of_record, "$defs");
    let parts = definitions
        .iter_mut()
        .filter(|(name, _)| name.starts_with("part_"));
    for part in parts.map(|(_, part)| part).chain(given.get_mut("boat")) {
        opened(part);
    }
    for holding in rules.vocabulary.holdings.iter().filter(|one| one.many) {
        if let Some(part) = rules.vocabulary.part(holding.part) {
            let name = &part.name.text;
            if part.is_group() {
                if let Some(group) = given.get_mut(name).and_then(|list| list.get_mut("items")) {
                    opened(group);
                }
                continue;
            }
            given.insert(
                name.clone(),
                json!({ "$ref": format!("#/$defs/part_{name}") }),
            );
        }
    }
    let case = "/properties/cases/items/properties";
    if let Some(Value::Object(place)) = schema.pointer_mut(&format!("{case}/given")) {
        place.insert("properties".to_owned(), Value::Object(given));
    }
    if let Some(Value::Object(place)) = schema.pointer_mut(&format!("{case}/expect")) {
        if let Some(outcome) = place.get("additionalProperties").cloned() {
            definitions.insert("expected_outcome".to_owned(), outcome);
        }
        let asked = rules
            .rules
            .iter()
            .map(|rule| (&rule.id.text, &rule.title))
            .chain(rules.marks.iter().map(|mark| (&mark.id.text, &mark.title)));
        let asked = asked.map(|(id, title)| {
            let outcome = json!({ "$ref": "#/$defs/expected_outcome", "description": title });
            (id.clone(), outcome)
        });
        place.insert("properties".to_owned(), Value::Object(asked.collect()));
    }
    if let Value::Object(map) = &mut schema {
        map.insert("$defs".to_owned(), Value::Object(definitions));
    }
    schema
}

/// The entries of a key, taken out.
fn taken(schema: &mut Value, key: &str) -> Map<String, Value> {
    match schema.get_mut(key).map(Value::take) {
        Some(Value::Object(map)) => map,
        Some(_) | None => Map::new(),
    }
}

/// A part of which as little as is wanted can be said, and names of other versions as well.
fn opened(part: &mut Value) {
    if let Value::Object(map) = part {
        map.remove("required");
        map.remove("additionalProperties");
    }
}
