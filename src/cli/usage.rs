//! A command line that can't be read, in our words.

use std::str::FromStr;

use clap::error::ErrorKind;

use crate::app::{Exit, Trouble};
use crate::diagnostic::Diagnostic;

use super::console::Console;

/// Prints help and versions that were asked for; tells what is wrong with everything else.
pub(super) fn told(error: &clap::Error, console: &mut Console<'_>) -> Exit {
    let text = error.render().to_string();
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            let _ = console.print(&text);
            Exit::Done
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            console.tell(&text);
            Exit::BadInput
        }
        _ => console.trouble(&Trouble::one(diagnostic(&text))),
    }
}

/// A message of the argument parser: its first paragraph says what is wrong, tips and usage help.
fn diagnostic(text: &str) -> Diagnostic {
    let text = text.strip_prefix("error: ").unwrap_or(text);
    let mut paragraphs = text
        .split("\n\n")
        .map(str::trim)
        .filter(|paragraph| !paragraph.is_empty());
    let message = paragraphs
        .next()
        .unwrap_or("the command line can't be read");
    let help: Vec<String> = paragraphs
        .filter(|paragraph| !paragraph.starts_with("For more information"))
        .map(|paragraph| one_line(paragraph.strip_prefix("tip: ").unwrap_or(paragraph)))
        .collect();
    let mut help = help.join("\n");
    if help.is_empty() {
        help.push_str("try --help");
    }
    Diagnostic::fault("usage", one_line(message)).help(help)
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A count on the command line.
///
/// # Errors
/// Another thing than a whole number from 0, or one that is too large.
pub(super) fn count<T: FromStr>(text: &str) -> Result<T, String> {
    let accepted = || "a whole number is accepted here, such as 20".to_owned();
    text.parse().map_err(|_| accepted())
}

/// A usage that the parser lets through and the command does not.
pub(super) fn wrong(code: &'static str, message: &str, help: &str) -> Trouble {
    Trouble::one(Diagnostic::fault(code, message).help(help))
}
