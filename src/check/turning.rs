//! Where the outcome of a rule on an item turns as one of its limits moves.
//!
//! The rule is asked again and again with other limits in place of the written one, by the same way as any check; where
//! its outcome turns is reckoned from the value and the uncertainty that it found, and then held to what it says there,
//! a little before and a little beyond. So whatever a rule does with places, repeats and conditions counts here too.

use super::draft::Sink;
use super::finding::{Finding, FoundValue, Outcome, Reason};
use super::judge::{Candidate, Judge};
use super::plan::{Context, Plan};
use crate::quantity::{Exact, Number};
use crate::record::Record;
use crate::rules::{Bound, BoundKind, LimitRow, Rounded, Stage, rows};
use crate::uncertainty::DecisionRule;

/// A limit that can be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MovingLimit {
    /// The rule by position.
    pub rule: usize,
    /// The row by position: those of the table, then the exemptions.
    pub row: usize,
    /// The bound by position in its row.
    pub bound: usize,
}

impl Plan {
    /// The row of a limit, and its bound.
    pub fn moving_row(&self, limit: &MovingLimit) -> Option<(&LimitRow, &Bound)> {
        let rule = self.rules().rule(limit.rule)?;
        let row = rows(&rule.limits, &rule.instead).nth(limit.row)?;
        Some((row, row.demand.bounds().get(limit.bound)?))
    }

    /// A record, ready to be asked how its items stand as a limit moves; nothing where there is no such limit.
    pub fn moving<'r>(
        &'r self,
        record: &'r Record,
        context: &'r Context,
        limit: &MovingLimit,
    ) -> Option<Moving<'r>> {
        let (row, bound) = self.moving_row(limit)?;
        // A thousandth of a millionth of the unit: no one measures so finely, and exact numbers tell it apart.
        let near = Exact::power_of_ten(-9).mul(&bound.unit().factor()).abs();
        Some(Moving {
            judge: Judge::new(self, record, context, true),
            rule: limit.rule,
            row,
            bound,
            near,
        })
    }
}

/// A limit that is tried in place of a written one.
#[derive(Debug)]
pub(super) struct Tried<'r> {
    bound: &'r Bound,
    /// The bound that an unrounded value is decided against.
    pub kind: BoundKind,
    /// The limit that it is decided against, base units.
    pub limit: Exact,
}

impl Tried<'_> {
    /// Whether it is tried in place of this bound.
    pub fn is_of(&self, bound: &Bound) -> bool {
        std::ptr::eq(self.bound, bound)
    }
}

/// A record whose items are asked how they stand as a limit moves.
pub struct Moving<'r> {
    judge: Judge<'r>,
    rule: usize,
    row: &'r LimitRow,
    bound: &'r Bound,
    near: Exact,
}

/// Whether an item meets a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Concern {
    /// It does.
    Met,
    /// It can't be said which limit counts, and why.
    Unsure(Reason),
    /// It meets another row of the rule.
    OtherRow,
    /// The rule does not apply to it.
    NotApplicable,
}

/// Where outcomes turn as a limit gets sterner: a minimum as it rises, a maximum as it falls.
#[derive(Clone, Debug, PartialEq)]
pub struct Turns {
    /// The outcome far on the mild side, and why.
    pub mildest: (Outcome, Option<Reason>),
    /// The outcome far on the stern side.
    pub sternest: Outcome,
    /// Up to where it conforms; nothing where it does everywhere, or nowhere.
    pub conforms: Option<Turn>,
    /// Up to where it is not known not to conform; nothing where that is so everywhere, or nowhere.
    pub bearable: Option<Turn>,
}

/// A place where an outcome turns.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Turn {
    /// The limit, base units.
    pub at: Exact,
    /// Whether the outcome before the turn still holds with this very limit.
    pub itself: bool,
    /// Whether it is just there: else within a thousandth of a millionth of the unit.
    pub exact: bool,
}

/// What a rule says with a limit that is tried.
#[derive(Clone, Debug)]
pub struct Look {
    /// The worst outcome.
    pub outcome: Outcome,
    /// Its reason.
    pub reason: Option<Reason>,
    /// The value on the side of the limit, and its expanded uncertainty, base units.
    value: Option<(FoundValue, Option<f64>)>,
}

