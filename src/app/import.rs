//! Tables to records: read, mapped, every record loaded by the rules of its day, and only then written.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::record::Loader;
use crate::record::sheet::{self, Book};
use crate::record::table::{Import, MapHead, Suggestion, TableMap, head_of_map, read_map, suggest};
use crate::rules::RulesFile;
use crate::text::limits::DOCUMENT_BYTES;
use crate::text::quoted;

use super::apart::outputs_apart;
use super::exit::Trouble;
use super::host::{Doing, Host, HostProblem, Why};
use super::library::Shelves;

/// A table to be turned into records.
#[derive(Clone, Debug)]
pub struct ImportRequest {
    /// The table, `-` for standard input.
    pub table: PathBuf,
    /// The map.
    pub map: PathBuf,
    /// A reference or a path to rules, in place of those that the map names or of the day.
    pub rules: Option<String>,
    /// Where the records go; `None` gives them back alone.
    pub out: Option<PathBuf>,
}

/// Records that a table was turned into.
#[derive(Clone, Debug)]
pub struct Imported {
    /// The records as JSON Lines.
    pub text: String,
    /// How many.
    pub records: usize,
    /// Of how many boats.
    pub boats: usize,
    /// Parts by the key of their holding, with how many there are.
    pub parts: Vec<(String, usize)>,
    /// Cells that were used.
    pub cells: usize,
    /// The versions of the rules by which records were loaded.
    pub rules: Vec<String>,
    /// What to know.
    pub notices: Vec<Diagnostic>,
}

/// The bytes of a table with its name.
fn table(host: &dyn Host, path: &Path) -> Result<(String, Vec<u8>), Trouble> {
    let most = sheet::limits::FILE_BYTES;
    if path.as_os_str() != "-" {
        return Ok((path.display().to_string(), host.read(path, most)?));
    }
    let name = "standard input".to_owned();
    let limit = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
    let mut bytes = Vec::new();
    let read = host.input().take(limit).read_to_end(&mut bytes);
    read.map_err(|error| {
        HostProblem::new(
            Doing::Reading,
            Path::new("-"),
            Why::Other(error.to_string()),
        )
    })?;
    Ok((name, bytes))
}

/// A map that was read, with the rules by whose names it was.
pub(super) struct Mapped {
    pub(super) map: TableMap,
    pub(super) rules: Arc<RulesFile>,
    /// Whether the rules were named, by the request or the map.
    pub(super) named: bool,
    name: String,
    bytes: Vec<u8>,
}

impl Mapped {
    /// Reads a map by the rules that are asked for, those it names, those of its day, or the newest.
    pub(super) fn read(
        host: &dyn Host,
        shelves: &Shelves,
        path: &Path,
        asked: Option<&str>,
    ) -> Result<Mapped, Trouble> {
        let name = path.display().to_string();
        let bytes = host.read(path, DOCUMENT_BYTES)?;
        let MapHead { class, rules, day } = head_of_map(&name, &bytes)?;
        let named = asked.or(rules.as_deref());
        let rules = shelves.find(host, named.unwrap_or(&class), day)?.rules;
        let mut mapped = Mapped {
            map: read_map(&name, &bytes, &rules.vocabulary, &rules.class.text).map_err(
                |mut found| {
                    if named.is_none() && found.iter().any(|one| one.code == "map.fills") {
                        found.push(read_by(&rules));
                    }
                    found
                },
            )?,
            named: named.is_some(),
            rules,
            name,
            bytes,
        };
        mapped.named |= day.is_some();
        Ok(mapped)
    }

    /// The same map by other rules of its class.
    fn by(self, rules: Arc<RulesFile>) -> Result<Mapped, Trouble> {
        let map = read_map(
            &self.name,
            &self.bytes,
            &rules.vocabulary,
            &rules.class.text,
        )?;
        Ok(Mapped { map, rules, ..self })
    }
}

fn read_by(rules: &RulesFile) -> Diagnostic {
    let reference = format!("{}@{}", rules.class.text, rules.version);
    Diagnostic::notice(
        "map.rules",
        format!("the map was read by the names of {reference}, the newest adopted version"),
    )
    .help(format!(
        "name another: `rules: {}@…` in the map, or --rules",
        rules.class.text
    ))
}

