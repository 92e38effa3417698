//! What a certificate takes over from the record: instruments with their checks, void readings, remarks.

use std::collections::BTreeSet;

use crate::check::Outcome;
use crate::paper::certificate::Instrument;
use crate::quantity::{DateTime, Exact, Unit, show};
use crate::record::{self, Content, FieldCheck, Found, Place, Series, With};
use crate::report::{self, Message, capital, plain_name};

use super::certificate::Matter;
use super::typeset::typeset;

/// The series on the covered items, with the item and the measure they are of.
fn series<'m>(matter: &Matter<'m>) -> Vec<(usize, String, &'m Series)> {
    let checked = matter.checked;
    let mut all = Vec::new();
    for item in matter.covered {
        let Some(found) = checked.record.items.get(*item) else {
            continue;
        };
        let measures = checked
            .rules
            .vocabulary
            .part(found.part)
            .map_or(&[][..], |part| &part.measures);
        for (measure, measured) in measures.iter().zip(&found.measures) {
            match measured.as_ref().map(|measured| &measured.found) {
                Some(Found::Series(list)) => {
                    all.extend(
                        list.iter()
                            .map(|one| (*item, plain_name(&measure.name.text), one)),
                    );
                }
                Some(Found::Answer(_) | Found::First(_)) | None => {}
            }
        }
    }
    all
}

/// The instruments that gave a reading on a covered item, with the checks around these readings.
pub(super) fn instruments(matter: &Matter<'_>) -> Vec<Instrument> {
    let record = &matter.checked.record;
    let all = series(matter);
    let day = record.measured.day.unwrap_or(matter.checked.day);
    let used: BTreeSet<usize> = all
        .iter()
        .filter_map(|(_, _, series)| match series.with {
            With::Instrument(slot) => Some(slot),
            With::Unnamed | With::Exact => None,
        })
        .collect();
    used.into_iter()
        .filter_map(|slot| Some((slot, record.instruments.get(slot)?)))
        .map(|(slot, one)| {
            let taken: Vec<DateTime> = all
                .iter()
                .filter(|(_, _, series)| series.with == With::Instrument(slot))
                .map(|(_, _, series)| series.taken.unwrap_or(DateTime::day(day)))
                .collect();
            let before = one.checks.iter().rev().find(|check| {
                taken
                    .iter()
                    .all(|reading| check.taken.not_after(reading) != Some(false))
                    && taken.iter().any(|reading| {
                        check.taken.not_after(reading) == Some(true) || reading.minute.is_none()
                    })
            });
            let after = one
                .checks
                .iter()
                .filter(|check| before.is_none_or(|before| check.taken != before.taken))
                .find(|check| {
                    taken
                        .iter()
                        .all(|reading| reading.not_after(&check.taken) != Some(false))
                });
            let said = |check: Option<&FieldCheck>| {
                check.map_or("none stated".to_owned(), |check| {
                    field_check(one, check, day)
                })
            };
            let calibration = one.calibration.as_ref();
            let date = |date: Option<jiff::civil::Date>| {
                date.map_or("not stated".to_owned(), |day| day.to_string())
            };
            Instrument {
                id: one.key.clone(),
                kind: plain_name(&one.kind),
                serial: one
                    .serial
                    .clone()
                    .unwrap_or_else(|| "not stated".to_owned()),
                calibrated: date(calibration.and_then(|one| one.day)),
                due: date(calibration.and_then(|one| one.due)),
                check_before: said(before),
                check_after: said(after),
            }
        })
        .collect()
}

/// `08:40 5.00 → 5.01 mm`; with its day where that is another one.
fn field_check(
    instrument: &record::Instrument,
    check: &FieldCheck,
    day: jiff::civil::Date,
) -> String {
    let unit = instrument.unit.unwrap_or(Unit::PLAIN);
    let step = instrument
        .resolution
        .as_ref()
        .map(|step| unit.difference_from_base(step));
    let decimals = step
        .and_then(|step| step.decimals_needed())
        .and_then(|count| u8::try_from(count).ok());
    let taken = match check.taken.minute {
        Some(_) if check.taken.date == day => check
            .taken
            .to_string()
            .split_once(' ')
            .map_or(String::new(), |(_, time)| time.to_owned()),
        Some(_) | None => check.taken.to_string(),
    };
    let reading = shown(&check.reading, unit, decimals);
    let reference = shown(&check.reference, unit, decimals);
    let alone = reference
        .strip_suffix(unit.symbol())
        .map_or(reference.as_str(), str::trim_end);
    format!("{taken} {}", typeset(&format!("{alone} → {reading}")))
}

