//! Rule cases: a fragment of a record and the outcomes it must have. Adding a file adds cases.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::finding::{Finding, Outcome, Reason, RuleRef};
use super::plan::{Context, Plan};
use crate::diagnostic::{Diagnostic, Faults, Fields, near_misses};
use crate::quantity::Date;
use crate::record;
use crate::rules::{self, Demand, LimitRow, Limits, Rule, RulesFile, Stage};
use crate::text::{Entry, Node, Source, Span, quoted};
use crate::vocabulary::{Name, read};

/// The format line of this major version.
pub const FORMAT: &str = "rimegauge-cases/1";

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
}

/// What a case expects of a rule.
#[derive(Clone, Debug)]
pub struct Expected {
    /// The rule's id.
    pub rule: String,
    /// Where it stands.
    pub span: Span,
    /// The worst outcome over the findings of the rule.
    pub outcome: Outcome,
    /// The reason of a finding with that outcome.
    pub reason: Option<Reason>,
}

/// A file of cases.
#[derive(Clone, Debug)]
pub struct CaseFile<'n, 's> {
    /// The class that they are about.
    pub class: String,
    /// The cases in the order of the file.
    pub cases: Vec<Case<'n, 's>>,
}

/// What became of one case under one version.
#[derive(Clone, Debug)]
pub struct CaseResult {
    /// The case's title.
    pub title: String,
    /// The file of the case.
    pub file: String,
    /// The version it ran under.
    pub version: semver::Version,
    /// What came out otherwise than expected; empty when all is as expected.
    pub wrong: Vec<Diagnostic>,
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
    })
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
            .map(|outcome| (outcome.word(), outcome))
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

/// Runs the cases of a file under one version, skipping those that are about others.
///
/// # Errors
/// Faults of what is given, and rules that the version does not have.
pub fn run(
    source: &Arc<Source>,
    file: &CaseFile<'_, '_>,
    plan: &Plan,
    coverage: &mut Coverage,
) -> Result<Vec<CaseResult>, Vec<Diagnostic>> {
    let rules = plan.rules();
    let mut results = Vec::new();
    let mut faults = Vec::new();
    for case in &file.cases {
        if !case.versions.matches(&rules.version) {
            continue;
        }
        match run_one(source, case, plan, coverage) {
            Ok(result) => results.push(result),
            Err(found) => faults.extend(found),
        }
    }
    if faults.is_empty() {
        Ok(results)
    } else {
        Err(faults)
    }
}

fn run_one(
    source: &Arc<Source>,
    case: &Case<'_, '_>,
    plan: &Plan,
    coverage: &mut Coverage,
) -> Result<CaseResult, Vec<Diagnostic>> {
    let rules = plan.rules();
    let mut faults = Faults::new(source);
    let ids = || {
        let own = rules.rules.iter().map(|rule| rule.id.text.as_str());
        own.chain(rules.marks.iter().map(|mark| mark.id.text.as_str()))
            .chain(["equipment", "silence"])
    };
    for expected in &case.expect {
        if !ids().any(|id| id == expected.rule) {
            let help = near_misses(&expected.rule, ids())
                .map(|near| format!("did you mean {}?", quoted(near)));
            faults.fault(
                "name.unknown",
                expected.span,
                format!(
                    "{} {} has no rule {}",
                    rules.class.text,
                    rules.version,
                    quoted(&expected.rule)
                ),
                "not a rule of this version",
                help.unwrap_or_else(|| {
                    "say with `versions` which versions the case is about".to_owned()
                }),
            );
        }
    }
    let level = match &case.level {
        None => None,
        Some((word, span)) => {
            let levels = rules
                .vocabulary
                .event_levels
                .iter()
                .map(|level| level.text.as_str());
            let words = levels.filter_map(|word| {
                rules
                    .vocabulary
                    .event_level_named(word)
                    .map(|id| (word, id))
            });
            let words: Vec<_> = words.collect();
            read::one_of(
                word,
                *span,
                "an event level",
                words.into_iter(),
                &mut faults,
            )
        }
    };
    let record = record::load_fragment(source, case.given, &rules.vocabulary);
    if !faults.is_empty() {
        let mut found = faults.into_found();
        found.extend(record.err().unwrap_or_default());
        return Err(found);
    }
    let mut record = record?;
    let day = case
        .on
        .or(record.measured.day)
        .unwrap_or(rules.in_force_from);
    let context = Context {
        purpose: case.purpose,
        day,
        level,
    };
    // What a case gives was measured on its day, unless it says otherwise.
    record.measured.day.get_or_insert(day);
    let verdict = plan.check(&record, &context);
    let mut wrong = Vec::new();
    for expected in &case.expect {
        let of_rule: Vec<&Finding> = verdict
            .findings
            .iter()
            .filter(|finding| id_of(rules, finding.rule) == expected.rule)
            .collect();
        coverage.add(rules, &of_rule);
        let worst = of_rule.iter().map(|finding| finding.outcome).min();
        let fits = worst == Some(expected.outcome)
            && expected.reason.is_none_or(|reason| {
                of_rule.iter().any(|finding| {
                    finding.outcome == expected.outcome && finding.reason == Some(reason)
                })
            });
        if !fits {
            wrong.push(mismatch(source, case, rules, expected, &of_rule, worst));
        }
    }
    Ok(CaseResult {
        title: case.title.clone(),
        file: source.name().to_owned(),
        version: rules.version.clone(),
        wrong,
    })
}

