//! What has to be said of the measures behind a finding: who chose between series, what paper says a first
//! value, work that came after a reading, a test that was set up otherwise.

use super::age::set_up_otherwise;
use super::draft::Draft;
use super::judge::{Judge, expressions};
use crate::expression::{Node, Op};
use crate::quantity::{Date, show};
use crate::record::{Content, Found, Measured, Series, With, Work};
use crate::rules::Rule;
use crate::vocabulary::{Measure, MeasureId};

impl<'r> Judge<'r> {
    /// Adds what has to be said of the measures that a rule asks for on an item.
    pub(super) fn remark(&mut self, rule: &'r Rule, at: usize, drafts: &mut [Draft]) {
        if !self.full() || drafts.is_empty() {
            return;
        }
        let mut asked = Vec::new();
        for expression in expressions(rule) {
            self.measures_of(&expression.root, at, &mut asked);
        }
        let mut said = self.ends_told(rule, at, &mut asked);
        for (item, slot) in asked {
            self.remarks_on(item, slot, at, &mut said);
        }
        for draft in drafts {
            draft.tell(|told| {
                for one in &said {
                    if !told.notes.contains(one) {
                        told.notes.push(one.clone());
                    }
                }
            });
        }
    }

    /// The measures of an expression, each with its item, once.
    fn measures_of(&self, node: &Node, own: usize, found: &mut Vec<(usize, MeasureId)>) {
        match &node.op {
            Op::Measure(scope, slot) => {
                if let Ok((at, _)) = self.eval.item(*scope, own)
                    && !found.contains(&(at, *slot))
                {
                    found.push((at, *slot));
                }
            }
            Op::Derived(scope, slot) => {
                if let Ok((at, item)) = self.eval.item(*scope, own)
                    && let Some(expression) = self.rules.derived_value(item.part, *slot)
                {
                    self.measures_of(&expression.root, at, found);
                }
            }
            Op::Count { over, .. } | Op::Sum { over, .. } => {
                for at in self.eval.items_of(*over) {
                    for child in node.children() {
                        self.measures_of(child, at, found);
                    }
                }
            }
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Trait(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. }
            | Op::Negate(_)
            | Op::Truth(_)
            | Op::Not(_)
            | Op::IsChoice { .. }
            | Op::Arithmetic(..)
            | Op::Compare(..)
            | Op::IsSame { .. }
            | Op::And(_)
            | Op::Or(_)
            | Op::Call(..) => {
                for child in node.children() {
                    self.measures_of(child, own, found);
                }
            }
        }
    }

    fn remarks_on(&self, at: usize, slot: MeasureId, own: usize, said: &mut Vec<String>) {
        let Some(item) = self.record.items.get(at) else {
            return;
        };
        let part = self.rules.vocabulary.part(item.part);
        let measure = part.and_then(|part| part.measures.get(slot.index()));
        let measured = item.measures.get(slot.index()).and_then(Option::as_ref);
        let (Some(measure), Some(measured)) = (measure, measured) else {
            return;
        };
        let name = plain_name(&measure.name.text);
        let name = match &item.id {
            Some(id) if at != own => format!("{id}, {name}"),
            Some(_) | None => name,
        };
        let mut words = Vec::new();
        let of = (at, slot);
        match &measured.found {
            Found::Series(series) => self.on_series(of, measure, measured, series, &mut words),
            Found::Answer(answer) => {
                let day = answer.day.or(self.record.measured.day);
                self.on_age(of, day, "answered", &mut words);
            }
            Found::First(first) => {
                let unit = first.reading.unit;
                let decimals = self.eval.readings.decimals(&first.reading);
                let value = show::number(&first.reading.value, unit, decimals).0;
                let mut origin = format!("first value {}", show::with_unit(&value, unit));
                if let Some(day) = first.day {
                    origin.push_str(&format!(" of {day}"));
                }
                match &first.paper {
                    Some(paper) => origin.push_str(&format!(", by {paper}")),
                    None => origin.push_str(", by no paper that is named"),
                }
                words.push(origin);
                if let Some(work) = self.eval.readings.renewed_since(item, first.day) {
                    let since = did(work);
                    words.push(format!(
                        "{since} made it a new one, so that this is another's"
                    ));
                }
            }
        }
        said.extend(words.into_iter().map(|one| format!("{name}: {one}")));
    }

    fn on_series(
        &self,
        of: (usize, MeasureId),
        measure: &Measure,
        measured: &Measured,
        series: &[Series],
        words: &mut Vec<String>,
    ) {
        if let Some(chosen) = &measured.chosen {
            let whose = series.get(chosen.series).and_then(|one| one.by.as_deref());
            let whose = whose.or(self.record.measured.by.as_deref());
            let whose = whose.map_or(String::new(), |by| format!(", by {by}"));
            words.push(format!(
                "{} chose series {} of {}{whose}: {}",
                chosen.by,
                chosen.series + 1,
                series.len(),
                chosen.because
            ));
        }
        for one in series {
            let day = one.taken.as_ref().map(|time| time.date);
            self.on_age(of, day.or(self.record.measured.day), "read", words);
            self.on_instrument(one, words);
            if let (Content::LoadTest(test), Some(asked)) = (&one.content, &measure.setup) {
                let otherwise = set_up_otherwise(test, asked, one.with == With::Exact);
                words.extend(
                    otherwise
                        .into_iter()
                        .filter(|one| !words.contains(one))
                        .collect::<Vec<_>>(),
                );
            }
        }
    }

    /// Work that asks for a measure again after it was read, and days after the day of the check.
    fn on_age(
        &self,
        (at, slot): (usize, MeasureId),
        day: Option<Date>,
        verb: &str,
        words: &mut Vec<String>,
    ) {
        let Some(item) = self.record.items.get(at) else {
            return;
        };
        let mut add = |one: String| {
            if !words.contains(&one) {
                words.push(one);
            }
        };
        if let Some(work) = self.eval.readings.work_since((item, slot), day) {
            let done = did(work);
            add(match day {
                Some(day) => format!("{verb} on {day}; {done}"),
                None => format!("{verb} on a day that is not said; {done} asks for it again"),
            });
        }
    }
}

/// A name as people read it.
fn plain_name(name: &str) -> String {
    name.replace('_', " ")
}

/// `sharpened on 2026-10-03`.
fn did(work: &Work) -> String {
    format!("{} on {}", plain_name(&work.did), work.day)
}
