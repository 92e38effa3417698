//! The library of rules with what folders add to it, and references into it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;

use crate::diagnostic::{Diagnostic, near_misses};
use crate::rules::{self, Library, Resolved, RulesFile};
use crate::text::limits::DOCUMENT_BYTES;
use crate::text::quoted;
use crate::vocabulary::ChoiceId;

use super::exit::Trouble;
use super::host::{Host, Kind};

/// The library: the demo class, and what folders add.
#[derive(Debug)]
pub struct Shelves {
    library: Library,
    folders: Vec<PathBuf>,
}

/// The last day of the calendar: on it the newest adopted version is in force.
const LAST_DAY: Date = Date::constant(2200, 12, 31);

impl Shelves {
    /// The folders that rules are looked for in.
    pub fn folders(&self) -> &[PathBuf] {
        &self.folders
    }

    /// The embedded class, and every rules file in folders: `<class>/<version>.yaml`, to any depth. Folders
    /// called `cases` hold cases and are left out.
    ///
    /// # Errors
    /// A folder that can't be read, a file that is no rules file, a version that is there twice.
    pub fn open(host: &dyn Host, folders: &[PathBuf]) -> Result<Shelves, Trouble> {
        let mut library = Library::embedded()?;
        let mut wrong: Option<Trouble> = None;
        for folder in folders {
            let mut files = Vec::new();
            walk(host, folder, &mut files)?;
            for file in files {
                let name = file
                    .strip_prefix(folder)
                    .unwrap_or(&file)
                    .display()
                    .to_string()
                    .replace('\\', "/");
                let added = host
                    .read(&file, DOCUMENT_BYTES)
                    .map_err(Trouble::from)
                    .and_then(|bytes| library.add(&name, &bytes).map_err(Trouble::from));
                if let Err(trouble) = added {
                    wrong = Some(joined(wrong, trouble));
                }
            }
        }
        match wrong {
            None => Ok(Shelves {
                library,
                folders: folders.to_vec(),
            }),
            Some(trouble) => Err(trouble),
        }
    }

    /// The library itself.
    pub fn library(&self) -> &Library {
        &self.library
    }

    /// Where rules of the library stand among the folders that were added to it; embedded ones may stand in
    /// none.
    pub(super) fn path_of(&self, host: &dyn Host, rules: &RulesFile) -> Option<PathBuf> {
        let name = rules.source.name();
        self.folders
            .iter()
            .map(|folder| folder.join(name))
            .find(|path| matches!(host.kind(path), Ok(Kind::File)))
    }

    /// The rules of a reference or a path: `tarn-8@^3`, `tarn-8`, `rules/tarn-8/3.1.0.yaml`. Without a day,
    /// a reference that leaves the version open means the newest adopted one that fits.
    ///
    /// # Errors
    /// Nothing of that name, nothing that fits, or the faults of the file.
    pub fn find(
        &self,
        host: &dyn Host,
        reference: &str,
        on: Option<Date>,
    ) -> Result<Resolved, Trouble> {
        if is_path(reference) {
            return Ok(Resolved {
                rules: file(host, Path::new(reference))?,
                later: None,
            });
        }
        let found = self.library.resolve(reference, on.unwrap_or(LAST_DAY));
        let known = self.library.classes();
        found.map_err(|faults| {
            let other = (!known.contains(&reference))
                .then(|| no_reference(host, reference))
                .flatten();
            other.unwrap_or_else(|| faults.into())
        })
    }
}

/// What is said of a word that is no class, where a folder or a file has that name.
fn no_reference(host: &dyn Host, reference: &str) -> Option<Trouble> {
    let (what, help) = match host.kind(Path::new(reference)).ok()? {
        Kind::Folder => (
            "a folder; a rules file or a class is asked here",
            "name a file in it".to_owned(),
        ),
        Kind::File => (
            "a file whose name does not end in .yaml; a rules file or a class is asked here",
            format!("give it that ending, or name it as a path: ./{reference}"),
        ),
    };
    let message = format!("{} is {what}", quoted(reference));
    Some(Trouble::one(
        Diagnostic::fault("path.folder", message).help(help),
    ))
}

/// Whether a reference is a path: references have no slash and no ending.
pub(super) fn is_path(reference: &str) -> bool {
    reference.contains(['/', '\\']) || reference.ends_with(".yaml") || reference.ends_with(".yml")
}

/// A rules file that was named by its path.
pub(super) fn file(host: &dyn Host, path: &Path) -> Result<Arc<RulesFile>, Trouble> {
    let bytes = host.read(path, DOCUMENT_BYTES)?;
    let rules = rules::load_by_schema(&path.display().to_string(), &bytes)?;
    Ok(Arc::new(rules))
}

/// The event level of a word under some rules.
///
/// # Errors
/// A word that is no level of these rules.
pub fn level_of(rules: &RulesFile, word: &str) -> Result<ChoiceId, Trouble> {
    if let Some(id) = rules.vocabulary.event_level_named(word) {
        return Ok(id);
    }
    let names = || {
        rules
            .vocabulary
            .event_levels
            .iter()
            .map(|level| level.text.as_str())
    };
    let title = format!("{} {}", rules.class.text, rules.version);
    let help = match near_misses(word, names()) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None if rules.vocabulary.event_levels.is_empty() => format!("{title} has no event levels"),
        None => format!("{title} has: {}", names().collect::<Vec<_>>().join(", ")),
    };
    let message = format!("{} is no event level of {title}", quoted(word));
    Err(Trouble::one(
        Diagnostic::fault("usage.level", message).help(help),
    ))
}

fn walk(host: &dyn Host, folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), Trouble> {
    for entry in host.list(folder)? {
        let name = entry
            .path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        if name.starts_with('.') {
            continue;
        }
        match entry.kind {
            Kind::Folder if name == "cases" => {}
            Kind::Folder => walk(host, &entry.path, files)?,
            Kind::File if name.ends_with(".yaml") || name.ends_with(".yml") => {
                files.push(entry.path)
            }
            Kind::File => {}
        }
    }
    Ok(())
}

/// Two troubles as one.
pub(super) fn joined(first: Option<Trouble>, mut second: Trouble) -> Trouble {
    match first {
        None => second,
        Some(mut first) => {
            first.exit = first.exit.worst(second.exit);
            first.diagnostics.append(&mut second.diagnostics);
            first
        }
    }
}
