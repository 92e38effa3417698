//! Comparing two versions of class rules: what becomes illegal or legal, and which step of the version that needs.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::prove::{Answer, Bump, Common, Comparison, Progress, Sides, Standing, Witness};
use crate::report::{Compared, Fleet, compare_page};
use crate::rules::{RulesFile, Status};
use crate::text::quoted;

use super::ending::Named;
use super::exit::{Exit, Trouble};
use super::host::{Doing, Host, HostProblem, Kind, Why};
use super::library::{Shelves, joined};

/// What a comparison came to.
#[derive(Clone, Debug)]
pub struct ComparedVersions {
    /// The version as it was.
    pub old: Arc<RulesFile>,
    /// The version as it is to be.
    pub new: Arc<RulesFile>,
    /// What is proved.
    pub comparison: Comparison,
    /// What should be known beside, in sentences.
    pub notes: Vec<String>,
}

impl ComparedVersions {
    /// What it comes to.
    pub fn exit(&self) -> Exit {
        match self.comparison.standing() {
            Standing::Accepted | Standing::MoreThanNeeded => Exit::Done,
            Standing::Refused => Exit::DoesNotConform,
            Standing::NotConfirmed => Exit::NotDecided,
        }
    }
}

/// Compares two versions, each a reference or a path; `told` hears how far it is.
///
/// # Errors
/// What is wrong with either of them, both at once; two classes; a version that does not go forward; two versions that
/// have nothing in common.
pub fn compare(
    host: &dyn Host,
    shelves: &Shelves,
    (old, new): (&str, &str),
    told: &mut dyn FnMut(Progress),
) -> Result<ComparedVersions, Trouble> {
    let (old, new) = match (shelves.find(host, old, None), shelves.find(host, new, None)) {
        (Ok(old), Ok(new)) => (old.rules, new.rules),
        (Err(one), Err(other)) => return Err(joined(Some(one), other)),
        (Err(trouble), Ok(_)) | (Ok(_), Err(trouble)) => return Err(trouble),
    };
    comparable(&old, &new)?;
    Ok(ComparedVersions {
        comparison: crate::prove::compare_telling(&old, &new, told),
        notes: notes(&old, &new),
        old,
        new,
    })
}

/// Whether a comparison of two versions means anything.
fn comparable(old: &RulesFile, new: &RulesFile) -> Result<(), Trouble> {
    let both = |diagnostic: Diagnostic, was: &str, is: &str| {
        diagnostic.label(&old.source, old.version_span, was).label(
            &new.source,
            new.version_span,
            is,
        )
    };
    let refused = |diagnostic: Diagnostic| Err(Trouble::one(diagnostic));
    if old.class != new.class {
        let message = format!(
            "{} {} and {} {} are rules of two classes",
            old.class.text, old.version, new.class.text, new.version
        );
        return refused(
            Diagnostic::fault("compare.class", message)
                .label(&old.source, old.class.span, "one class")
                .label(&new.source, new.class.span, "another class")
                .help("two versions of one class are compared"),
        );
    }
    if old.version == new.version {
        let class = &old.class.text;
        let (message, help) = if old.digest == new.digest {
            (
                format!(
                    "both are {class} {}, letter for letter: there is nothing to compare",
                    old.version
                ),
                "name two versions: the one that counts now, then the one that is proposed",
            )
        } else {
            (
                format!(
                    "both say that they are {class} {}, and they say different things",
                    old.version
                ),
                "give the changed one a higher version: then the comparison says whether it is high enough",
            )
        };
        let diagnostic = Diagnostic::fault("compare.same", message);
        // One text, from the library twice for example, is shown once.
        let one = old.source.name() == new.source.name() && old.digest == new.digest;
        let diagnostic = if one {
            diagnostic.label(&old.source, old.version_span, "named on both sides")
        } else {
            both(diagnostic, "this version", "the same version")
        };
        return refused(diagnostic.help(help));
    }
    if Bump::between(&old.version, &new.version).is_none() {
        let message = format!(
            "the comparison goes backwards: {} comes before {}",
            new.version, old.version
        );
        let help = format!(
            "name the older version first: rimegauge compare {class}@{} {class}@{}",
            new.version,
            old.version,
            class = old.class.text
        );
        return refused(
            both(
                Diagnostic::fault("compare.backwards", message),
                "named first, and higher",
                "named second, and lower",
            )
            .help(help),
        );
    }
    if !share_something(old, new) {
        let message = format!(
            "{} and {} of {} have no kind of part and no measure in common",
            old.version, new.version, old.class.text
        );
        return refused(
            both(
                Diagnostic::fault("compare.nothing_shared", message),
                "speaks of other things",
                "than this one",
            )
            .help("say under `renamed` of the newer version what its names were called before"),
        );
    }
    Ok(())
}

