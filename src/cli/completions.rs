//! `completions`: for a shell.

use crate::app::Exit;

use super::args::CompletionsArgs;
use super::console::Console;

pub(super) fn run(args: &CompletionsArgs, console: &mut Console<'_>) -> Exit {
    let mut bytes = Vec::new();
    clap_complete::generate(args.shell, &mut super::command(), "rimegauge", &mut bytes);
    let _ = console.print(&String::from_utf8_lossy(&bytes));
    Exit::Done
}
