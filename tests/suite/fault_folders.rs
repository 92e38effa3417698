//! Folders that hold a faulty file each, with what is said of it beside it: adding a folder adds a case.

use std::fs;
use std::path::{Path, PathBuf};

/// The folders under a folder of `tests/`, in their order.
pub fn folders(of: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(of);
    let entries = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path());
    let mut found: Vec<PathBuf> = entries.filter(|path| path.is_dir()).collect();
    found.sort();
    found
}

/// Holds what is said of the file in each folder to the text beside it, and counts the folders; `said` also tells
/// whether the file can be used. `RIMEGAUGE_REWRITE=1` writes the texts as they are now.
pub fn told_as_expected(
    of: &str,
    file: &str,
    least: usize,
    said: impl Fn(&[u8]) -> (String, bool),
) {
    let rewrite = std::env::var_os("RIMEGAUGE_REWRITE").is_some();
    let mut wrong = Vec::new();
    let all = folders(of);
    for case in &all {
        let name = case.file_name().unwrap().to_string_lossy().into_owned();
        let (text, good) = said(&fs::read(case.join(file)).unwrap());
        // One file is as it should be, so that a fault of all of them would be seen.
        if good != (name == "none") {
            wrong.push(format!("{name} can be used: {good}\n{text}"));
        }
        let expected = case.join("expected.txt");
        if rewrite {
            fs::write(&expected, &text).unwrap();
        } else if fs::read_to_string(&expected).unwrap_or_default() != text {
            wrong.push(format!("{name}\n{text}"));
        }
    }
    assert!(wrong.is_empty(), "not as expected:\n{}", wrong.join("\n"));
    assert!(all.len() >= least, "only {} cases", all.len());
}
