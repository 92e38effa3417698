//! `reckon mark`: the check character of the number on a mark.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon_args::MarkArgs;
use super::reckon_printed;

pub(super) fn run(args: &MarkArgs, console: &mut Console<'_>) -> Exit {
    if let Some(printed) = &args.printed {
        return match app::reckon::mark_read(printed) {
            Ok((reckoned, exit)) => {
                reckon_printed::print(&reckoned, false, console);
                exit
            }
            Err(trouble) => console.trouble(&trouble),
        };
    }
    let number = args.number.as_deref().unwrap_or("");
    reckon_printed::printed(None, app::reckon::mark(number), false, console)
}
