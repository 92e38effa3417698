//! Which limits of the new version are new to an item: those that it did not meet before.
//!
//! Of a rule that differs most limits are often the same as they were, and a value near one of these lies no nearer than
//! before. A limit is new to an item where the old version compares this item by this rule with no such limit: it moved, or
//! its row or its condition reaches the item only now.

use super::heads::{LimitHead, Of, RuleHead};
use super::pair::Pair;
use crate::check::{Finding, FoundLimit, Outcome, RowRef};
use crate::fleet::reader::ReadBoat;
use crate::quantity::{Date, Number};
use crate::rules::BoundKind;

/// Whether a limit is new to the items that meet it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum New {
    /// To all of them.
    All,
    /// To none: it stands as it stood, for the same items.
    None,
    /// To some: each is asked.
    Some,
}

impl LimitHead {
    /// Whether it is written as it was.
    pub(super) fn stands(&self) -> bool {
        self.old_kind == Some(self.kind) && self.old.is_some() && self.old == self.new
    }

    /// To whom it is new, where rules reach the same items or do not.
    pub(super) fn new_to(&self, in_old: bool, same_reach: bool) -> New {
        match (in_old, same_reach) {
            (false, _) => New::All,
            (true, true) if self.stands() => New::None,
            // One that is computed on each item is another number on each.
            (true, true)
                if self.new.is_some() && (self.old.is_some() || self.old_kind.is_none()) =>
            {
                New::All
            }
            (true, _) => New::Some,
        }
    }
}

impl Pair<'_> {
    /// Whether an item, by its place in the newer record, met no such limit of a rule before: asked of both versions.
    #[cold]
    pub(super) fn is_new_to(
        &self,
        (boat, day): (&ReadBoat, Date),
        number: usize,
        head: &RuleHead,
        limit: &LimitHead,
    ) -> bool {
        let Of::Rule {
            old: Some(was),
            new: Some(is),
        } = head.of
        else {
            return true;
        };
        let Some(in_older) = self.place_in_older(boat, number) else {
            return true;
        };
        let before = self
            .old
            .findings_of(boat.older(), &self.context(day, true), was, in_older);
        let now = self
            .new
            .findings_of(&boat.newer, &self.context(day, false), is, number);
        let mut met = before.iter().filter(|one| asks(one));
        match limit.row {
            // The places of one item meet the rows of several zones.
            RowRef::Zone => met.next().is_none() || !limit.stands(),
            RowRef::Main(_) | RowRef::Exemption(_) => {
                let now = now.iter().find_map(|one| bound(one, limit.kind));
                !met.any(|one| {
                    let was = bound(one, limit.kind);
                    was.zip(now).is_some_and(|(was, now)| alike(was, now))
                })
            }
        }
    }

    /// The place of an item of the newer record in the older one: what stands at the same place of the text.
    fn place_in_older(&self, boat: &ReadBoat, number: usize) -> Option<usize> {
        let Some(older) = &boat.older else {
            return Some(number);
        };
        let span = boat.newer.items.get(number)?.span;
        older.items.iter().position(|item| item.span == span)
    }
}

fn asks(finding: &Finding) -> bool {
    finding.outcome != Outcome::NotApplicable
}

/// Whether two limits are one number. Of those that are computed with roots and the like, on the same values by the same
/// steps, the nearest floating-point number tells.
fn alike(was: &Number, now: &Number) -> bool {
    match (was, now) {
        (Number::Exact(was), Number::Exact(now)) => was == now,
        (Number::Real { value: was, .. }, Number::Real { value: now, .. }) => {
            was.to_bits() == now.to_bits()
        }
        (Number::Exact(_) | Number::Real { .. }, _) => false,
    }
}

/// The bound of a kind that a finding compares with.
fn bound(finding: &Finding, kind: BoundKind) -> Option<&Number> {
    match &finding.limit {
        Some(FoundLimit::Bound {
            kind: own, value, ..
        }) if *own == kind => Some(value),
        Some(
            FoundLimit::Bound { .. }
            | FoundLimit::Equals(_)
            | FoundLimit::Only(_)
            | FoundLimit::Without(_)
            | FoundLimit::Option(_),
        )
        | None => None,
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::New;
    use crate::fleet::impact::heads::heads;
    use crate::prove::Common;
    use crate::rules::{self, RulesFile};

    fn loaded(text: &str) -> Arc<RulesFile> {
        let loaded = rules::load("ghyll-9/1.0.0.yaml", text.as_bytes());
        Arc::new(loaded.unwrap_or_else(|faults| panic!("{faults:#?}")))
    }

    /// To whom limits are new is told once for all items where that can be, whatever else is measured only now: an item that
    /// has to be asked is read whole, and a fleet of a million boats has many.
    #[test]
    fn a_measure_that_is_added_elsewhere_asks_no_item() {
        let old = include_str!("../../../benches/scale/rules.yaml");
        let hardness = "value: hardness, at_least: 44 HRC";
        let bolt = "      bolt: {";
        assert!(old.matches(hardness).count() == 1 && old.matches(bolt).count() == 1);
        let new = old
            .replace("version: 1.0.0", "version: 2.0.0\nreplaces: 1.0.0")
            .replace(hardness, "value: hardness, at_least: 47 HRC")
            .replace("insert: { at_least: 4.70 mm }", "insert: { at_least: 4.80 mm }")
            .replace(
                bolt,
                "      bolt_length: { kind: length, methods: { unnamed: { expanded_uncertainty: 0.5 mm } } }\n      bolt: {",
            );
        let told = |new: &str| -> Vec<(String, New)> {
            let (old, new) = (loaded(old), loaded(new));
            let heads = heads(&Common::of(&old, &new), &[]);
            let of_head = |head: &super::RuleHead| {
                let id = head.id.clone();
                let limits = head.limits.iter().map(move |one| (id.clone(), one.new_to));
                limits.collect::<Vec<_>>()
            };
            heads.iter().flat_map(of_head).collect()
        };
        let of = |id: &str, told: &[(String, New)]| -> Vec<New> {
            let own = told.iter().filter(|(own, _)| own == id);
            own.map(|(_, new)| *new).collect()
        };
        let moved = told(&new);
        assert_eq!(of("hardness", &moved), [New::All, New::None]);
        let thickness = of("steel_thickness", &moved);
        assert_eq!(thickness.iter().filter(|one| **one == New::All).count(), 1);
        assert!(!thickness.contains(&New::Some), "{thickness:?}");
        // What the rule itself names is another thing: each item is asked.
        let hardness = "      hardness: {";
        assert_eq!(new.matches(hardness).count(), 1);
        let line = new.lines().find(|line| line.starts_with(hardness)).unwrap();
        let other = line.replace("expanded_uncertainty: ", "expanded_uncertainty: 1");
        assert_ne!(line, other, "{line}");
        let asked = told(&new.replace(line, &other));
        assert_eq!(of("hardness", &asked), [New::Some; 2]);
        assert_eq!(of("steel_thickness", &asked), thickness);
    }
}
