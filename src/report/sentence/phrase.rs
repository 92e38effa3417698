//! Words and numbers in a row.

use crate::report::words::capital;
use std::collections::VecDeque;

use jiff::civil::Date;

use crate::quantity::{DatePrecision, DateSpan};

/// A piece of a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Words, with the blanks and signs around them.
    Words(String),
    /// A number with its unit, as the file has it.
    Number(String),
    /// A day, month or year.
    Day {
        /// As the file has it.
        written: String,
        /// As it is read.
        words: String,
    },
}

impl Piece {
    /// The piece as it is read.
    pub fn text(&self) -> &str {
        match self {
            Piece::Words(text) | Piece::Number(text) => text,
            Piece::Day { words, .. } => words,
        }
    }

    /// The number or day as the file has it.
    pub fn number(&self) -> Option<&str> {
        match self {
            Piece::Words(_) => None,
            Piece::Number(written) | Piece::Day { written, .. } => Some(written),
        }
    }
}

/// A part of a sentence.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::report) struct Phrase {
    pieces: VecDeque<Piece>,
}

impl Phrase {
    /// Whether nothing is said.
    pub(super) fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// Words alone.
    pub(in crate::report) fn of(words: impl AsRef<str>) -> Phrase {
        Phrase::default().words(words)
    }

    /// A number as written.
    pub(in crate::report) fn of_number(text: impl Into<String>) -> Phrase {
        Phrase::default().number(text)
    }

    /// With words behind it.
    pub(in crate::report) fn words(mut self, words: impl AsRef<str>) -> Phrase {
        let words = words.as_ref();
        match self.pieces.back_mut() {
            Some(Piece::Words(last)) => last.push_str(words),
            _ if words.is_empty() => {}
            _ => self.pieces.push_back(Piece::Words(words.to_owned())),
        }
        self
    }

    /// With a number behind it.
    pub(in crate::report) fn number(mut self, text: impl Into<String>) -> Phrase {
        self.pieces.push_back(Piece::Number(text.into()));
        self
    }

    /// With another phrase behind it.
    pub(in crate::report) fn then(mut self, other: Phrase) -> Phrase {
        for piece in other.pieces {
            match piece {
                Piece::Words(words) => self = self.words(words),
                other => self.pieces.push_back(other),
            }
        }
        self
    }

    /// With the sign before a first number left out, for words that say it.
    pub(super) fn without_sign(mut self) -> Phrase {
        if let Some(Piece::Number(text)) = self.pieces.front_mut()
            && let Some(bare) = text.strip_prefix('-')
        {
            *text = bare.to_owned();
        }
        self
    }

    /// A noun with a word behind its article: `the greatest exposed depth`.
    pub(super) fn qualified(mut self, word: &str) -> Phrase {
        if let Some(Piece::Words(first)) = self.pieces.front_mut() {
            let noun = first.strip_prefix("the ").unwrap_or(first);
            *first = format!("the {word} {noun}");
        }
        self
    }

    /// Phrases with words between them, others before the last.
    pub(in crate::report) fn joined(phrases: Vec<Phrase>, between: &str, last: &str) -> Phrase {
        let count = phrases.len();
        let mut all = Phrase::default();
        for (at, phrase) in phrases.into_iter().enumerate() {
            if at > 0 {
                all = all.words(if at + 1 == count { last } else { between });
            }
            all = all.then(phrase);
        }
        all
    }

    /// `a, b and c`
    pub(in crate::report) fn listed(phrases: Vec<Phrase>, last: &str) -> Phrase {
        Phrase::joined(phrases, ", ", &format!(" {last} "))
    }

    /// Two nouns with what they have in common said once: `the port and starboard arm`.
    pub(super) fn paired(one: Phrase, other: Phrase) -> Phrase {
        let (left, right) = (one.tokens(), other.tokens());
        let shorter = left.len().min(right.len());
        let begin = left.iter().zip(&right).take_while(|(a, b)| a == b).count();
        let most = shorter - begin.min(shorter);
        let end = left
            .iter()
            .rev()
            .zip(right.iter().rev())
            .take(most)
            .take_while(|(a, b)| a == b)
            .count();
        let middle = |tokens: &[Piece]| {
            let inner = tokens.get(begin..tokens.len() - end).unwrap_or_default();
            Phrase::of_tokens(inner)
        };
        if begin == 0 || end == 0 || begin + end >= shorter {
            return one.words(" and ").then(other);
        }
        let lead = Phrase::of_tokens(left.get(..begin).unwrap_or_default());
        let tail = Phrase::of_tokens(left.get(left.len() - end..).unwrap_or_default());
        lead.words(" ")
            .then(middle(&left))
            .words(" and ")
            .then(middle(&right))
            .words(" ")
            .then(tail)
    }

    /// The words one by one, and the numbers.
    fn tokens(&self) -> Vec<Piece> {
        let mut tokens = Vec::new();
        for piece in &self.pieces {
            match piece {
                Piece::Words(words) => tokens.extend(
                    words
                        .split_whitespace()
                        .map(|word| Piece::Words(word.to_owned())),
                ),
                other => tokens.push(other.clone()),
            }
        }
        tokens
    }

    fn of_tokens(tokens: &[Piece]) -> Phrase {
        let each = tokens.iter().map(|token| {
            let mut phrase = Phrase::default();
            phrase.pieces.push_back(token.clone());
            phrase
        });
        Phrase::joined(each.collect(), " ", " ")
    }

    /// The pieces.
    pub(in crate::report) fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.pieces.iter()
    }

    /// Its text.
    pub(in crate::report) fn text(&self) -> String {
        self.pieces.iter().map(Piece::text).collect()
    }

    /// The phrase as a sentence: a capital at its beginning, a stop at its end.
    pub(super) fn into_sentence(self) -> Vec<Piece> {
        let mut all = self;
        if let Some(Piece::Words(first)) = all.pieces.front_mut() {
            *first = capital(first);
        }
        let ended = matches!(all.pieces.back(), Some(Piece::Words(last)) if last.ends_with(['.', '?', '!']));
        if !ended {
            all = all.words(".");
        }
        all.pieces.into()
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn month(date: Date) -> &'static str {
    let at = usize::try_from(date.month()).unwrap_or(1).saturating_sub(1);
    MONTHS.get(at).copied().unwrap_or("")
}

/// `1 January 2012`
pub(in crate::report) fn day(date: Date) -> Phrase {
    span(&DateSpan::day(date))
}

/// `1 January 2012`, `January 2012`, `2012`
pub(super) fn span(date: &DateSpan) -> Phrase {
    let first = date.first;
    let words = match date.precision {
        DatePrecision::Day => format!("{} {} {}", first.day(), month(first), first.year()),
        DatePrecision::Month => format!("{} {}", month(first), first.year()),
        DatePrecision::Year => first.year().to_string(),
    };
    let mut phrase = Phrase::default();
    phrase.pieces.push_back(Piece::Day {
        written: date.to_string(),
        words,
    });
    phrase
}

/// `a runner`, `an edge`
pub(in crate::report) fn with_article(noun: &str) -> String {
    let vowel = noun.starts_with(['a', 'e', 'i', 'o', 'u']);
    format!("{} {noun}", if vowel { "an" } else { "a" })
}
