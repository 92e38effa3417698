//! Clauses: a statement for each rule, and for what rules leave unsaid.

use super::super::common::{Common, HoldingIx, PartIx, Side, TraitIx};
use super::super::days::day_number;
use super::super::formula::Formula;
use super::super::term::{Poly, Sort, TermId, Terms, Var, What, Whose};
use super::value::{Reckoner, Truth, Val};
use crate::expression::{Expression, Node};
use crate::quantity::Exact;
use crate::rules::{Demand, Limits, Rule, RulesFile, Silence, Stage};
use crate::vocabulary::PartId;

/// What a clause comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClauseOf {
    /// A rule, by its place in the file.
    Rule(usize),
    /// A rule on marks, by its place in the file.
    Marks(usize),
    /// A holding that a boat must have so many of.
    Equipment(HoldingIx),
    /// A declared `other` that no rule speaks of.
    Silence(PartIx, TraitIx),
    /// Parts that the rules do not list.
    Unlisted,
}

/// A statement that has to hold of every item of a kind.
#[derive(Clone, Debug)]
pub struct Clause {
    /// What it comes from.
    pub of: ClauseOf,
    /// The kind of item; the boat for what is asked of the whole.
    pub on: PartIx,
    /// Whether it has to hold at every place of the item.
    pub placed: bool,
    /// The statement.
    pub holds: Formula,
    /// When the rule is asked at all.
    pub asked: Formula,
    /// For whom its table has a row, where nothing is asked of others.
    pub in_rows: Formula,
    /// Its exemptions in the order of the file.
    pub exemptions: Vec<Exemption>,
    /// What its main limits say, without exemptions.
    pub main: Formula,
    /// Where places have to lie so that they count, one for each row of a table by zone: wherever the rule is asked,
    /// each has a place.
    pub regions: Vec<Formula>,
    /// Where along an item the rule looks, and for each row of a table by zone where it counts.
    pub zones: Vec<Formula>,
    /// What could not be put in statements, in words; the same words mean the same thing.
    pub opaque: Option<String>,
}

/// An exemption of a clause.
#[derive(Clone, Debug)]
pub struct Exemption {
    /// Whom it is for, and until when: earlier exemptions do not apply.
    pub applies: Formula,
    /// What it says instead.
    pub instead: Formula,
}

/// A version as statements.
#[derive(Clone, Debug)]
pub struct Legal {
    /// Which version.
    pub side: Side,
    /// All of them.
    pub clauses: Vec<Clause>,
}

/// The statements of a version. Terms that come up are added to those known.
pub fn legal(common: &Common<'_>, side: Side, terms: &mut Terms) -> Legal {
    let mut translator = Translator {
        common,
        side,
        rules: common.rules(side),
        terms,
        opaque: None,
        regions: Vec::new(),
        in_rows: Formula::True,
    };
    let mut clauses = Vec::new();
    for (at, rule) in translator.rules.rules.iter().enumerate() {
        if let Some(clause) = translator.rule(at, rule) {
            clauses.push(clause);
        }
    }
    for at in 0..translator.rules.marks.len() {
        clauses.extend(translator.marks(at));
    }
    clauses.extend(translator.equipment());
    clauses.extend(translator.silence(&clauses));
    Legal { side, clauses }
}

/// Puts rules in statements.
pub(super) struct Translator<'a, 'r> {
    pub common: &'a Common<'r>,
    pub side: Side,
    pub rules: &'r RulesFile,
    pub terms: &'a mut Terms,
    /// Why something of the rule at hand is opaque.
    pub opaque: Option<String>,
    /// Where places of the rule at hand have to lie.
    pub regions: Vec<Formula>,
    /// For whom the table of the rule at hand has a row, where nothing is asked of others.
    pub in_rows: Formula,
}

/// Whose things bare names are: the item under judgement, of a kind of part of this version.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub own: PartId,
}

/// The boat in common names.
pub(super) const BOAT: PartIx = PartIx(0);

