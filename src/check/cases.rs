//! Rule cases: a fragment of a record and the outcomes it must have. Adding a file adds cases.

use std::sync::Arc;

pub use super::case_file::{Case, CaseFile, Expected, FORMAT, NOT_ASKED, PATTERNS, load};
pub use super::coverage::{Coverage, Covered, Kind, Piece, pieces};
use super::finding::{Finding, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::{Context, Plan};
use crate::diagnostic::{Diagnostic, Faults, near_misses};
use crate::record::{self, Record};
use crate::rules::RulesFile;
use crate::text::{Source, quoted};
use crate::vocabulary::read;

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

/// Whether a case comes out otherwise under a plan than it expects, or can't be read under it.
pub fn comes_out_otherwise(source: &Arc<Source>, case: &Case<'_, '_>, plan: &Plan) -> bool {
    let Ok((record, context)) = asked(source, case, plan) else {
        return true;
    };
    let verdict = plan.check(&record, &context);
    case.expect.iter().any(|expected| {
        let of_rule = findings_of(plan.rules(), &verdict.findings, &expected.rule);
        !fits(expected, &of_rule)
    })
}

/// The findings of one rule, by its id.
fn findings_of<'f>(rules: &RulesFile, findings: &'f [Finding], id: &str) -> Vec<&'f Finding> {
    let of_rule = findings.iter();
    of_rule
        .filter(|finding| id_of(rules, finding.rule) == id)
        .collect()
}

fn worst(of_rule: &[&Finding]) -> Option<Outcome> {
    of_rule.iter().map(|finding| finding.outcome).min()
}

/// Whether the findings of a rule are what a case expects.
fn fits(expected: &Expected, of_rule: &[&Finding]) -> bool {
    worst(of_rule) == expected.outcome
        && expected.reason.is_none_or(|reason| {
            of_rule.iter().any(|finding| {
                Some(finding.outcome) == expected.outcome && finding.reason == Some(reason)
            })
        })
}

/// What a case gives, as a record, and what it asks.
fn asked(
    source: &Arc<Source>,
    case: &Case<'_, '_>,
    plan: &Plan,
) -> Result<(Record, Context), Vec<Diagnostic>> {
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
    Ok((record, context))
}

fn run_one(
    source: &Arc<Source>,
    case: &Case<'_, '_>,
    plan: &Plan,
    coverage: &mut Coverage,
) -> Result<CaseResult, Vec<Diagnostic>> {
    let rules = plan.rules();
    let (record, context) = asked(source, case, plan)?;
    let verdict = plan.check(&record, &context);
    let mut judge = Judge::new(plan, &record, &context, true);
    let mut wrong = Vec::new();
    for expected in &case.expect {
        let of_rule = findings_of(rules, &verdict.findings, &expected.rule);
        coverage.add(rules, &expected.rule, &of_rule, &mut judge);
        if !fits(expected, &of_rule) {
            let worst = worst(&of_rule);
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
    let wanted = match expected.outcome {
        Some(outcome) => with_reason(outcome, expected.reason),
        None => "not asked".to_owned(),
    };
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
        RuleRef::Marks(at, _) | RuleRef::Pairs(at) | RuleRef::Bring(at, _) => {
            rules.marks.get(at).map_or("", |mark| &mark.id.text)
        }
        RuleRef::Equipment(_) | RuleRef::Role(..) => "equipment",
        RuleRef::Silence(_) | RuleRef::Unlisted(_) => "silence",
    }
}
