//! Conditions and values of the rules language in statements.

use super::super::common::{CommonKind, PartIx, TraitIx};
use super::super::days::day_number;
use super::super::formula::Formula;
use super::super::term::{Poly, Sort, Terms, Var, What, Whose};
use super::clause::{BOAT, Frame, Translator, bit};
use super::domain::{lowest_of, tighter};
use super::value::{Chosen, Piece, Truth, Val};
use crate::expression::{Arithmetic, Comparison, Node, Op, Scope};
use crate::quantity::{DateSpan, Exact};
use crate::vocabulary::{ChoiceId, HoldingId, MeasureKind, PartId, QuantityKind};

/// What can't be told from what is not known.
fn never() -> Truth {
    Truth {
        yes: Formula::False,
        no: Formula::False,
    }
}

impl<'r> Translator<'_, 'r> {
    /// Whose a name is, and of which kind of part.
    pub fn whose(&self, scope: Scope, frame: Frame) -> Option<(Whose, PartIx, PartId)> {
        let vocabulary = &self.rules.vocabulary;
        let part = scope.part(frame.own, vocabulary)?;
        let ix = self.common.part_of(self.side, part)?;
        let whose = match scope {
            Scope::Own if ix == BOAT => Whose::Boat,
            Scope::Own => Whose::Own,
            Scope::Boat => Whose::Boat,
            Scope::One(holding) => Whose::One(self.common.holding_of(self.side, holding)?),
            Scope::Role(role) => {
                let group = self.common.part_of(self.side, frame.own)?;
                Whose::Role(self.common.role_of(self.side, group, role)?)
            }
        };
        Some((whose, ix, part))
    }

    pub fn truth(&mut self, node: &Node, frame: Frame) -> Truth {
        match &node.op {
            Op::And(list) => {
                let each: Vec<Truth> = list.iter().map(|one| self.truth(one, frame)).collect();
                Truth {
                    yes: Formula::all(each.iter().map(|one| one.yes.clone())),
                    no: Formula::any(each.into_iter().map(|one| one.no)),
                }
            }
            Op::Or(list) => {
                let each: Vec<Truth> = list.iter().map(|one| self.truth(one, frame)).collect();
                Truth {
                    yes: Formula::any(each.iter().map(|one| one.yes.clone())),
                    no: Formula::all(each.into_iter().map(|one| one.no)),
                }
            }
            Op::Not(inner) => self.truth(inner, frame).not(),
            Op::Truth(inner) => match self.value(inner, frame) {
                Val::Truth(truth) => truth,
                Val::Opaque(why) => self.opaque_truth(node, frame, &why),
                Val::Number(_)
                | Val::Day(..)
                | Val::Choice(_)
                | Val::Level
                | Val::Structured(..) => never(),
            },
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let truth = match self.value(subject, frame) {
                    Val::Choice(chosen) => {
                        let yes = self.is_one_of(&chosen, &|choice| choices.contains(&choice));
                        Truth::of(yes, self.terms)
                    }
                    Val::Opaque(why) => self.opaque_truth(node, frame, &why),
                    Val::Number(_)
                    | Val::Day(..)
                    | Val::Truth(_)
                    | Val::Level
                    | Val::Structured(..) => never(),
                };
                if *negated { truth.not() } else { truth }
            }
            Op::IsLevel { levels, negated } => {
                let yes =
                    self.level_among(|level| level.is_some_and(|level| levels.contains(&level)));
                let no =
                    self.level_among(|level| level.is_some_and(|level| !levels.contains(&level)));
                let truth = Truth { yes, no };
                if *negated { truth.not() } else { truth }
            }
            Op::IsSame {
                left,
                right,
                negated,
            } => {
                let truth = self.same(node, left, right, frame);
                if *negated { truth.not() } else { truth }
            }
            Op::Compare(comparison, left, right) => {
                self.compare(node, *comparison, left, right, frame)
            }
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => match self.value(node, frame) {
                Val::Truth(truth) => truth,
                Val::Opaque(why) => self.opaque_truth(node, frame, &why),
                Val::Number(_)
                | Val::Day(..)
                | Val::Choice(_)
                | Val::Level
                | Val::Structured(..) => never(),
            },
        }
    }

    fn opaque_truth(&mut self, node: &Node, frame: Frame, why: &str) -> Truth {
        let words = format!("{}: {why}", self.text_of(node));
        let part = self.ix(frame);
        let yes = self.unknown(part, &words);
        Truth::of(yes, self.terms)
    }

    /// A node as the file has it.
    pub fn text_of(&self, node: &Node) -> String {
        let text = self.rules.source.text();
        text.get(node.span.range())
            .unwrap_or_default()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    }

    fn compare(
        &mut self,
        node: &Node,
        comparison: Comparison,
        left: &Node,
        right: &Node,
        frame: Frame,
    ) -> Truth {
        match (self.value(left, frame), self.value(right, frame)) {
            (Val::Opaque(why), _) | (_, Val::Opaque(why)) => self.opaque_truth(node, frame, &why),
            (Val::Day(first, last), Val::Day(other_first, other_last)) => {
                let (a, b) = ((&first, &last), (&other_first, &other_last));
                match comparison {
                    Comparison::Less => before(a, b, self.terms),
                    Comparison::GreaterOrEqual => before(a, b, self.terms).not(),
                    Comparison::Greater => before(b, a, self.terms),
                    Comparison::LessOrEqual => before(b, a, self.terms).not(),
                }
            }
            (Val::Number(a), Val::Number(b)) => {
                match self.reckoner().compared(comparison, &a, &b) {
                    Some(truth) => truth,
                    None => self.opaque_truth(node, frame, "it has too many cases"),
                }
            }
            _ => never(),
        }
    }

    fn same(&mut self, node: &Node, left: &Node, right: &Node, frame: Frame) -> Truth {
        match (self.value(left, frame), self.value(right, frame)) {
            (Val::Opaque(why), _) | (_, Val::Opaque(why)) => self.opaque_truth(node, frame, &why),
            (Val::Truth(a), Val::Truth(b)) => Truth {
                yes: Formula::any([
                    Formula::all([a.yes.clone(), b.yes.clone()]),
                    Formula::all([a.no.clone(), b.no.clone()]),
                ]),
                no: Formula::any([Formula::all([a.yes, b.no]), Formula::all([a.no, b.yes])]),
            },
            (Val::Choice(a), Val::Choice(b)) => {
                let choices = self
                    .choices_of(&a)
                    .into_iter()
                    .chain([None])
                    .collect::<Vec<_>>();
                let each = choices.into_iter().map(|choice| {
                    let own = self.is_one_of(&a, &|one| one == choice);
                    let others = self.is_one_of(&b, &|one| one == choice);
                    Formula::all([own, others])
                });
                let each: Vec<Formula> = each.collect();
                Truth::of(Formula::any(each), self.terms)
            }
            (Val::Day(a, b), Val::Day(c, d)) => {
                let apart = Formula::any([later(&c, &b, self.terms), later(&a, &d, self.terms)]);
                let single = a == b && c == d;
                if single {
                    Truth::of(apart, self.terms).not()
                } else {
                    Truth {
                        yes: Formula::False,
                        no: apart,
                    }
                }
            }
            (Val::Number(a), Val::Number(b)) => {
                let reckoner = self.reckoner();
                let difference = reckoner.sum(&a, &b, -1);
                match difference {
                    Some(difference) => {
                        let not_below = reckoner.sign(&difference, false, false);
                        let not_above = reckoner.sign(&difference, true, false);
                        Truth {
                            yes: Formula::all([not_below.yes, not_above.yes]),
                            no: Formula::any([not_below.no, not_above.no]),
                        }
                    }
                    None => self.opaque_truth(node, frame, "it has too many cases"),
                }
            }
            _ => never(),
        }
    }

    fn choices_of(&self, chosen: &Chosen) -> Vec<Option<ChoiceId>> {
        let one = self
            .common
            .part(chosen.part)
            .and_then(|part| part.traits.get(chosen.slot.index()));
        let choices = one.map_or(&[][..], |one| one.kind.choices());
        choices
            .iter()
            .filter_map(|choice| choice.at.at(self.side))
            .map(Some)
            .collect()
    }

    /// What a choice declares is one of this version's choices that are wanted; `None` is its `other`.
    pub fn is_one_of(
        &mut self,
        chosen: &Chosen,
        wanted: &dyn Fn(Option<ChoiceId>) -> bool,
    ) -> Formula {
        let one = self
            .common
            .part(chosen.part)
            .and_then(|part| part.traits.get(chosen.slot.index()));
        let choices = one.map_or(&[][..], |one| one.kind.choices());
        let mut values = 0;
        for (at, choice) in choices.iter().enumerate() {
            if wanted(choice.at.at(self.side)) {
                values |= bit(at);
            }
        }
        if wanted(None) {
            values |= bit(choices.len());
        }
        let all = u16::try_from(choices.len() + 1).unwrap_or(u16::MAX);
        Formula::among(chosen.var, values, all)
    }

    pub fn value(&mut self, node: &Node, frame: Frame) -> Val {
        match &node.op {
            Op::Quantity { value, .. } => number(Poly::constant(value.clone())),
            Op::Date(date) => constant_day(date),
            Op::YesNo(yes) => Val::Truth(Truth::of(Formula::of(*yes), self.terms)),
            Op::Measure(scope, slot) => {
                let Some((whose, part, id)) = self.whose(*scope, frame) else {
                    return lost(self.text_of(node));
                };
                let Some(ix) = self.common.measure_of(self.side, part, *slot) else {
                    return lost(self.text_of(node));
                };
                self.measure(whose, part, id, ix, *slot)
            }
            Op::Derived(scope, slot) => {
                let Some((whose, _, id)) = self.whose(*scope, frame) else {
                    return lost(self.text_of(node));
                };
                let Some(derived) = self.rules.derived_value(id, *slot) else {
                    return lost(self.text_of(node));
                };
                let value = self.value(&derived.root, Frame { own: id });
                self.moved(value, whose)
            }
            Op::Trait(scope, slot) => {
                let Some((whose, part, _)) = self.whose(*scope, frame) else {
                    return lost(self.text_of(node));
                };
                let Some(ix) = self.common.trait_of(self.side, part, *slot) else {
                    return lost(self.text_of(node));
                };
                self.trait_value(whose, part, ix)
            }
            Op::EventLevel => Val::Level,
            Op::EventDay | Op::Day => {
                let day = self.day();
                Val::Day(day.clone(), day)
            }
            Op::Negate(inner) => match self.value(inner, frame) {
                Val::Number(pieces) => {
                    Val::Number(self.reckoner().scaled(&pieces, &Exact::ONE.neg()))
                }
                other => other,
            },
            Op::Arithmetic(operation, left, right) => {
                let (left, right) = (self.value(left, frame), self.value(right, frame));
                self.arithmetic(node, *operation, left, right)
            }
            Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_) => Val::Truth(self.truth(node, frame)),
            Op::Call(function, arguments) => self.call(node, *function, arguments, frame),
            Op::Count { over, condition } => {
                let Some((holding, inner)) = self.counted(*over) else {
                    return lost(self.text_of(node));
                };
                let condition = match condition {
                    Some(condition) => self.truth(condition, inner).yes,
                    None => Formula::True,
                };
                number(self.count(holding, condition))
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                let Some((holding, inner)) = self.counted(*over) else {
                    return lost(self.text_of(node));
                };
                let condition = match condition {
                    Some(condition) => self.truth(condition, inner).yes,
                    None => Formula::True,
                };
                let pieces = match self.number(value, inner) {
                    Ok(pieces) => pieces,
                    Err(why) => return Val::Opaque(why),
                };
                let mut each = Vec::new();
                for piece in pieces {
                    if piece.under.as_constant().is_none() {
                        return Val::Opaque("a sum of quotients".to_owned());
                    }
                    each.push((Formula::all([condition.clone(), piece.when]), piece.over));
                }
                each.retain(|(when, _)| *when != Formula::False);
                // Of whole numbers alone a sum is whole too, but no rule depends on it.
                let sort = Sort::Number {
                    low: None,
                    high: None,
                };
                number(Poly::var(self.boat_var(What::Sum(holding, each), sort)))
            }
        }
    }

    fn counted(&self, over: HoldingId) -> Option<(super::super::common::HoldingIx, Frame)> {
        let holding = self.rules.vocabulary.holding(over)?;
        let ix = self.common.holding_of(self.side, over)?;
        Some((ix, Frame { own: holding.part }))
    }

    fn measure(
        &mut self,
        whose: Whose,
        part: PartIx,
        id: PartId,
        ix: super::super::common::MeasureIx,
        slot: crate::vocabulary::MeasureId,
    ) -> Val {
        let Some(measure) = self
            .common
            .part(part)
            .and_then(|part| part.measures.get(ix.index()))
        else {
            return lost(String::new());
        };
        let placed = measure.placed;
        match measure.kind {
            MeasureKind::Quantity(kind) => {
                // Where the two versions allow other numbers, what both allow counts.
                let mut low = None;
                for side in super::super::common::Side::BOTH {
                    let (Some(part), Some(slot)) = (
                        self.common.part(part).and_then(|part| part.at.at(side)),
                        measure.at.at(side),
                    ) else {
                        continue;
                    };
                    let own = self.common.rules(side).vocabulary.part(part);
                    let own = own.and_then(|part| part.measures.get(slot.index()));
                    let lowest = own
                        .and_then(|own| own.plausible.as_ref())
                        .map(|(low, _)| low.signum());
                    low = tighter(low, lowest_of(kind, lowest));
                }
                let high = (kind == QuantityKind::Angle).then(|| (Exact::from_integer(180), true));
                let sort = Sort::Number { low, high };
                let term = self.terms.intern(part, What::Measure(ix), sort, placed);
                number(Poly::var(Var { whose, term }))
            }
            MeasureKind::YesNo => {
                let term = self
                    .terms
                    .intern(part, What::Measure(ix), Sort::Truth, placed);
                let yes = Formula::Truth(Var { whose, term }, true);
                Val::Truth(Truth::of(yes, self.terms))
            }
            MeasureKind::Profile
            | MeasureKind::Line
            | MeasureKind::Section
            | MeasureKind::LoadTest
            | MeasureKind::Outline => {
                let _ = (id, slot);
                let term = super::super::term::TermId(u32::MAX);
                Val::Structured(Var { whose, term }, part, ix)
            }
        }
    }

    fn trait_value(&mut self, whose: Whose, part: PartIx, ix: TraitIx) -> Val {
        let Some(one) = self
            .common
            .part(part)
            .and_then(|part| part.traits.get(ix.index()))
        else {
            return lost(String::new());
        };
        match &one.kind {
            CommonKind::Choice(choices) => {
                if choices.len() >= 127 {
                    return Val::Opaque("a trait of more than 126 choices".to_owned());
                }
                let (var, _) = self.choice_var(whose, part, ix);
                Val::Choice(Chosen {
                    var,
                    part,
                    slot: ix,
                    list: false,
                })
            }
            CommonKind::AnyOf(_) => {
                let var = self.listed(whose, part, ix, 0);
                Val::Choice(Chosen {
                    var,
                    part,
                    slot: ix,
                    list: true,
                })
            }
            CommonKind::Date => {
                let term = self.terms.intern(part, What::Trait(ix), Sort::Day, false);
                let day = Poly::var(Var { whose, term });
                Val::Day(day.clone(), day)
            }
            CommonKind::Flag => {
                let term = self.terms.intern(part, What::Trait(ix), Sort::Truth, false);
                Val::Truth(Truth::of(
                    Formula::Truth(Var { whose, term }, true),
                    self.terms,
                ))
            }
        }
    }

    /// A value of an item's own names as one of another item.
    pub fn moved(&mut self, value: Val, whose: Whose) -> Val {
        if matches!(whose, Whose::Own) {
            return value;
        }
        let mut to = |var: Var| match var.whose {
            Whose::Own => Var { whose, ..var },
            Whose::Boat | Whose::One(_) | Whose::Role(_) => var,
        };
        let terms = &*self.terms;
        match value {
            Val::Number(pieces) => {
                let each = pieces.into_iter().map(|piece| Piece {
                    when: piece.when.mapped(&mut to, terms),
                    over: piece.over.mapped(&mut to),
                    under: piece.under.mapped(&mut to),
                });
                Val::Number(each.collect())
            }
            Val::Day(first, last) => Val::Day(first.mapped(&mut to), last.mapped(&mut to)),
            Val::Truth(truth) => Val::Truth(Truth {
                yes: truth.yes.mapped(&mut to, terms),
                no: truth.no.mapped(&mut to, terms),
            }),
            Val::Choice(chosen) => Val::Choice(Chosen {
                var: to(chosen.var),
                ..chosen
            }),
            Val::Structured(var, part, ix) => Val::Structured(to(var), part, ix),
            Val::Level => Val::Level,
            Val::Opaque(why) => Val::Opaque(why),
        }
    }

    fn arithmetic(&mut self, node: &Node, operation: Arithmetic, left: Val, right: Val) -> Val {
        let found = match (operation, left, right) {
            (_, Val::Opaque(why), _) | (_, _, Val::Opaque(why)) => return Val::Opaque(why),
            (Arithmetic::Add | Arithmetic::Subtract, Val::Day(first, last), Val::Number(moved)) => {
                let sign = if operation == Arithmetic::Add { 1 } else { -1 };
                return match moved.as_slice() {
                    [piece] => match piece.over.as_constant() {
                        // A time in base units is in seconds.
                        Some(time) => {
                            let days = time
                                .checked_div(&Exact::from_integer(sign * 86_400))
                                .unwrap_or(Exact::ZERO);
                            let days = Poly::constant(days);
                            Val::Day(first.plus(&days), last.plus(&days))
                        }
                        None => Val::Opaque("a day moved by what is not fixed".to_owned()),
                    },
                    _ => Val::Opaque("a day moved by what is not fixed".to_owned()),
                };
            }
            (Arithmetic::Add, Val::Number(a), Val::Number(b)) => self.reckoner().sum(&a, &b, 1),
            (Arithmetic::Subtract, Val::Number(a), Val::Number(b)) => {
                self.reckoner().sum(&a, &b, -1)
            }
            (Arithmetic::Multiply, Val::Number(a), Val::Number(b)) => {
                self.reckoner().product(&a, &b)
            }
            (Arithmetic::Divide, Val::Number(a), Val::Number(b)) => {
                self.reckoner().quotient(&a, &b)
            }
            _ => return lost(self.text_of(node)),
        };
        found.map_or_else(
            || Val::Opaque("it has too many cases".to_owned()),
            Val::Number,
        )
    }
}

/// A number without cases.
pub(super) fn number(poly: Poly) -> Val {
    Val::Number(vec![Piece::of(poly)])
}

fn lost(words: String) -> Val {
    Val::Opaque(format!("{words} is not understood"))
}

fn constant_day(date: &DateSpan) -> Val {
    Val::Day(
        Poly::constant(day_number(date.first)),
        Poly::constant(day_number(date.last)),
    )
}

/// a > b
fn later(a: &Poly, b: &Poly, terms: &Terms) -> Formula {
    Formula::sign(&a.minus(b), true, terms)
}

/// Whether every day of one is before every day of the other; not, where it begins on the last of the other or later.
fn before(a: (&Poly, &Poly), b: (&Poly, &Poly), terms: &Terms) -> Truth {
    Truth {
        yes: later(b.0, a.1, terms),
        no: Formula::sign(&a.0.minus(b.1), false, terms),
    }
}
