//! Tables to records and back: what a map says of the columns of a table, cell by cell.
//!
//! [`read_map`] reads a map by the vocabulary of its class. [`Import::read`] turns the rows of a [`Book`] into records, each a
//! line of JSON that knows which cell each of its values came from, so that whatever the loader of records says
//! against a value is said of the cell. Nothing here decides what a doubtful cell may have meant.
//!
//! [`Book`]: super::sheet::Book

mod build;
mod build_inside;
mod cell;
mod columns;
mod dates;
mod export;
mod export_inside;
mod export_values;
mod import;
mod inside;
mod load;
mod load_columns;
mod model;
mod number;
mod out;
mod place;
mod rows;
mod schema;
mod suggest;
mod suggest_numbered;
mod suggest_words;
mod target;

pub use export::{Exported, export};
pub use import::{Counts, Import, Made};
pub use load::{MAP_FORMAT, MapHead, head_of_map, read_map};
pub use model::{Column, DateOrder, TableMap, TableSpec};
pub use schema::map_schema;
pub use suggest::{Suggestion, suggest};
