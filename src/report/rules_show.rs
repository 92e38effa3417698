//! A version of the class rules, in the order of its clauses: for people, in sentences, as JSON.

use serde_json::{Value, json};

use crate::diagnostic::safe_text;
use crate::rules::{
    Demand, Interpretation, InterpretationStatus, LimitRow, MarkRule, Rule, RulesFile, Silence,
    Stage,
};

use super::layout::{flow, pad, width_of, wrap};
use super::rule_words::{
    clause_order, demand, exemption, limits, mark_limits, measured, part_name, per_cent, stages,
};
use super::rules_list::status;
use super::words;

/// A rule or a limit on marks.
#[derive(Clone, Copy)]
enum Clause<'r> {
    Rule(&'r Rule),
    Marks(&'r MarkRule),
}

impl<'r> Clause<'r> {
    fn number(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.clause.text,
            Clause::Marks(mark) => &mark.clause.text,
        }
    }

    fn id(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.id.text,
            Clause::Marks(mark) => &mark.id.text,
        }
    }
}

/// The clauses in their order; only those of `wanted`, by id or number, if it names any.
fn clauses<'r>(rules: &'r RulesFile, wanted: &[String]) -> Vec<Clause<'r>> {
    let all = rules
        .rules
        .iter()
        .map(Clause::Rule)
        .chain(rules.marks.iter().map(Clause::Marks));
    let chosen = |clause: &Clause<'_>| {
        wanted.is_empty()
            || wanted
                .iter()
                .any(|one| one == clause.id() || one == clause.number())
    };
    let mut all: Vec<Clause<'r>> = all.filter(chosen).collect();
    all.sort_by_cached_key(|clause| clause_order(clause.number()));
    all
}

/// Ids and numbers that name no rule.
pub fn unknown_rules<'w>(rules: &RulesFile, wanted: &'w [String]) -> Vec<&'w str> {
    let known = clauses(rules, &[]);
    let is_known = |one: &&String| {
        known
            .iter()
            .any(|clause| *one == clause.id() || *one == clause.number())
    };
    wanted
        .iter()
        .filter(|one| !is_known(one))
        .map(String::as_str)
        .collect()
}

/// Ids of all rules, for near misses.
pub fn rule_ids(rules: &RulesFile) -> Vec<&str> {
    clauses(rules, &[]).iter().map(Clause::id).collect()
}

