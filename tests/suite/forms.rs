//! Measurement forms: the shipped one is read, and of every folder under `tests/form-faults/` it is told what is
//! wrong with the form in it, narrated. Adding a folder adds a case.
//!
//! `RIMEGAUGE_REWRITE=1` writes the messages as they are now; read them before they are committed.

use std::fs;
use std::path::Path;

use rimegauge::diagnostic::{Diagnostic, narrate};
use rimegauge::record::{Asked, Form, read_form};
use rimegauge::rules::EMBEDDED_FORMS;

use super::fault_folders::{folders, told_as_expected};
use super::shipped::{ghyll_2, tarn_8};
use super::workbench::Bench;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(bytes: &[u8]) -> Result<Form, Vec<Diagnostic>> {
    read_for(&tarn_8(), bytes)
}

fn read_for(bench: &Bench, bytes: &[u8]) -> Result<Form, Vec<Diagnostic>> {
    let rules = bench.plan.rules();
    read_form("form.yaml", bytes, &rules.vocabulary, &rules.class.text)
}

/// The form of each class, with the rules that it asks for.
fn shipped() -> Vec<(Bench, Vec<u8>)> {
    [tarn_8(), ghyll_2()]
        .into_iter()
        .map(|bench| {
            let class = &bench.plan.rules().class.text;
            let bytes = fs::read(root().join(format!("forms/{class}.yaml"))).unwrap();
            (bench, bytes)
        })
        .collect()
}

#[test]
fn the_program_brings_every_form_along() {
    assert_eq!(EMBEDDED_FORMS.len(), shipped().len());
    for (name, text) in EMBEDDED_FORMS {
        let shipped = fs::read(root().join(name)).unwrap();
        assert_eq!(text.as_bytes(), shipped, "{name}");
    }
}

#[test]
fn the_shipped_form_is_read() {
    let bytes = fs::read(root().join("forms/tarn-8.yaml")).unwrap();
    let form = read(&bytes).unwrap_or_else(|found| panic!("{}", narrate(&found)));
    assert_eq!((form.class.as_str(), form.sections.len()), ("tarn-8", 15));
    let bench = tarn_8();
    let vocabulary = &bench.plan.rules().vocabulary;
    let thickness = form
        .sections
        .iter()
        .flat_map(|section| section.steps.iter().map(move |step| (section, step)))
        .find(|(section, step)| match step.asks {
            Asked::Measure(id) => {
                let part = vocabulary.part(section.part).unwrap();
                part.measures[id.index()].name.text == "steel_thickness"
            }
            Asked::Trait(_) => false,
        });
    let (section, step) = thickness.unwrap();
    assert_eq!(section.title, "Runner, steel");
    assert_eq!((step.places, step.repeats), (Some(5), Some(3)));
    assert_eq!(step.cautions, ["edges"]);
}

/// What the rules measure is asked somewhere: a measure that no step asks for is measured by nobody.
#[test]
fn the_shipped_forms_ask_for_every_measure() {
    let mut not_asked = Vec::new();
    for (bench, bytes) in shipped() {
        let form = read_for(&bench, &bytes).unwrap_or_else(|found| panic!("{}", narrate(&found)));
        let vocabulary = &bench.plan.rules().vocabulary;
        for part in &vocabulary.parts {
            for (slot, measure) in part.measures.iter().enumerate() {
                let asked = form.sections.iter().any(|section| {
                    vocabulary.part(section.part).unwrap().name == part.name
                        && section.steps.iter().any(
                            |step| matches!(step.asks, Asked::Measure(id) if id.index() == slot),
                        )
                });
                if !asked {
                    not_asked.push(format!("{}.{}", part.name.text, measure.name.text));
                }
            }
        }
    }
    assert_eq!(not_asked, Vec::<String>::new());
}

#[test]
fn every_faulty_form_is_told_what_is_wrong_with_it() {
    told_as_expected("form-faults", "form.yaml", 50, |bytes| match read(bytes) {
        Ok(_) => (String::new(), true),
        Err(found) => {
            assert!(!found.is_empty(), "refused without a word");
            (narrate(&found), false)
        }
    });
}

/// A message names the place, and says what is accepted or what to do.
#[test]
fn every_message_has_a_place_and_help() {
    for case in folders("form-faults") {
        let Err(found) = read(&fs::read(case.join("form.yaml")).unwrap()) else {
            continue;
        };
        for diagnostic in found {
            let name = case.display();
            let label = diagnostic.primary();
            let label = label.unwrap_or_else(|| panic!("{name}: no place: {diagnostic:?}"));
            assert!(label.span.end as usize <= label.source.text().len());
            let help = diagnostic.help.as_deref().unwrap_or("").trim();
            assert!(!help.is_empty(), "{name}: no help: {}", diagnostic.message);
        }
    }
}
