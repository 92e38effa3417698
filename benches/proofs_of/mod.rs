//! What the measure of proofs is made of.

pub mod class;
pub mod solver;

// The formulas are those of the tests, so that what is asked of the solver is what it is asked there.
#[path = "../../tests/suite/referee/domain.rs"]
#[allow(dead_code)]
mod domain;
#[path = "../../tests/suite/referee/smt.rs"]
#[allow(dead_code)]
mod smt;
