//! The grammar of the rules language, from `or` down to names and numbers.

use std::ops::Range;

use crate::quantity::{DateSpan, Unit};
use crate::text::quoted;

use super::lexer::Tok;
use super::parser::Parser;
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Arithmetic, Comparison};
use super::words::Keyword;

impl Parser<'_> {
    pub(super) fn whole(&mut self) -> Syntax {
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
        if !self.token_here().told {
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
        let next = self.token(self.here() + 1);
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
            let operator = self.here();
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
        self.stray(start, node, problems)
    }

    /// `a <= x <= b`: one comparison for each sign, joined with `and`.
    fn chain(&mut self, start: usize, ends: &[Range<usize>], signs: &[Range<usize>]) {
        if signs.iter().any(|sign| self.slice(sign.clone()) == "is") {
            let range = start..self.end();
            let problem = Problem::new("expression.chain", range, "two comparisons stand in one");
            self.report(problem.help("join them with `and`"));
            return;
        }
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
            let operator = self.here();
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
                self.bracketed("one value stands between brackets", inner)
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

    fn name_or_call(&mut self) -> Syntax {
        let start = self.range().start;
        let first = self.word();
        if is_branch(&first.text) && matches!(self.tok_behind(1), Tok::Word | Tok::Key(_)) {
            let problem = self.left_over();
            self.report(problem);
            // What was meant can't be told from here on.
            self.skip_to_close();
            return self.broken(start, Vec::new());
        }
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
                Tok::Key(key) if !self.token_here().blank_before => {
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
        if self.close() {
            self.node(start, Kind::Call { name, arguments })
        } else {
            self.broken(start, arguments)
        }
    }

    /// Reads to the closing bracket of a pair that holds one value.
    fn bracketed(&mut self, message: &str, inner: Syntax) -> Syntax {
        let mut inside = vec![inner];
        while *self.tok() == Tok::Comma {
            if inside.len() == 1 && !self.token_here().told {
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
            Tok::Key(Keyword::Where | Keyword::Over) => !self.is_outside(),
            _ => false,
        }
    }

    /// Reports what can't stand behind a finished comparison, and steps over it. Where the comparison
    /// itself has a problem, what stands behind it is most likely a part of that.
    fn stray(&mut self, start: usize, node: Syntax, problems: usize) -> Syntax {
        if self.can_follow() {
            return node;
        }
        let mut inside = vec![node];
        let quiet = self.problems.len() > problems
            || self.token_here().told
            || inside.last().is_some_and(ends_broken);
        if !quiet && self.slice(self.range()) == "between" {
            self.between(&mut inside);
        } else if !quiet {
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
        self.broken(start, inside)
    }

    /// `x between a and b`.
    fn between(&mut self, inside: &mut Vec<Syntax>) {
        let range = self.range();
        self.advance();
        let problems = self.problems.len();
        inside.push(self.sum());
        if self.eat_key(Keyword::And) {
            inside.push(self.sum());
        }
        let texts: Vec<String> = inside.iter().map(|piece| self.text_of(piece)).collect();
        let help = match texts.as_slice() {
            [value, low, high] => format!("write `{low} <= {value} and {value} <= {high}`"),
            _ => "write both comparisons: `a <= x and x <= b`".to_owned(),
        };
        self.problems.truncate(problems);
        self.report(
            Problem::new(
                "expression.left_over",
                range,
                "`between` is not an operator",
            )
            .help(help),
        );
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
            Tok::Word if is_branch(word) => (
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
}

/// A word with which other languages branch.
fn is_branch(word: &str) -> bool {
    matches!(word, "if" | "then" | "else" | "when" | "unless")
}

/// Whether the last piece of a tree is broken, so that what follows may belong to it.
fn ends_broken(tree: &Syntax) -> bool {
    match &tree.kind {
        Kind::Broken(_) => true,
        Kind::Negate(last)
        | Kind::Not(last)
        | Kind::Arithmetic(_, _, last)
        | Kind::Compare(_, _, last)
        | Kind::Is { right: last, .. } => ends_broken(last),
        Kind::And(operands) | Kind::Or(operands) => operands.last().is_some_and(ends_broken),
        Kind::Literal { .. }
        | Kind::Date(_)
        | Kind::YesNo(_)
        | Kind::Name(_)
        | Kind::Call { .. }
        | Kind::IsOneOf { .. }
        | Kind::Count { .. }
        | Kind::Sum { .. } => false,
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
