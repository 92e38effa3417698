//! Worlds in which a condition holds, or does not, for sure.

use super::solve::{Solver, one_of_many};
use super::world::{Claim, Frame, Proof, World};
use crate::expression::{Comparison, Node, Op};
use crate::quantity::{Date, DateSpan, Exact, add_days};
use crate::vocabulary::TraitKind;

/// No condition is tried in more ways.
const MOST: usize = 24;

impl Solver<'_> {
    /// Worlds in which a condition comes out as wanted; none where no way to that is known.
    pub fn ways(&self, node: &Node, frame: Frame, wanted: bool) -> Vec<World> {
        let mut found = self.all_ways(node, frame, wanted);
        found.truncate(MOST);
        found
    }

    fn all_ways(&self, node: &Node, frame: Frame, wanted: bool) -> Vec<World> {
        match &node.op {
            Op::Not(inner) => self.ways(inner, frame, !wanted),
            Op::And(list) => self.joined(list, frame, wanted, true),
            Op::Or(list) => self.joined(list, frame, wanted, false),
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, slot) = &subject.op else {
                    return Vec::new();
                };
                let Some(of) = frame.resolve(*scope, self.rules) else {
                    return Vec::new();
                };
                let among = wanted != *negated;
                let all = self.choices(of, slot.index());
                let fitting = all.into_iter().filter(|one| choices.contains(one) == among);
                fitting
                    .map(|choice| claim(of, *slot, Claim::Choice(choice)))
                    .collect()
            }
            Op::IsLevel { levels, negated } => {
                let among = wanted != *negated;
                let all = 0..self.rules.vocabulary.event_levels.len();
                let all =
                    all.filter_map(|at| u16::try_from(at).ok().map(crate::vocabulary::ChoiceId));
                let fitting = all.filter(|level| levels.contains(level) == among);
                let world = |level| World {
                    level: Some(level),
                    ..World::default()
                };
                fitting.map(world).collect()
            }
            Op::Truth(inner) => self.answers(inner, frame, wanted),
            Op::Compare(comparison, left, right) => {
                self.compared(*comparison, left, right, frame, wanted)
            }
            Op::IsSame {
                left,
                right,
                negated,
            } => self.same(left, right, frame, wanted != *negated),
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
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => self.answers(node, frame, wanted),
        }
    }

    /// `and` wanted true and `or` wanted false ask for all their parts, the others for one.
    fn joined(&self, list: &[Node], frame: Frame, wanted: bool, and: bool) -> Vec<World> {
        if and != wanted {
            return list
                .iter()
                .flat_map(|one| self.ways(one, frame, wanted))
                .collect();
        }
        let mut found = vec![World::default()];
        for one in list {
            let ways = self.ways(one, frame, wanted);
            let mut joined: Vec<World> = Vec::new();
            for world in &found {
                joined.extend(ways.iter().filter_map(|way| world.with(way)));
            }
            joined.truncate(MOST);
            found = joined;
        }
        found
    }

    /// The choices of a trait, `other` last.
    pub fn choices(&self, of: Frame, slot: usize) -> Vec<Option<crate::vocabulary::ChoiceId>> {
        let part = self.rules.vocabulary.part(of.part);
        let kind = part
            .and_then(|part| part.traits.get(slot))
            .map(|one| &one.kind);
        match kind {
            Some(TraitKind::Choice(names) | TraitKind::AnyOf(names)) => {
                let ids = (0..names.len()).filter_map(|at| u16::try_from(at).ok());
                ids.map(|at| Some(crate::vocabulary::ChoiceId(at)))
                    .chain([None])
                    .collect()
            }
            Some(TraitKind::Date | TraitKind::Flag) | None => Vec::new(),
        }
    }

    fn answers(&self, node: &Node, frame: Frame, wanted: bool) -> Vec<World> {
        if let Op::Trait(scope, slot) = &node.op {
            let of = frame.resolve(*scope, self.rules);
            return of
                .into_iter()
                .map(|of| claim(of, *slot, Claim::Flag(wanted)))
                .collect();
        }
        if let Op::Measure(scope, measure) = &node.op
            && let Some(of) = frame.resolve(*scope, self.rules)
        {
            let world = World {
                answers: vec![(of, *measure, wanted)],
                ..World::default()
            };
            return vec![world];
        }
        Vec::new()
    }

    fn compared(
        &self,
        comparison: Comparison,
        left: &Node,
        right: &Node,
        frame: Frame,
        wanted: bool,
    ) -> Vec<World> {
        if let Some(day) = constant_day(right) {
            return self.days(comparison, left, day, frame, wanted);
        }
        if let Some(day) = constant_day(left) {
            return self.days(turned(comparison), right, day, frame, wanted);
        }
        if let Op::Count { over, condition } = &left.op
            && let Some(limit) = right.constant().and_then(|limit| limit.to_i64())
        {
            let count = match (comparison, wanted) {
                (Comparison::Less, true) | (Comparison::GreaterOrEqual, false) => limit - 1,
                (Comparison::Less, false) | (Comparison::GreaterOrEqual, true) => limit,
                (Comparison::LessOrEqual, true) | (Comparison::Greater, false) => limit,
                (Comparison::LessOrEqual, false) | (Comparison::Greater, true) => limit + 1,
            };
            let items = self.items(*over, condition.as_deref(), count);
            let world = |items| World {
                many: vec![(*over, items)],
                ..World::default()
            };
            return items.map(world).into_iter().collect();
        }
        let strict = matches!(comparison, Comparison::Less | Comparison::Greater);
        let lower = matches!(comparison, Comparison::Less | Comparison::LessOrEqual);
        // On the border where the border is wanted, a little off it otherwise.
        let target = if strict != wanted {
            Exact::ZERO
        } else if lower == wanted {
            Exact::ONE.neg()
        } else {
            Exact::ONE
        };
        let world = World::default();
        let found = self.reach((left, Some(right)), frame, &target, &world, false);
        found.into_iter().collect()
    }

    fn days(
        &self,
        comparison: Comparison,
        node: &Node,
        day: DateSpan,
        frame: Frame,
        wanted: bool,
    ) -> Vec<World> {
        let chosen: Option<Date> = match (comparison, wanted) {
            (Comparison::Less, true) | (Comparison::GreaterOrEqual, false) => {
                add_days(day.first, -1)
            }
            (Comparison::Less, false) | (Comparison::GreaterOrEqual, true) => Some(day.first),
            (Comparison::LessOrEqual, true) | (Comparison::Greater, false) => Some(day.last),
            (Comparison::LessOrEqual, false) | (Comparison::Greater, true) => add_days(day.last, 1),
        };
        chosen
            .and_then(|day| self.on_day(node, frame, day))
            .into_iter()
            .collect()
    }

    fn on_day(&self, node: &Node, frame: Frame, day: Date) -> Option<World> {
        if let Op::Trait(scope, slot) = &node.op {
            let of = frame.resolve(*scope, self.rules)?;
            return Some(claim(of, *slot, Claim::Day(day, Proof::Seen)));
        }
        let is_day = matches!(node.op, Op::Day | Op::EventDay);
        is_day.then(|| World {
            day: Some(day),
            ..World::default()
        })
    }

    fn same(&self, left: &Node, right: &Node, frame: Frame, wanted: bool) -> Vec<World> {
        if let Op::YesNo(yes) = right.op {
            return self.answers(left, frame, yes == wanted);
        }
        if let Some(day) = constant_day(right) {
            let chosen = if wanted {
                Some(day.first)
            } else {
                add_days(day.first, -1)
            };
            return chosen
                .and_then(|day| self.on_day(left, frame, day))
                .into_iter()
                .collect();
        }
        if let (Op::Trait(one, slot), Op::Trait(two, same)) = (&left.op, &right.op)
            && let (Some(one), Some(two)) = (
                frame.resolve(*one, self.rules),
                frame.resolve(*two, self.rules),
            )
        {
            let (own, others) = (
                self.choices(one, slot.index()),
                self.choices(two, same.index()),
            );
            let pairs = own
                .iter()
                .flat_map(|a| others.iter().map(move |b| (*a, *b)));
            let pairs = pairs.filter(|(a, b)| a.is_some() && b.is_some() && (a == b) == wanted);
            let worlds = pairs.filter_map(|(a, b)| {
                claim(one, *slot, Claim::Choice(a)).with(&claim(two, *same, Claim::Choice(b)))
            });
            return worlds.take(MOST).collect();
        }
        Vec::new()
    }

    /// Items of a holding of which so many meet a condition for sure, and one does not for sure.
    pub fn items(
        &self,
        over: crate::vocabulary::HoldingId,
        condition: Option<&Node>,
        count: i64,
    ) -> Option<Vec<World>> {
        let count = usize::try_from(count).ok()?;
        let frame = one_of_many(self, over)?;
        let Some(condition) = condition else {
            return Some(vec![World::default(); count]);
        };
        let meeting = self.ways(condition, frame, true);
        if meeting.is_empty() && count > 0 {
            return None;
        }
        let other = self.ways(condition, frame, false);
        let items = meeting.iter().cycle().take(count).chain(other.first());
        Some(items.cloned().collect())
    }
}

fn claim(of: Frame, slot: crate::vocabulary::TraitId, claim: Claim) -> World {
    World {
        claims: vec![(of, slot, claim)],
        ..World::default()
    }
}

/// A day as it is written in the rules.
fn constant_day(node: &Node) -> Option<DateSpan> {
    match node.op {
        Op::Date(day) => Some(day),
        _ => None,
    }
}

fn turned(comparison: Comparison) -> Comparison {
    match comparison {
        Comparison::Less => Comparison::Greater,
        Comparison::LessOrEqual => Comparison::GreaterOrEqual,
        Comparison::Greater => Comparison::Less,
        Comparison::GreaterOrEqual => Comparison::LessOrEqual,
    }
}
