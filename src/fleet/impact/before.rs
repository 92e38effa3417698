//! Which limits of the new version are new to an item: those that it did not meet before.
//!
//! Of a rule that differs most limits are often the same as they were, and a value near one of these lies no nearer than
//! before. A limit is new to an item where the old version compares this item by this rule with no such limit: it moved, or
//! its row or its condition reaches the item only now.

use super::heads::{LimitHead, Of, RuleHead};
use super::pair::Pair;
use crate::check::{Finding, FoundLimit, Outcome, RowRef};
use crate::fleet::reader::{ReadBoat, same_tree, same_vocabulary};
use crate::fleet::words::BESIDE_OUTCOMES;
use crate::quantity::{Date, Number};
use crate::rules::{BoundKind, RulesFile};
use crate::text::{Entry, Node, parse_yaml};

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

/// Keys of a rule that are limits, or change neither what reaches an item nor what it comes to.
const LIMITS: &[&str] = &["at_least", "more_than", "at_most", "less_than", "limits"];

/// The rules of two versions that reach the same items with the same rows, whatever their limits are.
pub(super) struct Reach<'t> {
    was: Option<Node<'t>>,
    is: Option<Node<'t>>,
}

impl<'t> Reach<'t> {
    pub(super) fn of(old: &'t RulesFile, new: &'t RulesFile) -> Reach<'t> {
        // What rules name may stand elsewhere: then nothing is said.
        let same = same_vocabulary(old, new);
        let root = |file: &'t RulesFile| parse_yaml(&file.source).ok().filter(|_| same);
        Reach {
            was: root(old),
            is: root(new),
        }
    }

    /// Whether a rule by its id reaches the same items.
    pub(super) fn same(&self, id: &str) -> bool {
        let own = entry_of(self.was.as_ref(), id).zip(entry_of(self.is.as_ref(), id));
        let covered = |one: &[Entry<'_>], other: &[Entry<'_>]| {
            let counts = |entry: &&Entry<'_>| {
                let key = entry.key.as_ref();
                !LIMITS.contains(&key) && !BESIDE_OUTCOMES.contains(&key)
            };
            one.iter().filter(counts).all(|entry| {
                let same = other.iter().find(|other| other.key == entry.key);
                same.is_some_and(|same| same_tree(&entry.node, &same.node))
            })
        };
        own.is_some_and(|(was, is)| covered(was, is) && covered(is, was))
    }
}

fn entry_of<'t, 's>(root: Option<&'t Node<'s>>, id: &str) -> Option<&'t [Entry<'s>]> {
    let rules = root?.get("rules")?.as_sequence()?;
    let is = |node: &&Node<'_>| node.get("id").and_then(Node::as_text) == Some(id);
    rules.iter().find(is)?.as_mapping()
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
