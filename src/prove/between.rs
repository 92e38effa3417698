//! Lint between rules: rules under which no boat is legal, or none of a kind; rules that others imply; exemptions that
//! exempt nobody.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::book::Book;
use super::common::{Common, CommonKind, PartIx, Side};
use super::formula::Formula;
use super::legal::ClauseOf;
use super::question::{begin, candidates};
use super::requirement::name;
use super::search::{Found, Search, Under};
use super::solve::Literal;
use super::start::{Start, start};
use super::state::{At, Cell};
use super::term::{Sort, What};
use crate::rules::RulesFile;
use crate::text::Span;

/// Something between rules that the rules can't have meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Between {
    /// No boat is legal: these rules contradict each other.
    NoLegalBoat {
        /// Rules with their places, none of which can be spared.
        rules: Vec<(String, Span)>,
    },
    /// No boat is legal that has an item of a declared choice.
    NoneOfAKind {
        /// The part.
        part: String,
        /// The trait.
        of: String,
        /// The choice.
        choice: String,
        /// Where the choice is declared.
        span: Span,
        /// Rules with their places, none of which can be spared.
        rules: Vec<(String, Span)>,
    },
    /// A rule asks nothing that others do not ask.
    Implied {
        /// The rule.
        rule: (String, Span),
        /// Those that ask it.
        by: Vec<(String, Span)>,
    },
    /// An exemption that changes nothing for anybody.
    ExemptsNobody {
        /// The rule.
        rule: (String, Span),
        /// Where the exemption stands.
        exemption: Span,
        /// Rules that leave nobody whom it could exempt; empty where its own limits do.
        by: Vec<(String, Span)>,
    },
    /// It could not be found out.
    Unknown {
        /// What could not, in words.
        what: String,
        /// Why.
        why: String,
    },
}

/// What is between the rules of a version.
pub fn between(rules: &Arc<RulesFile>) -> Vec<Between> {
    let book = Book::of(Common::of(rules, rules));
    let mut found = Vec::new();
    let start = match start(&book, Under::only(Side::Old)) {
        Ok(start) => start,
        Err(Found::None(_)) => {
            found.push(Between::NoLegalBoat {
                rules: contradiction(&book),
            });
            return found;
        }
        Err(Found::Unknown(why)) => {
            let what = "whether any boat is legal".to_owned();
            return vec![Between::Unknown { what, why }];
        }
        Err(Found::Boat(_)) => return found,
    };
    let looking = Looking {
        book: &book,
        start: &start,
    };
    looking.kinds(&mut found);
    looking.implied(&mut found);
    looking.exemptions(&mut found);
    found
}

struct Looking<'b, 'r> {
    book: &'b Book<'r>,
    start: &'b Start,
}

/// Rules that contradict each other, none of which can be spared.
fn contradiction(book: &Book<'_>) -> Vec<(String, Span)> {
    let guess = super::start::guess(book);
    let mut search = Search::new(book, &guess, Under::only(Side::Old), true);
    search.guards = Some(BTreeMap::new());
    match search.find(&[]) {
        Found::None(core) => spared(&mut search, &[], core),
        Found::Boat(_) | Found::Unknown(_) => Vec::new(),
    }
}

/// The rules of a contradiction without those that can be spared.
fn spared(
    search: &mut Search<'_, '_>,
    assumed: &[Literal],
    core: Vec<Literal>,
) -> Vec<(String, Span)> {
    let guards = search.guards.take().unwrap_or_default();
    let mut needed: Vec<((u8, usize), Literal)> = guards
        .into_iter()
        .filter(|(_, literal)| core.contains(literal))
        .collect();
    let mut at = 0;
    while at < needed.len() {
        let without: Vec<Literal> = needed
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != at)
            .map(|(_, (_, literal))| *literal)
            .collect();
        let all: Vec<Literal> = assumed.iter().copied().chain(without).collect();
        match search.solver.solve(&all) {
            super::solve::Answer::Unsatisfiable(_) => {
                needed.remove(at);
            }
            super::solve::Answer::Satisfiable | super::solve::Answer::GaveUp => at += 1,
        }
    }
    let mut rules: Vec<(String, Span)> = needed
        .into_iter()
        .map(|((_, clause), _)| place(search.book, search.book.old.clause_of(clause)))
        .collect();
    rules.sort_by_key(|(_, span)| span.start);
    rules.dedup();
    rules
}

