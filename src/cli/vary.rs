//! `vary`: how many of a fleet conform as one limit moves.

use std::cell::RefCell;
use std::path::PathBuf;

use serde_json::{Value, json};

use crate::app::{self, Exit, Host, Reading, Shelves, VaryRequest};
use crate::diagnostic::safe_line;
use crate::report::{Format, VariedReport, vary_json, vary_plain, vary_plot, vary_text, wrap};

use super::args::Common;
use super::console::Console;
use super::progress::Progress;
use super::rules::no_junit;
use super::usage::wrong;
use super::vary_args::VaryArgs;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &VaryArgs,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return no_junit(console);
    }
    if args.fleet.is_empty() && args.kept.is_none() {
        return console.trouble(&wrong(
            "usage.fleet",
            "there are no boats to count: neither a fleet nor what was kept of one is named",
            "name its records, --fleet fleet.jsonl, or the file that --keep wrote of them, --kept thickness.columns",
        ));
    }
    let shelves = match Shelves::open(host, &common.rules_dir) {
        Ok(shelves) => shelves,
        Err(trouble) => return console.trouble(&trouble),
    };
    let request = VaryRequest {
        reference: args.reference.clone(),
        rule: args.rule.clone(),
        row: args.row.clone(),
        limit: args.limit,
        from: args.from.clone(),
        to: args.to.clone(),
        steps: args.steps,
        propose: args.propose.clone(),
        paths: args.fleet.clone(),
        kept: args.kept.clone(),
        keep: args.keep.clone(),
        plot: args.plot.clone(),
        on: args.on,
        level: args.level.clone(),
        purpose: args.purpose.stage(),
    };
    let progress = Progress::of(host, console);
    let beside = RefCell::new(console);
    let watcher = |reading: &Reading| {
        if let Some(line) = progress.heard(reading) {
            beside.borrow_mut().tell(&line);
        }
    };
    let found = app::vary(host, &shelves, &request, &watcher);
    let console = beside.into_inner();
    if let Some(away) = progress.end() {
        console.tell(away);
    }
    let found = match found {
        Ok(found) => found,
        Err(trouble) => return console.trouble(&trouble),
    };
    let report = VariedReport {
        rules: &found.rules,
        varied: &found.varied,
        purpose: request.purpose,
        level: request.level.as_deref(),
        notes: &found.notes,
        written: &found.written,
        names: args.names,
    };
    // Where the limit applies to nothing, nothing is written, and what stands there stays.
    let written = |path: &Option<PathBuf>| path.clone().filter(|_| !found.is_empty());
    let (plot, keep) = (written(&args.plot), written(&args.keep));
    if let Some(path) = &plot
        && let Err(problem) = host.write(path, vary_plot(&report).as_bytes())
    {
        return console.trouble(&problem.into());
    }
    let mut files: Vec<String> = [&keep, &plot]
        .into_iter()
        .flatten()
        .map(|path| format!("Written: {}", safe_line(&path.display().to_string())))
        .collect();
    if files.is_empty() && (args.plot.is_some() || args.keep.is_some()) {
        files.push("No file was written.".to_owned());
    }
    let mut text = match console.format {
        Format::Human => vary_text(&report, console.width),
        Format::Plain => vary_plain(&report),
        Format::Json | Format::Junit => {
            let mut found = vary_json(&report);
            if let Value::Object(map) = &mut found {
                let asked = [
                    ("plot_file", &args.plot, &plot),
                    ("keep_file", &args.keep, &keep),
                ];
                for (key, _, path) in asked.into_iter().filter(|(_, asked, _)| asked.is_some()) {
                    let path = path.as_ref().map(|path| path.display().to_string());
                    map.insert(key.to_owned(), json!(path));
                }
            }
            format!("{found:#}\n")
        }
    };
    if matches!(console.format, Format::Human) && !files.is_empty() {
        text.push('\n');
        for line in files.iter().flat_map(|line| wrap(line, console.width)) {
            text.push_str(&line);
            text.push('\n');
        }
    } else if matches!(console.format, Format::Plain) {
        for line in &files {
            text.push_str(line);
            text.push('\n');
        }
    }
    let _ = console.print(&text);
    console.beside(&found.troubles.told);
    found.exit()
}
