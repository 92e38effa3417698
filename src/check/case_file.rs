//! A file of rule cases: fragments of records with the outcomes that they must have.

use std::sync::Arc;

use super::finding::{Outcome, Reason};
use crate::diagnostic::{Diagnostic, Faults, Fields};
use crate::quantity::Date;
use crate::rules::{self, Stage};
use crate::text::{Entry, Node, Source, Span, quoted};
use crate::vocabulary::read;

/// The format line of this major version.
pub const FORMAT: &str = "rimegauge-cases/1";

/// How many patterns of rules there are; `tests/data/patterns.yaml` says what each is.
pub const PATTERNS: u8 = 40;

/// One case of a file.
#[derive(Clone, Debug)]
pub struct Case<'n, 's> {
    /// What it shows.
    pub title: String,
    /// Where the title stands.
    pub span: Span,
    /// The versions that it is about.
    pub versions: semver::VersionReq,
    /// The stage.
    pub purpose: Stage,
    /// The day; without one, the day the version comes into force.
    pub on: Option<Date>,
    /// The event's level.
    pub level: Option<(String, Span)>,
    /// The fragment of a record.
    pub given: &'n Node<'s>,
    /// What must come out, by rule id.
    pub expect: Vec<Expected>,
    /// Numbers of the patterns of rules that it is an example of, as they were written.
    pub patterns: Vec<u8>,
}

/// What a case expects of a rule.
#[derive(Clone, Debug)]
pub struct Expected {
    /// The rule's id.
    pub rule: String,
    /// Where it stands.
    pub span: Span,
    /// The worst outcome over the findings of the rule; nothing where it must not be asked at all.
    pub outcome: Option<Outcome>,
    /// The reason of a finding with that outcome.
    pub reason: Option<Reason>,
}

/// The word for an expected outcome where a rule must not be asked of what is given: at a stage, for example, at which
/// it is not checked.
pub const NOT_ASKED: &str = "not_asked";

/// A file of cases.
#[derive(Clone, Debug)]
pub struct CaseFile<'n, 's> {
    /// The class that they are about.
    pub class: String,
    /// The cases in the order of the file.
    pub cases: Vec<Case<'n, 's>>,
}

/// Reads a file of cases.
///
/// # Errors
/// Every fault of its shape. What stands under `given` is read later, against the vocabulary of a version.
pub fn load<'n, 's>(
    source: &Arc<Source>,
    node: &'n Node<'s>,
) -> Result<CaseFile<'n, 's>, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let file = case_file(node, &mut faults);
    faults.into_result(file)
}

fn case_file<'n, 's>(node: &'n Node<'s>, faults: &mut Faults) -> Option<CaseFile<'n, 's>> {
    let mut fields = Fields::of(node, "a file of cases", None, faults)?;
    rules::format_line(&mut fields, FORMAT, faults)?;
    let class = rules::class(&mut fields, faults).map(|class| class.text);
    let list = fields.require("cases", faults);
    fields.finish(faults);
    let list = list?;
    let Some(items) = list.node.as_sequence() else {
        faults.fault(
            "file.shape",
            list.key_span,
            "cases is a list",
            "not a list",
            "each case begins with `- title: …`",
        );
        return None;
    };
    let cases = items.iter().filter_map(|node| case(node, faults)).collect();
    Some(CaseFile {
        class: class?,
        cases,
    })
}

fn case<'n, 's>(node: &'n Node<'s>, faults: &mut Faults) -> Option<Case<'n, 's>> {
    let mut fields = Fields::of(node, "a case", None, faults)?;
    let title = fields.require_text("title", faults);
    let versions = fields.take_text("versions", faults);
    let purpose = fields.take_text("purpose", faults);
    let on = fields
        .take("on", faults)
        .map(|entry| read::day(&entry.node, Some(entry.key_span), "on", faults));
    let level = fields.take_text("level", faults);
    if let Some((text, node)) = level {
        id_form(text, node.span, "an event level", faults);
    }
    let given = fields.require("given", faults).filter(|entry| {
        let span = Some(entry.key_span);
        Fields::of(&entry.node, "a part of a record", span, faults).is_some()
    });
    let expect = fields.require("expect", faults);
    let patterns = fields.take("patterns", faults);
    fields.finish(faults);
    let versions = match versions {
        None => Some(semver::VersionReq::STAR),
        Some((text, node)) => match semver::VersionReq::parse(text) {
            Ok(found) => Some(found),
            Err(_) => {
                faults.fault(
                    "case.versions",
                    node.span,
                    format!("{} is not a requirement on versions", quoted(text)),
                    "",
                    "write \">=3.0.0\", \"^2\" or leave it out",
                );
                None
            }
        },
    };
    let purpose = match purpose {
        None => Some(Stage::Certification),
        Some((text, node)) => {
            let words = Stage::ALL.into_iter().map(|stage| (stage.word(), stage));
            read::one_of(text, node.span, "a purpose", words, faults)
        }
    };
    let expect = expect
        .map(|entry| expected(entry, faults))
        .unwrap_or_default();
    let patterns = patterns
        .map(|entry| patterns_of(entry, faults))
        .unwrap_or_default();
    let (title, title_node) = title?;
    Some(Case {
        title: title.to_owned(),
        span: title_node.span,
        versions: versions?,
        purpose: purpose?,
        on: match on {
            None => None,
            Some(day) => Some(day?),
        },
        level: level.map(|(text, node)| (text.to_owned(), node.span)),
        given: &given?.node,
        expect,
        patterns,
    })
}

