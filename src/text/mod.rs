//! Source text, spans and a tree of nodes with spans: no domain words.
//!
//! The way of a file: bytes become a [`Source`] by [`decode`]; [`parse_yaml`] or [`parse_json_line`]
//! turn it into a tree of [`Node`]s, in which every key and value remembers the bytes it was written
//! with. Everything later (schema check, typed loading, messages) is fed from that one tree.
//!
//! Scalars keep their text as written (`0041`, `4.70`): what a text means is decided by whoever reads
//! it, never here. The one exception is nothing: an empty plain value, `~` and `null` are
//! [`Value::Null`].
//!
//! What is bad comes back as [`TextProblem`]s with the spans to underline. All limits are counted,
//! never timed, and stand as constants in [`limits`]; their names appear in the messages.

mod decode;
mod hint;
mod json;
pub mod limits;
mod node;
mod ordinary;
mod problem;
mod source;
mod table;
mod yaml;
mod yaml_syntax;
mod yaml_words;

pub use decode::{binary_kind, decode, decode_lines};
pub use hint::{comment_after, cut_by_comment, parted_at_comma};
pub use json::parse_json_line;
pub(crate) use json::plain_length;
pub use node::{Entry, Found, Node, Scalar, Style, Value};
pub use problem::{CODES, TextProblem, quoted};
pub use source::{LineColumn, Source, Span};
pub use table::{Cell, Table, parse_table};
pub use yaml::{parse_yaml, parse_yaml_documents};

#[cfg(test)]
mod tests;
