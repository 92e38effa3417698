//! A finding on its way: what decides, and beside it, where a report is wanted, what the report tells.
//!
//! A fleet asks for outcomes alone. What a report tells is kept apart, so that a draft without it is small and
//! nothing is made that nobody reads.

use super::finding::{
    Brief, Finding, FoundBudget, FoundLimit, FoundPlace, FoundValue, ItemRef, Outcome, Reason,
    RuleRef, Settle,
};
use super::places::Seen;
use crate::quantity::Number;
use crate::rules::{BoundKind, ByStage, Stage};
use crate::text::Span;
use crate::uncertainty::Expanded;
use smallvec::SmallVec;

/// An outcome with its reason.
pub(super) type Ruling = (Outcome, Option<Reason>);

/// The drafts of one rule on one item: one, or one for each side of a limit.
pub(super) type Drafts = SmallVec<[Draft; 2]>;

/// A finding whose outcome is known for every stage that was asked for.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    /// The rule.
    pub rule: RuleRef,
    /// The item.
    pub item: ItemRef,
    /// The bound of a two-sided limit that it is about.
    pub side: Option<BoundKind>,
    /// The exemption that gave the limit: its row in the rule.
    pub exemption: Option<usize>,
    /// Outcome and reason by stage.
    pub rulings: ByStage<Ruling>,
    /// Whether the value passes only for its uncertainty.
    pub benefit_of_doubt: bool,
    /// Whether a second measurer should read it.
    pub second_measurer: bool,
    /// Where the value stands in the record.
    pub source_at: Span,
    /// Where the limit stands in the rules.
    pub limit_at: Span,
    /// What a report tells; `None` where none is wanted.
    pub told: Option<Box<Told>>,
    /// The places behind it, kept where another measurer's are compared with them.
    pub places: Option<Box<Seen>>,
}

/// What a report tells beside the outcome; see [`Finding`].
#[derive(Clone, Debug, Default)]
pub(super) struct Told {
    pub value: Option<FoundValue>,
    pub expanded: Option<Expanded>,
    pub limit: Option<FoundLimit>,
    pub margin: Option<Number>,
    pub place: Option<FoundPlace>,
    pub places: Option<(u32, u32)>,
    pub left_out: Vec<FoundPlace>,
    pub settled_by: Option<Settle>,
    pub notes: Vec<String>,
    pub also_at: Vec<Span>,
    pub budget: Option<Box<FoundBudget>>,
}

impl Draft {
    /// The same outcome at every stage.
    pub fn ruled(mut self, outcome: Outcome, reason: Option<Reason>) -> Draft {
        self.rulings = ByStage::of(|_| (outcome, reason));
        self
    }

    /// Outcomes by stage.
    pub fn ruled_by(mut self, rulings: ByStage<Ruling>) -> Draft {
        self.rulings = rulings;
        self
    }

    /// Tells more, where a report is wanted.
    pub fn tell(&mut self, more: impl FnOnce(&mut Told)) {
        if let Some(told) = &mut self.told {
            more(told);
        }
    }

    /// The finding for a purpose. What would settle it is said of open findings alone.
    fn finding(self, (outcome, reason): Ruling, by_purpose: ByStage<Option<Outcome>>) -> Finding {
        let told = self.told.map(|told| *told).unwrap_or_default();
        Finding {
            rule: self.rule,
            item: self.item,
            side: self.side,
            outcome,
            reason,
            by_purpose,
            value: told.value,
            expanded: told.expanded,
            limit: told.limit,
            margin: told.margin,
            place: told.place,
            places: told.places,
            left_out: told.left_out,
            settled_by: told.settled_by.filter(|_| outcome == Outcome::NotDecided),
            benefit_of_doubt: self.benefit_of_doubt,
            second_measurer: self.second_measurer,
            notes: told.notes,
            exemption: self.exemption,
            source_at: self.source_at,
            also_at: told.also_at,
            limit_at: self.limit_at,
            budget: told.budget,
        }
    }

    fn brief(&self, (outcome, reason): Ruling) -> Brief {
        Brief {
            rule: self.rule,
            item: self.item,
            side: self.side,
            outcome,
            reason,
            benefit_of_doubt: self.benefit_of_doubt,
            second_measurer: self.second_measurer,
        }
    }
}

/// The worst outcome of some drafts at a stage.
pub(super) fn worst_at(drafts: &[Draft], stage: Stage) -> Outcome {
    drafts
        .iter()
        .map(|draft| draft.rulings.at(stage).0)
        .min()
        .unwrap_or(Outcome::NotDecided)
}

/// Takes what a check finds.
pub(super) enum Sink<'f> {
    /// Whole findings.
    Findings(&'f mut Vec<Finding>),
    /// Outcomes alone.
    Briefs(&'f mut Vec<Brief>),
}

impl Sink<'_> {
    /// Takes a draft with its outcome at the purpose; `by_purpose` is asked for whole findings alone.
    pub fn take(
        &mut self,
        draft: Draft,
        purpose: Stage,
        by_purpose: impl FnOnce(&Draft) -> ByStage<Option<Outcome>>,
    ) {
        let ruling = *draft.rulings.at(purpose);
        match self {
            Sink::Findings(found) => {
                let by_purpose = by_purpose(&draft);
                found.push(draft.finding(ruling, by_purpose));
            }
            Sink::Briefs(found) => found.push(draft.brief(ruling)),
        }
    }
}
