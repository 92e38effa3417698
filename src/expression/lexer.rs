//! Text to tokens, longest match first: a date, an exact literal, a word, an operator.
//!
//! A sign glued to a number belongs to the number where a value can stand, so that `-6 degC` is one
//! literal; behind a value it is an operator. Signs of other languages are read as the operator they
//! stand for, with a problem that says ours, so that what follows is still read as it was meant.

use std::ops::Range;

use crate::quantity::{DateSpan, Quantity, lex_date, lex_literal};
use crate::text::quoted;

use super::problem::Problem;
use super::words::Keyword;

/// What a piece of the text is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Tok {
    /// A quantity or plain number.
    Literal(Quantity),
    /// A date with at least a month.
    Date(DateSpan),
    /// A literal, date or run of characters that was reported and means nothing.
    Reported,
    /// A name.
    Word,
    /// A word of the language.
    Key(Keyword),
    Plus,
    Minus,
    Times,
    Divide,
    /// `^`, `**`: reported; there are no powers.
    Power,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    /// `=`, `==`: reported.
    Equals,
    /// `!=`, `<>`: reported.
    NotEquals,
    Open,
    Close,
    Comma,
    Dot,
    End,
}

impl Tok {
    /// Whether a value has just ended, so that `-` is an operator.
    fn ends_value(&self) -> bool {
        match self {
            Tok::Literal(_) | Tok::Date(_) | Tok::Reported | Tok::Word | Tok::Close => true,
            Tok::Key(key) => key.is_value(),
            Tok::Plus
            | Tok::Minus
            | Tok::Times
            | Tok::Divide
            | Tok::Power
            | Tok::Less
            | Tok::LessOrEqual
            | Tok::Greater
            | Tok::GreaterOrEqual
            | Tok::Equals
            | Tok::NotEquals
            | Tok::Open
            | Tok::Comma
            | Tok::Dot
            | Tok::End => false,
        }
    }
}

/// A piece of the text with its place.
#[derive(Clone, Debug)]
pub(super) struct Token {
    pub tok: Tok,
    pub range: Range<usize>,
    /// Whether a blank stands before it.
    pub blank_before: bool,
    /// Whether its spelling was reported, so that nothing more is said about it.
    pub told: bool,
}

/// Signs of other languages and of print: what they are read as, and what is written here.
const FOREIGN: &[(&str, Tok, &str)] = &[
    ("===", Tok::Equals, EQUALS),
    ("==", Tok::Equals, EQUALS),
    ("=<", Tok::LessOrEqual, "write `<=`"),
    ("=>", Tok::GreaterOrEqual, "write `>=`"),
    ("=", Tok::Equals, EQUALS),
    ("!==", Tok::NotEquals, NOT_EQUALS),
    ("!=", Tok::NotEquals, NOT_EQUALS),
    ("<>", Tok::NotEquals, NOT_EQUALS),
    ("≠", Tok::NotEquals, NOT_EQUALS),
    ("!", Tok::Key(Keyword::Not), "write `not`"),
    ("&&", Tok::Key(Keyword::And), "write `and`"),
    ("&", Tok::Key(Keyword::And), "write `and`"),
    ("||", Tok::Key(Keyword::Or), "write `or`"),
    ("|", Tok::Key(Keyword::Or), "write `or`"),
    ("≤", Tok::LessOrEqual, "write `<=`"),
    ("≥", Tok::GreaterOrEqual, "write `>=`"),
    ("**", Tok::Power, POWER),
    ("^", Tok::Power, POWER),
    ("×", Tok::Times, "write `*`"),
    ("·", Tok::Times, "write `*`"),
    ("⋅", Tok::Times, "write `*`"),
    ("÷", Tok::Divide, "write `/`"),
    (
        "\u{2212}",
        Tok::Minus,
        "write `-`; this is another dash that looks like it",
    ),
    (
        "\u{2013}",
        Tok::Minus,
        "write `-`; this is another dash that looks like it",
    ),
    (
        "\u{2014}",
        Tok::Minus,
        "write `-`; this is another dash that looks like it",
    ),
    (
        "\u{2010}",
        Tok::Minus,
        "write `-`; this is another dash that looks like it",
    ),
    (
        "\u{2011}",
        Tok::Minus,
        "write `-`; this is another dash that looks like it",
    ),
    ("[", Tok::Open, "write `(` and `)`"),
    ("{", Tok::Open, "write `(` and `)`"),
    ("]", Tok::Close, "write `)`"),
    ("}", Tok::Close, "write `)`"),
    (";", Tok::Comma, "values are parted by `,`"),
];

