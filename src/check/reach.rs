//! Which items of a record an expression speaks of.

use super::eval::Evaluator;
use super::finding::Reason;
use super::value::{Missing, Why};
use crate::expression::Scope;
use crate::record::Item;
use crate::vocabulary::{HoldingId, Vocabulary};

impl<'r> Evaluator<'r> {
    /// The items of a holding by position in the record.
    pub(super) fn items_of(&self, holding: HoldingId) -> Vec<usize> {
        let items = self.record.items.iter().enumerate();
        items
            .filter(|(_, item)| item.holding == Some(holding))
            .map(|(at, _)| at)
            .collect()
    }

    /// The item that a scope means.
    pub(super) fn item(&self, scope: Scope, own: usize) -> Result<(usize, &'r Item), Why> {
        let (at, missing) = match scope {
            Scope::Own => (Some(own), Missing::Nothing),
            Scope::Boat => (Some(0), Missing::Nothing),
            Scope::One(holding) => (
                self.record
                    .items
                    .iter()
                    .position(|item| item.holding == Some(holding)),
                Missing::Holding(holding),
            ),
            Scope::Role(role) => {
                let group = self.record.items.get(own);
                let part = group.map_or(Vocabulary::BOAT, |group| group.part);
                let member = group.and_then(|group| group.member(role));
                (member.map(|one| one.item), Missing::Role(part, role))
            }
        };
        let found = at.and_then(|at| self.record.items.get(at).map(|item| (at, item)));
        found.ok_or(Why {
            reason: Reason::NotMeasured,
            missing,
            span: None,
        })
    }
}
