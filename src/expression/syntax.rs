//! The tree as it was written: names are still words, nothing is known about types.

use std::ops::Range;

use crate::quantity::{DateSpan, Quantity};

use super::tree::{Arithmetic, Comparison};

/// A piece of an expression.
#[derive(Debug)]
pub(super) struct Syntax {
    /// Its bytes, brackets around it not included.
    pub range: Range<usize>,
    pub kind: Kind,
    /// Levels of the tree below and with it.
    pub height: u32,
}

/// A word with its bytes.
#[derive(Clone, Debug)]
pub(super) struct Word {
    pub text: String,
    pub range: Range<usize>,
}

#[derive(Debug)]
pub(super) enum Kind {
    /// Something that was reported. What could be read of it is still looked at for names.
    Broken(Vec<Syntax>),
    /// A quantity or number; `year` if it is four digits that could be a year.
    Literal {
        quantity: Quantity,
        year: Option<DateSpan>,
    },
    Date(DateSpan),
    YesNo(bool),
    /// One word, or several joined by points.
    Name(Vec<Word>),
    Call {
        name: Word,
        arguments: Vec<Syntax>,
    },
    Negate(Box<Syntax>),
    Arithmetic(Arithmetic, Box<Syntax>, Box<Syntax>),
    Compare(Comparison, Box<Syntax>, Box<Syntax>),
    /// `told`: written with a sign of another language, so that nothing is said about `is` again.
    Is {
        left: Box<Syntax>,
        right: Box<Syntax>,
        negated: bool,
        told: bool,
    },
    IsOneOf {
        left: Box<Syntax>,
        words: Vec<Word>,
        negated: bool,
    },
    Not(Box<Syntax>),
    And(Vec<Syntax>),
    Or(Vec<Syntax>),
    Count {
        parts: Word,
        condition: Option<Box<Syntax>>,
    },
    Sum {
        value: Box<Syntax>,
        parts: Word,
        condition: Option<Box<Syntax>>,
    },
}

impl Kind {
    /// The pieces directly inside.
    pub fn children(&self) -> Vec<&Syntax> {
        match self {
            Kind::Literal { .. } | Kind::Date(_) | Kind::YesNo(_) | Kind::Name(_) => Vec::new(),
            Kind::Broken(children)
            | Kind::Call {
                arguments: children,
                ..
            }
            | Kind::And(children)
            | Kind::Or(children) => children.iter().collect(),
            Kind::Negate(child) | Kind::Not(child) | Kind::IsOneOf { left: child, .. } => {
                vec![child]
            }
            Kind::Arithmetic(_, left, right)
            | Kind::Compare(_, left, right)
            | Kind::Is { left, right, .. } => vec![left, right],
            Kind::Count { condition, .. } => condition.iter().map(Box::as_ref).collect(),
            Kind::Sum {
                value, condition, ..
            } => std::iter::once(value)
                .chain(condition)
                .map(Box::as_ref)
                .collect(),
        }
    }
}

impl Syntax {
    pub fn new(range: Range<usize>, kind: Kind) -> Syntax {
        let below = kind
            .children()
            .iter()
            .map(|child| child.height)
            .max()
            .unwrap_or(0);
        Syntax {
            range,
            kind,
            height: below.saturating_add(1),
        }
    }

    /// The word, if this is a name of one word.
    pub fn bare_word(&self) -> Option<&Word> {
        match &self.kind {
            Kind::Name(words) => match words.as_slice() {
                [word] => Some(word),
                _ => None,
            },
            _ => None,
        }
    }
}
