//! `reckon angle`: the angle of an edge from bevels, a sine bar, pins, rollers, widths or points across it.

use crate::app::reckon::AngleReadings;
use crate::app::{self, Exit, Host};

use super::console::Console;
use super::reckon_args::AngleArgs;
use super::reckon_printed;

pub(super) fn run(host: &dyn Host, args: &AngleArgs, console: &mut Console<'_>) -> Exit {
    let readings = match (&args.bevels, &args.sine, &args.section) {
        (Some(bevels), _, _) => AngleReadings::Bevels(bevels.clone()),
        (None, Some(sine), _) => AngleReadings::Sine(sine.clone()),
        (None, None, Some(path)) => AngleReadings::Section(path.clone()),
        (None, None, None) if !args.pins.is_empty() => AngleReadings::Pins(args.pins.clone()),
        (None, None, None) if !args.rollers.is_empty() => {
            AngleReadings::Rollers(args.rollers.clone())
        }
        (None, None, None) => AngleReadings::Widths(args.widths.clone()),
    };
    let request = args.reading.request();
    let radius = args.edge_radius.as_deref();
    let reckoned = app::reckon::angle(host, &request, &readings, radius);
    let plot = Some(reckon_printed::Picture {
        host,
        read: args.section.as_deref(),
        path: args.plot.as_deref(),
    });
    reckon_printed::printed(plot, reckoned, args.reading.budget, console)
}
