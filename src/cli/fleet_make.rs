//! `fleet make`: invented boats of any version, for demos and benchmarks.

use crate::app::{self, Exit, FleetRequest, Host, Shelves};
use crate::fleet::make::Settings;

use super::console::Console;
use super::fleet_args::FleetMakeArgs;

use super::args::Common;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &FleetMakeArgs,
    console: &mut Console<'_>,
) -> Exit {
    let shelves = match Shelves::open(host, &common.rules_dir) {
        Ok(shelves) => shelves,
        Err(trouble) => return console.trouble(&trouble),
    };
    let request = FleetRequest {
        reference: args.reference.clone(),
        boats: args.boats,
        settings: Settings {
            seed: args.seed,
            missing: args.missing,
            faults: args.faults,
            close: args.close,
            until: args.until,
        },
        out: args.out.clone(),
    };
    // Nobody waits for a fleet that is written before the line is read, and a pipe wants no progress.
    let shows = host.terminal().error && args.out.is_some();
    let mut told = std::time::Duration::from_secs(1);
    let console = std::cell::RefCell::new(console);
    let made = app::make_fleet(
        host,
        &shelves,
        &request,
        &mut |text| console.borrow_mut().print(text),
        &mut |number| {
            let running = host.running();
            if shows && running >= told {
                told = running + std::time::Duration::from_millis(500);
                let line = format!("\r{number} of {} boats", args.boats);
                console.borrow_mut().tell(&line);
            }
        },
    );
    let console = console.into_inner();
    if shows && told > std::time::Duration::from_secs(1) {
        console.tell("\r\u{1b}[K");
    }
    match made {
        Err(trouble) => console.trouble(&trouble),
        Ok(rules) => {
            if let Some(path) = &args.out {
                console.tell(&format!(
                    "{} invented boat{} of {} {} in {}. They say nothing of any real fleet.\n",
                    args.boats,
                    if args.boats == 1 { "" } else { "s" },
                    rules.class.text,
                    rules.version,
                    crate::diagnostic::safe_line(&path.display().to_string()),
                ));
            }
            Exit::Done
        }
    }
}
