//! Tokens to a tree, by recursive descent over the grammar of the rules language.
//!
//! A mistake is reported once and reading goes on. What stands where a value is missing is not
//! consumed, so that a closing bracket or an operator keeps its meaning and gives no second, false
//! problem. Depth is counted, both of brackets and of the tree.

use std::ops::Range;

use crate::diagnostic::near_misses;
use crate::quantity::{DateSpan, Unit};
use crate::text::quoted;

use super::lexer::{Tok, Token, lex};
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Arithmetic, Comparison};
use super::words::Keyword;

/// Brackets, functions, `not` and `-` inside one another.
const DEPTH: u32 = 64;

/// Levels of the tree; a chain of sums or products has one for each operator.
const HEIGHT: u32 = 128;

/// Reads a text as an expression. The tree has broken places where there are problems.
pub(super) fn parse(text: &str) -> (Syntax, Vec<Problem>) {
    let (tokens, problems) = lex(text);
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

    fn token(&self, at: usize) -> &Token {
        const END: &Token = &Token {
            tok: Tok::End,
            range: 0..0,
            blank_before: true,
            told: true,
        };
        self.tokens.get(at).or(self.tokens.last()).unwrap_or(END)
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
            format!("more than {HEIGHT} operations inside one another"),
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

    /// Expects the bracket that closes the last open one.
    pub(super) fn close(&mut self) {
        if *self.tok() == Tok::Close {
            self.open.pop();
            self.advance();
        } else {
            self.unclosed();
            self.open.pop();
        }
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
    fn blanks(&mut self, at: usize) {
        let operator = self.token(at).clone();
        let behind = self.token(at + 1).clone();
        let Some(before) = at.checked_sub(1).map(|before| self.token(before).clone()) else {
            return;
        };
        if operator.told || (operator.blank_before && behind.blank_before) {
            return;
        }
        let sign = self.slice(operator.range.clone()).to_owned();
        let form = format!(
            "{} {sign} {}",
            self.slice(before.range.clone()),
            self.slice(behind.range.clone())
        );
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

    // ---- grammar

    fn whole(&mut self) -> Syntax {
        let node = self.expression();
        if *self.tok() == Tok::End {
            return node;
        }
        // What can't go on is reported by `comparison`; here only a bracket or a comma is left.
        let here = self.range();
        let problem = match self.tok() {
            Tok::Close => Problem::new("expression.bracket", here, "this bracket closes nothing"),
            Tok::Comma => self.stray_comma(&node),
            _ => self.left_over(),
        };
        if !self.token(self.at).told {
            self.report(problem);
        }
        self.broken(node.range.start, vec![node])
    }

    /// A comma outside brackets.
    fn stray_comma(&self, node: &Syntax) -> Problem {
        let here = self.range();
        let list = match &node.kind {
            Kind::Is {
                left,
                right,
                negated,
                ..
            } => right.bare_word().map(|word| (left, word, negated)),
            _ => None,
        };
        let next = self.token(self.at + 1);
        match (list, &next.tok) {
            (Some((left, word, negated)), Tok::Word) => {
                let range = node.range.start..next.range.end;
                Problem::new("expression.list", range, "several choices stand in a list").help(
                    format!(
                        "write `{} is {} of ({}, {})`",
                        self.slice(left.range.clone()),
                        if *negated { "none" } else { "one" },
                        word.text,
                        self.slice(next.range.clone()),
                    ),
                )
            }
            _ => Problem::new("expression.left_over", here, "a comma stands here").help(
                "commas part the values of a function; conditions are joined with `and` or `or`",
            ),
        }
    }

    pub(super) fn expression(&mut self) -> Syntax {
        self.joined(Keyword::Or)
    }

    /// Operands joined by `or`, or by `and`.
    fn joined(&mut self, key: Keyword) -> Syntax {
        let start = self.range().start;
        let mut operands = Vec::new();
        loop {
            operands.push(match key {
                Keyword::Or => self.joined(Keyword::And),
                _ => self.not(),
            });
            if !self.eat_key(key) {
                break;
            }
        }
        match (operands.len(), key) {
            (1, _) => operands
                .pop()
                .unwrap_or_else(|| self.broken(start, Vec::new())),
            (_, Keyword::Or) => self.node(start, Kind::Or(operands)),
            _ => self.node(start, Kind::And(operands)),
        }
    }

    fn not(&mut self) -> Syntax {
        let start = self.range().start;
        if !self.eat_key(Keyword::Not) {
            return self.comparison();
        }
        let inner = self.nested(Self::not);
        self.node(start, Kind::Not(Box::new(inner)))
    }

    fn comparison(&mut self) -> Syntax {
        let start = self.range().start;
        let problems = self.problems.len();
        let mut node = self.sum();
        let mut links = 0;
        let mut ends = vec![node.range.clone()];
        let mut signs = Vec::new();
        loop {
            let operator = self.at;
            let sign = self.range();
            let kind = match self.tok() {
                Tok::Less => Some(Comparison::Less),
                Tok::LessOrEqual => Some(Comparison::LessOrEqual),
                Tok::Greater => Some(Comparison::Greater),
                Tok::GreaterOrEqual => Some(Comparison::GreaterOrEqual),
                _ => None,
            };
            let (left, next) = if let Some(kind) = kind {
                self.advance();
                let right = self.side(operator);
                ends.push(right.range.clone());
                (node, Link::Compare(kind, right))
            } else if let Tok::Equals | Tok::NotEquals = self.tok() {
                let negated = *self.tok() == Tok::NotEquals;
                self.advance();
                let right = self.sum();
                ends.push(right.range.clone());
                (
                    node,
                    Link::Is {
                        right,
                        negated,
                        told: true,
                    },
                )
            } else if self.eat_key(Keyword::Is) {
                let link = self.is(&node);
                ends.push(sign.end..self.end());
                (node, link)
            } else {
                break;
            };
            links += 1;
            signs.push(sign);
            node = if links > 1 {
                self.broken(start, std::iter::once(left).chain(next.inside()).collect())
            } else {
                let left = Box::new(left);
                let kind = match next {
                    Link::Compare(kind, right) => Kind::Compare(kind, left, Box::new(right)),
                    Link::Is {
                        right,
                        negated,
                        told,
                    } => Kind::Is {
                        left,
                        right: Box::new(right),
                        negated,
                        told,
                    },
                    Link::OneOf { words, negated } => Kind::IsOneOf {
                        left,
                        words,
                        negated,
                    },
                    Link::Broken(inside) => {
                        Kind::Broken(std::iter::once(*left).chain(inside).collect())
                    }
                };
                self.node(start, kind)
            };
        }
        if links > 1 && self.problems.len() == problems {
            self.chain(start, &ends, &signs);
        }
        self.stray(start, node)
    }

    /// `a <= x <= b`: one comparison for each sign, joined with `and`.
    fn chain(&mut self, start: usize, ends: &[Range<usize>], signs: &[Range<usize>]) {
        let single: Vec<String> = ends
            .iter()
            .zip(ends.iter().skip(1))
            .zip(signs)
            .map(|((left, right), sign)| {
                let piece = |range: &Range<usize>| self.slice(range.clone()).trim();
                format!("{} {} {}", piece(left), piece(sign), piece(right))
            })
            .collect();
        let range = start..self.end();
        self.report(
            Problem::new("expression.chain", range, "two comparisons stand in one")
                .help(format!("write `{}`", single.join(" and "))),
        );
    }

    /// The right side of an operator, then the blanks around it.
    fn side(&mut self, operator: usize) -> Syntax {
        let problems = self.problems.len();
        let right = self.sum();
        if self.problems.len() == problems {
            self.blanks(operator);
        }
        right
    }

    pub(super) fn sum(&mut self) -> Syntax {
        self.chain_of(
            |tok| match tok {
                Tok::Plus => Some(Some(Arithmetic::Add)),
                Tok::Minus => Some(Some(Arithmetic::Subtract)),
                _ => None,
            },
            Self::product,
        )
    }

    fn product(&mut self) -> Syntax {
        self.chain_of(
            |tok| match tok {
                Tok::Times => Some(Some(Arithmetic::Multiply)),
                Tok::Divide => Some(Some(Arithmetic::Divide)),
                Tok::Power => Some(None),
                _ => None,
            },
            Self::unary,
        )
    }

    /// Operands joined from the left; an operator that we don't have gives a broken piece.
    fn chain_of(
        &mut self,
        operation: impl Fn(&Tok) -> Option<Option<Arithmetic>>,
        operand: impl Fn(&mut Self) -> Syntax,
    ) -> Syntax {
        let start = self.range().start;
        let mut node = operand(self);
        while let Some(kind) = operation(self.tok()) {
            let operator = self.at;
            self.advance();
            let problems = self.problems.len();
            let right = operand(self);
            if self.problems.len() == problems {
                self.blanks(operator);
            }
            node = match kind {
                Some(kind) => self.node(
                    start,
                    Kind::Arithmetic(kind, Box::new(node), Box::new(right)),
                ),
                None => self.node(start, Kind::Broken(vec![node, right])),
            };
        }
        node
    }

    fn unary(&mut self) -> Syntax {
        let start = self.range().start;
        if *self.tok() == Tok::Plus {
            let range = self.range();
            self.advance();
            if !matches!(self.tok(), Tok::End | Tok::Close | Tok::Comma) {
                self.report(
                    Problem::new(
                        "expression.operator",
                        range,
                        "a value is missing in front of `+`",
                    )
                    .help("leave the `+` out if it is the sign of the number"),
                );
                let inner = self.nested(Self::unary);
                return self.node(start, Kind::Broken(vec![inner]));
            }
            return self.missing("a value");
        }
        if !self.eat(&Tok::Minus) {
            return self.primary();
        }
        let inner = self.nested(Self::unary);
        self.node(start, Kind::Negate(Box::new(inner)))
    }

    fn primary(&mut self) -> Syntax {
        let range = self.range();
        let start = range.start;
        match self.tok().clone() {
            Tok::Literal(quantity) => {
                self.advance();
                let year = (quantity.unit == Unit::PLAIN && range.len() == 4)
                    .then(|| DateSpan::parse(self.slice(range.clone())).ok())
                    .flatten();
                if quantity.unit == Unit::PLAIN && *self.tok() == Tok::Word {
                    return self.unknown_unit(start);
                }
                self.node(start, Kind::Literal { quantity, year })
            }
            Tok::Date(date) => {
                self.advance();
                self.node(start, Kind::Date(date))
            }
            Tok::Reported => {
                self.advance();
                self.broken(start, Vec::new())
            }
            Tok::Word => self.name_or_call(),
            Tok::Open => {
                self.open(false);
                let inner = if *self.tok() == Tok::Close {
                    self.missing("a value")
                } else {
                    self.nested(Self::expression)
                };
                self.to_close("one value stands between brackets", inner)
            }
            Tok::Key(Keyword::Yes) | Tok::Key(Keyword::No) => {
                let yes = self.at_key(Keyword::Yes);
                self.advance();
                self.node(start, Kind::YesNo(yes))
            }
            Tok::Key(Keyword::Count | Keyword::Sum) => self.nested(Self::aggregate),
            Tok::Key(Keyword::Not) => {
                self.report(
                    Problem::new(
                        "expression.missing",
                        range,
                        "`not` stands in front of a whole condition",
                    )
                    .help("put the condition in brackets, as in `not (a < b)`"),
                );
                self.advance();
                let inner = self.nested(Self::comparison);
                self.node(start, Kind::Broken(vec![inner]))
            }
            Tok::Key(key @ (Keyword::One | Keyword::None | Keyword::Of)) => {
                let message = format!("`{}` is a word of the language, not a name", key.word());
                self.report(
                    Problem::new("expression.name", range, message)
                        .help("it stands in `is one of (…)` and `is none of (…)`"),
                );
                self.advance();
                self.broken(start, Vec::new())
            }
            Tok::Key(Keyword::And | Keyword::Or | Keyword::Is | Keyword::Where | Keyword::Over)
            | Tok::Plus
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
            | Tok::Close
            | Tok::Comma
            | Tok::Dot
            | Tok::End => self.missing("a value"),
        }
    }

    /// A word behind a number without a unit.
    fn unknown_unit(&mut self, start: usize) -> Syntax {
        let word = self.word();
        let units: Vec<&str> = Unit::all()
            .map(Unit::symbol)
            .filter(|symbol| !symbol.is_empty())
            .collect();
        let help = match near_misses(&word.text, units.iter().copied()) {
            Some(unit) => format!("did you mean `{unit}`?"),
            None => format!("units are {}", units.join(", ")),
        };
        self.advance();
        let message = format!("{} is not a unit", quoted(&word.text));
        self.report(Problem::new("expression.unit", word.range, message).help(help));
        self.broken(start, Vec::new())
    }

    fn name_or_call(&mut self) -> Syntax {
        let start = self.range().start;
        let first = self.word();
        self.advance();
        if *self.tok() == Tok::Open {
            return self.nested(|parser| parser.call(first));
        }
        let mut words = vec![first];
        while self.eat(&Tok::Dot) {
            match self.tok().clone() {
                Tok::Word => {
                    words.push(self.word());
                    self.advance();
                }
                Tok::Key(key) if !matches!(key, Keyword::And | Keyword::Or | Keyword::Is) => {
                    let message = format!("`{}` is a word of the language, not a name", key.word());
                    let range = self.range();
                    self.report(Problem::new("expression.name", range, message));
                    self.advance();
                    return self.broken(start, Vec::new());
                }
                _ => {
                    self.missing("a name");
                    return self.broken(start, Vec::new());
                }
            }
        }
        self.node(start, Kind::Name(words))
    }

    fn call(&mut self, name: Word) -> Syntax {
        let start = name.range.start;
        self.open(true);
        let mut arguments = Vec::new();
        if *self.tok() != Tok::Close {
            loop {
                arguments.push(self.expression());
                if !self.eat(&Tok::Comma) {
                    break;
                }
            }
        }
        self.not_here();
        self.close();
        self.node(start, Kind::Call { name, arguments })
    }

    /// Reads to the closing bracket of a pair that holds one value.
    fn to_close(&mut self, message: &str, inner: Syntax) -> Syntax {
        let mut inside = vec![inner];
        while *self.tok() == Tok::Comma {
            if inside.len() == 1 && !self.token(self.at).told {
                let range = self.range();
                self.report(Problem::new("expression.left_over", range, message));
            }
            self.advance();
            inside.push(self.expression());
        }
        self.not_here();
        self.close();
        match (inside.len(), inside.pop()) {
            (1, Some(inner)) => inner,
            (_, last) => {
                let start = inside.first().map_or(self.end(), |first| first.range.start);
                self.broken(start, inside.into_iter().chain(last).collect())
            }
        }
    }

    /// `where` and `over` outside `count` and `sum`: said, and read over to the closing bracket.
    fn not_here(&mut self) {
        let mut first = true;
        while matches!(self.tok(), Tok::Key(Keyword::Where | Keyword::Over)) {
            let problem = self.left_over();
            if std::mem::take(&mut first) {
                self.report(problem);
            }
            self.advance();
            self.expression();
        }
    }

    /// Whether the present token can stand behind a finished comparison.
    fn can_follow(&self) -> bool {
        match self.tok() {
            Tok::End | Tok::Close | Tok::Comma | Tok::Key(Keyword::And | Keyword::Or) => true,
            Tok::Key(Keyword::Where | Keyword::Over) => !self.open.is_empty(),
            _ => false,
        }
    }

    /// Reports what can't stand behind a finished comparison, and steps over it.
    fn stray(&mut self, start: usize, node: Syntax) -> Syntax {
        if self.can_follow() {
            return node;
        }
        if !self.token(self.at).told && *self.tok() != Tok::Reported {
            let problem = self.left_over();
            self.report(problem);
        }
        let mut depth = 0_usize;
        while depth > 0 || !self.can_follow() {
            match self.tok() {
                Tok::End => break,
                Tok::Open => depth += 1,
                Tok::Close => depth = depth.saturating_sub(1),
                _ => {}
            }
            self.advance();
        }
        self.broken(start, vec![node])
    }

    /// What is to be said about a token that can't follow.
    fn left_over(&self) -> Problem {
        let here = self.range();
        let word = self.slice(here.clone());
        let (message, help) = match self.tok() {
            Tok::Key(key @ (Keyword::Where | Keyword::Over)) => (
                format!(
                    "`{}` stands only inside `count(…)` and `sum(…)`",
                    key.word()
                ),
                "as in `count(runners where marked)` and `sum(mass over correctors)`",
            ),
            Tok::Word if word == "between" => (
                "`between` is not an operator".to_owned(),
                "write both comparisons: `a <= x and x <= b`",
            ),
            Tok::Word if matches!(word, "if" | "then" | "else" | "when" | "unless") => (
                format!("`{word}` is not a word of the language"),
                "an expression has no branches; rules have `when` and `instead`",
            ),
            _ => (
                format!("{} follows without an operator", quoted(word)),
                "conditions are joined with `and` or `or`, values with `+`, `-`, `*` or `/`",
            ),
        };
        Problem::new("expression.left_over", here, message).help(help)
    }

    /// The text of a piece that was read.
    pub(super) fn text_of(&self, node: &Syntax) -> String {
        self.slice(node.range.clone()).trim().to_owned()
    }
}

/// What stands behind the left side of a comparison.
pub(super) enum Link {
    Compare(Comparison, Syntax),
    Is {
        right: Syntax,
        negated: bool,
        told: bool,
    },
    OneOf {
        words: Vec<Word>,
        negated: bool,
    },
    Broken(Vec<Syntax>),
}

impl Link {
    fn inside(self) -> Vec<Syntax> {
        match self {
            Link::Compare(_, right) | Link::Is { right, .. } => vec![right],
            Link::OneOf { .. } => Vec::new(),
            Link::Broken(inside) => inside,
        }
    }
}
