//! `vary`: how many of a fleet conform as one limit moves.

use std::cell::RefCell;

use serde_json::{Value, json};

use crate::app::{self, Exit, Host, Reading, Shelves, VaryRequest};
use crate::diagnostic::safe_line;
use crate::report::{Format, VariedReport, vary_json, vary_plain, vary_plot, vary_text};

use super::args::Common;
use super::console::Console;
use super::progress::Progress;
use super::rules::no_junit;
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
    };
    if let Some(path) = &args.plot
        && let Err(problem) = host.write(path, vary_plot(&report).as_bytes())
    {
        return console.trouble(&problem.into());
    }
    let files: Vec<String> = [&args.keep, &args.plot]
        .into_iter()
        .flatten()
        .map(|path| format!("Written: {}", safe_line(&path.display().to_string())))
        .collect();
    let mut text = match console.format {
        Format::Human => vary_text(&report, console.width),
        Format::Plain => vary_plain(&report),
        Format::Json | Format::Junit => {
            let mut found = vary_json(&report);
            if let (Value::Object(map), Some(path)) = (&mut found, &args.plot) {
                map.insert("plot_file".to_owned(), json!(path.display().to_string()));
            }
            format!("{found:#}\n")
        }
    };
    if matches!(console.format, Format::Human | Format::Plain) && !files.is_empty() {
        if matches!(console.format, Format::Human) {
            text.push('\n');
        }
        for line in &files {
            text.push_str(line);
            text.push('\n');
        }
    }
    let _ = console.print(&text);
    console.beside(&found.troubles.told);
    found.exit()
}
