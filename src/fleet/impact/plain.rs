//! Rules made ready for boats of plain values, so that most of a fleet needs no record and no plan.
//!
//! What is weighed here is exact: values, limits and the U of single readings are whole billionths of a base unit. What this
//! does not know, a rule of another kind or a value that lies where only the whole check can tell, is asked of the plan; the
//! laws of fleet impact hold both ways to the same answer.

use smallvec::SmallVec;

use super::heads::{Of, RuleHead};
use crate::expression::{Arithmetic, Expression, Node, Op, Scope};
use crate::prove::Side;
use crate::quantity::{Exact, billionths};
use crate::record::{Both, Column, PlainKind, PlainLoader, Slot};
use crate::rules::{
    Bound, BoundKind, Demand, Equals, Judged, LimitRow, Limits, MarkLimits, Rule, RulesFile, Stage,
};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::{ChoiceId, Measure, MeasureId, PartId, TraitId, TraitKind, Vocabulary};

/// Whole billionths of a base unit.
pub(super) type Billionths = i64;

/// A condition on declared choices.
#[derive(Debug)]
pub(super) enum Condition {
    /// A trait is one of these.
    Is(usize, Vec<bool>),
    /// All of these.
    All(Vec<Condition>),
    /// Any of these.
    Any(Vec<Condition>),
    /// Not this.
    Not(Box<Condition>),
}

/// What a rule judges.
#[derive(Debug)]
pub(super) enum Subject {
    /// A sum of measures, each times a whole number.
    Sum(SmallVec<[Term; 2]>),
    /// A measure at places, all of them.
    Places(Term, usize),
    /// An answer.
    Answer(usize),
    /// A declared choice.
    Choice(usize),
}

/// A measure in a sum.
#[derive(Clone, Copy, Debug)]
pub(super) struct Term {
    /// Its column.
    pub column: usize,
    /// How many times it counts.
    pub times: i64,
    /// What is plausible.
    pub plausible: Option<(Billionths, Billionths)>,
}

/// A row of limits.
#[derive(Debug)]
pub(super) enum Row {
    /// Bounds on a number.
    Bounds(SmallVec<[Limit; 2]>),
    /// An answer.
    Answer(bool),
    /// Choices that may be there.
    Choices(Vec<bool>),
    /// Nothing is asked.
    Nothing,
}

/// A bound on a number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limit {
    /// Whether it is a lower one.
    pub lower: bool,
    /// Whether the limit itself lies outside.
    pub strict: bool,
    /// The limit.
    pub at: Billionths,
    /// The row that it stands in.
    pub row: usize,
    /// Which bound, as written.
    pub kind: BoundKind,
}

/// The guard band.
#[derive(Clone, Copy, Debug)]
pub(super) enum Band {
    /// Of one reading.
    Whole(Billionths),
    /// Of a sum, to within its rounding, billionths.
    Rounded(f64),
}

/// A rule ready to be asked of items of a kind.
#[derive(Debug)]
pub(super) struct Test {
    /// When it applies.
    pub when: Option<Condition>,
    /// Which row counts by a choice; nothing where there is a single row.
    pub table: Option<(usize, Vec<Option<usize>>)>,
    /// Its rows.
    pub rows: Vec<Row>,
    /// What it judges.
    pub subject: Subject,
    /// The guard band.
    pub band: Band,
    /// U, base units.
    pub u: f64,
}

/// A rule of both versions, or of one of them.
#[derive(Debug)]
pub(super) struct Asking {
    /// Its head.
    pub head: usize,
    /// Its place in either file.
    pub rule: Both<Option<usize>>,
    /// What it asks in either version; in the newer one alone where both say the same.
    pub test: Both<Option<Test>>,
    /// Whether both versions say the same.
    pub same: bool,
    /// Whether it is told how values lie to limits of the newer version.
    pub told: bool,
}

/// Two versions made ready for plain boats.
pub(super) struct PlainPair<'r> {
    /// Reads them.
    pub loader: PlainLoader<'r>,
    /// The rules of each kind of item.
    pub asking: Vec<Vec<Asking>>,
    /// Marks that no record is asked about at this stage: their heads with the versions that have them.
    pub marks: Vec<(usize, Both<bool>)>,
    /// How decisions are made in either version.
    pub decision: Both<DecisionRule>,
    /// Readings that are older than so many days are not plain.
    pub fresh_for: i64,
    /// Whether items of a kind could have a year.
    pub dated: Vec<bool>,
}

/// One version while it is made ready.
struct Making<'r> {
    rules: &'r RulesFile,
    side: Side,
    purpose: Stage,
}

