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
    has_rules(&rules, wanted)?;
    Ok(rules)
}

/// That a version has all the rules that are named by id or clause.
///
/// # Errors
/// Those that it does not have.
pub(super) fn has_rules(rules: &RulesFile, wanted: &[String]) -> Result<(), Trouble> {
    let unknown = report::unknown_rules(rules, wanted);
    if unknown.is_empty() {
        return Ok(());
    }
    let told = |one: &str| {
        let message = format!(
            "{} {} has no rule {}",
            rules.class.text,
            rules.version,
            quoted(one)
        );
        let help = match near_misses(one, report::rule_ids(rules)) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => "name a rule by its id or its clause; `rules show` lists them".to_owned(),
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
    let mut versions = Versions::default();
    for path in rules_files(host, path)? {
        let bytes = host.read(&path, DOCUMENT_BYTES)?;
        let name = path.display().to_string();
        let mut found = match rules::load_by_schema(&name, &bytes) {
            Ok(rules) => linted(host, &path, rules, &mut versions)?,
            Err(found) => found,
        };
        // A text that can't be read at all is bad input; what it says wrongly is what lint is for.
        let unreadable = found
            .iter()
            .any(|one| one.code.starts_with("text.") || one.code == "file.empty");
        let faulty = found.iter().any(|one| one.severity == Severity::Fault);
        let exit = match (unreadable, faulty) {
            (true, _) => Exit::BadInput,
            (false, true) => Exit::DoesNotConform,
            (false, false) => Exit::Done,
        };
        report.exit = report.exit.worst(exit);
        // Versions that stand together share their cases, and what is wrong with these.
        found.retain(|one| !report.diagnostics.iter().any(|told| same(told, one)));
        report.diagnostics.append(&mut found);
        report.files.push(name);
    }
    Ok(report)
}

/// Whether two messages say the same of the same place of a file.
fn same(one: &Diagnostic, other: &Diagnostic) -> bool {
    let place = |of: &Diagnostic| {
        let label = of.primary()?;
        Some((label.source.name().to_owned(), label.span))
    };
    one.message == other.message && place(one).is_some() && place(one) == place(other)
}

/// The versions that stand beside those that are linted, each read once.
#[derive(Default)]
struct Versions {
    folder: Option<PathBuf>,
    rules: Vec<RulesFile>,
}

impl Versions {
    /// The versions in the folder of a file. What can't be read there is not this file's fault.
    fn beside(&mut self, host: &dyn Host, path: &Path) -> Result<&[RulesFile], Trouble> {
        let folder = path.parent().unwrap_or(Path::new(""));
        if self.folder.as_deref() != Some(folder) {
            let here = if folder.as_os_str().is_empty() {
                Path::new(".")
            } else {
                folder
            };
            self.rules.clear();
            for path in rules_files(host, here)? {
                let bytes = host.read(&path, DOCUMENT_BYTES)?;
                let name = path.display().to_string();
                self.rules.extend(rules::load(&name, &bytes).ok());
            }
            self.folder = Some(folder.to_path_buf());
        }
        Ok(&self.rules)
    }
}

fn linted(
    host: &dyn Host,
    path: &Path,
    rules: RulesFile,
    versions: &mut Versions,
) -> Result<Vec<Diagnostic>, Trouble> {
    let mut found = rules::lint(&rules);
    let others: Vec<&RulesFile> = versions.beside(host, path)?.iter().collect();
    found.extend(rules::lint_beside(&rules, &others));
    let rules = Arc::new(rules);
    let between = super::between::lint_between(&rules, &found);
    found.extend(between);
    let folder = beside(path);
    let Ok(Kind::Folder) = host.kind(&folder) else {
        let message = format!("no rule was tried: there is no folder {}", folder.display());
        found.push(
            Diagnostic::notice("lint.no_cases", message)
                .help("cases show what a rule means, and keep its meaning"),
        );
        return Ok(found);
    };
    let plan = Plan::compile(rules);
    let tried = run(host, &[folder], &plan)?;
    found.extend(tried.faults);
    let rules = plan.rules();
    let untouched = tried.coverage.untouched(rules);
    // What is never tried at all is told once, not part by part.
    let missing = tried
        .coverage
        .of(rules)
        .missing
        .into_iter()
        .filter(|piece| {
            piece.kind.is_linted() && !untouched.iter().any(|(id, _)| id.text == piece.rule)
        });
    found.extend(
        missing
            .map(|piece| rules::part_without_a_case(rules, &piece.rule, &piece.words, piece.span)),
    );
    let never = untouched.iter();
    found.extend(never.map(|(id, clause)| rules::without_a_case(rules, id, clause)));
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

/// Runs the cases of a rules file, of a folder of them, or of a version by reference. The cases stand in the
/// folder `cases` beside the rules; those of the embedded class are embedded as well.
///
/// # Errors
/// Rules or cases that can't be found or read.
pub fn cases(
    host: &dyn Host,
    shelves: &Shelves,
    target: &str,
    from: Option<&Path>,
) -> Result<Vec<CasesReport>, Trouble> {
    let versions = versions(host, shelves, target)?;
    let mut reports = Vec::new();
    for (rules, path) in versions {
        let plan = Plan::compile(Arc::clone(&rules));
        let beside = path.map(|path| beside(&path));
        let there = |folder: &&PathBuf| matches!(host.kind(folder), Ok(Kind::Folder));
        let ran = match (from, beside.as_ref().filter(there), rules::cases_of(&rules)) {
            (Some(from), _, _) => run(host, &[from.to_path_buf()], &plan)?,
            (None, Some(folder), _) => run(host, std::slice::from_ref(folder), &plan)?,
            (None, None, Some(embedded)) => {
                let mut ran = Ran::default();
                for (name, text) in embedded {
                    ran.file(name, text.as_bytes(), &plan);
                }
                ran
            }
            (None, None, None) => return Err(no_cases(target, beside.as_deref())),
        };
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

/// A version with its path, where it has one.
pub(super) type Meant = (Arc<RulesFile>, Option<PathBuf>);

/// The versions that are meant by a path, a folder or a reference, each with its path where it has one.
pub(super) fn versions(
    host: &dyn Host,
    shelves: &Shelves,
    target: &str,
) -> Result<Vec<Meant>, Trouble> {
    let path = Path::new(target);
    if !is_path(target) && host.kind(path).is_err() {
        let rules = shelves.find(host, target, None)?.rules;
        let path = shelves.path_of(host, &rules);
        return Ok(vec![(rules, path)]);
    }
    let mut versions = Vec::new();
    for one in rules_files(host, path)? {
        let rules = file(host, &one)?;
        versions.push((rules, Some(one)));
    }
    Ok(versions)
}

pub(super) fn no_cases(target: &str, beside: Option<&Path>) -> Trouble {
    let message = match beside {
        Some(folder) => format!(
            "no cases are there for {target}: there is no folder {} beside it",
            quoted(&folder.display().to_string())
        ),
        None => format!("it is not known where the cases of {target} are"),
    };
    let help = "name the folder or file that holds them: --cases PATH";
    Trouble::one(Diagnostic::fault("usage.cases", message).help(help))
}

/// What became of some files of cases.
#[derive(Default)]
pub(super) struct Ran {
    pub results: Vec<CaseResult>,
    pub coverage: Coverage,
    pub faults: Vec<Diagnostic>,
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
        match host.read(&path, DOCUMENT_BYTES) {
            Ok(bytes) => ran.file(&path.display().to_string(), &bytes, plan),
            Err(problem) => unread = Some(joined(unread, problem.into())),
        }
    }
    match unread {
        None => Ok(ran),
        Some(trouble) => Err(trouble),
    }
}

impl Ran {
    /// Runs the cases of one file, or keeps what is wrong with it.
    pub fn file(&mut self, name: &str, bytes: &[u8], plan: &Plan) {
        match decode(name, bytes) {
            Err(problem) => self.faults.push(Diagnostic::undecoded(problem, name)),
            Ok(source) => {
                if let Err(mut found) = self.source(&source, plan) {
                    self.faults.append(&mut found);
                }
            }
        }
    }

    fn source(&mut self, source: &Arc<Source>, plan: &Plan) -> Result<(), Vec<Diagnostic>> {
        let node =
            parse_yaml(source).map_err(|problems| Diagnostic::from_problems(problems, source))?;
        let typed = cases::load(source, &node);
        let file = match rules::schema_of_cases() {
            Some(schema) => schema.beside(source, &node, typed)?,
            None => typed?,
        };
        if file.class == plan.rules().class.text {
            let results = cases::run(source, &file, plan, &mut self.coverage)?;
            self.results.extend(results);
        }
        Ok(())
    }
}

/// The folder of cases beside a rules file.
pub(super) fn beside(path: &Path) -> PathBuf {
    path.with_file_name("cases")
}

/// A rules file, or the rules files in a folder of a class; the folder of its cases leads to them as well.
pub(super) fn rules_files(host: &dyn Host, path: &Path) -> Result<Vec<PathBuf>, Trouble> {
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

pub(super) fn yaml_in(
    host: &dyn Host,
    folder: &Path,
    files: &mut Vec<PathBuf>,
) -> Result<(), Trouble> {
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
