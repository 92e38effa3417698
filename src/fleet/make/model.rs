//! What is invented of a kind of item: a range for each number that its readings are made of.

use super::interval::Interval;
use crate::vocabulary::{ChoiceId, MeasureId, PartId};

/// Which number of a measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// The value itself.
    Value,
    /// The bevel on port, degrees.
    Port,
    /// The bevel on starboard, degrees.
    Starboard,
    /// How far the flat reaches forward at the first gap that the class asks for.
    Forward,
    /// How far it reaches aft.
    Aft,
    /// How far a line is bowed.
    Bow,
    /// How far an item sinks under the first load that the class asks for.
    Sinks,
    /// An area.
    Area,
}

/// A number of an item that can be chosen.
#[derive(Clone, Debug)]
pub(super) struct Knob {
    pub measure: MeasureId,
    pub what: What,
    /// Which places it is the number of: a cell of the measure's [`Plan`]; nothing for what has no places.
    pub cell: Option<usize>,
    /// What it may be on any boat, base units.
    pub range: Interval,
    /// What it could be before the rules were asked.
    pub start: Interval,
    /// How far an item may lie from the others of its boat.
    pub apart: f64,
    /// How far a value may seem to be off: its expanded uncertainty, and a step of the reading.
    pub doubt: f64,
    /// The same as a share of the value, for what is made of several readings.
    pub doubt_share: f64,
}

/// Where the readings of some measures are taken.
#[derive(Clone, Debug, Default)]
pub(super) struct Plan {
    pub measures: Vec<MeasureId>,
    /// Distances from the pivot, base units, and for each its cell.
    pub at: Vec<(f64, usize)>,
    /// Distance from the edge, base units.
    pub from_edge: Option<f64>,
    /// For each cell, the zones of the part that its places lie in.
    pub cells: Vec<Vec<bool>>,
    /// Readings at each place.
    pub repeats: u32,
}

/// Items that are alike in all that is declared of them.
#[derive(Clone, Debug)]
pub(super) struct Kind {
    pub part: PartId,
    /// By slot of the trait; nothing for what is no choice.
    pub choices: Vec<Option<ChoiceId>>,
    /// Which of listed options it is made to.
    pub option: usize,
    pub knobs: Vec<Knob>,
    pub plans: Vec<Plan>,
    /// Measures that are taken, by slot.
    pub asked: Vec<bool>,
    /// Whether every rule could be kept.
    pub kept: bool,
}

impl Kind {
    /// The plan of a placed measure.
    pub(super) fn plan(&self, measure: MeasureId) -> Option<&Plan> {
        self.plans
            .iter()
            .find(|plan| plan.measures.contains(&measure))
    }
}

/// One item or several of a part that a rule speaks of.
#[derive(Clone, Debug)]
pub(super) struct Who {
    pub part: PartId,
    /// Slots among the kinds of the part: it may be any of them.
    pub kinds: Vec<usize>,
    /// Whether it is nominated for a mark, where that is settled.
    pub marked: Option<bool>,
}

impl Who {
    pub(super) fn one(part: PartId, kind: usize) -> Who {
        Who {
            part,
            kinds: vec![kind],
            marked: None,
        }
    }
}
