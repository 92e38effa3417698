//! `rules show`: the rules of a version in the order of their clauses.

use crate::app::{self, Exit, Host, Shelves};
use crate::report::{Format, show, show_json, show_plain};

use super::args::{Common, RulesShowArgs};
use super::console::Console;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesShowArgs,
    console: &mut Console<'_>,
) -> Exit {
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::show(host, &shelves, &args.reference, args.on, &args.rule));
    let rules = match found {
        Ok(rules) => rules,
        Err(trouble) => return console.trouble(&trouble),
    };
    let text = match console.format {
        Format::Human => show(&rules, &args.rule, console.width),
        Format::Plain => show_plain(&rules, &args.rule),
        Format::Json | Format::Junit => format!("{:#}\n", show_json(&rules, &args.rule)),
    };
    let _ = console.print(&text);
    Exit::Done
}
