//! `rimegauge-report/1`: a report for programs. Numbers are decimal text, so that exact ones stay exact.
//!
//! The order of fields is that of the published contract, which is why these are structs and not maps.

use serde::Serialize;

use crate::check::{Finding, FoundLimit, FoundPlace, FoundValue, Outcome, Settle};
use crate::diagnostic::{Diagnostic, to_json};
use crate::quantity::{Exact, Number, Unit, show};
use crate::rules::{ByStage, Stage};
use crate::text::Node;
use crate::uncertainty::{Bound, Limit, Side, probability_of_conformity};

use super::budget_json::{BudgetLineJson, BudgetSumJson, budget_json, budget_sum_json};
use super::checked::Checked;
use super::figure::printable;
use super::json_limit::{LimitJson, of_limit};
use super::labels::Labels;
use super::message::{At, Message};
use super::parts::display_unit;
use super::{pointer, words};

#[derive(Serialize)]
struct RecordJson<'c> {
    source: &'c str,
    digest: &'c str,
    sail_number: &'c str,
    outcome: &'static str,
    reason: Option<&'static str>,
    rules: RulesJson<'c>,
    day: String,
    level: Option<&'c str>,
    decision_rule: &'static str,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct RulesJson<'c> {
    class: &'c str,
    version: String,
    status: &'static str,
    digest: &'c str,
    overlay: Option<OverlayJson<'c>>,
}

#[derive(Serialize)]
struct OverlayJson<'c> {
    event: &'c str,
    digest: &'c str,
}

#[derive(Serialize)]
struct SaidJson<'m> {
    kind: &'static str,
    id: &'m str,
    by: Option<&'m str>,
    text: &'m str,
}

#[derive(Serialize)]
struct FindingJson<'m> {
    rule: &'m str,
    clause: Option<&'m str>,
    title: &'m str,
    item: &'m str,
    side: Option<&'static str>,
    outcome: &'static str,
    reason: Option<&'static str>,
    outcome_by_purpose: ByPurpose,
    value: Option<ValueJson>,
    expanded_uncertainty: Option<QuantityJson>,
    coverage_factor: Option<f64>,
    effective_degrees_of_freedom: Option<f64>,
    limit: Option<LimitJson>,
    margin: Option<QuantityJson>,
    probability_of_conformity: Option<f64>,
    place: Option<PlaceJson>,
    places: Option<PlacesJson>,
    settled_by: Option<SettleJson>,
    benefit_of_doubt: bool,
    second_measurer: bool,
    exemption: Option<&'m str>,
    notes: Vec<String>,
    interpretations: Vec<SaidJson<'m>>,
    source_at: SourceAt,
    also_at: Vec<SourceAt>,
    limit_at: LimitAt<'m>,
    message: String,
    remedy: Option<&'m str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    budget: Option<Vec<BudgetLineJson>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    budget_sum: Option<BudgetSumJson>,
}

#[derive(Serialize)]
struct ByPurpose {
    self_check: Option<&'static str>,
    certification: Option<&'static str>,
    event_inspection: Option<&'static str>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum ValueJson {
    Number {
        number: String,
        unit: &'static str,
        exact: bool,
        bound: Option<&'static str>,
    },
    Range {
        number: String,
        to: String,
        unit: &'static str,
    },
    Word {
        word: String,
    },
}

#[derive(Serialize)]
pub(super) struct QuantityJson {
    pub number: String,
    pub unit: &'static str,
}

#[derive(Serialize)]
struct PlaceJson {
    at: Option<String>,
    face: Option<&'static str>,
    from_edge: Option<String>,
}

#[derive(Serialize)]
struct PlacesJson {
    measured: u32,
    required: u32,
    left_out: Vec<PlaceJson>,
}

#[derive(Serialize)]
struct SettleJson {
    kind: &'static str,
    words: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_most: Option<QuantityJson>,
}

#[derive(Serialize)]
struct SourceAt {
    file: String,
    line: u32,
    column: u32,
    pointer: Option<String>,
}

#[derive(Serialize)]
struct LimitAt<'m> {
    file: &'m str,
    line: u32,
    column: u32,
}