/// The id of the rule of a clause, with its place in the file.
fn place(book: &Book<'_>, clause: usize) -> (String, Span) {
    let rules = book.common.old;
    let span = match book.old.clauses().get(clause).map(|clause| clause.of) {
        Some(ClauseOf::Rule(at)) => rules.rules.get(at).map(|rule| rule.id.span),
        Some(ClauseOf::Marks(at)) => rules.marks.get(at).map(|mark| mark.id.span),
        Some(ClauseOf::Equipment(holding)) => {
            let id = book.common.holding(holding).and_then(|one| one.at.old);
            id.and_then(|id| rules.vocabulary.holding(id))
                .map(|one| one.at_least_span)
        }
        Some(ClauseOf::Silence(part, slot)) => {
            let part = book.common.part(part);
            let own = part
                .and_then(|part| part.at.old)
                .and_then(|id| rules.vocabulary.part(id));
            let slot = part
                .and_then(|part| part.traits.get(slot.index()))
                .and_then(|one| one.at.old);
            own.zip(slot)
                .and_then(|(own, slot)| own.traits.get(slot.index()))
                .map(|one| one.name.span)
        }
        Some(ClauseOf::Unlisted) | None => None,
    };
    (
        name(book, Side::Old, clause),
        span.unwrap_or(rules.class.span),
    )
}

impl Looking<'_, '_> {
    fn unknown(&self, found: &mut Vec<Between>, what: String, why: String) {
        found.push(Between::Unknown { what, why });
    }

    /// Declared choices of which no item is legal.
    fn kinds(&self, found: &mut Vec<Between>) {
        let book = self.book;
        for (id, term) in book.terms.all() {
            let (What::Trait(slot), Sort::Choice(all)) = (&term.what, &term.sort) else {
                continue;
            };
            let Some(part) = book.common.part(term.part) else {
                continue;
            };
            let Some(one) = part.traits.get(slot.index()) else {
                continue;
            };
            let CommonKind::Choice(choices) = &one.kind else {
                continue;
            };
            for choice in 0..all.saturating_sub(1) {
                let Some(declared) = choices.get(usize::from(choice)) else {
                    continue;
                };
                let mut reasons = None;
                let mut open = None;
                let mut legal = false;
                for item in candidates(&self.start.state, term.part) {
                    let mut search =
                        Search::new(book, &self.start.state, Under::only(Side::Old), false);
                    search.guards = Some(BTreeMap::new());
                    search.has(item);
                    let at = At {
                        item,
                        place: 0,
                        term: id,
                    };
                    let same = search.same(at, &Cell::Choice(choice));
                    match search.find(&same) {
                        Found::Boat(_) => {
                            legal = true;
                            break;
                        }
                        Found::None(core) => reasons = Some(spared(&mut search, &same, core)),
                        Found::Unknown(why) => open = Some(why),
                    }
                }
                let of = format!("{} {}", part.name, declared.name);
                match (legal, open, reasons) {
                    (true, _, _) => {}
                    (false, Some(why), _) => {
                        self.unknown(found, format!("whether any {of} is legal"), why)
                    }
                    // A rule that speaks of the choice itself means to forbid it.
                    (false, None, Some(rules)) if self.means_to(&rules, id) => {}
                    (false, None, Some(rules)) => found.push(Between::NoneOfAKind {
                        part: part.name.clone(),
                        of: one.name.clone(),
                        choice: declared.name.clone(),
                        span: self.choice_span(term.part, slot.index(), usize::from(choice)),
                        rules,
                    }),
                    (false, None, None) => {}
                }
            }
        }
    }

    /// Whether one rule forbids a choice by speaking of nothing else.
    fn means_to(&self, rules: &[(String, Span)], of: super::term::TermId) -> bool {
        let [(_, span)] = rules else { return false };
        let book = self.book;
        let mut clauses =
            (0..book.old.clauses().len()).filter(|clause| place(book, *clause).1 == *span);
        let clause = clauses.next().and_then(|at| book.old.clauses().get(at));
        clause
            .is_some_and(|clause| matches!(&clause.main, Formula::Among(var, _) if var.term == of))
    }

