//! The library of versions: a pure function of names and bytes.

use std::borrow::Cow;
use std::sync::Arc;

use super::load::{load, load_by_schema};
use super::model::{RulesFile, Status};
use crate::diagnostic::{Diagnostic, near_misses};
use crate::quantity::Date;
use crate::text::quoted;

/// Name and text of every version that the program brings along, so that it works in an empty folder.
pub(super) const EMBEDDED: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/versions.rs"));

/// Name and text of the forms of its classes.
pub const EMBEDDED_FORMS: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/forms.rs"));

/// A way to load a rules file: [`load`] for those of this program, which a test holds to their schema,
/// [`load_by_schema`] for others.
type Load = fn(&str, &[u8]) -> Result<RulesFile, Vec<Diagnostic>>;

/// A version on the shelf: read only when it is asked for.
#[derive(Debug)]
struct Shelved {
    name: String,
    class: String,
    version: semver::Version,
    status: Status,
    in_force_from: Option<Date>,
    bytes: Cow<'static, [u8]>,
    read: Load,
    rules: std::sync::OnceLock<Result<Arc<RulesFile>, Vec<Diagnostic>>>,
}

impl Shelved {
    fn rules(&self) -> Result<Arc<RulesFile>, Vec<Diagnostic>> {
        self.rules
            .get_or_init(|| (self.read)(&self.name, &self.bytes).map(Arc::new))
            .clone()
    }
}

/// Versions of class rules by class.
#[derive(Debug, Default)]
pub struct Library {
    shelved: Vec<Shelved>,
}

/// What a reference resolves to.
#[derive(Clone, Debug)]
pub struct Resolved {
    /// The version that counts on the day.
    pub rules: Arc<RulesFile>,
    /// The version, day and name of a later adopted one, if there is one.
    pub later: Option<(semver::Version, Date)>,
}

impl Library {
    /// The library of the classes that the program brings along.
    ///
    /// # Errors
    /// None in a released program: the embedded files are loaded by a test.
    pub fn embedded() -> Result<Library, Vec<Diagnostic>> {
        let mut library = Library::default();
        for (name, text) in EMBEDDED {
            // Their heads come first, and a start looks at every one of them.
            let top = text.split("\nequipment:").next().unwrap_or(text);
            library.shelve(name, Cow::Borrowed(text.as_bytes()), head(top), load)?;
        }
        Ok(library)
    }

