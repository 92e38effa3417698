//! Boats that a proof finds, legal under both versions, as records.

use super::super::book::Book;
use super::super::common::{PartIx, Side};
use super::super::compare::made_whole;
use super::super::formula::Formula;
use super::super::legal::Clause;
use super::super::near::rounded;
use super::super::progress::Progress;
use super::super::question::candidates;
use super::super::search::{Found, Search, Under};
use super::super::start::Start;
use super::super::state::State;
use super::super::term::{Poly, Var, What, Whose};
use super::edit::Pair;
use super::gold::{Gold, GoldBoat, LegalUnder, Wish};
use super::{Evidence, Versions, evidence_telling};
use crate::check::Plan;
use crate::rules::Stage;

/// What comes of a wish.
type Boats = Result<Vec<GoldBoat>, String>;

/// Boats of a proof.
struct Proofs<'b, 'r> {
    book: &'b Book<'r>,
    /// A boat that is legal under both versions; nothing where there is none, or none is found.
    start: Option<&'b Start>,
    /// Boats that were given already, by what was wished for.
    known: Vec<(Option<Wish>, Boats)>,
}

/// Compares what two versions ask as evidence, by boats that a proof finds. `start` is legal under both,
/// `told` hears how far it is.
pub(in crate::prove) fn evidence_by_proof(
    book: &Book<'_>,
    start: Option<&Start>,
    (old_plan, new_plan): (&Plan, &Plan),
    told: &mut dyn FnMut(Progress),
) -> Evidence {
    let versions = Versions {
        common: &book.common,
        terms: &book.terms,
        old: book.old.clauses(),
        new: book.new.clauses(),
        old_plan,
        new_plan,
    };
    let mut gold = Proofs {
        book,
        start,
        known: Vec::new(),
    };
    evidence_telling(&versions, &mut gold, told)
}

impl Gold for Proofs<'_, '_> {
    fn boats(&mut self, wish: Option<&Wish>) -> Result<Vec<GoldBoat>, String> {
        let same = |known: &Option<Wish>| match (known, wish) {
            (None, None) => true,
            (Some(one), Some(other)) => one == other,
            (None, Some(_)) | (Some(_), None) => false,
        };
        if let Some((_, found)) = self.known.iter().find(|(known, _)| same(known)) {
            return found.clone();
        }
        let found = self.found(wish);
        self.known.push((wish.cloned(), found.clone()));
        found
    }
}

impl Proofs<'_, '_> {
    fn found(&self, wish: Option<&Wish>) -> Result<Vec<GoldBoat>, String> {
        let Some(start) = self.start else {
            return Err("no boat is legal under both versions, or none was found".to_owned());
        };
        if wish.is_none()
            && let Ok(boat) = self.written(&start.state)
        {
            return Ok(vec![boat]);
        }
        let any = Wish {
            on: PartIx(0),
            holds: Formula::True,
            not: Vec::new(),
            stage: None,
            legal: LegalUnder::Both,
        };
        let wish = wish.unwrap_or(&any);
        let under = match wish.legal {
            LegalUnder::Both | LegalUnder::But(..) => Under {
                old: true,
                new: true,
            },
            LegalUnder::One(side) => Under::only(side),
            LegalUnder::Neither => Under {
                old: false,
                new: false,
            },
        };
        let mut unknown = None;
        for item in candidates(&start.state, wish.on) {
            let mut search = Search::new(self.book, &start.state, under, false);
            search.has(item);
            if let LegalUnder::But(old, new) = wish.legal {
                let at = |list: &[Clause], of| list.iter().position(|one| one.of == of);
                let old = at(self.book.old.clauses(), old).map(|at| (Side::Old, at));
                let new = at(self.book.new.clauses(), new).map(|at| (Side::New, at));
                search.without.extend(old.into_iter().chain(new));
            }
            search.ask(&wish.holds, item, 0);
            self.ask_for_edges(&mut search, &start.state);
            for one in &wish.not {
                search.ask(&one.negated(&self.book.terms), item, 0);
            }
            if let Some(at_stage) = wish.stage.and_then(|stage| self.at_stage(stage)) {
                search.ask(&at_stage, 0, 0);
            }
            match search.find(&[]) {
                Found::Boat(state) => {
                    let state = rounded(&mut search, *state);
                    match self.written(&state) {
                        Ok(boat) => return Ok(vec![boat]),
                        Err(words) => unknown = Some(words),
                    }
                }
                Found::None(_) => {}
                Found::Unknown(words) => unknown = Some(words),
            }
        }
        unknown.map_or(Ok(Vec::new()), Err)
    }

    /// Has every edge rise on both sides of where it touches, as edges do that anybody can measure.
    fn ask_for_edges(&self, search: &mut Search<'_, '_>, state: &State) {
        for (term, known) in self.book.terms.all() {
            let reach = matches!(
                known.what,
                What::Forward(..) | What::Aft(..) | What::AlongEnd(..)
            );
            if !reach {
                continue;
            }
            let own = Var {
                whose: Whose::Own,
                term,
            };
            let rises = Formula::sign(&Poly::var(own), true, &self.book.terms);
            for (at, item) in state.items.iter().enumerate() {
                if item.part == known.part {
                    search.ask(&rises, at, 0);
                }
            }
        }
    }

    fn at_stage(&self, stage: Stage) -> Option<Formula> {
        let boat = PartIx(0);
        let term = self.book.terms.known(boat, &What::Stage)?;
        let var = Var {
            whose: Whose::Boat,
            term,
        };
        Some(Formula::among(var, 1 << stage.index(), 3))
    }

    fn written(&self, state: &State) -> Result<GoldBoat, String> {
        let book = self.book;
        let whole = made_whole(book, state, &[&Side::BOTH])?;
        let found = whole.boat();
        let level = found
            .level
            .and_then(|at| book.common.levels.get(usize::from(at)));
        Ok(GoldBoat {
            pair: Pair {
                old: whole.document(Side::Old)?,
                new: whole.document(Side::New)?,
            },
            level: level.map(|level| level.name.clone()),
            day: found.day,
        })
    }
}
