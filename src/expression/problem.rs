//! What can be wrong with an expression: code, place, words, the accepted form.

use std::ops::Range;

use crate::text::Span;

/// A problem in an expression.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExpressionProblem {
    /// Stable code: one of [`CODES`], or that of a quantity or date which can't be read.
    pub code: &'static str,
    /// The place in the file.
    pub span: Span,
    /// What was read and what is wrong with it.
    pub message: String,
    /// What would be accepted.
    pub help: Option<String>,
}

/// Every code of this room with what it stands for, in alphabetical order.
pub const CODES: &[(&str, &str)] = &[
    (
        "expression.argument",
        "a function is given something it can't use",
    ),
    (
        "expression.arity",
        "a function is given too few or too many values",
    ),
    (
        "expression.blanks",
        "an operator without a blank on both sides",
    ),
    (
        "expression.bracket",
        "a bracket that is not closed, or closes nothing",
    ),
    (
        "expression.capitals",
        "a word of the language in capital letters",
    ),
    ("expression.chain", "two comparisons in one"),
    (
        "expression.character",
        "a character that has no meaning here",
    ),
    (
        "expression.choice",
        "a word that is not a choice of the trait",
    ),
    (
        "expression.condition",
        "a condition is needed and something else stands there",
    ),
    ("expression.date", "something that can't be done with dates"),
    ("expression.depth", "an expression nested too deeply"),
    (
        "expression.dimension",
        "quantities of unlike kinds are put together",
    ),
    (
        "expression.empty",
        "nothing is written where an expression is needed",
    ),
    ("expression.function", "a function that does not exist"),
    ("expression.is", "`is` between things that it can't compare"),
    ("expression.left_over", "text behind a finished expression"),
    (
        "expression.length",
        "an expression of too many words, numbers and signs",
    ),
    (
        "expression.list",
        "a list behind `is one of` that is not written as a list",
    ),
    ("expression.missing", "a value, name or bracket is missing"),
    ("expression.name", "a name that means nothing here"),
    ("expression.operator", "an operator of another language"),
    (
        "expression.part",
        "a part where its value is needed, or the other way round",
    ),
    (
        "expression.placed",
        "values of several places where one value is needed",
    ),
    (
        "expression.scale",
        "arithmetic on a temperature or a hardness",
    ),
    (
        "expression.size",
        "a value computed from more numbers than are kept exact",
    ),
    ("expression.too_many", "reading stopped after many problems"),
    (
        "expression.value",
        "something that can't be the value of a rule",
    ),
    ("expression.zero", "a division by zero"),
];

/// Problems collected from one expression before the rest is left out.
pub const PROBLEMS: usize = 32;

/// Letters of a message or a help before the rest is left out.
const MESSAGE: usize = 400;

/// A problem with its place in the expression's own text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Problem {
    pub code: &'static str,
    pub range: Range<usize>,
    pub message: String,
    pub help: Option<String>,
}

impl Problem {
    pub fn new(code: &'static str, range: Range<usize>, message: impl Into<String>) -> Problem {
        debug_assert!(
            !code.starts_with("expression.") || CODES.iter().any(|(known, _)| *known == code)
        );
        Problem {
            code,
            range,
            message: message.into(),
            help: None,
        }
    }

    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Problem {
        self.help = Some(help.into());
        self
    }
}

/// A value that is computed from more numbers than are kept exact.
pub(super) fn grown(length: usize, numbers: u64) -> Problem {
    let count = match numbers {
        0..=1_000_000 => numbers.to_string(),
        _ => "more than a million".to_owned(),
    };
    Problem::new(
        "expression.size",
        0..length,
        format!(
            "with its derived values written out this has {count} numbers; at most {} are computed exactly",
            super::NUMBERS
        ),
    )
    .help("use fewer measures, or each derived value fewer times")
}

/// Puts problems in the order of the text and into the file; says so where some are left out.
pub(super) fn placed(
    mut problems: Vec<Problem>,
    length: usize,
    place: &dyn Fn(Range<usize>) -> Span,
) -> Vec<ExpressionProblem> {
    problems.sort_by(|a, b| {
        (a.range.start, a.range.end, a.code).cmp(&(b.range.start, b.range.end, b.code))
    });
    problems.dedup();
    if problems.len() > PROBLEMS {
        let more = problems.len() - PROBLEMS;
        problems.truncate(PROBLEMS);
        problems.push(Problem::new(
            "expression.too_many",
            length..length,
            format!("{more} more problems in this expression are not shown"),
        ));
    }
    problems
        .into_iter()
        .map(|problem| ExpressionProblem {
            code: problem.code,
            span: place(problem.range),
            message: short(problem.message),
            help: problem.help.map(short),
        })
        .collect()
}

/// Cuts a message that repeats a long piece of the text.
fn short(mut message: String) -> String {
    if let Some((end, _)) = message.char_indices().nth(MESSAGE) {
        message.truncate(end);
        message.push('…');
    }
    message
}
