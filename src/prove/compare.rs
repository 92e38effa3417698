//! The comparison of two versions: what is required, what is asked as evidence, clause by clause, with boats that were
//! replayed through a check under both.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::book::Book;
use super::common::{Common, CommonKind, Side};
use super::comparison::{Answer, Bump, Change, Comparison, Direction, Effect, Witness};
use super::flip::{CheckedBy, flips};
use super::progress::Progress;
use super::question::{Shown, Verdict};
use super::requirement::{Answers, answers, first, name};
use super::shown::{boat, harmless};
use super::state::State;
use super::term::{TermId, What};
use super::witness::{CaseOf, Complete, complete};
use super::wording::{claimed_step, wording};
use crate::check::{Outcome, Plan};
use crate::rules::{RulesFile, Stage};

/// No direction lists more boats than this; each clause has its own beside.
const MOST_WITNESSES: usize = 5;

/// Compares two versions of one class.
pub fn compare(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Comparison {
    compare_telling(old, new, &mut |_| {})
}

/// The same; `told` hears how far it is.
pub fn compare_telling(
    old: &Arc<RulesFile>,
    new: &Arc<RulesFile>,
    told: &mut dyn FnMut(Progress),
) -> Comparison {
    let book = Book::of(Common::of(old, new));
    let answers = answers(&book, told);
    let plans = Plans {
        old: Plan::compile(Arc::clone(old)),
        new: Plan::compile(Arc::clone(new)),
    };
    let before = Side::BOTH.map(|side| {
        let start = answers.start(side)?;
        made_whole(&book, &start.state, &[&Side::BOTH, &[side]]).ok()
    });
    let teller = Teller {
        book: &book,
        before: &before,
        plans: &plans,
    };
    let mut clauses: Vec<Told<'_>> = Vec::new();
    for one in &answers.answered {
        let mut kept = None;
        let answer = match &one.verdict {
            Verdict::None => Answer::ProvedNone,
            Verdict::Unknown(why) => Answer::Undecided(vec![why.clone()]),
            Verdict::Boat(shown) => match teller.witness(one.legal, shown) {
                Ok((witness, whole)) => {
                    kept = Some(whole);
                    Answer::Witness(vec![witness])
                }
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
            whole: kept,
        });
    }
    for side in Side::BOTH {
        teller.keep(&mut clauses, side);
    }
    let both = (&plans.old, &plans.new);
    let evidence = super::evidence::evidence_by_proof(&book, answers.for_both(), both, told);
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

/// Whether two versions mean the same; a boat that tells them apart where they do not, the first that is found.
pub fn first_difference(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Answer {
    let book = Book::of(Common::of(old, new));
    let plans = Plans {
        old: Plan::compile(Arc::clone(old)),
        new: Plan::compile(Arc::clone(new)),
    };
    let nothing = [None, None];
    let teller = Teller {
        book: &book,
        before: &nothing,
        plans: &plans,
    };
    let mut open = Vec::new();
    let found = first(&book, |legal, shown| match teller.witness(legal, shown) {
        Ok((mut witness, whole)) => {
            witness.cases = teller.cases(&whole, &witness.rules).unwrap_or_default();
            Some(witness)
        }
        Err(why) => {
            open.push(format!("a boat was found, but {why}"));
            None
        }
    });
    let (witness, start, unknown) = found;
    if let Some(witness) = witness {
        return Answer::Witness(vec![witness]);
    }
    open.extend(unknown);
    let both = (&plans.old, &plans.new);
    let evidence = super::evidence::evidence_by_proof(&book, start.as_ref(), both, &mut |_| {});
    for answer in [evidence.becomes_illegal, evidence.becomes_legal] {
        match answer {
            Answer::Witness(list) => return Answer::Witness(list.into_iter().take(1).collect()),
            Answer::Undecided(why) => open.extend(why),
            Answer::ProvedNone => {}
        }
    }
    if open.is_empty() {
        Answer::ProvedNone
    } else {
        Answer::Undecided(open)
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
struct Told<'a> {
    legal: Side,
    rule: String,
    answer: Answer,
    whom: Vec<String>,
    cost: usize,
    whole: Option<Complete<'a>>,
}

fn requirement_of(book: &Book<'_>, answers: &Answers, clauses: &[Told<'_>], legal: Side) -> Answer {
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
    clauses: &[Told<'_>],
    evidence: &[super::evidence::Answered],
) -> Vec<Change> {
    let ids = |rules: &RulesFile| -> Vec<(String, String)> {
        let each = rules.headings();
        each.map(|(id, clause, title)| (id.to_owned(), format!("{clause} {title}")))
            .collect()
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
            .unwrap_or_else(|| one.difference.about.clone());
        if !all.iter().any(|(known, _)| *known == id) {
            all.push((id.clone(), id));
        }
    }
    let mut found = Vec::new();
    for (id, title) in all {
        let of = |legal: Side| clauses.iter().filter(move |one| one.legal == legal);
        let own: Vec<&Told<'_>> = Side::BOTH
            .iter()
            .flat_map(|side| of(*side))
            .filter(|one| one.rule == id)
            .collect();
        let shows = evidence.iter().filter(|one| {
            one.difference.rule.as_deref() == Some(id.as_str())
                || (one.difference.rule.is_none() && one.difference.about == id)
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
            says.push(format!("proved: boats that are not legal under {old} are legal under {new}, as far as this clause goes"));
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
    /// The boats that searches began with, by side under which they are legal.
    before: &'a [Option<Complete<'a>>; 2],
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

impl<'a> Teller<'a, '_> {
    /// The witness of a boat that is legal under a version and breaks a clause of the other one.
    fn witness(&self, legal: Side, shown: &Shown) -> Result<(Witness, Complete<'a>), String> {
        let book = self.book;
        let whole = made_whole(book, &shown.state, &[&Side::BOTH, &[legal]])?;
        let told = |side: Side| {
            whole.checked(side, self.plans.at(side)).map_err(|faults| {
                let version = &book.common.rules(side).version;
                format!("its record can't be read under {version}: {faults}")
            })
        };
        let (old, old_record, old_findings) = told(Side::Old)?;
        let (new, new_record, new_findings) = told(Side::New)?;
        let (on_legal, on_other) = match legal {
            Side::Old => (&old, &new),
            Side::New => (&new, &old),
        };
        let version = |side: Side| book.common.rules(side).version.to_string();
        if !on_legal.is_legal() {
            let against = on_legal.against().join(", ");
            return Err(format!(
                "a check does not find it legal under {}: {against}",
                version(legal)
            ));
        }
        if on_other.is_legal() {
            let version = version(legal.other());
            return Err(format!("a check finds it legal under {version} as well"));
        }
        // It is told in the names of the version that is to be.
        let before = match legal {
            Side::Old => self.before.first(),
            Side::New => self.before.last(),
        };
        let part = match before.and_then(Option::as_ref) {
            Some(before) => whole.fragment(before, Side::New)?,
            None => whole.document(Side::New)?,
        };
        let rules: Vec<String> = on_other.against().into_iter().map(str::to_owned).collect();
        let level = whole
            .boat()
            .level
            .and_then(|at| book.common.levels.get(usize::from(at)));
        let witness = Witness {
            fragment: part.yaml(),
            fragment_json: part.json(),
            why: format!(
                "legal under {}; under {} it is not",
                version(legal),
                version(legal.other())
            ),
            flips: flips(
                [
                    CheckedBy {
                        rules: book.common.old,
                        record: &old_record,
                        findings: &old_findings,
                    },
                    CheckedBy {
                        rules: book.common.new,
                        record: &new_record,
                        findings: &new_findings,
                    },
                ],
                legal.other(),
                &rules,
                &[Outcome::DoesNotConform, Outcome::NotDecided],
            ),
            old_record: whole.record(Side::Old)?,
            new_record: whole.record(Side::New)?,
            stage: whole.boat().stage,
            level: level.map(|level| level.name.clone()),
            day: whole.boat().day,
            old_outcome: old.outcome,
            new_outcome: new.outcome,
            rules,
            cases: String::new(),
        };
        Ok((witness, whole))
    }

    /// Makes cases of the boat of a direction that differs least.
    fn keep(&self, clauses: &mut [Told<'_>], legal: Side) {
        let own = clauses
            .iter_mut()
            .filter(|one| one.legal == legal && one.whole.is_some());
        let Some(best) = own.min_by_key(|one| one.cost) else {
            return;
        };
        let (Some(whole), Answer::Witness(list)) = (&best.whole, &mut best.answer) else {
            return;
        };
        for witness in list {
            witness.cases = self.cases(whole, &witness.rules).unwrap_or_default();
        }
    }

    fn cases(&self, whole: &Complete<'_>, rules: &[String]) -> Result<String, String> {
        let title = |side: Side| {
            format!(
                "what {} and {} say otherwise: under {}",
                self.book.common.old.version,
                self.book.common.new.version,
                self.book.common.rules(side).version
            )
        };
        let titles = Side::BOTH.map(title);
        let each = Side::BOTH.iter().zip(&titles).map(|(side, title)| CaseOf {
            side: *side,
            plan: self.plans.at(*side),
            title,
            rules,
        });
        whole.cases(&each.collect::<Vec<_>>())
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