/// Turns a table into records by a map. Nothing is written unless every cell and every record is right.
///
/// # Errors
/// A map, table or rules that can't be read; every refused cell and record, up to a limit; a write that did not succeed.
pub fn import(
    host: &dyn Host,
    shelves: &Shelves,
    request: &ImportRequest,
) -> Result<Imported, Trouble> {
    if let Some(out) = &request.out {
        let mut read = vec![request.table.as_path(), request.map.as_path()];
        read.extend(request.rules.iter().map(Path::new));
        outputs_apart(
            host,
            [out.as_path()],
            &read,
            "name another file: --out fleet.jsonl",
        )?;
    }
    let mut mapped = Mapped::read(host, shelves, &request.map, request.rules.as_deref())?;
    let (name, bytes) = table(host, &request.table)?;
    let book = sheet::read(&name, &bytes, mapped.map.parted_by)?;
    drop(bytes);
    // Which rules are meant, the days of the table tell.
    if !mapped.named {
        let first = Import::read(&mapped.map, &book, &mapped.rules.vocabulary)?;
        let day = first.made.iter().find_map(|made| made.day);
        drop(first);
        let rules = shelves.find(host, &mapped.rules.class.text, day)?.rules;
        if rules.digest != mapped.rules.digest {
            mapped = mapped.by(rules)?;
        }
    }
    let imported = made(host, shelves, &mapped, &book)?;
    if let Some(out) = &request.out {
        host.write(out, imported.text.as_bytes())?;
    }
    Ok(imported)
}

fn made(
    host: &dyn Host,
    shelves: &Shelves,
    mapped: &Mapped,
    book: &Book,
) -> Result<Imported, Trouble> {
    let import = Import::read(&mapped.map, book, &mapped.rules.vocabulary)?;
    let mut by_day: BTreeMap<Option<jiff::civil::Date>, Arc<RulesFile>> = BTreeMap::new();
    for made in &import.made {
        if by_day.contains_key(&made.day) {
            continue;
        }
        // A day on which no rules are in force is no fault of a table: the map's rules tell what a record can say.
        let of_day = match made.day {
            Some(day) if !mapped.named => {
                shelves.find(host, &mapped.rules.class.text, Some(day)).ok()
            }
            Some(_) | None => None,
        };
        let rules = of_day.map_or_else(|| Arc::clone(&mapped.rules), |found| found.rules);
        by_day.insert(made.day, rules);
    }
    let mut versions: Vec<&Arc<RulesFile>> = Vec::new();
    for rules in by_day.values() {
        if !versions.iter().any(|known| known.digest == rules.digest) {
            versions.push(rules);
        }
    }
    let loaders: Vec<Loader<'_>> = versions
        .iter()
        .map(|rules| Loader::new(&rules.vocabulary))
        .collect();
    let mut faults = Vec::new();
    let mut text = String::new();
    for made in &import.made {
        let digest = by_day.get(&made.day).map(|rules| &rules.digest);
        let at = versions
            .iter()
            .position(|rules| Some(&rules.digest) == digest);
        let Some(loader) = at.and_then(|at| loaders.get(at)) else {
            continue;
        };
        match import.load(made, loader) {
            Ok(_) => {
                text.push_str(&made.text);
                text.push('\n');
            }
            Err(found) => faults.extend(found),
        }
    }
    if !faults.is_empty() {
        return Err(Trouble::input(Import::bounded(faults)));
    }
    let key = |id| {
        mapped
            .rules
            .vocabulary
            .holding(id)
            .map(|holding| holding.key.text.clone())
    };
    let parts = import
        .counts
        .parts
        .iter()
        .filter_map(|(id, count)| Some((key(*id)?, *count)))
        .collect();
    let mut rules: Vec<String> = versions
        .iter()
        .map(|rules| format!("{}@{}", rules.class.text, rules.version))
        .collect();
    rules.sort();
    Ok(Imported {
        records: import.made.len(),
        boats: import.counts.boats,
        parts,
        cells: import.counts.cells,
        rules,
        notices: import.notices,
        text,
    })
}

/// Suggests a map for a table from its headers, by rules that are named.
///
/// # Errors
/// A table or rules that can't be read.
pub fn suggest_map(
    host: &dyn Host,
    shelves: &Shelves,
    path: &Path,
    rules: &str,
) -> Result<Suggestion, Trouble> {
    let rules = shelves.find(host, rules, None)?.rules;
    let (name, bytes) = table(host, path)?;
    let book = sheet::read(&name, &bytes, None)?;
    let titles: Vec<(&str, &str)> = rules
        .rules
        .iter()
        .map(|rule| (rule.id.text.as_str(), rule.title.as_str()))
        .collect();
    let found = suggest(&book, &rules.vocabulary, &rules.class.text, &titles);
    if found.filled == 0 {
        let message = format!(
            "no header of {} is a name that {} {} knows",
            quoted(&name),
            rules.class.text,
            rules.version
        );
        return Err(Trouble::one(
            Diagnostic::fault("table.header", message)
                .help("look at the names with `rimegauge rules schema`, and write the map by hand"),
        ));
    }
    Ok(found)
}
