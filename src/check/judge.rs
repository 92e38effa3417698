//! A plan applied to a record: every rule asked of every item it is about.

use super::answers::Asked;
use super::arithmetic::level_missing;
use super::draft::{Draft, Drafts, Ruling, Sink, Told, worst_at};
use super::eval::{Evaluator, Setting};
use super::finding::{ItemRef, Outcome, Reason, RuleRef};
use super::places::agreed;
use super::plan::{Constant, Context, Plan, PlannedRule};
use super::reading::{Measurer, Readings};
use super::turning::Tried;
use super::value::{Truth, Val, Why};
use super::zones::ZoneRow;
use crate::expression::Expression;
use crate::record::{Item, Record};
use crate::rules::{ByStage, Demand, LimitRow, Rule, RulesFile, Stage, rows};
use crate::text::Span;
use crate::uncertainty::Register;
use smallvec::{SmallVec, smallvec};

/// Asks the rules of a plan of one record.
pub struct Judge<'r> {
    pub(super) plan: &'r Plan,
    pub(super) rules: &'r RulesFile,
    pub(super) record: &'r Record,
    pub(super) context: &'r Context,
    pub(super) eval: Evaluator<'r>,
    /// Whether anybody measured anything a second time.
    pub(super) compares: bool,
    /// The rules whose budgets are asked for, by id or clause; an empty list stands for all.
    pub(super) budgets: Option<&'r [String]>,
    /// A limit that is tried in place of a written one.
    pub(super) tried: Option<Tried<'r>>,
}

/// What a rule comes to before its limits are looked at.
pub(super) enum Candidate<'r> {
    /// A row of limits, with its constants, and which exemption it belongs to.
    Row(&'r LimitRow, &'r [Option<Constant>], Option<usize>),
    /// Rows by zone: each place meets those of the zones that it lies in.
    Zones(&'r [ZoneRow]),
    /// Nothing is asked.
    NotApplicable(Reason, Span),
    /// The table has no row, under closed rules.
    NoRowForChoice(Span, Span),
    /// It can't be said.
    Open(Why),
}

/// What is said where an exemption takes the limit away.
pub(super) const EXEMPT: Ruling = (Outcome::NotApplicable, Some(Reason::Exempt));

impl Candidate<'_> {
    /// What is said without a look at a limit.
    pub(super) fn ruling(&self) -> Option<Ruling> {
        match self {
            Candidate::Row(..) | Candidate::Zones(..) => None,
            Candidate::NotApplicable(reason, _) => Some((Outcome::NotApplicable, Some(*reason))),
            Candidate::NoRowForChoice(..) => {
                Some((Outcome::DoesNotConform, Some(Reason::NoRowForChoice)))
            }
            Candidate::Open(why) => Some((Outcome::NotDecided, Some(why.reason))),
        }
    }
}

/// Every expression that a rule asks of an item: value, conditions, limits.
pub(super) fn expressions(rule: &Rule) -> impl Iterator<Item = &Expression> {
    let limits = rows(&rule.limits, &rule.instead).flat_map(|row| row.demand.expressions());
    std::iter::once(&rule.value)
        .chain(&rule.when)
        .chain(rule.instead.iter().map(|row| &row.condition))
        .chain(limits)
}

