//! The questions of a comparison one by one, for whoever measures how long each takes. There is no clock in here.

use super::book::Book;
use super::common::{Common, Side};
use super::legal::ClauseOf;
use super::question::{Verdict, ask_counting};
use super::requirement::{Proved, name, place, starts};
use super::search::Found;
use super::solve::Work;
use super::start::Start;
use crate::rules::RulesFile;

/// Every clause of either version, asked of the boats that are legal under the other one.
pub struct Questions<'r> {
    book: Book<'r>,
    /// The boats that searches begin from, by side under which they are legal.
    starts: [Result<Start, Found>; 2],
    all: Vec<(Side, usize)>,
}

impl<'r> Questions<'r> {
    /// Prepares the questions about two versions: their statements, and legal boats to begin from.
    pub fn of(old: &'r RulesFile, new: &'r RulesFile) -> Questions<'r> {
        let book = Book::of(Common::of(old, new));
        let starts = starts(&book);
        let all = Side::BOTH.iter().flat_map(|legal| {
            let clauses = 0..book.version(legal.other()).clauses().len();
            clauses.map(move |clause| (*legal, clause))
        });
        let all = all.collect();
        Questions { book, starts, all }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// Under which version the boats of a question are legal, and where its clause comes from in the other one;
    /// `None` behind the last.
    pub fn about(&self, question: usize) -> Option<(Side, ClauseOf)> {
        let (legal, clause) = self.all.get(question)?;
        let clauses = self.book.version(legal.other()).clauses();
        Some((*legal, clauses.get(*clause)?.of))
    }

    /// The answer to a question; nothing is remembered from one to the next. `None` behind the last.
    pub fn answer(&self, question: usize) -> Option<Proved> {
        Some(self.answer_with_work(question)?.0)
    }

    /// The same, with what it has cost.
    pub fn answer_with_work(&self, question: usize) -> Option<(Proved, Work)> {
        let (legal, clause) = *self.all.get(question)?;
        let mut work = Work::default();
        let proved = match self.starts.get(place(legal))? {
            Ok(start) => match ask_counting(&self.book, start, legal, clause, &mut work) {
                Verdict::None => Proved::None,
                Verdict::Boat(_) => Proved::Some(vec![name(&self.book, legal.other(), clause)]),
                Verdict::Unknown(words) => Proved::Unknown(vec![words]),
            },
            Err(Found::None(_) | Found::Boat(_)) => Proved::None,
            Err(Found::Unknown(words)) => Proved::Unknown(vec![words.clone()]),
        };
        Some((proved, work))
    }
}