/// What stands before a record: the head of the report, or a comma.
pub(super) fn before_record(purpose: Stage, first: bool) -> String {
    if first {
        format!(
            "{{\"format\":\"rimegauge-report/1\",\"purpose\":\"{}\",\"records\":[\n",
            purpose.word()
        )
    } else {
        ",\n".to_owned()
    }
}

/// A record with its findings, one to a line.
pub(super) fn record(checked: &Checked) -> String {
    let labels = Labels::of(&checked.record, &checked.rules);
    let tree = pointer::tree(&checked.record, checked.digest.is_none());
    let digest = checked.digest();
    let rules = &checked.rules;
    let head = RecordJson {
        source: checked.record.source.name(),
        digest: &digest,
        sail_number: &checked.record.sail_number,
        outcome: checked.verdict.outcome.word(),
        reason: checked.verdict.reason.map(crate::check::Reason::word),
        rules: RulesJson {
            class: &rules.class.text,
            version: rules.version.to_string(),
            status: rules.status.word(),
            digest: &rules.digest,
            overlay: rules.overlay.as_deref().map(|overlay| OverlayJson {
                event: &overlay.event.text,
                digest: &overlay.digest,
            }),
        },
        day: checked.day.to_string(),
        level: checked.level_name(),
        decision_rule: words::decision_word(checked.decision_rule()),
        notes: checked.notes(),
    };
    let mut text = text_of(&head);
    // The findings are the last field.
    text.pop();
    text.push_str(",\"findings\":[");
    for (at, finding) in checked.verdict.findings.iter().enumerate() {
        text.push_str(if at == 0 { "\n" } else { ",\n" });
        let message = Message::of(checked, &labels, finding);
        text.push_str(&text_of(&of_finding(finding, &message, tree.as_ref())));
    }
    text.push_str("]}");
    text
}

/// Input that could not be used, each as text.
pub(super) fn problems(diagnostics: &[Diagnostic]) -> Vec<String> {
    match to_json(diagnostics).get("diagnostics") {
        Some(serde_json::Value::Array(list)) => list.iter().map(text_of).collect(),
        Some(_) | None => Vec::new(),
    }
}

/// The end of the report; input that could not be used stands there, or alone when nothing was checked.
pub(super) fn end(begun: bool, refused: &[String]) -> String {
    let list = refused.join(",\n");
    match (begun, refused) {
        (true, []) => "]}\n".to_owned(),
        (true, _) => format!("],\"diagnostics\":[\n{list}]}}\n"),
        (false, _) => {
            format!("{{\"format\":\"rimegauge-diagnostics/1\",\"diagnostics\":[\n{list}]}}\n")
        }
    }
}

/// Structs of texts and finite numbers always have a JSON form.
fn text_of(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

fn of_finding<'m>(
    finding: &Finding,
    message: &'m Message,
    tree: Option<&Node<'_>>,
) -> FindingJson<'m> {
    let unit = display_unit(finding);
    let limit_at = message.rules_at.line_column();
    FindingJson {
        rule: &message.rule,
        clause: message.clause.as_deref(),
        title: &message.title,
        item: &message.item_path,
        side: message.side,
        outcome: finding.outcome.word(),
        reason: finding.reason.map(crate::check::Reason::word),
        outcome_by_purpose: by_purpose(&finding.by_purpose),
        value: finding.value.as_ref().map(|value| of_value(value, unit)),
        expanded_uncertainty: expanded(finding),
        coverage_factor: finding.expanded.map(|expanded| rounded(expanded.k, 1e3)),
        effective_degrees_of_freedom: finding
            .expanded
            .map(|expanded| expanded.nu)
            .filter(|nu| nu.is_finite())
            .map(|nu| rounded(nu, 10.0)),
        limit: finding
            .limit
            .as_ref()
            .map(|limit| of_limit(limit, message.figures.limit_as_written.clone())),
        margin: margin(finding, unit),
        probability_of_conformity: probability(finding),
        place: finding.place.as_ref().and_then(of_place),
        places: finding.places.map(|(measured, required)| PlacesJson {
            measured,
            required,
            left_out: finding.left_out.iter().filter_map(of_place).collect(),
        }),
        settled_by: finding
            .settled_by
            .as_ref()
            .map(|settle| of_settle(settle, message)),
        benefit_of_doubt: finding.benefit_of_doubt,
        second_measurer: finding.second_measurer,
        exemption: message.exemption.as_deref(),
        notes: message.notes.clone(),
        interpretations: message
            .said
            .iter()
            .map(|said| SaidJson {
                kind: said.kind,
                id: &said.id,
                by: said.by.as_deref(),
                text: &said.text,
            })
            .collect(),
        source_at: source_at(&message.record_at, tree),
        also_at: message
            .also_at
            .iter()
            .map(|at| source_at(at, tree))
            .collect(),
        limit_at: LimitAt {
            file: message.rules_at.file(),
            line: limit_at.line,
            column: limit_at.column,
        },
        message: message.sentence(),
        remedy: message.remedy.as_deref(),
        budget: message.budget.as_deref().map(budget_json),
        budget_sum: message.budget.as_deref().map(budget_sum_json),
    }
}

