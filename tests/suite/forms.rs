//! Measurement forms: the shipped one is read, and of every folder under `tests/form-faults/` it is told what is
//! wrong with the form in it, narrated. Adding a folder adds a case.
//!
//! `RIMEGAUGE_REWRITE=1` writes the messages as they are now; read them before they are committed.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use rimegauge::diagnostic::{Diagnostic, narrate};
use rimegauge::record::{Asked, Form, read_form};
use rimegauge::rules::{EMBEDDED_FORMS, Library, RulesFile};

use super::fault_folders::{folders, told_as_expected};
use super::shipped::tarn_8;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(bytes: &[u8]) -> Result<Form, Vec<Diagnostic>> {
    let bench = tarn_8();
    let rules = bench.plan.rules();
    read_form(
        "form.yaml",
        bytes,
        &rules.vocabulary,
        &rules.class.text,
        &rules.version,
    )
}

/// Every shipped version of every class.
fn versions() -> Vec<Arc<RulesFile>> {
    let library = Library::embedded().unwrap_or_else(|found| panic!("{}", narrate(&found)));
    let all = library.all();
    all.unwrap_or_else(|found| panic!("{}", narrate(&found)))
}

/// The forms of a class that are read for one of its versions, by name; the others say that they are for other
/// versions, and nothing else.
fn forms_for(rules: &RulesFile) -> Vec<(&'static str, Form)> {
    let mut found = Vec::new();
    for (name, text) in EMBEDDED_FORMS {
        if !text.contains(&format!("\nclass: {}\n", rules.class.text)) {
            continue;
        }
        let (vocabulary, class) = (&rules.vocabulary, &rules.class.text);
        match read_form(name, text.as_bytes(), vocabulary, class, &rules.version) {
            Ok(form) => found.push((*name, form)),
            Err(faults) => {
                let told = narrate(&faults);
                let codes: Vec<&str> = faults.iter().map(|one| one.code).collect();
                assert_eq!(codes, ["form.other_version"], "{}: {told}", rules.version);
            }
        }
    }
    found
}

#[test]
fn the_program_brings_every_form_along() {
    let on_disk = fs::read_dir(root().join("forms")).unwrap();
    let on_disk = on_disk.filter(|one| one.as_ref().unwrap().path().is_file());
    assert_eq!(EMBEDDED_FORMS.len(), on_disk.count());
    for (name, text) in EMBEDDED_FORMS {
        let shipped = fs::read(root().join(name)).unwrap();
        assert_eq!(text.as_bytes(), shipped, "{name}");
    }
}

/// Nobody has to choose between two forms, and no version is without one.
#[test]
fn every_version_has_one_form() {
    for rules in versions() {
        let names: Vec<&str> = forms_for(&rules)
            .into_iter()
            .map(|(name, _)| name)
            .collect();
        assert_eq!(
            names.len(),
            1,
            "{} {}: {names:?}",
            rules.class.text,
            rules.version
        );
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
    for rules in versions() {
        let vocabulary = &rules.vocabulary;
        for (form_name, form) in forms_for(&rules) {
            for part in &vocabulary.parts {
                for (slot, measure) in part.measures.iter().enumerate() {
                    let asked = form.sections.iter().any(|section| {
                        vocabulary.part(section.part).unwrap().name == part.name
                            && section.steps.iter().any(|step| {
                                matches!(step.asks, Asked::Measure(id) if id.index() == slot)
                            })
                    });
                    if !asked {
                        let (part, measure) = (&part.name.text, &measure.name.text);
                        not_asked.push(format!("{form_name}, {}: {part}.{measure}", rules.version));
                    }
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
