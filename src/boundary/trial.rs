//! A generated case before it is written down, and what it aims at.

use super::listed;
use super::places::Stations;
use super::solve::{Solver, one_of_many};
use super::world::{Frame, World};
use crate::expression::{Node, Op, Type};
use crate::quantity::{Dimension, Exact, Quantity, Ties};
use crate::rules::{Bound, BoundKind, Demand, Equals, LimitRow, Rule, Stage};
use crate::vocabulary::{ChoiceId, PartId};

/// What must come of a case, in the words of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Expect {
    pub outcome: &'static str,
    pub reason: Option<&'static str>,
}

impl Expect {
    pub const CONFORMS: Expect = Expect {
        outcome: "conforms",
        reason: None,
    };
    pub const FAILS: Expect = Expect {
        outcome: "does_not_conform",
        reason: None,
    };

    /// Whether a limit is met.
    pub fn met(met: bool) -> Expect {
        if met { Expect::CONFORMS } else { Expect::FAILS }
    }

    /// Not decided, for a reason.
    pub fn open(reason: &'static str) -> Expect {
        Expect {
            outcome: "not_decided",
            reason: Some(reason),
        }
    }

    /// Not applicable, for a reason.
    pub fn not_applicable(reason: &'static str) -> Expect {
        Expect {
            outcome: "not_applicable",
            reason: Some(reason),
        }
    }
}

/// A case.
#[derive(Clone, Debug)]
pub(super) struct Trial {
    pub rule: String,
    pub title: String,
    pub purpose: Stage,
    /// The kind of part under judgement.
    pub part: PartId,
    pub world: World,
    /// Where measures at places are taken.
    pub stations: Option<Stations>,
    /// The numbers at all places but one, where that one is to be the worst.
    pub calm: Option<World>,
    pub expect: Expect,
}

/// What a value is brought to.
#[derive(Clone, Debug)]
pub(super) enum Aim<'r> {
    /// A number so far from a limit, or from nothing.
    Number { less: Option<&'r Node>, by: Exact },
    /// So many items that count.
    Count(i64),
    /// An answer.
    Yes(bool),
    /// A choice; `None` is `other`.
    Choice(Option<ChoiceId>),
    /// Some choices of a list.
    List(Vec<Option<ChoiceId>>),
    /// A value for each column of listed options.
    Columns(Vec<Exact>),
}

/// What a row is tried with: each aim in words.
pub(super) fn aims<'r>(
    solver: &Solver<'_>,
    rule: &'r Rule,
    row: &'r LimitRow,
) -> Vec<(String, Aim<'r>)> {
    let counts = matches!(rule.value.root.op, Op::Count { .. });
    match &row.demand {
        Demand::Bounds(bounds) => bounds
            .iter()
            .flat_map(|bound| of_bound(rule, bound, counts))
            .collect(),
        Demand::Equals(Equals::YesNo(yes), _) => {
            let told = |yes: bool| if yes { "answered yes" } else { "answered no" };
            [*yes, !*yes]
                .map(|yes| (told(yes).to_owned(), Aim::Yes(yes)))
                .to_vec()
        }
        Demand::Equals(Equals::Choice(_), _) => {
            let Type::Choice(part, slot) = rule.value.yields.kind else {
                return Vec::new();
            };
            let of = Frame {
                own: Frame::of(rule.applies_to).own,
                part,
            };
            let names = |choice: Option<ChoiceId>| solver.choice_word(part, slot, choice);
            let all = solver.choices(of, slot.index()).into_iter();
            all.map(|choice| (format!("declared {}", names(choice)), Aim::Choice(choice)))
                .collect()
        }
        Demand::Equals(Equals::Count(count), _) => [count - 1, *count, count + 1]
            .into_iter()
            .filter(|count| *count >= 0)
            .map(|count| {
                let aim = if counts {
                    Aim::Count(count)
                } else {
                    Aim::Number {
                        less: None,
                        by: Exact::from_integer(count),
                    }
                };
                (format!("{count} of them"), aim)
            })
            .collect(),
        Demand::Only(..) | Demand::Without(..) => listed::of_list(solver, rule, row),
        Demand::Options(options) => listed::of_options(options),
        Demand::None => Vec::new(),
    }
}