/// Whether two versions speak of anything under one name: a kind of part beside the boat, or something of the boat.
fn share_something(old: &RulesFile, new: &RulesFile) -> bool {
    fn in_both<T>(at: &Sides<T>) -> bool {
        at.old.is_some() && at.new.is_some()
    }
    let common = Common::of(old, new);
    let beside_the_boat = common.parts.iter().skip(1).any(|part| in_both(&part.at));
    let of_the_boat = common.parts.first().is_some_and(|boat| {
        boat.traits.iter().any(|one| in_both(&one.at))
            || boat.measures.iter().any(|one| in_both(&one.at))
    });
    beside_the_boat || of_the_boat
}

fn notes(old: &RulesFile, new: &RulesFile) -> Vec<String> {
    let mut notes = Vec::new();
    for rules in [old, new] {
        let state = match rules.status {
            Status::Adopted => continue,
            Status::Draft => "is a draft: it can still change, and nothing is in force by it",
            Status::Proposed => "is proposed: nothing is in force by it before it is adopted",
            Status::Repealed => "is repealed",
        };
        notes.push(format!("{} {state}.", rules.version));
    }
    if let Some(replaced) = &new.replaces
        && *replaced != old.version
    {
        notes.push(format!(
            "{} says that it replaces {replaced}; here it is compared with {}.",
            new.version, old.version
        ));
    }
    notes
}

/// Whether witnesses can be written into a folder, or whether there is one to make it in; to be asked before a proof that
/// takes its time.
///
/// # Errors
/// A file of that name, no folder to make it in.
pub fn witness_folder(host: &dyn Host, folder: &Path) -> Result<(), Trouble> {
    match host.kind(folder) {
        Ok(Kind::Folder) => Ok(()),
        Ok(Kind::File) => {
            let message = format!(
                "{} is a file; witnesses are written into a folder",
                quoted(&folder.display().to_string())
            );
            let help = "name a folder, which is made where there is none: --witness witnesses";
            Err(Trouble::one(
                Diagnostic::fault("usage.witness", message).help(help),
            ))
        }
        Err(problem) if problem.why == Why::Missing => {
            let above = match folder.parent() {
                Some(above) if above.as_os_str().is_empty() => return Ok(()),
                Some(above) => host.kind(above),
                None => return Err(problem.into()),
            };
            match above {
                Ok(Kind::Folder) => Ok(()),
                Ok(Kind::File) | Err(_) => {
                    Err(HostProblem::new(Doing::Making, folder, Why::Missing).into())
                }
            }
        }
        Err(problem) => Err(problem.into()),
    }
}

