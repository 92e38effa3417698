//! `check`: records against the rules of their class.

use std::ops::ControlFlow;

use crate::app::{self, CheckRequest, Exit, Found, Host, Shelves};
use crate::report::{Format, Printer};

use super::args::{CheckArgs, Common};
use super::console::Console;
use super::usage;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &CheckArgs,
    console: &mut Console<'_>,
) -> Exit {
    if args.records.is_empty() {
        return console.trouble(&usage::wrong(
            "usage.no_record",
            "check needs a record",
            "name a file, a folder, or - for standard input: rimegauge check nightjar.yaml",
        ));
    }
    let shelves = match Shelves::open(host, &common.rules_dir) {
        Ok(shelves) => shelves,
        Err(trouble) => return console.trouble(&trouble),
    };
    let mut request = CheckRequest {
        records: args.records.clone(),
        rules: args.rules.clone(),
        purpose: args.purpose.stage(),
        on: args.on,
        level: args.level.clone(),
        overlay: args.overlay.clone(),
        brief: false,
        budgets: args.budget.clone(),
    };
    let mut options = console.options();
    options.all = args.all;
    options.details = args.details;
    options.many = request.may_be_many(host);
    // What is asked for by name is shown whatever the outcome.
    let named = request
        .budgets
        .as_ref()
        .is_some_and(|names| !names.is_empty());
    request.brief = options.many && options.leaves_out_what_conforms() && !named;
    let mut printer = Printer::new(options, request.purpose);
    // Messages of a report for programs go into it, and are said beside it once it has begun.
    let mut begun = false;
    let mut held = Vec::new();
    let exit = app::check(
        host,
        &shelves,
        &request,
        &|checked| options.piece(checked),
        &mut |found| {
            let (trouble, lost) = match found {
                Found::Checked { piece, .. } => {
                    begun = true;
                    let text = printer.record(piece);
                    return console.print(&text);
                }
                Found::Notice(notice) => {
                    console.beside(&[notice]);
                    return ControlFlow::Continue(());
                }
                Found::Refused(trouble) => (trouble, true),
                Found::Fault(trouble) => (trouble, false),
            };
            printer.refused(&trouble.diagnostics, lost);
            match options.format {
                Format::Json | Format::Junit if !begun => held.push(trouble.diagnostics),
                Format::Human | Format::Plain | Format::Json | Format::Junit => {
                    console.beside(&trouble.diagnostics)
                }
            }
            ControlFlow::Continue(())
        },
    );
    if begun {
        for diagnostics in held {
            console.beside(&diagnostics);
        }
    }
    let _ = console.print(&printer.finish());
    exit
}
