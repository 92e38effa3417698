//! What a change does to a fleet, for programs: `fleet` of `rimegauge-comparison/1`.

use serde_json::{Value, json};

use crate::fleet::UnusableRecords;
use crate::fleet::impact::{Case, LeftOut, LimitImpact, Moves, RuleImpact, Several, Stand};
use crate::quantity::{Exact, Number, Unit, show};

use super::super::figure::printable;
use super::super::json::number;
use super::Fleet;
use super::limit::row_word;
use super::names::Names;
use super::others;
use super::said;

/// What a change does to a fleet, for programs. Counts of the first line are items, and boats where they say so.
pub fn impact_json(fleet: &Fleet<'_>) -> Value {
    let impact = fleet.impact;
    let sample = &impact.sample;
    let names = Names::of(impact, fleet.names);
    json!({
        "boats": impact.boats.total(),
        "items": impact.items.total(),
        "newly_illegal": impact.items.newly_illegal(),
        "newly_legal": impact.items.newly_legal(),
        "within_uncertainty": impact.within_uncertainty,
        "never_measured": impact.never_measured,
        "purpose": fleet.purpose.word(),
        "level": fleet.level,
        "notes": said::not_in_force(fleet).into_iter().chain(said::measured_later(sample)).collect::<Vec<_>>(),
        "named": names.shown(),
        "sample": {
            "records": sample.records,
            "boats": sample.boats,
            "items": sample.items.iter().map(|(part, count)| json!({ "part": part, "count": count })).collect::<Vec<_>>(),
            "broken": sample.broken,
            "broken_by": broken_by(&sample.unusable),
            "broken_records": broken_records(&sample.unusable),
            "old_names": sample.old_names,
            "left_out": left_out(&sample.left_out),
            "put_together": sample.put_together,
            "superseded": sample.superseded,
            "copies": sample.copies,
            "several": sample.several.iter().map(|one| several(&names, one)).collect::<Vec<_>>(),
            "measured": sample.measured.map(|(first, last)| json!({ "first": first.to_string(), "last": last.to_string() })),
            "measured_later": sample.measured_later,
            "on": sample.on.map(|day| day.to_string()),
            "not_before": sample.not_before.map(|day| day.to_string()),
        },
        "boat_moves": moves(&impact.boats),
        "item_moves": moves(&impact.items),
        "by_part": impact.parts.iter().map(|(part, of)| {
            json!({ "part": part, "moves": moves(of) })
        }).collect::<Vec<_>>(),
        "by_rule": impact.rules.iter().map(|one| rule(&names, one)).collect::<Vec<_>>(),
        "by_year": impact.years.iter().map(|(year, of)| {
            json!({ "year": year, "moves": moves(of) })
        }).collect::<Vec<_>>(),
    })
}

/// How many records can't be used, by why.
pub(in crate::report) fn broken_by(records: &UnusableRecords) -> Value {
    let by = records.by.iter();
    let by = by.map(|(why, count)| json!({ "why": why.word(), "count": count }));
    Value::Array(by.collect())
}

/// The first records that can't be used: where, and what is wrong first. They name no boat and are told as on standard
/// error, whoever is named.
pub(in crate::report) fn broken_records(records: &UnusableRecords) -> Value {
    let first = records.first.iter().map(|one| {
        let line = (one.line > 0).then_some(one.line);
        json!({
            "source_at": { "file": one.file, "line": line, "column": one.column },
            "why": one.why.word(),
            "code": one.code,
            "message": one.message,
            "help": one.help,
            "faults": one.faults,
        })
    });
    Value::Array(first.collect())
}

/// Where things stood and would stand: the three counts that are asked for most, and all nine.
fn moves(moves: &Moves) -> Value {
    let from = |old: Stand| {
        let to = Stand::ALL.into_iter();
        let to = to.map(|new| (new.word().to_owned(), json!(moves.count(old, new))));
        Value::Object(to.collect())
    };
    let all = Stand::ALL.into_iter();
    json!({
        "total": moves.total(),
        "newly_illegal": moves.newly_illegal(),
        "newly_legal": moves.newly_legal(),
        "newly_open": moves.count(Stand::Conforms, Stand::NotDecided),
        "from_to": Value::Object(all.map(|old| (old.word().to_owned(), from(old))).collect()),
    })
}

