//! Field checks of instruments: which readings they stand for, and what has to be said of an instrument.
//!
//! A failed check speaks against every reading since the last good one, and against those that follow until a
//! good one shows that the instrument was put right (common practice: a check against a reference before and
//! after). A reading after the last good check waits for another.

use super::judge::Judge;
use crate::quantity::{DateTime, Exact, show};
use crate::record::{FieldCheck, Instrument, Series, With};
use crate::rules::Stage;

/// Why the checks of an instrument don't stand for a reading.
#[derive(Clone, Copy, Debug)]
pub enum Unsure<'r> {
    /// A check failed, and no good one lies between it and the reading.
    Failed(&'r FieldCheck),
    /// No good check is as late as the reading.
    NoneAfter,
}

/// What the checks of an instrument say against a reading; `None` where they stand for it. Times that are not
/// known well enough to say which came first count as either, but for the good check after a reading, where a
/// day is enough.
pub(super) fn unsure<'r>(instrument: &'r Instrument, at: Option<&DateTime>) -> Option<Unsure<'r>> {
    let good = || instrument.checks.iter().filter(|check| check.is_good());
    let Some(at) = at else {
        // Of no known time: any failed check can be the one beside it.
        let failed = instrument.checks.iter().find(|check| !check.is_good());
        return failed.map(Unsure::Failed);
    };
    let stands_between = |failed: &FieldCheck| {
        good().any(|good| {
            let after = at.not_after(&good.taken) == Some(true)
                && good.taken.before(&failed.taken) == Some(true);
            let before = failed.taken.before(&good.taken) == Some(true)
                && good.taken.not_after(at) == Some(true);
            after || before
        })
    };
    let mut failed = instrument.checks.iter().filter(|check| !check.is_good());
    if let Some(check) = failed.find(|check| !stands_between(check)) {
        return Some(Unsure::Failed(check));
    }
    let late = |check: &FieldCheck| check.taken.before(at) == Some(true);
    good().all(late).then_some(Unsure::NoneAfter)
}

impl<'r> Judge<'r> {
    /// What has to be said of the instrument of a series, at the stages at which it counts.
    pub(super) fn on_instrument(&self, series: &Series, words: &mut Vec<String>) {
        let With::Instrument(slot) = series.with else {
            return;
        };
        let Some(instrument) = self.record.instruments.get(slot) else {
            return;
        };
        match self.eval.setting.stage {
            Stage::SelfCheck => return,
            Stage::Certification | Stage::EventInspection => {}
        }
        let day = series.taken.as_ref().map(|time| time.date);
        let day = day.or(self.record.measured.day);
        let key = &instrument.key;
        let mut add = |one: String| {
            if !words.contains(&one) {
                words.push(one);
            }
        };
        if let Some(calibration) = &instrument.calibration
            && let Some(due) = calibration.due
            && day.unwrap_or(self.eval.setting.day) > due
        {
            add(format!(
                "the calibration of {key} counted until {due}; have it calibrated, and measure again"
            ));
        }
        if instrument.checks.is_empty() {
            if instrument.calibration.is_none() {
                add(format!(
                    "{key} has neither a calibration nor a check against a reference in this record"
                ));
            }
            return;
        }
        let at = series.taken.or(day.map(DateTime::day));
        let last_good = || {
            let good = instrument.checks.iter().filter(|check| check.is_good());
            let before = good.filter(|check| {
                at.as_ref()
                    .is_none_or(|at| check.taken.not_after(at) != Some(false))
            });
            let latest = before.reduce(|a, b| {
                if a.taken.before(&b.taken) == Some(true) {
                    b
                } else {
                    a
                }
            });
            latest.map_or_else(
                || "no good check before it".to_owned(),
                |check| format!("last good check before it: {}", check.taken),
            )
        };
        match unsure(instrument, at.as_ref()) {
            None => {}
            Some(Unsure::Failed(check)) => add(format!(
                "{key} showed {} of {} on {}; {}",
                shown(&check.reading, instrument),
                shown(&check.reference, instrument),
                check.taken,
                last_good()
            )),
            Some(Unsure::NoneAfter) => {
                add(format!(
                    "{key} was not checked after the reading; {}",
                    last_good()
                ));
            }
        }
    }
}

fn shown(value: &Exact, instrument: &Instrument) -> String {
    match instrument.unit {
        Some(unit) => show::with_unit(&show::number(value, unit, None).0, unit),
        None => value.to_decimal(12).0,
    }
}
