//! Certifying: a check for certification, a choice of items, and a paper if everything asked of them
//! conforms.

use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use crate::check::{Finding, ItemRef, Outcome, verdict_of};
use crate::diagnostic::Diagnostic;
use crate::paper;
use crate::record::Found as Measured;
use crate::report::{Checked, Labels};
use crate::rules::{Stage, Status, digest};
use crate::text::quoted;

use super::apart::outputs_apart;
use super::certificate::{Given, certificate};
use super::certificate_lists::drawn_on;
use super::check::{CheckRequest, Found, check};
use super::ending::Named;
use super::exit::{Exit, Trouble};
use super::host::Host;
use super::items::chosen;
use super::library::Shelves;

/// What is to be certified.
#[derive(Clone, Debug)]
pub struct CertifyRequest {
    /// The record of one boat.
    pub record: PathBuf,
    /// Where the certificate is written.
    pub out: PathBuf,
    /// The items; none named means all.
    pub items: Vec<String>,
    /// A reference or a path to rules.
    pub rules: Option<String>,
    /// The day of the check.
    pub on: Option<Date>,
    /// The level of an event.
    pub level: Option<String>,
    /// What an event changes of the rules.
    pub overlay: Option<PathBuf>,
    /// The day of issue.
    pub issued: Option<Date>,
    /// The number of the certificate; without one it is made from record, rules and items.
    pub number: Option<String>,
    /// The certificate that this one replaces.
    pub replaces: Option<String>,
}

/// What came of it.
#[derive(Clone, Debug)]
pub enum Certified {
    /// A certificate was written.
    Written(Box<Paper>),
    /// Something asked of the chosen items does not conform or is not decided: nothing was written.
    Refused(Box<Refusal>),
}

/// A certificate that was written.
#[derive(Clone, Debug)]
pub struct Paper {
    /// What was checked.
    pub checked: Checked,
    /// Where it was written.
    pub path: PathBuf,
    /// Its number.
    pub number: String,
    /// Its check code.
    pub check_code: String,
    /// Its pages.
    pub pages: usize,
    /// `sha256:` and the digest of the file.
    pub digest: String,
    /// The items it covers, by their short names.
    pub covered: Vec<String>,
    /// Items that it does not cover.
    pub not_covered: Vec<String>,
    /// Whether a rule that is checked at certification was asked of the covered items, how often.
    pub conforming: usize,
    /// What the person who prints it should know.
    pub notes: Vec<String>,
}

/// Why no certificate was written.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// The record, with the findings on the chosen items alone.
    pub checked: Checked,
    /// Chosen items of which nothing is asked at certification.
    pub nothing_asked: Vec<String>,
    /// [`Exit::DoesNotConform`] or [`Exit::NotDecided`].
    pub exit: Exit,
}

