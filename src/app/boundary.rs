//! Cases made from the rules themselves, written to a file and run.

use std::path::Path;
use std::sync::Arc;

use crate::boundary::{self, OfRule};
use crate::check::Plan;
use crate::check::cases::{CaseResult, Covered};
use crate::diagnostic::Diagnostic;
use crate::rules::RulesFile;
use crate::text::quoted;

use super::ending::Named;
use super::exit::{Exit, Trouble};
use super::host::{Host, Kind};
use super::library::Shelves;
use super::rules::{Ran, rules_files};

/// What was made of the rules of one version.
#[derive(Clone, Debug)]
pub struct GeneratedReport {
    /// The version.
    pub rules: Arc<RulesFile>,
    /// Every rule, with the number of its cases and what no case could be made of.
    pub of_rules: Vec<OfRule>,
    /// What became of the cases.
    pub results: Vec<CaseResult>,
    /// How much of the version they touch.
    pub covered: Covered,
    /// Faults of the cases themselves.
    pub faults: Vec<Diagnostic>,
}

impl GeneratedReport {
    /// What it comes to.
    pub fn exit(&self) -> Exit {
        let wrong = self.results.iter().any(|result| !result.wrong.is_empty());
        match (self.faults.is_empty(), wrong) {
            (false, _) => Exit::BadInput,
            (true, true) => Exit::DoesNotConform,
            (true, false) => Exit::Done,
        }
    }
}

/// Makes boundary cases for one version, writes them to a file that is not there yet, and runs them.
///
/// # Errors
/// Rules that can't be found or read, several of them, or a file that can't be written.
pub fn generate(
    host: &dyn Host,
    shelves: &Shelves,
    target: &str,
    out: &Path,
) -> Result<GeneratedReport, Trouble> {
    let rules = version(host, shelves, target)?;
    free(host, out)?;
    let generated = boundary::generate(&rules);
    let plan = Plan::compile(Arc::clone(&rules));
    let mut ran = Ran::default();
    ran.file(&out.display().to_string(), generated.text.as_bytes(), &plan);
    host.write(out, generated.text.as_bytes())?;
    Ok(GeneratedReport {
        covered: ran.coverage.of(&rules),
        rules,
        of_rules: generated.rules,
        results: ran.results,
        faults: ran.faults,
    })
}

fn version(host: &dyn Host, shelves: &Shelves, target: &str) -> Result<Arc<RulesFile>, Trouble> {
    let path = Path::new(target);
    if host.kind(path) != Ok(Kind::Folder) {
        return Ok(shelves.find(host, target, None)?.rules);
    }
    let files = rules_files(host, path)?;
    if let [one] = files.as_slice() {
        return super::library::file(host, one);
    }
    let message = format!(
        "cases are made for one version; {} holds {} rules files",
        quoted(target),
        files.len()
    );
    let help = "name one of them: rimegauge rules cases tarn-8@3.1.0 --generate boundary.yaml";
    Err(Trouble::one(
        Diagnostic::fault("usage.versions", message).help(help),
    ))
}

/// A file in which cases are looked for.
const CASES: Named = Named {
    code: "usage.out",
    what: "a file of cases",
    endings: &["yaml", "yml"],
    refused: &[],
    example: "--generate boundary.yaml",
};

/// Whether a file may be written: nothing that somebody wrote is lost.
fn free(host: &dyn Host, out: &Path) -> Result<(), Trouble> {
    let shown = quoted(&out.display().to_string()).to_string();
    let (message, help) = match host.kind(out) {
        Ok(Kind::Folder) => (
            format!("{shown} is a folder; cases are written to a file"),
            "name a new file: --generate boundary.yaml",
        ),
        Ok(Kind::File) => (
            format!("{shown} is there already; nothing was written"),
            "name a new file, or take the old one away first",
        ),
        Err(_) => {
            return CASES
                .fault(out)
                .map_or(Ok(()), |fault| Err(Trouble::one(fault)));
        }
    };
    Err(Trouble::one(
        Diagnostic::fault("usage.out", message).help(help),
    ))
}
