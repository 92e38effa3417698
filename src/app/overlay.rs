//! The overlay of an event, laid once over the version that it is for.

use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;

use crate::diagnostic::Diagnostic;
use crate::rules::{self, OverlayFor, RulesFile};
use crate::text::limits::DOCUMENT_BYTES;

use super::exit::Trouble;
use super::host::Host;
use super::library::{Shelves, file, is_path};

/// An overlay on its rules.
pub(super) struct Laid {
    /// The rules as they are at the event.
    pub rules: Arc<RulesFile>,
    /// What should be known of the overlay.
    pub notices: Vec<Diagnostic>,
    asked: OverlayFor,
}

impl Laid {
    /// Reads an overlay and lays it over its version: that of the rules which were asked for by their path, or
    /// else the one of the library.
    ///
    /// # Errors
    /// A file that can't be read, an overlay with a fault, a version that is not there.
    pub(super) fn read(
        host: &dyn Host,
        shelves: &Shelves,
        path: &Path,
        rules: Option<&str>,
    ) -> Result<Laid, Trouble> {
        let bytes = host.read(path, DOCUMENT_BYTES)?;
        let name = path.display().to_string();
        let asked = rules::overlay_for(&name, &bytes)?;
        let base = match rules.filter(|reference| is_path(reference)) {
            Some(path) => file(host, Path::new(path))?,
            None => {
                let reference = format!("{}@{}", asked.class, asked.version);
                let found = shelves.find(host, &reference, None);
                found.map_err(|trouble| pointed(trouble, &asked))?.rules
            }
        };
        let laid = rules::lay_over(&base, &name, &bytes)?;
        Ok(Laid {
            rules: Arc::new(laid.rules),
            notices: laid.notices,
            asked,
        })
    }

    /// The rules of the event, where those of a record are the ones that the overlay is for.
    ///
    /// # Errors
    /// The record is under another version.
    pub(super) fn over(&self, rules: &RulesFile, day: Date) -> Result<Arc<RulesFile>, Trouble> {
        if rules.digest == self.rules.digest {
            return Ok(Arc::clone(&self.rules));
        }
        let reference = format!("{}@{}", self.asked.class, self.asked.version);
        let is = format!("{}@{}", rules.class.text, rules.version);
        let message = format!("the overlay is for {reference}; on {day} the check is under {is}");
        let help = if rules.class.text == self.asked.class {
            format!("check with --rules {reference}, or on a day on which it is in force")
        } else {
            "leave --overlay out for boats of this class".to_owned()
        };
        Err(Trouble::one(
            Diagnostic::fault("overlay.version", message)
                .label(&self.asked.source, self.asked.span, "for this version")
                .help(help),
        ))
    }
}

/// Trouble with the version of an overlay points at the place where the overlay names it.
fn pointed(mut trouble: Trouble, asked: &OverlayFor) -> Trouble {
    for diagnostic in &mut trouble.diagnostics {
        if diagnostic.labels.is_empty() {
            *diagnostic = diagnostic
                .clone()
                .label(&asked.source, asked.span, "asked for here");
        }
    }
    trouble
}
