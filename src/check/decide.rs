//! Values against bounds: one value, a count, or place by place.

use super::finding::{
    Finding, FoundLimit, FoundPlace, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle,
};
use super::judge::{Judge, count_limit, settle_reason};
use super::plan::{PlannedRule, side_of};
use super::value::{Num, Val};
use crate::expression::{Node, Op};
use crate::quantity::{Exact, Number, Unit};
use crate::record::{Found, Item, Where};
use crate::rules::{Bound, ByStage, Judged, Rule, Stage};
use crate::text::Span;
use crate::uncertainty::{
    Decision, Expanded, Limit, Uncertain, Verdict, decide, largest_deciding_u, margin,
};
use crate::vocabulary::{ZoneId, ZoneKind};

/// A finding whose outcome is known for every stage.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The finding, its outcome not yet set.
    pub finding: Finding,
    /// Outcome and reason by stage.
    pub outcomes: ByStage<(Outcome, Option<Reason>)>,
}

impl Draft {
    /// The same outcome at every stage.
    pub fn same(finding: Finding, outcome: Outcome, reason: Option<Reason>) -> Draft {
        Draft {
            finding,
            outcomes: ByStage::of(|_| (outcome, reason)),
        }
    }
}

/// The worst outcome of some drafts at a stage.
pub fn worst_at(drafts: &[Draft], stage: Stage) -> Outcome {
    drafts
        .iter()
        .map(|draft| draft.outcomes.at(stage).0)
        .min()
        .unwrap_or(Outcome::NotDecided)
}

/// One value decided.
#[derive(Clone, Debug)]
pub struct Decided {
    outcomes: ByStage<(Outcome, Option<Reason>)>,
    expanded: Option<Expanded>,
    margin: Number,
    benefit_of_doubt: ByStage<bool>,
    near: bool,
    settle_u: Option<f64>,
}

/// Whether a rule looks at a place.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Looked {
    /// It does.
    In,
    /// The place lies in a zone that is left out, or outside the only zone.
    Out,
    /// The place does not say enough.
    Unstated,
}

