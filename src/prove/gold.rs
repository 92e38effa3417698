//! Boats for the evidence part: legal under both versions, with everything measured exactly.

use super::book::Book;
use super::common::Side;
use super::compare::{Plans, made_whole};
use super::comparison::Answer;
use super::evidence::{Evidence, Gold, GoldBoat, Versions, Wish, evidence};
use super::question::{candidates, rounded};
use super::requirement::Answers;
use super::search::{Found, Search, Under, places_of};
use super::start::Start;
use super::state::{At, Cell, State};
use super::term::What;

/// The evidence part of a comparison.
pub(super) fn evidence_of(book: &Book<'_>, answers: &Answers, plans: &Plans) -> Evidence {
    let nothing = |answer: Answer| Evidence {
        becomes_illegal: answer.clone(),
        becomes_legal: answer,
        differences: Vec::new(),
    };
    let (Some(old), Some(new)) = (&book.old.legal, &book.new.legal) else {
        return nothing(Answer::Undecided(vec!["a version is lost".to_owned()]));
    };
    let versions = Versions {
        common: &book.common,
        old,
        new,
        old_plan: &plans.old,
        new_plan: &plans.new,
    };
    let start = answers
        .start(Side::Old)
        .filter(|start| start.legal.old && start.legal.new);
    let mut golden = Golden { book, start };
    evidence(&versions, &mut golden)
}

struct Golden<'b, 'r> {
    book: &'b Book<'r>,
    start: Option<&'b Start>,
}

impl Golden<'_, '_> {
    fn told(&self, state: &State) -> Result<GoldBoat, String> {
        let whole = made_whole(self.book, state, &[&Side::BOTH])?;
        let level = whole
            .boat()
            .level
            .and_then(|at| self.book.common.levels.get(usize::from(at)));
        let texts = (whole.record(Side::Old)?, whole.record(Side::New)?);
        GoldBoat::read(
            (&texts.0, &texts.1),
            level.map(|level| level.name.clone()),
            whole.boat().day,
        )
    }
}

impl Gold for Golden<'_, '_> {
    fn boats(&mut self, wish: Option<&Wish>) -> Result<Vec<GoldBoat>, String> {
        let Some(start) = self.start else {
            return Err("no boat is legal under both versions".to_owned());
        };
        let Some(wish) = wish else {
            return Ok(vec![self.told(&start.state)?]);
        };
        let book = self.book;
        let both = Under {
            old: true,
            new: true,
        };
        let mut why = None;
        for item in candidates(&start.state, wish.on) {
            let mut search = Search::new(book, &start.state, both, false);
            let present = search.presence(item);
            search.solver.add_clause(&[present]);
            let of = super::book::place_of(&wish.holds, &book.terms);
            let place = places_of(of, &start.state, item).start;
            search.ask(&wish.holds, item, place);
            let stage = wish.stage.and_then(|stage| {
                let term = book.terms.known(super::common::PartIx(0), &What::Stage)?;
                let at = At {
                    item: 0,
                    place: 0,
                    term,
                };
                Some((at, Cell::Choice(u16::try_from(stage.index()).ok()?)))
            });
            let assumed = stage.map_or(Vec::new(), |(at, cell)| search.same(at, &cell));
            for one in &assumed {
                search.solver.add_clause(&[*one]);
            }
            match search.find(&[]) {
                Found::Boat(state) => {
                    let state = rounded(&mut search, *state);
                    match self.told(&state) {
                        Ok(boat) => return Ok(vec![boat]),
                        Err(reason) => why = Some(reason),
                    }
                }
                Found::None(_) => {}
                Found::Unknown(reason) => why = Some(reason),
            }
        }
        why.map_or(Ok(Vec::new()), Err)
    }
}
