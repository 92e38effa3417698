//! A plan applied to a record: every rule asked of every item it is about.

use super::arithmetic::level_missing;
use super::decide::{Draft, worst_at};
use super::eval::{Evaluator, Setting};
use super::finding::{Finding, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::marks::count_limit;
use super::plan::{Context, Detail, Plan, PlannedRule};
use super::reading::Measurer;
use super::value::{Missing, Truth, Val, Why};
use crate::quantity::Number;
use crate::record::{Item, Record, TraitValue};
use crate::rules::{BoundKind, ByStage, Demand, LimitRow, Limits, Rule, RulesFile, Silence, Stage};
use crate::text::Span;
use crate::vocabulary::TraitId;

/// Asks the rules of a plan of one record.
pub struct Judge<'r> {
    pub(super) plan: &'r Plan,
    pub(super) rules: &'r RulesFile,
    pub(super) record: &'r Record,
    pub(super) context: &'r Context,
    pub(super) eval: Evaluator<'r>,
}

/// What a rule comes to before its limits are looked at.
enum Candidate<'r> {
    /// A row of limits, with its constants, and which exemption it belongs to.
    Row(&'r LimitRow, &'r [Option<Number>], Option<usize>),
    /// Nothing is asked.
    NotApplicable(Reason, Span),
    /// The table has no row, under closed rules.
    NoRowForChoice(Span, Span),
    /// It can't be said.
    Open(Why),
}