/// What a finding says, as other documents have it as well.
pub(super) struct FoundJson {
    pub value: serde_json::Value,
    pub limit: serde_json::Value,
    pub margin: serde_json::Value,
    pub place: serde_json::Value,
}

/// Value, limit, margin and place of a finding, each null where there is none.
pub(super) fn found_json(finding: &Finding, limit_as_written: Option<String>) -> FoundJson {
    let unit = display_unit(finding);
    let value = finding.value.as_ref().map(|value| of_value(value, unit));
    let limit = finding.limit.as_ref();
    let limit = limit.map(|limit| of_limit(limit, limit_as_written));
    FoundJson {
        value: serde_json::json!(value),
        limit: serde_json::json!(limit),
        margin: serde_json::json!(margin(finding, unit)),
        place: serde_json::json!(finding.place.as_ref().and_then(of_place)),
    }
}

fn by_purpose(outcomes: &ByStage<Option<Outcome>>) -> ByPurpose {
    ByPurpose {
        self_check: outcomes.self_check.map(Outcome::word),
        certification: outcomes.certification.map(Outcome::word),
        event_inspection: outcomes.event_inspection.map(Outcome::word),
    }
}

fn of_value(value: &FoundValue, shown_in: Option<Unit>) -> ValueJson {
    match value {
        FoundValue::Answer(yes) => ValueJson::Word {
            word: if *yes { "yes" } else { "no" }.to_owned(),
        },
        FoundValue::Word(word) => ValueJson::Word { word: word.clone() },
        FoundValue::Count { sure, possible } if sure == possible => ValueJson::Number {
            number: sure.to_string(),
            unit: "",
            exact: true,
            bound: None,
        },
        FoundValue::Count { sure, possible } => ValueJson::Range {
            number: sure.to_string(),
            to: possible.to_string(),
            unit: "",
        },
        FoundValue::Number {
            value,
            unit,
            decimals,
            bound,
        } => {
            let shown = shown_in.unwrap_or(*unit);
            let decimals = decimals.filter(|_| shown == *unit);
            let (number, exact) = number(value, shown, decimals);
            let bound = bound.and_then(|bound| match bound {
                Bound::AtLeast => Some("at_least"),
                Bound::AtMost => Some("at_most"),
                Bound::Neither => None,
            });
            ValueJson::Number {
                number,
                unit: shown.symbol(),
                exact,
                bound,
            }
        }
    }
}

/// Decimal text, and whether it is exact; a real number never is.
pub(super) fn number(number: &Number, unit: Unit, decimals: Option<u8>) -> (String, bool) {
    match (number.as_exact(), printable(number)) {
        (Some(exact), _) => show::number(exact, unit, decimals),
        (None, Some(near)) => (show::number(&near, unit, None).0, false),
        (None, None) => ("not known".to_owned(), false),
    }
}

fn expanded(finding: &Finding) -> Option<QuantityJson> {
    let expanded = finding.expanded?;
    let unit = match finding.value.as_ref()? {
        FoundValue::Number { unit, .. } => display_unit(finding).unwrap_or(*unit),
        FoundValue::Count { .. } | FoundValue::Answer(_) | FoundValue::Word(_) => return None,
    };
    let zero = Number::Exact(Exact::ZERO);
    let number = show::uncertain(&zero, expanded.U, unit, None).uncertainty?;
    Some(QuantityJson {
        number,
        unit: unit.symbol(),
    })
}