impl<'r> PlainPair<'r> {
    /// Makes two versions ready; nothing where either asks anything that is not plain.
    pub(super) fn of(
        (old, new): (&'r RulesFile, &'r RulesFile),
        loader: PlainLoader<'r>,
        heads: &[RuleHead],
        purpose: Stage,
        level: bool,
    ) -> Option<PlainPair<'r>> {
        // Elsewhere every reading asks for its instrument.
        if level || purpose != Stage::SelfCheck {
            return None;
        }
        let making = |rules: &'r RulesFile, side| Making {
            rules,
            side,
            purpose,
        };
        let (of_old, of_new) = (making(old, Side::Old), making(new, Side::New));
        let mut asking = Vec::new();
        let mut dated = Vec::new();
        for kind in loader.kinds() {
            let mut list = Vec::new();
            for (at, head) in heads.iter().enumerate() {
                let Of::Rule { old, new } = head.of else {
                    continue;
                };
                // Where both say the same the newer version speaks for both.
                let older = if head.same {
                    None
                } else {
                    of_old.asked(old, kind)?
                };
                let newer = of_new.asked(new, kind)?;
                if older.is_some() || newer.is_some() {
                    list.push(Asking {
                        head: at,
                        rule: Both {
                            newer: new,
                            older: old,
                        },
                        test: Both { newer, older },
                        same: head.same,
                        told: !head.limits.is_empty(),
                    });
                }
            }
            asking.push(list);
            let part = new.vocabulary.part(kind.part.newer)?;
            let is_date = |kind: &TraitKind| matches!(kind, TraitKind::Date);
            dated.push(part.traits.iter().any(|one| is_date(&one.kind)));
        }
        let mut marks = Vec::new();
        for (at, head) in heads.iter().enumerate() {
            if let Of::Marks { old, new } = head.of {
                let older = of_old.mark(old)?;
                let newer = of_new.mark(new)?;
                marks.push((at, Both { newer, older }));
            }
        }
        let fresh = |rules: &RulesFile| {
            let measures = rules.vocabulary.parts.iter().flat_map(|one| &one.measures);
            measures.filter_map(|one| one.fresh_for_days).min()
        };
        let days = fresh(old).into_iter().chain(fresh(new)).min();
        Some(PlainPair {
            loader,
            asking,
            marks,
            decision: Both {
                newer: *new.decision.rules.at(purpose),
                older: *old.decision.rules.at(purpose),
            },
            fresh_for: days.unwrap_or(i64::MAX),
            dated,
        })
    }
}