fn of_bound<'r>(rule: &Rule, bound: &'r Bound, counts: bool) -> Vec<(String, Aim<'r>)> {
    let limit = format!("{} {}", bound.kind.words(), bound.limit.text);
    let inward = if bound.kind.is_lower() { 1 } else { -1 };
    let steps = [
        ("just outside", -inward),
        ("on it", 0),
        ("just inside", inward),
    ];
    let step = step(rule, bound);
    if let Some(rounded) = &bound.rounded {
        return of_rounded(bound, &rounded.to.difference());
    }
    steps
        .into_iter()
        .filter_map(|(words, steps)| {
            let by = step.mul(&Exact::from_integer(steps));
            let aim = if counts {
                let limit = bound
                    .limit
                    .root
                    .constant()
                    .and_then(|limit| limit.to_i64())?;
                Aim::Count(limit + steps)
            } else {
                Aim::Number {
                    less: Some(&bound.limit.root),
                    by,
                }
            };
            Some((format!("{limit}: {words}"), aim))
        })
        .collect()
}

/// A value that is rounded: the tie between the limit and its neighbour on either side, and a little off it.
fn of_rounded<'r>(bound: &'r Bound, step: &Exact) -> Vec<(String, Aim<'r>)> {
    let Some(half) = step.checked_div(&Exact::from_integer(2)) else {
        return Vec::new();
    };
    let little = Exact::power_of_ten(half.leading_exponent() - 2);
    let (more, less) = (half.add(&little), half.sub(&little));
    let lower = bound.kind.is_lower();
    let offsets = [
        ("a little more than half a step outside", more.clone(), true),
        ("half a step outside", half.clone(), true),
        ("a little less than half a step outside", less.clone(), true),
        ("on it", Exact::ZERO, false),
        ("a little less than half a step inside", less, false),
        ("half a step inside", half, false),
        ("a little more than half a step inside", more, false),
    ];
    let aim = |(words, offset, outside): (&str, Exact, bool)| {
        let by = if lower == outside {
            offset.neg()
        } else {
            offset
        };
        let less = Some(&bound.limit.root);
        let title = format!("{} {}: {words}", bound.kind.words(), bound.limit.text);
        (title, Aim::Number { less, by })
    };
    offsets.into_iter().map(aim).collect()
}

/// One step of the last digit that a limit is written with; where it is no single decimal, a small one.
pub(super) fn step(rule: &Rule, bound: &Bound) -> Exact {
    if let Ok(written) = Quantity::parse(&bound.limit.text)
        && written.decimals.is_some()
    {
        return written.resolution;
    }
    let digits = match rule.value.yields.kind.dimension() {
        Some(dimension) if dimension == Dimension::RATIO => -2,
        Some(_) | None => -1,
    };
    Exact::power_of_ten(digits)
}

