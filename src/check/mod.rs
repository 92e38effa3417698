//! Rules compiled to a plan, and a plan applied to a record.

mod age;
mod along;
mod answers;
mod arithmetic;
mod case_file;
pub mod cases;
mod clear;
mod coverage;
mod decide;
mod draft;
mod eval;
mod extremes;
mod finding;
pub mod fleet;
mod functions;
mod glance;
mod identities;
mod judge;
mod mark_pairs;
mod marks;
mod options;
mod places;
mod plan;
mod profiles;
mod reach;
mod reading;
mod remarks;
mod settle;
mod silence;
mod sources;
mod tables;
mod under_load;
mod value;
mod zones;

pub use finding::*;
pub use plan::{Context, Plan, verdict_of};
