//! Boats of which everything is known: records that conform under both versions, to be changed in one thing.

use super::super::common::{PartIx, Side};
use super::super::formula::Formula;
use super::super::legal::ClauseOf;
use super::super::witness::Document;
use super::edit::Pair;
use crate::quantity::Date;
use crate::rules::Stage;
use crate::text::{Node, Value, decode, parse_yaml};

/// What a boat has to be like so that a difference can show on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// The kind of item.
    pub on: PartIx,
    /// What is true of one such item, whatever else the boat has.
    pub holds: Formula,
    /// What is not true of it, each for itself.
    pub not: Vec<Formula>,
    /// The stage at which it is checked; nothing where any will do.
    pub stage: Option<Stage>,
    /// Under which versions it is legal.
    pub legal: LegalUnder,
}

/// The versions under which a boat has to be legal; under the others it may be or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LegalUnder {
    /// Both.
    Both,
    /// One.
    One(Side),
    /// Both, but for a statement of each.
    But(ClauseOf, ClauseOf),
    /// Neither has to be kept.
    Neither,
}

/// Whoever gives boats with everything measured that either version asks for, exactly, and every day and answer proven;
/// they conform under both versions where no wish says otherwise.
pub trait Gold {
    /// Boats that meet a wish, or any at all; none where there is no such boat.
    ///
    /// # Errors
    /// Why it can't be said whether there is one, or why it can't be written down, in words.
    fn boats(&mut self, wish: Option<&Wish>) -> Result<Vec<GoldBoat>, String>;
}

/// Such a boat.
#[derive(Clone, Debug)]
pub struct GoldBoat {
    /// Its records.
    pub pair: Pair,
    /// The event's level, by its name.
    pub level: Option<String>,
    /// The day of the check.
    pub day: Date,
}

impl GoldBoat {
    /// A boat by the texts of its records.
    ///
    /// # Errors
    /// A text that is no YAML, in words.
    pub fn read(
        (old, new): (&str, &str),
        level: Option<String>,
        day: Date,
    ) -> Result<GoldBoat, String> {
        Ok(GoldBoat {
            pair: Pair {
                old: document(old)?,
                new: document(new)?,
            },
            level,
            day,
        })
    }
}

fn document(text: &str) -> Result<Document, String> {
    let source = decode("boat", text.as_bytes()).map_err(|_| "a record is no text".to_owned())?;
    match parse_yaml(&source) {
        Ok(node) => Ok(of_node(&node)),
        Err(_) => Err("a record is no YAML".to_owned()),
    }
}

fn of_node(node: &Node<'_>) -> Document {
    match &node.value {
        Value::Null => Document::text(""),
        Value::Scalar(scalar) => Document::text(scalar.text.as_ref()),
        Value::Sequence(list) => Document::List(list.iter().map(of_node).collect()),
        Value::Mapping(entries) => {
            let each = entries.iter();
            let each = each.map(|entry| (entry.key.to_string(), of_node(&entry.node)));
            Document::Map(each.collect())
        }
    }
}
