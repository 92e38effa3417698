//! Measured records and forms: model, loader, schema.
//!
//! A record comes as a tree with spans. [`head`] says which rules it is measured by; [`load`] turns it into
//! a typed [`Record`] by the vocabulary of these rules and collects every fault on the way. A fleet makes
//! one [`Loader`] and uses it for all its records.
//!
//! [`Loader::quick`] is a way beside the tree, for lines of JSON that are common and right: it gives the same
//! record or nothing at all. Both ways ask the same functions what a value may be; a rule that only one of
//! them knew would be a defect, and the tests change lines until they would find it.

mod cursor;
mod first_value;
mod form;
mod form_model;
mod form_schema;
mod group_schema;
mod groups;
mod head;
mod instruments;
mod items;
mod keys;
mod load;
mod load_test;
mod measures;
mod model;
mod outline;
mod places;
mod plain;
mod plain_model;
mod quick;
mod quick_groups;
mod quick_items;
mod quick_series;
mod quick_tree;
mod reader;
mod renamed;
mod renamed_schema;
mod schema;
mod schema_measures;
mod schema_section;
mod section;
mod section_model;
pub mod sheet;
mod structured;
pub mod table;
mod under;
mod values;

pub use form::{FORM_FORMAT, load_form, read_form};
pub use form_model::{Asked, Form, Section, Step};
pub use form_schema::form_schema;
pub use head::{FORMAT, Head, day_of_check, head};
pub use keys::{Beside, Loader, Slot};
pub use load::{load, load_fragment};
pub use measures::read_alike;
pub use model::*;
pub use plain::PlainLoader;
pub use plain_model::*;
pub use quick::QuickRecord;
pub use reader::limits;
pub use schema::schema;
pub use section_model::*;
pub use under::{PartUnder, TraitUnder, Under};

#[cfg(test)]
mod tests;
