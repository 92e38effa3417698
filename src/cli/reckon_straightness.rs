//! `reckon straightness`: the minimum zone of readings along a flank.

use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon;
use super::reckon_args::StraightnessArgs;

pub(super) fn run(host: &dyn Host, args: &StraightnessArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::straightness(host, &args.reading.request(), &args.stations);
    reckon::printed(
        Some((host, args.plot.as_deref())),
        reckoned,
        args.reading.budget,
        console,
    )
}