impl<'r> Judge<'r> {
    /// Begins; `full` when a report is wanted.
    pub fn new(plan: &'r Plan, record: &'r Record, context: &'r Context, full: bool) -> Judge<'r> {
        let rules: &RulesFile = plan.rules();
        let setting = Setting {
            stage: context.purpose,
            decision: *rules.decision.rules.at(context.purpose),
            day: context.day,
            level: context.level,
        };
        let by_proof = &plan.derived_by_proof;
        let mut eval = Evaluator::new(rules, record, &plan.coverage, by_proof, setting, full);
        let compares = Readings::any_others(record);
        if !full && !compares {
            eval.glance_first(&plan.plausible);
        }
        Judge {
            plan,
            rules,
            record,
            context,
            eval,
            compares,
            budgets: None,
            tried: None,
        }
    }

    /// Keeps what sources are called from now on, and makes budgets of the rules asked for.
    pub(super) fn keep_budgets(&mut self, rules: &'r [String]) {
        self.eval.readings.register = Some(Register::new());
        self.budgets = Some(rules);
    }

    /// Whether findings tell everything.
    pub(super) fn full(&self) -> bool {
        self.eval.readings.full
    }

    /// A ruling for each stage where a report is wanted, else for the purpose alone.
    pub(super) fn by_stage(&self, mut each: impl FnMut(Stage) -> Ruling) -> ByStage<Ruling> {
        if self.full() {
            return ByStage::of(each);
        }
        let one = each(self.context.purpose);
        ByStage::of(|_| one)
    }

    /// Everything: parts that must be there, rules by item, marks.
    pub fn all(&mut self, out: &mut Sink<'_>) {
        self.equipment(out);
        let plan = self.plan;
        for (at, item) in self.record.items.iter().enumerate() {
            for planned in plan.by_part.get(item.part.index()).into_iter().flatten() {
                self.rule(planned, at, item, out);
            }
            self.beside_rules(at, item, out);
        }
        self.marks(out);
    }

    /// What is asked of an item beside the rules of the file.
    pub(super) fn beside_rules(&mut self, at: usize, item: &'r Item, out: &mut Sink<'_>) {
        if item.members.is_some() {
            self.roles(at, item, out);
        }
        self.silence(at, item, out);
        self.unlisted(at, out);
    }

    /// A draft that says nothing yet.
    pub(super) fn blank(&self, rule: RuleRef, item: ItemRef, limit_at: Span) -> Draft {
        let source_at = match item {
            ItemRef::Item(at) => self
                .record
                .items
                .get(at)
                .map(|item| item.span)
                .unwrap_or_default(),
            ItemRef::Holding(_) => self.record.sail_number_span,
        };
        Draft {
            rule,
            item,
            side: None,
            exemption: None,
            rulings: ByStage::of(|_| (Outcome::NotDecided, None)),
            benefit_of_doubt: false,
            second_measurer: false,
            source_at,
            limit_at,
            told: self.full().then(|| Box::new(Told::default())),
            places: None,
        }
    }

    pub(super) fn set_stage(&mut self, stage: Stage) {
        self.eval.setting.stage = stage;
        self.eval.setting.decision = *self.rules.decision.rules.at(stage);
    }

    pub(super) fn rule(
        &mut self,
        planned: &'r PlannedRule,
        at: usize,
        item: &'r Item,
        out: &mut Sink<'_>,
    ) {
        let Some(rule) = self.rules.rule(planned.at) else {
            return;
        };
        let purpose = self.context.purpose;
        if !rule.checked_at.at(purpose) {
            return;
        }
        self.set_stage(purpose);
        if let Sink::Briefs(found) = out
            && self.briefly(planned, rule, at, item, found)
        {
            return;
        }
        self.rule_by_drafts(planned, rule, at, item, out);
    }

    /// The long way, kept apart so that the short one stays small.
    #[inline(never)]
    fn rule_by_drafts(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        out: &mut Sink<'_>,
    ) {
        let purpose = self.context.purpose;
        let mut drafts = Drafts::new();
        let doubted = self.results(planned, rule, at, item, &mut drafts);
        // A doubt about the condition is told from outcomes, and those differ by stage.
        let other_stages: Vec<(Stage, Drafts)> = if self.full() && (planned.by_proof || doubted) {
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
        self.remark(rule, at, &mut drafts);
        for draft in drafts {
            out.take(draft, purpose, |draft| {
                ByStage::of(|stage| {
                    if !rule.checked_at.at(stage) {
                        return None;
                    }
                    let at_stage = other_stages.iter().find(|(other, _)| *other == stage);
                    Some(match at_stage {
                        None => draft.rulings.at(stage).0,
                        Some((_, drafts)) => {
                            let same_side = drafts.iter().find(|other| other.side == draft.side);
                            same_side.map_or_else(
                                || worst_at(drafts, stage),
                                |other| other.rulings.at(stage).0,
                            )
                        }
                    })
                })
            });
        }
    }

    /// Adds the drafts of a rule on an item at the stage that is set, by the first measurer's series and
    /// compared with those of the others; and tells whether its condition was in doubt.
    fn results(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        drafts: &mut Drafts,
    ) -> bool {
        let mut doubted = self.results_by_one(planned, rule, at, item, drafts);
        for number in 0..self.others(rule, at) {
            self.eval.set_measurer(Measurer::Other(number));
            let mut others = Drafts::new();
            doubted |= self.results_by_one(planned, rule, at, item, &mut others);
            self.eval.set_measurer(Measurer::First);
            self.disagree(drafts, &others, at, rule);
        }
        doubted
    }

    /// How many other measurers' series a rule can be asked of.
    fn others(&self, rule: &Rule, at: usize) -> usize {
        if !self.compares {
            return 0;
        }
        let each = expressions(rule).map(|one| self.eval.others(&one.root, at));
        each.max().unwrap_or(0)
    }

    /// Where another measurer comes to another outcome, neither stands until a named person chooses: place by
    /// place where there are places.
    fn disagree(&self, first: &mut [Draft], others: &[Draft], at: usize, rule: &Rule) {
        for one in first {
            let same_side = others.iter().find(|other| other.side == one.side);
            match same_side.and_then(|other| other.places.as_deref()) {
                Some(seen) if one.places.is_some() => self.compare_places(one, seen, at, rule),
                Some(_) | None => {
                    let theirs = ByStage::of(|stage| match same_side {
                        Some(other) => *other.rulings.at(stage),
                        None => (worst_at(others, stage), None),
                    });
                    one.rulings = agreed(&one.rulings, &theirs);
                }
            }
            if let Some(other) = same_side.or(others.first()) {
                let span = other.source_at;
                let own = one.source_at;
                one.tell(|told| {
                    if span != own && !told.also_at.contains(&span) {
                        told.also_at.push(span);
                    }
                });
            }
        }
    }

    /// The same by the series of one measurer.
    fn results_by_one(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        drafts: &mut Drafts,
    ) -> bool {
        if rule.names_event && self.context.level.is_none() {
            let draft = self.open(planned, rule, at, level_missing());
            drafts.push(draft.ruled_by(ByStage::of(|stage| match stage {
                Stage::EventInspection => (Outcome::NotDecided, Some(Reason::ContextMissing)),
                Stage::SelfCheck | Stage::Certification => {
                    (Outcome::NotApplicable, Some(Reason::NoEvent))
                }
            })));
            return false;
        }
        if rule.when.is_none() && rule.instead.is_empty() {
            let row = self.main_row(planned, rule, item);
            self.candidate(&row, planned, rule, at, item, drafts);
            return false;
        }
        let mut doubt = None;
        let candidates = self.candidates(planned, rule, at, item, &mut doubt);
        // Whatever the doubtful condition turns out to be, an outcome stands if it is always the same. It is
        // told by the last candidate: what needs no doubtful exemption.
        let Some((last, rest)) = candidates.split_last() else {
            return false;
        };
        self.candidate(last, planned, rule, at, item, drafts);
        let stage = self.eval.setting.stage;
        let worst = worst_at(drafts, stage);
        let doubted = doubt.is_some();
        for candidate in rest {
            let mut others = Drafts::new();
            self.candidate(candidate, planned, rule, at, item, &mut others);
            if worst_at(&others, stage) != worst
                && let Some(why) = doubt
            {
                drafts.clear();
                drafts.push(self.open(planned, rule, at, why));
                break;
            }
        }
        doubted
    }

    /// What may count: one candidate, or several where a condition is in doubt; the first doubt is kept.
    pub(super) fn candidates(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        doubt: &mut Option<Why>,
    ) -> SmallVec<[Candidate<'r>; 2]> {
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

    fn candidate(
        &mut self,
        candidate: &Candidate<'r>,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        drafts: &mut Drafts,
    ) {
        let ruled = |draft: Draft| match candidate.ruling() {
            Some((outcome, reason)) => draft.ruled(outcome, reason),
            None => draft,
        };
        match *candidate {
            Candidate::NotApplicable(_, span) => {
                let draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                drafts.push(ruled(draft));
            }
            Candidate::NoRowForChoice(span, source) => {
                let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), span);
                draft.source_at = source;
                drafts.push(ruled(draft));
            }
            Candidate::Open(why) => drafts.push(ruled(self.open(planned, rule, at, why))),
            Candidate::Zones(rows) => self.zones(planned, (rule, at, item), rows, drafts),
            Candidate::Row(row, constants, exemption) => {
                let new = drafts.len();
                self.row(planned, rule, at, item, (row, constants), drafts);
                for draft in drafts.iter_mut().skip(new) {
                    draft.exemption = exemption;
                }
            }
        }
    }

    /// A draft that is open at every stage.
    pub(super) fn open(&self, planned: &PlannedRule, rule: &Rule, at: usize, why: Why) -> Draft {
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), rule.id.span);
        if let Some(span) = why.span {
            draft.source_at = span;
        }
        draft.tell(|told| {
            let here = |at: &Span| Some(*at) == why.span;
            let mut problems = self.eval.problems.iter().filter(|(at, _)| here(at));
            told.notes
                .extend(problems.next().map(|(_, words)| words.clone()));
            told.settled_by = self.settle_of(&why);
        });
        draft.ruled(Outcome::NotDecided, Some(why.reason))
    }

    fn row(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        (row, constants): (&'r LimitRow, &'r [Option<Constant>]),
        drafts: &mut Drafts,
    ) {
        match &row.demand {
            Demand::None => {
                let draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), row.span);
                let (outcome, reason) = EXEMPT;
                drafts.push(draft.ruled(outcome, reason));
            }
            demand @ (Demand::Equals(..) | Demand::Only(..) | Demand::Without(..)) => {
                if let Some(asked) = Asked::of(demand) {
                    let value = self.eval.value(&rule.value.root, at);
                    drafts.push(self.asked(planned, rule, at, value, asked));
                }
            }
            Demand::Options(options) => drafts.push(self.options(planned, rule, at, options)),
            Demand::Bounds(bounds) => {
                let value = self.eval.value(&rule.value.root, at);
                if let Val::Unknown(why) = value {
                    let mut draft = self.open(planned, rule, at, why);
                    draft.limit_at = row.span;
                    drafts.push(draft);
                    return;
                }
                let new = drafts.len();
                for (number, bound) in bounds.iter().enumerate() {
                    let constant = constants.get(number).and_then(Option::as_ref);
                    let constant = constant.map(|one| &one.number);
                    drafts.push(self.bound(planned, rule, at, item, &value, (bound, constant)));
                }
                if super::extremes::asked(rule)
                    && let Some(new) = drafts.get_mut(new..)
                {
                    self.enough_for_extremes(rule, at, new);
                }
            }
        }
    }
}
