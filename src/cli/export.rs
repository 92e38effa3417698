//! `export`: records back to a table.

use serde_json::json;

use crate::app::{self, Exit, ExportRequest, Host, Shelves};
use crate::diagnostic::{Diagnostic, safe_line};
use crate::report::Format;

use super::args::{Common, ExportArgs};
use super::console::Console;
use super::{rules, usage};

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &ExportArgs,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return rules::no_junit(console);
    }
    if args.records.is_empty() {
        let help = "name a file or a folder: rimegauge export fleet.jsonl --map runners.map.yaml --out runners.csv";
        return console.trouble(&usage::wrong(
            "usage.no_record",
            "export needs records",
            help,
        ));
    }
    let shelves = match Shelves::open(host, &common.rules_dir) {
        Ok(shelves) => shelves,
        Err(trouble) => return console.trouble(&trouble),
    };
    let printed = args.out.as_os_str() == "-";
    let request = ExportRequest {
        records: args.records.clone(),
        map: args.map.clone(),
        sheet: args.sheet.clone(),
        rules: args.rules.clone(),
        out: (!printed).then(|| args.out.clone()),
    };
    let (table, records) = match app::export(host, &shelves, &request) {
        Ok(found) => found,
        Err(trouble) => return console.trouble(&trouble),
    };
    let notices = left(&table.left);
    if printed {
        let _ = console.print(&table.text);
        console.beside(&notices);
        return Exit::Done;
    }
    let path = safe_line(&args.out.display().to_string()).into_owned();
    if console.format == Format::Json {
        let left: serde_json::Map<String, serde_json::Value> = table
            .left
            .iter()
            .map(|(what, count)| (what.clone(), json!(count)))
            .collect();
        let json = json!({ "format": "rimegauge-export/1", "file": path, "records": records, "rows": table.rows, "left_out": left });
        let _ = console.print(&format!("{json:#}\n"));
        return Exit::Done;
    }
    console.beside(&notices);
    let s = |count: usize| if count == 1 { "" } else { "s" };
    let _ = console.print(&format!(
        "{records} record{} · {} row{}\nWritten: {path}\n",
        s(records),
        table.rows,
        s(table.rows)
    ));
    Exit::Done
}

/// What the records say and the table does not.
fn left(left: &[(String, usize)]) -> Vec<Diagnostic> {
    if left.is_empty() {
        return Vec::new();
    }
    let named: Vec<String> = left
        .iter()
        .map(|(what, count)| format!("{what} ({count})"))
        .collect();
    let message = format!(
        "the table does not hold all that the records say; left out: {}",
        named.join(", ")
    );
    vec![
        Diagnostic::notice("table.left_out", message)
            .help("add columns to the map for what it is to hold; keep the records"),
    ]
}
