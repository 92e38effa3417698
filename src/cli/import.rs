//! `import`: a table to records, or a map suggested for it.

use serde_json::json;

use crate::app::{self, Exit, Host, ImportRequest, Imported, Shelves};
use crate::diagnostic::{safe_line, to_json};
use crate::report::{Format, wrap};

use super::args::{Common, ImportArgs};
use super::console::Console;
use super::{rules, usage};

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &ImportArgs,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return rules::no_junit(console);
    }
    let shelves = match Shelves::open(host, &common.rules_dir) {
        Ok(shelves) => shelves,
        Err(trouble) => return console.trouble(&trouble),
    };
    let Some(map) = &args.map else {
        return suggested(host, &shelves, args, console);
    };
    let Some(out) = &args.out else {
        let help = "name a file, --out fleet.jsonl, or print them with --out -";
        return console.trouble(&usage::wrong(
            "usage.out",
            "import needs to know where the records go",
            help,
        ));
    };
    let printed = out.as_os_str() == "-";
    let request = ImportRequest {
        table: args.table.clone(),
        map: map.clone(),
        rules: args.rules.clone(),
        out: (!printed).then(|| out.clone()),
    };
    let imported = match app::import(host, &shelves, &request) {
        Ok(imported) => imported,
        Err(trouble) => return console.trouble(&trouble),
    };
    if printed {
        let _ = console.print(&imported.text);
        console.beside(&imported.notices);
        return Exit::Done;
    }
    let path = safe_line(&out.display().to_string()).into_owned();
    if console.format == Format::Json {
        let parts: serde_json::Map<String, serde_json::Value> = imported
            .parts
            .iter()
            .map(|(key, count)| (key.clone(), json!(count)))
            .collect();
        let json = json!({
            "format": "rimegauge-import/1",
            "file": path,
            "records": imported.records,
            "boats": imported.boats,
            "parts": parts,
            "cells": imported.cells,
            "rules": imported.rules,
            "notices": to_json(&imported.notices).get("diagnostics"),
        });
        let _ = console.print(&format!("{json:#}\n"));
        return Exit::Done;
    }
    console.beside(&imported.notices);
    let mut text = String::new();
    for line in wrap(&told(&imported, &path), console.width) {
        text.push_str(&line);
        text.push('\n');
    }
    let _ = console.print(&text);
    Exit::Done
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn told(imported: &Imported, path: &str) -> String {
    let mut pieces = vec![
        counted(imported.records, "record", "records"),
        counted(imported.boats, "boat", "boats"),
    ];
    pieces.extend(
        imported
            .parts
            .iter()
            .map(|(key, count)| format!("{key}: {count}")),
    );
    pieces.push(counted(imported.cells, "value", "values"));
    format!(
        "{} · as {} reads them\nWritten: {path}",
        pieces.join(" · "),
        imported.rules.join(", ")
    )
}

fn suggested(
    host: &dyn Host,
    shelves: &Shelves,
    args: &ImportArgs,
    console: &mut Console<'_>,
) -> Exit {
    if !args.suggest {
        let help =
            "name the map, --map runners.map.yaml, or have one suggested: --suggest --class tarn-8";
        return console.trouble(&usage::wrong(
            "usage.map",
            "import needs a map that says what each column fills",
            help,
        ));
    }
    let Some(rules) = args.rules.as_deref().or(args.class.as_deref()) else {
        let help = "name the class: --class tarn-8";
        return console.trouble(&usage::wrong(
            "usage.class",
            "a suggestion needs to know the class of the records",
            help,
        ));
    };
    match app::suggest_map(host, shelves, &args.table, rules) {
        Ok(found) => {
            let _ = console.print(&found.text);
            Exit::Done
        }
        Err(trouble) => console.trouble(&trouble),
    }
}
