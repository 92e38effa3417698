//! What a fleet comes to as a limit moves, as numbers; words are made by the printers.

use std::collections::BTreeMap;

use super::column::{Base, Column, Counts, holds};
use super::limit::MovedLimit;
use super::question::VaryTally;
use crate::check::{Reason, Turn};
use crate::fleet::impact::Sample;
use crate::quantity::Exact;

/// How a fleet stands as one limit moves.
#[derive(Clone, Debug)]
pub struct Varied {
    /// The limit.
    pub limit: MovedLimit,
    /// The limit that is proposed, base units.
    pub proposed: Option<Exact>,
    /// What was looked at; its boats are all boats.
    pub sample: Sample,
    /// Items that meet the limit, or of which that can't be said.
    pub items: u64,
    /// Boats with such an item.
    pub boats: u64,
    /// Items of which it can't be said which limit counts, by why: they are open whatever the limit.
    pub unsure: Vec<(Reason, u64)>,
    /// Items of the part that meet another row of the rule.
    pub other_row: u64,
    /// Items of the part to which the rule does not apply.
    pub not_applicable: u64,
    /// How they stand with each limit that was asked for, in the order in which it was asked.
    pub points: Vec<Point>,
    /// Where anything turns between the outermost limits, from the mildest on; nothing where there are too many to keep.
    pub turns: Option<Vec<TurnPoint>>,
}

/// How a fleet stands with one limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// The limit, base units.
    pub limit: Exact,
    /// Items.
    pub items: Counts,
    /// Boats, each by its worst item.
    pub boats: Counts,
}

/// A limit at which items turn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TurnPoint {
    /// The limit, base units.
    pub at: Exact,
    /// Whether what held before still holds with this very limit.
    pub itself: bool,
    /// Whether it is just there: else within a thousandth of a millionth of the unit.
    pub exact: bool,
    /// Items that conform up to here.
    pub conform_up_to: u64,
    /// Items that are not known not to conform up to here.
    pub bearable_up_to: u64,
    /// Boats of which all items conform up to here.
    pub boats_conform_up_to: u64,
}

/// The limits from one to another in so many equal steps, both ends among them.
pub fn steps(from: &Exact, to: &Exact, count: u32) -> Vec<Exact> {
    let wide = to.sub(from);
    let count = count.max(1);
    (0..=count)
        .filter_map(|at| {
            let share = Exact::from_fraction(i128::from(at), i128::from(count))?;
            Some(from.add(&wide.mul(&share)))
        })
        .collect()
}

/// What a tally comes to with some limits, the first and the last of which bound the turns that are told.
pub fn varied(
    limit: MovedLimit,
    limits: &[Exact],
    proposed: Option<Exact>,
    tally: VaryTally,
) -> Varied {
    let lower = limit.kind.is_lower();
    let point = |at: &Exact| Point {
        limit: at.clone(),
        items: tally.items.with(at, lower),
        boats: tally.boats.with(at, lower),
    };
    let folded = tally.items.folded || tally.boats.folded;
    let turns = (!folded).then(|| turns(&tally, limits, lower));
    let mut unsure: Vec<(Reason, u64)> = tally.unsure.iter().map(|(why, n)| (*why, *n)).collect();
    unsure.sort_by_key(|(reason, count)| (std::cmp::Reverse(*count), *reason));
    Varied {
        points: limits.iter().map(point).collect(),
        turns,
        items: tally.items.total(),
        boats: tally.boats.total(),
        unsure,
        other_row: tally.other_row,
        not_applicable: tally.not_applicable,
        sample: tally.sample,
        limit,
        proposed,
    }
}

/// Where anything turns between the outermost of some limits.
fn turns(tally: &VaryTally, limits: &[Exact], lower: bool) -> Vec<TurnPoint> {
    let (Some(least), Some(most)) = (limits.iter().min(), limits.iter().max()) else {
        return Vec::new();
    };
    let mut found: BTreeMap<Turn, [u64; 3]> = BTreeMap::new();
    let mut add = |turn: &Option<Turn>, of: usize, count: u64| {
        let Some(turn) = turn
            .as_ref()
            .filter(|turn| turn.at >= *least && turn.at <= *most)
        else {
            return;
        };
        let counts = found.entry(turn.clone()).or_default();
        if let Some(own) = counts.get_mut(of) {
            *own += count;
        }
    };
    let conforms_first = |column: &Column| column.base == Base::Conforms;
    for (column, count) in tally.items.iter() {
        if conforms_first(&column) {
            add(&column.conforms, 0, count);
        }
        add(&column.bearable, 1, count);
    }
    for (column, count) in tally.boats.iter() {
        if conforms_first(&column) {
            add(&column.conforms, 2, count);
        }
    }
    let mut turns: Vec<TurnPoint> = found
        .into_iter()
        .map(|(turn, [conform, bearable, boats])| TurnPoint {
            at: turn.at,
            itself: turn.itself,
            exact: turn.exact,
            conform_up_to: conform,
            bearable_up_to: bearable,
            boats_conform_up_to: boats,
        })
        .filter(|turn| turn.conform_up_to + turn.bearable_up_to + turn.boats_conform_up_to > 0)
        .collect();
    if !lower {
        turns.reverse();
    }
    turns
}

impl Varied {
    /// The point of a limit that was asked for.
    pub fn point(&self, limit: &Exact) -> Option<&Point> {
        self.points.iter().find(|point| point.limit == *limit)
    }

    /// The first turn beyond a limit, on the stern side, by which an item stops to conform.
    pub fn next_loss(&self, beyond: &Exact) -> Option<&TurnPoint> {
        let lower = self.limit.kind.is_lower();
        self.turns.as_ref()?.iter().find(|turn| {
            let own = Turn {
                at: turn.at.clone(),
                itself: turn.itself,
                exact: turn.exact,
            };
            turn.conform_up_to > 0 && holds(&own, beyond, lower)
        })
    }
}
