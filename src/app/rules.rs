//! What a class committee does with its rules: list them, show them, lint them, run their cases.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;

use crate::check::Plan;
use crate::check::cases::{self, CaseResult, Coverage, Covered};
use crate::diagnostic::{Diagnostic, Severity, near_misses};
use crate::report;
use crate::rules::{self, RulesFile};
use crate::text::limits::DOCUMENT_BYTES;
use crate::text::{Source, decode, parse_yaml, quoted};

use super::exit::{Exit, Trouble};
use super::host::{Host, Kind};
use super::library::{Shelves, file, is_path, joined};

/// The versions of the library, of one class if it is named.
///
/// # Errors
/// A class that is not there, or the faults of a version.
pub fn list(shelves: &Shelves, class: Option<&str>) -> Result<Vec<Arc<RulesFile>>, Trouble> {
    let all = shelves.library().all()?;
    let Some(class) = class else {
        return Ok(all);
    };
    let of_class: Vec<Arc<RulesFile>> = all
        .into_iter()
        .filter(|rules| rules.class.text == class)
        .collect();
    if of_class.is_empty() {
        let classes = shelves.library().classes();
        let help = match near_misses(class, classes.iter().copied()) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!(
                "known classes: {}; add others with --rules-dir",
                classes.join(", ")
            ),
        };
        let message = format!("there are no rules of a class {}", quoted(class));
        return Err(Trouble::one(
            Diagnostic::fault("library.class", message).help(help),
        ));
    }
    Ok(of_class)
}

/// The version that a reference means, with the rules of it that are wanted known to be there.
///
/// # Errors
/// Nothing of that name, the faults of the file, or a rule that it does not have.
pub fn show(
    host: &dyn Host,
    shelves: &Shelves,
    reference: &str,
    on: Option<Date>,
    wanted: &[String],
) -> Result<Arc<RulesFile>, Trouble> {
    let rules = shelves.find(host, reference, on)?.rules;
    let unknown = report::unknown_rules(&rules, wanted);
    if unknown.is_empty() {
        return Ok(rules);
    }
    let told = |one: &str| {
        let message = format!(
            "{} {} has no rule {}",
            rules.class.text,
            rules.version,
            quoted(one)
        );
        let help = match near_misses(one, report::rule_ids(&rules)) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => "name a rule by its id or its clause; `rules show` without --rule lists them"
                .to_owned(),
        };
        Diagnostic::fault("name.unknown", message).help(help)
    };
    Err(Trouble::input(unknown.into_iter().map(told).collect()))
}

/// What lint found.
#[derive(Clone, Debug)]
pub struct LintReport {
    /// The files that were looked at.
    pub files: Vec<String>,
    /// What is wrong or doubtful, file by file.
    pub diagnostics: Vec<Diagnostic>,
    /// What it comes to.
    pub exit: Exit,
}

/// Lints a rules file, or all in a folder. Rules that no case touches are told where a folder `cases` stands
/// beside the file.
///
/// # Errors
/// A path that can't be read, or a folder without rules.
pub fn lint(host: &dyn Host, path: &Path) -> Result<LintReport, Trouble> {
    let mut report = LintReport {
        files: Vec::new(),
        diagnostics: Vec::new(),
        exit: Exit::Done,
    };
    for path in rules_files(host, path)? {
        let bytes = host.read(&path, DOCUMENT_BYTES)?;
        let name = path.display().to_string();
        let mut found = match rules::load(&name, &bytes) {
            Ok(rules) => linted(host, &path, rules)?,
            Err(found) => found,
        };
        // A text that can't be read at all is bad input; what it says wrongly is what lint is for.
        let unreadable = found.iter().any(|one| one.code.starts_with("text."));
        let faulty = found.iter().any(|one| one.severity == Severity::Fault);
        let exit = match (unreadable, faulty) {
            (true, _) => Exit::BadInput,
            (false, true) => Exit::DoesNotConform,
            (false, false) => Exit::Done,
        };
        report.exit = report.exit.worst(exit);
        report.diagnostics.append(&mut found);
        report.files.push(name);
    }
    Ok(report)
}

fn linted(host: &dyn Host, path: &Path, rules: RulesFile) -> Result<Vec<Diagnostic>, Trouble> {
    let mut found = rules::lint(&rules);
    let folder = beside(path);
    let Ok(Kind::Folder) = host.kind(&folder) else {
        let message = format!("no rule was tried: there is no folder {}", folder.display());
        found.push(
            Diagnostic::notice("lint.no_cases", message)
                .help("cases show what a rule means, and keep its meaning"),
        );
        return Ok(found);
    };
    let plan = Plan::compile(Arc::new(rules));
    let tried = run(host, &[folder], &plan)?;
    let untouched = tried.coverage.untouched(plan.rules());
    found.extend(
        untouched
            .into_iter()
            .map(|(id, clause)| rules::without_a_case(plan.rules(), id, clause)),
    );
    Ok(found)
}

/// What became of the cases under one version.
#[derive(Clone, Debug)]
pub struct CasesReport {
    /// The version.
    pub rules: Arc<RulesFile>,
    /// Every case that is about it.
    pub results: Vec<CaseResult>,
    /// How much of the version they touch.
    pub covered: Covered,
    /// Faults of the cases themselves.
    pub faults: Vec<Diagnostic>,
}

