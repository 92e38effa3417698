//! The JSON Schemas: they are JSON Schema (draft 2020-12), they accept all that is shipped, they refuse what is
//! wrong, and an editor finds words in them.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rimegauge::check::cases;
use rimegauge::diagnostic::{Diagnostic, Schema, merge, narrate};
use rimegauge::record;
use rimegauge::rules::{self, Library, RulesFile};
use rimegauge::text::{self, Source};
use serde_json::Value;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

/// Names and texts of the files of a folder, by name.
fn texts(folder: &str) -> Vec<(String, String)> {
    let mut found: Vec<(String, String)> = fs::read_dir(root().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .map(|path| {
            let name = path.strip_prefix(root()).unwrap().to_string_lossy();
            (name.replace('\\', "/"), fs::read_to_string(&path).unwrap())
        })
        .collect();
    found.sort();
    assert!(!found.is_empty(), "{folder} is empty");
    found
}

fn versions() -> Vec<Arc<RulesFile>> {
    let library = Library::embedded().unwrap_or_else(|found| panic!("{}", narrate(&found)));
    library
        .all()
        .unwrap_or_else(|found| panic!("{}", narrate(&found)))
}

/// The newest version of a class.
fn newest_of(class: &str) -> Arc<RulesFile> {
    let mut of_class = versions();
    of_class.retain(|rules| rules.class.text == class);
    of_class.pop().unwrap()
}

/// What `rules schema` prints: of records and forms for each version.
fn schemas() -> Vec<(String, Value)> {
    let mut all = vec![
        ("rules".to_owned(), rules::rules_schema()),
        ("cases".to_owned(), rules::cases_schema()),
        ("overlays".to_owned(), rules::overlay_schema(None)),
    ];
    for one in versions() {
        let (vocabulary, class) = (&one.vocabulary, one.class.text.as_str());
        let of = |what: &str| format!("{what} of {class} {}", one.version);
        all.push((of("records"), record::schema(vocabulary, class)));
        all.push((of("forms"), record::form_schema(vocabulary, class)));
    }
    all
}

#[test]
fn every_schema_is_a_json_schema_of_the_draft() {
    let all = schemas();
    assert_eq!(all.len(), 3 + 2 * versions().len());
    for (name, value) in all {
        assert_eq!(
            value["$schema"], "https://json-schema.org/draft/2020-12/schema",
            "{name}"
        );
        if let Err(error) = jsonschema::draft202012::meta::validate(&value) {
            panic!("{name}: {error} at {}", error.instance_path());
        }
        Schema::new(value).unwrap_or_else(|fault| panic!("{name}: {fault:?}"));
    }
    assert!(rules::schema_of_rules().is_some() && rules::schema_of_cases().is_some());
    // What is no schema is refused, so that the test above can fail.
    let broken = serde_json::json!({ "type": "objekt" });
    assert!(jsonschema::draft202012::meta::validate(&broken).is_err());
    assert!(Schema::new(broken).is_err());
}

/// Every place of a schema that says what a value is.
fn walk<'v>(value: &'v Value, path: &str, found: &mut Vec<(String, &'v Value)>) {
    let Value::Object(map) = value else { return };
    found.push((path.to_owned(), value));
    for (key, inner) in map {
        let path = format!("{path}/{key}");
        match (key.as_str(), inner) {
            ("properties" | "patternProperties" | "$defs", Value::Object(inner)) => {
                for (name, inner) in inner {
                    walk(inner, &format!("{path}/{name}"), found);
                }
            }
            ("items" | "additionalProperties" | "propertyNames", Value::Object(_)) => {
                walk(inner, &path, found);
            }
            _ => {}
        }
    }
}

/// An editor shows the title where the pointer rests; our own messages are made of it as well.
#[test]
fn everything_in_a_schema_has_a_title() {
    for (name, value) in schemas() {
        let mut found = Vec::new();
        walk(&value, "", &mut found);
        assert!(found.len() > 10, "{name}");
        for (path, one) in found {
            let worded = one.get("title").is_some() || one.get("$ref").is_some();
            assert!(worded, "{name}: {path} has no title");
            // A reference leads somewhere, since nothing else would tell a misspelt one.
            if let Some(reference) = one.get("$ref").and_then(Value::as_str) {
                let pointer = reference.strip_prefix('#').unwrap();
                assert!(
                    value.pointer(pointer).is_some(),
                    "{name}: {path}: {reference}"
                );
            }
        }
    }
}

fn refused(schema: &Schema, name: &str, text: &str) -> Vec<Diagnostic> {
    let source = Source::new(name, text);
    let node = text::parse_yaml(&source).unwrap_or_else(|found| panic!("{name}: {found:?}"));
    let found = merge(schema.validate(&source, &node), Vec::new());
    assert_eq!(found.is_empty(), schema.accepts(&node), "{name}");
    found
}

/// The program does not ask the schema about the files that it brings along itself: here it is asked.
#[test]
fn schemas_accept_what_is_shipped() {
    let mut wrong = Vec::new();
    let mut ask = |schema: &Schema, files: &[(String, String)]| {
        for (name, text) in files {
            wrong.extend(refused(schema, name, text));
        }
    };
    for newest in [newest_of("ghyll-2"), newest_of("tarn-8")] {
        let (vocabulary, class) = (&newest.vocabulary, newest.class.text.as_str());
        let of_rules = rules::schema_of_rules().unwrap();
        ask(of_rules, &texts(&format!("rules/{class}")));
        let of_cases = rules::schema_of_cases().unwrap();
        ask(of_cases, &texts(&format!("rules/{class}/cases")));
        let of_class = |folder: &str| -> Vec<(String, String)> {
            let line = format!("\nclass: {class}\n");
            let mut found = texts(folder);
            // A form of older versions is not for the newest one.
            let older = |text: &str| text.contains("\nversions: \"<");
            found.retain(|(_, text)| text.contains(&line) && !older(text));
            assert!(!found.is_empty(), "{folder} has nothing of {class}");
            found
        };
        let of_forms = Schema::new(record::form_schema(vocabulary, class)).unwrap();
        ask(&of_forms, &of_class("forms"));
        let of_records = Schema::new(record::schema(vocabulary, class)).unwrap();
        ask(&of_records, &of_class("forms/filled"));
    }
    assert!(wrong.is_empty(), "{}", narrate(&wrong));
}

/// The first text that stands in a file, and what is put in its place.
const PLANTED: &[(&str, &str, &str, &str)] = &[
    // Rules.
    (
        "rules",
        "format: rimegauge-rules/1",
        "format: rimegauge-rules/9",
        "format",
    ),
    ("rules", "class: tarn-8\n", "", "needs the key `class`"),
    (
        "rules",
        "class: tarn-8",
        "class: Tarn 8",
        "is not the name of a class",
    ),
    ("rules", "status: adopted", "status: agreed", "agreed"),
    ("rules", "silence: forbids", "silence: [forbids]", "silence"),
    ("rules", "guard_factor: 1", "guard: 1", "has no key `guard`"),
    (
        "rules",
        "equipment:\n  boat:",
        "equipment:\n  Boat:",
        "Boat",
    ),
    ("rules", "rules:\n", "rules: {}\nmarks_too:\n", "marks_too"),
    (
        "rules",
        "    clause: ",
        "    Clause: ",
        "has no key `Clause`",
    ),
    ("rules", "kind: length", "kind: lenght", "lenght"),
    // Cases.
    (
        "cases",
        "class: tarn-8",
        "klass: tarn-8",
        "has no key `klass`",
    ),
    ("cases", "  - title: ", "  - name: ", "has no key `name`"),
    (
        "cases",
        "{ edge_angle: conforms }",
        "{ edge_angle: conform }",
        "conform",
    ),
    ("cases", "given:\n", "given: nothing\n    gave:\n", "given"),
    // A form.
    (
        "form",
        "measure: side_line",
        "measure: side_lines",
        "side_lines",
    ),
    ("form", "places: 5", "places: 0", "places"),
    ("form", "for_each: runners", "for_each: rudders", "rudders"),
    ("form", "cautions: [edges]", "cautions: []", "cautions"),
    // Records.
    ("record", "class: tarn-8\n", "", "needs the key `class`"),
    ("record", "sail_number:", "sail_no:", "has no key `sail_no`"),
    (
        "record",
        "day: 2026-",
        "day: 26-",
        "`26-11-21` is not a day",
    ),
    ("record", "position: side", "position: sideways", "sideways"),
    (
        "record",
        "kind: micrometer",
        "knid: micrometer",
        "has no key `knid`",
    ),
    ("record", "heel_at:", "heel:", "has no key `heel`"),
    ("record", "toe_at: ", "toe_at: 4 kg # ", "`4 kg` is not "),
    (
        "record",
        "runners:\n",
        "runners: none\nrunners_too:\n",
        "runners",
    ),
];

#[test]
fn schemas_refuse_what_is_wrong() {
    let newest = newest_of("tarn-8");
    let (vocabulary, class) = (&newest.vocabulary, newest.class.text.as_str());
    let of_forms = Schema::new(record::form_schema(vocabulary, class)).unwrap();
    let of_records = Schema::new(record::schema(vocabulary, class)).unwrap();
    for (of, from, to, told) in PLANTED {
        let (schema, file) = match *of {
            "rules" => (rules::schema_of_rules().unwrap(), "rules/tarn-8/3.1.0.yaml"),
            "cases" => (
                rules::schema_of_cases().unwrap(),
                "rules/tarn-8/cases/edge_angle.yaml",
            ),
            "form" => (&of_forms, "forms/tarn-8.yaml"),
            _ => (&of_records, "forms/filled/conforming.yaml"),
        };
        let text = fs::read_to_string(root().join(file)).unwrap();
        assert!(text.contains(from), "{file} has no {from:?}");
        let found = refused(schema, file, &text.replacen(from, to, 1));
        let said = narrate(&found);
        assert!(!found.is_empty(), "{to:?} in place of {from:?} is accepted");
        assert!(said.contains(told), "{to:?} in place of {from:?}:\n{said}");
        for one in &found {
            let label = one.primary().unwrap_or_else(|| panic!("no place: {one:?}"));
            assert!(label.span.end as usize <= label.source.text().len());
        }
    }
}

/// One fault is told once, and in the words of the loader; what the loader can't see the schema still tells.
#[test]
fn one_fault_is_told_once() {
    let file = "rules/tarn-8/3.1.0.yaml";
    let text = fs::read_to_string(root().join(file)).unwrap();
    for (of, from, to, _) in PLANTED.iter().filter(|(of, ..)| *of == "rules") {
        let text = text.replacen(from, to, 1);
        let typed = rules::load(file, text.as_bytes()).err();
        let typed = typed.unwrap_or_else(|| panic!("{of}: {to:?} is loaded"));
        let both = rules::load_by_schema(file, text.as_bytes()).unwrap_err();
        told_once(&both, &typed, to);
    }
    let file = "rules/tarn-8/cases/edge_angle.yaml";
    let text = fs::read_to_string(root().join(file)).unwrap();
    for (_, from, to, _) in PLANTED.iter().filter(|(of, ..)| *of == "cases") {
        let source = Source::new(file, text.replacen(from, to, 1));
        let node = text::parse_yaml(&source).unwrap();
        let typed = cases::load(&source, &node).map(|_| ());
        let schema = rules::schema_of_cases().unwrap();
        let both = schema.beside(&source, &node, typed.clone()).unwrap_err();
        let typed = typed.expect_err(to);
        told_once(&both, &typed, to);
    }
}

/// All that the loader says is said, and beside it nothing about the same place.
fn told_once(both: &[Diagnostic], typed: &[Diagnostic], planted: &str) {
    let place = |one: &Diagnostic| one.primary().map(|label| label.span);
    let same = |a: &Diagnostic, b: &Diagnostic| place(a) == place(b) && a.message == b.message;
    for one in typed {
        let said = both.iter().any(|other| same(one, other));
        assert!(said, "{planted:?}: not said: {}", one.message);
    }
    for one in both {
        let by_schema = !typed.iter().any(|other| same(one, other));
        let doubled = by_schema && typed.iter().any(|other| place(other) == place(one));
        assert!(!doubled, "{planted:?} is told twice:\n{}", narrate(both));
    }
}
