//! `reckon hardness`: a hardness on another scale, by the published table.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon_args::HardnessArgs;
use super::reckon_printed;

pub(super) fn run(args: &HardnessArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::hardness(&args.reading.request(), &args.value, &args.to);
    reckon_printed::printed(None, reckoned, args.reading.budget, console)
}
