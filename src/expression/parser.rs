//! Tokens to a tree, by recursive descent over the grammar of the rules language.
//!
//! A mistake is reported once and reading goes on. What stands where a value is missing is not
//! consumed, so that a closing bracket or an operator keeps its meaning and gives no second, false
//! problem. Depth is counted, both of brackets and of the tree.

use std::ops::Range;

use crate::text::quoted;

use super::lexer::{Tok, Token, lex};
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::words::Keyword;

/// Brackets, functions, `not` and `-` inside one another.
const DEPTH: u32 = 64;

/// Levels of the tree; a chain of sums or products has one for each operator.
const HEIGHT: u32 = 128;

/// Reads a text as an expression. The tree has broken places where there are problems.
pub(super) fn parse(text: &str) -> (Syntax, Vec<Problem>) {
    let (tokens, problems) = lex(text);
    if tokens.last().is_some_and(|end| end.told) {
        // Only a part was read; what could be said about it might be false of the whole.
        return (Syntax::new(0..0, Kind::Broken(Vec::new())), problems);
    }
    let mut parser = Parser {
        text,
        tokens,
        at: 0,
        problems,
        depth: 0,
        open: Vec::new(),
        ended: false,
    };
    let tree = parser.whole();
    (tree, parser.problems)
}

pub(super) struct Parser<'t> {
    pub(super) text: &'t str,
    tokens: Vec<Token>,
    at: usize,
    pub(super) problems: Vec<Problem>,
    depth: u32,
    /// Opening brackets that wait for their closing, and whether one belongs to a function.
    open: Vec<(Range<usize>, bool)>,
    /// Whether the end of the text was already reported as too early, or reading was given up.
    ended: bool,
}

