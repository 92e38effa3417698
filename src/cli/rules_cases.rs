//! `rules cases`: what the cases of rules come to, and how much they cover.

use crate::app::{self, Exit, Host, Shelves};
use crate::report::{Format, cases_json, cases_text, generated_json, generated_text};

use super::args::{Common, RulesCasesArgs};
use super::console::Console;
use super::rules_mutants;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesCasesArgs,
    console: &mut Console<'_>,
) -> Exit {
    if let Some(out) = &args.generate {
        return generate(host, common, args, out, console);
    }
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
    // Where a case comes out otherwise already, that is what is told.
    if args.mutants && exit == Exit::Done {
        return rules_mutants::run(host, common, args, console);
    }
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

/// Makes cases from the rules and tells what the check says of them.
fn generate(
    host: &dyn Host,
    common: &Common,
    args: &RulesCasesArgs,
    out: &std::path::Path,
    console: &mut Console<'_>,
) -> Exit {
    let made = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::generate(host, &shelves, &args.target, out));
    let made = match made {
        Ok(made) => made,
        Err(trouble) => return console.trouble(&trouble),
    };
    let name = out.display().to_string();
    match console.format {
        Format::Json | Format::Junit => {
            let json = generated_json(
                &made.rules,
                &made.of_rules,
                &made.results,
                &made.covered,
                &made.faults,
                &name,
            );
            let _ = console.print(&format!("{json:#}\n"));
        }
        Format::Human | Format::Plain => {
            let mut wrong = made.faults.clone();
            wrong.extend(
                made.results
                    .iter()
                    .flat_map(|result| result.wrong.iter().cloned()),
            );
            if !wrong.is_empty() {
                console.report(&wrong);
            }
            let text = generated_text(
                &made.rules,
                &made.of_rules,
                &made.results,
                &made.covered,
                &name,
                console.width,
            );
            let _ = console.print(&text);
        }
    }
    made.exit()
}
