//! `check`: records against the rules of their class.

use std::ops::ControlFlow;

use crate::app::{self, CheckRequest, Exit, Found, Host, Shelves};
use crate::report::{Format, Printer};

use super::args::{CheckArgs, Common};
use super::console::Console;
use super::usage;

pub(super) fn run(host: &dyn Host, common: &Common, args: &CheckArgs, console: &mut Console<'_>) -> Exit {
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
    let request = CheckRequest {
        records: args.records.clone(),
        rules: args.rules.clone(),
        purpose: args.purpose.stage(),
        on: args.on,
        level: args.level.clone(),
    };
    let mut options = console.options();
    options.all = args.all;
    options.details = args.details;
    options.many = request.may_be_many(host);
    let mut printer = Printer::new(options, request.purpose);
    // Messages of a report for programs go into it, and are said beside it once it has begun.
    let mut begun = false;
    let mut held = Vec::new();
    let exit = app::check(host, &shelves, &request, &|checked| options.piece(checked), &mut |found| match found {
        Found::Checked { piece, .. } => {
            begun = true;
            let text = printer.record(piece);
            console.print(&text)
        }
        Found::Refused(trouble) => {
            printer.refused(&trouble.diagnostics);
            match options.format {
                Format::Human | Format::Plain => console.beside(&trouble.diagnostics),
                Format::Json | Format::Junit if begun => console.beside(&trouble.diagnostics),
                Format::Json | Format::Junit => held.push(trouble.diagnostics),
            }
            ControlFlow::Continue(())
        }
        Found::Notice(notice) => {
            console.beside(&[notice]);
            ControlFlow::Continue(())
        }
    });
    if begun {
        for diagnostics in held {
            console.beside(&diagnostics);
        }
    }
    let _ = console.print(&printer.finish());
    exit
}
