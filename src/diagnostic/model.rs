//! The shape of a message.

use std::fmt;
use std::sync::Arc;

use crate::text::{LineColumn, Source, Span, TextProblem};

/// How much a message weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The input can't be used as it is.
    Fault,
    /// The input can be used; something about it should be known.
    Notice,
}

impl Severity {
    /// The word in JSON and at the start of a narrated message.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Fault => "fault",
            Severity::Notice => "notice",
        }
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A place in a source with the words that belong to it.
#[derive(Clone, Debug)]
pub struct Label {
    /// The text the place is in.
    pub source: Arc<Source>,
    /// The bytes to underline.
    pub span: Span,
    /// What is to be said about this place; may be empty.
    pub words: String,
}

/// A place as people name it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Name of the source.
    pub file: String,
    /// First character.
    pub start: LineColumn,
    /// Just behind the last character.
    pub end: LineColumn,
}

impl fmt::Display for Place {
    /// `nightjar.yaml:14:24`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file, self.start)
    }
}

impl Label {
    /// A label.
    pub fn new(source: &Arc<Source>, span: Span, words: impl Into<String>) -> Label {
        Label {
            source: Arc::clone(source),
            span,
            words: words.into(),
        }
    }

    /// File, line and column of its start and end.
    pub fn place(&self) -> Place {
        Place {
            file: self.source.name().to_string(),
            start: self.source.line_column(self.span.start),
            end: self.source.line_column(self.span.end),
        }
    }
}

/// One message about an input.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    /// Stable code, `room.thing`, for example `quantity.unit`.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// What was read and what is wrong there. No full stop at the end.
    pub message: String,
    /// Places; the first is the primary one. Labels may stand in different sources.
    pub labels: Vec<Label>,
    /// What would be accepted, or what to do next.
    pub help: Option<String>,
    /// The printed number of the clause it rests on.
    pub clause: Option<String>,
}

impl Diagnostic {
    /// A fault without places and help.
    pub fn fault(code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic {
            code,
            severity: Severity::Fault,
            message: message.into(),
            labels: Vec::new(),
            help: None,
            clause: None,
        }
    }

    /// A notice without places and help.
    pub fn notice(code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic {
            severity: Severity::Notice,
            ..Diagnostic::fault(code, message)
        }
    }

    /// Adds a place; the first one added is the primary place.
    #[must_use]
    pub fn label(
        mut self,
        source: &Arc<Source>,
        span: Span,
        words: impl Into<String>,
    ) -> Diagnostic {
        self.labels.push(Label::new(source, span, words));
        self
    }

    /// Adds what would be accepted.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Diagnostic {
        self.help = Some(help.into());
        self
    }

    /// Adds the clause it rests on.
    #[must_use]
    pub fn clause(mut self, clause: impl Into<String>) -> Diagnostic {
        self.clause = Some(clause.into());
        self
    }

    /// A problem of a text that was read, with its places in that text.
    pub fn from_problem(problem: TextProblem, source: &Arc<Source>) -> Diagnostic {
        let labels = problem
            .labels
            .into_iter()
            .map(|(span, words)| Label::new(source, span, words))
            .collect();
        Diagnostic {
            labels,
            help: problem.help,
            ..Diagnostic::fault(problem.code, problem.message)
        }
    }

    /// All problems of a text that was read.
    pub fn from_problems(problems: Vec<TextProblem>, source: &Arc<Source>) -> Vec<Diagnostic> {
        let convert = |problem| Diagnostic::from_problem(problem, source);
        problems.into_iter().map(convert).collect()
    }

    /// A problem of a file that could not be decoded: it is named, without its text.
    pub fn undecoded(problem: TextProblem, name: &str) -> Diagnostic {
        let source = Source::new(name, "");
        let mut diagnostic = Diagnostic::from_problem(problem, &source);
        diagnostic.labels = vec![Label::new(&source, Span::default(), "")];
        diagnostic
    }

    /// The primary place.
    pub fn primary(&self) -> Option<&Label> {
        self.labels.first()
    }
}