const EQUALS: &str =
    "a choice, an answer or a date is compared with `is`, a measured value with `<=` or `>=`";
const NOT_EQUALS: &str =
    "a choice, an answer or a date is compared with `is not`, a measured value with `<` or `>`";
const POWER: &str = "there are no powers; a square is written as a product, `a * a`";

/// Our own signs, longest first.
const OWN: &[(&str, Tok)] = &[
    ("<=", Tok::LessOrEqual),
    ("<", Tok::Less),
    (">=", Tok::GreaterOrEqual),
    (">", Tok::Greater),
    ("+", Tok::Plus),
    ("-", Tok::Minus),
    ("*", Tok::Times),
    ("/", Tok::Divide),
    ("(", Tok::Open),
    (")", Tok::Close),
    (",", Tok::Comma),
    (".", Tok::Dot),
];

/// The quotes in which a word may have been put, opening and closing.
const QUOTES: &[(char, char)] = &[
    ('"', '"'),
    ('\'', '\''),
    ('`', '`'),
    ('“', '”'),
    ('„', '“'),
    ('‘', '’'),
    ('«', '»'),
];

/// Words, numbers and signs of one expression. Exact numbers grow with every factor and each piece costs
/// memory, so that the number of pieces is bounded before anything is made of them.
pub(super) const PIECES: usize = 2000;

/// The tokens of a text, the last one [`Tok::End`], and what is wrong with their spelling.
pub(super) fn lex(text: &str) -> (Vec<Token>, Vec<Problem>) {
    let mut lexer = Lexer {
        text,
        at: 0,
        tokens: Vec::new(),
        problems: Vec::new(),
        quotes: Vec::new(),
        brackets: 0,
        bar: None,
    };
    lexer.run();
    (lexer.tokens, lexer.problems)
}

struct Lexer<'t> {
    text: &'t str,
    at: usize,
    tokens: Vec<Token>,
    problems: Vec<Problem>,
    /// Places of closing quotes whose opening was reported.
    quotes: Vec<usize>,
    /// Brackets of another kind that were reported and wait for their closing.
    brackets: usize,
    /// The place of a `|` that closes one in front of a value.
    bar: Option<usize>,
}