impl CasesReport {
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

/// Runs the cases of a rules file, of a folder of them, or of a version by reference.
///
/// # Errors
/// Rules or cases that can't be found or read.
pub fn cases(
    host: &dyn Host,
    shelves: &Shelves,
    target: &str,
    from: Option<&Path>,
) -> Result<Vec<CasesReport>, Trouble> {
    let path = Path::new(target);
    let is_there = host.kind(path).is_ok();
    let (versions, beside) = if is_path(target) || is_there {
        let mut versions = Vec::new();
        let files = rules_files(host, path)?;
        for one in &files {
            versions.push(file(host, one)?);
        }
        (versions, files.first().map(|file| beside(file)))
    } else {
        (vec![shelves.find(host, target, None)?.rules], None)
    };
    let folder = match (from, beside) {
        (Some(from), _) => from.to_path_buf(),
        (None, Some(beside)) => beside,
        (None, None) => {
            let message = format!("it is not known where the cases of {target} are");
            let help = "name their folder: --cases rules/tarn-8/cases";
            return Err(Trouble::one(
                Diagnostic::fault("usage.cases", message).help(help),
            ));
        }
    };
    let mut reports = Vec::new();
    for rules in versions {
        let plan = Plan::compile(Arc::clone(&rules));
        let ran = run(host, std::slice::from_ref(&folder), &plan)?;
        let covered = ran.coverage.of(&rules);
        reports.push(CasesReport {
            rules,
            results: ran.results,
            covered,
            faults: ran.faults,
        });
    }
    Ok(reports)
}

#[derive(Default)]
struct Ran {
    results: Vec<CaseResult>,
    coverage: Coverage,
    faults: Vec<Diagnostic>,
}

/// Runs every case file in some folders under one plan; files of other classes are passed over.
fn run(host: &dyn Host, folders: &[PathBuf], plan: &Plan) -> Result<Ran, Trouble> {
    let mut files = Vec::new();
    for folder in folders {
        match host.kind(folder)? {
            Kind::File => files.push(folder.clone()),
            Kind::Folder => yaml_in(host, folder, &mut files)?,
        }
    }
    let mut ran = Ran::default();
    let mut unread: Option<Trouble> = None;
    for path in files {
        let name = path.display().to_string();
        let bytes = match host.read(&path, DOCUMENT_BYTES) {
            Ok(bytes) => bytes,
            Err(problem) => {
                unread = Some(joined(unread, problem.into()));
                continue;
            }
        };
        match decode(&name, &bytes) {
            Err(problem) => ran.faults.push(Diagnostic::undecoded(problem, &name)),
            Ok(source) => {
                if let Err(mut found) = run_file(&source, plan, &mut ran) {
                    ran.faults.append(&mut found);
                }
            }
        }
    }
    match unread {
        None => Ok(ran),
        Some(trouble) => Err(trouble),
    }
}

fn run_file(source: &Arc<Source>, plan: &Plan, ran: &mut Ran) -> Result<(), Vec<Diagnostic>> {
    let node =
        parse_yaml(source).map_err(|problems| Diagnostic::from_problems(problems, source))?;
    let file = cases::load(source, &node)?;
    if file.class == plan.rules().class.text {
        ran.results
            .extend(cases::run(source, &file, plan, &mut ran.coverage)?);
    }
    Ok(())
}

/// Of what a schema is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SchemaOf {
    /// A record of the class.
    Record,
    /// A rules file.
    Rules,
    /// A form of the class.
    Form,
    /// A file of cases.
    Case,
}

/// The JSON Schema of a format, that of a record generated from the rules of its class.
///
/// # Errors
/// Rules that can't be found or read.
pub fn schema(
    host: &dyn Host,
    shelves: &Shelves,
    reference: &str,
    of: SchemaOf,
) -> Result<serde_json::Value, Trouble> {
    let rules = shelves.find(host, reference, None)?.rules;
    Ok(match of {
        SchemaOf::Record => crate::record::schema(&rules.vocabulary, &rules.class.text),
        SchemaOf::Form => crate::record::form_schema(&rules.vocabulary, &rules.class.text),
        SchemaOf::Rules => rules::rules_schema(),
        SchemaOf::Case => rules::cases_schema(),
    })
}

/// The folder of cases beside a rules file.
fn beside(path: &Path) -> PathBuf {
    path.with_file_name("cases")
}

/// A rules file, or the rules files in a folder of a class; the folder of its cases leads to them as well.
fn rules_files(host: &dyn Host, path: &Path) -> Result<Vec<PathBuf>, Trouble> {
    if host.kind(path)? == Kind::File {
        return Ok(vec![path.to_path_buf()]);
    }
    let folder = match path.file_name() {
        Some(name) if name == "cases" => path.parent().unwrap_or(path),
        Some(_) | None => path,
    };
    let mut found = Vec::new();
    for entry in host.list(folder)? {
        if entry.kind == Kind::File && is_yaml(&entry.path) {
            found.push(entry.path);
        }
    }
    if found.is_empty() {
        let message = format!("there is no rules file in {}", folder.display());
        let help =
            "rules are files such as rules/tarn-8/3.1.0.yaml; name one, or the folder of a class";
        return Err(Trouble::one(
            Diagnostic::fault("input.nothing", message).help(help),
        ));
    }
    Ok(found)
}

fn yaml_in(host: &dyn Host, folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), Trouble> {
    for entry in host.list(folder)? {
        match entry.kind {
            Kind::Folder => yaml_in(host, &entry.path, files)?,
            Kind::File if is_yaml(&entry.path) => files.push(entry.path),
            Kind::File => {}
        }
    }
    Ok(())
}

fn is_yaml(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending == "yaml" || ending == "yml")
}