impl<'r> Judge<'r> {
    /// Begins.
    pub fn new(plan: &'r Plan, record: &'r Record, context: &'r Context) -> Judge<'r> {
        let rules: &RulesFile = plan.rules();
        let setting = Setting {
            stage: context.purpose,
            decision: *rules.decision.rules.at(context.purpose),
            day: context.day,
            level: context.level,
        };
        let eval = Evaluator::new(rules, record, &plan.coverage, setting);
        Judge {
            plan,
            rules,
            record,
            context,
            eval,
        }
    }

    /// Whether findings tell everything.
    pub(super) fn full(&self) -> bool {
        match self.context.detail {
            Detail::Full => true,
            Detail::Outcomes => false,
        }
    }

    /// Everything: parts that must be there, rules by item, marks.
    pub fn all(&mut self, out: &mut Vec<Finding>) {
        self.equipment(out);
        for at in 0..self.record.items.len() {
            let Some(item) = self.record.items.get(at) else {
                continue;
            };
            let plan = self.plan;
            for planned in plan
                .by_part
                .get(item.part.index())
                .map(Vec::as_slice)
                .unwrap_or(&[])
            {
                self.rule(planned, at, item, out);
            }
            self.silence(at, item, out);
            self.unlisted(at, out);
        }
        self.marks(out);
    }

    fn equipment(&mut self, out: &mut Vec<Finding>) {
        for (at, holding) in self.rules.vocabulary.holdings.iter().enumerate() {
            let Ok(id) = u16::try_from(at).map(crate::vocabulary::HoldingId) else {
                continue;
            };
            let count = self
                .record
                .items
                .iter()
                .filter(|item| item.holding == Some(id))
                .count();
            if u32::try_from(count).is_ok_and(|count| count >= holding.at_least) {
                continue;
            }
            let mut finding = self.blank(
                RuleRef::Equipment(id),
                ItemRef::Holding(id),
                holding.at_least_span,
            );
            finding.source_at = self.record.sail_number_span;
            if self.full() {
                let count = i64::try_from(count).unwrap_or(i64::MAX);
                finding.value = Some(FoundValue::Count {
                    sure: count,
                    possible: count,
                });
                finding.limit = Some(count_limit(BoundKind::AtLeast, i64::from(holding.at_least)));
                finding.settled_by = Some(Settle::Measure(holding.key.text.clone()));
            }
            finding.outcome = Outcome::NotDecided;
            finding.reason = Some(Reason::NotMeasured);
            finding.by_purpose = ByStage::of(|_| Some(Outcome::NotDecided));
            out.push(finding);
        }
    }

    /// A declared `other` that no table asks for: closed rules do not allow it.
    fn silence(&mut self, at: usize, item: &'r Item, out: &mut Vec<Finding>) {
        let bare = self.plan.bare_traits.get(item.part.index());
        for id in bare.map(Vec::as_slice).unwrap_or(&[]) {
            let Some(claim) = item.traits.get(id.index()).and_then(Option::as_ref) else {
                continue;
            };
            if !matches!(claim.value, TraitValue::Choice(None)) {
                continue;
            }
            let (outcome, reason) = match self.rules.silence {
                Silence::Forbids => (Outcome::DoesNotConform, Reason::NoRowForChoice),
                Silence::Permits => (Outcome::NotApplicable, Reason::NoRow),
            };
            let declared = self.trait_span(item, *id);
            let mut finding = self.blank(RuleRef::Silence(*id), ItemRef::Item(at), declared);
            finding.source_at = claim.span;
            finding.value = self.full().then(|| FoundValue::Word("other".to_owned()));
            finding.outcome = outcome;
            finding.reason = Some(reason);
            finding.by_purpose = ByStage::of(|_| Some(outcome));
            out.push(finding);
        }
    }

    /// A part that the rules do not list: for the authority under closed rules, noted under open ones.
    fn unlisted(&mut self, at: usize, out: &mut Vec<Finding>) {
        for (number, part) in self.record.unlisted.iter().enumerate() {
            if part.item != at {
                continue;
            }
            let (outcome, reason) = match self.rules.silence {
                Silence::Forbids => (Outcome::NotDecided, Reason::UnlistedPart),
                Silence::Permits => (Outcome::NotApplicable, Reason::NoRow),
            };
            let mut finding = self.blank(
                RuleRef::Unlisted(number),
                ItemRef::Item(at),
                self.rules.class.span,
            );
            finding.source_at = part.span;
            if self.full() {
                finding.value = Some(FoundValue::Word(part.what.clone()));
                finding.settled_by = (outcome == Outcome::NotDecided).then_some(Settle::Authority);
            }
            finding.outcome = outcome;
            finding.reason = Some(reason);
            finding.by_purpose = ByStage::of(|_| Some(outcome));
            out.push(finding);
        }
    }

    fn trait_span(&self, item: &Item, id: TraitId) -> Span {
        let part = self.rules.vocabulary.part(item.part);
        part.and_then(|part| part.traits.get(id.index()))
            .map(|one| one.name.span)
            .unwrap_or_default()
    }

    /// A finding that says nothing yet.
    pub(super) fn blank(&self, rule: RuleRef, item: ItemRef, limit_at: Span) -> Finding {
        let source_at = match item {
            ItemRef::Item(at) => self
                .record
                .items
                .get(at)
                .map(|item| item.span)
                .unwrap_or_default(),
            ItemRef::Holding(_) => self.record.sail_number_span,
        };
        Finding {
            rule,
            item,
            side: None,
            outcome: Outcome::NotDecided,
            reason: None,
            by_purpose: ByStage::default(),
            value: None,
            expanded: None,
            limit: None,
            margin: None,
            place: None,
            places: None,
            left_out: 0,
            settled_by: None,
            benefit_of_doubt: false,
            second_measurer: false,
            notes: Vec::new(),
            exemption: None,
            source_at,
            also_at: Vec::new(),
            limit_at,
        }
    }

    pub(super) fn set_stage(&mut self, stage: Stage) {
        self.eval.setting.stage = stage;
        self.eval.setting.decision = *self.rules.decision.rules.at(stage);
    }

    fn rule(
        &mut self,
        planned: &'r PlannedRule,
        at: usize,
        item: &'r Item,
        out: &mut Vec<Finding>,
    ) {
        let Some(rule) = self.rules.rule(planned.at) else {
            return;
        };
        let purpose = self.context.purpose;
        if !rule.checked_at.at(purpose) {
            return;
        }
        self.set_stage(purpose);
        let drafts = self.results(planned, rule, at, item);
        let other_stages: Vec<(Stage, Vec<Draft>)> = if planned.by_proof {
            let stages = Stage::ALL
                .into_iter()
                .filter(|stage| *stage != purpose && *rule.checked_at.at(*stage));
            let found = stages
                .map(|stage| {
                    self.set_stage(stage);
                    (stage, self.results(planned, rule, at, item))
                })
                .collect();
            self.set_stage(purpose);
            found
        } else {
            Vec::new()
        };
        for draft in drafts {
            let by_purpose = ByStage::of(|stage| {
                if !rule.checked_at.at(stage) {
                    return None;
                }
                let at_stage = other_stages
                    .iter()
                    .find(|(other, _)| *other == stage)
                    .map(|(_, drafts)| drafts);
                Some(match at_stage {
                    None => draft.outcomes.at(stage).0,
                    Some(drafts) => {
                        let same_side = drafts
                            .iter()
                            .find(|other| other.finding.side == draft.finding.side);
                        same_side.map_or_else(
                            || worst_at(drafts, stage),
                            |other| other.outcomes.at(stage).0,
                        )
                    }
                })
            });
            let (outcome, reason) = *draft.outcomes.at(purpose);
            let mut finding = draft.finding;
            finding.outcome = outcome;
            finding.reason = reason;
            finding.by_purpose = by_purpose;
            self.finish(&mut finding);
            out.push(finding);
        }
    }

    /// What would settle it is said of open findings alone.
    fn finish(&self, finding: &mut Finding) {
        if finding.outcome != Outcome::NotDecided {
            finding.settled_by = None;
        }
    }

    /// The drafts of a rule on an item at the stage that is set.
    fn results(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
    ) -> Vec<Draft> {
        if rule.names_event && self.context.level.is_none() {
            let mut draft = self.open(planned, rule, at, level_missing());
            draft.outcomes = ByStage::of(|stage| match stage {
                Stage::EventInspection => (Outcome::NotDecided, Some(Reason::ContextMissing)),
                Stage::SelfCheck | Stage::Certification => {
                    (Outcome::NotApplicable, Some(Reason::NoEvent))
                }
            });
            return vec![draft];
        }
        let mut doubt = None;
        let candidates = self.candidates(planned, rule, at, item, &mut doubt);
        let stage = self.eval.setting.stage;
        let mut all: Vec<Vec<Draft>> = Vec::with_capacity(candidates.len());
        for candidate in candidates {
            let drafts = self.candidate(candidate, planned, rule, at, item);
            all.push(drafts);
        }
        let mut outcomes = all.iter().map(|drafts| worst_at(drafts, stage));
        let first = outcomes.next();
        let agree = outcomes.all(|other| Some(other) == first);
        match (agree, doubt) {
            (false, Some(why)) => vec![self.open(planned, rule, at, why)],
            // Whatever the doubtful condition turns out to be, the outcome is the same.
            (true, _) | (false, None) => all.into_iter().next().unwrap_or_default(),
        }
    }

    /// What may count: one candidate, or several where a condition is in doubt; the first doubt is kept.
    fn candidates(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        doubt: &mut Option<Why>,
    ) -> Vec<Candidate<'r>> {
        let mut found = Vec::with_capacity(1);
        if let Some(when) = &rule.when {
            match self.eval.truth(&when.root, at) {
                Truth::True => {}
                Truth::False => {
                    return vec![Candidate::NotApplicable(Reason::Condition, when.span)];
                }
                Truth::Unknown(why) => {
                    doubt.get_or_insert(why);
                    found.push(Candidate::NotApplicable(Reason::Condition, when.span));
                }
            }
        }
        for (number, row) in rule.instead.iter().enumerate() {
            if row.until.is_some_and(|until| self.context.day > until) {
                continue;
            }
            let candidate = |number: usize| {
                let constants = planned
                    .instead_constants
                    .get(number)
                    .map(Vec::as_slice)
                    .unwrap_or(&[]);
                Candidate::Row(&row.row, constants, Some(number))
            };
            match self.eval.truth(&row.condition.root, at) {
                Truth::True => {
                    found.push(candidate(number));
                    return found;
                }
                Truth::False => {}
                Truth::Unknown(_) if row.unproven_takes_main => {}
                Truth::Unknown(why) => {
                    doubt.get_or_insert(why);
                    found.push(candidate(number));
                }
            }
        }
        found.push(self.main_row(planned, rule, item));
        found
    }