    /// Puts a rules file on the shelf. Only its head is looked at; the rest is read when it is asked for.
    ///
    /// # Errors
    /// The faults of a file whose head can't be read, or a version that is there already with other bytes.
    pub fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), Vec<Diagnostic>> {
        let head = std::str::from_utf8(bytes).ok().and_then(head);
        self.shelve(name, Cow::Owned(bytes.to_vec()), head, load_by_schema)
    }

    fn shelve(
        &mut self,
        name: &str,
        bytes: Cow<'static, [u8]>,
        head: Option<Head>,
        read: Load,
    ) -> Result<(), Vec<Diagnostic>> {
        let shelved = match head {
            Some((class, version, status, in_force_from)) => Shelved {
                name: name.to_owned(),
                class,
                version,
                status,
                in_force_from,
                bytes,
                read,
                rules: std::sync::OnceLock::new(),
            },
            None => {
                let rules = read(name, &bytes)?;
                Shelved {
                    name: name.to_owned(),
                    class: rules.class.text.clone(),
                    version: rules.version.clone(),
                    status: rules.status,
                    in_force_from: Some(rules.in_force_from),
                    bytes,
                    read,
                    rules: std::sync::OnceLock::from(Ok(Arc::new(rules))),
                }
            }
        };
        if let Some(other) = self
            .shelved
            .iter()
            .find(|other| other.class == shelved.class && other.version == shelved.version)
        {
            if other.bytes == shelved.bytes {
                return Ok(());
            }
            return Err(vec![
                Diagnostic::fault(
                    "library.twice",
                    format!(
                        "{} and {} both are {}@{}, and differ",
                        other.name, name, shelved.class, shelved.version
                    ),
                )
                .help("a version is written once; give the changed file a version of its own"),
            ]);
        }
        self.shelved.push(shelved);
        self.shelved
            .sort_by(|a, b| (&a.class, &a.version).cmp(&(&b.class, &b.version)));
        Ok(())
    }

    /// The names of all classes, sorted.
    pub fn classes(&self) -> Vec<&str> {
        let mut classes: Vec<&str> = self.shelved.iter().map(|one| one.class.as_str()).collect();
        classes.dedup();
        classes
    }

    /// Every version, by class and then by version.
    ///
    /// # Errors
    /// The faults of files that can't be read.
    pub fn all(&self) -> Result<Vec<Arc<RulesFile>>, Vec<Diagnostic>> {
        self.shelved.iter().map(Shelved::rules).collect()
    }

    /// The version that `class@requirement` means on a day; `class` alone is the version in force.
    ///
    /// Only adopted versions resolve. Among those that meet the requirement and are in force on the day,
    /// the latest day counts, and on equal days the higher version. A requirement of one exact version
    /// finds it whether it is in force or not, and an adopted one only is not asked for.
    ///
    /// # Errors
    /// Unknown class, unreadable requirement, nothing that fits; or the faults of the file that fits.
    pub fn resolve(&self, reference: &str, on: Date) -> Result<Resolved, Vec<Diagnostic>> {
        let (class, requirement) = match reference.split_once('@') {
            Some((class, requirement)) => (class, requirement),
            None => (reference, "*"),
        };
        let of_class: Vec<&Shelved> = self
            .shelved
            .iter()
            .filter(|one| one.class == class)
            .collect();
        if of_class.is_empty() {
            let help = match near_misses(class, self.classes()) {
                Some(near) => format!("did you mean {}?", quoted(near)),
                None => format!(
                    "known classes: {}; add others with --rules-dir",
                    self.classes().join(", ")
                ),
            };
            return Err(vec![
                Diagnostic::fault(
                    "library.class",
                    format!("there are no rules of a class {}", quoted(class)),
                )
                .help(help),
            ]);
        }
        let listed = || {
            of_class
                .iter()
                .map(|one| one.version.to_string())
                .collect::<Vec<_>>()
                .join(", ")
        };
        if let Ok(version) = semver::Version::parse(requirement) {
            return match of_class.iter().find(|one| one.version == version) {
                Some(one) => Ok(Resolved {
                    rules: one.rules()?,
                    later: later(&of_class, one),
                }),
                None => Err(vec![
                    Diagnostic::fault(
                        "library.version",
                        format!("there is no version {version} of {class}"),
                    )
                    .help(format!("there are: {}", listed())),
                ]),
            };
        }
        let Ok(asked) = semver::VersionReq::parse(requirement) else {
            return Err(vec![
                Diagnostic::fault(
                    "library.requirement",
                    format!(
                        "{} is neither a version nor a requirement",
                        quoted(requirement)
                    ),
                )
                .help(format!(
                    "write {class}@3.1.0, {class}@^3, or {class} alone for the version in force"
                )),
            ]);
        };
        let fitting: Vec<&&Shelved> = of_class
            .iter()
            .filter(|one| one.status == Status::Adopted && asked.matches(&one.version))
            .collect();
        let best = fitting
            .iter()
            .filter(|one| one.in_force_from.is_some_and(|day| day <= on))
            .max_by(|a, b| (a.in_force_from, &a.version).cmp(&(b.in_force_from, &b.version)));
        match best {
            Some(one) => Ok(Resolved {
                rules: one.rules()?,
                later: later(&of_class, one),
            }),
            None => {
                let first = fitting
                    .iter()
                    .filter_map(|one| one.in_force_from.map(|day| (day, &one.version)))
                    .min();
                let help = match first {
                    Some((day, version)) => format!("{version} is in force from {day}"),
                    None => format!("there are: {}", listed()),
                };
                // The last day of all stands for no day in particular.
                let asked = quoted(requirement);
                let message = if i32::from(on.year())
                    < i32::from(*crate::quantity::date::YEARS.end())
                {
                    format!("no adopted version of {class} that meets {asked} was in force on {on}")
                } else {
                    format!("no adopted version of {class} meets {asked}")
                };
                Err(vec![Diagnostic::fault("library.none", message).help(help)])
            }
        }
    }
}

/// The next adopted version of the class after one, by its day in force.
fn later(of_class: &[&Shelved], one: &Shelved) -> Option<(semver::Version, Date)> {
    of_class
        .iter()
        .filter(|other| other.status == Status::Adopted && other.version > one.version)
        .filter_map(|other| other.in_force_from.map(|day| (day, other.version.clone())))
        .min()
        .map(|(day, version)| (version, day))
}

type Head = (String, semver::Version, Status, Option<Date>);

/// The keys of a head.
const HEAD: [&str; 5] = ["format", "class", "version", "status", "in_force_from"];

/// The head of a well-kept rules file, from its unindented lines alone; `None` sends the file to the
/// full loader, which then says what is wrong.
fn head(text: &str) -> Option<Head> {
    let mut values = [None; HEAD.len()];
    // Most lines are indented, and are left after their first byte.
    for line in text.lines().filter(|line| !line.starts_with([' ', '#'])) {
        for (key, value) in HEAD.iter().zip(&mut values) {
            let Some(found) = line
                .strip_prefix(key)
                .and_then(|rest| rest.strip_prefix(": "))
            else {
                continue;
            };
            if value.replace(found).is_some() {
                return None;
            }
        }
    }
    let plain = |value: Option<&'_ str>| {
        let value = value?.split(" #").next()?.trim().to_owned();
        (!value.is_empty() && !value.starts_with(['"', '\'', '&', '*', '!', '|', '>', '{', '[']))
            .then_some(value)
    };
    let [format, class, version, status, in_force_from] = values.map(plain);
    if format? != super::load::FORMAT {
        return None;
    }
    let status = match status?.as_str() {
        "draft" => Status::Draft,
        "proposed" => Status::Proposed,
        "adopted" => Status::Adopted,
        "repealed" => Status::Repealed,
        _ => return None,
    };
    let version = semver::Version::parse(&version?).ok()?;
    let day = crate::quantity::DateSpan::parse(&in_force_from?)
        .ok()?
        .as_day()?;
    Some((class?, version, status, Some(day)))
}
