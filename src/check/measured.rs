//! Single values of an item with their uncertainty, for papers that list what was measured.

use super::finding::FoundValue;
use super::judge::Judge;
use super::plan::{Context, Plan};
use super::value::Val;
use crate::record::Record;
use crate::uncertainty::Expanded;

/// The value of a measure, and its expanded uncertainty.
pub type MeasuredValue = (FoundValue, Option<Expanded>);

impl Plan {
    /// The measures of an item, by slot: a number or an answer with its expanded uncertainty; `None` where
    /// nothing was measured, or what was measured is no single value.
    pub fn measured(
        &self,
        record: &Record,
        context: &Context,
        item: usize,
    ) -> Vec<Option<MeasuredValue>> {
        let part = record.items.get(item);
        let Some(part) = part.and_then(|one| self.rules().vocabulary.part(one.part)) else {
            return Vec::new();
        };
        let mut judge = Judge::new(self, record, context, true);
        let mut slots = part.measures.iter();
        let slots = std::iter::from_fn(|| Some(part.measure_named(&slots.next()?.name.text)));
        slots
            .map(|slot| match judge.eval.measure(item, slot?) {
                Val::Number(num) => Some((
                    FoundValue::Number {
                        value: num.value.value.clone(),
                        unit: num.unit?,
                        decimals: num.decimals,
                        bound: num.value.bound,
                    },
                    num.expanded(&self.coverage),
                )),
                Val::Answer { yes, .. } => Some((FoundValue::Answer(yes), None)),
                Val::Count(sure, possible) => Some((FoundValue::Count { sure, possible }, None)),
                Val::Places(_)
                | Val::Choice(..)
                | Val::AnyOf(..)
                | Val::Level(_)
                | Val::Date(_)
                | Val::Truth(_)
                | Val::Profile(..)
                | Val::Line(..)
                | Val::LoadTest(..)
                | Val::Outline(..)
                | Val::Sections(..)
                | Val::Unknown(_) => None,
            })
            .collect()
    }
}
