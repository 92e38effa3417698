//! `rules show`: the rules of a version in the order of their clauses, or as a page in a file.

use std::path::Path;

use serde_json::json;

use crate::app::{self, Exit, Host, RulesPage, Shelves};
use crate::diagnostic::safe_line;
use crate::report::{Format, flow, reference, show, show_json, show_plain, wrap};

use super::args::{Common, RulesShowArgs};
use super::console::Console;
use super::usage;

pub(super) fn run(
    host: &dyn Host,
    common: &Common,
    args: &RulesShowArgs,
    console: &mut Console<'_>,
) -> Exit {
    if let Some(out) = &args.out {
        return page(host, common, args, out, console);
    }
    let found = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::show(host, &shelves, &args.reference, args.on, &args.rule));
    let rules = match found {
        Ok(rules) => rules,
        Err(trouble) => return console.trouble(&trouble),
    };
    let text = match console.format {
        Format::Human => show(&rules, &args.rule, console.width),
        Format::Plain => show_plain(&rules, &args.rule),
        Format::Json | Format::Junit => format!("{:#}\n", show_json(&rules, &args.rule)),
    };
    let _ = console.print(&text);
    Exit::Done
}

fn page(
    host: &dyn Host,
    common: &Common,
    args: &RulesShowArgs,
    out: &Path,
    console: &mut Console<'_>,
) -> Exit {
    if out.as_os_str() == "-" {
        return console.trouble(&usage::wrong(
            "usage.out",
            "the page is written to a file",
            "name it: --out rules.html",
        ));
    }
    if !args.rule.is_empty() {
        return console.trouble(&usage::wrong(
            "usage.out",
            "a page holds the whole version, and --rule picks rules out of it",
            "leave --rule out, or --out",
        ));
    }
    let written = Shelves::open(host, &common.rules_dir)
        .and_then(|shelves| app::write_rules_page(host, &shelves, &args.reference, args.on, out));
    match written {
        Ok(page) => {
            let text = told(&page, console);
            let _ = console.print(&text);
            Exit::Done
        }
        Err(trouble) => console.trouble(&trouble),
    }
}

fn told(page: &RulesPage, console: &Console<'_>) -> String {
    let path = page.path.display().to_string();
    let rules = reference(&page.rules);
    let count = page.rules.rules.len() + page.rules.marks.len();
    let compared = page.compared_with.as_ref();
    if console.format == Format::Json {
        let json = json!({
            "format": "rimegauge-rules-page/1",
            "file": path,
            "digest": page.digest,
            "rules": { "class": page.rules.class.text, "version": page.rules.version.to_string(), "digest": page.rules.digest, "count": count },
            "compared_with": compared.map(ToString::to_string),
            "notes": page.notes,
        });
        return format!("{json:#}\n");
    }
    let mut head = vec![rules, format!("{count} rules as a page")];
    head.extend(compared.map(|version| format!("compared with {version}")));
    let mut lines = flow(&head, " · ", console.width);
    lines.extend(flow(
        &[safe_line(&path).into_owned(), page.digest.clone()],
        " · ",
        console.width,
    ));
    for note in &page.notes {
        lines.extend(wrap(&safe_line(note), console.width));
    }
    lines.iter().map(|line| format!("{line}\n")).collect()
}