fn mismatch(
    source: &Arc<Source>,
    case: &Case<'_, '_>,
    rules: &RulesFile,
    expected: &Expected,
    of_rule: &[&Finding],
    worst: Option<Outcome>,
) -> Diagnostic {
    let with_reason = |outcome: Outcome, reason: Option<Reason>| match reason {
        Some(reason) => format!("{} ({})", outcome.words(), reason.word()),
        None => outcome.words().to_owned(),
    };
    let came = match worst {
        None => "the rule is not asked of what is given".to_owned(),
        Some(worst) => {
            let reason = of_rule
                .iter()
                .find(|finding| finding.outcome == worst)
                .and_then(|finding| finding.reason);
            format!("it is: {}", with_reason(worst, reason))
        }
    };
    let wanted = with_reason(expected.outcome, expected.reason);
    let mut diagnostic = Diagnostic::fault(
        "case.outcome",
        format!(
            "{}: under {} {} should be: {wanted}; {came}",
            case.title, rules.version, expected.rule
        ),
    )
    .label(source, expected.span, format!("expected: {wanted}"));
    if let Some(finding) =
        worst.and_then(|worst| of_rule.iter().find(|finding| finding.outcome == worst))
    {
        diagnostic = diagnostic.label(&rules.source, finding.limit_at, "by this");
    }
    diagnostic
}

/// The id that a finding's rule has in files and JSON.
pub fn id_of(rules: &RulesFile, rule: RuleRef) -> &str {
    match rule {
        RuleRef::Rule(at) => rules.rules.get(at).map_or("", |rule| &rule.id.text),
        RuleRef::Marks(at, _) => rules.marks.get(at).map_or("", |mark| &mark.id.text),
        RuleRef::Equipment(_) => "equipment",
        RuleRef::Silence(_) | RuleRef::Unlisted(_) => "silence",
    }
}

/// What cases have touched of one version, counted exactly.
#[derive(Clone, Debug, Default)]
pub struct Coverage {
    touched: BTreeSet<String>,
}

/// A count of what is touched among what there is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Covered {
    /// What was touched.
    pub touched: usize,
    /// What there is.
    pub all: usize,
    /// What no case touches, in words.
    pub missing: Vec<String>,
}

impl Coverage {
    fn add(&mut self, rules: &RulesFile, findings: &[&Finding]) {
        for finding in findings {
            let id = id_of(rules, finding.rule);
            self.touched
                .insert(format!("{id}: {}", finding.outcome.words()));
            match finding.reason {
                Some(Reason::Condition) => {
                    self.touched
                        .insert(format!("{id}: condition does not hold"));
                }
                _ => {
                    self.touched.insert(format!("{id}: condition holds"));
                }
            }
            if let RuleRef::Rule(at) = finding.rule
                && let Some(rule) = rules.rules.get(at)
            {
                for (name, row) in rows_of(rules, rule) {
                    if row_spans(row).any(|span| span == finding.limit_at) {
                        self.touched.insert(format!("{id}: {name}"));
                    }
                }
            }
            if let RuleRef::Marks(at, Some(cap)) = finding.rule
                && rules.marks.get(at).is_some()
            {
                self.touched.insert(format!("{id}: cap {}", cap + 1));
            }
            if let RuleRef::Marks(at, None) = finding.rule
                && let Some(mark) = rules.marks.get(at)
                && let rules::MarkLimits::ByLevel { rows, .. } = &mark.limits
            {
                for (level, limit) in rows {
                    if limit.span == finding.limit_at {
                        let name = rules.vocabulary.event_levels.get(level.index());
                        self.touched
                            .insert(format!("{id}: row {}", name.map_or("", |name| &name.text)));
                    }
                }
            }
        }
    }

