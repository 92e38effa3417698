//! What a rule asks, in words and numbers of its file.

use crate::quantity::show;
use crate::rules::{
    AfterLastMark, Bound, Demand, Equals, Exchange, Instead, Judged, LimitRow, Limits, MarkLimits,
    MarkRule, Replacement, Rule, RulesFile,
};
use crate::vocabulary::{ChoiceId, PartId, TraitKind};

use super::words;

/// A clause number in the order of people: `E.2.10` after `E.2.9`, `E.2.9a` between them.
pub fn clause_order(clause: &str) -> Vec<(u64, String)> {
    let part = |part: &str| {
        let digits = part.len()
            - part
                .trim_start_matches(|sign: char| sign.is_ascii_digit())
                .len();
        let (number, rest) = part.split_at(digits);
        (number.parse().unwrap_or(0), rest.to_owned())
    };
    clause.split('.').map(part).collect()
}

/// The name of a kind of part.
pub(super) fn part_name(rules: &RulesFile, id: PartId) -> &str {
    rules
        .vocabulary
        .part(id)
        .map_or("part", |part| part.name.text.as_str())
}

/// The limits of a rule, a line for each row.
pub(super) fn limits(rules: &RulesFile, rule: &Rule) -> Vec<String> {
    match &rule.limits {
        Limits::Direct(row) => vec![demand(rules, rule, row)],
        Limits::ByTrait { by, rows, .. } => {
            let traits = rules
                .vocabulary
                .part(rule.applies_to)
                .and_then(|part| part.traits.get(by.index()));
            let choice = |id: ChoiceId| match traits.map(|one| &one.kind) {
                Some(TraitKind::Choice(names)) => {
                    names.get(id.index()).map_or("", |name| name.text.as_str())
                }
                Some(TraitKind::Date | TraitKind::Flag) | None => "",
            };
            rows.iter()
                .map(|(id, row)| format!("{}: {}", choice(*id), demand(rules, rule, row)))
                .collect()
        }
        Limits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(id, row)| format!("{}: {}", level(rules, *id), demand(rules, rule, row)))
            .collect(),
    }
}

fn level(rules: &RulesFile, id: ChoiceId) -> &str {
    rules
        .vocabulary
        .event_levels
        .get(id.index())
        .map_or("", |name| name.text.as_str())
}

/// `at least 4.70 mm, at most 9.00 mm`
pub(super) fn demand(rules: &RulesFile, rule: &Rule, row: &LimitRow) -> String {
    match &row.demand {
        Demand::Bounds(bounds) => bounds.iter().map(bound).collect::<Vec<_>>().join(", "),
        Demand::Equals(equals, _) => equal(rules, rule, equals),
        Demand::None => "no limit".to_owned(),
    }
}

fn bound(bound: &Bound) -> String {
    format!("{} {}", bound.kind.words(), bound.limit.text)
}

fn equal(rules: &RulesFile, rule: &Rule, equals: &Equals) -> String {
    match equals {
        Equals::YesNo(true) => "yes asked".to_owned(),
        Equals::YesNo(false) => "no asked".to_owned(),
        Equals::Count(count) => format!("just {count}"),
        Equals::Choice(id) => {
            let named = match rule.value.yields.kind {
                crate::expression::Type::Choice(part, of) => rules
                    .vocabulary
                    .part(part)
                    .and_then(|part| part.traits.get(of.index()))
                    .and_then(|one| match &one.kind {
                        TraitKind::Choice(names) => {
                            names.get(id.index()).map(|name| name.text.clone())
                        }
                        TraitKind::Date | TraitKind::Flag => None,
                    }),
                _ => None,
            };
            named.unwrap_or_else(|| "a choice".to_owned())
        }
    }
}

