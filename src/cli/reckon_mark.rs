//! `reckon mark`: the check character of the number on a mark.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon;
use super::reckon_args::MarkArgs;

pub(super) fn run(args: &MarkArgs, console: &mut Console<'_>) -> Exit {
    if let Some(printed) = &args.printed {
        return match app::reckon::mark_read(printed) {
            Ok((reckoned, exit)) => {
                reckon::print(&reckoned, false, console);
                exit
            }
            Err(trouble) => console.trouble(&trouble),
        };
    }
    let number = args.number.as_deref().unwrap_or("");
    reckon::printed(None, app::reckon::mark(number), false, console)
}
