//! `compare`: what becomes illegal or legal from one version to another, and which step of the version that needs.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::app::{self, Exit, Host, Shelves};
use crate::diagnostic::safe_line;
use crate::prove::Progress;
use crate::report::{Compared, Format, compare_json, compare_plain, compare_text, wrap};

use super::args::{Common, CompareArgs};
use super::console::Console;
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
    let written = match &args.witness {
        None => Vec::new(),
        Some(folder) => match app::write_witnesses(host, &versions, folder) {
            Ok(written) => written,
            Err(trouble) => return console.trouble(&trouble),
        },
    };
    let compared = Compared {
        old: &versions.old,
        new: &versions.new,
        comparison: &versions.comparison,
        notes: &versions.notes,
    };
    let text = match console.format {
        Format::Human => {
            let mut text = compare_text(&compared, console.width);
            if args.witness.is_some() {
                text.push('\n');
                for line in told(&written) {
                    for line in wrap(&line, console.width) {
                        text.push_str(&line);
                        text.push('\n');
                    }
                }
            }
            text
        }
        Format::Plain => {
            let mut text = compare_plain(&compared);
            if args.witness.is_some() {
                for line in told(&written) {
                    text.push_str(&line);
                    text.push('\n');
                }
            }
            text
        }
        Format::Json | Format::Junit => {
            let mut json = compare_json(&compared);
            if let (Some(_), Value::Object(map)) = (&args.witness, &mut json) {
                let paths: Vec<String> = written
                    .iter()
                    .map(|path| path.display().to_string())
                    .collect();
                map.insert("witness_files".to_owned(), json!(paths));
            }
            format!("{json:#}\n")
        }
    };
    let _ = console.print(&text);
    versions.exit()
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

/// Which files were written, a line for each.
fn told(written: &[PathBuf]) -> Vec<String> {
    if written.is_empty() {
        return vec!["No witness was found, and no file was written.".to_owned()];
    }
    let paths = written
        .iter()
        .map(|path| format!("Written: {}", safe_line(&path.display().to_string())));
    paths.collect()
}
