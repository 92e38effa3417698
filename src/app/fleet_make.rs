//! Making invented fleets: any number of boats of any version, in flat memory.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use crate::diagnostic::Diagnostic;
use crate::fleet::make::{Maker, Settings, SettingsFault};
use crate::rules::RulesFile;

use super::apart::outputs_apart;
use super::exit::Trouble;
use super::host::Host;
use super::library::Shelves;

/// Boats that one thread makes at a time.
const SHARE: u64 = 8;

/// Shares that are made side by side and then written in their order.
const SHARES: u64 = 16;

/// What fleet is to be made.
#[derive(Clone, Debug)]
pub struct FleetRequest {
    /// The version: a reference or a path.
    pub reference: String,
    /// How many boats.
    pub boats: u64,
    /// How they are made.
    pub settings: Settings,
    /// Where they are written; without it they are handed to the caller.
    pub out: Option<PathBuf>,
}

/// Makes a fleet, a boat a line. Without a file each piece of text goes to `print`, until it breaks; `made` is told how
/// many boats there are after each piece.
///
/// # Errors
/// A fleet of no boats, a version that there is not, settings that no fleet can be made by, a file that can't be
/// written.
pub fn make_fleet(
    host: &dyn Host,
    shelves: &Shelves,
    request: &FleetRequest,
    print: &mut dyn FnMut(&str) -> ControlFlow<()>,
    made: &mut dyn FnMut(u64),
) -> Result<Arc<RulesFile>, Trouble> {
    if request.boats == 0 {
        let fault = Diagnostic::fault("fleet.boats", "a fleet of 0 boats was asked for")
            .help("ask for one boat or more: --boats 120");
        return Err(Trouble::one(fault));
    }
    let mut read: Vec<&Path> = shelves.folders().iter().map(PathBuf::as_path).collect();
    read.push(Path::new(&request.reference));
    let out = request.out.iter().map(PathBuf::as_path);
    outputs_apart(host, out, &read, "name another file: --out fleet.jsonl")?;
    let rules = shelves.find(host, &request.reference, None)?.rules;
    let maker = Maker::new(&rules, request.settings.clone())
        .map_err(|fault| Trouble::one(settings_fault(&fault, &rules)))?;
    let mut number = 0;
    let mut next = || {
        let end = request.boats.min(number + SHARE * SHARES);
        // A boat does not depend on those before it.
        let shares = (0..SHARES).into_par_iter().map(|share| {
            let from = end.min(number + share * SHARE);
            let mut text = String::new();
            for boat in from..end.min(from + SHARE) {
                maker.boat(boat, &mut text);
            }
            text
        });
        let shares: Vec<String> = shares.collect();
        number = end;
        made(number);
        shares
    };
    match &request.out {
        Some(path) => {
            host.write_pieces(path, &mut |piece| {
                for text in next() {
                    piece.extend_from_slice(text.as_bytes());
                }
            })?;
        }
        None => loop {
            let text = next().concat();
            if text.is_empty() || print(&text).is_break() {
                break;
            }
        },
    }
    Ok(rules)
}

fn settings_fault(fault: &SettingsFault, rules: &RulesFile) -> Diagnostic {
    match fault {
        SettingsFault::Share(_) => Diagnostic::fault("fleet.share", fault.to_string()),
        SettingsFault::Until { from, .. } => Diagnostic::fault("fleet.until", fault.to_string())
            .help(format!("give a later day, such as --until {from}")),
        SettingsFault::NoBoat => Diagnostic::fault(
            "fleet.no_boat",
            format!(
                "no boat of {} {} can be made: {fault}",
                rules.class.text, rules.version
            ),
        )
        .help("rimegauge rules lint tells which rules contradict each other"),
    }
}
