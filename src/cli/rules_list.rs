//! `rules list`: versions and the days on which they are in force.

use crate::app::{self, Exit, Host, Shelves};
use crate::report::{Format, list, list_json, list_plain};

use super::args::{Common, RulesListArgs};
use super::console::Console;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesListArgs,
    console: &mut Console<'_>,
) -> Exit {
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::list(&shelves, args.class.as_deref()));
    let versions = match found {
        Ok(versions) => versions,
        Err(trouble) => return console.trouble(&trouble),
    };
    let text = match console.format {
        Format::Human => list(&versions, args.on, console.width),
        Format::Plain => list_plain(&versions, args.on),
        Format::Json | Format::Junit => format!("{:#}\n", list_json(&versions, args.on)),
    };
    let _ = console.print(&text);
    Exit::Done
}
