//! What an action came to, as the exit codes of the contract, and trouble that kept it from its end.

use crate::check::Outcome;
use crate::diagnostic::Diagnostic;

/// What an action came to. Over many the worst counts, see [`Exit::worst`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Exit {
    /// Done; all conforms.
    Done,
    /// Something does not conform, a lint found faults, a case has another outcome.
    DoesNotConform,
    /// Input or usage that can't be used, a path that does not exist.
    BadInput,
    /// Something is not decided.
    NotDecided,
    /// A read or write that did not succeed.
    CouldNot,
}

impl Exit {
    /// The exit code.
    pub fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::DoesNotConform => 1,
            Exit::BadInput => 2,
            Exit::NotDecided => 3,
            Exit::CouldNot => 4,
        }
    }

    /// The worse of two: 4, 2, 1, 3, 0.
    #[must_use]
    pub fn worst(self, other: Exit) -> Exit {
        if self.rank() >= other.rank() {
            self
        } else {
            other
        }
    }

    fn rank(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::NotDecided => 1,
            Exit::DoesNotConform => 2,
            Exit::BadInput => 3,
            Exit::CouldNot => 4,
        }
    }

    /// What the outcome of a record comes to.
    pub fn of(outcome: Outcome) -> Exit {
        match outcome {
            Outcome::DoesNotConform => Exit::DoesNotConform,
            Outcome::NotDecided => Exit::NotDecided,
            Outcome::Conforms | Outcome::NotApplicable => Exit::Done,
        }
    }
}

/// What kept an action from its end.
#[derive(Clone, Debug)]
pub struct Trouble {
    /// [`Exit::BadInput`] or [`Exit::CouldNot`].
    pub exit: Exit,
    /// What is wrong, at least one.
    pub diagnostics: Vec<Diagnostic>,
}

impl Trouble {
    /// Input that can't be used.
    pub fn input(diagnostics: Vec<Diagnostic>) -> Trouble {
        Trouble {
            exit: Exit::BadInput,
            diagnostics,
        }
    }

    /// One thing that can't be used.
    pub fn one(diagnostic: Diagnostic) -> Trouble {
        Trouble::input(vec![diagnostic])
    }
}

impl From<Vec<Diagnostic>> for Trouble {
    fn from(diagnostics: Vec<Diagnostic>) -> Trouble {
        Trouble::input(diagnostics)
    }
}

#[cfg(test)]
mod tests {
    use super::Exit;

    #[test]
    fn over_many_the_worst_counts() {
        let order = [
            Exit::Done,
            Exit::NotDecided,
            Exit::DoesNotConform,
            Exit::BadInput,
            Exit::CouldNot,
        ];
        for (at, one) in order.iter().enumerate() {
            for (other_at, other) in order.iter().enumerate() {
                let expected = if at >= other_at { one } else { other };
                assert_eq!(one.worst(*other), *expected, "{one:?} {other:?}");
            }
        }
        assert_eq!(order.map(Exit::code), [0, 3, 1, 2, 4]);
    }
}
