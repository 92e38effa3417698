//! A plan applied to a record: every rule asked of every item it is about.

use super::arithmetic::level_missing;
use super::decide::{Draft, Drafts, Said, Told, worst_at};
use super::eval::{Evaluator, Setting};
use super::finding::{Brief, Finding, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle};
use super::marks::count_limit;
use super::plan::{Context, Detail, Plan, PlannedRule};
use super::reading::{Measurer, Readings};
use super::value::{Missing, Truth, Val, Why};
use smallvec::{SmallVec, smallvec};

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
    /// Whether a second measurer read anything at all.
    any_second: bool,
}

/// Where outcomes go, each with what a report says about it where that is asked for.
pub(super) type Out<'o> = &'o mut dyn FnMut(Brief, Told);

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
        let full = match context.detail {
            Detail::Full => true,
            Detail::Outcomes => false,
        };
        let eval = Evaluator::new(rules, record, &plan.coverage, setting, full);
        Judge {
            plan,
            rules,
            record,
            context,
            eval,
            any_second: record.items.iter().any(Readings::any_second),
        }
    }

    /// Whether findings tell everything.
    pub(super) fn full(&self) -> bool {
        self.eval.readings.full
    }

    /// One for each stage; where outcomes alone are asked for, that of the purpose stands for all.
    pub(super) fn by_stage<T: Copy>(&self, mut each: impl FnMut(Stage) -> T) -> ByStage<T> {
        if self.full() {
            return ByStage::of(each);
        }
        let one = each(self.context.purpose);
        ByStage::of(|_| one)
    }

    /// Everything: parts that must be there, rules by item, marks.
    pub fn all(&mut self, out: Out<'_>) {
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

    fn equipment(&mut self, out: Out<'_>) {
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
            let (rule, part) = (RuleRef::Equipment(id), ItemRef::Holding(id));
            let mut told = self.told(rule, part, holding.at_least_span);
            if let Some(finding) = &mut told {
                finding.source_at = self.record.sail_number_span;
                let count = i64::try_from(count).unwrap_or(i64::MAX);
                finding.value = Some(FoundValue::Count {
                    sure: count,
                    possible: count,
                });
                finding.limit = Some(count_limit(BoundKind::AtLeast, i64::from(holding.at_least)));
                finding.settled_by = Some(Settle::Measure(holding.key.text.clone()));
            }
            let said = (Outcome::NotDecided, Some(Reason::NotMeasured));
            self.say(rule, part, said, told, out);
        }
    }

    /// A declared `other` that no table asks for: closed rules do not allow it.
    fn silence(&mut self, at: usize, item: &'r Item, out: Out<'_>) {
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
            let (rule, part) = (RuleRef::Silence(*id), ItemRef::Item(at));
            let mut told = self.told(rule, part, declared);
            if let Some(finding) = &mut told {
                finding.source_at = claim.span;
                finding.value = Some(FoundValue::Word("other".to_owned()));
            }
            self.say(rule, part, (outcome, Some(reason)), told, out);
        }
    }

    /// A part that the rules do not list: for the authority under closed rules, noted under open ones.
    fn unlisted(&mut self, at: usize, out: Out<'_>) {
        for (number, part) in self.record.unlisted.iter().enumerate() {
            if part.item != at {
                continue;
            }
            let (outcome, reason) = match self.rules.silence {
                Silence::Forbids => (Outcome::NotDecided, Reason::UnlistedPart),
                Silence::Permits => (Outcome::NotApplicable, Reason::NoRow),
            };
            let (rule, item) = (RuleRef::Unlisted(number), ItemRef::Item(at));
            let mut told = self.told(rule, item, self.rules.class.span);
            if let Some(finding) = &mut told {
                finding.source_at = part.span;
                finding.value = Some(FoundValue::Word(part.what.clone()));
                finding.settled_by = (outcome == Outcome::NotDecided).then_some(Settle::Authority);
            }
            self.say(rule, item, (outcome, Some(reason)), told, out);
        }
    }

    fn trait_span(&self, item: &Item, id: TraitId) -> Span {
        let part = self.rules.vocabulary.part(item.part);
        part.and_then(|part| part.traits.get(id.index()))
            .map(|one| one.name.span)
            .unwrap_or_default()
    }

    /// Hands on an outcome that is the same at every stage.
    pub(super) fn say(&self, rule: RuleRef, item: ItemRef, said: Said, told: Told, out: Out<'_>) {
        self.hand_on(rule, item, Draft::same(told, said.0, said.1), out);
    }

    /// Hands on an outcome that is asked at every stage.
    pub(super) fn hand_on(&self, rule: RuleRef, item: ItemRef, draft: Draft, out: Out<'_>) {
        let by_purpose = ByStage::of(|stage| Some(draft.outcomes.at(stage).0));
        self.hand_on_by(rule, item, by_purpose, draft, out);
    }

    fn hand_on_by(
        &self,
        rule: RuleRef,
        item: ItemRef,
        by_purpose: ByStage<Option<Outcome>>,
        draft: Draft,
        out: Out<'_>,
    ) {
        let said = *draft.outcomes.at(self.context.purpose);
        let brief = Brief {
            rule,
            item,
            side: draft.side,
            outcome: said.0,
            reason: said.1,
            benefit_of_doubt: draft.benefit_of_doubt,
            second_measurer: draft.second_measurer,
        };
        let told = draft.told.map(|mut finding| {
            (finding.outcome, finding.reason) = said;
            finding.side = draft.side;
            finding.by_purpose = by_purpose;
            finding.benefit_of_doubt = draft.benefit_of_doubt;
            finding.second_measurer = draft.second_measurer;
            // What would settle it is said of open findings alone.
            if finding.outcome != Outcome::NotDecided {
                finding.settled_by = None;
            }
            finding
        });
        out(brief, told);
    }

    /// A finding that says nothing yet, where findings tell everything.
    pub(super) fn told(&self, rule: RuleRef, item: ItemRef, limit_at: Span) -> Told {
        self.full()
            .then(|| Box::new(self.blank(rule, item, limit_at)))
    }

    fn blank(&self, rule: RuleRef, item: ItemRef, limit_at: Span) -> Finding {
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
            source_at,
            limit_at,
            ..Finding::from(Brief::open(rule, item))
        }
    }

    pub(super) fn set_stage(&mut self, stage: Stage) {
        self.eval.setting.stage = stage;
        self.eval.setting.decision = *self.rules.decision.rules.at(stage);
    }

    fn rule(&mut self, planned: &'r PlannedRule, at: usize, item: &'r Item, out: Out<'_>) {
        let Some(rule) = self.rules.rule(planned.at) else {
            return;
        };
        let purpose = self.context.purpose;
        if !rule.checked_at.at(purpose) {
            return;
        }
        self.set_stage(purpose);
        let mut drafts = Drafts::new();
        self.results(planned, rule, at, item, &mut drafts);
        let other_stages: Vec<(Stage, Drafts)> = if planned.by_proof && self.full() {
            let stages = Stage::ALL
                .into_iter()
                .filter(|stage| *stage != purpose && *rule.checked_at.at(*stage));
            let found = stages
                .map(|stage| {
                    self.set_stage(stage);
                    let mut drafts = Drafts::new();
                    self.results(planned, rule, at, item, &mut drafts);
                    (stage, drafts)
                })
                .collect();
            self.set_stage(purpose);
            found
        } else {
            Vec::new()
        };
        for draft in drafts {
            let by_purpose = self.by_stage(|stage| {
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
                        let same_side = drafts.iter().find(|other| other.side == draft.side);
                        same_side.map_or_else(
                            || worst_at(drafts, stage),
                            |other| other.outcomes.at(stage).0,
                        )
                    }
                })
            });
            let (rule, item) = (RuleRef::Rule(planned.at), ItemRef::Item(at));
            self.hand_on_by(rule, item, by_purpose, draft, out);
        }
    }

    /// The drafts of a rule on an item at the stage that is set.
    fn results(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        drafts: &mut Drafts,
    ) {
        if rule.names_event && self.context.level.is_none() {
            let mut draft = self.open(planned, rule, at, level_missing());
            draft.outcomes = ByStage::of(|stage| match stage {
                Stage::EventInspection => (Outcome::NotDecided, Some(Reason::ContextMissing)),
                Stage::SelfCheck | Stage::Certification => {
                    (Outcome::NotApplicable, Some(Reason::NoEvent))
                }
            });
            drafts.push(draft);
            return;
        }
        if rule.when.is_none() && rule.instead.is_empty() {
            let row = self.main_row(planned, rule, item);
            self.candidate(row, planned, rule, at, item, drafts);
            return;
        }
        let mut doubt = None;
        let candidates = self.candidates(planned, rule, at, item, &mut doubt);
        let stage = self.eval.setting.stage;
        let mut all: SmallVec<[Drafts; 1]> = SmallVec::new();
        for candidate in candidates {
            let mut drafts = Drafts::new();
            self.candidate(candidate, planned, rule, at, item, &mut drafts);
            all.push(drafts);
        }
        let mut outcomes = all.iter().map(|drafts| worst_at(drafts, stage));
        let first = outcomes.next();
        let agree = outcomes.all(|other| Some(other) == first);
        match (agree, doubt) {
            (false, Some(why)) => drafts.push(self.open(planned, rule, at, why)),
            // Whatever the doubtful condition turns out to be, the outcome is the same.
            (true, _) | (false, None) => drafts.extend(all.into_iter().next().unwrap_or_default()),
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
    ) -> SmallVec<[Candidate<'r>; 1]> {
        let mut found = SmallVec::new();
        if let Some(when) = &rule.when {
            match self.eval.truth(&when.root, at) {
                Truth::True => {}
                Truth::False => {
                    return smallvec![Candidate::NotApplicable(Reason::Condition, when.span)];
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
        drafts: &mut Drafts,
    ) {
        match candidate {
            Candidate::NotApplicable(reason, span) => {
                let told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                drafts.push(Draft::same(told, Outcome::NotApplicable, Some(reason)));
            }
            Candidate::NoRowForChoice(span, source) => {
                let mut told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                if let Some(finding) = &mut told {
                    finding.source_at = source;
                }
                let reason = Some(Reason::NoRowForChoice);
                drafts.push(Draft::same(told, Outcome::DoesNotConform, reason));
            }
            Candidate::Open(why) => drafts.push(self.open(planned, rule, at, why)),
            Candidate::Row(row, constants, exemption) => {
                self.eval.set_measurer(Measurer::First);
                self.row(planned, rule, at, item, row, constants, drafts);
                if self.any_second && self.eval.uses_second(&rule.value.root, at) {
                    let mut second = Drafts::new();
                    self.eval.set_measurer(Measurer::Second);
                    self.row(planned, rule, at, item, row, constants, &mut second);
                    self.eval.set_measurer(Measurer::First);
                    disagree(drafts, &second);
                }
                for told in drafts.iter_mut().filter_map(|draft| draft.told.as_mut()) {
                    told.exemption = exemption;
                }
            }
        }
    }

    /// A finding that is open at every stage.
    pub(super) fn open(&self, planned: &PlannedRule, rule: &Rule, at: usize, why: Why) -> Draft {
        let mut told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), rule.id.span);
        if let Some(finding) = &mut told {
            if let Some(span) = why.span {
                finding.source_at = span;
                let problems = self.eval.problems.iter().filter(|(at, _)| *at == span);
                finding.notes = problems.map(|(_, words)| words.clone()).take(1).collect();
            }
            finding.settled_by = self.settle_of(&why);
        }
        Draft::same(told, Outcome::NotDecided, Some(why.reason))
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "the parts belong to no lasting thing"
    )]
    fn row(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        row: &'r LimitRow,
        constants: &'r [Option<Number>],
        drafts: &mut Drafts,
    ) {
        match &row.demand {
            Demand::None => {
                let told = self.told(RuleRef::Rule(planned.at), ItemRef::Item(at), row.span);
                let reason = Some(Reason::Exempt);
                drafts.push(Draft::same(told, Outcome::NotApplicable, reason));
            }
            Demand::Equals(equals, span) => {
                let value = self.eval.value(&rule.value.root, at);
                drafts.push(self.equals(planned, rule, at, value, equals, *span));
            }
            Demand::Bounds(bounds) => {
                let value = self.eval.value(&rule.value.root, at);
                if let Val::Unknown(why) = value {
                    let mut draft = self.open(planned, rule, at, why);
                    if let Some(finding) = &mut draft.told {
                        finding.limit_at = row.span;
                    }
                    drafts.push(draft);
                    return;
                }
                for (number, bound) in bounds.iter().enumerate() {
                    let constant = constants.get(number).and_then(Option::as_ref);
                    drafts.push(self.bound(planned, rule, at, item, &value, bound, constant));
                }
            }
        }
    }
}

/// Where two measurers come to different outcomes, neither stands until a named person chooses.
fn disagree(first: &mut [Draft], second: &[Draft]) {
    for (one, other) in first.iter_mut().zip(second) {
        one.outcomes = ByStage::of(|stage| {
            let (a, b) = (*one.outcomes.at(stage), *other.outcomes.at(stage));
            if a.0 == b.0 {
                a
            } else {
                (Outcome::NotDecided, Some(Reason::MeasurersDisagree))
            }
        });
        if let (Some(told), Some(other)) = (&mut one.told, &other.told)
            && other.source_at != told.source_at
        {
            told.also_at.push(other.source_at);
        }
    }
}
