//! The comparison of two versions: what is required, what is asked as evidence, clause by clause, with boats that were
//! replayed through a check under both.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::book::Book;
use super::common::{Common, CommonKind, Side};
use super::comparison::{Answer, Bump, Change, Comparison, Direction, Effect, Witness};
use super::fragment::fragment;
use super::question::{Shown, Verdict};
use super::requirement::{Answers, answers, name};
use super::shown::{boat, harmless};
use super::state::State;
use super::term::{TermId, What};
use super::witness::{Complete, Replayed, complete, replay};
use super::wording::{claimed_step, wording};
use crate::check::{Outcome, Plan};
use crate::quantity::Date;
use crate::rules::{RulesFile, Stage};
use crate::vocabulary::ChoiceId;

/// No direction lists more boats than this; each clause has its own beside.
const MOST_WITNESSES: usize = 5;

/// Compares two versions of one class.
pub fn compare(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Comparison {
    let book = Book::of(Common::of(old, new));
    let answers = answers(&book);
    let plans = Plans {
        old: Plan::compile(Arc::clone(old)),
        new: Plan::compile(Arc::clone(new)),
    };
    let teller = Teller {
        book: &book,
        answers: &answers,
        plans: &plans,
    };
    let mut clauses: Vec<Told> = Vec::new();
    for one in &answers.answered {
        let answer = match &one.verdict {
            Verdict::None => Answer::ProvedNone,
            Verdict::Unknown(why) => Answer::Undecided(vec![why.clone()]),
            Verdict::Boat(shown) => match teller.witness(one.legal, shown) {
                Ok(witness) => Answer::Witness(vec![witness]),
                Err(why) => Answer::Undecided(vec![format!("a boat was found, but {why}")]),
            },
        };
        let whom = match &one.verdict {
            Verdict::Boat(shown) => teller.whom(shown),
            Verdict::None | Verdict::Unknown(_) => Vec::new(),
        };
        let cost = match &one.verdict {
            Verdict::Boat(shown) => shown.cost,
            Verdict::None | Verdict::Unknown(_) => usize::MAX,
        };
        clauses.push(Told {
            legal: one.legal,
            rule: name(&book, one.legal.other(), one.clause),
            answer,
            whom,
            cost,
        });
    }
    let evidence = super::evidence::Evidence {
        becomes_illegal: Answer::ProvedNone,
        becomes_legal: Answer::ProvedNone,
        differences: Vec::new(),
    };
    let requirement = |legal: Side| requirement_of(&book, &answers, &clauses, legal);
    let becomes_illegal = Direction {
        requirement: requirement(Side::Old),
        evidence: evidence.becomes_illegal.clone(),
    };
    let becomes_legal = Direction {
        requirement: requirement(Side::New),
        evidence: evidence.becomes_legal.clone(),
    };
    let words = wording(old, new);
    let witness = |direction: &Direction| {
        direction.requirement.is_witness() || direction.evidence.is_witness()
    };
    let computed = if witness(&becomes_illegal) {
        Bump::Major
    } else if witness(&becomes_legal) {
        Bump::Minor
    } else {
        Bump::Patch
    };
    let counted = book
        .common
        .holdings
        .iter()
        .zip(&book.reach)
        .filter(|(one, reach)| one.many && **reach > 1);
    let reach =
        counted.map(|(one, reach)| (one.key.clone(), u32::try_from(*reach).unwrap_or(u32::MAX)));
    Comparison {
        old: old.version.clone(),
        new: new.version.clone(),
        changes: changes(&book, &clauses, &evidence.differences),
        required: computed.max(claimed_step(&words)),
        words,
        declared: Bump::between(&old.version, &new.version),
        reach: reach.collect(),
        becomes_illegal,
        becomes_legal,
    }
}

/// Both versions, ready to check records.
pub(super) struct Plans {
    pub old: Plan,
    pub new: Plan,
}

impl Plans {
    pub fn at(&self, side: Side) -> &Plan {
        match side {
            Side::Old => &self.old,
            Side::New => &self.new,
        }
    }
}

/// The answer to a question, as it is told.
struct Told {
    legal: Side,
    rule: String,
    answer: Answer,
    whom: Vec<String>,
    cost: usize,
}

fn requirement_of(book: &Book<'_>, answers: &Answers, clauses: &[Told], legal: Side) -> Answer {
    let mut witnesses: Vec<(usize, &Witness)> = Vec::new();
    let mut reasons: Vec<String> = Vec::new();
    for one in clauses.iter().filter(|one| one.legal == legal) {
        match &one.answer {
            Answer::ProvedNone => {}
            Answer::Witness(list) => {
                witnesses.extend(list.iter().map(|witness| (one.cost, witness)))
            }
            Answer::Undecided(list) => {
                reasons.extend(list.iter().map(|why| format!("{}: {why}", one.rule)))
            }
        }
    }
    let lost = answers.lost.iter().filter(|(side, _)| *side == legal);
    let version = &book.common.rules(legal).version;
    reasons
        .extend(lost.map(|(_, why)| format!("whether any boat is legal under {version}: {why}")));
    witnesses.sort_by_key(|(cost, _)| *cost);
    if !witnesses.is_empty() {
        Answer::Witness(
            witnesses
                .into_iter()
                .take(MOST_WITNESSES)
                .map(|(_, witness)| witness.clone())
                .collect(),
        )
    } else if reasons.is_empty() {
        Answer::ProvedNone
    } else {
        Answer::Undecided(reasons)
    }
}

/// Clause by clause: in the order of the new file, then what only the old one has.
fn changes(
    book: &Book<'_>,
    clauses: &[Told],
    evidence: &[super::evidence::Answered],
) -> Vec<Change> {
    let ids = |rules: &RulesFile| -> Vec<(String, String)> {
        let own = rules.rules.iter().map(|one| {
            (
                one.id.text.clone(),
                format!("{} {}", one.clause.text, one.title),
            )
        });
        let marks = rules.marks.iter().map(|one| {
            (
                one.id.text.clone(),
                format!("{} {}", one.clause.text, one.title),
            )
        });
        own.chain(marks).collect()
    };
    let (was, is) = (ids(book.common.old), ids(book.common.new));
    let known = |list: &[(String, String)], id: &str| list.iter().any(|(one, _)| one == id);
    let gone = was.iter().filter(|(id, _)| !known(&is, id));
    let mut all: Vec<(String, String)> = is.iter().chain(gone).cloned().collect();
    all.push((
        "equipment".to_owned(),
        "Parts that a boat must have".to_owned(),
    ));
    all.push(("silence".to_owned(), "What the rules do not say".to_owned()));
    // What evidence says of no rule is told under a word of its own.
    for one in evidence {
        let id = one
            .difference
            .rule
            .clone()
            .unwrap_or_else(|| one.difference.what());
        if !all.iter().any(|(known, _)| *known == id) {
            all.push((id.clone(), id));
        }
    }
    let mut found = Vec::new();
    for (id, title) in all {
        let of = |legal: Side| clauses.iter().filter(move |one| one.legal == legal);
        let own: Vec<&Told> = Side::BOTH
            .iter()
            .flat_map(|side| of(*side))
            .filter(|one| one.rule == id)
            .collect();
        let shows = evidence.iter().filter(|one| {
            one.difference.rule.as_deref() == Some(id.as_str())
                || (one.difference.rule.is_none() && one.difference.what() == id)
        });
        let shows: Vec<_> = shows.collect();
        let first = |legal: Side| {
            let required = own
                .iter()
                .filter(|one| one.legal == legal)
                .find_map(|one| first_of(&one.answer));
            let proof = shows.iter().find_map(|one| match legal {
                Side::Old => first_of(&one.becomes_illegal),
                Side::New => first_of(&one.becomes_legal),
            });
            (required.cloned(), proof.cloned())
        };
        let (illegal, legal) = (first(Side::Old), first(Side::New));
        let mut open: Vec<String> = own.iter().flat_map(|one| reasons(&one.answer)).collect();
        open.extend(shows.iter().flat_map(|one| {
            reasons(&one.becomes_illegal)
                .into_iter()
                .chain(reasons(&one.becomes_legal))
        }));
        open.sort();
        open.dedup();
        let (in_old, in_new) = (known(&was, &id), known(&is, &id));
        let tightened = illegal.0.is_some() || illegal.1.is_some();
        let relaxed = legal.0.is_some() || legal.1.is_some();
        let effect = match (in_old, in_new, tightened, relaxed) {
            (false, true, ..) => Effect::Added,
            (true, false, ..) => Effect::Removed,
            (_, _, true, true) => Effect::Both,
            (_, _, true, false) => Effect::Tightened,
            (_, _, false, true) => Effect::Relaxed,
            (_, _, false, false) if !open.is_empty() => Effect::Undecided,
            (_, _, false, false) => Effect::Neutral,
        };
        let is_rule = in_old || in_new;
        if !is_rule && effect == Effect::Neutral {
            continue;
        }
        let mut says = Vec::new();
        let new = &book.common.new.version;
        let old = &book.common.old.version;
        if illegal.0.is_some() {
            says.push(format!(
                "proved: boats that are legal under {old} become illegal by it"
            ));
        }
        if let (None, Some(_)) = &illegal {
            says.push(
                "proved: records that conform become open or fail by what is asked as evidence"
                    .to_owned(),
            );
        }
        if legal.0.is_some() {
            says.push(format!("proved: boats that are not legal under {old} are legal under {new}, as far as it goes"));
        }
        if let (None, Some(_)) = &legal {
            says.push("proved: records come out better by what is asked as evidence".to_owned());
        }
        says.extend(open.iter().map(|why| format!("not known: {why}")));
        if says.is_empty() {
            says.push(match effect {
                Effect::Added => {
                    "proved: the other rules ask it already, so that nothing becomes illegal by it"
                        .to_owned()
                }
                Effect::Removed => {
                    "proved: the other rules ask it still, so that nothing becomes legal by it"
                        .to_owned()
                }
                _ => "proved: nothing becomes illegal or legal by it".to_owned(),
            });
        }
        let whom: BTreeSet<String> = own
            .iter()
            .flat_map(|one| one.whom.iter().cloned())
            .collect();
        found.push(Change {
            rule: id,
            title,
            effect,
            was: None,
            is: None,
            for_whom: whom.into_iter().collect(),
            says,
            illegal: illegal.0.or(illegal.1),
            legal: legal.0.or(legal.1),
        });
    }
    found
}

fn first_of(answer: &Answer) -> Option<&Witness> {
    match answer {
        Answer::Witness(list) => list.first(),
        Answer::ProvedNone | Answer::Undecided(_) => None,
    }
}

fn reasons(answer: &Answer) -> Vec<String> {
    match answer {
        Answer::Undecided(list) => list.clone(),
        Answer::ProvedNone | Answer::Witness(_) => Vec::new(),
    }
}

/// Tells boats that proofs found.
struct Teller<'a, 'r> {
    book: &'a Book<'r>,
    answers: &'a Answers,
    plans: &'a Plans,
}

/// The records of a boat under both versions.
pub(super) fn made_whole<'a>(
    book: &'a Book<'_>,
    state: &State,
    sides: &[&[Side]],
) -> Result<Complete<'a>, String> {
    let boat =
        boat(book, state).ok_or_else(|| "it can't be told in the words of records".to_owned())?;
    let mut why = "it can't be written down".to_owned();
    for sides in sides {
        match complete(&boat, &book.common, &book.terms, &|item, place| {
            harmless(book, state, sides, item, place)
        }) {
            Ok(whole) => return Ok(whole),
            Err(reason) => why = reason,
        }
    }
    Err(why)
}

