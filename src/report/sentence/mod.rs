//! What a rule says as data, in plain sentences: made from the rules file alone, so that a committee sees where
//! its printed text and its data differ.
//!
//! ```text
//! Rule or MarkRule ─► Sentences (what each says, its words, its numbers as written) ─► text │ HTML
//! ```
//!
//! Numbers stand in a sentence exactly as the rules file has them, and are told apart from the words, so that a
//! program can ask which numbers a sentence names.

mod condition;
mod evidence;
mod marks;
mod phrase;
mod rule;
mod table;
mod value;
mod written;
mod zone;

use crate::rules::{MarkRule, Rule, RulesFile};

pub(super) use marks::{mark_frame, mark_limit};
pub use phrase::Piece;
pub(super) use phrase::{Phrase, with_article};
pub(super) use rule::{rule_frame, rule_limit};
pub(super) use table::{Table, mark_table, rule_table};
pub(super) use value::{Speaker, measure_name};
pub(super) use written::Written;

/// What a sentence is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Says {
    /// What is asked of which item.
    Demand,
    /// What a computed value means.
    Meaning,
    /// What counts instead for some equipment.
    Exemption,
    /// At how many places it is measured, and how often.
    Evidence,
    /// At which stages it is checked.
    Stages,
}

/// One sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence {
    /// What it is about.
    pub says: Says,
    /// Its pieces, to be set one after another.
    pub pieces: Vec<Piece>,
}

impl Sentence {
    fn new(says: Says, phrase: Phrase) -> Sentence {
        Sentence {
            says,
            pieces: phrase.into_sentence(),
        }
    }

    /// Its text.
    pub fn text(&self) -> String {
        self.pieces.iter().map(Piece::text).collect()
    }
}

/// What says the rules of one version in sentences.
#[derive(Debug)]
pub struct Wording<'r> {
    pub(super) rules: &'r RulesFile,
    pub(super) written: Written<'r>,
}

impl<'r> Wording<'r> {
    /// The wording of a version.
    pub fn of(rules: &'r RulesFile) -> Wording<'r> {
        Wording {
            rules,
            written: Written::of(rules),
        }
    }

    /// The sentences of a rule.
    pub fn rule(&self, rule: &Rule) -> Vec<Sentence> {
        rule::sentences(self, rule)
    }

    /// The sentences of a limit on marks.
    pub fn marks(&self, mark: &MarkRule) -> Vec<Sentence> {
        marks::sentences(self, mark)
    }
}

/// Sentences as one text.
pub fn sentence_text(sentences: &[Sentence]) -> String {
    let texts: Vec<String> = sentences.iter().map(Sentence::text).collect();
    texts.join(" ")
}

/// The numbers and days that sentences name, as the file has them, in their order.
pub fn sentence_numbers(sentences: &[Sentence]) -> Vec<String> {
    sentences
        .iter()
        .flat_map(|sentence| &sentence.pieces)
        .filter_map(Piece::number)
        .map(str::to_owned)
        .collect()
}
