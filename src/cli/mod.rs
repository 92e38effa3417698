//! The command line: arguments, one file for each command, exit codes.
//!
//! A command turns its arguments into a request, calls the one function of [`crate::app`] that does the
//! work, and prints what comes back. Reports and JSON go to standard output; messages about bad input go to
//! standard error, or alone to standard output where JSON or JUnit was asked for.

mod args;
mod certify;
mod check;
mod compare;
mod completions;
mod console;
mod export;
mod fleet_args;
mod fleet_make;
mod import;
mod man;
mod progress;
mod reckon;
mod reckon_angle;
mod reckon_area;
mod reckon_args;
mod reckon_expansion;
mod reckon_flat;
mod reckon_hardness;
mod reckon_mark;
mod reckon_mass;
mod reckon_mean;
mod reckon_printed;
mod reckon_repeatability;
mod reckon_straightness;
mod rules;
mod rules_cases;
mod rules_lint;
mod rules_list;
mod rules_mutants;
mod rules_schema;
mod rules_show;
mod usage;
mod vary;
mod vary_args;

use std::ffi::OsString;
use std::io::Write;

use clap::{CommandFactory, FromArgMatches};

pub use crate::app::Exit;
use crate::app::Host;

use args::{Cli, Command};
use console::Console;

/// Runs one command; `args` begin with the name of the program. What is printed goes to `out` and `err`.
pub fn run(
    host: &dyn Host,
    args: impl IntoIterator<Item = OsString>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Exit {
    let args: Vec<OsString> = args.into_iter().collect();
    let parsed = command()
        .try_get_matches_from(&args)
        .and_then(|found| Cli::from_arg_matches(&found));
    let cli = match parsed {
        Ok(cli) => cli,
        Err(error) => {
            let mut console = Console::before_parsing(host, &args, out, err);
            let exit = usage::told(&error, &mut console);
            return console.end(exit);
        }
    };
    let mut console = Console::new(host, &cli.common, out, err);
    let exit = match &cli.command {
        Command::Check(args) => check::run(host, &cli.common, args, &mut console),
        Command::Certify(args) => certify::run(host, &cli.common, args, &mut console),
        Command::Compare(args) => compare::run(host, &cli.common, args, &mut console),
        Command::Fleet(args) => match &args.command {
            fleet_args::FleetCommand::Make(args) => {
                fleet_make::run(host, &cli.common, args, &mut console)
            }
        },
        Command::Vary(args) => vary::run(host, &cli.common, args, &mut console),
        Command::Import(args) => import::run(host, &cli.common, args, &mut console),
        Command::Export(args) => export::run(host, &cli.common, args, &mut console),
        Command::Rules(args) => rules::run(host, &cli.common, &args.command, &mut console),
        Command::Reckon(args) => reckon::run(host, &args.command, &mut console),
        Command::Completions(args) => completions::run(args, &mut console),
        Command::Man(args) => man::run(args, &mut console),
    };
    console.end(exit)
}

/// The command with all its subcommands.
pub fn command() -> clap::Command {
    Cli::command()
}