/// The level of a boat in the words of a version.
pub(super) fn level_of(book: &Book<'_>, level: Option<u16>, side: Side) -> Option<ChoiceId> {
    level
        .and_then(|at| book.common.levels.get(usize::from(at)))
        .and_then(|level| level.at.at(side))
}

impl Teller<'_, '_> {
    fn replayed(
        &self,
        text: &str,
        side: Side,
        at: (Stage, Option<u16>, Date),
    ) -> Result<Replayed, String> {
        let level = level_of(self.book, at.1, side);
        replay(text, self.plans.at(side), (at.0, level, at.2)).map_err(|faults| {
            let first = faults
                .first()
                .map_or(String::new(), |one| one.message.clone());
            let version = &self.book.common.rules(side).version;
            format!("its record can't be read under {version}: {first}")
        })
    }

    /// The witness of a boat that is legal under a version and breaks a clause of the other one.
    fn witness(&self, legal: Side, shown: &Shown) -> Result<Witness, String> {
        let book = self.book;
        let whole = made_whole(book, &shown.state, &[&Side::BOTH, &[legal]])?;
        let at = (whole.boat().stage, whole.boat().level, whole.boat().day);
        let (old_record, new_record) = (whole.record(Side::Old)?, whole.record(Side::New)?);
        let old = self.replayed(&old_record, Side::Old, at)?;
        let new = self.replayed(&new_record, Side::New, at)?;
        let (on_legal, on_other) = match legal {
            Side::Old => (&old, &new),
            Side::New => (&new, &old),
        };
        let version = |side: Side| book.common.rules(side).version.to_string();
        if !on_legal.is_legal() {
            return Err(format!(
                "a check does not find it legal under {}: {}",
                version(legal),
                on_legal.against().join(", ")
            ));
        }
        if on_other.is_legal() {
            return Err(format!(
                "a check finds it legal under {} as well",
                version(legal.other())
            ));
        }
        let start = self.answers.start(legal);
        let before =
            start.and_then(|start| made_whole(book, &start.state, &[&Side::BOTH, &[legal]]).ok());
        let shown_side = Side::New;
        let document = whole.document(shown_side)?;
        let part = match before.and_then(|before| before.document(shown_side).ok()) {
            Some(before) => fragment(&before, &document),
            None => document,
        };
        let rules: Vec<String> = on_other.against().into_iter().map(str::to_owned).collect();
        let cases = String::new();
        Ok(Witness {
            fragment: part.yaml(),
            fragment_json: part.json(),
            why: self.why(&rules, legal),
            old_record,
            new_record,
            stage: at.0,
            level: at
                .1
                .and_then(|at| book.common.levels.get(usize::from(at)))
                .map(|level| level.name.clone()),
            day: at.2,
            old_outcome: worst(&old),
            new_outcome: worst(&new),
            rules,
            cases,
        })
    }

