//! `certify`: the certificate of a boat, or why there is none.

use serde_json::json;

use crate::app::{self, Certified, CertifyRequest, Exit, Host, Paper, Refusal, Shelves};
use crate::diagnostic::safe_line;
use crate::report::{Format, Printer, flow, reference, wrap};
use crate::rules::Stage;

use super::args::{CertifyArgs, Common};
use super::console::Console;
use super::{rules, usage};

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &CertifyArgs,
    console: &mut Console<'_>,
) -> Exit {
    if console.format == Format::Junit {
        return rules::no_junit(console);
    }
    if args.out.as_os_str() == "-" {
        return console.trouble(&usage::wrong(
            "usage.out",
            "the certificate is written to a file",
            "name it: --out nightjar.pdf",
        ));
    }
    let request = CertifyRequest {
        record: args.record.clone(),
        out: args.out.clone(),
        items: args.items.clone(),
        rules: args.rules.clone(),
        on: args.on,
        level: args.level.clone(),
        overlay: args.overlay.clone(),
        issued: args.issued,
        number: args.number.clone(),
        replaces: args.replaces.clone(),
    };
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::certify(host, &shelves, &request));
    match found {
        Ok(Certified::Written(paper)) => {
            let mut text = String::new();
            if matches!(console.format, Format::Human | Format::Plain) {
                let mut options = console.options();
                options.all = args.all;
                let mut printer = Printer::new(options, Stage::Certification);
                text.push_str(&printer.record(options.piece(&paper.checked)));
                text.push_str(&printer.finish());
                text.push('\n');
            }
            text.push_str(&written(&paper, console));
            let _ = console.print(&text);
            Exit::Done
        }
        Ok(Certified::Refused(refusal)) => {
            refused(&refusal, args, console);
            refusal.exit
        }
        Err(trouble) => console.trouble(&trouble),
    }
}

fn written(paper: &Paper, console: &Console<'_>) -> String {
    let path = paper.path.display().to_string();
    let rules = reference(&paper.checked.rules);
    if console.format == Format::Json {
        let json = json!({
            "format": "rimegauge-certified/1",
            "file": path,
            "number": paper.number,
            "check_code": paper.check_code,
            "pages": paper.pages,
            "digest": paper.digest,
            "sail_number": paper.checked.record.sail_number,
            "rules": rules,
            "day": paper.checked.day.to_string(),
            "covered": paper.covered,
            "not_covered": paper.not_covered,
            "conforming": paper.conforming,
            "notes": paper.checked.notes().into_iter().chain(paper.notes.iter().cloned()).collect::<Vec<_>>(),
        });
        return format!("{json:#}\n");
    }
    let pages = if paper.pages == 1 {
        "1 page".to_owned()
    } else {
        format!("{} pages", paper.pages)
    };
    let boat = safe_line(&paper.checked.record.sail_number).into_owned();
    let head = [
        format!("{boat}: certificate {}", safe_line(&paper.number)),
        rules,
        format!("{} findings conform", paper.conforming),
    ];
    let mut lines = flow(&head, " · ", console.width);
    lines.extend(flow(
        &[safe_line(&path).into_owned(), pages, paper.digest.clone()],
        " · ",
        console.width,
    ));
    lines.extend(wrap(
        &format!("check code {}", paper.check_code),
        console.width,
    ));
    lines.extend(wrap(
        &format!("covered: {}", paper.covered.join(", ")),
        console.width,
    ));
    if !paper.not_covered.is_empty() {
        lines.extend(wrap(
            &format!("not covered: {}", paper.not_covered.join(", ")),
            console.width,
        ));
    }
    for note in paper.checked.notes().iter().chain(&paper.notes) {
        lines.extend(wrap(note, console.width));
    }
    lines.extend(wrap(
        "It is signed by a person. Compliance is not safety.",
        console.width,
    ));
    lines.iter().map(|line| format!("{line}\n")).collect()
}

fn refused(refusal: &Refusal, args: &CertifyArgs, console: &mut Console<'_>) {
    let options = console.options();
    let mut printer = Printer::new(options, Stage::Certification);
    let mut text = printer.record(options.piece(&refusal.checked));
    text.push_str(&printer.finish());
    let _ = console.print(&text);
    let mut said = String::new();
    if !refusal.nothing_asked.is_empty() {
        said.push_str(&format!(
            "At certification nothing is asked of {}. ",
            refusal.nothing_asked.join(", ")
        ));
    }
    said.push_str(&format!(
        "No certificate was written to {}: ",
        args.out.display()
    ));
    said.push_str(
        "every rule that is checked at certification has to conform for the chosen items.",
    );
    let lines: Vec<String> = wrap(&safe_line(&said), console.width)
        .iter()
        .map(|line| format!("{line}\n"))
        .collect();
    match console.format {
        Format::Human | Format::Plain => {
            let _ = console.print(&format!("\n{}", lines.concat()));
        }
        Format::Json | Format::Junit => console.tell(&lines.concat()),
    }
}
