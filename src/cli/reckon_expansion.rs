//! `reckon expansion`: a length at 20 °C.

use crate::app::reckon::ExpansionRequest;
use crate::app::{self, Exit};

use super::console::Console;
use super::reckon_args::ExpansionArgs;
use super::reckon_printed;

pub(super) fn run(args: &ExpansionArgs, console: &mut Console<'_>) -> Exit {
    let given = ExpansionRequest {
        reading: args.length.clone(),
        tape: args.tape.clone(),
        item: args.item.clone(),
        temperature: args.temperature.clone(),
        within: args.within.clone(),
    };
    let reckoned = app::reckon::expansion(&args.reading.request(), &given);
    reckon_printed::printed(None, reckoned, args.reading.budget, console)
}
