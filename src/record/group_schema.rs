//! The JSON Schema of the groups of a record.

use serde_json::{Map, Value, json};

use super::items::a;
use super::reader::limits;
use super::schema::{object, reference, scalar_types};
use crate::vocabulary::{Part, Vocabulary};

/// Groups of parts: an id, and for each role the id of a part, or its path.
pub(super) fn groups_schema(group: &Part, vocabulary: &Vocabulary) -> Value {
    let mut properties = Map::new();
    properties.insert("id".to_owned(), reference("id"));
    properties.insert("notes".to_owned(), reference("notes"));
    for role in &group.roles {
        let kind = vocabulary.part(role.part);
        let kind = kind.map_or("part", |kind| kind.name.text.as_str());
        properties.insert(role.name.text.clone(), json!({
            "title": format!("the id of {}", a(kind)),
            "description": "the id of a part of this record, such as S1; or with its list, as runners/S1",
            "type": scalar_types(),
        }));
    }
    json!({
        "title": "a list",
        "description": "parts that are used together, each named by its id",
        "type": "array",
        "maxItems": limits::LIST,
        "items": object(&format!("an entry of `{}`", group.name.text), json!(properties), &["id"]),
    })
}