/// A reading in its unit: with its decimals, in degrees and minutes where only these come out even, else
/// rounded to seven digits.
fn shown(value: &Exact, unit: Unit, decimals: Option<u8>) -> String {
    let number = unit.from_base(value);
    if number.decimals_needed().is_some() {
        return show::with_unit(&show::number(value, unit, decimals).0, unit);
    }
    let (degrees, sixty) = (number.floor(), Exact::from_integer(60));
    let minutes = number.sub(&degrees).mul(&sixty);
    if unit == Unit::DEG && number.signum() >= 0 && minutes.decimals_needed().is_some() {
        return format!("{degrees} deg {minutes} min");
    }
    show::with_unit(&number.to_decimal(7).0, unit)
}

/// Remarks of the record and its items, readings that do not count, and a later version of the rules.
pub(super) fn notes(matter: &Matter<'_>) -> Vec<String> {
    let record = &matter.checked.record;
    // What there is to know of the rules stands beside them.
    let mut notes = matter.checked.record_notes();
    notes.extend(
        record
            .measured
            .place
            .as_ref()
            .map(|place| format!("Measured at {place}.")),
    );
    // The same remark about several items is said once for all of them.
    let mut alike: Vec<(String, Vec<usize>)> = Vec::new();
    let mut own = Vec::new();
    for (item, measure, series) in series(matter) {
        let name = matter.name(item);
        let mut say = |remark: String| match alike.iter_mut().find(|(said, _)| *said == remark) {
            Some((_, items)) if items.contains(&item) => {}
            Some((_, items)) => items.push(item),
            None => alike.push((remark, vec![item])),
        };
        if series.second {
            let by = series.by.as_deref().unwrap_or("not named");
            say(format!(
                "{measure}: read by a second measurer as well ({by})."
            ));
        }
        if let Some(how) = &series.searched {
            say(format!("{measure}: {how}."));
        }
        let Content::Places(places) = &series.content else {
            continue;
        };
        own.extend(places.iter().flat_map(|place| void(name, &measure, place)));
    }
    notes.extend(
        alike
            .into_iter()
            .map(|(remark, items)| capital(&format!("{}, {remark}", matter.names(&items)))),
    );
    notes.extend(own);
    notes.extend(beside(matter));
    notes.extend(left_out(matter));
    for item in matter.covered {
        let Some(found) = record.items.get(*item) else {
            continue;
        };
        notes.extend(
            found
                .notes
                .iter()
                .map(|note| format!("{}: {note}", matter.name(*item))),
        );
        if let Some(part) = matter.checked.rules.vocabulary.part(found.part) {
            let done = found.work.iter().map(|work| report::work_said(work, part));
            notes.extend(done.map(|words| format!("{}: {words}.", matter.name(*item))));
        }
    }
    notes.extend(record.notes.iter().cloned());
    let mut seen = BTreeSet::new();
    notes.retain(|note| seen.insert(note.clone()));
    notes
}

/// What is told beside a value that conforms: the paper of a first value, how a test under load came back. The
/// same of several findings on an item is said once.
fn beside(matter: &Matter<'_>) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for finding in matter.findings() {
        if finding.outcome != Outcome::Conforms {
            continue;
        }
        let name = matter.labels.short(finding.item);
        for note in &finding.notes {
            let note = format!("{name}: {}.", typeset(note));
            if !said.contains(&note) {
                said.push(note);
            }
        }
    }
    said
}

/// Places at which something was read and to which a rule does not look, once for the sides of a rule.
fn left_out(matter: &Matter<'_>) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for finding in matter.findings() {
        let Some(words) = report::left_out(finding) else {
            continue;
        };
        let message = Message::of(matter.checked, matter.labels, finding);
        let clause = message.clause.unwrap_or_default();
        let note = format!("{}, {clause}: {}.", message.item, typeset(&words));
        if !said.contains(&note) {
            said.push(note);
        }
    }
    said
}

fn void(name: &str, measure: &str, place: &Place) -> Vec<String> {
    let said = |reading: &record::VoidReading| {
        let (number, _) = show::number(&reading.reading.value, reading.reading.unit, None);
        let value = typeset(&show::with_unit(&number, reading.reading.unit));
        format!(
            "{name}, {measure}: the reading {value} does not count, {} ({}).",
            reading.because, reading.by
        )
    };
    let mut notes: Vec<String> = place.void.iter().map(said).collect();
    notes.extend(
        place
            .confirmed_by
            .as_ref()
            .map(|by| format!("{name}, {measure}: an unusual reading was confirmed by {by}.")),
    );
    notes
}
