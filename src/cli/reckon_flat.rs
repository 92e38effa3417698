//! `reckon flat`: the flat of an edge at a gap.

use crate::app::reckon::FlatReadings;
use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon_args::FlatArgs;
use super::reckon_printed;

pub(super) fn run(host: &dyn Host, args: &FlatArgs, console: &mut Console<'_>) -> Exit {
    let readings = match &args.stations {
        Some(path) => FlatReadings::Stations(path.clone()),
        None => FlatReadings::Shims(args.shims.clone()),
    };
    let (gap, contact) = (args.gap.as_deref(), args.contact.as_deref());
    let reckoned = app::reckon::flat(host, &args.reading.request(), &readings, gap, contact);
    reckon_printed::printed(
        Some(reckon_printed::Picture {
            host,
            read: args.stations.as_deref(),
            path: args.plot.as_deref(),
        }),
        reckoned,
        args.reading.budget,
        console,
    )
}
