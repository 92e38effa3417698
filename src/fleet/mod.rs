//! Whole fleets: many boats of a class, made by number or read as they come.

pub mod make;