/// Writes the records of all witnesses into a folder, which is made where there is none, each under the names of both versions, and their cases, so that
/// anybody can check them. Every file is written whole or not at all.
///
/// # Errors
/// A folder that can't be made, a file that is there already, a write that did not succeed.
pub fn write_witnesses(
    host: &dyn Host,
    compared: &ComparedVersions,
    folder: &Path,
) -> Result<Vec<PathBuf>, Trouble> {
    witness_folder(host, folder)?;
    let mut files: Vec<(PathBuf, &str)> = Vec::new();
    for (name, witness) in witnesses(&compared.comparison) {
        let (old, new) = (&compared.old.version, &compared.new.version);
        let texts = [
            (format!("{name}.{old}.yaml"), &witness.old_record),
            (format!("{name}.{new}.yaml"), &witness.new_record),
            (format!("{name}.cases.yaml"), &witness.cases),
        ];
        files.extend(
            texts
                .into_iter()
                .filter(|(_, text)| !text.is_empty())
                .map(|(file, text)| (folder.join(file), text.as_str())),
        );
    }
    // All names are looked at before the first is written, so that a refusal leaves the folder as it was.
    let mut taken: Option<Trouble> = None;
    for (path, _) in &files {
        if host.kind(path).is_ok() {
            let message = format!(
                "{} is there already; nothing was written",
                quoted(&path.display().to_string())
            );
            let diagnostic = Diagnostic::fault("usage.witness", message)
                .help("name an empty folder, or take the old witnesses away first");
            taken = Some(joined(taken, Trouble::one(diagnostic)));
        }
    }
    if let Some(trouble) = taken {
        return Err(trouble);
    }
    if !files.is_empty() && host.kind(folder).is_err() {
        host.make_folder(folder)?;
    }
    for (path, text) in &files {
        host.write(path, text.as_bytes())?;
    }
    Ok(files.into_iter().map(|(path, _)| path).collect())
}

/// Whether a page may be written under a name; to be asked before a proof that takes its time. A name that does not end as
/// those of pages do is refused, so that neither rules nor records are written over.
///
/// # Errors
/// Another ending, or standard output.
pub fn report_file(out: &Path) -> Result<(), Trouble> {
    PAGE.fault(out)
        .map_or(Ok(()), |fault| Err(Trouble::one(fault)))
}

/// A page of a comparison.
const PAGE: Named = Named {
    code: "usage.report",
    what: "a page",
    endings: &["html", "htm"],
    refused: &[],
    example: "--report impact.html",
};

/// Writes a comparison as a page, with what it does to a fleet where one was looked at. The file is written whole or not at
/// all.
///
/// # Errors
/// What [`report_file`] refuses, a write that did not succeed.
pub fn write_report(
    host: &dyn Host,
    compared: &Compared<'_>,
    fleet: Option<&Fleet<'_>>,
    out: &Path,
) -> Result<(), Trouble> {
    report_file(out)?;
    host.write(out, compare_page(compared, fleet).as_bytes())?;
    Ok(())
}

/// Every witness once, with a name for its files: those of the answers, then those of clauses.
fn witnesses(comparison: &Comparison) -> Vec<(String, &Witness)> {
    let directions = [
        ("illegal", &comparison.becomes_illegal),
        ("legal", &comparison.becomes_legal),
    ];
    let mut all: Vec<(String, &Witness)> = Vec::new();
    for (word, direction) in directions {
        let parts = [
            ("requirement", &direction.requirement),
            ("evidence", &direction.evidence),
        ];
        for (part, answer) in parts {
            let of: &[Witness] = match answer {
                Answer::Witness(of) => of,
                Answer::ProvedNone | Answer::Undecided(_) => &[],
            };
            let named = of.iter().enumerate();
            all.extend(named.map(|(at, one)| (format!("{word}-{part}-{}", at + 1), one)));
        }
    }
    for change in &comparison.changes {
        let both = [("illegal", &change.illegal), ("legal", &change.legal)];
        for (word, witness) in both {
            all.extend(
                witness
                    .iter()
                    .map(|one| (format!("{word}-by-{}", change.rule), one)),
            );
        }
    }
    let mut found: Vec<(String, &Witness)> = Vec::new();
    for (name, witness) in all {
        let same = |other: &Witness| {
            other.old_record == witness.old_record
                && other.new_record == witness.new_record
                && other.cases == witness.cases
        };
        if !found.iter().any(|(_, other)| same(other)) {
            found.push((name, witness));
        }
    }
    found
}
