//! The limits of what is read: counted, so that the same input gives the same answer everywhere.
//!
//! They bound memory and time for hostile input and are far above what a rules file, a record or a
//! form needs. A message that refuses a text names the limit and its number.

/// Bytes in one YAML document file. Checked before anything is parsed.
pub const DOCUMENT_BYTES: usize = 4_000_000;

/// Bytes in one line of JSON Lines, that is in one record.
pub const LINE_BYTES: usize = 4_000_000;

/// Bytes in one source held in memory as JSON Lines: spans are 32 bits wide.
pub const LINES_BYTES: usize = 4_000_000_000;

/// Keys and values in one document or line; the repetitions made by aliases have their own limit.
pub const NODES: usize = 300_000;

/// Lists and mappings inside one another, the outermost counted as 1, aliases included.
pub const DEPTH: usize = 64;

/// What anchors and aliases may repeat in one document: each repeated key or value counts 1, and
/// another 1 for every 40 bytes of its text. The definition behind an anchor counts once.
pub const ALIAS_WEIGHT: usize = 100_000;

/// Problems collected from one text before reading stops.
pub const PROBLEMS: usize = 100;

/// Bytes in one table of readings.
pub const TABLE_BYTES: usize = 64_000_000;

/// Rows of one table of readings.
pub const TABLE_ROWS: usize = 2_000_000;

/// Columns of one table of readings.
pub const TABLE_COLUMNS: usize = 64;
