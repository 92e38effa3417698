//! `man`: the manual page, of the program or of one command.

use crate::app::{Exit, Trouble};
use crate::diagnostic::{Diagnostic, near_misses};
use crate::text::quoted;

use super::args::ManArgs;
use super::console::Console;

pub(super) fn run(args: &ManArgs, console: &mut Console<'_>) -> Exit {
    let mut command = super::command();
    command.build();
    let mut page = &command;
    for word in &args.command {
        match page.get_subcommands().find(|one| one.get_name() == word) {
            Some(found) => page = found,
            None => return console.trouble(&unknown(page, word)),
        }
    }
    let name = page
        .get_display_name()
        .unwrap_or_else(|| page.get_name())
        .to_owned();
    let mut bytes = Vec::new();
    // Writing to memory does not fail.
    let _ = clap_mangen::Man::new(page.clone())
        .title(name.to_uppercase())
        .render(&mut bytes);
    let _ = console.print(&String::from_utf8_lossy(&bytes));
    Exit::Done
}

fn unknown(page: &clap::Command, word: &str) -> Trouble {
    let names: Vec<&str> = page
        .get_subcommands()
        .map(clap::Command::get_name)
        .collect();
    let help = match near_misses(word, names.iter().copied()) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None if names.is_empty() => "it has no commands of its own".to_owned(),
        None => format!("there are: {}", names.join(", ")),
    };
    Trouble::one(
        Diagnostic::fault(
            "usage",
            format!("{} is no command of {}", quoted(word), page.get_name()),
        )
        .help(help),
    )
}
