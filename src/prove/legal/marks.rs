//! Limits on marks in statements: how many may be nominated, of which kinds, in pairs, and what is brought.

use super::super::common::{CommonKind, HoldingIx, PartIx};
use super::super::formula::Formula;
use super::super::term::{Poly, Sort, Var, What, Whose};
use super::clause::{Clause, ClauseOf, Frame, Translator};
use super::value::Chosen;
use crate::quantity::Exact;
use crate::rules::{MarkLimits, MarkPairs, MarkRule, Stage};

/// No rule on pairs of more kinds than this is put in statements.
const MOST_KINDS: usize = 64;

impl<'r> Translator<'_, 'r> {
    /// The statements of a rule on marks, in one clause.
    pub fn marks(&mut self, at: usize) -> Option<Clause> {
        self.opaque = None;
        let mark: &'r MarkRule = self.rules.marks.get(at)?;
        let vocabulary = &self.rules.vocabulary;
        let own = vocabulary.holding(mark.item)?.part;
        let holding = self.common.holding_of(self.side, mark.item)?;
        let part = self.common.part_of(self.side, own)?;
        let flag = self.common.trait_of(self.side, part, mark.nominated_by)?;
        let term = self
            .terms
            .intern(part, What::Trait(flag), Sort::Truth, false);
        let marked = Formula::Truth(
            Var {
                whose: Whose::Own,
                term,
            },
            true,
        );
        let inspection = self.stage_among(|stage| stage == Stage::EventInspection);
        let mut all = Vec::new();
        // With a table by level and no event nothing of it is asked, but at an inspection it is left open.
        let mut no_event = Formula::False;
        match &mark.limits {
            MarkLimits::Direct(limit) => {
                let count = self.count(holding, marked.clone());
                all.push(self.at_most(&count, limit.at_most));
            }
            MarkLimits::ByLevel { rows, .. } => {
                no_event = self.level_among(|level| level.is_none());
                for (level, limit) in rows {
                    let here = self.level_among(|found| found == Some(*level));
                    let count = self.count(holding, marked.clone());
                    let asks = self.at_most(&count, limit.at_most);
                    all.push(here.implies(asks, self.terms));
                }
            }
        }
        let frame = Frame { own };
        for cap in &mark.of_which {
            let truth = self.condition(&cap.condition, frame);
            let possible = Formula::all([marked.clone(), truth.no.negated(self.terms)]);
            let count = self.count(holding, possible);
            all.push(self.at_most(&count, cap.limit.at_most));
        }
        if let Some(pairs) = &mark.pairs {
            let even = self.pairs(pairs, (holding, part, frame), &marked);
            all.push(even);
        }
        for bring in &mark.bring {
            if let Some(holding) = self.common.holding_of(self.side, bring.holding) {
                let count = self.count(holding, Formula::True);
                let enough = count.minus(&Poly::constant(Exact::from_integer(bring.at_least)));
                let enough = Formula::sign(&enough, false, self.terms);
                all.push(inspection.clone().implies(enough, self.terms));
            }
        }
        let open = Formula::all([no_event.clone(), inspection]);
        let holds = Formula::all([
            open.negated(self.terms),
            Formula::any([no_event, Formula::all(all)]),
        ]);
        Some(Clause {
            opaque: self.opaque.take(),
            ..Clause::plain(ClauseOf::Marks(at), holds)
        })
    }

    fn at_most(&mut self, count: &Poly, most: i64) -> Formula {
        let left = Poly::constant(Exact::from_integer(most)).minus(count);
        Formula::sign(&left, false, self.terms)
    }

    /// An even number of every kind, and none whose kind is not one of those listed.
    fn pairs(
        &mut self,
        pairs: &MarkPairs,
        (holding, part, frame): (HoldingIx, PartIx, Frame),
        marked: &Formula,
    ) -> Formula {
        let truth = self.condition(&pairs.condition, frame);
        let among = Formula::all([marked.clone(), truth.yes]);
        let doubtful = Formula::all([
            marked.clone(),
            truth.no.negated(self.terms),
            among.negated(self.terms),
        ]);
        let mut kinds: Vec<Formula> = vec![among.clone()];
        let mut unlisted: Vec<Formula> = Vec::new();
        for (id, _) in &pairs.alike {
            let Some(slot) = self.common.trait_of(self.side, part, *id) else {
                return Formula::False;
            };
            let Some(one) = self
                .common
                .part(part)
                .and_then(|part| part.traits.get(slot.index()))
            else {
                return Formula::False;
            };
            let choices: Vec<_> = match &one.kind {
                CommonKind::Choice(list) => list
                    .iter()
                    .filter_map(|choice| choice.at.at(self.side))
                    .collect(),
                CommonKind::AnyOf(_) | CommonKind::Date | CommonKind::Flag => {
                    return Formula::False;
                }
            };
            let (var, _) = self.choice_var(Whose::Own, part, slot);
            let chosen = Chosen {
                var,
                part,
                slot,
                list: false,
            };
            unlisted.push(self.is_one_of(&chosen, &|choice| choice.is_none()));
            let mut next = Vec::new();
            for kind in &kinds {
                for choice in &choices {
                    let this = self.is_one_of(&chosen, &|found| found == Some(*choice));
                    next.push(Formula::all([kind.clone(), this]));
                }
            }
            kinds = next;
            if kinds.len() > MOST_KINDS {
                return self.unknown(
                    super::clause::BOAT,
                    &format!("pairs of more than {MOST_KINDS} kinds"),
                );
            }
        }
        let unknown = Formula::all([among, Formula::any(unlisted)]);
        let mut all = Vec::new();
        for none in [unknown, doubtful] {
            let count = self.count(holding, none);
            all.push(self.at_most(&count, 0));
        }
        for kind in kinds {
            if kind != Formula::False {
                let term = self.boat_var(What::Odd(holding, kind), Sort::Truth);
                all.push(Formula::Truth(term, false));
            }
        }
        Formula::all(all)
    }
}
