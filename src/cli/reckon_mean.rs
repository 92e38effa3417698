//! `reckon mean`: the mean of repeats with its uncertainty.

use crate::app::{self, Exit};

use super::console::Console;
use super::reckon_args::MeanArgs;
use super::reckon_printed;

pub(super) fn run(args: &MeanArgs, console: &mut Console<'_>) -> Exit {
    let reckoned = app::reckon::mean(&args.reading.request(), &args.readings);
    reckon_printed::printed(None, reckoned, args.reading.budget, console)
}