impl Making<'_> {
    /// Whether a limit on marks is there; it is one that no record is asked about without a level.
    fn mark(&self, at: Option<usize>) -> Option<bool> {
        let Some(at) = at else { return Some(false) };
        match self.rules.marks.get(at)?.limits {
            MarkLimits::ByLevel { .. } => Some(true),
            MarkLimits::Direct(_) => None,
        }
    }

    fn part(&self, kind: &PlainKind) -> PartId {
        match self.side {
            Side::Old => kind.part.older,
            Side::New => kind.part.newer,
        }
    }

    fn column(&self, kind: &PlainKind, wanted: Slot) -> Option<usize> {
        let own = |column: &Column| match self.side {
            Side::Old => column.at.older,
            Side::New => column.at.newer,
        };
        let mut columns = kind.columns.iter();
        columns.position(|column| own(column) == Some(wanted))
    }

    /// What a rule asks of items of a kind; the inner one is nothing where it asks nothing of them.
    #[expect(
        clippy::option_option,
        reason = "a rule may ask nothing, or something that is not plain"
    )]
    fn asked(&self, at: Option<usize>, kind: &PlainKind) -> Option<Option<Test>> {
        let Some(rule) = at.and_then(|at| self.rules.rule(at)) else {
            return Some(None);
        };
        // What is asked of groups is not asked of records without any.
        if rule.applies_to != self.part(kind) || !rule.checked_at.at(self.purpose) {
            return Some(None);
        }
        self.test(rule, kind).map(Some)
    }

    fn test(&self, rule: &Rule, kind: &PlainKind) -> Option<Test> {
        let plain = !rule.names_event
            && rule.instead.is_empty()
            && rule.outside.is_empty()
            && rule.zone.is_none()
            && rule.judged != Judged::Mean;
        plain.then_some(())?;
        let when = match &rule.when {
            Some(when) => Some(self.condition(&when.root, kind)?),
            None => None,
        };
        let (subject, band, u) = self.subject(rule, kind)?;
        let (table, rows) = match &rule.limits {
            Limits::Direct(row) => (None, vec![self.row(row, 0, &subject, rule)?]),
            Limits::ByTrait { by, rows, .. } => {
                let column = self.column(kind, Slot::Trait(*by))?;
                let place = |choice: usize| rows.iter().position(|(id, _)| id.index() == choice);
                let count = self.choices(kind, *by)?;
                let made = rows.iter().enumerate();
                let made = made.map(|(at, (_, row))| self.row(row, at, &subject, rule));
                (
                    Some((column, (0..count).map(place).collect())),
                    made.collect::<Option<Vec<Row>>>()?,
                )
            }
            Limits::ByTraits { .. } | Limits::ByZone { .. } | Limits::ByLevel { .. } => {
                return None;
            }
        };
        Some(Test {
            when,
            table,
            rows,
            subject,
            band,
            u,
        })
    }

    fn choices(&self, kind: &PlainKind, id: TraitId) -> Option<usize> {
        let part = self.rules.vocabulary.part(self.part(kind))?;
        match &part.traits.get(id.index())?.kind {
            TraitKind::Choice(names) => Some(names.len()),
            TraitKind::AnyOf(_) | TraitKind::Date | TraitKind::Flag => None,
        }
    }

    /// Which choices of a trait are among these.
    fn among(&self, kind: &PlainKind, id: TraitId, list: &[ChoiceId]) -> Option<Vec<bool>> {
        let count = self.choices(kind, id)?;
        let has = |at: usize| list.iter().any(|one| one.index() == at);
        Some((0..count).map(has).collect())
    }

    fn condition(&self, node: &Node, kind: &PlainKind) -> Option<Condition> {
        let all = |list: &[Node]| {
            let made = list.iter().map(|one| self.condition(one, kind));
            made.collect::<Option<Vec<Condition>>>()
        };
        match &node.op {
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, id) = subject.op else {
                    return None;
                };
                is_own(scope, self.part(kind)).then_some(())?;
                let list: Vec<ChoiceId> = choices.iter().flatten().copied().collect();
                let among = self.among(kind, id, &list)?;
                let column = self.column(kind, Slot::Trait(id))?;
                let is = among.into_iter().map(|is| is != *negated).collect();
                Some(Condition::Is(column, is))
            }
            Op::Not(inner) => Some(Condition::Not(Box::new(self.condition(inner, kind)?))),
            Op::And(list) => Some(Condition::All(all(list)?)),
            Op::Or(list) => Some(Condition::Any(all(list)?)),
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Compare(..)
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => None,
        }
    }

    /// What a rule judges, with its guard band and U.
    fn subject(&self, rule: &Rule, kind: &PlainKind) -> Option<(Subject, Band, f64)> {
        let none = Band::Whole(0);
        let part = self.rules.vocabulary.part(rule.applies_to)?;
        match &rule.value.root.op {
            Op::Trait(scope, id) if is_own(*scope, rule.applies_to) => {
                self.choices(kind, *id)?;
                let column = self.column(kind, Slot::Trait(*id))?;
                return Some((Subject::Choice(column), none, 0.0));
            }
            Op::Measure(scope, id) if is_own(*scope, rule.applies_to) && self.yes_no(rule, *id) => {
                let column = self.column(kind, Slot::Measure(*id))?;
                return Some((Subject::Answer(column), none, 0.0));
            }
            _ => {}
        }
        let mut sum: Vec<(MeasureId, i64)> = Vec::new();
        self.add(&rule.value, &rule.value.root, 1, &mut sum)?;
        let mut terms = SmallVec::new();
        let mut floors: SmallVec<[(f64, i64); 2]> = SmallVec::new();
        let mut placed = false;
        for (id, times) in sum {
            let measure = part.measures.get(id.index())?;
            placed |= measure.placed;
            floors.push((measure.floor(Vocabulary::UNNAMED)?.to_f64(), times));
            terms.push(Term {
                column: self.column(kind, Slot::Measure(id))?,
                times,
                plausible: plausible(measure)?,
            });
        }
        let factor = &self.rules.decision.guard_factor;
        let (band, u) = match floors[..] {
            [(floor, 1 | -1)] => {
                let shortest = Exact::from_f64_shortest(floor)?;
                (Band::Whole(billionths(&shortest.mul(factor))?), floor)
            }
            _ => {
                #[expect(clippy::cast_precision_loss, reason = "a small whole number")]
                let square = |(floor, times): &(f64, i64)| (floor * *times as f64).powi(2);
                let u = floors.iter().map(square).sum::<f64>().sqrt();
                (Band::Rounded(u * factor.to_f64() * 1e9), u)
            }
        };
        let least = match (&rule.places, placed) {
            (None, _) => 1,
            (Some(asked), true) if asked.repeats <= 1 && asked.spacing.is_none() => {
                usize::try_from(asked.at_least).ok()?
            }
            (Some(_), _) => return None,
        };
        let subject = match (placed, &terms[..]) {
            (false, _) => Subject::Sum(terms),
            (true, [only]) if only.times == 1 && rule.judged == Judged::WorstPlace => {
                Subject::Places(*only, least)
            }
            (true, _) => return None,
        };
        Some((subject, band, u))
    }

    fn yes_no(&self, rule: &Rule, id: MeasureId) -> bool {
        let part = self.rules.vocabulary.part(rule.applies_to);
        let measure = part.and_then(|part| part.measures.get(id.index()));
        measure.is_some_and(|one| one.kind == crate::vocabulary::MeasureKind::YesNo)
    }

    /// Adds a node as a sum of measures, each of them once.
    fn add(
        &self,
        whole: &Expression,
        node: &Node,
        times: i64,
        sum: &mut Vec<(MeasureId, i64)>,
    ) -> Option<()> {
        match &node.op {
            Op::Measure(scope, id) if is_own(*scope, whole.own) => {
                let twice = sum.iter().any(|(known, _)| known == id);
                (!twice).then(|| sum.push((*id, times)))
            }
            Op::Derived(scope, id) if is_own(*scope, whole.own) => {
                let derived = self.rules.derived_value(whole.own, *id)?;
                self.add(derived, &derived.root, times, sum)
            }
            Op::Negate(inner) => self.add(whole, inner, -times, sum),
            Op::Arithmetic(Arithmetic::Add, left, right) => {
                self.add(whole, left, times, sum)?;
                self.add(whole, right, times, sum)
            }
            Op::Arithmetic(Arithmetic::Subtract, left, right) => {
                self.add(whole, left, times, sum)?;
                self.add(whole, right, -times, sum)
            }
            _ => None,
        }
    }

    fn row(&self, row: &LimitRow, at: usize, subject: &Subject, rule: &Rule) -> Option<Row> {
        match (&row.demand, subject) {
            (Demand::None, _) => Some(Row::Nothing),
            (Demand::Bounds(bounds), Subject::Sum(_) | Subject::Places(..)) => {
                let made = bounds.iter().map(|bound| limit(bound, at));
                Some(Row::Bounds(made.collect::<Option<_>>()?))
            }
            (Demand::Equals(Equals::YesNo(asked), _), Subject::Answer(_)) => {
                Some(Row::Answer(*asked))
            }
            (demand, Subject::Choice(_)) => {
                let Op::Trait(_, id) = rule.value.root.op else {
                    return None;
                };
                let (list, allowed) = match demand {
                    Demand::Equals(Equals::Choice(asked), _) => (std::slice::from_ref(asked), true),
                    Demand::Only(list, _) => (&list[..], true),
                    Demand::Without(list, _) => (&list[..], false),
                    Demand::Equals(Equals::YesNo(_) | Equals::Count(_), _)
                    | Demand::Bounds(_)
                    | Demand::Options(_)
                    | Demand::None => return None,
                };
                let part = self.rules.vocabulary.part(rule.applies_to)?;
                let names = part.traits.get(id.index())?.kind.names().len();
                let has = |at: usize| list.iter().any(|one| one.index() == at);
                Some(Row::Choices(
                    (0..names).map(|at| has(at) == allowed).collect(),
                ))
            }
            _ => None,
        }
    }
}

/// Whether a name means the item under judgement: on the boat, bare names are the boat's.
fn is_own(scope: Scope, part: PartId) -> bool {
    match scope {
        Scope::Own => true,
        Scope::Boat => part == Vocabulary::BOAT,
        Scope::One(_) | Scope::Role(_) => false,
    }
}

fn limit(bound: &Bound, row: usize) -> Option<Limit> {
    Some(Limit {
        lower: bound.kind.is_lower(),
        strict: bound.exact_kind().is_strict(),
        at: billionths(&bound.exact_limit()?)?,
        row,
        kind: bound.kind,
    })
}

/// What is plausible of a measure; nothing where that can't be told in billionths.
#[expect(
    clippy::option_option,
    reason = "all may be plausible, or what is may be no whole number"
)]
fn plausible(measure: &Measure) -> Option<Option<(Billionths, Billionths)>> {
    match &measure.plausible {
        None => Some(None),
        Some((low, high)) => Some(Some((billionths(low)?, billionths(high)?))),
    }
}