impl<'r> Judge<'r> {
    /// A value against one bound.
    #[expect(
        clippy::too_many_arguments,
        reason = "one call site; the parts belong to no lasting thing"
    )]
    pub(super) fn bound(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        value: &Val<'r>,
        bound: &'r Bound,
        constant: Option<&Number>,
    ) -> Draft {
        let limit = match constant {
            Some(number) => Num::certain(Uncertain::certain(number.clone())),
            None => match self.eval.value(&bound.limit.root, at) {
                Val::Number(num) => num,
                Val::Count(sure, possible) if sure == possible => {
                    Num::certain(Uncertain::exact(Exact::from_integer(sure)))
                }
                Val::Unknown(why) => return self.side(self.open(planned, rule, at, why), bound),
                _ => {
                    return self.side(
                        self.open(
                            planned,
                            rule,
                            at,
                            super::value::Why {
                                reason: Reason::ConditionUnknown,
                                missing: super::value::Missing::Nothing,
                                span: None,
                            },
                        ),
                        bound,
                    );
                }
            },
        };
        let constant_limit = constant.is_some();
        let mut finding = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), bound.span);
        finding.side = Some(bound.kind);
        let unit = self.limit_unit(&bound.limit.root, &limit, value);
        if self.full() {
            finding.limit = Some(FoundLimit::Bound {
                kind: bound.kind,
                value: limit.value.value.clone(),
                unit,
                decimals: written_decimals(&bound.limit.text),
            });
        }
        match value {
            Val::Number(num) => {
                let decided = self.decided(num, bound, &limit, constant_limit);
                self.fill(&mut finding, num, &decided, unit, at, rule);
                Draft {
                    finding,
                    outcomes: decided.outcomes,
                }
            }
            Val::Count(sure, possible) => {
                let exact = limit.value.value.as_exact();
                let outcome = count_in(
                    bound.kind.is_lower(),
                    bound.kind.is_strict(),
                    *sure,
                    *possible,
                    exact,
                );
                let reason = (outcome == Outcome::NotDecided).then_some(Reason::ConditionUnknown);
                if self.full() {
                    finding.value = Some(FoundValue::Count {
                        sure: *sure,
                        possible: *possible,
                    });
                    if let Some(count) = exact.and_then(Exact::to_i64) {
                        finding.limit = Some(count_limit(bound.kind, count));
                    }
                    if sure == possible {
                        let number = Number::Exact(Exact::from_integer(*sure));
                        let limit = Limit {
                            side: side_of(bound.kind),
                            strict: false,
                            value: &limit.value.value,
                        };
                        finding.margin = Some(margin(&limit, &number));
                    }
                    self.spans(&mut finding, Span::default(), rule, at);
                }
                Draft::same(finding, outcome, reason)
            }
            Val::Places(places) => match rule.judged {
                Judged::Mean => self.mean(
                    rule,
                    at,
                    item,
                    places,
                    bound,
                    &limit,
                    constant_limit,
                    finding,
                    unit,
                ),
                Judged::WorstPlace | Judged::Unplaced => self.worst_place(
                    rule,
                    at,
                    item,
                    places,
                    bound,
                    &limit,
                    constant_limit,
                    finding,
                    unit,
                ),
            },
            // The loader lets no other kind of value meet a bound.
            Val::Choice(..)
            | Val::Level(_)
            | Val::Date(_)
            | Val::Answer { .. }
            | Val::Truth(_)
            | Val::Profile(..)
            | Val::Line(..)
            | Val::Sections(..)
            | Val::Unknown(_) => {
                Draft::same(finding, Outcome::NotDecided, Some(Reason::NotMeasured))
            }
        }
    }

    fn side(&self, mut draft: Draft, bound: &Bound) -> Draft {
        draft.finding.side = Some(bound.kind);
        draft.finding.limit_at = bound.span;
        draft
    }

    fn limit_unit(&self, node: &Node, limit: &Num, value: &Val<'r>) -> Unit {
        let written = match &node.op {
            Op::Quantity { unit, .. } => Some(*unit),
            _ => limit.unit,
        };
        let of_value = match value {
            Val::Number(num) => num.unit,
            Val::Places(places) => places.first().and_then(|one| one.num.unit),
            _ => None,
        };
        written.or(of_value).unwrap_or(Unit::PLAIN)
    }

    /// Decides one number at every stage.
    fn decided(&self, num: &Num, bound: &Bound, limit: &Num, constant: bool) -> Decided {
        // A limit that is itself measured is brought to the other side, so that what is shared cancels.
        let zero = Number::ZERO;
        let difference;
        let (target, threshold) = if constant {
            (&num.value, &limit.value.value)
        } else {
            difference = num.value.sub(&limit.value);
            (&difference, &zero)
        };
        let side = Limit {
            side: side_of(bound.kind),
            strict: bound.kind.is_strict(),
            value: threshold,
        };
        let expanded = (!target.unknown).then(|| target.expanded(&self.plan.coverage));
        let guard = &self.rules.decision.guard_factor;
        let u = expanded.as_ref().map(|expanded| expanded.U);
        let evidence = if constant {
            num.evidence
        } else {
            num.evidence.and(limit.evidence)
        };
        let mut known: Option<(crate::uncertainty::DecisionRule, Decision)> = None;
        let mut benefit_of_doubt = ByStage::default();
        let mut near = false;
        let mut decision_at = |stage: Stage| {
            let rule = *self.rules.decision.rules.at(stage);
            match known {
                Some((same, decision)) if same == rule => decision,
                _ => {
                    let decision = decide(rule, &side, target, u, guard);
                    known = Some((rule, decision));
                    decision
                }
            }
        };
        let outcomes = ByStage::of(|stage| {
            let decision = decision_at(stage);
            near |= decision.near;
            if let Some(reason) = evidence.reason(stage) {
                return (Outcome::NotDecided, Some(reason));
            }
            match stage {
                Stage::SelfCheck => benefit_of_doubt.self_check = decision.benefit_of_doubt,
                Stage::Certification => benefit_of_doubt.certification = decision.benefit_of_doubt,
                Stage::EventInspection => {
                    benefit_of_doubt.event_inspection = decision.benefit_of_doubt
                }
            }
            match decision.verdict {
                Verdict::Conforms => (Outcome::Conforms, None),
                Verdict::DoesNotConform => (Outcome::DoesNotConform, None),
                Verdict::NearLimit => (Outcome::NotDecided, Some(Reason::NearLimit)),
                Verdict::NotReached => (Outcome::NotDecided, Some(Reason::NotReached)),
                Verdict::UncertaintyUnknown => {
                    (Outcome::NotDecided, Some(Reason::UncertaintyUnknown))
                }
            }
        });
        let settle_u = if self.full() {
            largest_deciding_u(&side, target, guard)
        } else {
            None
        };
        Decided {
            outcomes,
            expanded,
            margin: margin(&side, &target.value),
            benefit_of_doubt,
            near,
            settle_u,
        }
    }

    fn fill(
        &self,
        finding: &mut Finding,
        num: &Num,
        decided: &Decided,
        unit: Unit,
        at: usize,
        rule: &Rule,
    ) {
        let stage = self.context.purpose;
        finding.benefit_of_doubt = *decided.benefit_of_doubt.at(stage);
        finding.second_measurer = decided.near;
        if !self.full() {
            return;
        }
        let decimals = num
            .unit
            .filter(|written| *written == unit)
            .and(num.decimals);
        finding.value = Some(FoundValue::Number {
            value: num.value.value.clone(),
            unit,
            decimals,
            bound: num.value.bound,
        });
        finding.expanded = decided.expanded;
        finding.margin = Some(decided.margin.clone());
        finding.settled_by = match decided.outcomes.at(stage).1 {
            Some(Reason::NearLimit) => decided
                .settle_u
                .map(|at_most| Settle::SmallerUncertainty { at_most, unit }),
            Some(reason) => settle_reason(reason),
            None => None,
        };
        self.spans(finding, num.span, rule, at);
    }

    /// Where the value stands: its own place first, then the other measures it was made of.
    fn spans(&self, finding: &mut Finding, own: Span, rule: &Rule, at: usize) {
        let mut leaves = Vec::new();
        self.leaves(&rule.value.root, at, &mut leaves);
        if !own.is_empty() {
            finding.source_at = own;
        } else if let Some(first) = leaves.first() {
            finding.source_at = *first;
        }
        // The measure that the value's own place belongs to is no further source.
        let single = leaves.len() <= 1;
        finding.also_at = leaves
            .into_iter()
            .filter(|span| !single && *span != finding.source_at)
            .collect();
    }

    fn leaves(&self, node: &Node, at: usize, found: &mut Vec<Span>) {
        let Some(item) = self.record.items.get(at) else {
            return;
        };
        let scoped = |scope: &crate::expression::Scope| match scope {
            crate::expression::Scope::Own => Some((at, item)),
            crate::expression::Scope::Boat => self.record.items.first().map(|boat| (0, boat)),
            crate::expression::Scope::One(holding) => self
                .record
                .items
                .iter()
                .enumerate()
                .find(|(_, one)| one.holding == Some(*holding)),
        };
        let mut add = |span: Span| {
            if !found.contains(&span) {
                found.push(span);
            }
        };
        match &node.op {
            Op::Measure(scope, slot) => {
                let measured =
                    scoped(scope).and_then(|(_, item)| item.measures.get(slot.index())?.as_ref());
                if let Some(measured) = measured {
                    add(match &measured.found {
                        Found::Answer(answer) => answer.span,
                        Found::Series(_) => measured.span,
                    });
                }
            }
            Op::Trait(scope, slot) => {
                if let Some(claim) =
                    scoped(scope).and_then(|(_, item)| item.traits.get(slot.index())?.as_ref())
                {
                    add(claim.span);
                }
            }
            Op::Derived(scope, slot) => {
                if let Some((at, item)) = scoped(scope)
                    && let Some(expression) = self.rules.derived_value(item.part, *slot)
                {
                    self.leaves(&expression.root, at, found);
                }
            }
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => {}
            Op::Negate(inner) | Op::Truth(inner) | Op::Not(inner) => self.leaves(inner, at, found),
            Op::IsChoice { subject, .. } => self.leaves(subject, at, found),
            Op::Arithmetic(_, left, right)
            | Op::Compare(_, left, right)
            | Op::IsSame { left, right, .. } => {
                self.leaves(left, at, found);
                self.leaves(right, at, found);
            }
            Op::And(list) | Op::Or(list) | Op::Call(_, list) => {
                for one in list {
                    self.leaves(one, at, found);
                }
            }
            Op::Count { over, .. } => {
                for item in self
                    .record
                    .items
                    .iter()
                    .filter(|item| item.holding == Some(*over))
                {
                    add(item.span);
                }
            }
            Op::Sum { over, value, .. } => {
                for (at, _) in self
                    .record
                    .items
                    .iter()
                    .enumerate()
                    .filter(|(_, item)| item.holding == Some(*over))
                {
                    self.leaves(value, at, found);
                }
            }
        }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "one call site; the parts belong to no lasting thing"
    )]
    fn worst_place(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        places: &[super::value::PlaceNum<'r>],
        bound: &Bound,
        limit: &Num,
        constant: bool,
        mut finding: Finding,
        unit: Unit,
    ) -> Draft {
        let purpose = self.context.purpose;
        let mut looked: Vec<(usize, Looked, Decided)> = Vec::with_capacity(places.len());
        for (number, place) in places.iter().enumerate() {
            let where_it_is = self.looked(rule, at, item, place.place);
            looked.push((
                number,
                where_it_is,
                self.decided(&place.num, bound, limit, constant),
            ));
        }
        let counting: Vec<usize> = looked
            .iter()
            .filter(|(_, looked, _)| *looked == Looked::In)
            .map(|(number, _, _)| *number)
            .collect();
        let lacking = self.lacking(rule, at, places, &counting);
        let outcomes = ByStage::of(|stage| place_outcome(&looked, &lacking, stage));
        let (outcome, reason) = *outcomes.at(purpose);
        let shown = shown_place(&looked, outcome, reason, purpose);
        finding.left_out = count_of(&looked, Looked::Out);
        let required = rule.places.as_ref().map_or(1, |places| places.at_least);
        finding.places = Some((u32::try_from(counting.len()).unwrap_or(u32::MAX), required));
        if let Some((number, _, decided)) = shown.and_then(|shown| looked.get(shown))
            && let Some(place) = places.get(*number)
        {
            self.fill(&mut finding, &place.num, decided, unit, at, rule);
            finding.place = self.full().then(|| found_place(place.place, unit));
        }
        if self.full() {
            match (reason, &lacking) {
                (Some(Reason::PlaceNotStated), _) => finding.settled_by = Some(Settle::StatePlace),
                (Some(reason), Some(lacking)) if reason == lacking.0 => {
                    finding.settled_by = lacking.1.clone()
                }
                _ => {}
            }
        }
        Draft { finding, outcomes }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "one call site; the parts belong to no lasting thing"
    )]
    fn mean(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        places: &[super::value::PlaceNum<'r>],
        bound: &Bound,
        limit: &Num,
        constant: bool,
        mut finding: Finding,
        unit: Unit,
    ) -> Draft {
        let mut counting = Vec::new();
        for (number, place) in places.iter().enumerate() {
            match self.looked(rule, at, item, place.place) {
                Looked::In => counting.push(number),
                Looked::Out => finding.left_out += 1,
                Looked::Unstated => {}
            }
        }
        let lacking = self.lacking(rule, at, places, &counting);
        let stated: Vec<&Num> = counting
            .iter()
            .filter_map(|number| places.get(*number))
            .map(|one| &one.num)
            .collect();
        let count = i64::try_from(stated.len()).unwrap_or(i64::MAX);
        let required = rule.places.as_ref().map_or(1, |places| places.at_least);
        finding.places = Some((u32::try_from(counting.len()).unwrap_or(u32::MAX), required));
        let share = Exact::ONE.checked_div(&Exact::from_integer(count));
        let (Some(first), Some(share)) = (stated.first(), share) else {
            let (reason, settle) = if finding.left_out == 0 {
                (Reason::PlaceNotStated, Some(Settle::StatePlace))
            } else {
                (Reason::TooFewPlaces, Some(Settle::MorePlaces(required)))
            };
            finding.settled_by = settle.filter(|_| self.full());
            return Draft::same(finding, Outcome::NotDecided, Some(reason));
        };
        let sum = Uncertain::sum(stated.iter().map(|num| &num.value));
        let evidence = stated
            .iter()
            .fold(first.evidence, |all, num| all.and(num.evidence));
        let mean = Num {
            evidence,
            ..first.with(sum.scale(&share))
        };
        let decided = self.decided(&mean, bound, limit, constant);
        self.fill(&mut finding, &mean, &decided, unit, at, rule);
        let outcomes = ByStage::of(|stage| {
            let (outcome, reason) = *decided.outcomes.at(stage);
            match (&lacking, outcome) {
                (Some(lacking), Outcome::Conforms | Outcome::DoesNotConform) => {
                    (Outcome::NotDecided, Some(lacking.0))
                }
                _ => (outcome, reason),
            }
        });
        if let (Some(lacking), (_, Some(reason))) = (&lacking, outcomes.at(self.context.purpose))
            && *reason == lacking.0
            && self.full()
        {
            finding.settled_by = lacking.1.clone();
        }
        Draft { finding, outcomes }
    }

    /// Whether a rule looks at a place: not in a zone that it leaves out, and in the only zone if it has one.
    fn looked(&mut self, rule: &Rule, at: usize, item: &Item, place: &Where) -> Looked {
        let mut unstated = false;
        for (zone, _) in &rule.outside {
            match self.in_zone(*zone, at, item, place) {
                Some(true) => return Looked::Out,
                Some(false) => {}
                None => unstated = true,
            }
        }
        if let Some((zone, _)) = rule.zone {
            match self.in_zone(zone, at, item, place) {
                Some(true) => {}
                Some(false) => return Looked::Out,
                None => unstated = true,
            }
        }
        if unstated {
            Looked::Unstated
        } else {
            Looked::In
        }
    }

    /// Whether a place lies in a zone, borders included; `None` where that is not said.
    fn in_zone(&mut self, zone: ZoneId, at: usize, item: &Item, place: &Where) -> Option<bool> {
        let rules = self.rules;
        let part = rules.vocabulary.part(item.part)?;
        match &part.zones.get(zone.index())?.kind {
            ZoneKind::WithinOfEdge(distance) => {
                place.from_edge.as_ref().map(|from| from <= distance)
            }
            ZoneKind::Between(low, high) => place.at.as_ref().map(|at| at >= low && at <= high),
            ZoneKind::WithinOf { distance, of } => {
                let position = place.at.as_ref()?;
                let border = match (part.measure_named(&of.text), part.derived_named(&of.text)) {
                    (Some(slot), _) => self.eval.measure(at, slot),
                    (None, Some(slot)) => self.eval.derived_of(at, slot),
                    (None, None) => return None,
                };
                match border {
                    Val::Number(num) => {
                        let border = num.value.value.as_exact()?;
                        Some((position - border).abs() <= *distance)
                    }
                    _ => None,
                }
            }
        }
    }

    /// What the places lack to be enough, with what would settle it.
    fn lacking(
        &mut self,
        rule: &'r Rule,
        at: usize,
        places: &[super::value::PlaceNum<'r>],
        counting: &[usize],
    ) -> Option<(Reason, Option<Settle>)> {
        let count = u32::try_from(counting.len()).unwrap_or(u32::MAX);
        let Some(asked) = &rule.places else {
            return (count == 0).then_some((Reason::TooFewPlaces, Some(Settle::MorePlaces(1))));
        };
        if count < asked.at_least {
            return Some((
                Reason::TooFewPlaces,
                Some(Settle::MorePlaces(asked.at_least - count)),
            ));
        }
        let counted = || counting.iter().filter_map(|number| places.get(*number));
        if counted().any(|place| place.num.readings < asked.repeats) {
            return Some((
                Reason::TooFewRepeats,
                Some(Settle::MoreRepeats(asked.repeats)),
            ));
        }
        let spacing = asked.spacing.as_ref()?;
        let mut end = |expression: &'r crate::expression::Expression| match self
            .eval
            .value(&expression.root, at)
        {
            Val::Number(num) => Ok(num.value.value.as_exact().cloned()),
            Val::Unknown(why) => Err(why),
            _ => Ok(None),
        };
        let (from, to) = match (end(&spacing.from), end(&spacing.to)) {
            (Ok(Some(from)), Ok(Some(to))) => (from, to),
            (Err(why), _) | (_, Err(why)) => return Some((why.reason, self.settle_of(&why))),
            _ => return Some((Reason::NotMeasured, None)),
        };
        let mut positions: Vec<&Exact> = counted()
            .filter_map(|place| place.place.at.as_ref())
            .collect();
        if positions.len() < counting.len() {
            return Some((Reason::PlaceNotStated, Some(Settle::StatePlace)));
        }
        let (low, high) = if from <= to {
            (&from, &to)
        } else {
            (&to, &from)
        };
        positions.push(low);
        positions.push(high);
        positions.sort();
        let too_wide = positions.windows(2).any(|pair| match pair {
            [a, b] => (*b - *a) > spacing.at_most.value && *a >= low && *b <= high,
            _ => false,
        });
        too_wide.then_some((Reason::TooFewPlaces, Some(Settle::CloserPlaces)))
    }
}

fn count_of(looked: &[(usize, Looked, Decided)], which: Looked) -> u32 {
    u32::try_from(
        looked
            .iter()
            .filter(|(_, looked, _)| *looked == which)
            .count(),
    )
    .unwrap_or(u32::MAX)
}

/// The worst outcome of the places at a stage; too few places never conforms, and a place proven bad does
/// not conform however few there are.
fn place_outcome(
    looked: &[(usize, Looked, Decided)],
    lacking: &Option<(Reason, Option<Settle>)>,
    stage: Stage,
) -> (Outcome, Option<Reason>) {
    let inside = || looked.iter().filter(|(_, looked, _)| *looked == Looked::In);
    let at = |decided: &Decided| *decided.outcomes.at(stage);
    if let Some((_, _, decided)) =
        inside().find(|(_, _, decided)| at(decided).0 == Outcome::DoesNotConform)
    {
        return at(decided);
    }
    let mut unstated = looked
        .iter()
        .filter(|(_, looked, _)| *looked == Looked::Unstated);
    let any_unstated = count_of(looked, Looked::Unstated) > 0;
    if unstated.any(|(_, _, decided)| at(decided).0 == Outcome::DoesNotConform) {
        return (Outcome::NotDecided, Some(Reason::PlaceNotStated));
    }
    let open = inside().filter(|(_, _, decided)| at(decided).0 == Outcome::NotDecided);
    if let Some((_, _, decided)) = open.min_by(|a, b| ratio(&a.2).total_cmp(&ratio(&b.2))) {
        return at(decided);
    }
    match lacking {
        Some((Reason::TooFewPlaces, _)) if any_unstated => {
            (Outcome::NotDecided, Some(Reason::PlaceNotStated))
        }
        Some((reason, _)) => (Outcome::NotDecided, Some(*reason)),
        None => (Outcome::Conforms, None),
    }
}

/// Margin over U, by which the place to show is chosen; the margin alone where U is zero.
fn ratio(decided: &Decided) -> f64 {
    let margin = decided.margin.to_f64();
    match decided.expanded {
        Some(expanded) if expanded.U > 0.0 => margin / expanded.U,
        _ if margin < 0.0 => f64::NEG_INFINITY,
        _ if margin > 0.0 => f64::MAX,
        _ => 0.0,
    }
}

/// The place that a finding shows: among those that gave the outcome, the one with the smallest margin
/// over U.
fn shown_place(
    looked: &[(usize, Looked, Decided)],
    outcome: Outcome,
    reason: Option<Reason>,
    stage: Stage,
) -> Option<usize> {
    let wanted = |(_, at, decided): &(usize, Looked, Decided)| {
        let own = *decided.outcomes.at(stage);
        match (outcome, reason) {
            (Outcome::NotDecided, Some(Reason::PlaceNotStated)) => *at == Looked::Unstated,
            (Outcome::DoesNotConform, _) => *at == Looked::In && own.0 == Outcome::DoesNotConform,
            _ => *at == Looked::In && own == (outcome, reason),
        }
    };
    let best = |test: &dyn Fn(&(usize, Looked, Decided)) -> bool| {
        let mut best: Option<(usize, f64, f64)> = None;
        for (number, one) in looked.iter().enumerate().filter(|(_, one)| test(one)) {
            let key = (ratio(&one.2), one.2.margin.to_f64());
            if best.is_none_or(|(_, ratio, margin)| {
                key.0
                    .total_cmp(&ratio)
                    .then(key.1.total_cmp(&margin))
                    .is_lt()
            }) {
                best = Some((number, key.0, key.1));
            }
        }
        best.map(|(number, _, _)| number)
    };
    best(&wanted)
        .or_else(|| best(&|one| one.1 == Looked::In))
        .or_else(|| best(&|_| true))
}

fn found_place(place: &Where, unit: Unit) -> FoundPlace {
    FoundPlace {
        at: place.at.clone(),
        unit: place.unit.or(Some(unit)),
        face: place.face,
        from_edge: place.from_edge.clone(),
    }
}

fn count_in(lower: bool, strict: bool, sure: i64, possible: i64, limit: Option<&Exact>) -> Outcome {
    let Some(limit) = limit else {
        return Outcome::NotDecided;
    };
    let inside = |count: i64| {
        let order = Exact::from_integer(count).cmp(limit);
        match (lower, strict) {
            (true, false) => order.is_ge(),
            (true, true) => order.is_gt(),
            (false, false) => order.is_le(),
            (false, true) => order.is_lt(),
        }
    };
    match (inside(sure), inside(possible)) {
        (true, true) => Outcome::Conforms,
        (false, false) => Outcome::DoesNotConform,
        (true, false) | (false, true) => Outcome::NotDecided,
    }
}

/// The decimals of a limit that is written as one number: `4.70 mm` has two.
fn written_decimals(text: &str) -> Option<u8> {
    crate::quantity::Quantity::parse(text)
        .ok()
        .and_then(|quantity| quantity.decimals)
}
