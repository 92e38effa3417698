//! `rules lint`: what is wrong or doubtful in rules.

use crate::app::{self, Exit, Host};
use crate::report::{Format, problem_counts};

use super::args::RulesLintArgs;
use super::console::Console;

pub(super) fn run(host: &dyn Host, args: &RulesLintArgs, console: &mut Console<'_>) -> Exit {
    let report = match app::lint(host, &args.path) {
        Ok(report) => report,
        Err(trouble) => return console.trouble(&trouble),
    };
    match console.format {
        Format::Json | Format::Junit => console.problems(&report.diagnostics),
        Format::Human | Format::Plain => {
            if !report.diagnostics.is_empty() {
                console.report(&report.diagnostics);
            }
            let counts = problem_counts(&report.diagnostics);
            let _ = console.print(&format!("{}: {counts}\n", report.files.join(", ")));
        }
    }
    report.exit
}
