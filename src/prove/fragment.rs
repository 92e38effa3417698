//! What of a record differs from another one, as a part of a record that can be laid into a file.

use super::witness::Document;

/// What the second record says otherwise: whole fields, under the keys and ids that they belong to.
pub(super) fn fragment(before: &Document, after: &Document) -> Document {
    differs(before, after, 0).unwrap_or(Document::Map(Vec::new()))
}

/// Parts stand on the first level, their fields on the second; a field is told as a whole.
const FIELDS: usize = 2;

fn differs(before: &Document, after: &Document, depth: usize) -> Option<Document> {
    if before == after {
        return None;
    }
    match (before, after) {
        (Document::Map(was), Document::Map(is)) if depth < FIELDS => {
            let mut entries = Vec::new();
            for (key, value) in is {
                let known = was
                    .iter()
                    .find(|(one, _)| one == key)
                    .map(|(_, value)| value);
                let part = match known {
                    Some(known) => differs(known, value, depth + 1),
                    None => Some(value.clone()),
                };
                entries.extend(part.map(|part| (key.clone(), part)));
            }
            (!entries.is_empty()).then_some(Document::Map(entries))
        }
        (Document::List(was), Document::List(is)) if depth < FIELDS => {
            let id = |one: &Document| one.get("id").and_then(Document::as_text).map(str::to_owned);
            let mut items = Vec::new();
            for (at, item) in is.iter().enumerate() {
                let known = match id(item) {
                    Some(own) => was.iter().find(|one| id(one).as_ref() == Some(&own)),
                    None => was.get(at),
                };
                let part = match known {
                    Some(known) => differs(known, item, depth + 1),
                    None => Some(item.clone()),
                };
                let Some(part) = part else { continue };
                // An item is told by its id, whatever of it differs.
                items.push(match (id(item), part) {
                    (Some(id), Document::Map(fields))
                        if !fields.iter().any(|(key, _)| key == "id") =>
                    {
                        let own = [("id".to_owned(), Document::text(id))];
                        Document::Map(own.into_iter().chain(fields).collect())
                    }
                    (_, part) => part,
                });
            }
            (!items.is_empty()).then_some(Document::List(items))
        }
        _ => Some(after.clone()),
    }
}
