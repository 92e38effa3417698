//! `reckon repeatability`: a study of a way of measuring.

use crate::app::reckon::ReckonRequest;
use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon_args::RepeatabilityArgs;
use super::reckon_printed;

pub(super) fn run(host: &dyn Host, args: &RepeatabilityArgs, console: &mut Console<'_>) -> Exit {
    let request = ReckonRequest {
        coverage: args.coverage.clone(),
        ..ReckonRequest::default()
    };
    let reckoned = app::reckon::repeatability(host, &request, &args.readings, args.mean_of);
    reckon_printed::printed(None, reckoned, false, console)
}
