//! A limit and the values near it, in words.

use crate::check::RowRef;
use crate::fleet::impact::{Case, LimitImpact, LimitText, RuleImpact};
use crate::quantity::{Exact, Number, Unit, show};

use super::super::figure;
use super::super::parts::{Fractions, margin_words};
use super::super::words::{capital, plain_name};
use super::Fleet;
use super::names::Names;

/// A quantity in base units as a class would write it: `4.70 mm`.
pub(super) fn amount(value: &Exact, limit: &LimitImpact) -> String {
    if let Some(text) = as_the_file(value, limit.texts.1.as_ref()) {
        return text;
    }
    let rounded = figure::limit(&Number::Exact(value.clone()), limit.unit, limit.decimals);
    show::with_unit(&rounded.number, limit.unit)
}

/// The old limit as the old version writes it: `800 mm`, where the new one may say metres.
pub(super) fn was(value: &Exact, limit: &LimitImpact) -> String {
    if let Some(text) = as_the_file(value, limit.texts.0.as_ref()) {
        return text;
    }
    let (unit, decimals) = limit.old_written.unwrap_or((limit.unit, limit.decimals));
    let rounded = figure::limit(&Number::Exact(value.clone()), unit, decimals);
    show::with_unit(&rounded.number, unit)
}

/// A limit as its file has it, where a decimal number would be another one: a fraction (`5/16 in`), or one that values are
/// rounded for (`3/8 in when rounded to 1/64 in`).
fn as_the_file(value: &Exact, text: Option<&LimitText>) -> Option<String> {
    let LimitText { text, rounded_to } = text?;
    if let Some(step) = rounded_to {
        return Some(format!("{text} when rounded to {step}"));
    }
    let found = Fractions::read(text).filter(|found| found.value == *value)?;
    Some(found.as_written())
}

/// Which row: `insert`; nothing where there is a single one.
pub(super) fn row(limit: &LimitImpact) -> Option<String> {
    let named = limit.row_name.as_deref().map(plain_name);
    match limit.row {
        RowRef::Main(_) => named,
        RowRef::Exemption(at) => Some(named.unwrap_or_else(|| format!("exemption {}", at + 1))),
        RowRef::Zone => Some(named.unwrap_or_else(|| "by zone".to_owned())),
    }
}

/// The word of a row in JSON.
pub(super) fn row_word(row: RowRef) -> &'static str {
    match row {
        RowRef::Main(_) => "main",
        RowRef::Exemption(_) => "exemption",
        RowRef::Zone => "zone",
    }
}

/// What the limit was and is: `Insert: at least 4.70 mm, and is to be at least 4.80 mm`.
pub(super) fn both(fleet: &Fleet<'_>, limit: &LimitImpact) -> String {
    let bound = limit.kind.words();
    let (old, new) = (fleet.old, fleet.new);
    let said = match (&limit.old, &limit.new) {
        (Some(before), Some(is)) if before == is && was(before, limit) == amount(is, limit) => {
            format!("{bound} {}, as before", amount(is, limit))
        }
        (Some(before), Some(is)) => format!(
            "{bound} {} under {old}, {bound} {} under {new}{}",
            was(before, limit),
            amount(is, limit),
            if before == is {
                ", which is the same"
            } else {
                ""
            }
        ),
        (None, Some(is)) => {
            format!(
                "{bound} {} under {new}, no such limit under {old}",
                amount(is, limit)
            )
        }
        (Some(before), None) => format!(
            "{bound} {} under {old}, {bound} a computed value under {new}",
            was(before, limit)
        ),
        (None, None) => format!("{bound} a computed value"),
    };
    match row(limit) {
        Some(row) => format!("{}: {said}", capital(&row)),
        None => capital(&said),
    }
}

/// A difference of so many base units, to two digits: `0.020 mm`.
pub(super) fn spread(size: f64, unit: Unit) -> Option<String> {
    let zero = Number::Exact(Exact::ZERO);
    let number = show::uncertain(&zero, size, unit, None).uncertainty?;
    Some(show::with_unit(&number, unit))
}

/// How many values lie beyond the limit, and how many on it or inside.
pub(super) fn sides(limit: &LimitImpact) -> (u64, u64) {
    let margins = &limit.margins;
    let mut beyond = margins.beyond.0;
    let mut inside = margins.beyond.1;
    for (at, count) in (margins.first..).zip(&margins.counts) {
        match at < 0 {
            true => beyond += count,
            false => inside += count,
        }
    }
    (beyond, inside)
}

/// A value as it is told: `4.62 ± 0.02 mm`, and its margin: `short by 0.18 mm`.
pub(super) fn figures(case: &Case, limit: &LimitImpact) -> (String, String) {
    let unit = limit.unit;
    let value = figure::value(&case.value, case.u, unit, case.decimals);
    let number = match &value.uncertainty {
        Some(uncertainty) => format!("{} ± {uncertainty}", value.number),
        None => value.number.clone(),
    };
    let mut said = show::with_unit(&number, unit);
    if case.u.is_none() {
        said.push_str(", U not known");
    }
    let least = limit.decimals.map_or(0, usize::from);
    let margin = margin_words(&case.margin, limit.kind, unit, value.decimals, least);
    (said, margin.text())
}

/// A case in a sentence.
pub(super) fn case(
    fleet: &Fleet<'_>,
    names: &Names,
    rule: &RuleImpact,
    limit: &LimitImpact,
    case: &Case,
) -> String {
    let (value, margin) = figures(case, limit);
    let place = match names.shown() {
        true => format!(", {}:{}", case.at.0, case.at.1),
        false => String::new(),
    };
    format!(
        "{}: {value}, {margin}; under {}: {}; measured on {}{place}",
        names.case(case, &rule.part),
        fleet.old,
        case.before.words(),
        case.day
    )
}
