//! `reckon area`: the area of an outline.

use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon_args::AreaArgs;
use super::reckon_printed;

pub(super) fn run(host: &dyn Host, args: &AreaArgs, console: &mut Console<'_>) -> Exit {
    let spacing = args.spacing.as_deref();
    let reckoned = app::reckon::area(host, &args.reading.request(), &args.outline, spacing);
    reckon_printed::printed(
        Some(reckon_printed::Picture {
            host,
            read: Some(&args.outline),
            path: args.plot.as_deref(),
        }),
        reckoned,
        args.reading.budget,
        console,
    )
}
