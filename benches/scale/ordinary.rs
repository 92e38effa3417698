//! Records as a club has them: every reading with its instrument, day and repeats, checked as at certification.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rimegauge::fleet::make::{Maker, Settings};
use rimegauge::rules::{Library, RulesFile};

/// Two versions of the demo class that are neighbours.
pub fn versions() -> [Arc<RulesFile>; 2] {
    let library = Library::embedded().unwrap();
    let day = rimegauge::quantity::Date::constant(2100, 1, 1);
    let version = |reference: &str| library.resolve(reference, day).unwrap().rules;
    ["tarn-8@=3.0.0", "tarn-8@=3.1.0"].map(version)
}

/// The file of so many invented boats of the first version, made where it is not there yet.
pub fn fleet(rules: &RulesFile, boats: u64) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("tarn-8-{boats}.jsonl"));
    let maker = Maker::new(rules, Settings::default()).unwrap();
    let begun = path.with_extension("begun");
    let mut file = BufWriter::new(std::fs::File::create(&begun).unwrap());
    let mut text = String::new();
    for number in 0..boats {
        text.clear();
        maker.boat(number, &mut text);
        file.write_all(text.as_bytes()).unwrap();
    }
    file.into_inner().unwrap().sync_all().unwrap();
    std::fs::rename(&begun, &path).unwrap();
    path
}