    fn choice_span(&self, part: PartIx, slot: usize, choice: usize) -> Span {
        let rules = self.book.common.old;
        let common = self.book.common.part(part);
        let own = common
            .and_then(|part| part.at.old)
            .and_then(|id| rules.vocabulary.part(id));
        let one = common.and_then(|part| part.traits.get(slot));
        let names = own
            .zip(one.and_then(|one| one.at.old))
            .and_then(|(own, id)| own.traits.get(id.index()));
        let id = one
            .and_then(|one| one.kind.choices().get(choice))
            .and_then(|choice| choice.at.old);
        let name = names
            .zip(id)
            .and_then(|(names, id)| names.kind.names().get(id.index()));
        name.map_or(rules.class.span, |name| name.span)
    }

    /// Clauses that the others imply.
    fn implied(&self, found: &mut Vec<Between>) {
        let book = self.book;
        for clause in 0..book.old.clauses().len() {
            let Some(of) = book.old.clauses().get(clause).map(|clause| clause.of) else {
                continue;
            };
            if !matches!(of, ClauseOf::Rule(_) | ClauseOf::Marks(_)) {
                continue;
            }
            let Some(fact) = book.old.facts.get(clause) else {
                continue;
            };
            let opposite = fact.holds.negated(&book.terms);
            match self.broken(clause, &opposite, fact) {
                Some(Ok(by)) => found.push(Between::Implied {
                    rule: place(book, clause),
                    by,
                }),
                Some(Err(why)) => {
                    let (rule, _) = place(book, clause);
                    self.unknown(found, format!("whether other rules imply {rule}"), why);
                }
                None => {}
            }
        }
    }

    /// Whether a statement can't hold of any item while all other clauses hold; by which of them. `None`: it can.
    fn broken(
        &self,
        clause: usize,
        wanted: &Formula,
        fact: &super::book::Fact,
    ) -> Option<Result<Vec<(String, Span)>, String>> {
        let book = self.book;
        let mut reasons = Vec::new();
        let mut open = None;
        for item in candidates(&self.start.state, fact.on) {
            let mut search = Search::new(book, &self.start.state, Under::only(Side::Old), false);
            search.without.push((Side::Old, clause));
            search.guards = Some(BTreeMap::new());
            begin(&mut search, wanted, fact, item);
            match search.find(&[]) {
                Found::Boat(_) => return None,
                Found::None(core) => reasons = spared(&mut search, &[], core),
                Found::Unknown(why) => open = Some(why),
            }
        }
        Some(open.map_or(Ok(reasons), Err))
    }

    /// Exemptions that change nothing for anybody.
    fn exemptions(&self, found: &mut Vec<Between>) {
        let book = self.book;
        for (number, clause) in book.old.clauses().iter().enumerate() {
            let ClauseOf::Rule(at) = clause.of else {
                continue;
            };
            let Some(fact) = book.old.facts.get(number) else {
                continue;
            };
            for (row, exemption) in clause.exemptions.iter().enumerate() {
                // Somebody is exempt who meets what is asked instead, and not the main limits.
                let wanted = Formula::all([
                    clause.asked.clone(),
                    exemption.applies.clone(),
                    exemption.instead.clone(),
                    clause.main.negated(&book.terms),
                ]);
                let answer = if wanted == Formula::False {
                    Some(Ok(Vec::new()))
                } else {
                    self.broken(number, &wanted, fact)
                };
                let span = book
                    .common
                    .old
                    .rules
                    .get(at)
                    .and_then(|rule| rule.instead.get(row))
                    .map(|row| row.row.span);
                match answer {
                    Some(Ok(by)) => found.push(Between::ExemptsNobody {
                        rule: place(book, number),
                        exemption: span.unwrap_or_default(),
                        by,
                    }),
                    Some(Err(why)) => {
                        let (rule, _) = place(book, number);
                        self.unknown(
                            found,
                            format!("whether an exemption of {rule} exempts anybody"),
                            why,
                        );
                    }
                    None => {}
                }
            }
        }
    }
}