/// The numbers of the patterns that a case is an example of.
fn patterns_of(entry: &Entry<'_>, faults: &mut Faults) -> Vec<u8> {
    let form = format!("numbers from 1 to {PATTERNS}: patterns: [1, 17]");
    let Some(items) = entry.node.as_sequence().filter(|items| !items.is_empty()) else {
        let message = match entry.node.as_sequence() {
            Some(_) => "`patterns` lists no pattern".to_owned(),
            None => format!(
                "patterns is a list; here stands {}",
                entry.node.kind_in_words()
            ),
        };
        let span = entry.node.label_span(Some(entry.key_span));
        faults.fault(
            "case.patterns",
            span,
            message,
            "not a list of patterns",
            form,
        );
        return Vec::new();
    };
    let mut found: Vec<u8> = Vec::new();
    for node in items {
        let text = node.as_text().unwrap_or_default();
        let span = node.label_span(Some(entry.key_span));
        let number = text.parse::<u8>().ok().filter(|_| !text.starts_with('+'));
        match number.filter(|number| (1..=PATTERNS).contains(number)) {
            None => {
                let message = match node.as_text() {
                    Some(text) => format!("there is no pattern {}", quoted(text)),
                    None => format!(
                        "a pattern is a number; here stands {}",
                        node.kind_in_words()
                    ),
                };
                faults.fault(
                    "case.patterns",
                    span,
                    message,
                    "not a pattern",
                    form.as_str(),
                );
            }
            Some(number) if found.contains(&number) => {
                let message = format!("pattern {number} is listed twice");
                faults.fault("case.patterns", span, message, "again here", "name it once");
            }
            Some(number) => found.push(number),
        }
    }
    found
}

/// Which names there are is known by a version only; their form is known here.
fn id_form(text: &str, span: Span, what: &str, faults: &mut Faults) {
    if !read::is_name(text) {
        let help = "a name has small letters, digits and _, and begins with a letter";
        let message = format!("{} is not {what}", quoted(text));
        faults.fault("name.form", span, message, "not a name", help);
    }
}

fn expected(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Expected> {
    let entries = entry.node.as_mapping().unwrap_or(&[]);
    if entries.is_empty() {
        faults.fault(
            "case.expect",
            entry.key_span,
            "a case expects an outcome of a rule at least",
            "nothing expected",
            "expect: { steel_thickness: conforms }",
        );
    }
    let outcomes = || {
        Outcome::ALL
            .into_iter()
            .map(|outcome| (outcome.word(), Some(outcome)))
            .chain([(NOT_ASKED, None)])
    };
    let mut found = Vec::new();
    for entry in entries {
        id_form(&entry.key, entry.key_span, "the id of a rule", faults);
        if let Some(text) = entry.node.as_text() {
            if let Some(outcome) =
                read::one_of(text, entry.node.span, "an outcome", outcomes(), faults)
            {
                found.push(Expected {
                    rule: entry.key.to_string(),
                    span: entry.key_span,
                    outcome,
                    reason: None,
                });
            }
            continue;
        }
        let Some(mut fields) = Fields::of(
            &entry.node,
            "an expected outcome",
            Some(entry.key_span),
            faults,
        ) else {
            continue;
        };
        let outcome = fields
            .require_text("outcome", faults)
            .and_then(|(text, node)| {
                read::one_of(text, node.span, "an outcome", outcomes(), faults)
            });
        let reason = fields.take_text("reason", faults).and_then(|(text, node)| {
            if outcome == Some(None) {
                let message = "a rule that is not asked has no reason".to_owned();
                let help = format!("write `{}: {NOT_ASKED}`", entry.key);
                faults.fault("case.expect", node.span, message, "no reason here", help);
            }
            let reasons = Reason::ALL.iter().map(|reason| (reason.word(), *reason));
            read::one_of(text, node.span, "a reason", reasons, faults)
        });
        fields.finish(faults);
        if let Some(outcome) = outcome {
            found.push(Expected {
                rule: entry.key.to_string(),
                span: entry.key_span,
                outcome,
                reason,
            });
        }
    }
    found
}