pub(in crate::report) fn several(names: &Names, one: &Several) -> Value {
    let records = one.records.iter().map(|(file, line, day)| {
        let at = names.shown().then(|| json!({ "file": file, "line": line }));
        json!({ "day": day.to_string(), "source_at": at })
    });
    json!({
        "boat": names.boat(&one.sail_number),
        "records": records.collect::<Vec<_>>(),
        "same_day": one.same_day,
        "copies": one.copies,
    })
}

fn rule(names: &Names, rule: &RuleImpact) -> Value {
    let (in_old, in_new) = rule.in_versions;
    json!({
        "rule": rule.rule,
        "clause": rule.clause,
        "title": rule.title,
        "part": rule.part,
        "in_old": in_old,
        "in_new": in_new,
        "moves": moves(&rule.moves),
        "open_as_before": rule.open_as_before,
        "open": rule.open.iter().map(|(reason, count)| json!({ "reason": reason.word(), "count": count })).collect::<Vec<_>>(),
        "within_uncertainty": rule.within_uncertainty,
        "never_measured": rule.never_measured,
        "others": rule.others.iter().map(|one| others::json(names, rule, one)).collect::<Vec<_>>(),
        "opened": rule.opened.iter().map(|one| others::json(names, rule, one)).collect::<Vec<_>>(),
        "limits": rule.limits.iter().map(|one| limit(names, rule, one)).collect::<Vec<_>>(),
    })
}

fn limit(names: &Names, rule: &RuleImpact, limit: &LimitImpact) -> Value {
    let unit = limit.unit;
    let bound = |value: &Exact, (unit, decimals): (Unit, Option<u8>)| {
        let (text, exact) = show::number(value, unit, decimals);
        json!({ "kind": limit.kind.word(), "number": text, "unit": unit.symbol(), "exact": exact })
    };
    let written = (unit, limit.decimals);
    let was = limit.old_written.unwrap_or(written);
    let margins = &limit.margins;
    json!({
        "row": row_word(limit.row),
        "name": limit.row_name,
        "old": limit.old.as_ref().map(|old| bound(old, was)),
        "new": limit.new.as_ref().map(|new| bound(new, written)),
        "mean_uncertainty_near": limit.typical_u.and_then(|u| spread(u, unit)),
        "margins": {
            "width": width(margins.width, unit),
            "first": margins.first,
            "counts": margins.counts,
            "below": margins.beyond.0,
            "above": margins.beyond.1,
        },
        "worst": limit.worst.iter().map(|one| case(names, rule, limit, one)).collect::<Vec<_>>(),
    })
}

fn case(names: &Names, rule: &RuleImpact, limit: &LimitImpact, case: &Case) -> Value {
    let unit = limit.unit;
    let (text, exact) = number(&case.value, unit, case.decimals);
    let at = names
        .shown()
        .then(|| json!({ "file": case.at.0, "line": case.at.1 }));
    json!({
        "boat": names.boat(&case.sail_number),
        "item": names.item(case, &rule.part),
        "source_at": at,
        "day": case.day.to_string(),
        "before": case.before.word(),
        "value": { "number": text, "unit": unit.symbol(), "exact": exact },
        "expanded_uncertainty": case.u.and_then(|u| spread(u, unit)),
        "margin": margin(&case.margin, unit),
    })
}

fn margin(margin: &Number, unit: Unit) -> Value {
    let text = match printable(margin) {
        Some(exact) => show::difference(&exact, unit, None).0,
        None => "not known".to_owned(),
    };
    json!({ "number": text, "unit": unit.symbol() })
}

fn spread(size: f64, unit: Unit) -> Option<Value> {
    let zero = Number::Exact(Exact::ZERO);
    let number = show::uncertain(&zero, size, unit, None).uncertainty?;
    Some(json!({ "number": number, "unit": unit.symbol() }))
}

/// The width of a bin: a round number that floating point may have spoiled in its last digit.
fn width(width: f64, unit: Unit) -> Value {
    let exact = super::bins::round_width(width, unit);
    json!({ "number": exact.to_decimal(12).0, "unit": unit.symbol() })
}

/// Keys of records that the rules do not know.
pub(in crate::report) fn left_out(left_out: &LeftOut) -> Value {
    json!({ "records": left_out.records, "keys": left_out.keys })
}