impl Lexer<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn run(&mut self) {
        loop {
            let blank_before = self.blanks();
            if self.is_full() && !self.rest().is_empty() {
                self.give_up();
                return;
            }
            let Some(letter) = self.rest().chars().next() else {
                self.push(Tok::End, 0, blank_before, false);
                return;
            };
            if self.number(letter, blank_before) || self.word(letter, blank_before) {
                continue;
            }
            self.sign(letter, blank_before);
        }
    }

    /// Whether no further piece is read. A problem stands for a piece too: quotes and blanks of another
    /// kind make no token.
    fn is_full(&self) -> bool {
        self.tokens.len().max(self.problems.len()) >= PIECES
    }

    /// Stops reading. Nothing else is said about a text of which only a part was read.
    fn give_up(&mut self) {
        let letter = self.rest().chars().next().map_or(0, char::len_utf8);
        self.problems = vec![
            Problem::new(
                "expression.length",
                self.at..self.at + letter,
                format!("more than {PIECES} words, numbers and signs stand in one expression"),
            )
            .help("give parts of it names under `derived`"),
        ];
        self.push(Tok::End, letter, false, true);
    }

    fn push(&mut self, tok: Tok, length: usize, blank_before: bool, told: bool) {
        let range = self.at..self.at + length;
        self.at = range.end;
        self.tokens.push(Token {
            tok,
            range,
            blank_before,
            told,
        });
    }

    /// Steps over blanks. A blank that is no plain one is reported: it looks right and is often wrong
    /// elsewhere in the file too.
    fn blanks(&mut self) -> bool {
        let start = self.at;
        while let Some(letter) = self
            .rest()
            .chars()
            .next()
            .filter(|letter| letter.is_whitespace() && !self.is_full())
        {
            let range = self.at..self.at + letter.len_utf8();
            if !letter.is_ascii_whitespace() {
                let message = format!(
                    "a blank of another kind (U+{:04X}) stands here",
                    u32::from(letter)
                );
                self.problems.push(
                    Problem::new("expression.character", range.clone(), message)
                        .help("write a plain blank"),
                );
            }
            self.at = range.end;
        }
        self.at > start
    }

    /// Whether a value can stand here, so that a sign belongs to the number behind it.
    fn value_may_start(&self) -> bool {
        self.tokens.last().is_none_or(|last| !last.tok.ends_value())
    }

    fn number(&mut self, letter: char, blank_before: bool) -> bool {
        let starts_with_digit = |text: &str| text.starts_with(|next: char| next.is_ascii_digit());
        let behind = self.rest().get(letter.len_utf8()..).unwrap_or("");
        let signed = letter == '-' && starts_with_digit(behind) && self.value_may_start();
        if letter == '.' && starts_with_digit(behind) && self.value_may_start() && !self.after_dot()
        {
            self.bare_point(blank_before);
            return true;
        }
        if !letter.is_ascii_digit() && !signed {
            return false;
        }
        if let Some((length, date)) = lex_date(self.rest()) {
            let length = self.whole_characters(length);
            match date {
                Ok(date) => self.push(Tok::Date(date), length, blank_before, false),
                Err(problem) => self.unreadable(length, problem, blank_before),
            }
            return true;
        }
        match lex_literal(self.rest()) {
            Some((length, Ok(quantity))) if length > 0 => {
                let length = self.whole_characters(length);
                self.push(Tok::Literal(quantity), length, blank_before, false);
            }
            Some((length, Err(problem))) if length > 0 => {
                let length = self.whole_characters(length);
                self.unreadable(length, problem, blank_before);
            }
            _ => return false,
        }
        true
    }

    /// Whether the last token is a point, so that digits behind it are no decimals.
    fn after_dot(&self) -> bool {
        self.tokens.last().is_some_and(|last| last.tok == Tok::Dot)
    }

    /// A length that ends at a character, whatever the literal lexer said.
    fn whole_characters(&self, length: usize) -> usize {
        let rest = self.rest();
        let mut length = length.min(rest.len());
        while !rest.is_char_boundary(length) {
            length += 1;
        }
        length
    }

    fn unreadable(
        &mut self,
        length: usize,
        problem: crate::quantity::QuantityProblem,
        blank: bool,
    ) {
        let end = (self.at + length).min(self.text.len());
        let inside = |at: usize| {
            let mut at = (self.at + at).min(end);
            while !self.text.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let start = inside(problem.range.start);
        let range = start..inside(problem.range.end).max(start);
        self.problems.push(Problem {
            code: problem.code,
            range,
            message: problem.message,
            help: problem.help,
        });
        self.push(Tok::Reported, length, blank, true);
    }

    /// `.5 mm`: read as far as the number goes.
    fn bare_point(&mut self, blank_before: bool) {
        let behind = self.rest().get(1..).unwrap_or("");
        let digits = behind.bytes().take_while(u8::is_ascii_digit).count();
        let length = 1 + lex_literal(behind).map_or(digits, |(length, _)| length.max(digits));
        let length = self.whole_characters(length);
        let read = self.rest().get(..length).unwrap_or("").to_owned();
        let range = self.at..self.at + length;
        self.problems.push(
            Problem::new(
                "expression.character",
                range,
                "a number starts with a digit",
            )
            .help(format!("write `0{read}`")),
        );
        self.push(Tok::Reported, length, blank_before, true);
    }

    fn word(&mut self, letter: char, blank_before: bool) -> bool {
        if !letter.is_alphabetic() && letter != '_' {
            return false;
        }
        let rest = self.rest();
        let length = rest
            .find(|next: char| !next.is_alphanumeric() && next != '_')
            .unwrap_or(rest.len());
        let word = rest.get(..length).unwrap_or("");
        match Keyword::of(word) {
            Some(key) => self.push(Tok::Key(key), length, blank_before, false),
            None => match Keyword::of(&word.to_lowercase()) {
                Some(key) => {
                    let range = self.at..self.at + length;
                    let message = format!("{} is written in small letters", quoted(word));
                    let help = format!("write `{}`", key.word());
                    self.problems
                        .push(Problem::new("expression.capitals", range, message).help(help));
                    self.push(Tok::Key(key), length, blank_before, true);
                }
                None => self.push(Tok::Word, length, blank_before, false),
            },
        }
        true
    }

    fn sign(&mut self, letter: char, blank_before: bool) {
        if self.quotes.last() == Some(&self.at) {
            self.quotes.pop();
            self.at += letter.len_utf8();
            return;
        }
        if let Some((_, closing)) = QUOTES.iter().find(|(opening, _)| *opening == letter) {
            self.opening_quote(letter, *closing);
            return;
        }
        let foreign = FOREIGN
            .iter()
            .find(|(sign, _, _)| self.rest().starts_with(sign));
        if letter == '|' && self.size(blank_before) {
            return;
        }
        if let Some((sign, tok, help)) = foreign {
            if *tok == Tok::Open {
                self.brackets += 1;
            } else if *tok == Tok::Close && self.brackets > 0 {
                // Its opening was reported.
                self.brackets -= 1;
                self.push(Tok::Close, sign.len(), blank_before, true);
                return;
            }
            let range = self.at..self.at + sign.len();
            self.problems.push(
                Problem::new(
                    "expression.operator",
                    range,
                    format!("`{sign}` has no meaning here"),
                )
                .help(*help),
            );
            self.push(tok.clone(), sign.len(), blank_before, true);
            return;
        }
        if let Some((sign, tok)) = OWN.iter().find(|(sign, _)| self.rest().starts_with(sign)) {
            self.push(tok.clone(), sign.len(), blank_before, false);
            return;
        }
        self.meaningless(blank_before);
    }

    /// `|a - b|`, which is read as brackets.
    fn size(&mut self, blank_before: bool) -> bool {
        if self.bar == Some(self.at) {
            self.bar = None;
            self.push(Tok::Close, 1, blank_before, true);
            return true;
        }
        let inside = self.rest().get(1..).unwrap_or("");
        let Some(length) = inside.find('|').filter(|length| *length > 0) else {
            return false;
        };
        if self.bar.is_some() || !self.value_may_start() {
            return false;
        }
        let help = format!(
            "write {}",
            quoted(&format!(
                "abs({})",
                inside.get(..length).unwrap_or("").trim()
            ))
        );
        let range = self.at..self.at + length + 2;
        self.problems.push(
            Problem::new(
                "expression.operator",
                range.clone(),
                "`|` has no meaning here",
            )
            .help(help),
        );
        self.bar = Some(range.end - 1);
        self.push(Tok::Open, 1, blank_before, true);
        true
    }

    /// A word in quotes is read as the word.
    fn opening_quote(&mut self, opening: char, closing: char) {
        let inner = self.at + opening.len_utf8();
        let found = self
            .text
            .get(inner..)
            .and_then(|behind| behind.find(closing));
        let end = found.map(|length| inner + length);
        let range = self.at..end.map_or(inner, |end| end + closing.len_utf8());
        let problem = Problem::new(
            "expression.character",
            range,
            "words stand without quotes in an expression",
        );
        let words = end
            .and_then(|end| self.text.get(inner..end))
            .unwrap_or("")
            .trim();
        self.problems.push(if words.is_empty() {
            problem
        } else {
            problem.help(format!("write {}", quoted(words)))
        });
        self.quotes.extend(end);
        self.at = inner;
    }

    /// A run of characters that mean nothing.
    fn meaningless(&mut self, blank_before: bool) {
        let start = self.at;
        let known = |rest: &str| {
            FOREIGN.iter().any(|(sign, _, _)| rest.starts_with(sign))
                || OWN.iter().any(|(sign, _)| rest.starts_with(sign))
        };
        let mut end = start;
        for letter in self.rest().chars() {
            let stop = letter.is_whitespace()
                || letter.is_alphanumeric()
                || letter == '_'
                || QUOTES
                    .iter()
                    .any(|(opening, closing)| *opening == letter || *closing == letter)
                || known(self.text.get(end..).unwrap_or(""));
            if stop && end > start {
                break;
            }
            end += letter.len_utf8();
        }
        let read = self.text.get(start..end).unwrap_or("");
        let help = match read.chars().next() {
            Some(letter) if letter.is_numeric() => {
                Some("a fraction is written as 1/2, an area as 8 m2")
            }
            Some('%') => Some("`%` is a unit and stands after a number, as in `95 %`"),
            Some('#') => Some("a number of things is `count(…)`"),
            Some('?') => Some("a condition is joined with `and`, `or`, `not`"),
            _ => None,
        };
        let problem = Problem {
            help: help.map(str::to_owned),
            ..Problem::new(
                "expression.character",
                start..end,
                format!("{} has no meaning in an expression", quoted(read)),
            )
        };
        self.problems.push(problem);
        self.push(Tok::Reported, end - start, blank_before, true);
    }
}