    fn main_row(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        item: &'r Item,
    ) -> Candidate<'r> {
        let row_at = |number: usize, rows: &'r [(crate::vocabulary::ChoiceId, LimitRow)]| {
            let constants = planned
                .constants
                .get(number)
                .map(Vec::as_slice)
                .unwrap_or(&[]);
            rows.get(number)
                .map(|(_, row)| Candidate::Row(row, constants, None))
        };
        let no_row = |span: Span, at: Span| match self.rules.silence {
            Silence::Forbids => Candidate::NoRowForChoice(span, at),
            Silence::Permits => Candidate::NotApplicable(Reason::NoRow, span),
        };
        match &rule.limits {
            Limits::Direct(row) => Candidate::Row(
                row,
                planned.constants.first().map(Vec::as_slice).unwrap_or(&[]),
                None,
            ),
            Limits::ByTrait { by, span, rows } => {
                let claim = item.traits.get(by.index()).and_then(Option::as_ref);
                match claim.map(|claim| (&claim.value, claim.span)) {
                    Some((TraitValue::Choice(Some(choice)), at)) => planned
                        .by_choice
                        .get(choice.index())
                        .copied()
                        .flatten()
                        .and_then(|number| row_at(number, rows))
                        .unwrap_or_else(|| no_row(*span, at)),
                    Some((TraitValue::Choice(None), at)) => no_row(*span, at),
                    Some((TraitValue::Date(_) | TraitValue::Flag(_), _)) | None => {
                        Candidate::Open(Why {
                            reason: Reason::TraitMissing,
                            missing: Missing::Trait(item.part, *by),
                            span: None,
                        })
                    }
                }
            }
            Limits::ByLevel { span, rows } => match self.context.level {
                Some(level) => planned
                    .by_choice
                    .get(level.index())
                    .copied()
                    .flatten()
                    .and_then(|number| row_at(number, rows))
                    .unwrap_or(Candidate::NotApplicable(Reason::NoRow, *span)),
                None => Candidate::Open(level_missing()),
            },
        }
    }

    fn candidate(
        &mut self,
        candidate: Candidate<'r>,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
    ) -> Vec<Draft> {
        match candidate {
            Candidate::NotApplicable(reason, span) => {
                let finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                vec![Draft::same(finding, Outcome::NotApplicable, Some(reason))]
            }
            Candidate::NoRowForChoice(span, source) => {
                let mut finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                finding.source_at = source;
                vec![Draft::same(
                    finding,
                    Outcome::DoesNotConform,
                    Some(Reason::NoRowForChoice),
                )]
            }
            Candidate::Open(why) => vec![self.open(planned, rule, at, why)],
            Candidate::Row(row, constants, exemption) => {
                self.eval.set_measurer(Measurer::First);
                let mut drafts = self.row(planned, rule, at, item, row, constants);
                if self.eval.uses_second(&rule.value.root, at) {
                    self.eval.set_measurer(Measurer::Second);
                    let second = self.row(planned, rule, at, item, row, constants);
                    self.eval.set_measurer(Measurer::First);
                    disagree(&mut drafts, &second);
                }
                for draft in &mut drafts {
                    draft.finding.exemption = exemption;
                }
                drafts
            }
        }
    }

    /// A finding that is open at every stage.
    pub(super) fn open(&self, planned: &PlannedRule, rule: &Rule, at: usize, why: Why) -> Draft {
        let mut finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), rule.id.span);
        if let Some(span) = why.span {
            finding.source_at = span;
            let problems = self.eval.problems.iter().filter(|(at, _)| *at == span);
            finding.notes = problems.map(|(_, words)| words.clone()).take(1).collect();
        }
        if self.full() {
            finding.settled_by = self.settle_of(&why);
        }
        Draft::same(finding, Outcome::NotDecided, Some(why.reason))
    }

    /// What would settle something unknown.
    pub(super) fn settle_of(&self, why: &Why) -> Option<Settle> {
        let vocabulary = &self.rules.vocabulary;
        let trait_name = |part, id: TraitId| {
            vocabulary
                .part(part)
                .and_then(|part| part.traits.get(id.index()))
                .map(|one| one.name.text.clone())
        };
        match why.missing {
            Missing::Measure(part, slot) => {
                let part = vocabulary.part(part)?;
                part.measures
                    .get(slot.index())
                    .map(|one| Settle::Measure(one.name.text.clone()))
            }
            Missing::Trait(part, id) => trait_name(part, id).map(|name| match why.reason {
                Reason::DateNotProven => Settle::ShowProof(name),
                _ => Settle::Declare(name),
            }),
            Missing::Holding(id) => vocabulary
                .holding(id)
                .map(|one| Settle::Measure(one.key.text.clone())),
            Missing::Level => Some(Settle::GiveLevel),
            Missing::Nothing => settle_reason(why.reason),
        }
    }

    fn row(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        row: &'r LimitRow,
        constants: &'r [Option<Number>],
    ) -> Vec<Draft> {
        match &row.demand {
            Demand::None => {
                let finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), row.span);
                vec![Draft::same(
                    finding,
                    Outcome::NotApplicable,
                    Some(Reason::Exempt),
                )]
            }
            Demand::Equals(equals, span) => {
                let value = self.eval.value(&rule.value.root, at);
                vec![self.equals(planned, rule, at, value, equals, *span)]
            }
            Demand::Bounds(bounds) => {
                let value = self.eval.value(&rule.value.root, at);
                if let Val::Unknown(why) = value {
                    let mut draft = self.open(planned, rule, at, why);
                    draft.finding.limit_at = row.span;
                    return vec![draft];
                }
                let mut drafts = Vec::with_capacity(bounds.len());
                for (number, bound) in bounds.iter().enumerate() {
                    let constant = constants.get(number).and_then(Option::as_ref);
                    drafts.push(self.bound(planned, rule, at, item, &value, bound, constant));
                }
                drafts
            }
        }
    }
}

