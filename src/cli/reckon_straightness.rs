//! `reckon straightness`: the minimum zone of readings along a flank.

use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon_args::StraightnessArgs;
use super::reckon_printed;

pub(super) fn run(host: &dyn Host, args: &StraightnessArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::straightness(host, &args.reading.request(), &args.stations);
    reckon_printed::printed(
        Some(reckon_printed::Picture {
            host,
            read: Some(&args.stations),
            path: args.plot.as_deref(),
        }),
        reckoned,
        args.reading.budget,
        console,
    )
}