/// A version for people; only the `wanted` rules if any are named.
pub fn show(rules: &RulesFile, wanted: &[String], width: usize) -> String {
    let mut lines = Vec::new();
    if wanted.is_empty() {
        head(rules, width, &mut lines);
    }
    let shown = clauses(rules, wanted);
    let lead = shown
        .iter()
        .map(|clause| width_of(clause.number()))
        .max()
        .unwrap_or(0)
        + 2;
    for (at, clause) in shown.iter().enumerate() {
        if at > 0 || wanted.is_empty() {
            lines.push(String::new());
        }
        let indent = pad("", lead);
        let room = width.saturating_sub(lead);
        let (title, text, remedy, below) = match clause {
            Clause::Rule(rule) => (&rule.title, &rule.text, &rule.remedy, of_rule(rules, rule)),
            Clause::Marks(mark) => (&mark.title, &mark.text, &mark.remedy, of_marks(rules, mark)),
        };
        for (at, line) in wrap(&safe_text(title), room).into_iter().enumerate() {
            let before = if at == 0 {
                pad(clause.number(), lead)
            } else {
                indent.clone()
            };
            lines.push(format!("{before}{line}"));
        }
        let mut push = |text: &str, hang: usize| {
            for (at, line) in wrap(&safe_text(text), room.saturating_sub(hang))
                .into_iter()
                .enumerate()
            {
                let more = if at == 0 { "" } else { "  " };
                lines.push(format!(
                    "{indent}{}{line}",
                    if hang > 0 { more } else { "" }
                ));
            }
        };
        push(text, 0);
        for line in &below {
            push(line, 2);
        }
        if let Some(remedy) = remedy {
            push(&format!("Remedy: {remedy}"), 2);
        }
        for one in about(rules, clause.id()) {
            push(
                &format!(
                    "Interpretation {}, {}: {}",
                    one.id.text, one.issued, one.text
                ),
                2,
            );
        }
    }
    if wanted.is_empty() {
        lines.push(String::new());
        for caution in &rules.cautions {
            lines.extend(wrap(caution.words(), width));
        }
    }
    let mut text = String::new();
    for line in lines {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

fn head(rules: &RulesFile, width: usize, lines: &mut Vec<String>) {
    lines.extend(wrap(
        &format!("{} {}", safe_text(&rules.title), rules.version),
        width,
    ));
    let mut pieces = vec![
        words::reference(rules),
        status(rules.status).to_owned(),
        format!("in force from {}", rules.in_force_from),
    ];
    pieces.extend(
        rules
            .replaces
            .as_ref()
            .map(|version| format!("replaces {version}")),
    );
    lines.extend(flow(&pieces, " · ", width));
    lines.extend(wrap(&safe_text(&rules.authority), width));
    lines.extend(flow(
        &[rules.source.name().to_owned(), rules.digest.clone()],
        " · ",
        width,
    ));
    lines.push(String::new());
    lines.extend(wrap(
        match rules.silence {
            Silence::Forbids => "Closed rules: what they do not list is not allowed.",
            Silence::Permits => "Open rules: what they do not forbid is allowed.",
        },
        width,
    ));
    let guard = rules.decision.guard_factor.to_string();
    let coverage = per_cent(&rules.decision.coverage_probability);
    lines.extend(wrap(
        &format!("Coverage probability {coverage}, guard factor {guard}."),
        width,
    ));
    for stage in Stage::ALL {
        let rule = *rules.decision.rules.at(stage);
        let name = words::plain_name(words::decision_word(rule));
        lines.extend(wrap(
            &format!("At the stage of {}: {name}.", stage.words()),
            width,
        ));
    }
}

fn of_rule(rules: &RulesFile, rule: &Rule) -> Vec<String> {
    let mut below = limits(rules, rule);
    below.extend(
        rule.instead
            .iter()
            .map(|instead| format!("Other limit {}", exemption(rules, rule, instead))),
    );
    let mut about = vec![part_name(rules, rule.applies_to).to_owned()];
    about.extend(rule.when.as_ref().map(|when| format!("when {}", when.text)));
    about.extend(measured(rules, rule));
    about.extend(stages(rule));
    about.push(format!("id {}", rule.id.text));
    below.push(about.join("; "));
    below
}

fn of_marks(rules: &RulesFile, mark: &MarkRule) -> Vec<String> {
    let mut below = mark_limits(rules, mark);
    let holding = rules
        .vocabulary
        .holding(mark.item)
        .map_or("parts", |holding| holding.key.text.as_str());
    below.push(format!(
        "marks on {holding}; asked at events; id {}",
        mark.id.text
    ));
    below
}

fn about<'r>(rules: &'r RulesFile, id: &'r str) -> impl Iterator<Item = &'r Interpretation> {
    let stands = |one: &&Interpretation| one.status == InterpretationStatus::InForce;
    rules
        .interpretations
        .iter()
        .filter(stands)
        .filter(move |one| one.about.iter().any(|name| name.text == id))
}

/// A version in sentences, a line for each clause.
pub fn show_plain(rules: &RulesFile, wanted: &[String]) -> String {
    let mut text = String::new();
    if wanted.is_empty() {
        text.push_str(&format!(
            "{} {}, {}, {}, in force from {}.\n",
            safe_text(&rules.title),
            rules.version,
            words::reference(rules),
            status(rules.status),
            rules.in_force_from
        ));
    }
    for clause in clauses(rules, wanted) {
        let (title, words, remedy, below) = match clause {
            Clause::Rule(rule) => (&rule.title, &rule.text, &rule.remedy, of_rule(rules, rule)),
            Clause::Marks(mark) => (&mark.title, &mark.text, &mark.remedy, of_marks(rules, mark)),
        };
        let mut said = vec![
            format!("{} {title}.", clause.number()),
            words.clone(),
            format!("{}.", below.join("; ")),
        ];
        said.extend(remedy.as_ref().map(|remedy| format!("Remedy: {remedy}")));
        said.extend(
            about(rules, clause.id())
                .map(|one| format!("Interpretation {}: {}", one.id.text, one.text)),
        );
        said.retain(|part| !part.is_empty());
        text.push_str(&crate::diagnostic::safe_line(&said.join(" ")));
        text.push('\n');
    }
    text
}

/// A version for programs: `rimegauge-rules-show/1`.
pub fn show_json(rules: &RulesFile, wanted: &[String]) -> Value {
    let all: Vec<Value> = clauses(rules, wanted)
        .into_iter()
        .map(|clause| clause_json(rules, clause))
        .collect();
    let decision = |stage| words::decision_word(*rules.decision.rules.at(stage));
    json!({
        "format": "rimegauge-rules-show/1",
        "class": rules.class.text,
        "title": rules.title,
        "version": rules.version.to_string(),
        "status": status(rules.status),
        "replaces": rules.replaces.as_ref().map(ToString::to_string),
        "in_force_from": rules.in_force_from.to_string(),
        "authority": rules.authority,
        "file": rules.source.name(),
        "digest": rules.digest,
        "silence": match rules.silence { Silence::Forbids => "forbids", Silence::Permits => "permits" },
        "decision": {
            "coverage_probability": per_cent(&rules.decision.coverage_probability),
            "guard_factor": rules.decision.guard_factor.to_string(),
            "self_check": decision(Stage::SelfCheck),
            "certification": decision(Stage::Certification),
            "event_inspection": decision(Stage::EventInspection),
        },
        "cautions": rules.cautions.iter().map(|caution| caution.words()).collect::<Vec<_>>(),
        "rules": all,
    })
}

fn clause_json(rules: &RulesFile, clause: Clause<'_>) -> Value {
    let interpretations: Vec<Value> = about(rules, clause.id())
        .map(|one| json!({ "id": one.id.text, "issued": one.issued.to_string(), "text": one.text }))
        .collect();
    match clause {
        Clause::Rule(rule) => {
            let at = rules.source.line_column(rule.id.span.start);
            json!({
                "kind": "rule",
                "id": rule.id.text,
                "clause": rule.clause.text,
                "title": rule.title,
                "text": rule.text,
                "applies_to": part_name(rules, rule.applies_to),
                "when": rule.when.as_ref().map(|when| when.text.clone()),
                "value": rule.value.text,
                "measured": measured(rules, rule),
                "limits": limits(rules, rule),
                "instead": rule.instead.iter().map(|one| json!({
                    "if": one.condition.text,
                    "because": one.because,
                    "limit": demand(rules, rule, &one.row),
                    "no_limit": is_none(&one.row),
                    "until": one.until.map(|day| day.to_string()),
                })).collect::<Vec<_>>(),
                "checked_at": Stage::ALL.into_iter().filter(|stage| *rule.checked_at.at(*stage)).map(Stage::word).collect::<Vec<_>>(),
                "remedy": rule.remedy,
                "interpretations": interpretations,
                "line": at.line,
            })
        }
        Clause::Marks(mark) => {
            let at = rules.source.line_column(mark.id.span.start);
            json!({
                "kind": "marks",
                "id": mark.id.text,
                "clause": mark.clause.text,
                "title": mark.title,
                "text": mark.text,
                "item": rules.vocabulary.holding(mark.item).map(|holding| holding.key.text.clone()),
                "limits": mark_limits(rules, mark),
                "remedy": mark.remedy,
                "interpretations": interpretations,
                "line": at.line,
            })
        }
    }
}

fn is_none(row: &LimitRow) -> bool {
    match row.demand {
        Demand::None => true,
        Demand::Bounds(_) | Demand::Equals(..) => false,
    }
}