fn margin(finding: &Finding, unit: Option<Unit>) -> Option<QuantityJson> {
    let margin = finding.margin.as_ref()?;
    let unit = unit?;
    let number = match printable(margin) {
        Some(exact) => show::difference(&exact, unit, None).0,
        None => "not known".to_owned(),
    };
    Some(QuantityJson {
        number,
        unit: unit.symbol(),
    })
}

/// The probability that the true value lies within the one limit of the finding. Source: JCGM 106:2012, 7.
fn probability(finding: &Finding) -> Option<f64> {
    let (
        Some(FoundValue::Number {
            value, bound: None, ..
        }),
        Some(expanded),
    ) = (&finding.value, finding.expanded)
    else {
        return None;
    };
    let Some(FoundLimit::Bound {
        kind,
        value: limit,
        rounded: by_rounding,
        ..
    }) = &finding.limit
    else {
        return None;
    };
    // Of a limit on rounded values the exact one counts.
    let exact = by_rounding.as_ref();
    let exact = exact.map(|one| (one.kind, Number::Exact(one.limit.clone())));
    let (kind, limit) = match &exact {
        Some((kind, limit)) => (kind, limit),
        None => (kind, limit),
    };
    let side = if kind.is_lower() {
        Side::Lower
    } else {
        Side::Upper
    };
    let limit = Limit {
        side,
        strict: kind.is_strict(),
        value: limit,
    };
    let standard = if expanded.k > 0.0 {
        expanded.U / expanded.k
    } else {
        0.0
    };
    let probability = probability_of_conformity(&[limit], value, standard, expanded.nu);
    probability.is_finite().then(|| rounded(probability, 1e6))
}

fn of_place(place: &FoundPlace) -> Option<PlaceJson> {
    let json = PlaceJson {
        at: place.at.as_ref().map(|at| words::distance(at, place.unit)),
        face: place.face.map(words::face),
        from_edge: place
            .from_edge
            .as_ref()
            .map(|edge| words::distance(edge, place.unit)),
    };
    (json.at.is_some() || json.face.is_some() || json.from_edge.is_some()).then_some(json)
}

fn of_settle(settle: &Settle, message: &Message) -> SettleJson {
    let (kind, at_most) = match settle {
        Settle::SmallerUncertainty { at_most, unit } => {
            let number = super::figure::enough_uncertainty(*at_most, *unit);
            (
                "smaller_uncertainty",
                number.map(|number| QuantityJson {
                    number,
                    unit: unit.symbol(),
                }),
            )
        }
        Settle::Measure(_) => ("measure", None),
        Settle::Fill(_) => ("fill_role", None),
        Settle::MorePlaces(_) => ("more_places", None),
        Settle::CloserPlaces => ("closer_places", None),
        Settle::MoreRepeats(_) => ("more_repeats", None),
        Settle::StatePlace => ("state_place", None),
        Settle::Declare(_) => ("declare", None),
        Settle::ShowProof(_) => ("show_proof", None),
        Settle::MeasureAgain(_) => ("measure_again", None),
        Settle::Confirm => ("confirm", None),
        Settle::Look => ("look", None),
        Settle::NameInstrument => ("name_instrument", None),
        Settle::StateUncertainty => ("state_uncertainty", None),
        Settle::GiveLevel => ("give_level", None),
        Settle::ReachFurther => ("reach_further", None),
        Settle::Authority => ("authority", None),
        Settle::BothFlanks => ("both_flanks", None),
        Settle::AsAsked => ("as_asked", None),
        Settle::NamePaper => ("name_paper", None),
    };
    SettleJson {
        kind,
        words: message.settle.clone().unwrap_or_default(),
        at_most,
    }
}

fn source_at(at: &At, tree: Option<&Node<'_>>) -> SourceAt {
    let place = at.line_column();
    SourceAt {
        file: at.file().to_owned(),
        line: place.line,
        column: place.column,
        pointer: tree.map(|tree| pointer::of(tree, at.span)),
    }
}

fn rounded(value: f64, scale: f64) -> f64 {
    (value * scale).round() / scale
}