/// Checks a record for certification, and writes the certificate of the chosen items if all that is asked
/// of them conforms.
///
/// # Errors
/// A record or rules that can't be used, an item that is not there, a file that can't be written.
pub fn certify(
    host: &dyn Host,
    shelves: &Shelves,
    request: &CertifyRequest,
) -> Result<Certified, Trouble> {
    sound(request)?;
    let rules = request.rules.iter().map(Path::new);
    let mut read: Vec<&Path> = rules.chain([request.record.as_path()]).collect();
    read.extend(
        shelves
            .folders()
            .iter()
            .chain(&request.overlay)
            .map(PathBuf::as_path),
    );
    let help = "name another file: --out nightjar.pdf";
    outputs_apart(host, [request.out.as_path()], &read, help)?;
    let mut checked = one_record(host, shelves, request)?;
    adopted(&checked)?;
    days_in_order(&checked, request)?;
    let labels = Labels::of(&checked.record, &checked.rules);
    let mut covered = with_members(&checked, chosen(&labels, &request.items)?);
    let all_chosen = request.items.is_empty();
    let asked = |findings: &[Finding], item: usize| {
        findings.iter().any(|finding| {
            finding.item == ItemRef::Item(item) && finding.outcome != Outcome::NotApplicable
        })
    };
    // What is only looked at through another item, such as correctors by their sum, goes with that one.
    let through = |covered: &BTreeSet<usize>, item: usize| {
        let mut findings = checked.verdict.findings.iter();
        findings.any(|finding| {
            matches!(finding.item, ItemRef::Item(of) if of != item && covered.contains(&of))
                && finding.outcome != Outcome::NotApplicable
                && drawn_on(&checked.record.items, finding, item)
        })
    };
    let along: Vec<usize> = (0..checked.record.items.len())
        .filter(|item| !asked(&checked.verdict.findings, *item) && through(&covered, *item))
        .collect();
    covered.extend(&along);
    let silent: Vec<usize> = covered
        .iter()
        .copied()
        .filter(|item| !asked(&checked.verdict.findings, *item) && !along.contains(item))
        .collect();
    let names = |items: &mut dyn Iterator<Item = usize>| -> Vec<String> {
        items
            .map(|item| labels.short(ItemRef::Item(item)).to_owned())
            .collect()
    };
    // Of all items, those of which nothing is asked are not covered; one that was named is refused.
    if all_chosen {
        for item in &silent {
            covered.remove(item);
        }
    }
    let about = |finding: &Finding| match finding.item {
        ItemRef::Item(item) => covered.contains(&item),
        // A part that is missing is missing on the boat.
        ItemRef::Holding(_) => covered.contains(&0),
    };
    let findings: Vec<Finding> = checked
        .verdict
        .findings
        .iter()
        .filter(|finding| about(finding))
        .cloned()
        .collect();
    let verdict = verdict_of(findings.clone());
    let nothing_asked = if all_chosen {
        Vec::new()
    } else {
        names(&mut silent.iter().copied())
    };
    if verdict.outcome != Outcome::Conforms || !nothing_asked.is_empty() {
        let exit = Exit::of(verdict.outcome).worst(if nothing_asked.is_empty() {
            Exit::Done
        } else {
            Exit::NotDecided
        });
        checked.verdict = verdict;
        return Ok(Certified::Refused(Box::new(Refusal {
            checked,
            nothing_asked,
            exit,
        })));
    }
    let conforming = findings
        .iter()
        .filter(|finding| finding.outcome == Outcome::Conforms)
        .count();
    let number = request
        .number
        .clone()
        .unwrap_or_else(|| number(&checked, &labels, &covered));
    let given = Given {
        number: &number,
        issued: request.issued,
        replaces: request.replaces.as_deref(),
    };
    let model = certificate(&checked, &labels, &covered, &given);
    let printed = paper::print(&model).map_err(|problem| {
        let exit = match problem {
            paper::PaperProblem::Day { .. } | paper::PaperProblem::TooTall { .. } => Exit::BadInput,
            paper::PaperProblem::Font { .. } | paper::PaperProblem::File { .. } => Exit::CouldNot,
        };
        let diagnostic = Diagnostic::fault(
            "paper.certificate",
            format!("no certificate was written: {problem}"),
        );
        Trouble {
            exit,
            diagnostics: vec![diagnostic],
        }
    })?;
    host.write(&request.out, &printed.pdf)?;
    // What is told of the paper is what stands on it.
    checked.verdict = verdict;
    let left: Vec<usize> = (0..checked.record.items.len())
        .filter(|item| !covered.contains(item))
        .collect();
    Ok(Certified::Written(Box::new(Paper {
        path: request.out.clone(),
        number,
        check_code: paper::check_code(&model),
        pages: printed.pages,
        digest: digest(&printed.pdf),
        covered: names(&mut covered.iter().copied()),
        not_covered: names(&mut left.into_iter()),
        conforming,
        notes: printed.notes,
        checked,
    })))
}

/// A group is nothing but its parts: whoever names it names them too. Parts that are named without their group
/// are certified by themselves, and nothing is said of the group.
fn with_members(checked: &Checked, mut covered: BTreeSet<usize>) -> BTreeSet<usize> {
    let items = covered
        .iter()
        .filter_map(|at| checked.record.items.get(*at));
    let members = items.flat_map(|item| &item.members);
    let members = members.flat_map(|members| members.roles.iter().flatten());
    let members: Vec<usize> = members.map(|member| member.item).collect();
    covered.extend(members);
    covered
}