impl<'r> Translator<'_, 'r> {
    pub fn reckoner(&self) -> Reckoner<'_> {
        Reckoner { terms: self.terms }
    }

    /// A term of the boat or of the context.
    pub fn boat_var(&mut self, what: What, sort: Sort) -> Var {
        let term = self.terms.intern(BOAT, what, sort, false);
        Var {
            whose: Whose::Boat,
            term,
        }
    }

    pub fn stage_among(&mut self, stages: impl Fn(Stage) -> bool) -> Formula {
        let var = self.boat_var(What::Stage, Sort::Choice(3));
        let bits = Stage::ALL.into_iter().filter(|stage| stages(*stage));
        Formula::among(var, bits.map(|stage| 1 << stage.index()).sum(), 3)
    }

    /// How many values the level has: one more for no event.
    pub fn levels(&self) -> u16 {
        u16::try_from(self.common.levels.len())
            .unwrap_or(u16::MAX)
            .saturating_add(1)
    }

    /// The level is one of some of this version; `None` stands for no event.
    pub fn level_among(
        &mut self,
        allowed: impl Fn(Option<crate::vocabulary::ChoiceId>) -> bool,
    ) -> Formula {
        let all = self.levels();
        let mut values = 0;
        for (at, level) in self.common.levels.iter().enumerate() {
            // A level that this version does not know can't be given to it: no event of it is of that level.
            if level.at.at(self.side).is_some_and(|id| allowed(Some(id))) {
                values |= bit(at);
            }
        }
        if allowed(None) {
            values |= bit(usize::from(all) - 1);
        }
        let var = self.boat_var(What::Level, Sort::Choice(all));
        Formula::among(var, values, all)
    }

    pub fn day(&mut self) -> Poly {
        Poly::var(self.boat_var(What::Day, Sort::Day))
    }

    /// Something that no statement can be made of: the same words of the same kind of part are one thing.
    pub fn unknown(&mut self, part: PartIx, words: &str) -> Formula {
        self.opaque.get_or_insert_with(|| words.to_owned());
        let term = self
            .terms
            .intern(part, What::Opaque(words.to_owned()), Sort::Truth, false);
        Formula::Truth(
            Var {
                whose: Whose::Own,
                term,
            },
            true,
        )
    }

    fn rule(&mut self, at: usize, rule: &'r Rule) -> Option<Clause> {
        self.opaque = None;
        self.regions.clear();
        self.in_rows = Formula::True;
        let on = self.common.part_of(self.side, rule.applies_to)?;
        let frame = Frame {
            own: rule.applies_to,
        };
        let checked = self.stage_among(|stage| *rule.checked_at.at(stage));
        let mut asked = checked.clone();
        // Without an event a rule on events is not asked, but at an inspection it is left open.
        let mut open = Formula::False;
        if rule.names_event {
            let level = self.level_among(|level| level.is_some());
            let none = level.negated(self.terms);
            let inspection = self.stage_among(|stage| stage == Stage::EventInspection);
            open = Formula::all([checked.clone(), none, inspection]);
            asked = Formula::all([checked, level]);
        }
        let (mut applies, mut does_not) = (Formula::True, Formula::False);
        if let Some(when) = &rule.when {
            let when = self.condition(when, frame);
            (applies, does_not) = (when.yes, when.no);
        }
        // Of a mean, where the rule looks belongs to the mean itself.
        let by_place = rule.value.yields.placed && rule.judged != crate::rules::Judged::Mean;
        let looked = if by_place {
            self.looked(rule, frame)
        } else {
            Formula::True
        };
        let main = self.limits(rule, frame);
        let mut zones = self.regions.clone();
        zones.sort();
        if rule.value.yields.placed {
            zones.insert(0, self.looked(rule, frame));
        }
        let mut regions: Vec<Formula> = Vec::new();
        let by_zone = matches!(rule.limits, Limits::ByZone { .. });
        if by_place && (by_zone || !super::limit::may_leave_out(rule)) {
            let rows = std::mem::take(&mut self.regions);
            let rows = if rows.is_empty() {
                vec![Formula::True]
            } else {
                rows
            };
            for row in rows {
                let region = Formula::all([looked.clone(), row]);
                if region != Formula::True && !regions.contains(&region) {
                    regions.push(region);
                }
            }
        }
        let main = Formula::any([looked.negated(self.terms), main]);
        let placed = by_place || self.placed_limits(rule);
        let mut exemptions: Vec<Exemption> = Vec::new();
        // From the last to the first: what holds where none before applies.
        let mut rest = main.clone();
        let mut before = Formula::True;
        let mut steps = Vec::new();
        for row in &rule.instead {
            let truth = self.condition(&row.condition, frame);
            let until = match row.until {
                Some(until) => {
                    let left = Poly::constant(day_number(until)).minus(&self.day());
                    Formula::sign(&left, false, self.terms)
                }
                None => Formula::True,
            };
            let instead = match &row.row.demand {
                Demand::None => Formula::True,
                Demand::Bounds(_)
                | Demand::Equals(..)
                | Demand::Only(..)
                | Demand::Without(..)
                | Demand::Options(_) => {
                    let asks = self.row(rule, &row.row, frame);
                    Formula::any([looked.negated(self.terms), asks])
                }
            };
            let applies = Formula::all([until.clone(), truth.yes.clone()]);
            exemptions.push(Exemption {
                applies: Formula::all([before.clone(), applies.clone()]),
                instead: instead.clone(),
            });
            before = Formula::all([before, applies.negated(self.terms)]);
            let takes_nothing = matches!(row.row.demand, Demand::None);
            steps.push((
                until,
                truth,
                instead,
                row.unproven_takes_main,
                takes_nothing,
            ));
        }
        for (until, truth, instead, unproven_takes_main, takes_nothing) in steps.into_iter().rev() {
            let ended = until.negated(self.terms);
            let no = if unproven_takes_main {
                truth.yes.negated(self.terms)
            } else {
                truth.no.clone()
            };
            let mut ways = vec![
                Formula::all([until.clone(), truth.yes.clone(), instead.clone()]),
                Formula::all([Formula::any([ended, no]), rest.clone()]),
            ];
            if !unproven_takes_main && !takes_nothing {
                // Not known whether it applies: both must be met.
                ways.push(Formula::all([instead, rest]));
            }
            rest = Formula::any(ways);
        }
        let inner = Formula::any([does_not, Formula::all([applies.clone(), rest])]);
        let holds = Formula::all([
            open.negated(self.terms),
            asked.clone().implies(inner, self.terms),
        ]);
        Some(Clause {
            of: ClauseOf::Rule(at),
            on,
            placed,
            holds,
            asked: Formula::all([asked, applies]),
            // An exemption may ask something of those without a row.
            in_rows: if rule.instead.is_empty() {
                self.in_rows.clone()
            } else {
                Formula::True
            },
            exemptions,
            main,
            regions,
            zones,
            opaque: self.opaque.take(),
        })
    }

    fn placed_limits(&self, rule: &Rule) -> bool {
        matches!(rule.limits, Limits::ByZone { .. })
            || crate::rules::rows(&rule.limits, &rule.instead)
                .flat_map(|row| row.demand.expressions())
                .any(|one| one.yields.placed)
    }

    fn equipment(&mut self) -> Vec<Clause> {
        let mut found = Vec::new();
        for at in 0..self.common.holdings.len() {
            let Ok(ix) = u16::try_from(at).map(HoldingIx) else {
                continue;
            };
            let own = self
                .common
                .holding(ix)
                .filter(|one| one.many)
                .and_then(|one| one.at.at(self.side));
            let least = own
                .and_then(|id| self.rules.vocabulary.holding(id))
                .map_or(0, |one| one.at_least);
            if least > 0 {
                let count = self.count(ix, Formula::True);
                let enough = count.minus(&Poly::constant(Exact::from_integer(i64::from(least))));
                let holds = Formula::sign(&enough, false, self.terms);
                found.push(Clause::plain(ClauseOf::Equipment(ix), holds));
            }
        }
        if self.rules.silence == Silence::Forbids {
            let unlisted = self.boat_var(What::Unlisted, Sort::Truth);
            found.push(Clause::plain(
                ClauseOf::Unlisted,
                Formula::Truth(unlisted, false),
            ));
        }
        found
    }

    /// How many items of a holding meet a condition.
    pub fn count(&mut self, holding: HoldingIx, condition: Formula) -> Poly {
        if condition == Formula::False {
            return Poly::default();
        }
        Poly::var(self.boat_var(What::Count(holding, condition), Sort::Count))
    }

    /// A declared `other` that no table asks about.
    fn silence(&mut self, clauses: &[Clause]) -> Vec<Clause> {
        if self.rules.silence == Silence::Permits {
            return Vec::new();
        }
        let mut found = Vec::new();
        let common = self.common;
        for (at, part) in common.parts.iter().enumerate() {
            let (Ok(ix), Some(own)) = (u16::try_from(at).map(PartIx), part.at.at(self.side)) else {
                continue;
            };
            for (slot, one) in part.traits.iter().enumerate() {
                let (Ok(slot), Some(id)) = (u16::try_from(slot).map(TraitIx), one.at.at(self.side))
                else {
                    continue;
                };
                let Some(other) = self.is_other(ix, slot) else {
                    continue;
                };
                let speaking = clauses.iter().filter(|clause| match clause.of {
                    ClauseOf::Rule(rule) => self
                        .rules
                        .rule(rule)
                        .is_some_and(|rule| rule.applies_to == own && speaks_of(rule, id)),
                    ClauseOf::Marks(_)
                    | ClauseOf::Equipment(_)
                    | ClauseOf::Silence(..)
                    | ClauseOf::Unlisted => false,
                });
                let asked: Vec<Formula> = speaking.map(|clause| clause.asked.clone()).collect();
                let holds = Formula::any([vec![other.negated(self.terms)], asked].concat());
                if holds != Formula::True {
                    found.push(Clause {
                        on: ix,
                        ..Clause::plain(ClauseOf::Silence(ix, slot), holds)
                    });
                }
            }
        }
        found
    }

    /// What a trait declares is none of this version's choices.
    fn is_other(&mut self, part: PartIx, slot: TraitIx) -> Option<Formula> {
        let one = self.common.part(part)?.traits.get(slot.index())?;
        let choices = one.kind.choices().iter().enumerate();
        let unknown: Vec<usize> = choices
            .filter(|(_, choice)| choice.at.at(self.side).is_none())
            .map(|(at, _)| at)
            .chain([one.kind.choices().len()])
            .collect();
        match &one.kind {
            super::super::common::CommonKind::Choice(_) => {
                let (var, all) = self.choice_var(Whose::Own, part, slot);
                Some(Formula::among(
                    var,
                    unknown.into_iter().map(bit).fold(0, |a, b| a | b),
                    all,
                ))
            }
            super::super::common::CommonKind::AnyOf(_) => {
                let each: Vec<Formula> = unknown
                    .into_iter()
                    .map(|at| Formula::Truth(self.listed(Whose::Own, part, slot, at), true))
                    .collect();
                Some(Formula::any(each))
            }
            super::super::common::CommonKind::Date | super::super::common::CommonKind::Flag => None,
        }
    }

    /// The variable of a choice, and how many values it has.
    pub fn choice_var(&mut self, whose: Whose, part: PartIx, slot: TraitIx) -> (Var, u16) {
        let kind = self
            .common
            .part(part)
            .and_then(|part| part.traits.get(slot.index()));
        let all = kind.map_or(1, |one| one.kind.choices().len() + 1);
        let all = u16::try_from(all).unwrap_or(u16::MAX);
        let term = self
            .terms
            .intern(part, What::Trait(slot), Sort::Choice(all), false);
        (Var { whose, term }, all)
    }

    /// Whether a list names a choice; the one behind the last is `other`.
    pub fn listed(&mut self, whose: Whose, part: PartIx, slot: TraitIx, choice: usize) -> Var {
        let choice = u16::try_from(choice).unwrap_or(u16::MAX);
        let term = self
            .terms
            .intern(part, What::Listed(slot, choice), Sort::Truth, false);
        Var { whose, term }
    }

    pub fn condition(&mut self, expression: &Expression, frame: Frame) -> Truth {
        self.truth(&expression.root, frame)
    }

    pub fn number(
        &mut self,
        node: &Node,
        frame: Frame,
    ) -> Result<Vec<super::value::Piece>, String> {
        match self.value(node, frame) {
            Val::Number(pieces) => Ok(pieces),
            Val::Opaque(why) => Err(why),
            Val::Day(..) | Val::Truth(_) | Val::Choice(_) | Val::Level | Val::Structured(..) => {
                Err("a number is needed".to_owned())
            }
        }
    }

    /// The part of a frame in common names.
    pub fn ix(&self, frame: Frame) -> PartIx {
        self.common.part_of(self.side, frame.own).unwrap_or(BOAT)
    }
}

