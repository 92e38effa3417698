//! What a change of rules does, proved: versions as statements about boats under common names, solved exactly.

mod between;
mod boat;
mod book;
mod common;
mod common_names;
mod compare;
mod comparison;
mod days;
mod evidence;
mod flip;
mod formula;
mod legal;
pub mod mutants;
mod near;
mod progress;
mod question;
mod questions;
mod requirement;
mod round;
mod search;
mod shown;
pub mod solve;
mod start;
mod state;
mod term;
pub mod witness;
mod wording;

pub use between::{Between, between};
pub use boat::{Boat, BoatItem, Value, Values};
pub use common::*;
pub use compare::{compare, compare_telling, first_difference};
pub use comparison::*;
pub use evidence::{
    Answered, Difference, Evidence, Gold, GoldBoat, Kind, Need, Pair, Versions, Wish, evidence,
};
pub use flip::{Flip, FlipSide, FoundIn};
pub use formula::{Constraint, Formula};
pub use legal::{Clause, ClauseOf, Exemption, Legal, laws, legal};
pub use progress::Progress;
pub use questions::Questions;
pub use requirement::{Proved, Requirement, requirement};
pub use term::{Monomial, Poly, Sort, Term, TermId, Terms, Var, What, Whose};
pub use wording::{claimed_step, declares_against, wording};
