//! What a fleet comes to as a limit moves, as numbers; words are made by the printers.

use std::collections::BTreeMap;

use super::column::{Base, Column, Columns, Counts, Stands, holds};
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
    /// Items that are open whatever the limit, by why; what was never measured is not among them.
    pub open: Vec<(Reason, u64)>,
    /// Items that do not conform whatever this limit is.
    pub out_whatever: u64,
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
    /// Where.
    pub turn: Turn,
    /// Items that conform up to here.
    pub conform_up_to: u64,
    /// Items that are not known not to conform up to here.
    pub bearable_up_to: u64,
    /// Boats of which all items conform up to here.
    pub boats_conform_up_to: u64,
    /// How items stand beyond it, up to the next turn.
    pub items_beyond: Counts,
    /// How boats do.
    pub boats_beyond: Counts,
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
    let mut open: Vec<(Reason, u64)> = tally.open.iter().map(|(why, n)| (*why, *n)).collect();
    open.sort_by_key(|(reason, count)| (std::cmp::Reverse(*count), *reason));
    Varied {
        points: limits.iter().map(point).collect(),
        turns,
        items: tally.items.total(),
        boats: tally.boats.total(),
        open,
        out_whatever: {
            let out = tally
                .items
                .iter()
                .filter(|(column, _)| column.base == Base::Out);
            out.map(|(_, count)| count).sum()
        },
        other_row: tally.other_row,
        not_applicable: tally.not_applicable,
        sample: tally.sample,
        limit,
        proposed,
    }
}

/// What changes at a turn: from how things stand to how they do beyond it, and how many.
#[derive(Default)]
struct Changes {
    items: Vec<(Stands, Stands, u64)>,
    boats: Vec<(Stands, Stands, u64)>,
}

/// Where anything turns between the outermost of some limits.
fn turns(tally: &VaryTally, limits: &[Exact], lower: bool) -> Vec<TurnPoint> {
    let (Some(least), Some(most)) = (limits.iter().min(), limits.iter().max()) else {
        return Vec::new();
    };
    let mut found: BTreeMap<Turn, Changes> = BTreeMap::new();
    let inside = |turn: &Turn| turn.at >= *least && turn.at <= *most;
    for (column, count) in tally.items.iter() {
        for (turn, from, to) in changes(column) {
            if inside(turn) {
                let changes = found.entry(turn.clone()).or_default();
                changes.items.push((from, to, count));
            }
        }
    }
    for (column, count) in tally.boats.iter() {
        for (turn, from, to) in changes(column) {
            if inside(turn) {
                let changes = found.entry(turn.clone()).or_default();
                changes.boats.push((from, to, count));
            }
        }
    }
    let mut ordered: Vec<(Turn, Changes)> = found.into_iter().collect();
    if !lower {
        // As a maximum falls what still holds at a limit itself turns after what does not.
        ordered.sort_by(|(one, _), (other, _)| {
            let at = other.at.cmp(&one.at);
            at.then_with(|| (one.itself, one.exact).cmp(&(other.itself, other.exact)))
        });
    }
    // What turns in the stretch has not turned yet, even at the mildest limit itself.
    let mildest = if lower { least } else { most };
    let before = |columns: &Columns| {
        let mut counts = Counts::default();
        for (column, count) in columns.iter() {
            let own = column.without(&inside).stands(mildest, lower);
            counts.add(own, count);
        }
        counts
    };
    let (mut items, mut boats) = (before(&tally.items), before(&tally.boats));
    ordered
        .into_iter()
        .map(|(turn, changes)| {
            for (from, to, count) in &changes.items {
                items.shift(*from, *to, *count);
            }
            for (from, to, count) in &changes.boats {
                boats.shift(*from, *to, *count);
            }
            let of = |list: &[(Stands, Stands, u64)], wanted: &dyn Fn(Stands, Stands) -> bool| {
                let own = list.iter().filter(|(from, to, _)| wanted(*from, *to));
                own.map(|(_, _, count)| count).sum()
            };
            TurnPoint {
                turn,
                conform_up_to: of(&changes.items, &|from, _| from == Stands::Conforms),
                bearable_up_to: of(&changes.items, &|_, to| to == Stands::DoesNotConform),
                boats_conform_up_to: of(&changes.boats, &|from, _| from == Stands::Conforms),
                items_beyond: items,
                boats_beyond: boats,
            }
        })
        .collect()
}

/// Where a column turns, from what to what, the mildest first.
fn changes(column: &Column) -> Vec<(&Turn, Stands, Stands)> {
    let before = match column.base {
        Base::Out => return Vec::new(),
        Base::Unmeasured => Stands::Unmeasured,
        Base::Open => Stands::Open,
        Base::Conforms => Stands::Conforms,
    };
    let conforms = column
        .conforms
        .as_ref()
        .filter(|_| before == Stands::Conforms);
    let mut found = Vec::new();
    match (conforms, &column.bearable) {
        (Some(one), Some(other)) if one.at == other.at && one.itself == other.itself => {
            found.push((other, before, Stands::DoesNotConform));
        }
        (Some(one), other) => {
            found.push((one, before, Stands::InDoubt));
            if let Some(other) = other {
                found.push((other, Stands::InDoubt, Stands::DoesNotConform));
            }
        }
        (None, Some(other)) => found.push((other, before, Stands::DoesNotConform)),
        (None, None) => {}
    }
    found
}

impl Varied {
    /// The point of a limit that was asked for.
    pub fn point(&self, limit: &Exact) -> Option<&Point> {
        self.points.iter().find(|point| point.limit == *limit)
    }

    /// The first turn beyond a limit, on the stern side, by which an item stops to conform.
    pub fn next_loss(&self, beyond: &Exact) -> Option<&TurnPoint> {
        let lower = self.limit.kind.is_lower();
        self.turns
            .as_ref()?
            .iter()
            .find(|turn| turn.conform_up_to > 0 && holds(&turn.turn, beyond, lower))
    }
}
