//! A boat as a proof speaks of it: a value for each term, under the names common to both versions.

use std::collections::BTreeMap;

use super::common::{HoldingIx, PartIx};
use super::term::TermId;
use crate::quantity::{Date, Exact};
use crate::rules::Stage;

/// A value of a term.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// A number, base units.
    Number(Exact),
    /// A day.
    Day(Date),
    /// An answer or a flag; whether a list names a choice.
    Truth(bool),
    /// One of the values of a choice, by its place; behind the last named one stands `other`.
    Choice(u16),
}

/// Values by term.
pub type Values = BTreeMap<TermId, Value>;

/// A boat on a day, at a stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Boat {
    /// The stage of the check.
    pub stage: Stage,
    /// The event's level by its place in `Common::levels`.
    pub level: Option<u16>,
    /// The day of the check.
    pub day: Date,
    /// Whether it has something on it that the rules do not list.
    pub unlisted: bool,
    /// Its items, the boat itself first.
    pub items: Vec<BoatItem>,
}

/// The boat itself, a part of it, or a group.
#[derive(Clone, Debug, PartialEq)]
pub struct BoatItem {
    /// Its kind.
    pub part: PartIx,
    /// What it fills; nothing for the boat itself.
    pub holding: Option<HoldingIx>,
    /// The items in the roles of a group, by their places among the items.
    pub roles: Vec<usize>,
    /// What is true of it, without what each place has of its own.
    pub values: Values,
    /// Places along it, each with `PlaceAt` and `PlaceFromEdge` and the values of placed terms there. One place
    /// serves all placed measures of the item.
    pub places: Vec<Values>,
}
