//! A fleet of an invented class: its rules, its boats, and a checker of these rules written by hand.

pub mod by_hand;
pub mod generate;

/// The rules of the class.
pub const RULES: &str = include_str!("rules.yaml");
