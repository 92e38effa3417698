//! `rules`: the library of class rules.

use crate::app::{Exit, Host};
use crate::report::Format;

use super::args::{Common, RulesCommand};
use super::console::Console;
use super::{rules_cases, rules_lint, rules_list, rules_schema, rules_show, usage};

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    command: &RulesCommand,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return no_junit(console);
    }
    match command {
        RulesCommand::List(args) => rules_list::run(host, common, args, console),
        RulesCommand::Show(args) => rules_show::run(host, common, args, console),
        RulesCommand::Lint(args) => rules_lint::run(host, args, console),
        RulesCommand::Cases(args) => rules_cases::run(host, common, args, console),
        RulesCommand::Schema(args) => rules_schema::run(host, common, args, console),
    }
}

/// Only a check has results that a build server reads.
pub(super) fn no_junit(console: &mut Console<'_>) -> Exit {
    console.format = Format::Human;
    console.trouble(&usage::wrong(
        "usage.format",
        "only check prints JUnit",
        "use --format human, plain or json here",
    ))
}