    /// How much of a version the cases touch: for every rule an item that conforms, one that does not and
    /// one that stays open; every row of limits; every condition both ways; every exemption.
    pub fn of(&self, rules: &RulesFile) -> Covered {
        let mut all: Vec<String> = Vec::new();
        for rule in &rules.rules {
            let id = &rule.id.text;
            for outcome in [
                Outcome::Conforms,
                Outcome::DoesNotConform,
                Outcome::NotDecided,
            ] {
                all.push(format!("{id}: {}", outcome.words()));
            }
            all.extend(
                rows_of(rules, rule)
                    .into_iter()
                    .map(|(name, _)| format!("{id}: {name}")),
            );
            if rule.when.is_some() {
                all.push(format!("{id}: condition holds"));
                all.push(format!("{id}: condition does not hold"));
            }
        }
        for mark in &rules.marks {
            let id = &mark.id.text;
            for outcome in [Outcome::Conforms, Outcome::DoesNotConform] {
                all.push(format!("{id}: {}", outcome.words()));
            }
            all.extend((1..=mark.of_which.len()).map(|cap| format!("{id}: cap {cap}")));
            if let rules::MarkLimits::ByLevel { rows, .. } = &mark.limits {
                for (level, _) in rows {
                    let name = rules.vocabulary.event_levels.get(level.index());
                    all.push(format!("{id}: row {}", name.map_or("", |name| &name.text)));
                }
            }
        }
        let missing: Vec<String> = all
            .iter()
            .filter(|name| !self.touched.contains(*name))
            .cloned()
            .collect();
        Covered {
            touched: all.len() - missing.len(),
            all: all.len(),
            missing,
        }
    }

    /// Id and clause of the rules, and of the limits on marks, that no case touches at all.
    pub fn untouched<'r>(&self, rules: &'r RulesFile) -> Vec<(&'r Name, &'r Name)> {
        let touched = |id: &str| {
            let own = format!("{id}: ");
            self.touched.iter().any(|one| one.starts_with(&own))
        };
        let marks = rules.marks.iter().map(|mark| (&mark.id, &mark.clause));
        rules
            .rules
            .iter()
            .map(|rule| (&rule.id, &rule.clause))
            .chain(marks)
            .filter(|(id, _)| !touched(&id.text))
            .collect()
    }
}

/// The rows of a rule by name, where there is more than one.
fn rows_of<'r>(rules: &RulesFile, rule: &'r Rule) -> Vec<(String, &'r LimitRow)> {
    let mut found: Vec<(String, &LimitRow)> = match &rule.limits {
        Limits::Direct(_) => Vec::new(),
        Limits::ByTrait { by, rows, .. } => {
            let part = rules.vocabulary.part(rule.applies_to);
            let choices = part
                .and_then(|part| part.traits.get(by.index()))
                .map(|one| &one.kind);
            let name = |at: usize| match choices {
                Some(crate::vocabulary::TraitKind::Choice(names)) => {
                    names.get(at).map_or("", |name| &name.text)
                }
                Some(crate::vocabulary::TraitKind::Date | crate::vocabulary::TraitKind::Flag)
                | None => "",
            };
            rows.iter()
                .map(|(choice, row)| (format!("row {}", name(choice.index())), row))
                .collect()
        }
        Limits::ByLevel { rows, .. } => {
            let name = |at: usize| {
                rules
                    .vocabulary
                    .event_levels
                    .get(at)
                    .map_or("", |name| &name.text)
            };
            rows.iter()
                .map(|(level, row)| (format!("row {}", name(level.index())), row))
                .collect()
        }
    };
    found.extend(
        rule.instead
            .iter()
            .enumerate()
            .map(|(at, one)| (format!("exemption {}", at + 1), &one.row)),
    );
    found
}

fn row_spans(row: &LimitRow) -> impl Iterator<Item = Span> {
    let bounds: Vec<Span> = match &row.demand {
        Demand::Bounds(bounds) => bounds.iter().map(|bound| bound.span).collect(),
        Demand::Equals(_, span) => vec![*span],
        Demand::None => Vec::new(),
    };
    std::iter::once(row.span).chain(bounds)
}
