//! Where records come from: files, folders with all that is in them, standard input.

use std::path::{Path, PathBuf};

use super::exit::Trouble;
use super::host::{Host, Kind};

/// One thing to read records from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Input {
    /// Standard input; what is on it is seen by its first character.
    Standard,
    /// One record in YAML. `named` when a person named it, not a folder it is in.
    Yaml {
        /// The path.
        path: PathBuf,
        /// Whether it was named by itself.
        named: bool,
    },
    /// One record in JSON.
    Json {
        /// The path.
        path: PathBuf,
        /// Whether it was named by itself.
        named: bool,
    },
    /// Records line by line.
    Lines(PathBuf),
}

impl Input {
    /// Where it is read from, beside standard input.
    pub(super) fn path(&self) -> Option<&Path> {
        match self {
            Input::Standard => None,
            Input::Yaml { path, .. } | Input::Json { path, .. } | Input::Lines(path) => Some(path),
        }
    }

    /// Whether more than one record may come from it.
    pub(super) fn may_be_many(&self) -> bool {
        match self {
            Input::Standard | Input::Lines(_) => true,
            Input::Yaml { .. } | Input::Json { .. } => false,
        }
    }
}

/// The inputs that a path names, or what is wrong with the path.
pub(super) fn of(host: &dyn Host, path: &Path) -> Result<Vec<Input>, Trouble> {
    if path.as_os_str() == "-" {
        return Ok(vec![Input::Standard]);
    }
    match host.kind(path)? {
        Kind::File => Ok(vec![file(path, true).unwrap_or_else(|| Input::Yaml {
            path: path.to_path_buf(),
            named: true,
        })]),
        Kind::Folder => {
            let mut found = Vec::new();
            walk(host, path, &mut found)?;
            Ok(found)
        }
    }
}

fn walk(host: &dyn Host, folder: &Path, found: &mut Vec<Input>) -> Result<(), Trouble> {
    for entry in host.list(folder)? {
        let hidden = entry
            .path
            .file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if hidden {
            continue;
        }
        match entry.kind {
            Kind::Folder => walk(host, &entry.path, found)?,
            Kind::File => found.extend(file(&entry.path, false)),
        }
    }
    Ok(())
}

/// A file by the ending of its name; nothing for a name that no record has.
fn file(path: &Path, named: bool) -> Option<Input> {
    let ending = path.extension()?.to_string_lossy().to_ascii_lowercase();
    let path = path.to_path_buf();
    match ending.as_str() {
        "yaml" | "yml" => Some(Input::Yaml { path, named }),
        "json" => Some(Input::Json { path, named }),
        "jsonl" => Some(Input::Lines(path)),
        _ => None,
    }
}
