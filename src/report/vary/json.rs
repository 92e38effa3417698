//! How a fleet stands as a limit moves, for programs: `rimegauge-vary/1`.

use serde_json::{Value, json};

use crate::fleet::vary::{Counts, MovedLimit, Point, TurnPoint};
use crate::quantity::{Exact, show};

use super::super::impact::json::{broken_by, broken_records, left_out, several};
use super::super::impact::names::Names;
use super::VariedReport;
use super::told::{mild, notes};

/// For programs. Numbers are decimal text with a unit; `exact` says that all digits stand there.
pub fn vary_json(report: &VariedReport<'_>) -> Value {
    let varied = report.varied;
    let limit = &varied.limit;
    let sample = &varied.sample;
    let names = Names::of_sample(sample, report.names);
    json!({
        "format": "rimegauge-vary/1",
        "rules": {
            "class": report.rules.class.text,
            "version": report.rules.version.to_string(),
            "digest": report.rules.digest,
        },
        "rule": limit.rule,
        "clause": limit.clause,
        "part": limit.part,
        "row": limit.row,
        "kind": limit.kind.word(),
        "present": limit.present.as_ref().map(|value| number(value, limit)),
        "proposed": varied.proposed.as_ref().map(|value| number(value, limit)),
        "purpose": report.purpose.word(),
        "level": report.level,
        "notes": notes(report),
        "sample": {
            "records": sample.records,
            "boats": sample.boats,
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
        "items": varied.items,
        "boats": varied.boats,
        "other_row": varied.other_row,
        "not_applicable": varied.not_applicable,
        "do_not_conform_whatever_the_limit": varied.out_whatever,
        "open": varied.open.iter().map(|(reason, count)| json!({ "reason": reason.word(), "count": count })).collect::<Vec<_>>(),
        "limits": varied.points.iter().map(|one| point(one, limit)).collect::<Vec<_>>(),
        "turns": varied.turns.as_ref().map(|turns| turns.iter().map(|one| turn(one, limit)).collect::<Vec<_>>()),
    })
}

fn point(point: &Point, limit: &MovedLimit) -> Value {
    json!({
        "limit": number(&point.limit, limit),
        "items": counts(&point.items),
        "boats": counts(&point.boats),
    })
}

fn turn(turn: &TurnPoint, limit: &MovedLimit) -> Value {
    // Of more digits than nine the last are left out on the mild side: with that limit nothing has turned yet.
    let (shown, whole) = mild(&turn.turn.at, limit, 9);
    let (digits, exact) = show::number(&shown, limit.unit, limit.decimals);
    let exact = exact && whole && turn.turn.exact;
    json!({
        "limit": { "number": digits, "unit": limit.unit.symbol(), "exact": exact },
        "limit_itself_still_holds": turn.turn.itself,
        "items_conform_up_to_here": turn.conform_up_to,
        "items_not_known_not_to_conform_up_to_here": turn.bearable_up_to,
        "boats_conform_up_to_here": turn.boats_conform_up_to,
        "items_beyond": counts(&turn.items_beyond),
        "boats_beyond": counts(&turn.boats_beyond),
    })
}

fn counts(counts: &Counts) -> Value {
    json!({
        "conforms": counts.conforms,
        "in_doubt": counts.in_doubt,
        "does_not_conform": counts.does_not_conform,
        "never_measured": counts.never_measured,
        "open": counts.open,
    })
}

fn number(value: &Exact, limit: &MovedLimit) -> Value {
    let (number, exact) = show::number(value, limit.unit, limit.decimals);
    json!({ "number": number, "unit": limit.unit.symbol(), "exact": exact })
}
