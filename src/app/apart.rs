//! Outputs apart from what is read: nothing is written over its own input, by whatever path either is named.

use std::path::{Path, PathBuf};

use crate::diagnostic::Diagnostic;

use super::exit::Trouble;
use super::host::{Host, Kind};
use super::input;

/// Whether files can be written where they are asked for: not over what is read, the records in a folder among it, nor
/// over each other. Links and other spellings of a path count as what they lead to.
///
/// # Errors
/// Two outputs of one name, an output over an input.
pub fn outputs_apart<'p>(
    host: &dyn Host,
    outputs: impl IntoIterator<Item = &'p Path>,
    read: &[&Path],
    help: &'static str,
) -> Result<(), Trouble> {
    let mut seen: Vec<PathBuf> = Vec::new();
    let mut inputs: Option<Vec<Read>> = None;
    for out in outputs.into_iter().filter(|out| out.as_os_str() != "-") {
        let shown = out.display();
        let place = host.place(out);
        // What is not there yet can't be written over.
        let over = host.kind(out).is_ok().then(|| {
            let inputs = inputs.get_or_insert_with(|| all(host, read));
            inputs.iter().find(|one| one.place == place)
        });
        let message = match over.flatten() {
            Some(Read { within, .. }) => match within {
                Some(folder) => {
                    format!("{shown} is one of the records in {folder}, and would be written over")
                }
                None => format!("{shown} is read, and would be written over"),
            },
            None if seen.contains(&place) => format!("{shown} would be written twice"),
            None => {
                seen.push(place);
                continue;
            }
        };
        return Err(Trouble::one(
            Diagnostic::fault("usage.out", message).help(help),
        ));
    }
    Ok(())
}

/// A file that is read.
struct Read {
    place: PathBuf,
    /// The folder that was named, where the file itself was not.
    within: Option<String>,
}

/// All files that are read: those that are named, and those that lie in folders that are.
fn all(host: &dyn Host, read: &[&Path]) -> Vec<Read> {
    let mut found = Vec::new();
    for path in read {
        if !matches!(host.kind(path), Ok(Kind::Folder)) {
            found.push(Read {
                place: host.place(path),
                within: None,
            });
            continue;
        }
        // A folder that can't be listed is told where it is read.
        let inputs = input::of(host, path).unwrap_or_default();
        let files = inputs.iter().filter_map(input::Input::path);
        found.extend(files.map(|file| Read {
            place: host.place(file),
            within: Some(path.display().to_string()),
        }));
    }
    found
}
