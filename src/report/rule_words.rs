//! What a rule asks, in words and numbers of its file.

use crate::quantity::show;
use crate::rules::{
    AfterLastMark, Bound, Column, Demand, Equals, Exchange, Instead, Judged, LimitRow, Limits,
    MarkLimits, MarkRule, OptionRow, Options, Replacement, Rule, RulesFile, Within,
};
use crate::vocabulary::{ChoiceId, PartId, TraitId};

use super::sentence::{Wording, rule_table};
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
            let part = rule.applies_to;
            rows.iter()
                .map(|(id, row)| {
                    let choice = choice(rules, part, *by, *id);
                    format!("{choice}: {}", demand(rules, rule, row))
                })
                .collect()
        }
        Limits::ByTraits { by, rows, .. } => rows
            .iter()
            .map(|(ids, row)| {
                let choices = by
                    .iter()
                    .zip(ids)
                    .map(|(by, id)| choice(rules, rule.applies_to, *by, *id));
                let choices: Vec<&str> = choices.collect();
                format!("{}: {}", choices.join(", "), demand(rules, rule, row))
            })
            .collect(),
        Limits::ByZone { rows, .. } => rows
            .iter()
            .map(|(id, row)| {
                let zone = match id {
                    Some(id) => format!("in the {}", zone(rules, rule, *id)),
                    None => "elsewhere".to_owned(),
                };
                format!("{zone}: {}", demand(rules, rule, row))
            })
            .collect(),
        Limits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(id, row)| format!("{}: {}", level(rules, *id), demand(rules, rule, row)))
            .collect(),
    }
}

/// The word of a choice of a trait.
pub(super) fn choice(rules: &RulesFile, part: PartId, of: TraitId, id: ChoiceId) -> &str {
    let part = rules.vocabulary.part(part);
    let names = part
        .and_then(|part| part.traits.get(of.index()))
        .map_or(&[][..], |one| one.kind.names());
    names.get(id.index()).map_or("", |name| name.text.as_str())
}

fn zone(rules: &RulesFile, rule: &Rule, id: crate::vocabulary::ZoneId) -> String {
    let part = rules.vocabulary.part(rule.applies_to);
    let zone = part.and_then(|part| part.zones.get(id.index()));
    zone.map_or(String::new(), |zone| words::plain_name(&zone.name.text))
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
        Demand::Only(choices, _) => format!("only {}", listed(rules, rule, choices)),
        Demand::Without(choices, _) => format!("without {}", listed(rules, rule, choices)),
        Demand::Options(options) => option_words(options),
        Demand::None => "no limit".to_owned(),
    }
}

fn bound(bound: &Bound) -> String {
    let limit = format!("{} {}", bound.kind.words(), bound.limit.text);
    match &bound.rounded {
        Some(rounded) => format!("{limit}, rounded to {}", rounded.to.as_written()),
        None => limit,
    }
}

/// `one of t25: flange_width 25 mm, stem_height 25 mm; t30: …; within 10 %`
fn option_words(options: &Options) -> String {
    let row = |row: &OptionRow| {
        let columns = options.columns.iter().zip(&row.values);
        let columns = columns.map(|(column, (value, _))| {
            format!(
                "{} {}",
                words::plain_name(&column.value.text),
                value.as_written()
            )
        });
        format!(
            "{}: {}",
            words::plain_name(&row.name.text),
            columns.collect::<Vec<_>>().join(", ")
        )
    };
    let rows: Vec<String> = options.rows.iter().map(row).collect();
    let same = options
        .columns
        .windows(2)
        .all(|pair| matches!(pair, [a, b] if a.within == b.within));
    let within = |column: &Column| match column.within {
        Within::Exactly => "exactly".to_owned(),
        Within::Share(_) | Within::Distance(_) => format!("within {}", column.within.as_written()),
    };
    let nearness = if same {
        options.columns.first().map(within).unwrap_or_default()
    } else {
        let each = options.columns.iter().map(|column| {
            format!(
                "{} {}",
                words::plain_name(&column.value.text),
                within(column)
            )
        });
        each.collect::<Vec<_>>().join(", ")
    };
    format!("one of {}; {nearness}", rows.join("; "))
}

/// `wood, epoxy`
fn listed(rules: &RulesFile, rule: &Rule, choices: &[ChoiceId]) -> String {
    use crate::expression::Type;
    let (Type::Choice(part, of) | Type::AnyOf(part, of)) = rule.value.yields.kind else {
        return String::new();
    };
    let words = choices.iter().map(|id| choice(rules, part, of, *id));
    words.collect::<Vec<_>>().join(", ")
}

fn equal(rules: &RulesFile, rule: &Rule, equals: &Equals) -> String {
    match equals {
        Equals::YesNo(true) => "yes asked".to_owned(),
        Equals::YesNo(false) => "no asked".to_owned(),
        Equals::Count(count) => format!("just {count}"),
        Equals::Choice(id) => {
            let named = match rule.value.yields.kind {
                crate::expression::Type::Choice(part, of) => choice(rules, part, of, *id),
                _ => "",
            };
            if named.is_empty() { "a choice" } else { named }.to_owned()
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
    let options = match &rule.limits {
        Limits::Direct(row) => match &row.demand {
            Demand::Options(options) => Some(options),
            _ => None,
        },
        _ => None,
    };
    let mut said = vec![match options {
        Some(options) => {
            let columns = options.columns.iter().map(|one| one.value.text.as_str());
            format!("values {}", columns.collect::<Vec<_>>().join(", "))
        }
        None => format!("value {}", rule.value.text),
    }];
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
    if let Some((id, _)) = rule.zone {
        said.push(format!("only in the {}", zone(rules, rule, id)));
    }
    if !rule.outside.is_empty() {
        let zones: Vec<String> = rule
            .outside
            .iter()
            .map(|(id, _)| zone(rules, rule, *id))
            .collect();
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

/// The limits of a rule that has a row for each zone, in one text: `between -80 mm and 80 mm from 60 mm to 110 mm;
/// elsewhere from 25 mm to 110 mm`.
pub fn limits_by_zone(rules: &RulesFile, rule: &Rule) -> Option<String> {
    let Limits::ByZone { .. } = &rule.limits else {
        return None;
    };
    let table = rule_table(&Wording::of(rules), rule)?;
    let rows = table.rows.into_iter();
    let rows = rows.map(|(zone, limits)| format!("{zone} {}", limits.text()));
    Some(rows.collect::<Vec<_>>().join("; "))
}
