//! What the rules ask of an item once its choices are made: values against limits.

use super::eval::World;
use super::model::Who;
use crate::expression::{Node, Op};
use crate::rules::{Demand, Equals, LimitRow, Limits, Rule, Silence};
use crate::vocabulary::ChoiceId;

/// A limit.
#[derive(Clone, Copy, Debug)]
pub(super) enum Limit<'r> {
    Number(f64),
    Computed(&'r Node),
}

/// A value that has to lie on one side of a limit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ask<'r> {
    pub value: &'r Node,
    /// Whether the limit is the least that is allowed.
    pub lower: bool,
    pub limit: Limit<'r>,
}

impl Ask<'_> {
    /// How far beyond the limit the value can lie at worst, and at best; above zero is beyond. Nothing where that is not
    /// known.
    pub(super) fn beyond(
        &self,
        world: &World<'_>,
        own: &Who,
        cell: Option<usize>,
    ) -> Option<(f64, f64)> {
        let value = world.number(self.value, own, cell)?;
        let limit = match self.limit {
            Limit::Number(number) => super::interval::Interval::point(number),
            Limit::Computed(node) => world.number(node, own, cell)?,
        };
        let scale = limit.low.abs().max(limit.high.abs()).max(1e-9);
        Some(if self.lower {
            (
                (limit.high - value.low) / scale,
                (limit.low - value.high) / scale,
            )
        } else {
            (
                (value.high - limit.low) / scale,
                (value.low - limit.high) / scale,
            )
        })
    }
}

/// The rows that count for an item.
enum Rows<'r> {
    Some(Vec<&'r LimitRow>),
    /// A table that has none for its choice.
    None,
}

fn rows<'r>(rule: &'r Rule, choices: &[Option<ChoiceId>], zones: Option<&[bool]>) -> Rows<'r> {
    let own = |slot: &crate::vocabulary::TraitId| choices.get(slot.index()).copied().flatten();
    let found: Vec<&LimitRow> = match &rule.limits {
        Limits::Direct(row) => vec![row],
        Limits::ByTrait { by, rows, .. } => rows
            .iter()
            .filter(|(choice, _)| own(by) == Some(*choice))
            .map(|(_, row)| row)
            .collect(),
        Limits::ByTraits { by, rows, .. } => rows
            .iter()
            .filter(|(all, _)| {
                by.iter()
                    .zip(all)
                    .all(|(slot, choice)| own(slot) == Some(*choice))
            })
            .map(|(_, row)| row)
            .collect(),
        Limits::ByZone { rows, .. } => {
            let Some(zones) = zones else {
                return Rows::Some(rows.iter().map(|(_, row)| row).collect());
            };
            let lies = |zone: &crate::vocabulary::ZoneId| zones.get(zone.index()) == Some(&true);
            let inside = rows.iter().flat_map(|(zone, _)| zone).any(lies);
            let counts = |zone: &Option<crate::vocabulary::ZoneId>| match zone {
                Some(zone) => lies(zone),
                None => !inside,
            };
            return Rows::Some(
                rows.iter()
                    .filter(|(zone, _)| counts(zone))
                    .map(|(_, row)| row)
                    .collect(),
            );
        }
        Limits::ByLevel { rows, .. } => rows.iter().map(|(_, row)| row).collect(),
    };
    if found.is_empty() {
        Rows::None
    } else {
        Rows::Some(found)
    }
}

/// Whether the rules allow some choices at all, as far as this rule goes.
pub(super) fn allows(rule: &Rule, silence: Silence, choices: &[Option<ChoiceId>]) -> bool {
    let rows = match rows(rule, choices, None) {
        Rows::None => return silence == Silence::Permits,
        Rows::Some(rows) => rows,
    };
    let Op::Trait(crate::expression::Scope::Own, slot) = &rule.value.root.op else {
        return true;
    };
    let Some(choice) = choices.get(slot.index()).copied().flatten() else {
        return true;
    };
    rows.iter().all(|row| match &row.demand {
        Demand::Equals(Equals::Choice(wanted), _) => *wanted == choice,
        Demand::Only(list, _) => list.contains(&choice),
        Demand::Without(list, _) => !list.contains(&choice),
        Demand::Equals(Equals::YesNo(_) | Equals::Count(_), _)
        | Demand::Bounds(_)
        | Demand::Options(_)
        | Demand::None => true,
    })
}

/// What a rule asks of the numbers of an item.
pub(super) fn asks<'r>(
    rule: &'r Rule,
    choices: &[Option<ChoiceId>],
    option: usize,
    zones: Option<&[bool]>,
) -> Vec<Ask<'r>> {
    let Rows::Some(rows) = rows(rule, choices, zones) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for row in rows {
        match &row.demand {
            Demand::Bounds(bounds) => {
                for bound in bounds {
                    let limit = match bound.exact_limit() {
                        Some(limit) => Limit::Number(limit.to_f64()),
                        None => Limit::Computed(&bound.limit.root),
                    };
                    found.push(Ask {
                        value: &rule.value.root,
                        lower: bound.exact_kind().is_lower(),
                        limit,
                    });
                }
            }
            Demand::Options(options) => {
                let Some(row) = options.rows.get(option % options.rows.len().max(1)) else {
                    continue;
                };
                for (column, (listed, _)) in options.columns.iter().zip(&row.values) {
                    let within = column.within.of(&listed.value);
                    for lower in [true, false] {
                        let limit = if lower {
                            listed.value.sub(&within)
                        } else {
                            listed.value.add(&within)
                        };
                        found.push(Ask {
                            value: &column.value.root,
                            lower,
                            limit: Limit::Number(limit.to_f64()),
                        });
                    }
                }
            }
            Demand::Equals(Equals::Count(count), _) => {
                #[expect(clippy::cast_precision_loss, reason = "a count of items is small")]
                let limit = Limit::Number(*count as f64);
                for lower in [true, false] {
                    found.push(Ask {
                        value: &rule.value.root,
                        lower,
                        limit,
                    });
                }
            }
            Demand::Equals(Equals::YesNo(_) | Equals::Choice(_), _)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::None => {}
        }
    }
    found
}
