//! `rules cases`: what the cases of rules come to, and how much they cover.

use crate::app::{self, Exit, Host, Shelves};
use crate::report::{Format, cases_json, cases_text};

use super::args::{Common, RulesCasesArgs};
use super::console::Console;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesCasesArgs,
    console: &mut Console<'_>,
) -> Exit {
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::cases(host, &shelves, &args.target, args.cases.as_deref()));
    let reports = match found {
        Ok(reports) => reports,
        Err(trouble) => return console.trouble(&trouble),
    };
    let exit = reports
        .iter()
        .map(app::CasesReport::exit)
        .fold(Exit::Done, Exit::worst);
    match console.format {
        Format::Json | Format::Junit => {
            let all: Vec<_> = reports
                .iter()
                .map(|one| cases_json(&one.rules, &one.results, &one.covered, &one.faults))
                .collect();
            let json = serde_json::json!({ "format": "rimegauge-cases-report/1", "versions": all });
            let _ = console.print(&format!("{json:#}\n"));
        }
        Format::Human | Format::Plain => {
            for one in &reports {
                let mut wrong = one.faults.clone();
                wrong.extend(
                    one.results
                        .iter()
                        .flat_map(|result| result.wrong.iter().cloned()),
                );
                if !wrong.is_empty() {
                    console.report(&wrong);
                }
                let text = cases_text(
                    &one.rules,
                    &one.results,
                    &one.covered,
                    &one.faults,
                    console.width,
                );
                let _ = console.print(&text);
            }
        }
    }
    exit
}
