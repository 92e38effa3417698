//! Papers: layout, fonts, PDF.
//!
//! A paper is a pure function from a model of ready-made words to the bytes of a PDF. Nothing here
//! decides, measures or rounds: the caller hands over strings, this room gives each its place. The way
//! of a paper:
//!
//! ```text
//! model ─► certificate::compose ─► layout (blocks ─► pages of marks) ─► pdf::write ─► bytes
//! ```
//!
//! - [`layout`] knows paper, type sizes, tables and page breaks, and no word of the trade.
//! - [`face`] knows the two embedded fonts: which characters they hold, how wide they are.
//! - [`mod@certificate`] knows what stands on a certificate, and in which order; [`ballot`] the same of the sheet that
//!   is voted on.
//! - `pdf` turns marks into a file, the same bytes for the same marks.
//!
//! Another paper (a worksheet, a refusal note) is another composer on the same layout.

use std::collections::BTreeSet;
use std::fmt;

pub mod ballot;
pub mod certificate;
pub mod face;
pub mod layout;
mod pdf;

pub use certificate::{Certificate, check_code, print};

/// A paper that is ready to be written to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Printed {
    /// The PDF. The same model gives the same bytes.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// What the person who prints it should know, in whole sentences; also printed on the paper.
    pub notes: Vec<String>,
}

/// The bytes of a certificate as a PDF; the notes stay on the paper only. See [`print()`].
///
/// # Errors
/// See [`PaperProblem`].
pub fn certificate(model: &Certificate) -> Result<Vec<u8>, PaperProblem> {
    print(model).map(|printed| printed.pdf)
}

/// Why a paper could not be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PaperProblem {
    /// An embedded font can't be read, or gives no part of itself: the build is damaged.
    Font {
        /// The face's name.
        face: &'static str,
        /// What went wrong.
        why: String,
    },
    /// A day in the model isn't a date.
    Day {
        /// Which field of the model.
        field: &'static str,
        /// What stands there.
        text: String,
    },
    /// A row of a table, or another part that is not split, is higher than a page.
    TooTall {
        /// How it begins.
        part: String,
    },
    /// The file could not be put together.
    File {
        /// What went wrong.
        why: String,
    },
}

impl fmt::Display for PaperProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Font { face, why } => {
                write!(f, "the embedded font {face} can't be used: {why}")
            }
            Self::Day { field, text } => write!(
                f,
                "{field} is \"{text}\", which is no date; a date looks like 2026-11-21"
            ),
            Self::TooTall { part } => write!(
                f,
                "the row or part that begins with \"{part}\" is higher than a page and can't be split; shorten its text"
            ),
            Self::File { why } => write!(f, "the PDF could not be put together: {why}"),
        }
    }
}

impl std::error::Error for PaperProblem {}

/// `20261121` of `2026-11-21`.
fn day_digits(field: &'static str, text: &str) -> Result<String, PaperProblem> {
    text.parse::<jiff::civil::Date>()
        .ok()
        .filter(|date| date.to_string() == text)
        .map(|_| text.replace('-', ""))
        .ok_or_else(|| PaperProblem::Day {
            field,
            text: text.to_owned(),
        })
}

/// A note when characters could not be drawn.
fn undrawable(missing: &BTreeSet<char>) -> String {
    let signs: Vec<String> = missing
        .iter()
        .map(|&c| format!("U+{:04X}", u32::from(c)))
        .collect();
    format!(
        "Characters that this paper can't draw are written by their Unicode number: {}. Write them in by hand where they matter.",
        signs.join(", ")
    )
}
