//! `reckon mass`: a mass from a load cell that was adjusted elsewhere.

use crate::app::reckon::MassRequest;
use crate::app::{self, Exit};

use super::console::Console;
use super::reckon_args::MassArgs;
use super::reckon_printed;

pub(super) fn run(args: &MassArgs, console: &mut Console<'_>) -> Exit {
    let given = MassRequest {
        reading: args.mass.clone(),
        latitude: args.latitude.clone(),
        adjusted_at: args.adjusted_at.clone(),
        height: args.height.clone(),
        adjusted_height: args.adjusted_height.clone(),
    };
    let reckoned = app::reckon::mass(&args.reading.request(), &given);
    reckon_printed::printed(None, reckoned, args.reading.budget, console)
}