/// The one record of a request, checked for certification.
fn one_record(
    host: &dyn Host,
    shelves: &Shelves,
    request: &CertifyRequest,
) -> Result<Checked, Trouble> {
    let check_request = CheckRequest {
        budgets: None,
        records: vec![request.record.clone()],
        rules: request.rules.clone(),
        purpose: Stage::Certification,
        on: request.on,
        level: request.level.clone(),
        overlay: request.overlay.clone(),
        brief: false,
    };
    let mut records = Vec::new();
    let mut trouble: Option<Trouble> = None;
    check(
        host,
        shelves,
        &check_request,
        &Checked::clone,
        &mut |found| {
            match found {
                Found::Checked { piece, .. } => records.push(piece),
                Found::Refused(found) | Found::Fault(found) => {
                    trouble = Some(super::library::joined(trouble.take(), found))
                }
                Found::Notice(_) => {}
            }
            if records.len() > 1 {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        },
    );
    if let Some(trouble) = trouble {
        return Err(trouble);
    }
    let several = records.len() > 1;
    match records.pop() {
        Some(checked) if !several => Ok(checked),
        Some(_) | None => {
            let message = format!(
                "there is more than one record in {}",
                request.record.display()
            );
            let help = "a certificate is for one boat: name its own file";
            Err(Trouble::one(
                Diagnostic::fault("usage.one_record", message).help(help),
            ))
        }
    }
}

/// A certificate, which may go anywhere but over what is read.
const PAPER: Named = Named {
    code: "usage.out",
    what: "a certificate",
    endings: &["pdf"],
    refused: &["yaml", "yml", "json", "jsonl"],
    example: "--out nightjar.pdf",
};

/// What is asked for has its words: a script whose variable is empty certifies nothing by accident, and the
/// paper does not take the place of a record.
fn sound(request: &CertifyRequest) -> Result<(), Trouble> {
    let mut wrong = Vec::new();
    let mut fault = |message: String, help: &str| {
        wrong.push(Diagnostic::fault("usage.empty", message).help(help));
    };
    if request.items.iter().any(|name| name.trim().is_empty()) {
        fault(
            "an item without a name stands in --items".to_owned(),
            "name the items, parted by commas: --items S1,S2,hull; without --items all are certified",
        );
    }
    let numbers = [
        ("--number", &request.number),
        ("--replaces", &request.replaces),
    ];
    for (option, number) in numbers {
        let Some(number) = number else { continue };
        if number.trim().is_empty() || number.chars().any(char::is_control) {
            fault(
                format!("{option} has no number that can be printed on one line"),
                "write it as it is to stand on the paper: HW-0117",
            );
        }
    }
    wrong.extend(PAPER.fault(&request.out));
    if wrong.is_empty() {
        Ok(())
    } else {
        Err(Trouble::input(wrong))
    }
}

/// Rules that were never adopted are nothing to certify by.
fn adopted(checked: &Checked) -> Result<(), Trouble> {
    let rules = &checked.rules;
    let what = match rules.status {
        Status::Draft => "a draft",
        Status::Proposed => "a proposal",
        // What conformed to rules that were repealed later can be said on paper, and the paper says so.
        Status::Adopted | Status::Repealed => return Ok(()),
    };
    let version = format!("{} {}", rules.title, rules.version);
    let message = format!("no certificate is written under {what}: {version} is not adopted");
    Err(Trouble::one(
        Diagnostic::fault("usage.not_adopted", message)
            .label(&rules.source, rules.version_span, "this version")
            .help("`check --purpose certification` tells what would conform; certify under an adopted version"),
    ))
}

/// Nothing is certified or issued before it was measured.
fn days_in_order(checked: &Checked, request: &CertifyRequest) -> Result<(), Trouble> {
    let Some(measured) = checked.record.measured.day else {
        return Ok(());
    };
    let days = [
        ("check", "--on", request.on),
        ("issue", "--issued", request.issued),
    ];
    let mut wrong: Vec<Diagnostic> = days
        .into_iter()
        .filter_map(|(what, option, day)| Some((what, option, day.filter(|day| *day < measured)?)))
        .map(|(what, option, day)| {
            Diagnostic::fault(
                "usage.day_order",
                format!("the day of {what}, {day}, lies before the day of measurement, {measured}"),
            )
            .help(format!("{option} takes {measured} or a later day"))
        })
        .collect();
    let last = request.issued.unwrap_or(checked.day).max(checked.day);
    wrong.extend(taken_after(checked, last));
    if wrong.is_empty() {
        Ok(())
    } else {
        Err(Trouble::input(wrong))
    }
}

/// Readings and answers of a later day than the one on which all is said to have conformed.
fn taken_after(checked: &Checked, last: Date) -> Vec<Diagnostic> {
    let record = &checked.record;
    let measured = record.items.iter().flat_map(|item| &item.measures);
    let found = measured
        .flatten()
        .flat_map(|measured| match &measured.found {
            Measured::Series(list) => list
                .iter()
                .filter_map(|series| Some((series.span, series.taken?.date)))
                .collect::<Vec<_>>(),
            Measured::First(first) => first
                .day
                .map(|day| (measured.span, day))
                .into_iter()
                .collect(),
            Measured::Answer(answer) => answer
                .day
                .map(|day| (measured.span, day))
                .into_iter()
                .collect(),
        });
    found
        .filter(|(_, day)| *day > last)
        .map(|(span, day)| {
            let message =
                format!("this was read on {day}, after {last}, the day of the certificate");
            Diagnostic::fault("record.day_order", message)
                .label(&record.source, span, "read later")
                .help(format!(
                    "mend the day, or certify on that day or later: --on {day}"
                ))
        })
        .collect()
}

/// `C-` and the first ten signs of a digest: the same record, rules, day and items give the same number.
fn number(checked: &Checked, labels: &Labels, covered: &BTreeSet<usize>) -> String {
    let items: Vec<&str> = covered
        .iter()
        .map(|item| labels.whole(ItemRef::Item(*item)))
        .collect();
    let overlay = checked.rules.overlay.as_deref();
    let overlay = overlay.map_or(String::new(), |overlay| format!("\n{}", overlay.digest));
    let text = format!(
        "{}\n{}{overlay}\n{}\n{}",
        checked.digest(),
        checked.rules.digest,
        checked.day,
        items
            .iter()
            .map(|item| quoted(item))
            .collect::<Vec<_>>()
            .join("\n")
    );
    let digest = digest(text.as_bytes());
    let signs = digest.trim_start_matches("sha256:").get(..10).unwrap_or("");
    format!("C-{}", signs.to_uppercase())
}
