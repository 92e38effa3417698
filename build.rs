//! Lists the cases of the demo class, so that the program brings them along: adding a file adds a case, and
//! there is no list to edit.

#![allow(clippy::print_stdout)]

use std::error::Error;
use std::fs;
use std::path::Path;

const FOLDER: &str = "rules/tarn-8/cases";

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed={FOLDER}");
    let mut names = Vec::new();
    for entry in fs::read_dir(FOLDER)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        if name.ends_with(".yaml") {
            names.push(name);
        }
    }
    names.sort();
    let mut list = String::from("&[\n");
    for name in names {
        list.push_str(&format!(
            "    (\"tarn-8/cases/{name}\", include_str!(concat!(env!(\"CARGO_MANIFEST_DIR\"), \"/{FOLDER}/{name}\"))),\n"
        ));
    }
    list.push(']');
    let folder = std::env::var("OUT_DIR")?;
    fs::write(Path::new(&folder).join("cases.rs"), list)?;
    Ok(())
}