    fn why(&self, rules: &[String], legal: Side) -> String {
        let other = legal.other();
        let own = self.book.common.rules(other);
        let told = rules.iter().map(|id| {
            let rule = own.rules.iter().find(|rule| rule.id.text == *id);
            let mark = own.marks.iter().find(|mark| mark.id.text == *id);
            let clause = rule
                .map(|rule| (&rule.clause, &rule.title))
                .or(mark.map(|mark| (&mark.clause, &mark.title)));
            clause.map_or_else(
                || id.clone(),
                |(clause, title)| format!("{} {title}", clause.text),
            )
        });
        let told: Vec<String> = told.collect();
        format!(
            "legal under {}; under {} it is not, by {}",
            self.book.common.rules(legal).version,
            own.version,
            told.join(" and by ")
        )
    }

    /// Whom a clause can hit, where not everybody: `runner: construction insert`.
    fn whom(&self, shown: &Shown) -> Vec<String> {
        shown
            .whom
            .iter()
            .filter_map(|(term, values)| self.group(*term, values))
            .collect()
    }

    fn group(&self, id: TermId, values: &[u16]) -> Option<String> {
        let book = self.book;
        let term = book.terms.get(id)?;
        let listed = |names: Vec<String>| match names.as_slice() {
            [] => String::new(),
            [one] => one.clone(),
            [rest @ .., last] => format!("{} or {last}", rest.join(", ")),
        };
        match &term.what {
            What::Stage => {
                let stages = values
                    .iter()
                    .filter_map(|at| Stage::ALL.get(usize::from(*at)));
                Some(format!(
                    "at {}",
                    listed(stages.map(|stage| stage.words().to_owned()).collect())
                ))
            }
            What::Level => {
                let names =
                    values
                        .iter()
                        .map(|at| match book.common.levels.get(usize::from(*at)) {
                            Some(level) => format!("{} events", level.name),
                            None => "no event".to_owned(),
                        });
                Some(format!("at {}", listed(names.collect())))
            }
            What::Trait(slot) => {
                let part = book.common.part(term.part)?;
                let one = part.traits.get(slot.index())?;
                let CommonKind::Choice(choices) = &one.kind else {
                    return None;
                };
                let names = values.iter().map(|at| {
                    choices
                        .get(usize::from(*at))
                        .map_or("other".to_owned(), |choice| choice.name.clone())
                });
                let names: Vec<String> = names.map(|name| name.replace('_', " ")).collect();
                Some(format!(
                    "{}: {} {}",
                    part.name.replace('_', " "),
                    one.name.replace('_', " "),
                    listed(names)
                ))
            }
            _ => None,
        }
    }
}

fn worst(replayed: &Replayed) -> Outcome {
    replayed.outcome
}
