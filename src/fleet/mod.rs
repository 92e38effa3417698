//! Whole fleets: many boats of a class, made by number, or what they come to under one version of the rules or two.

pub mod impact;
pub mod make;
mod reader;
mod together;
mod under;
mod unusable;
pub mod vary;
mod words;

pub use reader::{Days, Piece, ReadBoat, Reader};
pub use together::{Origin, Part, Together, behind, together};
pub use unusable::{Unusable, UnusableRecord, UnusableRecords};
