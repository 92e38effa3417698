//! Remarks on a record that belong to no single finding: what work did to its parts, days after the check.

use jiff::civil::Date;

use crate::record::{Found, Item, Work};
use crate::vocabulary::Part;

use super::checked::Checked;
use super::words::plain_name;

/// Readings of a later day that are named; of more there is only a count.
const NAMED: usize = 2;

/// What work did to an item and its papers, in the order of the record; what only asks for readings again is
/// said of those.
fn work_done(item: &Item, part: &Part) -> Vec<String> {
    let effect = |work: &Work| Some(format!("{} {}", done(work), effect(work, part)?));
    item.work.iter().filter_map(effect).collect()
}

/// Work with its day, and what it did to the item and its papers if it did anything.
pub fn work_said(work: &Work, part: &Part) -> String {
    match effect(work, part) {
        Some(effect) => format!("{} {effect}", done(work)),
        None => done(work),
    }
}

/// `stiffener changed on 2027-09-25`
fn done(work: &Work) -> String {
    format!("{} on {}", plain_name(&work.did), work.day)
}

/// What work did, in the words that follow it.
fn effect(work: &Work, part: &Part) -> Option<String> {
    let kind = part.alterations.get(work.alteration?.index())?;
    if kind.new_item {
        let name = plain_name(&part.name.text);
        Some(format!(
            "made it a new {name}: readings, first values and papers from before are another's"
        ))
    } else if kind.ends_certificate {
        Some("ended the certificate from before".to_owned())
    } else {
        None
    }
}

/// The same of every item, each with its path in the record.
pub(super) fn all_work(checked: &Checked) -> Vec<String> {
    let mut notes = Vec::new();
    for item in checked
        .record
        .items
        .iter()
        .filter(|one| !one.work.is_empty())
    {
        let Some(part) = checked.rules.vocabulary.part(item.part) else {
            continue;
        };
        let done = work_done(item, part).into_iter();
        notes
            .extend(done.map(|words| format!("{}: {words}", item.path(&checked.rules.vocabulary))));
    }
    notes
}

/// Readings, answers, first values and work of a later day than the check: one of the two days may be wrong.
pub(super) fn later_days(checked: &Checked) -> Option<String> {
    let record = &checked.record;
    if let Some(day) = record.measured.day.filter(|day| *day > checked.day) {
        return Some(format!(
            "measured on {day}, after the day of the check, {}",
            checked.day
        ));
    }
    let mut later: Vec<String> = Vec::new();
    for item in &record.items {
        let part = checked.rules.vocabulary.part(item.part);
        let mut add = |what: &str, day: Date| {
            later.push(format!(
                "{} {what} on {day}",
                item.path(&checked.rules.vocabulary)
            ));
        };
        let measures = part.map_or(&[][..], |part| &part.measures);
        for (measure, measured) in measures.iter().zip(&item.measures) {
            let Some(measured) = measured else { continue };
            let last = match &measured.found {
                Found::Series(series) => {
                    let taken = series.iter().filter_map(|one| one.taken.as_ref());
                    taken.map(|time| time.date).max()
                }
                Found::Answer(answer) => answer.day,
                Found::First(first) => first.day,
            };
            if let Some(day) = last.filter(|day| *day > checked.day) {
                add(&plain_name(&measure.name.text), day);
            }
        }
        for work in item.work.iter().filter(|work| work.day > checked.day) {
            add(&plain_name(&work.did), work.day);
        }
    }
    let more = later.len().saturating_sub(NAMED);
    later.truncate(NAMED);
    if more > 0 {
        later.push(format!("{more} more"));
    }
    (!later.is_empty()).then(|| {
        format!(
            "of a later day than the check, {}: {}",
            checked.day,
            later.join("; ")
        )
    })
}