impl Parser<'_> {
    // ---- tokens

    pub(super) fn token(&self, at: usize) -> &Token {
        const END: &Token = &Token {
            tok: Tok::End,
            range: 0..0,
            blank_before: true,
            told: true,
        };
        self.tokens.get(at).or(self.tokens.last()).unwrap_or(END)
    }

    /// The index of the present token.
    pub(super) fn here(&self) -> usize {
        self.at
    }

    pub(super) fn token_here(&self) -> &Token {
        self.token(self.at)
    }

    pub(super) fn tok(&self) -> &Tok {
        &self.token(self.at).tok
    }

    /// The token some places further on.
    pub(super) fn tok_behind(&self, places: usize) -> &Tok {
        &self.token(self.at.saturating_add(places)).tok
    }

    pub(super) fn range(&self) -> Range<usize> {
        self.token(self.at).range.clone()
    }

    /// The token before the present one.
    fn before(&self) -> Option<&Token> {
        self.at.checked_sub(1).and_then(|at| self.tokens.get(at))
    }

    pub(super) fn advance(&mut self) {
        if self.at + 1 < self.tokens.len() {
            self.at += 1;
        }
    }

    pub(super) fn eat(&mut self, tok: &Tok) -> bool {
        let found = self.tok() == tok;
        if found {
            self.advance();
        }
        found
    }

    pub(super) fn eat_key(&mut self, key: Keyword) -> bool {
        self.eat(&Tok::Key(key))
    }

    pub(super) fn at_key(&self, key: Keyword) -> bool {
        *self.tok() == Tok::Key(key)
    }

    pub(super) fn slice(&self, range: Range<usize>) -> &str {
        self.text.get(range).unwrap_or("")
    }

    pub(super) fn word(&self) -> Word {
        let range = self.range();
        Word {
            text: self.slice(range.clone()).to_owned(),
            range,
        }
    }

    /// Where the last consumed token ends.
    pub(super) fn end(&self) -> usize {
        self.before().map_or(0, |token| token.range.end)
    }

    // ---- trouble

    pub(super) fn report(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    pub(super) fn broken(&self, start: usize, inside: Vec<Syntax>) -> Syntax {
        Syntax::new(start..self.end().max(start), Kind::Broken(inside))
    }

    /// Makes a piece of the tree, unless the tree grows too high with it.
    pub(super) fn node(&mut self, start: usize, kind: Kind) -> Syntax {
        let node = Syntax::new(start..self.end().max(start), kind);
        if node.height <= HEIGHT {
            return node;
        }
        self.give_up(
            node.range,
            format!("more than {HEIGHT} operations in a row or inside one another"),
        );
        self.broken(start, Vec::new())
    }

    /// Stops reading: what follows could only give false problems.
    fn give_up(&mut self, range: Range<usize>, message: String) {
        if !self.ended {
            self.report(
                Problem::new("expression.depth", range, message)
                    .help("give a part of it a name under `derived`"),
            );
        }
        self.ended = true;
        self.at = self.tokens.len().saturating_sub(1);
    }

    /// Reads something one level deeper.
    pub(super) fn nested(&mut self, read: impl FnOnce(&mut Self) -> Syntax) -> Syntax {
        if self.depth >= DEPTH {
            let range = self.range();
            let start = range.start;
            self.give_up(
                range,
                format!("more than {DEPTH} brackets, functions or signs inside one another"),
            );
            return self.broken(start, Vec::new());
        }
        self.depth += 1;
        let node = read(self);
        self.depth -= 1;
        node
    }

    /// Says that a value is missing where the present token stands; nothing is consumed.
    pub(super) fn missing(&mut self, what: &str) -> Syntax {
        let here = self.range();
        let node = Syntax::new(here.start..here.start, Kind::Broken(Vec::new()));
        let at_end = *self.tok() == Tok::End;
        if at_end && self.ended {
            return node;
        }
        if at_end && !self.open.is_empty() {
            self.unclosed();
            return node;
        }
        self.ended |= at_end;
        let before = self
            .before()
            .map(|token| (token.tok.clone(), token.range.clone()));
        let problem = match before {
            None if at_end => Problem::new("expression.empty", here, "the expression is empty"),
            Some((Tok::Open, open)) if *self.tok() == Tok::Close => Problem::new(
                "expression.missing",
                open.start..here.end,
                "nothing stands between the brackets",
            ),
            None | Some((Tok::Open, _)) => {
                let message = format!(
                    "{what} is missing in front of {}",
                    quoted(self.slice(here.clone()))
                );
                Problem::new("expression.missing", here, message)
            }
            Some((_, range)) => {
                let message = format!(
                    "{what} is missing behind {}",
                    quoted(self.slice(range.clone()))
                );
                Problem::new("expression.missing", range, message)
            }
        };
        self.report(problem);
        node
    }

    pub(super) fn open(&mut self, function: bool) {
        let range = self.range();
        self.open.push((range, function));
        self.advance();
    }

    /// Expects the bracket that closes the last open one; whether it was there.
    pub(super) fn close(&mut self) -> bool {
        let closed = *self.tok() == Tok::Close;
        if closed {
            self.advance();
        } else {
            self.unclosed();
        }
        self.open.pop();
        closed
    }

    /// Whether no bracket is open.
    pub(super) fn is_outside(&self) -> bool {
        self.open.is_empty()
    }

    fn unclosed(&mut self) {
        if self.ended {
            return;
        }
        self.ended = true;
        let Some((range, function)) = self.open.last().cloned() else {
            return;
        };
        let help = if function {
            "close it with `)`; if the text ends here because a comma inside { } or [ ] cut it, put the expression in quotes"
        } else {
            "close it with `)`"
        };
        self.report(
            Problem::new("expression.bracket", range, "this bracket is not closed").help(help),
        );
    }

    /// Checks the blanks around the operator at `at`, once what stands behind it was read.
    pub(super) fn blanks(&mut self, at: usize) {
        let operator = self.token(at).clone();
        let behind = self.token(at + 1).clone();
        let Some(before) = at.checked_sub(1).map(|before| self.token(before).clone()) else {
            return;
        };
        if operator.told || (operator.blank_before && behind.blank_before) {
            return;
        }
        let sign = self.slice(operator.range.clone()).to_owned();
        // Of something in brackets only the brackets are repeated.
        let left = match before.tok {
            Tok::Close => "(…)",
            _ => self.slice(before.range.clone()),
        };
        let right = match (&behind.tok, &self.token(at + 2).tok) {
            (Tok::Open, _) => "(…)".to_owned(),
            (Tok::Word | Tok::Key(_), Tok::Open) => {
                format!("{}(…)", self.slice(behind.range.clone()))
            }
            _ => self.slice(behind.range.clone()).to_owned(),
        };
        let form = format!("{left} {sign} {right}");
        let words =
            before.tok == Tok::Word && behind.tok == Tok::Word && operator.tok == Tok::Minus;
        let help = if words {
            format!("write {}; inside a name stands `_`", quoted(&form))
        } else {
            format!("write {}", quoted(&form))
        };
        self.report(
            Problem::new(
                "expression.blanks",
                before.range.start..behind.range.end,
                format!("`{sign}` needs a blank on both sides"),
            )
            .help(help),
        );
    }

    /// The text of a piece that was read.
    pub(super) fn text_of(&self, node: &Syntax) -> String {
        self.slice(node.range.clone()).trim().to_owned()
    }

    /// Steps over everything up to the bracket that closes the last open one.
    pub(super) fn skip_to_close(&mut self) {
        let mut depth = 0_usize;
        loop {
            match self.tok() {
                Tok::End => break,
                Tok::Close if depth == 0 => break,
                Tok::Open => depth += 1,
                Tok::Close => depth -= 1,
                _ => {}
            }
            self.advance();
        }
    }
}
