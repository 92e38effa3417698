//! `reckon mean`: the mean of repeats with its uncertainty.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon;
use super::reckon_args::MeanArgs;

pub(super) fn run(args: &MeanArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::mean(&args.reading.request(), &args.readings);
    reckon::printed(None, reckoned, args.reading.budget, console)
}
