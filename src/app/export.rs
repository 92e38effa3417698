//! Records back to a table.

use std::path::{Path, PathBuf};

use crate::diagnostic::Diagnostic;
use crate::record::sheet::limits::FILE_BYTES;
use crate::record::table::{Exported, export as to_table};
use crate::record::{Loader, Record, head};
use crate::text::limits::DOCUMENT_BYTES;
use crate::text::{Node, Source, decode, decode_lines, parse_json_line, parse_yaml, quoted};

use super::apart::outputs_apart;
use super::ending::Named;
use super::exit::Trouble;
use super::host::Host;
use super::import::Mapped;
use super::input::{self, Input};
use super::library::{Shelves, joined};

/// Records to be turned into a table.
#[derive(Clone, Debug)]
pub struct ExportRequest {
    /// Files and folders of records.
    pub records: Vec<PathBuf>,
    /// The map.
    pub map: PathBuf,
    /// The sheet of the map, where it has several.
    pub sheet: Option<String>,
    /// A reference or a path to rules, in place of those that the map names.
    pub rules: Option<String>,
    /// Where the table goes; `None` gives it back alone.
    pub out: Option<PathBuf>,
}

/// A table as text, which any spreadsheet opens.
const TABLE: Named = Named {
    code: "usage.out",
    what: "a table in CSV",
    endings: &["csv"],
    refused: &["xlsx", "ods", "xls"],
    example: "--out runners.csv",
};

/// Turns records into the table that a map would read. Nothing is written unless every record can be read.
///
/// # Errors
/// A map, records or rules that can't be read; a write that did not succeed.
pub fn export(
    host: &dyn Host,
    shelves: &Shelves,
    request: &ExportRequest,
) -> Result<(Exported, usize), Trouble> {
    if let Some(fault) = request.out.as_ref().and_then(|out| TABLE.fault(out)) {
        return Err(Trouble::one(fault));
    }
    let mapped = Mapped::read(host, shelves, &request.map, request.rules.as_deref())?;
    let loader = Loader::new(&mapped.rules.vocabulary);
    let mut records = Vec::new();
    let mut wrong: Option<Trouble> = None;
    for path in &request.records {
        for input in input::of(host, path)? {
            if let Err(trouble) = read(host, &input, &mapped.map.class, &loader, &mut records) {
                wrong = Some(joined(wrong, trouble));
            }
        }
    }
    if let Some(trouble) = wrong {
        return Err(trouble);
    }
    if records.is_empty() {
        return Err(Trouble::one(
            Diagnostic::fault("input.nothing", "there is no record to make a table of")
                .help("name a .jsonl file, records in YAML, or a folder of them"),
        ));
    }
    let exported = to_table(
        &mapped.map,
        &mapped.rules.vocabulary,
        &records,
        request.sheet.as_deref(),
    )
    .map_err(Trouble::one)?;
    if let Some(out) = &request.out {
        let read = request.records.iter().chain([&request.map]);
        let rules = request.rules.iter().map(Path::new);
        let read: Vec<&Path> = read.map(PathBuf::as_path).chain(rules).collect();
        outputs_apart(
            host,
            [out.as_path()],
            &read,
            "name another file: --out fleet.csv",
        )?;
        host.write(out, exported.text.as_bytes())?;
    }
    Ok((exported, records.len()))
}

fn read(
    host: &dyn Host,
    input: &Input,
    class: &str,
    loader: &Loader<'_>,
    records: &mut Vec<Record>,
) -> Result<(), Trouble> {
    let one = |source: &std::sync::Arc<Source>, node: &Node<'_>| -> Result<Record, Trouble> {
        let head = head(source, node)?;
        if head.class != class {
            let message = format!(
                "the record is of the class {}, the map of {}",
                quoted(head.class),
                quoted(class)
            );
            return Err(Trouble::one(
                Diagnostic::fault("map.other_class", message).label(
                    source,
                    head.class_span,
                    "another class",
                ),
            ));
        }
        Ok(loader.load(source, node)?)
    };
    let problems =
        |problems, source: &_| Trouble::input(Diagnostic::from_problems(problems, source));
    let (path, json): (&Path, bool) = match input {
        Input::Yaml { path, .. } => (path, false),
        Input::Json { path, .. } => (path, true),
        Input::Lines(path) => return lines(host, path, &one, records),
        Input::Standard => {
            return Err(Trouble::one(
                Diagnostic::fault("usage.no_record", "records are exported from files")
                    .help("name the file: rimegauge export fleet.jsonl"),
            ));
        }
    };
    let name = path.display().to_string();
    let bytes = host.read(path, DOCUMENT_BYTES)?;
    let source = decode(&name, &bytes)
        .map_err(|problem| Trouble::one(Diagnostic::undecoded(problem, &name)))?;
    let node = if json {
        parse_json_line(&source, 0..source.text().len())
    } else {
        parse_yaml(&source)
    };
    let node = node.map_err(|found| problems(found, &source))?;
    records.push(one(&source, &node)?);
    Ok(())
}

/// Makes a record of its tree.
type Loading<'l> = &'l dyn Fn(&std::sync::Arc<Source>, &Node<'_>) -> Result<Record, Trouble>;

fn lines(
    host: &dyn Host,
    path: &Path,
    one: Loading<'_>,
    records: &mut Vec<Record>,
) -> Result<(), Trouble> {
    let name = path.display().to_string();
    let bytes = host.read(path, FILE_BYTES)?;
    let source = decode_lines(&name, &bytes, 1)
        .map_err(|problem| Trouble::one(Diagnostic::undecoded(problem, &name)))?;
    let mut wrong: Option<Trouble> = None;
    for at in 0..source.line_count() {
        let range = source.line_span_of(at).range();
        if source
            .text()
            .get(range.clone())
            .unwrap_or("")
            .trim()
            .is_empty()
        {
            continue;
        }
        let parsed = parse_json_line(&source, range)
            .map_err(|found| Trouble::input(Diagnostic::from_problems(found, &source)));
        match parsed.and_then(|node| one(&source, &node)) {
            Ok(record) => records.push(record),
            Err(trouble) => wrong = Some(joined(wrong, trouble)),
        }
    }
    wrong.map_or(Ok(()), Err)
}
