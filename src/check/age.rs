//! Whether what was measured still counts: its age, and work done since; and how a load test was set up.

use super::reading::Readings;
use super::value::Evidence;
use crate::quantity::{Date, days_between};
use crate::record::{FirstValue, Item, LoadTest, Work};
use crate::vocabulary::{Alteration, Measure, MeasureId, TestSetup};

impl<'r> Readings<'r> {
    /// What a reading of a day lacks for its age.
    pub fn age(
        &self,
        (item, slot): (&Item, MeasureId),
        measure: &Measure,
        day: Option<Date>,
    ) -> Evidence {
        let fresh = match (measure.fresh_for_days, day) {
            (Some(days), Some(day)) if day == self.day => days >= 0,
            (Some(days), Some(day)) => days_between(day, self.day) <= days,
            // Nobody can tell the age of what has no day.
            (Some(_), None) => false,
            (None, _) => true,
        };
        let mut evidence = if fresh {
            Evidence::GOOD
        } else {
            Evidence::STALE
        };
        if !item.work.is_empty() && self.work_since((item, slot), day).is_some() {
            evidence = evidence.and(Evidence::ALTERED);
        }
        evidence
    }

    /// The last work on an item that came after a reading of a day and asks for the measure again. Where the
    /// reading has no day, nobody can tell that it came after. Work of the same day came before.
    pub fn work_since(
        &self,
        (item, slot): (&Item, MeasureId),
        day: Option<Date>,
    ) -> Option<&'r Work> {
        self.work_that(item, day, |does| does.asks_again(slot))
    }

    /// The last work on an item that made it a new one after a first value of a day.
    pub fn renewed_since(&self, item: &Item, day: Option<Date>) -> Option<&'r Work> {
        self.work_that(item, day, |does| does.new_item)
    }

    fn work_that(
        &self,
        item: &Item,
        day: Option<Date>,
        does: impl Fn(&Alteration) -> bool,
    ) -> Option<&'r Work> {
        let own = self.record.items.iter();
        let own = own.into_iter().find(|one| std::ptr::eq(*one, item))?;
        let kinds = &self.vocabulary.part(item.part)?.alterations;
        let later = own.work.iter().filter(|work| {
            let kind = work.alteration.and_then(|id| kinds.get(id.index()));
            kind.is_some_and(&does) && day.is_none_or(|day| work.day > day)
        });
        later.max_by_key(|work| work.day)
    }

    /// What a first value lacks.
    pub fn of_first_value(&self, item: &Item, first: &FirstValue, measure: &Measure) -> Evidence {
        let mut evidence = Evidence::GOOD;
        // No paper can show on the day of the check what is fixed on a later one.
        if first.paper.is_none() || first.day.is_some_and(|day| day > self.day) {
            evidence = evidence.and(Evidence::NO_PAPER);
        }
        if !item.work.is_empty() && self.renewed_since(item, first.day).is_some() {
            evidence = evidence.and(Evidence::ALTERED);
        }
        if first.confirmed_by.is_none() && super::reading::implausible(&first.reading, measure) {
            evidence = evidence.and(Evidence::IMPLAUSIBLE);
        }
        evidence
    }
}

/// What differs between a test and what the class asks, in words; nothing where it is as asked. What an exact
/// test of a case does not say is as asked.
pub(super) fn set_up_otherwise(test: &LoadTest, asked: &TestSetup, exact: bool) -> Vec<String> {
    use crate::quantity::show;
    let length = |value, unit| {
        let number = show::number(value, unit, None).0;
        show::with_unit(&number, unit)
    };
    let mut found = Vec::new();
    let span = length(&asked.span, asked.unit);
    match &test.apart {
        Some(apart) if apart.value == asked.span => {}
        Some(apart) => {
            let was = length(&apart.value, apart.unit);
            found.push(format!("the supports stood {was} apart, not {span}"));
        }
        None if exact => {}
        None => found.push(format!(
            "it is not said that the supports stood {span} apart"
        )),
    }
    let wanted = asked.supports.words();
    match test.supports {
        Some(supports) if supports == asked.supports => {}
        Some(supports) => found.push(format!("it lay on {}, not on {wanted}", supports.words())),
        None if exact => {}
        None => found.push(format!("it is not said that it lay on {wanted}")),
    }
    found
}
