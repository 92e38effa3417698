//! Writing the rules of a version as a page.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;

use crate::diagnostic::Diagnostic;
use crate::report::{self, Replaced};
use crate::rules::{RulesFile, digest};
use crate::text::limits::DOCUMENT_BYTES;

use super::exit::Trouble;
use super::host::Host;
use super::library::{Shelves, file, is_path};

/// A page that was written.
#[derive(Clone, Debug)]
pub struct RulesPage {
    /// The version.
    pub rules: Arc<RulesFile>,
    /// Where it was written.
    pub path: PathBuf,
    /// `sha256:` and the digest of the page.
    pub digest: String,
    /// The version that it was compared with.
    pub compared_with: Option<semver::Version>,
    /// What the person who made it should know.
    pub notes: Vec<String>,
}

/// Writes the page of the version that a reference means, compared with the version that it replaces: that beside
/// the file where a path is named, else that of the library.
///
/// # Errors
/// Nothing of that name, the faults of the file, a path that can't be written or holds the rules themselves.
pub fn write_rules_page(
    host: &dyn Host,
    shelves: &Shelves,
    reference: &str,
    on: Option<Date>,
    out: &Path,
) -> Result<RulesPage, Trouble> {
    let rules = shelves.find(host, reference, on)?.rules;
    keeps(host, out, &rules)?;
    let old = replaced(host, shelves, reference, &rules);
    let (found, notes) = match (&old, &rules.replaces) {
        (Old::None, _) | (_, None) => (Replaced::None, Vec::new()),
        (Old::Found(old), Some(_)) => (Replaced::Found(old), Vec::new()),
        (Old::Missing, Some(version)) => (
            Replaced::Missing,
            vec![format!(
                "{version}, which it replaces, was not found: nothing was compared"
            )],
        ),
        (Old::Faulty, Some(version)) => (
            Replaced::Faulty,
            vec![format!(
                "{version}, which it replaces, has faults: nothing was compared"
            )],
        ),
    };
    if let Old::Found(old) = &old {
        keeps(host, out, old)?;
    }
    let page = report::rules_page(&rules, found);
    host.write(out, page.as_bytes())?;
    let compared_with = match &old {
        Old::Found(old) => Some(old.version.clone()),
        Old::None | Old::Missing | Old::Faulty => None,
    };
    Ok(RulesPage {
        path: out.to_path_buf(),
        digest: digest(page.as_bytes()),
        compared_with,
        notes,
        rules,
    })
}

/// The version that a version replaces.
enum Old {
    None,
    Found(Arc<RulesFile>),
    Missing,
    Faulty,
}

fn replaced(host: &dyn Host, shelves: &Shelves, reference: &str, rules: &RulesFile) -> Old {
    let Some(version) = &rules.replaces else {
        return Old::None;
    };
    let is_it =
        |found: &RulesFile| found.class.text == rules.class.text && found.version == *version;
    if is_path(reference) {
        let beside = Path::new(reference).with_file_name(format!("{version}.yaml"));
        if host.kind(&beside).is_ok() {
            return match file(host, &beside) {
                Ok(found) if is_it(&found) => Old::Found(found),
                Ok(_) => Old::Missing,
                Err(_) => Old::Faulty,
            };
        }
    }
    let named = format!("{}@{version}", rules.class.text);
    match shelves.find(host, &named, None) {
        Ok(found) => Old::Found(found.rules),
        Err(trouble) => {
            let missing = |one: &Diagnostic| one.code.starts_with("library.");
            if trouble.diagnostics.iter().all(missing) {
                Old::Missing
            } else {
                Old::Faulty
            }
        }
    }
}

/// Refuses to write over rules that are read, by whatever path they are named.
fn keeps(host: &dyn Host, out: &Path, rules: &RulesFile) -> Result<(), Trouble> {
    // Where nothing is there that could be read, the write says what is wrong.
    let Ok(there) = host.read(out, DOCUMENT_BYTES) else {
        return Ok(());
    };
    if digest(&there) != rules.digest {
        return Ok(());
    }
    let message = format!(
        "{} holds the rules themselves, and a page would be written over them",
        out.display()
    );
    Err(Trouble::one(
        Diagnostic::fault("usage.out", message).help("name another file: --out rules.html"),
    ))
}
