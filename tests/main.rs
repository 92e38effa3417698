//! The integration tests: one binary, a module for each thing that is tested from outside.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout
)]

mod cli;

mod suite {
    pub mod along;
    pub mod bad_input;
    pub mod boundary;
    pub mod briefly;
    pub mod cases;
    pub mod comparisons;
    pub mod conditions;
    pub mod doubt;
    pub mod evidence;
    pub mod fault_folders;
    pub mod forms;
    pub mod frozen;
    pub mod groups;
    pub mod impact;
    pub mod laws;
    pub mod life;
    pub mod limits;
    pub mod lint_conditions;
    pub mod measures;
    pub mod missing;
    pub mod mutants;
    pub mod mutated_bytes;
    pub mod overlay_faults;
    pub mod pairing;
    pub mod patterns;
    pub mod places;
    pub mod plain;
    pub mod profile;
    pub mod proof_work;
    pub mod published;
    pub mod readme;
    pub mod reasons;
    pub mod referee;
    pub mod rules_faults;
    pub mod rules_page;
    pub mod schema_laws;
    pub mod schemas;
    pub mod sentences;
    pub mod shipped;
    pub mod small;
    pub mod spoiled_tree;
    pub mod tables;
    pub mod tidy;
    pub mod together;
    pub mod tree;
    pub mod varying;
    pub mod versions;
    pub mod workbench;
}