impl Solver<'_> {
    /// A world in which the value of a rule is what it is aimed at.
    pub fn aimed(&self, rule: &Rule, world: &World, aim: &Aim<'_>) -> Option<World> {
        let frame = Frame::of(rule.applies_to);
        match aim {
            Aim::Number { less, by } => {
                let value = &rule.value;
                if let Op::Sum {
                    over,
                    value,
                    condition,
                } = &value.root.op
                {
                    let limit = match less {
                        Some(less) => less.constant()?,
                        None => Exact::ZERO,
                    };
                    let total = limit.add(by);
                    let items = self.summed(*over, value, condition.as_deref(), &total)?;
                    let many = vec![(*over, items)];
                    return world.with(&World {
                        many,
                        ..World::default()
                    });
                }
                self.reach((&value.root, *less), frame, by, world, value.yields.placed)
            }
            Aim::Count(count) => {
                let Op::Count { over, condition } = &rule.value.root.op else {
                    return None;
                };
                let items = self.items(*over, condition.as_deref(), *count)?;
                world.with(&World {
                    many: vec![(*over, items)],
                    ..World::default()
                })
            }
            Aim::Yes(yes) => {
                let ways = self.ways(&rule.value.root, frame, *yes);
                ways.first().and_then(|way| world.with(way))
            }
            Aim::Choice(choice) => {
                let Op::Trait(scope, slot) = &rule.value.root.op else {
                    return None;
                };
                let of = frame.resolve(*scope, self.rules)?;
                world.and_claim(of, *slot, super::world::Claim::Choice(*choice))
            }
            Aim::List(choices) => {
                let Op::Trait(scope, slot) = &rule.value.root.op else {
                    return None;
                };
                let of = frame.resolve(*scope, self.rules)?;
                world.and_claim(of, *slot, super::world::Claim::List(choices.clone()))
            }
            Aim::Columns(values) => self.in_columns(rule, world, values),
        }
    }

    /// Whether a row is met in a world made for an aim; `None` where that is not known.
    pub fn meets(&self, rule: &Rule, row: &LimitRow, world: &World, aim: &Aim<'_>) -> Option<bool> {
        let frame = Frame::of(rule.applies_to);
        match (&row.demand, aim) {
            (Demand::None, _) => None,
            (demand @ (Demand::Only(..) | Demand::Without(..)), Aim::Choice(choice)) => {
                listed::allows(demand, &[*choice])
            }
            (demand @ (Demand::Only(..) | Demand::Without(..)), Aim::List(choices)) => {
                listed::allows(demand, choices)
            }
            (Demand::Options(options), Aim::Columns(_)) => self.is_listed(rule, options, world),
            (Demand::Only(..) | Demand::Without(..) | Demand::Options(_), _) => None,
            (Demand::Bounds(bounds), aim) => {
                let value = match aim {
                    Aim::Count(count) => Exact::from_integer(*count),
                    Aim::Number { .. } => self.total(rule, world)?,
                    Aim::Yes(_) | Aim::Choice(_) | Aim::List(_) | Aim::Columns(_) => return None,
                };
                let each = bounds.iter().map(|bound| {
                    let limit = self.value(&bound.limit.root, frame, world)?;
                    // Half a step goes to the even multiple (ISO 80000-1, annex B, rule A).
                    let value = match &bound.rounded {
                        Some(rounded) => {
                            value.round_to_multiple(&rounded.to.difference(), Ties::Even)
                        }
                        None => value.clone(),
                    };
                    Some(within(bound.kind, &value, &limit))
                });
                let each: Option<Vec<bool>> = each.collect();
                each.map(|each| each.into_iter().all(|one| one))
            }
            (Demand::Equals(Equals::YesNo(wanted), _), Aim::Yes(yes)) => Some(yes == wanted),
            (Demand::Equals(Equals::Choice(wanted), _), Aim::Choice(choice)) => {
                Some(*choice == Some(*wanted))
            }
            (Demand::Equals(Equals::Count(wanted), _), Aim::Count(count)) => Some(count == wanted),
            (Demand::Equals(Equals::Count(wanted), _), Aim::Number { .. }) => {
                let value = self.total(rule, world)?;
                Some(value == Exact::from_integer(*wanted))
            }
            (Demand::Equals(..), _) => None,
        }
    }

    /// The value of a rule in a world; the items of a sum are all among those that it counts.
    fn total(&self, rule: &Rule, world: &World) -> Option<Exact> {
        let Op::Sum { over, value, .. } = &rule.value.root.op else {
            return self.value(&rule.value.root, Frame::of(rule.applies_to), world);
        };
        let frame = one_of_many(self, *over)?;
        let items = world.many.iter().find(|(holding, _)| holding == over)?;
        let each = items.1.iter().map(|item| self.value(value, frame, item));
        each.sum()
    }

    /// Items of which a value comes to a total: as few as may be, all alike.
    fn summed(
        &self,
        over: crate::vocabulary::HoldingId,
        value: &Node,
        condition: Option<&Node>,
        total: &Exact,
    ) -> Option<Vec<World>> {
        let frame = one_of_many(self, over)?;
        let ways = match condition {
            Some(condition) => self.ways(condition, frame, true),
            None => vec![World::default()],
        };
        (1..=8_u8).find_map(|count| {
            let share = Exact::from_fraction(1, count)?;
            let each = total.mul(&share);
            let made = ways.iter();
            let mut made =
                made.filter_map(|way| self.reach((value, None), frame, &each, way, false));
            made.next().map(|one| vec![one; usize::from(count)])
        })
    }

    /// The word of a choice.
    pub fn choice_word(
        &self,
        part: PartId,
        slot: crate::vocabulary::TraitId,
        choice: Option<ChoiceId>,
    ) -> &str {
        let part = self.rules.vocabulary.part(part);
        let names = part
            .and_then(|part| part.traits.get(slot.index()))
            .map_or(&[][..], |one| one.kind.names());
        match choice {
            Some(choice) => names.get(choice.index()).map_or("", |name| &name.text),
            None => "other",
        }
    }
}

/// Whether a value lies within a bound. The border belongs to `at_least` and `at_most`, and to no other.
fn within(kind: BoundKind, value: &Exact, limit: &Exact) -> bool {
    match kind {
        BoundKind::AtLeast => value >= limit,
        BoundKind::AtMost => value <= limit,
        BoundKind::MoreThan => value > limit,
        BoundKind::LessThan => value < limit,
    }
}
