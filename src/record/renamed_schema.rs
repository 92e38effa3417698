//! Names of older versions in the schema of a record: accepted beside the new ones, and marked as old.

use serde_json::{Map, Value};

use crate::vocabulary::{PartId, RenamedTo, Vocabulary};

/// Adds the old names to the schema of a record, each with what is said of the new one.
pub(super) fn with_old_names(schema: &mut Value, vocabulary: &Vocabulary) {
    let each = || {
        vocabulary
            .renamed
            .iter()
            .flat_map(|one| one.to.iter().map(move |to| (one, *to)))
    };
    // Choices first: what is said of a trait under its old name is then whole.
    for (one, to) in each() {
        let RenamedTo::Choice(part, slot, _) = to else {
            continue;
        };
        let declared = vocabulary
            .part(part)
            .and_then(|part| part.traits.get(slot.index()));
        let Some(declared) = declared else { continue };
        for path in paths(vocabulary, part) {
            let path = format!("{path}/{}", declared.name.text);
            if let Some(found) = schema.pointer_mut(&path) {
                accept_word(found, one.old_word());
            }
        }
    }
    for (one, to) in each() {
        let (old, new) = (one.old_word(), one.new.text.as_str());
        match to {
            RenamedTo::Holding(_) => accept_key(schema, "/properties", old, new),
            RenamedTo::Trait(part, _) | RenamedTo::Measure(part, _) => {
                for path in paths(vocabulary, part) {
                    accept_key(schema, &path, old, new);
                }
            }
            RenamedTo::Part(_) | RenamedTo::Choice(..) => {}
        }
    }
}

/// Where the keys of a part stand in the schema.
fn paths(vocabulary: &Vocabulary, id: PartId) -> Vec<String> {
    if id == Vocabulary::BOAT {
        return vec!["/properties/boat/properties".to_owned()];
    }
    let name = vocabulary.part(id).map_or("", |part| &part.name.text);
    ["", "_alone"]
        .map(|one| format!("/$defs/part_{name}{one}/properties"))
        .to_vec()
}

fn accept_word(found: &mut Value, old: &str) {
    if let Some(Value::Array(words)) = found.get_mut("enum") {
        words.push(Value::from(old));
    }
    if let Some(items) = found.get_mut("items") {
        accept_word(items, old);
    }
}

fn accept_key(schema: &mut Value, path: &str, old: &str, new: &str) {
    let Some(Value::Object(keys)) = schema.pointer_mut(path) else {
        return;
    };
    let Some(Value::Object(said)) = keys.get(new).cloned() else {
        return;
    };
    let mut said: Map<String, Value> = said;
    said.insert("deprecated".to_owned(), Value::Bool(true));
    said.insert(
        "description".to_owned(),
        Value::from(format!("an old name; write {new}")),
    );
    keys.insert(old.to_owned(), Value::Object(said));
}
