//! The requirement part of a comparison: every clause of either version asked of the boats that are legal under the other.

use super::book::Book;
use super::common::{Common, Side};
use super::legal::ClauseOf;
use super::progress::Progress;
use super::question::{Shown, Verdict, ask};
use super::search::{Found, Under};
use super::start::{Start, start};
use crate::rules::RulesFile;

/// What is known of one direction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Proved {
    /// No such boat, and that is proved.
    None,
    /// There is one; it breaks these clauses, by rule id.
    Some(Vec<String>),
    /// Nothing is known, for these reasons.
    Unknown(Vec<String>),
}

/// Both directions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Requirement {
    /// Legal under the old version and not under the new one.
    pub becomes_illegal: Proved,
    /// Legal under the new version and not under the old one.
    pub becomes_legal: Proved,
}

/// The answer to one question.
pub(super) struct Answered {
    /// Under which version the boats are legal.
    pub legal: Side,
    /// The clause of the other version, by its place.
    pub clause: usize,
    pub verdict: Verdict,
}

/// All questions of a comparison with their answers, and the boats that they begin from.
pub(super) struct Answers {
    pub answered: Vec<Answered>,
    /// By side under which boats are legal; nothing where there is no legal boat, or none was found.
    pub starts: [Option<Start>; 2],
    /// Why it is not known whether there is a legal boat, by side.
    pub lost: Vec<(Side, String)>,
}

impl Answers {
    pub fn start(&self, side: Side) -> Option<&Start> {
        self.starts.get(place(side)).and_then(Option::as_ref)
    }

    /// The boat that is legal under both versions.
    pub fn for_both(&self) -> Option<&Start> {
        self.starts
            .iter()
            .flatten()
            .find(|start| start.is_for_both())
    }
}

/// The place of a side in lists of two.
pub(super) fn place(side: Side) -> usize {
    match side {
        Side::Old => 0,
        Side::New => 1,
    }
}

/// The boats that searches begin from, by side under which they are legal: one for both where there is one.
pub(super) fn starts(book: &Book<'_>) -> [Result<Start, Found>; 2] {
    let both = Under {
        old: true,
        new: true,
    };
    match start(book, both) {
        Ok(both) => [Ok(both.clone()), Ok(both)],
        Err(_) => Side::BOTH.map(|legal| start(book, Under::only(legal))),
    }
}

/// Asks everything; `told` hears how far it is.
pub(super) fn answers(book: &Book<'_>, told: &mut dyn FnMut(Progress)) -> Answers {
    let number = |legal: Side| book.version(legal.other()).clauses().len();
    let mut done = 0;
    let count = Side::BOTH.into_iter().map(number).sum();
    let mut all = Answers {
        answered: Vec::new(),
        starts: [None, None],
        lost: Vec::new(),
    };
    for (legal, own) in Side::BOTH.into_iter().zip(starts(book)) {
        match own {
            Ok(start) => {
                for clause in 0..book.version(legal.other()).clauses().len() {
                    let verdict = ask(book, &start, legal, clause);
                    all.answered.push(Answered {
                        legal,
                        clause,
                        verdict,
                    });
                    done += 1;
                    told(Progress::Asked { done, all: count });
                }
                if let Some(place) = all.starts.get_mut(place(legal)) {
                    *place = Some(start);
                }
            }
            Err(Found::Unknown(words)) => all.lost.push((legal, words)),
            // No legal boat, no legal boat that becomes illegal.
            Err(Found::None(_) | Found::Boat(_)) => {}
        }
    }
    all
}

/// What a search for the first boat gave: what was told of it, a boat that is legal under both versions, and what is
/// not known.
type First<T> = (Option<T>, Option<Start>, Vec<String>);

/// Asks until a boat is told.
pub(super) fn first<T>(
    book: &Book<'_>,
    mut tell: impl FnMut(Side, &Shown) -> Option<T>,
) -> First<T> {
    let starts = starts(book);
    let both = starts.iter().flatten().find(|start| start.is_for_both());
    let both = both.cloned();
    let mut unknown = Vec::new();
    for (legal, own) in Side::BOTH.into_iter().zip(starts) {
        match own {
            Ok(start) => {
                for clause in 0..book.version(legal.other()).clauses().len() {
                    match ask(book, &start, legal, clause) {
                        Verdict::None => {}
                        Verdict::Unknown(why) => unknown.push(why),
                        Verdict::Boat(shown) => {
                            if let Some(told) = tell(legal, &shown) {
                                return (Some(told), both, unknown);
                            }
                        }
                    }
                }
            }
            Err(Found::Unknown(why)) => unknown.push(why),
            Err(Found::None(_) | Found::Boat(_)) => {}
        }
    }
    (None, both, unknown)
}

/// What a change does to what is required, proved; boats are found and not replayed.
pub fn requirement(old: &RulesFile, new: &RulesFile) -> Requirement {
    let book = Book::of(Common::of(old, new));
    let answers = answers(&book, &mut |_| {});
    let direction = |legal: Side| {
        let own = answers.answered.iter().filter(|one| one.legal == legal);
        let mut some = Vec::new();
        let mut unknown: Vec<String> = Vec::new();
        for one in own {
            let name = name(&book, legal.other(), one.clause);
            match &one.verdict {
                Verdict::None => {}
                Verdict::Boat(_) => some.push(name),
                Verdict::Unknown(words) => unknown.push(format!("{name}: {words}")),
            }
        }
        let lost = answers.lost.iter().filter(|(side, _)| *side == legal);
        unknown.extend(lost.map(|(_, words)| words.clone()));
        match (some.is_empty(), unknown.is_empty()) {
            (false, _) => Proved::Some(some),
            (true, false) => Proved::Unknown(unknown),
            (true, true) => Proved::None,
        }
    };
    Requirement {
        becomes_illegal: direction(Side::Old),
        becomes_legal: direction(Side::New),
    }
}

/// The id of the rule that a clause comes from.
pub(super) fn name(book: &Book<'_>, side: Side, clause: usize) -> String {
    let rules = book.common.rules(side);
    let of = book
        .version(side)
        .clauses()
        .get(clause)
        .map(|clause| clause.of);
    match of {
        Some(ClauseOf::Rule(at)) => rules
            .rules
            .get(at)
            .map_or(String::new(), |rule| rule.id.text.clone()),
        Some(ClauseOf::Marks(at)) => rules
            .marks
            .get(at)
            .map_or(String::new(), |mark| mark.id.text.clone()),
        Some(ClauseOf::Equipment(_)) => "equipment".to_owned(),
        Some(ClauseOf::Silence(..) | ClauseOf::Unlisted) => "silence".to_owned(),
        None => String::new(),
    }
}