/// What is asked for as a limit gets sterner: it holds on the mild side of a turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Asked {
    Conforms,
    Bearable,
}

impl Asked {
    fn holds(self, outcome: Outcome) -> bool {
        match (self, outcome) {
            (_, Outcome::Conforms | Outcome::NotApplicable) => true,
            (Asked::Bearable, Outcome::NotDecided) => true,
            (Asked::Conforms, Outcome::NotDecided) | (_, Outcome::DoesNotConform) => false,
        }
    }
}

/// Places that are reckoned and tried before a turn is looked for by halves.
const TRIES: usize = 64;

/// Halvings of a stretch of limits.
const HALVINGS: usize = 200;

impl Moving<'_> {
    /// The items that the rule is about, by position.
    pub fn items(&self) -> Vec<usize> {
        let part = self.judge.rules.rule(self.rule).map(|rule| rule.applies_to);
        let items = self.judge.record.items.iter().enumerate();
        items
            .filter(|(_, item)| Some(item.part) == part)
            .map(|(at, _)| at)
            .collect()
    }

    /// Whether an item meets the limit.
    pub fn concern(&mut self, item: usize) -> Concern {
        let Some((planned, rule, own)) = self.judge.planned(self.rule, item) else {
            return Concern::NotApplicable;
        };
        if !rule.checked_at.at(self.judge.context.purpose) {
            return Concern::NotApplicable;
        }
        if rule.names_event && self.judge.context.level.is_none() {
            // Without an event it is asked at events alone.
            return match self.judge.context.purpose {
                Stage::EventInspection => Concern::Unsure(Reason::ContextMissing),
                Stage::SelfCheck | Stage::Certification => Concern::NotApplicable,
            };
        }
        self.judge.set_stage(self.judge.context.purpose);
        let candidates = self.judge.candidates(planned, rule, item, own, &mut None);
        let mut found = Concern::NotApplicable;
        for candidate in &candidates {
            let this = match candidate {
                Candidate::Row(row, ..) if std::ptr::eq(*row, self.row) => return Concern::Met,
                Candidate::Zones(rows) => {
                    if rows.iter().any(|(_, row)| std::ptr::eq(row, self.row)) {
                        return Concern::Met;
                    }
                    Concern::OtherRow
                }
                Candidate::Row(..) | Candidate::NoRowForChoice(..) => Concern::OtherRow,
                Candidate::NotApplicable(..) => Concern::NotApplicable,
                Candidate::Open(why) => Concern::Unsure(why.reason),
            };
            found = match (found, this) {
                (Concern::Unsure(why), _) => Concern::Unsure(why),
                (Concern::NotApplicable, this) => this,
                (found, Concern::Unsure(why)) => match found {
                    Concern::Met => Concern::Met,
                    Concern::Unsure(_) | Concern::OtherRow | Concern::NotApplicable => {
                        Concern::Unsure(why)
                    }
                },
                (found, Concern::Met | Concern::OtherRow | Concern::NotApplicable) => found,
            };
        }
        found
    }

    /// What the rule says of an item with a limit, base units, in place of the written one. Where values are rounded the
    /// limit is a multiple of the step; of any other nothing is said.
    pub fn look(&mut self, item: usize, limit: &Exact) -> Option<Look> {
        let (kind, limit) = match &self.bound.rounded {
            None => (self.bound.kind, limit.clone()),
            Some(rounded) => {
                let found = Rounded::new(self.bound.kind, limit, rounded.to.clone())?;
                (found.kind, found.limit)
            }
        };
        self.judge.tried = Some(Tried {
            bound: self.bound,
            kind,
            limit,
        });
        let mut findings: Vec<Finding> = Vec::new();
        let mut sink = Sink::Findings(&mut findings);
        self.judge.one_rule(self.rule, item, &mut sink);
        let worst = findings.iter().min_by_key(|one| one.outcome)?;
        let (outcome, reason) = (worst.outcome, worst.reason);
        let lower = self.bound.kind.is_lower();
        let same_side = |one: &Finding| one.side.is_some_and(|side| side.is_lower() == lower);
        let own = findings.into_iter().find(same_side);
        let value = own.and_then(|one| Some((one.value?, one.expanded.map(|found| found.U))));
        Some(Look {
            outcome,
            reason,
            value,
        })
    }

    /// Where the outcome of an item turns.
    pub fn turns(&mut self, item: usize) -> Option<Turns> {
        let mild = self.look(item, &self.far(-1))?;
        let stern = self.look(item, &self.far(1))?;
        let mut turn = |asked: Asked| {
            let turns = asked.holds(mild.outcome) && !asked.holds(stern.outcome);
            turns.then(|| self.turn(item, asked, &stern)).flatten()
        };
        let (conforms, bearable) = (turn(Asked::Conforms), turn(Asked::Bearable));
        Some(Turns {
            mildest: (mild.outcome, mild.reason),
            sternest: stern.outcome,
            conforms,
            bearable,
        })
    }

    /// A limit that is far sterner (1) or far milder (-1) than any value: a million kilometres, a thousand million
    /// kilograms, a multiple of the step where values are rounded.
    fn far(&self, way: i64) -> Exact {
        let far = Exact::power_of_ten(12);
        let far = match &self.bound.rounded {
            None => far,
            Some(rounded) => rounded.to.difference().mul(&far),
        };
        let up = (way > 0) == self.bound.kind.is_lower();
        if up { far } else { far.neg() }
    }

    /// A limit that is sterner by so much, or milder by it.
    fn sterner(&self, limit: &Exact, by: &Exact) -> Exact {
        match self.bound.kind.is_lower() {
            true => limit.add(by),
            false => limit.sub(by),
        }
    }

    fn milder(&self, limit: &Exact, by: &Exact) -> Exact {
        self.sterner(limit, &by.neg())
    }

    /// The turn of an item for which what is asked holds far on the mild side, and not far on the stern side.
    fn turn(&mut self, item: usize, asked: Asked, stern: &Look) -> Option<Turn> {
        if let Some(rounded) = &self.bound.rounded {
            let step = rounded.to.difference();
            return self.rounded_turn(item, asked, stern, &step);
        }
        let near = self.near.clone();
        let mut seen = stern.clone();
        let mut last: Option<Exact> = None;
        for _ in 0..TRIES {
            let Some(at) = self.border(&seen, asked) else {
                break;
            };
            // Each place that binds lies on the milder side of the one before.
            if last.is_some_and(|last| self.sterner_of(&at, &last)) {
                break;
            }
            let beyond = self.look(item, &self.sterner(&at, &near))?;
            if asked.holds(beyond.outcome) {
                break;
            }
            let here = self.look(item, &at)?;
            let turn = |at: Exact, itself: bool| {
                Some(Turn {
                    at,
                    itself,
                    exact: true,
                })
            };
            if asked.holds(here.outcome) {
                return turn(at, true);
            }
            let before = self.look(item, &self.milder(&at, &near))?;
            if asked.holds(before.outcome) {
                return turn(at, false);
            }
            seen = before;
            last = Some(at);
        }
        self.by_halves(item, asked, stern)
    }

    /// Whether a limit is not milder than another one.
    fn sterner_of(&self, one: &Exact, other: &Exact) -> bool {
        match self.bound.kind.is_lower() {
            true => one >= other,
            false => one <= other,
        }
    }

    /// Where an outcome turns by a value and its uncertainty (JCGM 106:2012, clause 8), if nothing else counted.
    fn border(&self, look: &Look, asked: Asked) -> Option<Exact> {
        let lower = self.bound.kind.is_lower();
        let (value, u) = look.value.as_ref()?;
        let value = match value {
            FoundValue::Count { sure, possible } => {
                let count = match (asked, lower) {
                    (Asked::Conforms, true) | (Asked::Bearable, false) => sure,
                    (Asked::Bearable, true) | (Asked::Conforms, false) => possible,
                };
                return Some(Exact::from_integer(*count));
            }
            FoundValue::Number { value, .. } => match value {
                Number::Exact(value) => value.clone(),
                Number::Real { value, .. } => Exact::from_f64_shortest(*value)?,
            },
            FoundValue::Answer(_) | FoundValue::Word(_) => return None,
        };
        let decision = &self.judge.rules.decision;
        let band = match u {
            Some(u) => decision.guard_factor.mul(&Exact::from_f64_shortest(*u)?),
            None => Exact::ZERO,
        };
        Some(
            match (*decision.rules.at(self.judge.context.purpose), asked) {
                (DecisionRule::SimpleAcceptance, _) => value,
                (DecisionRule::GuardedAcceptance, Asked::Conforms) => self.milder(&value, &band),
                (DecisionRule::GuardedAcceptance, Asked::Bearable)
                | (DecisionRule::GuardedRejection, _) => self.sterner(&value, &band),
            },
        )
    }

    /// The sternest multiple of a step with which what is asked holds.
    fn rounded_turn(
        &mut self,
        item: usize,
        asked: Asked,
        stern: &Look,
        step: &Exact,
    ) -> Option<Turn> {
        let turn = |at: Exact| {
            Some(Turn {
                at,
                itself: true,
                exact: true,
            })
        };
        let near = self
            .border(stern, asked)
            .and_then(|at| at.checked_div(step))
            .map(|steps| steps.to_f64().round());
        if let Some(near) = near.and_then(whole) {
            let multiple = |count: i64| Exact::from_integer(count).mul(step);
            let way = if self.bound.kind.is_lower() { -1 } else { 1 };
            let mut beyond = near.saturating_sub(2 * way);
            if !asked.holds(self.look(item, &multiple(beyond))?.outcome) {
                for _ in 0..4 {
                    let next = beyond.saturating_add(way);
                    if asked.holds(self.look(item, &multiple(next))?.outcome) {
                        return turn(multiple(next));
                    }
                    beyond = next;
                }
            }
        }
        // By halves, over whole numbers of steps.
        let (mut holds, mut fails) = (self.far(-1), self.far(1));
        for _ in 0..HALVINGS {
            let steps = fails.sub(&holds).checked_div(step)?;
            if steps.abs() <= Exact::ONE {
                break;
            }
            let half = whole((steps.to_f64() / 2.0).trunc())?;
            let middle = holds.add(&Exact::from_integer(half).mul(step));
            if asked.holds(self.look(item, &middle)?.outcome) {
                holds = middle;
            } else {
                fails = middle;
            }
        }
        turn(holds)
    }

    /// The turn to within a thousandth of a millionth of the unit.
    fn by_halves(&mut self, item: usize, asked: Asked, stern: &Look) -> Option<Turn> {
        let (mut holds, mut fails) = (self.far(-1), self.far(1));
        // First around where it should be, ever further away.
        if let Some(at) = self.border(stern, asked) {
            let mut by = self.near.clone();
            for _ in 0..TRIES {
                let (one, other) = (self.milder(&at, &by), self.sterner(&at, &by));
                let held = asked.holds(self.look(item, &one)?.outcome);
                let failed = !asked.holds(self.look(item, &other)?.outcome);
                if held {
                    holds = one;
                }
                if failed {
                    fails = other;
                }
                if held && failed {
                    break;
                }
                by = by.mul(&Exact::from_integer(4));
            }
        }
        let half = Exact::from_fraction(1, 2)?;
        for _ in 0..HALVINGS {
            let wide = fails.sub(&holds);
            if wide.abs() <= self.near {
                break;
            }
            let middle = holds.add(&wide.mul(&half));
            if asked.holds(self.look(item, &middle)?.outcome) {
                holds = middle;
            } else {
                fails = middle;
            }
        }
        Some(Turn {
            at: holds,
            itself: true,
            exact: false,
        })
    }
}

/// A whole number that floating point and 64 bits both hold.
fn whole(number: f64) -> Option<i64> {
    let fits = number.fract() == 0.0 && number.abs() < 9.0e15;
    #[expect(clippy::cast_possible_truncation, reason = "a whole number of 53 bits")]
    fits.then_some(number as i64)
}
