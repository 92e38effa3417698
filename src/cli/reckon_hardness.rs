//! `reckon hardness`: a hardness on another scale, by the published table.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon;
use super::reckon_args::HardnessArgs;

pub(super) fn run(args: &HardnessArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::hardness(&args.reading.request(), &args.value, &args.to);
    reckon::printed(None, reckoned, args.reading.budget, console)
}
