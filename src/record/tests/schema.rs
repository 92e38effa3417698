//! The typed loader against the schema: a record that loads is not shown to the schema any more.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

use super::super::*;
use super::{filled_forms, source_of, tarn_8};
use crate::diagnostic::Schema;
use crate::text;

/// Keys and kinds of values below a value, as a text.
fn shape(value: &Value) -> String {
    match value {
        Value::Object(map) => {
            let keys = map
                .iter()
                .map(|(key, inner)| format!("{key}:{}", shape(inner)));
            format!("{{{}}}", keys.collect::<Vec<_>>().join(","))
        }
        Value::Array(items) => {
            let items: BTreeSet<String> = items.iter().map(shape).collect();
            format!("[{}]", items.into_iter().collect::<Vec<_>>().join(","))
        }
        Value::String(_) => "s".to_owned(),
        Value::Null | Value::Bool(_) | Value::Number(_) => "n".to_owned(),
    }
}

/// Leaves one item of each shape in every list.
fn prune(value: &mut Value) {
    match value {
        Value::Object(map) => map.values_mut().for_each(prune),
        Value::Array(items) => {
            items.iter_mut().for_each(prune);
            let mut seen = BTreeSet::new();
            items.retain(|item| seen.insert(shape(item)));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Pointers to all values below one, the outer before the inner.
fn pointers(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                pointers(inner, &format!("{at}/{key}"), found);
            }
        }
        Value::Array(items) => {
            for (index, inner) in items.iter().enumerate() {
                pointers(inner, &format!("{at}/{index}"), found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// The record with little more than what a pointer leads to, and the pointer in it: that is quick to check.
fn around(record: &Value, pointer: &str) -> (Value, String) {
    const HEAD: [&str; 4] = ["format", "class", "measured", "instruments"];
    let mut record = record.clone();
    let mut steps: Vec<String> = pointer.split('/').skip(1).map(str::to_owned).collect();
    if let Value::Object(map) = &mut record {
        let first = steps.first().map_or("", String::as_str);
        if let Some(Value::Object(boat)) = map.get_mut("boat").filter(|_| first != "boat") {
            boat.retain(|key, _| key == "sail_number");
        }
        map.retain(|key, _| key == first || key == "boat" || HEAD.contains(&key.as_str()));
    }
    let mut here = &mut record;
    for step in &mut steps {
        here = match here {
            Value::Array(items) => {
                let item = items.swap_remove(step.parse().unwrap());
                *items = vec![item];
                *step = "0".to_owned();
                &mut items[0]
            }
            Value::Object(map) => map.get_mut(step.as_str()).unwrap(),
            other => panic!("{step} in {other}"),
        };
    }
    let steps = steps.iter().map(|step| format!("/{step}"));
    let pointer = steps.collect();
    (record, pointer)
}

/// What is put in the place of each value.
fn others() -> Vec<Value> {
    let mut others = vec![
        json!(null),
        json!(true),
        json!(0),
        json!(7),
        json!(-3.5),
        json!(1e300),
        json!([]),
        json!({}),
        json!([null]),
        json!([[]]),
        json!(["x", "x"]),
        json!({ "x": 1 }),
        json!({ "more_than": "1 mm", "less_than": "2 mm" }),
        json!({ "more_than": "1" }),
        json!({ "answer": "perhaps" }),
        json!({ "date": "2019-11" }),
        json!({ "proof": "invoice 17" }),
        json!({ "readings": "4.70 mm" }),
        json!({ "places": [] }),
        json!({ "series": [{}] }),
        json!("n".repeat(limits::TEXT + 1)),
        json!(vec!["x"; limits::LIST + 1]),
    ];
    let texts = [
        "",
        " ",
        "x",
        "X y",
        "no",
        "on",
        "other",
        "0",
        "7",
        "07",
        "1999",
        "9999",
        "2026-11",
        "2026-11-21",
        " 2026-11-21 ",
        "2026-13-41",
        "26-11-21",
        "2026-11-21 09:05",
        "2026-11-21 25:61",
        "4.70 mm",
        "4.70mm",
        "4,70 mm",
        "3/16 in",
        "1 3/16 in",
        "3/0 in",
        "+4 kg",
        "- 4 kg",
        "12 deg",
        "12 deg 30 min",
        "12° 30'",
        "50 %",
        "58 HRC",
        "20 °C",
        "4.76 4.77 4.75 mm",
        "4.76 mm 4.77 mm",
        "4.7e1 mm",
        ".5 mm",
        "5. mm",
        "4.70 furlongs",
        "4 mm/m",
        "４.70 mm",
        "4.70\u{a0}mm",
        "yes\n",
        "a-b",
        "S1",
        "runners/S1",
        "far-too-long-for-an-identifier",
    ];
    others.extend(texts.map(Value::from));
    others
}

struct Both {
    schema: Schema,
    loader: Loader<'static>,
    places: usize,
    tried: usize,
    refused: usize,
    missed: Vec<String>,
}

impl Both {
    fn loads(&self, record: &Value) -> bool {
        let source = source_of("record.json", &record.to_string());
        let node = text::parse_json_line(&source, 0..source.text().len());
        node.is_ok_and(|node| self.loader.load(&source, &node).is_ok())
    }

    fn ask(&mut self, what: &str, record: &Value) {
        let source = source_of("record.json", &record.to_string());
        let Ok(node) = text::parse_json_line(&source, 0..source.text().len()) else {
            return;
        };
        self.tried += 1;
        if !self.schema.accepts(&node) {
            self.refused += 1;
            if self.loader.load(&source, &node).is_ok() {
                self.missed.push(what.to_owned());
            }
        }
    }

    /// Puts other things in one place of a record, and takes the place away. There are many places of each
    /// kind: each of them gets a share of the things, so that the test is quick.
    fn change(&mut self, name: &str, record: &Value, pointer: &str) {
        const SHARES: usize = 5;
        self.places += 1;
        for other in others()
            .into_iter()
            .skip(self.places % SHARES)
            .step_by(SHARES)
        {
            let mut changed = record.clone();
            let what = format!("{name} {pointer}: {other:.80}");
            *changed.pointer_mut(pointer).unwrap() = other;
            self.ask(&what, &changed);
        }
        let mut changed = record.clone();
        let here = changed.pointer_mut(pointer).unwrap();
        if let Some(map) = here.as_object_mut() {
            map.insert("mast_bend".to_owned(), json!("4 mm"));
            self.ask(&format!("{name} {pointer} with a key more"), &changed);
        } else if let Some(items) = here.as_array_mut() {
            items.push(json!("x"));
            self.ask(&format!("{name} {pointer} with an item more"), &changed);
        }
        let (parent, last) = pointer.rsplit_once('/').unwrap_or(("", ""));
        let mut changed = record.clone();
        if let Some(Value::Object(map)) = changed.pointer_mut(parent)
            && let Some(value) = map.remove(last)
        {
            let without = Map::clone(map);
            map.insert(format!("{last}_"), value);
            self.ask(&format!("{name} {pointer} renamed"), &changed);
            *changed.pointer_mut(parent).unwrap() = Value::Object(without);
            self.ask(&format!("{name} {pointer} left out"), &changed);
        }
    }
}

#[test]
fn the_loader_refuses_whatever_the_schema_refuses() {
    let mut both = Both {
        schema: Schema::new(schema(tarn_8(), "tarn-8")).unwrap(),
        loader: Loader::new(tarn_8()),
        places: 0,
        tried: 0,
        refused: 0,
        missed: Vec::new(),
    };
    let mut seen = BTreeSet::new();
    for (name, form) in filled_forms() {
        let source = source_of(&name, &form);
        let mut record = text::parse_yaml(&source).unwrap().to_json();
        prune(&mut record);
        let mut all = Vec::new();
        pointers(&record, "", &mut all);
        for pointer in all {
            // One place in a list stands for all that look like it.
            let value = record.pointer(&pointer).unwrap();
            let steps = pointer.split('/');
            let steps = steps.filter(|step| step.parse::<usize>().is_err());
            let kind = match value {
                Value::Object(_) => "mapping",
                Value::Array(_) => "list",
                Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => "scalar",
            };
            let kind = (steps.collect::<Vec<_>>().join("/"), kind);
            if !seen.insert(kind) {
                continue;
            }
            let (small, place) = around(&record, &pointer);
            // What else is wrong with a record must not hide what the change does to it.
            let (record, place) = match both.loads(&small) {
                true => (&small, place),
                false => (&record, pointer),
            };
            assert!(both.loads(record), "{name}");
            both.change(&name, record, &place);
        }
    }
    let counts = (both.tried, both.refused);

    assert!(counts.0 > 5_000 && counts.1 > 4_000, "{counts:?}");
    assert!(both.missed.is_empty(), "{}", both.missed.join("\n"));
}
