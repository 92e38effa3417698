//! The forms with words of their own: `is …`, `count(…)`, `sum(…)`.

use crate::text::quoted;

use super::grammar::Link;
use super::lexer::Tok;
use super::parser::Parser;
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::words::Keyword;

impl Parser<'_> {
    /// What stands behind `is`, which is consumed.
    pub(super) fn is(&mut self, left: &Syntax) -> Link {
        let is = self.end().saturating_sub(2);
        let mut negated = self.eat_key(Keyword::Not);
        let key = match self.tok() {
            Tok::Key(key @ (Keyword::One | Keyword::None)) => *key,
            _ => {
                return Link::Is {
                    right: self.sum(),
                    negated,
                    told: false,
                };
            }
        };
        let word = self.range();
        self.advance();
        let subject = self.text_of(left);
        if !self.eat_key(Keyword::Of) {
            let range = is..word.end;
            let help = if key == Keyword::None && !negated {
                format!(
                    "write `{subject} is none of (…)`; a value that was not given can't be asked for"
                )
            } else {
                format!("write `{subject} is {} of (…)`", key.word())
            };
            self.report(
                Problem::new(
                    "expression.list",
                    range,
                    format!("`of` is missing behind `{}`", key.word()),
                )
                .help(help),
            );
            if *self.tok() != Tok::Open {
                return Link::Broken(Vec::new());
            }
        }
        let of = self.end();
        let mut wanted = key;
        if negated {
            wanted = if key == Keyword::One {
                Keyword::None
            } else {
                Keyword::One
            };
        }
        let problems = self.problems.len();
        let words = self.list();
        if negated && self.problems.len() == problems {
            let list: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
            self.report(
                Problem::new(
                    "expression.list",
                    is..of,
                    format!("`is not {} of` is said in one word", key.word()),
                )
                .help(format!(
                    "write `{subject} is {} of ({})`",
                    wanted.word(),
                    list.join(", ")
                )),
            );
        }
        negated = wanted == Keyword::None;
        Link::OneOf { words, negated }
    }

    /// `(word, word)`.
    fn list(&mut self) -> Vec<Word> {
        let bracketed = *self.tok() == Tok::Open;
        let start = self.range().start;
        let told = self.problems.len();
        if bracketed {
            self.open(false);
        }
        let mut words = Vec::new();
        let mut parted = true;
        loop {
            match self.tok() {
                Tok::Word => {
                    words.push(self.word());
                    self.advance();
                }
                Tok::Reported => self.advance(),
                Tok::Literal(_) | Tok::Date(_) | Tok::Key(Keyword::Yes | Keyword::No) => {
                    self.no_choice();
                    break;
                }
                _ => {
                    self.missing(if words.is_empty() {
                        "a choice"
                    } else {
                        "another choice"
                    });
                    break;
                }
            }
            if self.eat(&Tok::Comma) {
                continue;
            }
            // `(plate or tee)` and `(plate tee)` are meant as the list they look like; without
            // brackets `or` goes on as the operator it is.
            if bracketed && *self.tok() == Tok::Word {
                parted = false;
                continue;
            }
            let joined = matches!(self.tok(), Tok::Key(Keyword::Or | Keyword::And));
            if joined && *self.tok_behind(1) == Tok::Word && self.list_goes_on(bracketed) {
                parted = false;
                self.advance();
                continue;
            }
            break;
        }
        if bracketed {
            if !matches!(self.tok(), Tok::Close | Tok::End) && self.problems.len() == told {
                self.no_choice();
            }
            self.skip_to_close();
            self.close();
        }
        if self.problems.len() == told && (!bracketed || !parted) {
            let list: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
            let message = if bracketed {
                "the choices of a list are parted by `,`"
            } else {
                "the choices of a list stand in brackets"
            };
            let range = start..self.end();
            self.report(
                Problem::new("expression.list", range, message)
                    .help(format!("write `({})`", list.join(", "))),
            );
        }
        words
    }

    /// Something in a list that is no word.
    fn no_choice(&mut self) {
        let range = self.range();
        let message = format!("{} is not a choice", quoted(self.slice(range.clone())));
        let problem = Problem::new("expression.list", range, message);
        self.report(match self.tok() {
            Tok::Key(Keyword::Yes | Keyword::No) => {
                problem.help("an answer is asked with `is yes` or `is no`")
            }
            _ => problem.help("a list holds words parted by `,`"),
        });
    }

    /// Whether the word behind `or` is another choice rather than the start of a condition.
    fn list_goes_on(&self, bracketed: bool) -> bool {
        bracketed
            || matches!(
                self.tok_behind(2),
                Tok::End | Tok::Close | Tok::Comma | Tok::Key(Keyword::Or | Keyword::And)
            )
    }

    /// `count(parts where condition)`, `sum(value over parts where condition)`.
    pub(super) fn aggregate(&mut self) -> Syntax {
        let start = self.range().start;
        let sum = self.at_key(Keyword::Sum);
        let form = if sum {
            "`sum(value over parts)`"
        } else {
            "`count(parts)`"
        };
        self.advance();
        if *self.tok() != Tok::Open {
            let range = start..self.end();
            let word = if sum { "sum" } else { "count" };
            self.report(
                Problem::new(
                    "expression.missing",
                    range,
                    format!("`(` is missing behind `{word}`"),
                )
                .help(format!("write {form}")),
            );
            return self.broken(start, Vec::new());
        }
        self.open(true);
        let problems = self.problems.len();
        let value = sum.then(|| {
            let value = self.sum();
            let missing = !self.eat_key(Keyword::Over) && *self.tok() != Tok::End;
            if missing && self.problems.len() == problems {
                let range = self.range();
                self.report(
                    Problem::new("expression.missing", range, "`over` is missing in `sum`")
                        .help(format!("write {form}, as in `sum(mass over correctors)`")),
                );
            }
            value
        });
        let parts = match self.tok() {
            Tok::Word => {
                let word = self.word();
                self.advance();
                Some(word)
            }
            _ => {
                if self.problems.len() == problems {
                    self.missing("the name of parts");
                }
                None
            }
        };
        let condition = self
            .eat_key(Keyword::Where)
            .then(|| Box::new(self.expression()));
        if !matches!(self.tok(), Tok::Close | Tok::End) {
            if self.problems.len() == problems {
                let range = self.range();
                let text = self.slice(range.clone()).to_owned();
                self.report(
                    Problem::new(
                        "expression.left_over",
                        range,
                        format!("`{text}` can't stand here"),
                    )
                    .help(format!(
                        "the form is {form}, with `where` and a condition behind the parts"
                    )),
                );
            }
            self.skip_to_close();
        }
        self.close();
        match (parts, value) {
            (Some(parts), None) => self.node(start, Kind::Count { parts, condition }),
            (Some(parts), Some(value)) => self.node(
                start,
                Kind::Sum {
                    value: Box::new(value),
                    parts,
                    condition,
                },
            ),
            // The names inside belong to parts that are not known.
            (None, _) => self.broken(start, Vec::new()),
        }
    }
}
