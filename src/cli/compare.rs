//! `compare`: what becomes illegal or legal from one version to another, and which step of the version that needs.

use std::cell::RefCell;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::app::{
    self, ComparedVersions, Exit, FleetAsked, Host, Reading, Shelves, Trouble, Troubles,
};
use crate::diagnostic::safe_line;
use crate::fleet::impact::Impact;
use crate::prove::{Comparison, Effect, Progress};
use crate::report::{
    Compared, Fleet, Format, compare_json, compare_plain, compare_text, impact_json, impact_plain,
    impact_text, wrap,
};

use super::args::{Common, CompareArgs};
use super::console::Console;
use super::progress::Progress as FleetProgress;
use super::rules::no_junit;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &CompareArgs,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return no_junit(console);
    }
    if let Some(folder) = &args.witness
        && let Err(trouble) = app::witness_folder(host, folder)
    {
        return console.trouble(&trouble);
    }
    if let Some(out) = &args.report
        && let Err(trouble) = app::report_file(out)
    {
        return console.trouble(&trouble);
    }
    if let Err(trouble) = app::ballot_files(&args.ballot) {
        return console.trouble(&trouble);
    }
    let read = args.fleet.iter().map(PathBuf::as_path);
    let read: Vec<&Path> = read
        .chain(common.rules_dir.iter().map(PathBuf::as_path))
        .chain([Path::new(&args.old), Path::new(&args.new)])
        .collect();
    let written = args.report.iter().chain(&args.ballot).map(PathBuf::as_path);
    if let Err(trouble) =
        app::outputs_apart(host, written, &read, "give each output a file of its own")
    {
        return console.trouble(&trouble);
    }
    let watched = host.terminal().error && matches!(console.format, Format::Human);
    let mut shown = false;
    let mut heard = |progress: Progress| {
        if watched {
            shown = true;
            console.tell(&format!("\r{}\u{1b}[K", words(progress)));
        }
    };
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::compare(host, &shelves, (&args.old, &args.new), &mut heard));
    if shown {
        console.tell("\r\u{1b}[K");
    }
    let versions = match found {
        Ok(versions) => versions,
        Err(trouble) => return console.trouble(&trouble),
    };
    // Before anything is written: a fleet that can't be used leaves all files as they are.
    let counted = match count(host, args, &versions, console) {
        Ok(counted) => counted,
        Err(trouble) => return console.trouble(&trouble),
    };
    let written = match &args.witness {
        None => Vec::new(),
        Some(folder) => match app::write_witnesses(host, &versions, folder) {
            Ok(written) => written,
            Err(trouble) => return console.trouble(&trouble),
        },
    };
    let fleet = counted.as_ref().map(|(impact, _)| Fleet {
        impact,
        old: &versions.old.version,
        new: &versions.new.version,
        in_force_from: (versions.old.in_force_from, versions.new.in_force_from),
        purpose: args.purpose.stage(),
        level: args.level.as_deref(),
        names: args.names,
    });
    let compared = Compared {
        old: &versions.old,
        new: &versions.new,
        comparison: &versions.comparison,
        notes: &versions.notes,
    };
    let mut files = told(args, &written);
    if let Some(out) = &args.report {
        if let Err(trouble) = app::write_report(host, &compared, fleet.as_ref(), out) {
            return console.trouble(&trouble);
        }
        files.push(format!(
            "Written: {}",
            safe_line(&out.display().to_string())
        ));
    }
    match app::write_ballots(host, &compared, fleet.as_ref(), &args.ballot) {
        Ok(notes) => {
            let written = args.ballot.iter();
            files.extend(
                written.map(|out| format!("Written: {}", safe_line(&out.display().to_string()))),
            );
            files.extend(notes);
        }
        Err(trouble) => return console.trouble(&trouble),
    }
    let text = match console.format {
        Format::Human => {
            let mut text = compare_text(&compared, console.width);
            if let Some(fleet) = &fleet {
                text.push_str(&impact_text(fleet, console.width));
            }
            if !files.is_empty() {
                text.push('\n');
            }
            for line in files.iter().flat_map(|line| wrap(line, console.width)) {
                text.push_str(&line);
                text.push('\n');
            }
            text
        }
        Format::Plain => {
            let mut text = compare_plain(&compared);
            if let Some(fleet) = &fleet {
                text.push_str(&impact_plain(fleet));
            }
            for line in &files {
                text.push_str(line);
                text.push('\n');
            }
            text
        }
        Format::Json | Format::Junit => {
            let mut json = compare_json(&compared);
            if let Value::Object(map) = &mut json {
                if let Some(fleet) = &fleet {
                    map.insert("fleet".to_owned(), impact_json(fleet));
                }
                if args.witness.is_some() {
                    let paths: Vec<String> = written
                        .iter()
                        .map(|path| path.display().to_string())
                        .collect();
                    map.insert("witness_files".to_owned(), json!(paths));
                }
                if !args.ballot.is_empty() {
                    let paths = args.ballot.iter().map(|path| path.display().to_string());
                    map.insert("ballot_files".to_owned(), json!(paths.collect::<Vec<_>>()));
                }
                if let Some(out) = &args.report {
                    let out = out.display().to_string();
                    map.insert("report_file".to_owned(), json!(out));
                }
            }
            format!("{json:#}\n")
        }
    };
    let _ = console.print(&text);
    let mut exit = versions.exit();
    if let Some((_, troubles)) = &counted {
        console.beside(&troubles.told);
        if let Some(worst) = troubles.exit {
            exit = exit.worst(worst);
        }
    }
    exit
}

/// How far a comparison is.
fn words(progress: Progress) -> String {
    match progress {
        Progress::Asked { done, all } => format!("{done} of {all} questions of what is required"),
        Progress::Evidence { done, all } => {
            format!("{done} of {all} differences of what evidence is asked")
        }
    }
}

/// Counts what the change does to the fleet that was asked about, if one was; at a terminal tells how far it is.
fn count(
    host: &dyn Host,
    args: &CompareArgs,
    versions: &ComparedVersions,
    console: &mut Console<'_>,
) -> Result<Option<(Impact, Troubles)>, Trouble> {
    if args.fleet.is_empty() {
        return Ok(None);
    }
    let asked = FleetAsked {
        paths: args.fleet.clone(),
        on: args.on,
        level: args.level.clone(),
        purpose: args.purpose.stage(),
        neutral: neutral(&versions.comparison),
    };
    let progress = FleetProgress::of(host, console);
    let beside = RefCell::new(console);
    let watcher = |reading: &Reading| {
        if let Some(line) = progress.heard(reading) {
            beside.borrow_mut().tell(&line);
        }
    };
    let found = app::impact(host, (&versions.old, &versions.new), &asked, &watcher);
    if let Some(away) = progress.end() {
        beside.borrow_mut().tell(away);
    }
    found.map(Some)
}

/// Which witnesses were written, a line for each; nothing where none were asked for.
fn told(args: &CompareArgs, written: &[PathBuf]) -> Vec<String> {
    if args.witness.is_none() {
        return Vec::new();
    }
    if written.is_empty() {
        return vec!["No witness was found, and no file was written.".to_owned()];
    }
    let paths = written
        .iter()
        .map(|path| format!("Written: {}", safe_line(&path.display().to_string())));
    paths.collect()
}

/// Ids of the rules of which it is proved that their change changes nothing.
fn neutral(comparison: &Comparison) -> Vec<String> {
    let changes = comparison.changes.iter();
    let neutral = changes.filter(|change| change.effect == Effect::Neutral);
    neutral.map(|change| change.rule.clone()).collect()
}