impl Clause {
    pub(super) fn plain(of: ClauseOf, holds: Formula) -> Clause {
        Clause {
            of,
            on: BOAT,
            placed: false,
            main: holds.clone(),
            holds,
            asked: Formula::True,
            in_rows: Formula::True,
            exemptions: Vec::new(),
            regions: Vec::new(),
            zones: Vec::new(),
            opaque: None,
        }
    }
}

/// Whether a rule says of every choice of a trait what it thinks of it, `other` included.
fn speaks_of(rule: &Rule, id: crate::vocabulary::TraitId) -> bool {
    use crate::expression::{Op, Scope};
    match &rule.limits {
        Limits::ByTrait { by, .. } => *by == id,
        Limits::ByTraits { by, .. } => by.contains(&id),
        Limits::Direct(row) => match &row.demand {
            Demand::Only(..) => {
                matches!(rule.value.root.op, Op::Trait(Scope::Own, of) if of == id)
            }
            Demand::Bounds(_)
            | Demand::Equals(..)
            | Demand::Without(..)
            | Demand::Options(_)
            | Demand::None => false,
        },
        Limits::ByZone { .. } | Limits::ByLevel { .. } => false,
    }
}

/// The bit of a value; none beyond those that a set can hold.
pub(super) fn bit(at: usize) -> super::super::formula::Values {
    u32::try_from(at)
        .ok()
        .and_then(|at| 1_u128.checked_shl(at))
        .unwrap_or(0)
}

/// The term of a variable for what is asked of an item.
pub(super) fn own(term: TermId) -> Var {
    Var {
        whose: Whose::Own,
        term,
    }
}