/// What would settle a reason that names nothing.
pub(super) fn settle_reason(reason: Reason) -> Option<Settle> {
    match reason {
        Reason::Stale => Some(Settle::MeasureAgain("the reading is too old")),
        Reason::InstrumentOutOfDate => Some(Settle::MeasureAgain("with an instrument in date")),
        Reason::InstrumentCheckFailed => Some(Settle::MeasureAgain(
            "with an instrument that shows its reference before and after",
        )),
        Reason::InstrumentUnnamed => Some(Settle::NameInstrument),
        Reason::Implausible => Some(Settle::Confirm),
        Reason::NeedsJudgement => Some(Settle::Look),
        Reason::UncertaintyUnknown => Some(Settle::StateUncertainty),
        Reason::PlaceNotStated => Some(Settle::StatePlace),
        Reason::NotReached => Some(Settle::ReachFurther),
        Reason::ContextMissing => Some(Settle::GiveLevel),
        Reason::MethodDiffers => Some(Settle::BothFlanks),
        Reason::NearLimit
        | Reason::NotMeasured
        | Reason::TooFewPlaces
        | Reason::TooFewRepeats
        | Reason::DateNotProven
        | Reason::ProofMissing
        | Reason::TraitMissing
        | Reason::ConditionUnknown
        | Reason::MeasurersDisagree
        | Reason::UnlistedPart
        | Reason::NothingChecked
        | Reason::Condition
        | Reason::Exempt
        | Reason::NoRow
        | Reason::NoEvent
        | Reason::LeftOut
        | Reason::NoRowForChoice => None,
    }
}

/// Where two measurers come to different outcomes, neither stands until a named person chooses.
fn disagree(first: &mut [Draft], second: &[Draft]) {
    for (one, other) in first.iter_mut().zip(second) {
        let joined = ByStage::of(|stage| {
            let (a, b) = (*one.outcomes.at(stage), *other.outcomes.at(stage));
            if a.0 == b.0 {
                a
            } else {
                (Outcome::NotDecided, Some(Reason::MeasurersDisagree))
            }
        });
        one.outcomes = joined;
        let span = other.finding.source_at;
        if span != one.finding.source_at {
            one.finding.also_at.push(span);
        }
    }
}
