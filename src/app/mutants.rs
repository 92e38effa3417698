//! Changed rules, one place at a time, tried on the cases of their class.

use std::path::Path;
use std::sync::Arc;

use crate::check::cases;
use crate::diagnostic::Diagnostic;
use crate::prove::mutants::{self as prove, CasesOfFile, Fate, LeftOut, Neutral, Proof, Tried};
use crate::rules::{self, RulesFile};
use crate::text::limits::DOCUMENT_BYTES;
use crate::text::{Source, decode, parse_yaml};

use super::exit::{Exit, Trouble};
use super::host::{Host, Kind};
use super::library::Shelves;
use super::rules::{beside, no_cases, versions, yaml_in};

/// What became of the mutants of one version.
#[derive(Clone, Debug)]
pub struct MutantsReport {
    /// The version.
    pub rules: Arc<RulesFile>,
    /// How many mutants there are; more than were tried where a sample was taken.
    pub made: usize,
    /// The mutants that were tried, in the order of the text.
    pub tried: Vec<Tried>,
    /// Places of which no mutant was made.
    pub left_out: Vec<LeftOut>,
}

impl MutantsReport {
    /// What it comes to: 1 where a mutant survives that a record shows to differ, 3 where one survives of which that is
    /// not known, else 0.
    pub fn exit(&self) -> Exit {
        let of = |one: &Tried| match &one.fate {
            Fate::Refused(_)
            | Fate::Linted(_)
            | Fate::Killed { .. }
            | Fate::Survived(Proof::Neutral) => Exit::Done,
            Fate::Survived(Proof::Witness(_)) => Exit::DoesNotConform,
            Fate::Survived(Proof::Undecided(_)) => Exit::NotDecided,
        };
        self.tried.iter().map(of).fold(Exit::Done, Exit::worst)
    }
}

/// Tries the mutants of the versions that are meant on the cases of their class, which must come out as expected.
/// `neutral` says of a survivor whether it means the same; `told` hears how many mutants are done, of how many.
///
/// # Errors
/// Rules or cases that can't be found or read.
pub fn mutants(
    host: &dyn Host,
    shelves: &Shelves,
    target: &str,
    from: Option<&Path>,
    neutral: &Neutral<'_>,
    told: &mut dyn FnMut(usize, usize),
) -> Result<Vec<MutantsReport>, Trouble> {
    let mut reports = Vec::new();
    for (rules, path) in versions(host, shelves, target)? {
        let sources = sources(host, target, &rules, path.as_deref(), from)?;
        let mut nodes = Vec::new();
        for source in &sources {
            let node = parse_yaml(source)
                .map_err(|problems| Trouble::input(Diagnostic::from_problems(problems, source)))?;
            nodes.push(node);
        }
        let mut of_class = Vec::new();
        for (source, node) in sources.iter().zip(&nodes) {
            let file = cases::load(source, node).map_err(Trouble::input)?;
            if file.class == rules.class.text {
                of_class.push(CasesOfFile { source, file });
            }
        }
        let made = prove::mutants(&rules);
        let number = made.list.len();
        let list = prove::sample(made.list, prove::MOST, prove::SEED);
        reports.push(MutantsReport {
            tried: prove::try_all(&rules, list, &of_class, neutral, told),
            rules,
            made: number,
            left_out: made.left_out,
        });
    }
    Ok(reports)
}

/// The texts of the cases: those that are named, else those beside the rules, else the embedded ones.
fn sources(
    host: &dyn Host,
    target: &str,
    rules: &RulesFile,
    path: Option<&Path>,
    from: Option<&Path>,
) -> Result<Vec<Arc<Source>>, Trouble> {
    let beside = path.map(beside);
    let there = beside
        .as_deref()
        .filter(|folder| matches!(host.kind(folder), Ok(Kind::Folder)));
    let undecoded = |problem, name: &str| Trouble::one(Diagnostic::undecoded(problem, name));
    let mut found = Vec::new();
    let Some(folder) = from.or(there) else {
        let embedded = rules::cases_of(rules).ok_or_else(|| no_cases(target, beside.as_deref()))?;
        for (name, text) in embedded {
            let source = decode(name, text.as_bytes()).map_err(|one| undecoded(one, name))?;
            found.push(source);
        }
        return Ok(found);
    };
    let mut files = Vec::new();
    match host.kind(folder)? {
        Kind::File => files.push(folder.to_path_buf()),
        Kind::Folder => yaml_in(host, folder, &mut files)?,
    }
    for file in files {
        let name = file.display().to_string();
        let bytes = host.read(&file, DOCUMENT_BYTES)?;
        found.push(decode(&name, &bytes).map_err(|one| undecoded(one, &name))?);
    }
    Ok(found)
}
