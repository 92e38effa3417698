//! Lists the rules, cases and forms of every class, so that the program brings them along: adding a file adds a
//! version, a case or a form, and there is no list to edit.

#![allow(clippy::print_stdout)]

use std::error::Error;
use std::fs;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let (mut versions, mut cases) = (String::new(), String::new());
    for class in folders("rules")? {
        let folder = format!("rules/{class}");
        for file in files(&folder)? {
            versions.push_str(&embedded(&format!("{class}/{file}"), &folder, &file));
        }
        let folder = format!("{folder}/cases");
        cases.push_str(&format!("    (\"{class}\", &[\n"));
        for file in files(&folder)? {
            cases.push_str(&embedded(&format!("{class}/cases/{file}"), &folder, &file));
        }
        cases.push_str("    ]),\n");
    }
    let mut forms = String::new();
    for file in files("forms")? {
        forms.push_str(&embedded(&format!("forms/{file}"), "forms", &file));
    }
    let out = std::env::var("OUT_DIR")?;
    for (name, list) in [("versions", versions), ("cases", cases), ("forms", forms)] {
        fs::write(
            Path::new(&out).join(format!("{name}.rs")),
            format!("&[\n{list}]"),
        )?;
    }
    Ok(())
}

/// A line of a list: the name that a file is known by, and its text.
fn embedded(name: &str, folder: &str, file: &str) -> String {
    format!(
        "    (\"{name}\", include_str!(concat!(env!(\"CARGO_MANIFEST_DIR\"), \"/{folder}/{file}\"))),\n"
    )
}

/// The YAML files of a folder, in the order of their names.
fn files(folder: &str) -> Result<Vec<String>, Box<dyn Error>> {
    names(folder, |path| {
        path.is_file() && path.extension().is_some_and(|ending| ending == "yaml")
    })
}

/// The folders of a folder, in the order of their names.
fn folders(folder: &str) -> Result<Vec<String>, Box<dyn Error>> {
    names(folder, Path::is_dir)
}

fn names(folder: &str, wanted: fn(&Path) -> bool) -> Result<Vec<String>, Box<dyn Error>> {
    println!("cargo::rerun-if-changed={folder}");
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        if wanted(&entry.path()) {
            names.push(entry.file_name().to_string_lossy().into_owned());
        }
    }
    names.sort();
    Ok(names)
}
