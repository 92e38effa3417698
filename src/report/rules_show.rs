//! A version of the class rules, in the order of its clauses: for people, in sentences, as JSON.

use serde_json::{Value, json};

use crate::diagnostic::safe_text;
use crate::rules::{
    Demand, Interpretation, InterpretationStatus, LimitRow, MarkRule, Rule, RulesFile, Silence,
    Stage,
};

use super::layout::{flow, pad, width_of, wrap};
use super::rule_words::{clause_order, demand, limits, mark_limits, measured, part_name, per_cent};
use super::rules_list::status;
use super::sentence::{
    Sentence, Table, Wording, mark_frame, mark_limit, mark_table, rule_frame, rule_limit,
    rule_table, sentence_numbers, sentence_text,
};
use super::words;

/// A rule or a limit on marks.
#[derive(Clone, Copy)]
pub(super) enum Clause<'r> {
    /// A rule.
    Rule(&'r Rule),
    /// A limit on marks.
    Marks(&'r MarkRule),
}

impl<'r> Clause<'r> {
    pub(super) fn number(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.clause.text,
            Clause::Marks(mark) => &mark.clause.text,
        }
    }

    pub(super) fn id(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.id.text,
            Clause::Marks(mark) => &mark.id.text,
        }
    }

    pub(super) fn title(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.title,
            Clause::Marks(mark) => &mark.title,
        }
    }

    pub(super) fn text(&self) -> &'r str {
        match self {
            Clause::Rule(rule) => &rule.text,
            Clause::Marks(mark) => &mark.text,
        }
    }

    pub(super) fn remedy(&self) -> Option<&'r str> {
        match self {
            Clause::Rule(rule) => rule.remedy.as_deref(),
            Clause::Marks(mark) => mark.remedy.as_deref(),
        }
    }

    /// What it says as data.
    pub(super) fn sentences(&self, wording: &Wording<'_>) -> Vec<Sentence> {
        match self {
            Clause::Rule(rule) => wording.rule(rule),
            Clause::Marks(mark) => wording.marks(mark),
        }
    }

    /// What is asked apart from the limits: two clauses that agree in it differ in their limits at most.
    pub(super) fn frame(&self, wording: &Wording<'_>) -> String {
        match self {
            Clause::Rule(rule) => rule_frame(wording, rule),
            Clause::Marks(mark) => mark_frame(wording, mark),
        }
    }

    /// Its limit, where it has no table.
    pub(super) fn single_limit(&self, wording: &Wording<'_>) -> Option<String> {
        match self {
            Clause::Rule(rule) => rule_limit(wording, rule),
            Clause::Marks(mark) => mark_limit(mark),
        }
    }

    /// Its limits as a table, where it has one.
    pub(super) fn table(&self, wording: &Wording<'_>) -> Option<Table> {
        match self {
            Clause::Rule(rule) => rule_table(wording, rule),
            Clause::Marks(mark) => mark_table(wording, mark),
        }
    }
}

/// The clauses in their order; only those of `wanted`, by id or number, if it names any.
pub(super) fn clauses<'r>(rules: &'r RulesFile, wanted: &[String]) -> Vec<Clause<'r>> {
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
    let wording = Wording::of(rules);
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
        for (at, line) in wrap(&safe_text(clause.title()), room)
            .into_iter()
            .enumerate()
        {
            let before = if at == 0 {
                pad(clause.number(), lead)
            } else {
                indent.clone()
            };
            lines.push(format!("{before}{line}"));
        }
        let push = |lines: &mut Vec<String>, text: &str, hang: usize| {
            let more = pad("", hang);
            for (at, line) in wrap(&safe_text(text), room.saturating_sub(hang))
                .into_iter()
                .enumerate()
            {
                let more = if at == 0 { "" } else { more.as_str() };
                lines.push(format!("{indent}{more}{line}"));
            }
        };
        push(&mut lines, clause.text(), 0);
        let said = sentence_text(&clause.sentences(&wording));
        push(&mut lines, &format!("In data: {said}"), 2);
        lines.extend(table_lines(*clause, &wording, &indent, width));
        if let Some(remedy) = clause.remedy() {
            push(&mut lines, &format!("Remedy: {remedy}"), 2);
        }
        for one in about(rules, clause.id()) {
            push(
                &mut lines,
                &format!(
                    "Interpretation {}, {}: {}",
                    one.id.text, one.issued, one.text
                ),
                2,
            );
        }
        push(&mut lines, &format!("id {}", clause.id()), 2);
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

/// The rows of a clause's table of limits.
fn table_lines(
    clause: Clause<'_>,
    wording: &Wording<'_>,
    indent: &str,
    width: usize,
) -> Vec<String> {
    let Some(table) = clause.table(wording) else {
        return Vec::new();
    };
    let widest = table
        .rows
        .iter()
        .map(|(label, _)| width_of(&safe_text(label)));
    let widest = widest.max().unwrap_or(0) + 2;
    let mut lines = vec![format!("{indent}By {}:", safe_text(&table.by))];
    for (label, limits) in &table.rows {
        let lead = indent.len() + 2 + widest;
        let limits = wrap(&safe_text(&limits.text()), width.saturating_sub(lead));
        let label = pad(&safe_text(label), widest);
        for (at, line) in limits.into_iter().enumerate() {
            let label = if at == 0 { &label } else { &pad("", widest) };
            lines.push(format!("{indent}  {label}{line}"));
        }
    }
    lines
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

pub(super) fn about<'r>(
    rules: &'r RulesFile,
    id: &'r str,
) -> impl Iterator<Item = &'r Interpretation> {
    let stands = |one: &&Interpretation| one.status == InterpretationStatus::InForce;
    rules
        .interpretations
        .iter()
        .filter(stands)
        .filter(move |one| one.about.iter().any(|name| name.text == id))
}

/// A version in sentences, a line for each clause.
pub fn show_plain(rules: &RulesFile, wanted: &[String]) -> String {
    let wording = Wording::of(rules);
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
        let mut said = vec![
            format!("{} {}.", clause.number(), clause.title()),
            clause.text().to_owned(),
            format!("In data: {}", sentence_text(&clause.sentences(&wording))),
        ];
        said.extend(clause.remedy().map(|remedy| format!("Remedy: {remedy}")));
        said.extend(
            about(rules, clause.id())
                .map(|one| format!("Interpretation {}: {}", one.id.text, one.text)),
        );
        said.push(format!("Id {}.", clause.id()));
        said.retain(|part| !part.is_empty());
        text.push_str(&crate::diagnostic::safe_line(&said.join(" ")));
        text.push('\n');
    }
    text
}

/// A version for programs: `rimegauge-rules-show/1`.
pub fn show_json(rules: &RulesFile, wanted: &[String]) -> Value {
    let wording = Wording::of(rules);
    let all: Vec<Value> = clauses(rules, wanted)
        .into_iter()
        .map(|clause| clause_json(rules, &wording, clause))
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

fn clause_json(rules: &RulesFile, wording: &Wording<'_>, clause: Clause<'_>) -> Value {
    let sentences = clause.sentences(wording);
    let sentence = sentence_text(&sentences);
    let numbers = sentence_numbers(&sentences);
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
                "sentence": sentence,
                "sentence_numbers": numbers,
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
                "sentence": sentence,
                "sentence_numbers": numbers,
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
        Demand::Bounds(_)
        | Demand::Equals(..)
        | Demand::Only(..)
        | Demand::Without(..)
        | Demand::Options(_) => false,
    }
}
