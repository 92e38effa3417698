//! The sheet that is voted on: old and new text side by side, what the change does in plain words, whom it hits, a boat
//! that shows it, the version that it needs; for and against are left blank.
//!
//! Every word of it is made from the two files, the comparison and the fleet. What is proved, what is claimed and what is
//! not known are told apart, as everywhere.

mod clauses;
mod differs;
mod made;
mod page;
mod shown;

use super::impact::Table;

pub use differs::Run;
pub use made::ballot;
pub use page::ballot_page;

/// A sheet, ready to be printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ballot {
    /// What it is.
    pub title: String,
    /// Of which class, from which version to which.
    pub lead: String,
    /// Whose rules they are.
    pub authority: String,
    /// The day from which the new version is to count.
    pub day: String,
    /// Small facts: a name and what it is.
    pub facts: Vec<(String, String)>,
    /// The heads of the two sides: `Now (3.1.0)`, `Proposed (3.2.0)`.
    pub sides: [String; 2],
    /// Everything else, from the top.
    pub parts: Vec<Part>,
}

/// A part of a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// What the following is about.
    Heading(String),
    /// A clause.
    Clause(String),
    /// A paragraph.
    Text(String),
    /// A sentence that belongs to what follows it.
    Lead(String),
    /// What was and what is to be, side by side.
    Sides(Vec<Side>),
    /// Short sentences, one below the other.
    List(Vec<String>),
    /// Rows of numbers.
    Table(Table),
    /// Lines to be copied as they are.
    Copy(String),
    /// Boxes to write in.
    Boxes(Vec<Blank>),
}

/// One thing, as it was and as it is to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Side {
    /// What it is: `Text`, `Limit for insert`.
    pub what: String,
    /// As it was; nothing where it is new.
    pub was: Option<Vec<Run>>,
    /// As it is to be; nothing where it is gone.
    pub is: Option<Vec<Run>>,
}

impl Side {
    /// Both sides with what differs marked. That a text was written anew, or stays, is said beside it.
    fn of(what: &str, was: Option<&str>, is: Option<&str>) -> Side {
        let (mut what, old, new) = (what.to_owned(), was, is);
        let mut sides = [old.map(differs::unmarked), new.map(differs::unmarked)];
        if let (Some(old), Some(new)) = (old, new) {
            match differs::both(old, new) {
                Some(both) => {
                    if both.iter().flatten().all(|run| !run.differs) {
                        what.push_str(", unchanged");
                    }
                    sides = both.map(Some);
                }
                None => what.push_str(", written anew"),
            }
        }
        let [was, is] = sides;
        Side { what, was, is }
    }

    /// Both sides as they are, with nothing marked.
    fn plain(what: String, was: &str, is: &str) -> Side {
        Side {
            what,
            was: Some(differs::unmarked(was)),
            is: Some(differs::unmarked(is)),
        }
    }
}

/// A box to write in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Blank {
    /// What is written in it.
    pub heading: String,
    /// What should be known beside; empty for nothing.
    pub sentence: String,
    /// Its lines: what each is for, and how many it takes.
    pub fields: Vec<(String, u32)>,
}
