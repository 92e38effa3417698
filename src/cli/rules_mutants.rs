//! `rules cases --mutants`: which changes of the rules no case notices.

use crate::app::{self, Exit, Host, Shelves};
use crate::prove::{self, mutants::Proof};
use crate::report::{Format, mutants_json, mutants_text, surviving};

use super::args::{Common, RulesCasesArgs};
use super::console::Console;

/// Cases that come out otherwise tell nothing of mutants: whoever calls this has run them.
pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesCasesArgs,
    console: &mut Console<'_>,
) -> Exit {
    let watched = host.terminal().error && matches!(console.format, Format::Human);
    let mut told = |done: usize, all: usize| {
        if watched {
            console.tell(&format!("\r{done} of {all} mutants"));
            if done == all {
                console.tell("\r\u{1b}[K");
            }
        }
    };
    let cases = args.cases.as_deref();
    let neutral = |old: &_, mutant: &_| Proof::by(prove::first_difference(old, mutant));
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::mutants(host, &shelves, &args.target, cases, &neutral, &mut told));
    let reports = match found {
        Ok(reports) => reports,
        Err(trouble) => return console.trouble(&trouble),
    };
    match console.format {
        Format::Json | Format::Junit => {
            let all = reports
                .iter()
                .map(|one| mutants_json(&one.rules, one.made, &one.tried, &one.left_out));
            let all: Vec<_> = all.collect();
            let json = serde_json::json!({ "format": "rimegauge-mutants/1", "versions": all });
            let _ = console.print(&format!("{json:#}\n"));
        }
        Format::Human | Format::Plain => {
            for one in &reports {
                let survivors = surviving(&one.rules, &one.tried);
                if !survivors.is_empty() {
                    console.report(&survivors);
                }
                let (made, width) = (one.made, console.width);
                let text = mutants_text(&one.rules, made, &one.tried, &one.left_out, width);
                let _ = console.print(&text);
            }
        }
    }
    let exits = reports.iter().map(app::MutantsReport::exit);
    exits.fold(Exit::Done, Exit::worst)
}