/// `if boat.built < 2015-01-01: at least 500 mm, at most 620 mm; built before the width was limited`
pub fn exemption(rules: &RulesFile, rule: &Rule, instead: &Instead) -> String {
    let until = instead
        .until
        .map_or(String::new(), |day| format!("; until {day}"));
    let unproven = if instead.unproven_takes_main {
        "; without proof the main limit counts"
    } else {
        ""
    };
    format!(
        "if {}: {}; {}{until}{unproven}",
        instead.condition.text,
        demand(rules, rule, &instead.row),
        instead.because
    )
}

/// What is measured, where and how often: the value, then places and zones.
pub(super) fn measured(rules: &RulesFile, rule: &Rule) -> Vec<String> {
    let mut said = vec![format!("value {}", rule.value.text)];
    match rule.judged {
        Judged::Unplaced => {}
        Judged::WorstPlace => said.push("each place by itself".to_owned()),
        Judged::Mean => said.push("mean of the places".to_owned()),
    }
    if let Some(places) = &rule.places {
        said.push(match places.at_least {
            1 => "at least 1 place".to_owned(),
            count => format!("at least {count} places"),
        });
        if let Some(spacing) = &places.spacing {
            said.push(format!(
                "no further apart than {} from {} to {}",
                spacing.at_most.as_written(),
                spacing.from.text,
                spacing.to.text
            ));
        }
        if places.repeats > 1 {
            said.push(format!("{} readings at each", places.repeats));
        }
    }
    let zone = |id: crate::vocabulary::ZoneId| {
        let part = rules.vocabulary.part(rule.applies_to);
        let zone = part.and_then(|part| part.zones.get(id.index()));
        zone.map_or(String::new(), |zone| words::plain_name(&zone.name.text))
    };
    if let Some((id, _)) = rule.zone {
        said.push(format!("only in the {}", zone(id)));
    }
    if !rule.outside.is_empty() {
        let zones: Vec<String> = rule.outside.iter().map(|(id, _)| zone(*id)).collect();
        said.push(format!("outside the {}", zones.join(" and the ")));
    }
    said
}

/// The limits on marks, a line for each.
pub(super) fn mark_limits(rules: &RulesFile, mark: &MarkRule) -> Vec<String> {
    let mut said = match &mark.limits {
        MarkLimits::Direct(limit) => vec![format!("at most {}", limit.at_most)],
        MarkLimits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(id, limit)| format!("{}: at most {}", level(rules, *id), limit.at_most))
            .collect(),
    };
    for cap in &mark.of_which {
        said.push(format!(
            "of which {}: at most {}",
            cap.condition.text, cap.limit.at_most
        ));
    }
    said.extend(mark_terms(rules, mark));
    said
}

/// What an entry of `marks` asks beside numbers.
fn mark_terms(rules: &RulesFile, mark: &MarkRule) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(pairs) = &mark.pairs {
        said.push(format!(
            "where {}: {}",
            pairs.condition.text,
            words::pairs(mark, rules)
        ));
    }
    said.extend((0..mark.bring.len()).map(|entry| {
        let bring = words::bring(mark, entry, rules);
        format!("to bring: {bring}")
    }));
    let acts = [
        mark.exchange.map(Exchange::words),
        mark.after_last_mark.map(AfterLastMark::words),
        mark.replacement.map(Replacement::words),
    ];
    let acts = acts.into_iter().flatten();
    said.extend(acts.map(|words| format!("what is marked {words}")));
    said.extend(mark.mark_on.as_ref().map(|on| {
        let on = words::plain_name(&on.text);
        format!("the mark is put on the {on}")
    }));
    said
}

/// A coverage probability as `95 %`.
pub fn per_cent(share: &crate::quantity::Exact) -> String {
    show::fixed_with_unit(share, crate::quantity::Unit::PERCENT, decimals(share))
}

fn decimals(share: &crate::quantity::Exact) -> usize {
    let hundred = crate::quantity::Exact::from_integer(100);
    share.mul(&hundred).decimals_needed().unwrap_or(4).min(4)
}
